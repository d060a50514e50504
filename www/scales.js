/**
 * The lenses' colours on the page: where a value stands on its scale, and which band of a lens of kinds is whose. The
 * colours themselves come from the module, the same bytes the shader uses.
 *
 * @import {Engine, LensName} from "./messages.js"
 */

/** Kinds in the order of their bands on the scale. @type {Partial<Record<LensName, string[]>>} */
const BANDS = {
  grid: ["strokes", "bars", "hatch", "chevrons"],
  sharing: ["plain", "chevrons", "dots", "bricks"],
};

/** Steps of a scale. */
export const STEPS = 256;

/**
 * Where values stand on a scale, 0..1; logarithmic for anisotropy.
 * @param {Engine} engine
 * @param {"stretch" | "size"} lens
 * @returns {(value: number) => number}
 */
export function placesOnScale(engine, lens) {
  const [low = 0, high = 1] = engine.lens_range(lens) ?? [];
  return (value) => placeBetween(lens, low, high, value);
}

/**
 * @param {"stretch" | "size"} lens
 * @param {number} low
 * @param {number} high
 * @param {number} value
 */
function placeBetween(lens, low, high, value) {
  const at = lens === "stretch" ? Math.log(Math.max(low, value)) / Math.log(high) : (value - low) / (high - low);
  return Number.isNaN(at) ? 0 : Math.min(1, Math.max(0, at));
}

/**
 * Colours of the patterns, by the pattern's name, 0..255.
 * @param {Engine} engine
 * @returns {Map<string, [number, number, number]>}
 */
export function patternColours(engine) {
  /** @type {Map<string, [number, number, number]>} */
  const colours = new Map();
  for (const [lens, kinds] of Object.entries(BANDS)) {
    const scale = engine.lens_scale(lens);
    for (const [band, kind] of kinds.entries()) {
      const step = Math.floor(((band + 0.5) * STEPS) / kinds.length) * 3;
      colours.set(kind, [scale[step] ?? 0, scale[step + 1] ?? 0, scale[step + 2] ?? 0]);
    }
  }
  return colours;
}
