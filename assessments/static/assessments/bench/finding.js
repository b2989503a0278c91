/** What is being ticked at one position before it is recorded. Pure. */

const LIMITS = { gap_mm: { most: 20, decimals: 2 }, direction_deg: { most: 180, decimals: 0 } };

/** Start from what is recorded there, or from ticks kept from before a reload. */
export function findingAt(position, kept) {
  const { faults, gap_mm, direction_deg } = kept ?? position;
  return { faults: [...faults], gap_mm, direction_deg };
}

export function withFault(finding, code) {
  const ticked = finding.faults.includes(code);
  return { ...finding, faults: ticked ? finding.faults.filter((other) => other !== code) : [...finding.faults, code] };
}

/** Set a measure; the same value again takes it off. */
export function withMeasure(finding, name, value) {
  return { ...finding, [name]: finding[name] === value ? null : value };
}

/** The data of the event that records it. */
export function positionData(index, finding) {
  return { index, finding: finding.faults.length ? "faulty" : "clean", ...finding };
}

export function bareData(index) {
  return { index, finding: "bare", faults: [], gap_mm: null, direction_deg: null };
}

/** The data of the event that puts a position back as it was. */
export function restoringData({ index, finding, faults, gap_mm, direction_deg }) {
  return { index, finding, faults, gap_mm, direction_deg };
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
  return sameFaults && one.gap_mm === other.gap_mm && one.direction_deg === other.direction_deg;
}

/** A typed measure: `{value}`, or `{problem}` with a sentence that says what to type. */
export function readMeasure(name, text) {
  const { most, decimals } = LIMITS[name];
  const typed = text.trim().replace(",", ".");
  if (!typed) return { value: null };
  const value = Number(typed);
  if (!Number.isFinite(value) || value < 0 || value > most) return { problem: `Enter a number from 0 to ${most}.` };
  return { value: Number(value.toFixed(decimals)) };
}
