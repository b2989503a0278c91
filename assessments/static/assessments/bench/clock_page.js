/** The clock at the bench. */

import { BenchSet, keptStorage } from "./bench_set.js";
import { againstTarget, face, milestonePassed, pausedSeconds, shareUsed, workedSeconds } from "./clock.js";
import { isAllowed } from "./state.js";
import { setting } from "./store.js";
import { showSync, write } from "./sync.js";
import { keepAwake } from "./wake_lock.js";
import { eyeWords, layerWords } from "./words.js";

const REDRAW_MS = 250;
const CONFIRM_MS = 6000;
const SECOND_TAP_MS = 400;

const root = document.getElementById("bench");
const one = (selector) => root.querySelector(selector);
const all = (selector) => [...root.querySelectorAll(selector)];
const benchSet = new BenchSet(root);
const hidden = setting(keptStorage(), "hide-clock");
let saidUpTo = null;
let confirmUntil = 0;
let armedAt = 0;
let changedAt = 0; // when the buttons under the finger last changed

function showState(set) {
  if (root.dataset.state && root.dataset.state !== set.state) changedAt = Date.now();
  root.dataset.state = set.state;
  for (const part of all("[data-when]")) part.hidden = !part.dataset.when.split(" ").includes(set.state);
  for (const button of all("[data-kind]")) button.disabled = !isAllowed(set, button.dataset.kind);
  if (set.state !== "working") closePauseReasons();
  if (!["working", "paused"].includes(set.state)) disarmFinish();
  showSplits(set);
  showTime();
  goOn(set);
}

function showTime() {
  const set = benchSet.shown;
  const workedS = workedSeconds(set, benchSet.now);
  one(".clock").classList.toggle("is-over", workedS > set.target_s);
  one(".clock").classList.toggle("is-paused", set.state === "paused");
  write(one("[data-clock-time]"), face(workedS));
  write(one("[data-clock-note]"), againstTarget(workedS, set.target_s));
  one("[data-clock-arc]").setAttribute("stroke-dasharray", `${Math.floor(100 * shareUsed(workedS, set.target_s))} 100`);
  write(one("[data-paused]"), pausedWords(set));
  if (armedAt && Date.now() > confirmUntil) disarmFinish();
  announce(set, workedS);
}

function pausedWords(set) {
  const pausedS = pausedSeconds(set, benchSet.now);
  if (set.state === "paused") return `Paused, ${face(pausedS)} in all. Pauses do not count.`;
  return pausedS >= 1 ? `Paused ${face(pausedS)} in all, not counted.` : "";
}

function announce(set, workedS) {
  const words = saidUpTo === null ? null : milestonePassed(saidUpTo, workedS, set.target_s);
  saidUpTo = workedS;
  if (words) write(one("[data-said]"), words);
}

function showSplits(set) {
  for (const button of all("[data-split]")) {
    const { eye, layer } = button.dataset;
    const split = set.clock.splits.findLast((done) => done.eye === eye && done.layer === layer);
    button.classList.toggle("is-done", Boolean(split));
    write(button.querySelector("[data-split-time]"), split ? face(split.worked_s) : "not yet");
  }
}

/** The positions are drawn by the server, so the inspection opens once it has heard of the finish. */
function goOn(set) {
  const arrived = set.state === "finished" && set.inspection && !benchSet.queue.events.length;
  one("[data-inspect-link]").hidden = !arrived;
  one("[data-inspect-wait]").hidden = set.state !== "finished" || Boolean(arrived);
  if (arrived && justFinished) location.assign(root.dataset.inspectUrl);
}

let justFinished = false;

function finish() {
  if (Date.now() - changedAt < SECOND_TAP_MS) return;
  if (!armedAt) return armFinish();
  if (Date.now() - armedAt < SECOND_TAP_MS) return; // the same tap, bounced
  disarmFinish();
  justFinished = benchSet.record("finish");
}

function armFinish() {
  armedAt = Date.now();
  confirmUntil = armedAt + CONFIRM_MS;
  one("[data-finish]").classList.add("danger");
  write(one("[data-finish]"), "Finish: tap again");
  write(one("[data-said]"), "Tap Finish again to end the set.");
}

function disarmFinish() {
  if (!armedAt) return;
  armedAt = 0;
  one("[data-finish]").classList.remove("danger");
  write(one("[data-finish]"), "Finish");
}

function pauseFor(reason) {
  if (!benchSet.record("pause", { reason })) return;
  closePauseReasons();
  one('[data-kind="resume"]').focus();
}

function togglePauseReasons() {
  if (Date.now() - changedAt < SECOND_TAP_MS) return; // the tap that started the set, doubled
  const panel = one("[data-pause-reasons]");
  panel.hidden = !panel.hidden;
  one("[data-pause]").setAttribute("aria-expanded", String(!panel.hidden));
  if (!panel.hidden) panel.querySelector("button").focus();
}

function closePauseReasons() {
  one("[data-pause-reasons]").hidden = true;
  one("[data-pause]").setAttribute("aria-expanded", "false");
}

function showHidden() {
  const isHidden = hidden.get() === true;
  one("[data-clock-face]").hidden = isHidden;
  one("[data-hide-clock]").setAttribute("aria-pressed", String(isHidden));
}

function split({ eye, layer }) {
  if (benchSet.record("split", { eye, layer })) write(one("[data-said]"), `Split: ${eyeWords(eye)}, ${layerWords(layer)}.`);
}

one('[data-kind="start"]').addEventListener("click", () => benchSet.record("start") && one("[data-pause]").focus());
one('[data-kind="resume"]').addEventListener("click", () => benchSet.record("resume") && one("[data-pause]").focus());
one("[data-pause]").addEventListener("click", togglePauseReasons);
one("[data-finish]").addEventListener("click", finish);
for (const button of all("[data-reason]")) button.addEventListener("click", () => pauseFor(button.dataset.reason));
for (const button of all("[data-split]")) button.addEventListener("click", () => split(button.dataset));
one("[data-other-reason]").addEventListener("submit", (submitted) => {
  submitted.preventDefault();
  pauseFor(one("[data-other-reason] input").value.trim() || "other");
});
one("[data-abandon]").addEventListener("submit", (submitted) => {
  submitted.preventDefault();
  benchSet.record("abandon", { reason: one("[data-abandon] input").value.trim() });
});
one("[data-hide-clock]").addEventListener("click", () => {
  hidden.set(hidden.get() !== true);
  showHidden();
});

showHidden();
benchSet.onChange(showState);
showSync(benchSet);
showState(benchSet.shown);
keepAwake(one("[data-awake]"), () => benchSet.shown.state === "working");
setInterval(showTime, REDRAW_MS);
benchSet.open();
