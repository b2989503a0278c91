/** The marks as entered: read from the form, written back to it, and kept beside what is proposed. */

const whole = (text) => (text.trim() === "" ? null : Number(text));

/** The draft as the server reads it. Levels hold only what a person chose. */
export function readEntry(form) {
  const criteria = criteriaOf(form);
  return {
    lines_missed: form.elements.lines_seen.checked ? lines(form).filter(({ checked }) => !checked).map(({ value }) => value) : null,
    left_count: whole(form.elements.left_count.value),
    right_count: whole(form.elements.right_count.value),
    levels: entries(criteria.filter(isChosen), levelOf),
    reasons: entries(criteria.filter((criterion) => needsReason(criterion) && reasonOf(criterion)), reasonOf),
    note: form.elements.note.value,
    drill: form.elements.drill.value,
    drill_count: whole(form.elements.drill_count.value),
  };
}

/** What a correction says beside its marks. */
export function readCorrection(form) {
  return { revision: Number(form.elements.revision.value), why: form.elements.reason.value };
}

/** Put a draft into the form; levels that nobody chose follow the proposals. */
export function writeEntry(form, data) {
  const missed = data.lines_missed ?? null;
  form.elements.lines_seen.checked = missed !== null;
  for (const line of lines(form)) line.checked = missed !== null && !missed.includes(line.value);
  for (const name of ["left_count", "right_count", "note", "drill", "drill_count"]) form.elements[name].value = data[name] ?? "";
  if (form.elements.reason) form.elements.reason.value = data.why ?? "";
  for (const criterion of criteriaOf(form)) {
    const level = data.levels?.[criterion.dataset.criterion];
    criterion.toggleAttribute("data-chosen", level != null);
    check(criterion, level ?? proposedOf(criterion));
    reasonInput(criterion).value = data.reasons?.[criterion.dataset.criterion] ?? "";
  }
}

export function showProposals(form, proposals) {
  for (const { code, level, words, status, cap } of proposals) {
    const criterion = form.querySelector(`[data-criterion="${CSS.escape(code)}"]`);
    if (!criterion) continue;
    Object.assign(criterion.dataset, { status, proposed: level ?? "", cap: cap ?? "" });
    criterion.querySelector("[data-words]").textContent = words;
    for (const radio of radios(criterion)) {
      radio.closest("label").querySelector("[data-proposed-tag]").hidden = Number(radio.value) !== level;
    }
    if (!isChosen(criterion)) check(criterion, level);
  }
}

/** Ask for a reason exactly where the server will. */
export function askReasons(form) {
  for (const criterion of criteriaOf(form)) {
    const asks = needsReason(criterion);
    criterion.querySelector("[data-reason]").toggleAttribute("data-asked", asks);
    reasonInput(criterion).required = asks;
  }
}

/** A person touched a level: it is hers from now on, unless it is what was proposed anyway. */
export function noteChoice(criterion) {
  criterion.toggleAttribute("data-chosen", levelOf(criterion) !== proposedOf(criterion));
}

/** Names of inputs to leave out of the posted form: what nobody chose stays as proposed. */
export function unchosenNames(form) {
  return criteriaOf(form).flatMap((criterion) => {
    const code = criterion.dataset.criterion;
    return [...(isChosen(criterion) ? [] : [`level_${code}`]), ...(needsReason(criterion) ? [] : [`reason_${code}`])];
  });
}

export function lines(form) {
  return [...form.querySelectorAll('[name="lines_done"]')];
}

export function criteriaOf(form) {
  return [...form.querySelectorAll("[data-criterion]")];
}

export function criterionName(criterion) {
  return criterion.querySelector("legend span").textContent;
}

function entries(criteria, valueOf) {
  return Object.fromEntries(criteria.map((criterion) => [criterion.dataset.criterion, valueOf(criterion)]));
}

function needsReason(criterion) {
  const { status, cap } = criterion.dataset;
  const level = levelOf(criterion);
  if (level === null) return false;
  if (cap !== "" && level > Number(cap)) return true;
  return status === "proposed" ? level !== proposedOf(criterion) : status !== "judged";
}

const radios = (criterion) => [...criterion.querySelectorAll("input[type=radio]")];
const isChosen = (criterion) => criterion.hasAttribute("data-chosen");
const proposedOf = ({ dataset }) => (dataset.proposed === "" ? null : Number(dataset.proposed));
const reasonInput = (criterion) => criterion.querySelector("[data-reason] input");
const reasonOf = (criterion) => reasonInput(criterion).value.trim();

function levelOf(criterion) {
  const checked = radios(criterion).find((radio) => radio.checked);
  return checked ? Number(checked.value) : null;
}

function check(criterion, level) {
  for (const radio of radios(criterion)) radio.checked = Number(radio.value) === level;
}
