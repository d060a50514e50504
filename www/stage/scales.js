/**
 * The lenses' colours on the page: which band of a lens of kinds is whose. Colours, and where a value stands on a scale,
 * come from the module, which the shader has them from too.
 *
 * @import {Engine, LensName} from "../core/messages.js"
 */

import { SCALE_STEPS } from "../core/known.js";

/** Kinds in the order of their bands on the scale. @type {Partial<Record<LensName, string[]>>} */
const BANDS = {
  grid: ["strokes", "bars", "hatch", "chevrons"],
  overlaps: ["plain", "chevrons", "dots", "bricks"],
  text: ["bars", "dots", "strokes", "stems"],
};

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
      const step = Math.floor(((band + 0.5) * SCALE_STEPS) / kinds.length) * 3;
      colours.set(kind, [scale[step] ?? 0, scale[step + 1] ?? 0, scale[step + 2] ?? 0]);
    }
  }
  colours.delete("plain");
  return colours;
}
