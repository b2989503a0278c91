/** Choosing a cell: by tap on the drawing, in the table, or with the arrow keys there. */

const EYES = { L: "left", R: "right" };

export class Grid {
  #chosen = null;

  constructor(root) {
    this.root = root;
    root.addEventListener("click", (click) => this.#click(click));
    root.addEventListener("keydown", (press) => this.#press(press));
  }

  get panels() {
    return [...this.root.querySelectorAll("[data-panel]")];
  }

  get chosen() {
    return this.panels.find(({ id }) => id === this.#chosen) ?? null;
  }

  /** Show one cell's inputs; the first there is when it is gone. */
  choose(id, { focus = false } = {}) {
    const panel = this.panels.find((each) => each.id === id) ?? this.panels[0];
    this.#chosen = panel.id;
    for (const each of this.panels) each.classList.toggle("is-chosen", each === panel);
    for (const link of this.root.querySelectorAll("[data-grid] [data-choose]")) this.#mark(link);
    this.showOnDrawing();
    if (focus) this.#enter(panel);
  }

  /** After its parts were put in anew. */
  refresh() {
    for (const table of this.root.querySelectorAll("[data-grid]")) table.setAttribute("role", "grid");
    const wrong = this.panels.find((each) => each.querySelector(".field-error"));
    this.choose(this.#chosen ?? wrong?.id);
  }

  showOnDrawing() {
    const { side, zone, layer } = this.chosen.dataset;
    for (const band of this.root.querySelectorAll("[data-cell]")) {
      const eye = EYES[band.closest("[data-eye]").dataset.eye];
      const here = band.dataset.zone === zone && band.dataset.layer === layer && (side === "both" || side === eye);
      band.classList.toggle("is-chosen", here);
    }
  }

  backToGrid() {
    this.root.querySelector(`[data-grid] [data-choose="${this.#chosen}"]`)?.focus();
  }

  #mark(link) {
    const here = link.dataset.choose === this.#chosen;
    link.tabIndex = here ? 0 : -1;
    if (here) link.setAttribute("aria-current", "true");
    else link.removeAttribute("aria-current");
    const links = [...link.closest("[data-grid]").querySelectorAll("[data-choose]")];
    if (!links.some((each) => each.dataset.choose === this.#chosen)) links[0].tabIndex = 0;
  }

  #enter(panel) {
    panel.focus({ preventScroll: true });
    const { top, bottom } = panel.getBoundingClientRect();
    if (top < 0 || bottom > innerHeight) panel.scrollIntoView({ block: top < 0 || top > innerHeight / 3 ? "start" : "nearest" });
  }

  #click(click) {
    const link = click.target.closest("[data-choose]");
    const band = click.target.closest("[data-cell]");
    const back = click.target.closest("[data-to-grid]");
    if (!link && !band && !back) return;
    click.preventDefault();
    if (back) this.backToGrid();
    else this.choose(link ? link.dataset.choose : this.#idOf(band), { focus: true });
  }

  #idOf(band) {
    const eye = EYES[band.closest("[data-eye]").dataset.eye];
    const side = this.panels[0].dataset.side === "both" ? "both" : eye;
    return ["cell", side, band.dataset.zone, band.dataset.layer].join("-");
  }

  #press(press) {
    if (press.key === "Escape" && press.target.closest("[data-panel]")) return this.backToGrid();
    const link = press.target.closest("[data-grid] [data-choose]");
    const next = link && neighbour(link, press.key);
    if (!next) return undefined;
    press.preventDefault();
    this.choose(next.dataset.choose);
    return next.focus();
  }
}

function neighbour(link, key) {
  const rows = [...link.closest("[data-grid]").tBodies[0].rows].map((row) => [...row.querySelectorAll("[data-choose]")]);
  const down = rows.findIndex((row) => row.includes(link));
  const along = rows[down].indexOf(link);
  const moves = {
    ArrowLeft: [down, along - 1],
    ArrowRight: [down, along + 1],
    ArrowUp: [down - 1, along],
    ArrowDown: [down + 1, along],
    Home: [down, 0],
    End: [down, rows[down].length - 1],
  };
  const [row, column] = moves[key] ?? [-1, -1];
  return rows[row]?.[column] ?? null;
}
