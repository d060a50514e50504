/** Base64 for addresses: RFC 4648 section 5, without padding. Pure. */

const LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
const VALUES = new Map([...LETTERS].map((letter, value) => [letter, value]));

/** @param {Uint8Array} bytes */
export function encode(bytes) {
  const parts = [];
  for (let at = 0; at < bytes.length; at += 3) {
    const [a = 0, b = 0, c = 0] = bytes.subarray(at, at + 3);
    const group = (a << 16) | (b << 8) | c;
    const letters = [18, 12, 6, 0].map((shift) => LETTERS[(group >> shift) & 63]).join("");
    parts.push(letters.slice(0, Math.min(4, bytes.length - at + 1)));
  }
  return parts.join("");
}

/**
 * @param {string} text
 * @returns {Uint8Array<ArrayBuffer> | null} null where it is none: another letter, a length that nothing has, bits left over
 */
export function decode(text) {
  if (text.length % 4 === 1) return null;
  const bytes = new Uint8Array(Math.floor((text.length * 3) / 4));
  let [bits, count, at] = [0, 0, 0];
  for (const letter of text) {
    const value = VALUES.get(letter);
    if (value === undefined) return null;
    bits = ((bits << 6) | value) & 0xffff;
    count += 6;
    if (count >= 8) {
      count -= 8;
      bytes[at] = (bits >> count) & 0xff;
      at += 1;
    }
  }
  return (bits & ((1 << count) - 1)) === 0 ? bytes : null;
}
