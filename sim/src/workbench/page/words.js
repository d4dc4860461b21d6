// Writes numbers, units and names the way a rider reads them.
//
// Asked by every module that shows a number. The unit stands in the server's keys; here it is only
// put behind the number.

const MINUS = "\u2212";
const THIN = "\u00a0";

/** A number with as many places as its size needs; `–` where there is none. */
export function number(value, places) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  const size = Math.abs(value);
  const needed = places ?? (size >= 100 ? 0 : size >= 10 ? 1 : 2);
  const text = size.toFixed(needed);
  return Number(text) !== 0 && value < 0 ? MINUS + text : text;
}

/** A number as it is typed: every place it has, a plain minus, no trailing zeros. */
export function typed(value) {
  return value === null || value === undefined ? "" : String(Number(value.toPrecision(6)));
}

/** A number with its unit behind it. */
export function quantity(value, unit, places) {
  return unit ? `${number(value, places)}${THIN}${unit}` : number(value, places);
}

/** A difference, always with its sign. */
export function difference(value, places) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  const text = number(value, places);
  return /[1-9]/.test(text) ? (value > 0 ? `+${text}` : text) : "±0";
}

/** A share as percent, with its sign where it is a slope. */
export function percent(share) {
  return `${number(share * 100, 0)}${THIN}%`;
}

/** A slope in words. */
export function slope(grade) {
  if (grade === 0) return "level";
  return grade > 0 ? `up ${percent(grade)}` : `down ${percent(-grade)}`;
}

/** Three figures are enough for an end that is read, not typed. */
const short = (value) => String(Number(value.toPrecision(3)));

/** What is allowed, in words; open where an end is missing. */
export function range(lowest, highest, unit) {
  const known = (value) => value !== null && value !== undefined;
  const behind = unit ? `${THIN}${unit}` : "";
  if (known(lowest) && known(highest)) {
    return lowest === highest
      ? `${short(lowest)}${behind}`
      : `${short(lowest)} to ${short(highest)}${behind}`;
  }
  if (known(lowest)) return `from ${short(lowest)}${behind}`;
  return known(highest) ? `up to ${short(highest)}${behind}` : "";
}

/** The name of a key without its section and its unit: `throttle.drive_on_m_s3` is `drive on`. */
export function key_name(key) {
  const name = key.slice(key.lastIndexOf(".") + 1);
  const unit = /_(m_s[23]?|s|A|V|degC|kg|Wh_km|m|W|ohm|Ah)$/;
  return name.replace(unit, "").replaceAll("_", " ");
}

/** What a person typed as a number; a comma counts as a point. `null` where it is none. */
export function read(text) {
  const plain = text.trim().replace(",", ".").replace(MINUS, "-");
  return plain !== "" && Number.isFinite(Number(plain)) ? Number(plain) : null;
}

/** All that was found fault with, in the server's words. */
export function faults_in_words(faults) {
  return faults.map((fault) => fault.what).join("; ");
}
