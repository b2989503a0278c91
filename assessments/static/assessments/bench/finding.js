/** What is being ticked at one position before it is recorded. Pure. */

const LIMITS = {
  gap_mm: { least: 0, most: 20, decimals: 2 },
  direction_deg: { least: 0, most: 180, decimals: 0 },
  found_length_mm: { least: 3, most: 25, decimals: 1 },
};
const NOTHING_MEASURED = { gap_mm: null, direction_deg: null, found_length_mm: null };
const OFF_MAP = "MAP"; // the fault that a measured length brings with it
const TOLERANCE_MM = 1;

/** Start from what is recorded there, or from ticks kept from before a reload. */
export function findingAt(position, kept) {
  const { faults, ...others } = kept ?? position;
  return { faults: [...faults], ...measuresOf(others) };
}

export function withFault(finding, code) {
  const ticked = finding.faults.includes(code);
  return { ...finding, faults: ticked ? finding.faults.filter((other) => other !== code) : [...finding.faults, code] };
}

/** Set a measure; the same value again takes it off. */
export function withMeasure(finding, name, value) {
  return { ...finding, [name]: finding[name] === value ? null : value };
}

/** Is the fan off its map by 1 mm or more? Lengths come in tenths, so whole tenths are compared. */
export function isOffMap({ length_mm }, found_length_mm) {
  if (found_length_mm == null || length_mm == null) return false;
  return Math.abs(Math.round(10 * found_length_mm) - Math.round(10 * length_mm)) >= 10 * TOLERANCE_MM;
}

/** A measured length ticks the wrong-length fault when it is off the map, and takes back the tick it brought. */
export function withLength(finding, position, value) {
  const measured = withMeasure(finding, "found_length_mm", value);
  const brought = isOffMap(position, finding.found_length_mm);
  const faults = finding.faults.filter((code) => code !== OFF_MAP || !brought);
  const isOff = isOffMap(position, measured.found_length_mm);
  return { ...measured, faults: isOff && !faults.includes(OFF_MAP) ? [...faults, OFF_MAP] : faults };
}

/** The shape of its mark: a fan whose only fault is its length points the way it errs. */
export function markKind(position) {
  const { finding, faults, found_length_mm, length_mm } = position;
  const onlyLength = finding === "faulty" && faults.length === 1 && faults[0] === OFF_MAP;
  if (!onlyLength || !isOffMap(position, found_length_mm)) return finding;
  return found_length_mm > length_mm ? "long" : "short";
}

/** The data of the event that records it. */
export function positionData(index, finding) {
  return { index, finding: finding.faults.length ? "faulty" : "clean", ...finding };
}

export function bareData(index) {
  return { index, finding: "bare", faults: [], ...NOTHING_MEASURED };
}

/** The data of the event that puts a position back as it was. */
export function restoringData({ index, finding, faults, ...others }) {
  return { index, finding, faults, ...measuresOf(others) };
}

export function isRecorded(position, data) {
  return position.finding === data.finding && sameTicks(position, data);
}

/** Has something been ticked or measured here that is not recorded? */
export function isTouched(position, finding) {
  return !sameTicks(position, finding);
}

function sameTicks(one, other) {
  const sameFaults = one.faults.length === other.faults.length && one.faults.every((code) => other.faults.includes(code));
  const [these, those] = [measuresOf(one), measuresOf(other)];
  return sameFaults && Object.keys(NOTHING_MEASURED).every((name) => these[name] === those[name]);
}

function measuresOf(given) {
  return Object.fromEntries(Object.keys(NOTHING_MEASURED).map((name) => [name, given[name] ?? null]));
}

/** A typed measure: `{value}`, or `{problem}` with a sentence that says what to type. */
export function readMeasure(name, text) {
  const { least, most, decimals } = LIMITS[name];
  const typed = text.trim().replace(",", ".");
  if (!typed) return { value: null };
  const value = Number(typed);
  if (!Number.isFinite(value) || value < least || value > most) return { problem: `Enter a number from ${least} to ${most}.` };
  return { value: Number(value.toFixed(decimals)) };
}
