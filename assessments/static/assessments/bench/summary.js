/** The counts shown before an inspection is closed. */

import { counts, faultCounts } from "./state.js";
import { plural } from "./words.js";

export function showSummary(root, set) {
  const { clean, faulty, bare } = counts(set);
  fill(root.querySelector("[data-tally]"), [
    `${clean} clean`,
    `${faulty} with a fault`,
    plural(bare, "lash left bare", "lashes left bare"),
  ]);
  const found = faultCounts(set);
  fill(root.querySelector("[data-fault-tally]"), found.map(({ name, count, is_gate }) => `${name}: ${count}${is_gate ? " (gate)" : ""}`));
}

function fill(list, lines) {
  list.replaceChildren(...lines.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
}
