/** The inspection: one position at a time, one tap for a clean fan. */

import { BenchSet, keptStorage } from "./bench_set.js";
import { bareData, findingAt, isRecorded, isTouched, positionData, readMeasure, restoringData, withFault, withLength, withMeasure } from "./finding.js";
import { EyeMarks } from "./eye_marks.js";
import { JumpList } from "./jump_list.js";
import { listenToKeys } from "./keys.js";
import { nextUnseen, unseen } from "./state.js";
import { setting } from "./store.js";
import { showSummary } from "./summary.js";
import { showSync, write } from "./sync.js";
import { DOT, findingWords, placeParts, placeWords, plural } from "./words.js";

const BOUNCE_MS = 100;

const root = document.getElementById("bench");
const one = (selector) => root.querySelector(selector);
const all = (selector) => [...root.querySelectorAll(selector)];
const benchSet = new BenchSet(root);
const kept = setting(keptStorage(), `ticks.${benchSet.shown.uid}`);
const eyes = new EyeMarks(one(".bench-eyes"));
const lists = all("[data-jump]").map((list) => new JumpList(list, goTo));

const positionsOf = (set) => set.inspection.positions;
const here = () => positionsOf(benchSet.shown)[at];
const keptTicks = () => kept.get() ?? {};

let at = nextUnseen(benchSet.shown); // null: the summary
let finding = ticksAt(at);
let done = []; // positions as they were, newest last: what undo goes back to
let closing = false;
let lastNext = 0;

function show(set = benchSet.shown) {
  const open = set.state === "finished";
  one("[data-looking]").hidden = !open || at === null;
  one("[data-summary]").hidden = !open || at !== null;
  one("[data-closed]").hidden = open;
  one(".bench-actions").hidden = !open;
  if (!open) return showClosed(set);
  one("[data-next]").hidden = at === null;
  one("[data-close]").hidden = at !== null;
  one("[data-back]").disabled = at === 0;
  one("[data-undo]").disabled = !done.length && !(at !== null && isTouched(here(), finding));
  for (const list of lists) list.show(set, at);
  return at === null ? showSummary(root, set) : showPosition(set, here());
}

function showPosition(set, position) {
  write(one("[data-count]"), `${at + 1} of ${positionsOf(set).length}`);
  showPlace(position);
  write(one("[data-found]"), position.finding === "unseen" ? "" : `Recorded: ${findingWords(position, set.faults)}`);
  eyes.show(set, at);
  showFaults(set, position);
  one("[data-bare]").classList.toggle("is-recorded", position.finding === "bare");
  showMeasure("gap_mm", position.wants_gap);
  showMeasure("direction_deg", position.wants_direction);
  showLengths(position);
  showMeasure("found_length_mm", position.wants_length);
  write(one("[data-next]"), nextWords(position));
}

/** Faults that cannot be on a fan of this shape are not offered; what is ticked stays in sight. */
function showFaults({ faults }, { fan_shape }) {
  const shapesOf = new Map(faults.map(({ code, fan_shapes }) => [code, fan_shapes ?? []]));
  for (const button of all("[data-fault]")) {
    const { fault } = button.dataset;
    const shapes = shapesOf.get(fault) ?? [];
    const isTicked = finding.faults.includes(fault);
    button.hidden = !isTicked && shapes.length > 0 && !shapes.includes(fan_shape);
    press(button, isTicked);
  }
}

/** Quick lengths around the planned one. */
function showLengths({ length_mm }) {
  const group = one('[data-measure="found_length_mm"]');
  write(group.querySelector("[data-planned]"), String(length_mm));
  for (const button of group.querySelectorAll("[data-offset]")) {
    button.dataset.step = String(length_mm + Number(button.dataset.offset));
    write(button, button.dataset.step);
  }
}

/** In two lines: where on the lid, then which fan. */
function showPlace(position) {
  const place = one("[data-place]");
  if (place.textContent === placeWords(position)) return;
  const parts = placeParts(position);
  const line = (words) => span("bench-place-line", words.join(DOT));
  place.replaceChildren(line(parts.slice(0, 3)), span("bench-place-dot", DOT), line(parts.slice(3)));
}

function span(className, textContent) {
  return Object.assign(document.createElement("span"), { className, textContent });
}

function nextWords(position) {
  if (finding.faults.length) return `Next, ${plural(finding.faults.length, "fault")}`;
  return position.finding === "bare" ? "Bare, next" : "Clean, next";
}

function showMeasure(name, wanted) {
  const group = one(`[data-measure="${name}"]`);
  group.hidden = !wanted;
  const steps = [...group.querySelectorAll("[data-step]")];
  for (const step of steps) press(step, finding[name] === Number(step.dataset.step));
  const other = group.querySelector("[data-other]");
  const isStep = steps.some(({ dataset }) => Number(dataset.step) === finding[name]);
  if (document.activeElement !== other) other.value = finding[name] === null || isStep ? "" : String(finding[name]);
}

function press(button, isOn) {
  button.setAttribute("aria-pressed", String(isOn));
}

