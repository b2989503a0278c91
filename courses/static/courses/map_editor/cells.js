/** One cell's inputs: its rows of lengths, its steps up and down, and copying it elsewhere. */

const MOST_LENGTHS = 6;

const rowsOf = (panel) => [...panel.querySelectorAll("[data-length]")];
const inputsOf = (row) => [...row.querySelectorAll("input")];
const isBlank = (row) => inputsOf(row).every(({ value }) => value === "");

/** Only rows with something in them are shown, and at least one. */
export function showRows(panel) {
  const rows = rowsOf(panel);
  for (const row of rows) row.classList.toggle("is-blank", isBlank(row));
  if (rows.every(isBlank)) rows[0].classList.remove("is-blank");
  const shown = rows.filter((row) => !row.classList.contains("is-blank")).length;
  panel.querySelector("[data-add]").disabled = shown >= MOST_LENGTHS;
  for (const button of panel.querySelectorAll("[data-remove], [data-fill]")) button.disabled = shown < 2;
}

/** Up or down to the next multiple of the step, within what the input allows. */
export function step(button) {
  const input = button.parentElement.querySelector("input");
  const size = Math.abs(Number(button.dataset.step));
  const by = Number(button.dataset.step) > 0 ? size : -size;
  const from = Number(input.value || input.min);
  const to = by > 0 ? Math.floor(from / size) * size + size : Math.ceil(from / size) * size - size;
  input.value = String(Math.min(Number(input.max), Math.max(Number(input.min), input.value ? to : from)));
}

/** What the other lengths leave over goes to this one. */
export function fillRest(button) {
  const own = button.closest("[data-length]").querySelector("[data-share]");
  const shares = [...button.closest("[data-lengths]").querySelectorAll("[data-share]")];
  const others = shares.filter((share) => share !== own).reduce((sum, { value }) => sum + Number(value), 0);
  own.value = String(Math.max(1, 100 - others));
}

/** One more length, 1 mm above the longest, with what is left over; its first input. */
export function addLength(panel) {
  const lengths = read(panel).lengths;
  if (lengths.length >= MOST_LENGTHS) return null;
  const longest = Math.max(...lengths.map(([length]) => Number(length) || 0));
  const left = 100 - lengths.reduce((sum, [, share]) => sum + Number(share), 0);
  writeLengths(panel, [...lengths, [String(Math.min(18, Math.max(5, longest + 1))), left > 0 ? String(left) : ""]]);
  return inputsOf(rowsOf(panel)[lengths.length])[0];
}

export function removeLength(button) {
  const panel = button.closest("[data-panel]");
  for (const input of inputsOf(button.closest("[data-length]"))) input.value = "";
  writeLengths(panel, read(panel).lengths);
}

/** Where a copy goes: the cells beside it, along its layer, below it, or across on the other eye. */
export function copyTargets(panel, panels, where) {
  const same = (...names) => panels.filter((other) => other !== panel && names.every((name) => other.dataset[name] === panel.dataset[name]));
  const row = panels.filter((other) => other.dataset.side === panel.dataset.side && other.dataset.layer === panel.dataset.layer);
  const at = row.indexOf(panel);
  const targets = {
    inwards: [row[at - 1]],
    outwards: [row[at + 1]],
    layer: same("side", "layer"),
    layers: same("side", "zone"),
    eye: same("zone", "layer"),
  };
  return targets[where].filter(Boolean);
}

export function copy(from, to) {
  const cell = read(from);
  writeLengths(to, cell.lengths);
  for (const input of to.querySelectorAll("[name]")) {
    const name = input.name.slice(to.dataset.name.length);
    if (!(name in cell.fan)) continue;
    if (input.type === "radio") input.checked = input.value === cell.fan[name];
    else input.value = cell.fan[name];
  }
}

function read(panel) {
  const lengths = rowsOf(panel).filter((row) => !isBlank(row)).map((row) => inputsOf(row).map(({ value }) => value));
  const fan = {};
  for (const input of panel.querySelectorAll("[name]")) {
    if (input.closest("[data-length]") || (input.type === "radio" && !input.checked)) continue;
    fan[input.name.slice(panel.dataset.name.length)] = input.value;
  }
  return { lengths, fan };
}

function writeLengths(panel, lengths) {
  while (rowsOf(panel).length < lengths.length) addRow(panel);
  for (const [nth, row] of rowsOf(panel).entries()) {
    for (const [part, input] of inputsOf(row).entries()) input.value = lengths[nth]?.[part] ?? "";
  }
  showRows(panel);
}

function addRow(panel) {
  const rows = rowsOf(panel);
  const row = rows[0].cloneNode(true);
  for (const part of row.querySelectorAll("[id], [for], [name]")) {
    for (const attribute of ["id", "for"]) {
      if (part.hasAttribute(attribute)) part.setAttribute(attribute, part.getAttribute(attribute).replace(/\d+$/, rows.length));
    }
    if (part.name) part.name = part.name.replace(/lengths\/\d+/, `lengths/${rows.length}`);
  }
  rows.at(-1).after(row);
}
