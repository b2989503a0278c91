/**
 * The lash map designer. The form is the model: every cell is inputs, with or without this script. The server
 * draws, checks and reckons; this script chooses cells, steps numbers, undoes, and keeps unsaved work.
 */

import { addLength, copy, copyTargets, fillRest, removeLength, showRows, step } from "./cells.js";
import { readDraft } from "./draft.js";
import { cellsOf, entriesOf, putBack, sameEntries, withToken } from "./entries.js";
import { Grid } from "./grid.js";
import { History } from "./history.js";
import { Keep } from "./keep.js";

const PAUSE_MS = 300; // after the last change, before the server is asked

const form = document.querySelector("[data-brief-form]");
const editor = form.querySelector("[data-map-editor]");
const part = (root, name) => root.querySelector(`[data-part="${name}"]`);
const grid = new Grid(editor);
const keep = new Keep(form.dataset.keep);
const first = entriesOf(form);
const history = new History(first, sameEntries);
let asked = 0;
let timer;

function dress() {
  for (const control of form.querySelectorAll("[data-js]")) control.hidden = false;
  for (const control of form.querySelectorAll("[data-no-js]")) control.remove(); // else Enter would press it
  for (const panel of grid.panels) showRows(panel);
  grid.refresh();
}

function say(words) {
  const line = form.querySelector("[data-map-said]");
  if (line.textContent !== words) line.textContent = words;
}

function showHistory() {
  form.querySelector("[data-undo]").disabled = !history.canUndo;
  form.querySelector("[data-redo]").disabled = !history.canRedo;
}

/** Something was changed by hand: remember it, keep it, and have it reckoned. */
function changed() {
  history.add(entriesOf(form));
  showHistory();
  keepNow();
  askSoon();
}

function keepNow() {
  const entries = entriesOf(form);
  if (sameEntries(entries, first)) keep.drop();
  else keep.write(entries);
}

function askSoon() {
  clearTimeout(timer);
  timer = setTimeout(() => ask(entriesOf(form)), PAUSE_MS);
}

async function ask(entries) {
  clearTimeout(timer);
  const number = ++asked;
  try {
    const fragment = await readDraft(form.dataset.draftUrl, withToken(form, entries));
    if (number === asked) take(fragment);
  } catch ({ message }) {
    if (number === asked) say(message === "signed_out" ? SIGNED_OUT : OFFLINE);
  }
}

const OFFLINE = "No connection: the drawing and the checks are those of before. What you typed is kept here.";
const SIGNED_OUT = "You are signed out: the drawing and the checks are those of before. What you typed is kept here; sign in in another tab and go on.";

function take(fragment) {
  say("");
  if (part(fragment, "drawing").querySelector("svg")) swap(fragment, "drawing");
  else say("The drawing is that of before the last change: a cell needs correcting.");
  const isSame = idsIn(fragment) === idsIn(editor);
  if (isSame) patchCells(fragment);
  else swap(fragment, "cells");
  editor.dataset.eyes = fragment.dataset.eyes;
  swapReckoning(fragment);
  dress();
  if (!isSame) history.now = entriesOf(form); // laid out by the server: one step with the choice that asked for it
}

function idsIn(root) {
  return [...root.querySelectorAll("[data-panel]")].map(({ id }) => id).join(" ");
}

function swap(fragment, name) {
  part(editor, name).replaceChildren(...document.importNode(part(fragment, name), true).childNodes);
}

/** Sentences and the table of cells; what is being typed stays as it is. */
function patchCells(fragment) {
  for (const fresh of fragment.querySelectorAll("[data-panel]")) {
    const panel = document.getElementById(fresh.id);
    const wrong = fresh.querySelector("[data-problems]");
    panel.classList.toggle("field--wrong", wrong.childElementCount > 0);
    panel.querySelector("[data-problems]").replaceChildren(...document.importNode(wrong, true).childNodes);
  }
  for (const fresh of fragment.querySelectorAll("[data-grid] [data-choose]")) {
    const link = editor.querySelector(`[data-grid] [data-choose="${fresh.dataset.choose}"]`);
    link.className = fresh.className;
    link.replaceChildren(...document.importNode(fresh, true).childNodes);
  }
}

