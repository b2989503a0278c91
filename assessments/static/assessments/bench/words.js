/** Sentences of the bench, built from codes. */

const EYES = { left: "Left eye", right: "Right eye" };
const ZONES = { inner: "inner", inner_mid: "inner-mid", outer_mid: "outer-mid", outer: "outer" };
const LAYERS = { top: "top layer", middle: "middle layer", bottom: "bottom layer" };

const FANS = { open: "open fan", closed: "closed fan", spike: "spike" };

export const DOT = " · ";

/** `1st`, `2nd`, `3rd`, `11th`, `22nd`. */
export function ordinal(number) {
  const teens = number % 100 >= 11 && number % 100 <= 13;
  const ending = teens ? "th" : { 1: "st", 2: "nd", 3: "rd" }[number % 10] ?? "th";
  return `${number}${ending}`;
}

export function eyeWords(eye) {
  return EYES[eye] ?? eye;
}

export function layerWords(layer) {
  return LAYERS[layer] ?? layer;
}

/** The parts of a place, from the eye down to the fan that is wanted there. */
export function placeParts({ eye, zone, layer, fan, length_mm, fan_shape }) {
  const parts = [eyeWords(eye), ZONES[zone] ?? zone.replace("_", " "), layerWords(layer), `${ordinal(fan)} fan from the inner corner`];
  const wanted = [length_mm == null ? null : `${length_mm} mm`, FANS[fan_shape]].filter(Boolean).join(" ");
  return wanted ? [...parts, wanted] : parts;
}

export function placeWords(position) {
  return placeParts(position).join(DOT);
}

/** What was found at a position: `clean`, `stuck, bead`, `lash left bare`. */
export function findingWords(position, faults) {
  if (position.finding === "unseen") return "not looked at yet";
  if (position.finding === "bare") return "lash left bare";
  const names = faults.filter(({ code }) => position.faults.includes(code)).map(({ name }) => name);
  const measures = [
    position.gap_mm == null ? null : `gap ${position.gap_mm} mm`,
    position.direction_deg == null ? null : `${position.direction_deg}° off`,
    position.found_length_mm == null ? null : `${position.found_length_mm} mm long`,
  ].filter(Boolean);
  return [...(names.length ? names : [position.finding === "faulty" ? "with a fault" : "clean"]), ...measures].join(", ");
}

export function plural(count, one, many = `${one}s`) {
  return `${count} ${count === 1 ? one : many}`;
}
