/** A form as a list of `[name, value]`, and back. The security token is not part of it. */

const TOKEN = "csrfmiddlewaretoken";

export function entriesOf(form) {
  return [...new FormData(form)].filter(([name, value]) => name !== TOKEN && typeof value === "string");
}

export function withToken(form, entries) {
  return [[TOKEN, form.elements[TOKEN].value], ...entries];
}

/** Equal in all that matters: blank inputs come and go with the rows of a cell. */
export function sameEntries(one, other) {
  return written(one) === written(other);
}

function written(entries) {
  return JSON.stringify(entries.filter(([, value]) => value !== "").sort());
}

/** The cells that entries speak of, as one text to compare. */
export function cellsOf(entries) {
  const cells = entries.filter(([name]) => name.startsWith("cells/")).map(([name]) => name.split("/", 4).join("/"));
  return [...new Set(cells)].sort().join(" ");
}

/** Put entries back into the inputs there are; an input they do not name is emptied. */
export function putBack(form, entries) {
  const values = new Map();
  for (const [name, value] of entries) values.set(name, [...(values.get(name) ?? []), value]);
  for (const input of form.elements) {
    if (!input.name || input.name === TOKEN || input.type === "submit") continue;
    const given = values.get(input.name) ?? [];
    if (input.type === "checkbox" || input.type === "radio") input.checked = given.includes(input.value);
    else if (input.value !== (given[0] ?? "")) input.value = given[0] ?? "";
  }
}