function showClosed(set) {
  const waits = benchSet.queue.events.length > 0;
  one("[data-marks-link]").hidden = waits || set.state === "abandoned";
  const words = { abandoned: "This set was abandoned.", graded: "The marks are signed.", inspected: "The marks are proposed." };
  write(one("[data-closed-words]"), waits ? "Sending the findings. The marks open once they have arrived." : words[set.state] ?? "");
  if (closing && !waits && set.state === "inspected") location.assign(root.dataset.marksUrl);
}

/** Move to a position (null: the summary); nothing is recorded by moving. */
function goTo(index, before = "") {
  at = index;
  finding = ticksAt(at);
  for (const details of all("details.bench-jump")) details.open = false;
  show();
  say(before);
  if (at === null) one("[data-summary]").focus();
  else if (document.activeElement === document.body || !document.activeElement?.offsetParent) one("[data-next]").focus({ preventScroll: true });
  if (one(".bench-top").getBoundingClientRect().top < 0) scrollTo(0, 0); // the next place is read before it is judged
}

function say(before) {
  const now = at === null ? "Every position is looked at." : `${at + 1} of ${positionsOf(benchSet.shown).length}: ${placeWords(here())}`;
  write(one("[data-said]"), before ? `${before}. ${now}` : now);
}

function ticksAt(index) {
  return index === null ? null : findingAt(positionsOf(benchSet.shown)[index], keptTicks()[index]);
}

/** Ticks wait in the browser until they are recorded, so that a reload keeps them. */
function keepTicks() {
  const { [at]: _, ...others } = keptTicks();
  kept.set(isTouched(here(), finding) ? { ...others, [at]: finding } : others);
}

function forgetTicks(index) {
  const { [index]: _, ...others } = keptTicks();
  kept.set(others);
}

function change(changed) {
  finding = changed;
  keepTicks();
  show();
}

function recordHere(data) {
  const before = here();
  if (!isRecorded(before, data)) {
    if (!benchSet.record("position", data)) return;
    done = [...done, before];
  }
  forgetTicks(at);
  const recorded = { ...before, ...data };
  goTo(nextUnseen(benchSet.shown, at), findingWords(recorded, benchSet.shown.faults));
}

function next() {
  if (at === null || performance.now() - lastNext < BOUNCE_MS) return; // the same tap, bounced
  lastNext = performance.now();
  const isBare = here().finding === "bare" && !finding.faults.length;
  recordHere(isBare ? bareData(at) : positionData(at, finding));
}

function back() {
  const last = positionsOf(benchSet.shown).length - 1;
  goTo(at === null ? last : Math.max(0, at - 1));
}

function forward() {
  if (at === null) return;
  goTo(at + 1 < positionsOf(benchSet.shown).length ? at + 1 : unseen(benchSet.shown).length ? at : null);
}

function undo() {
  if (at !== null && isTouched(here(), finding)) {
    forgetTicks(at);
    return goTo(at, "Ticks taken off");
  }
  const before = done.at(-1);
  if (!before || !benchSet.record("position", restoringData(before))) return undefined;
  done = done.slice(0, -1);
  forgetTicks(before.index);
  return goTo(before.index, "Undone");
}

function close() {
  closing = benchSet.record("inspect");
  if (closing) kept.set({});
  show();
}

function readOther(input) {
  const name = input.closest("[data-measure]").dataset.measure;
  const { value, problem } = readMeasure(name, input.value);
  input.setCustomValidity(problem ?? "");
  if (problem) input.reportValidity();
  else if (value !== finding[name]) change(measured(name, value));
  return !problem;
}

function measured(name, value) {
  return name === "found_length_mm" ? withLength(finding, here(), value) : withMeasure(finding, name, value);
}

function wireMeasures() {
  for (const step of all("[data-step], [data-offset]")) {
    const name = step.closest("[data-measure]").dataset.measure;
    step.addEventListener("click", () => change(measured(name, Number(step.dataset.step))));
  }
  for (const input of all("[data-other]")) {
    input.addEventListener("input", () => input.setCustomValidity(""));
    input.addEventListener("change", () => readOther(input));
    input.addEventListener("keydown", (pressed) => {
      if (pressed.key !== "Enter") return;
      pressed.preventDefault();
      if (readOther(input)) one("[data-next]").focus();
    });
  }
}

function wire() {
  for (const button of all("[data-fault]")) button.addEventListener("click", () => change(withFault(finding, button.dataset.fault)));
  one("[data-bare]").addEventListener("click", () => recordHere(bareData(at)));
  one("[data-next]").addEventListener("click", next);
  one("[data-back]").addEventListener("click", back);
  one("[data-undo]").addEventListener("click", undo);
  one("[data-close]").addEventListener("click", close);
  wireMeasures();
  const tickNth = (nth) => at !== null && all("[data-fault]:not([hidden])")[nth - 1]?.click();
  listenToKeys(one("[data-keys]"), { next, back, forward, undo, tickNth });
}

/** Another tab may have recorded what was about to be recorded here. */
function follow(set) {
  if (at === null && set.state === "finished" && unseen(set).length) return goTo(nextUnseen(set));
  finding = ticksAt(at);
  return show(set);
}

if (benchSet.shown.inspection) {
  wire();
  benchSet.onChange(follow);
  showSync(benchSet);
  benchSet.open().then(() => goTo(nextUnseen(benchSet.shown)));
} else {
  location.replace(root.dataset.clockUrl);
}
