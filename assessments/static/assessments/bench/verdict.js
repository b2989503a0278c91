/** Gates, score and time credit as the server last worked them out. */

import { write } from "./sync.js";

export function showVerdict(root, { gates, score, time_words, words }) {
  for (const { code, passed } of gates) {
    const line = root.querySelector(`[data-gate="${CSS.escape(code)}"]`);
    if (!line) continue;
    line.querySelector("[data-gate-held]").hidden = passed;
    line.querySelector("[data-gate-passed]").hidden = !passed;
  }
  write(root.querySelector("[data-score]"), score === null ? "–" : String(Math.round(score)));
  write(root.querySelector("[data-credit]"), time_words);
  const list = root.querySelector("[data-verdict-words]");
  list.replaceChildren(...words.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
}
