/** The marks page: everything works as a plain form; this saves as one goes and keeps the verdict current. */

import { differences, showConflict } from "./conflict.js";
import { offerDictation } from "./dictation.js";
import { DraftSaver } from "./draft.js";
import { askReasons, lines, noteChoice, readCorrection, readEntry, showProposals, unchosenNames, writeEntry } from "./marks_form.js";
import { write } from "./sync.js";
import { showVerdict } from "./verdict.js";

const NOTE_LIMIT = 2000;

const root = document.getElementById("bench");
const form = document.getElementById("marks");
const one = (selector) => root.querySelector(selector);
const correcting = form.hasAttribute("data-correcting");
const loaded = JSON.parse(document.getElementById("set-document").textContent);
let signing = false;

const saver = new DraftSaver({
  url: root.dataset.draftUrl,
  base: loaded.draft?.saved_at ?? null,
  read: () => ({ data: readEntry(form), ...(correcting && { correction: readCorrection(form) }) }),
  onState: showState,
  onAnswer: takeAnswer,
  onConflict: askWhich,
});

function takeAnswer({ proposals, verdict }) {
  showProposals(form, proposals);
  showVerdict(root, verdict);
  askReasons(form);
}

function showState(state, detail) {
  const words = {
    unsaved: "Not saved yet",
    saving: "Saving…",
    saved: `Saved ${clockTime(detail)}`,
    offline: "Not saved yet: no connection. Keep this page open.",
    signed_out: "Signed out. Not saved yet.",
    refused: `Not saved: ${detail ?? "the server could not read it. Check what you entered."}`,
  };
  write(one("[data-draft-words]"), words[state]);
  one("[data-draft-state]").dataset.state = { saved: "saved", saving: "sending", unsaved: "sending" }[state] ?? "waiting";
  one("[data-draft-now]").hidden = state !== "offline";
  one("[data-draft-sign-in]").hidden = state !== "signed_out";
}

function clockTime(instant) {
  return instant ? new Date(instant).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hour12: false }) : "";
}

function askWhich(theirs, detail) {
  showState("refused", "somebody else saved too. Choose which to keep.");
  const pick = (choice) => {
    if (choice === "theirs") {
      writeEntry(form, theirs.data);
      showAll();
    }
    saver.settle(theirs.saved_at, { keep: true });
  };
  showConflict(one("[data-conflict]"), { detail, who: theirs.saved_by, rows: differences(form, readEntry(form), theirs.data), pick });
}

function changed({ target }) {
  const criterion = target.closest("[data-criterion]");
  if (criterion && target.type === "radio") noteChoice(criterion);
  if (target.name === "lines_done") form.elements.lines_seen.checked = true;
  if (target.name === "drill") proposeCount();
  showAll();
  saver.changed();
}

function proposeCount() {
  form.elements.drill_count.value = form.elements.drill.selectedOptions[0]?.dataset.count ?? "";
}

function showAll() {
  askReasons(form);
  const left = NOTE_LIMIT - form.elements.note.value.length;
  write(one("[data-note-count]"), left < 0 ? `${-left} characters too many` : `${left} characters left`);
  one("[data-note-count]").classList.toggle("is-over", left < 0);
  const chosen = form.elements.drill.selectedOptions[0];
  write(one("[data-count-words]"), chosen?.dataset.counted ? `(${chosen.dataset.counted})` : "");
}

function allLinesMet() {
  for (const line of lines(form)) line.checked = true;
  form.elements.lines_seen.checked = true;
  saver.changed();
}

/** Reasons asked for and still empty are found here, before the page is left. */
function sign(sent) {
  const missing = form.querySelector("[data-asked] input:invalid");
  if (missing && !missing.value.trim()) {
    sent.preventDefault();
    missing.setCustomValidity("Say in a few words why this level differs from the proposed one.");
    missing.reportValidity();
    return missing.setCustomValidity("");
  }
  if (signing) return sent.preventDefault(); // a second tap
  signing = true;
  return undefined;
}

if (!form.elements.drill_count.value) proposeCount();
showAll();
offerDictation(one("[data-dictate]"), form.elements.note, one("[data-dictate-words]"));
const allLines = one("[data-all-lines]");
allLines.hidden = false;
allLines.addEventListener("click", allLinesMet);
form.addEventListener("input", changed);
form.addEventListener("submit", sign);
form.addEventListener("formdata", ({ formData }) => unchosenNames(form).forEach((name) => formData.delete(name)));
addEventListener("pageshow", () => { signing = false; });
one("[data-draft-now]").addEventListener("click", () => saver.save());
addEventListener("online", () => saver.save());
document.addEventListener("visibilitychange", () => document.visibilityState === "hidden" && saver.save({ leaving: true }));
addEventListener("beforeunload", (leaving) => !signing && saver.isDirty && leaving.preventDefault());