/** A note being typed keeps its words, its cursor and its open box. */
function swapReckoning(fragment) {
  const typing = document.activeElement?.name?.startsWith("silenced/") ? document.activeElement : null;
  const open = [...editor.querySelectorAll("[data-finding] details[open] input")].map(({ name }) => name);
  const at = typing && [typing.name, typing.value, typing.selectionStart];
  swap(fragment, "reckoning");
  for (const input of part(editor, "reckoning").querySelectorAll("input")) {
    if (open.includes(input.name)) input.closest("details").open = true;
    if (at?.[0] !== input.name) continue;
    input.value = at[1];
    input.focus();
    input.setSelectionRange(at[2], at[2]);
  }
}

/** Make the form what it was; where the cells themselves were others, the server lays them out. */
async function goTo(entries) {
  if (cellsOf(entries) === cellsOf(entriesOf(form))) {
    putBack(form, entries);
    for (const panel of grid.panels) showRows(panel);
  }
  await ask(entries);
  putBack(form, entries);
  dress();
  history.now = entriesOf(form);
  showHistory();
  keepNow();
}

function move(entries, words) {
  if (entries) goTo(entries).then(() => say(words));
}

const undo = () => move(history.undo(), "Undone.");
const redo = () => move(history.redo(), "Done again.");

function copyTo(button) {
  const targets = copyTargets(grid.chosen, grid.panels, button.dataset.copy);
  for (const target of targets) copy(grid.chosen, target);
  changed();
  say(targets.length ? `Copied to ${targets.length} ${targets.length === 1 ? "cell" : "cells"}.` : "There is no cell there.");
}

const ACTIONS = {
  "[data-step]": (button) => step(button),
  "[data-fill]": (button) => fillRest(button),
  "[data-add]": (button) => addLength(button.closest("[data-panel]"))?.focus(),
  "[data-remove]": (button) => removeWithFocus(button),
};

/** The button goes with its row, so the focus moves on to what stays. */
function removeWithFocus(button) {
  const panel = button.closest("[data-panel]");
  removeLength(button);
  panel.querySelector("[data-add]").focus();
}

form.addEventListener("click", ({ target }) => {
  const button = target.closest("button");
  if (!button) return;
  if (button.matches("[data-undo]")) undo();
  else if (button.matches("[data-redo]")) redo();
  else if (button.matches("[data-kept-drop]")) startOver();
  else if (button.matches("[data-copy]")) copyTo(button);
  const selector = Object.keys(ACTIONS).find((each) => button.matches(each));
  if (!selector) return;
  ACTIONS[selector](button);
  changed();
});

form.addEventListener("change", changed);
form.addEventListener("input", () => { keepNow(); askSoon(); });
form.addEventListener("submit", () => keep.send());

document.addEventListener("keydown", (press) => {
  if (!(press.ctrlKey || press.metaKey) || isTyping(press.target)) return;
  const key = press.key.toLowerCase();
  const action = key === "y" || (key === "z" && press.shiftKey) ? redo : key === "z" ? undo : null;
  if (!action) return;
  press.preventDefault();
  action();
});

/** There the browser's own undo belongs to what is being typed. */
function isTyping({ tagName, type }) {
  return tagName === "TEXTAREA" || (tagName === "INPUT" && !["checkbox", "radio", "submit"].includes(type));
}

function startOver() {
  form.querySelector("[data-kept]").hidden = true;
  keep.drop();
  goTo(first);
}

function bringBack() {
  const kept = keep.read();
  if (!kept || form.hasAttribute("data-sent") || sameEntries(kept.entries, first)) return;
  const at = new Date(kept.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  form.querySelector("[data-kept-words]").textContent = `Your unsaved work of ${at} is back.`;
  form.querySelector("[data-kept]").hidden = false;
  history.add(kept.entries);
  goTo(kept.entries);
}

form.classList.add("is-scripted");
dress();
showHistory();
bringBack();
