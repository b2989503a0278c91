/** Speaking the note instead of typing it, where the browser offers that; otherwise the button stays away. */

import { write } from "./sync.js";

export function offerDictation(button, field, words) {
  const Recognition = globalThis.SpeechRecognition ?? globalThis.webkitSpeechRecognition;
  if (!Recognition) return;
  const listener = new Recognition();
  Object.assign(listener, { continuous: true, interimResults: false, lang: document.documentElement.lang });
  let listening = false;
  const show = (isOn, told) => {
    listening = isOn;
    button.setAttribute("aria-pressed", String(isOn));
    write(button, isOn ? "Stop dictating" : "Dictate");
    write(words, told);
  };
  button.hidden = false;
  button.addEventListener("click", () => (listening ? listener.stop() : listener.start()));
  listener.addEventListener("start", () => show(true, "Listening. Your browser may send the sound to its maker: say no names."));
  listener.addEventListener("end", () => listening && show(false, ""));
  listener.addEventListener("error", () => show(false, "Dictation did not work here. Type the note."));
  listener.addEventListener("result", ({ results, resultIndex }) => addText(field, results[resultIndex][0].transcript));
}

function addText(field, spoken) {
  const joint = field.value && !/\s$/.test(field.value) ? " " : "";
  field.value += joint + spoken.trim();
  field.dispatchEvent(new Event("input", { bubbles: true }));
}
