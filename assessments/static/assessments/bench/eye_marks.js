/** Keeps the drawn eye true to the findings: one eye at a time, the current position on top. */

import { markKind } from "./finding.js";

const SIDES = { left: "L", right: "R" };
const KINDS = ["clean", "faulty", "long", "short", "bare", "unseen"];

export class EyeMarks {
  constructor(root) {
    this.figures = [...root.querySelectorAll(".eye")];
    this.marks = new Map([...root.querySelectorAll("[data-index]")].map((mark) => [Number(mark.dataset.index), mark]));
    // The words beside the drawing say the same, and they are kept up to date.
    for (const drawing of root.querySelectorAll("svg")) drawing.setAttribute("aria-hidden", "true");
  }

  show({ inspection: { positions } }, current) {
    for (const figure of this.figures) figure.hidden = figure.dataset.eye !== SIDES[positions[current].eye];
    for (const position of positions) this.#draw(this.marks.get(position.index), markKind(position), position.index === current);
  }

  #draw(mark, shown, isCurrent) {
    if (!mark) return;
    for (const kind of KINDS) mark.classList.toggle(`eye-mark--${kind}`, kind === shown);
    const moved = isCurrent && !mark.classList.contains("is-current");
    mark.classList.toggle("is-current", isCurrent);
    if (moved) mark.parentNode.append(mark);
  }
}
