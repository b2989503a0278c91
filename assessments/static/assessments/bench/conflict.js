/** Two drafts of the same marks side by side. A person picks; nothing is merged behind her back. */

import { criteriaOf, criterionName, lines } from "./marks_form.js";

const PLAIN = { left_count: "Fans placed, left eye", right_count: "Fans placed, right eye", note: "Note", drill: "Drill", drill_count: "How many" };

/** `[what, mine, theirs]` for all that differs. */
export function differences(form, mine, theirs) {
  const rows = Object.entries(PLAIN).map(([name, label]) => [label, mine[name] ?? "", theirs[name] ?? ""]);
  for (const criterion of criteriaOf(form)) {
    const code = criterion.dataset.criterion;
    rows.push([criterionName(criterion), levelWords(mine, code), levelWords(theirs, code)]);
  }
  rows.push(["Hygiene lines missed", missedWords(form, mine), missedWords(form, theirs)]);
  return rows.map((row) => row.map(String)).filter(([, one, other]) => one !== other);
}

function levelWords({ levels, reasons }, code) {
  const level = levels?.[code];
  if (level == null) return "as proposed";
  return reasons?.[code] ? `${level}: ${reasons[code]}` : String(level);
}

function missedWords(form, { lines_missed }) {
  if (lines_missed == null) return "not looked at";
  const texts = lines(form).filter(({ value }) => lines_missed.includes(value)).map((line) => line.closest("label").textContent.trim());
  return texts.join("; ") || "none";
}

/** Show the choice; `pick("mine" | "theirs")` hears it once. */
export function showConflict(panel, { detail, who, rows, pick }) {
  panel.querySelector("[data-conflict-words]").textContent = detail;
  panel.querySelector("[data-conflict-theirs]").textContent = who;
  panel.querySelector("[data-conflict-rows]").replaceChildren(...rows.map((row) => tableRow(row, who)));
  panel.querySelector("[data-take-theirs]").textContent = `Take those of ${who}`;
  panel.hidden = false;
  panel.focus();
  const choose = (choice) => () => {
    panel.hidden = true;
    pick(choice);
  };
  panel.querySelector("[data-keep-mine]").onclick = choose("mine");
  panel.querySelector("[data-take-theirs]").onclick = choose("theirs");
}

function tableRow([what, mine, theirs], who) {
  const row = document.createElement("tr");
  const heading = Object.assign(document.createElement("th"), { scope: "row", textContent: what });
  row.append(heading, cell("Yours", mine), cell(who, theirs));
  return row;
}

function cell(label, text) {
  const made = Object.assign(document.createElement("td"), { textContent: text || "–" });
  made.dataset.label = label;
  return made;
}
