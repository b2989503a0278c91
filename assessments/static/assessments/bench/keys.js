/** Keys of the inspection. Single characters can be switched off: speech input would set them off. */

import { keptStorage } from "./bench_set.js";
import { setting } from "./store.js";

const OWN_KEYS = "a, button, input, select, textarea, summary, label";
const TYPING = "input:not([type=checkbox]), select, textarea";

/** `box` switches the single keys; `acts` has next, back, forward, undo and tickNth(number). */
export function listenToKeys(box, acts) {
  const single = setting(keptStorage(), "single-keys");
  box.checked = single.get() !== false;
  box.addEventListener("change", () => single.set(box.checked));
  document.addEventListener("keydown", (pressed) => {
    if (isHeldDown(pressed)) return pressed.preventDefault();
    const act = actFor(pressed, acts, box.checked);
    if (!act) return undefined;
    pressed.preventDefault();
    return act();
  });
}

/** A key that repeats would mark fans clean that nobody has looked at. */
function isHeldDown({ repeat, key, target }) {
  return repeat && (key === "Enter" || key === " ") && !target.matches(TYPING);
}

function actFor({ key, target, ctrlKey, metaKey, altKey }, acts, single) {
  if (ctrlKey || metaKey || altKey || target.matches(TYPING)) return null;
  if ((key === "Enter" || key === " ") && !target.closest(OWN_KEYS)) return acts.next;
  if (key === "ArrowLeft") return acts.back;
  if (key === "ArrowRight") return acts.forward;
  if (!single) return null;
  if (/^[1-9]$/.test(key)) return () => acts.tickNth(Number(key));
  return key.toLowerCase() === "u" ? acts.undo : null;
}
