/**
 * Colours for the canvas, read from the tokens, so that page and picture have one source.
 */

const NAMES = [
  "paper",
  "card",
  "ink",
  "second",
  "rule",
  "accent",
  "stop",
  "look",
  "ready",
  "stage",
  "tint-a",
  "tint-b",
  "tint-c",
  "tint-d",
  "circle",
  "pennant",
];

/**
 * A token's value, as CSS.
 * @param {string} name
 */
export function token(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
}

/**
 * @param {string} css `#rrggbb`
 * @returns {[number, number, number]} 0..1
 */
function rgb(css) {
  const value = Number.parseInt(css.slice(1), 16);
  return [(value >> 16) / 255, ((value >> 8) & 255) / 255, (value & 255) / 255];
}

/**
 * The tokens for the view; `flag` is the colour of what must be fixed.
 * @returns {Record<string, number[]>}
 */
export function themeColours() {
  const colours = Object.fromEntries(NAMES.map((name) => [name.replaceAll("-", "_"), rgb(token(name))]));
  return { ...colours, flag: /** @type {number[]} */ (colours.stop) };
}

/** @param {() => void} heard called when the system changes between light and dark */
export function onThemeChange(heard) {
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", heard);
}
