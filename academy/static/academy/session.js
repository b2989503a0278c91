/** Warns before the sign-in ends. One press stays signed in; what is typed on the page stays in any case. */

const EVERY_MS = 1000;
const ASK_EVERY_MS = 10_000;

const dialog = document.getElementById("session-warning");
const form = dialog?.querySelector("form");
const part = (name) => dialog.querySelector(`[data-${name}]`);
let endsAt = 0;
let canStay = false;
let askedAt = 0;
let dismissed = "";

function know({ left_s, can_stay, token }) {
  endsAt = Date.now() + 1000 * left_s;
  canStay = can_stay;
  if (token) renewTokens(token);
}

/** Signing in again in another tab makes the tokens of this page's forms stale. */
function renewTokens(token) {
  for (const field of document.querySelectorAll("input[name=csrfmiddlewaretoken]")) field.value = token;
  const meta = document.querySelector('meta[name="csrf-token"]');
  if (meta) meta.content = token;
}

async function ask(method) {
  askedAt = Date.now();
  try {
    const body = method === "POST" ? new FormData(form) : undefined;
    const answer = await fetch(form.action, { method, body, headers: { Accept: "application/json" }, cache: "no-store" });
    if (answer.ok) know(await answer.json());
  } catch {
    // Out of reach: the clock of this page goes on, and the next look asks again.
  }
}

const leftS = () => Math.max(0, Math.round((endsAt - Date.now()) / 1000));
const state = () => (leftS() === 0 ? "ended" : canStay ? "idle" : "whole");

function words(left) {
  if (!left) return "You are signed out. What you have entered stays on this page: sign in again, then come back to it.";
  const minutes = Math.ceil(left / 60);
  const soon = minutes > 1 ? `in ${minutes} minutes` : "in less than a minute";
  if (canStay) return `You will be signed out ${soon}, because nothing has happened here for a long while.`;
  return `You will be signed out ${soon}: you have been signed in for a whole working day. Save what you have entered, then sign in again.`;
}

function show() {
  const now = state();
  const text = words(leftS());
  if (part("words").textContent !== text) part("words").textContent = text; // read aloud once a minute
  part("stay").hidden = now !== "idle";
  part("sign-in").hidden = now !== "ended";
  part("close").hidden = now === "idle";
  if (!dialog.open && dismissed !== now) dialog.showModal();
}

async function look() {
  const warnS = Number(dialog.dataset.warnS);
  // Somebody may have gone on in another tab, or signed in again there.
  const isTold = leftS() > 0 || document.hasFocus();
  if (leftS() <= warnS && isTold && Date.now() - askedAt > ASK_EVERY_MS) await ask("GET");
  if (leftS() <= warnS) return show();
  dismissed = "";
  if (dialog.open) dialog.close();
}

async function stay(event) {
  event.preventDefault();
  await ask("POST");
  look();
}

function dismiss() {
  dismissed = state();
  dialog.close();
}

if (dialog) {
  know({ left_s: Number(dialog.dataset.leftS), can_stay: "canStay" in dialog.dataset });
  form.addEventListener("submit", stay);
  dialog.addEventListener("cancel", (event) => (state() === "idle" ? stay(event) : dismiss())); // the Escape key
  part("close").addEventListener("click", dismiss);
  setInterval(look, EVERY_MS);
  addEventListener("focus", look);
}
