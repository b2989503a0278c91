/** Every position as a small button with its number and the shape of its finding. */

import { findingWords, placeWords } from "./words.js";

const SHAPES = { clean: "○", faulty: "◆", bare: "▢", unseen: "·" };

export class JumpList {
  constructor(list, goTo) {
    this.list = list;
    this.buttons = new Map();
    list.addEventListener("click", ({ target }) => {
      const button = target.closest("button");
      if (button) goTo(Number(button.dataset.to));
    });
  }

  show({ inspection: { positions }, faults }, current) {
    for (const position of positions) {
      const button = this.buttons.get(position.index) ?? this.#add(position.index);
      const told = `${position.index + 1}, ${placeWords(position)}: ${findingWords(position, faults)}`;
      if (button.getAttribute("aria-label") !== told) button.setAttribute("aria-label", told);
      button.textContent = `${position.index + 1} ${SHAPES[position.finding]}`;
      button.dataset.finding = position.finding;
      if (position.index === current) button.setAttribute("aria-current", "step");
      else button.removeAttribute("aria-current");
    }
  }

  #add(index) {
    const button = document.createElement("button");
    Object.assign(button, { type: "button", className: "bench-jump-to" });
    button.dataset.to = index;
    const line = document.createElement("li");
    line.append(button);
    this.list.append(line);
    this.buttons.set(index, button);
    return button;
  }
}
