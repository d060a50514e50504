/** Numbers as people read them: tabular, with units, the same in every locale. */

// `Intl.NumberFormat` is not used: creating the first one takes 20 to 40 ms at every start.

/** Between a whole number's groups of three figures. */
const GROUPS = /\B(?=(\d{3})+$)/g;

/**
 * Bytes as hexadecimal digits.
 * @param {Uint8Array} bytes
 */
export function hexadecimal(bytes) {
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** @param {number} value */
export function whole(value) {
  return value.toFixed(0).replace(GROUPS, ",");
}

/**
 * Three significant digits, no exponent; whole numbers from a thousand up.
 * @param {number} value
 */
export function three(value) {
  const rounded = Math.abs(value) < 1000 ? Number(value.toPrecision(3)) : value;
  if (!(Math.abs(rounded) < 1000) || rounded === 0) return whole(rounded);
  const text = rounded.toFixed(Math.min(100, Math.max(0, 2 - Math.floor(Math.log10(Math.abs(rounded))))));
  return text.includes(".") ? text.replace(/\.?0+$/, "") : text;
}

/**
 * @param {number} value
 * @param {number} [digits] after the point
 */
export function fixed(value, digits = 2) {
  return value.toFixed(digits).replace("-", "\u2212");
}

/** @param {number} share 0..1 */
export function percent(share) {
  return `${three(share * 100)}\u00a0%`;
}

/** @param {number} bytes */
export function bytes(bytes) {
  if (bytes < 1000) return `${bytes}\u00a0B`;
  if (bytes < 1e6) return `${(bytes / 1e3).toFixed(1)}\u00a0kB`;
  if (bytes < 1e9) return `${(bytes / 1e6).toFixed(1)}\u00a0MB`;
  return `${(bytes / 1e9).toFixed(2)}\u00a0GB`;
}

/**
 * @param {number} count
 * @param {string} one
 * @param {string} [many]
 */
export function counted(count, one, many = `${one}s`) {
  return `${whole(count)}\u00a0${count === 1 ? one : many}`;
}

/** Letters written from right to left (the blocks that Unicode keeps for such scripts), and directional controls. */
const CAN_TURN = /[\u0590-\u08ff\u200e\u200f\u202a-\u202e\u2066-\u2069\ufb1d-\ufdff\ufe70-\ufeff\u{10800}-\u{10fff}\u{1e800}-\u{1efff}]/u;

/**
 * A name isolated for a sentence: its direction and controls do not affect the words around it. The same as
 * `isolated` of the module (`src/util/isolate.rs`), for names that never pass through it.
 * @param {string} name
 */
export function isolated(name) {
  if (!CAN_TURN.test(name)) return name;
  let [open, outside] = [0, 0];
  for (const letter of name) {
    if (letter >= "\u2066" && letter <= "\u2068") open += 1;
    else if (letter === "\u2069" && open > 0) open -= 1;
    else if (letter === "\u2069") outside += 1;
  }
  return "\u2068".repeat(outside + 1) + name + "\u2069".repeat(open + 1);
}

/**
 * A length with its unit; without a known one in "units".
 * @param {number} length
 * @param {string} unit
 */
export function withUnit(length, unit) {
  return `${three(length)}\u00a0${unit === "unit" && length !== 1 ? "units" : unit}`;
}
