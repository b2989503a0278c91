/** Keeps the screen lit while the set runs, where the browser can; the clock never depends on it. */

import { write } from "./sync.js";

/** `line` tells the state; `wanted()` says whether the screen should stay on. */
export function keepAwake(line, wanted) {
  let lock = null;
  const show = () => write(line, wordsFor(lock, wanted()));
  const ask = async () => {
    if (!("wakeLock" in navigator) || lock || !wanted() || document.visibilityState !== "visible") return show();
    try {
      lock = await navigator.wakeLock.request("screen");
      lock.addEventListener("release", () => { lock = null; show(); });
    } catch {
      lock = null; // low battery or a rule of the device
    }
    return show();
  };
  document.addEventListener("visibilitychange", ask);
  document.addEventListener("click", ask);
  return ask();
}

function wordsFor(lock, wanted) {
  if (!wanted) return "";
  return lock ? "The screen stays on." : "The screen may go dark here; the clock runs on.";
}
