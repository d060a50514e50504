/**
 * How the drawn sheet shows a triangle, from the module's packed words. The module gives each triangle's look, and the style of
 * each look (src/lens/drawn.rs).
 *
 * @import {Engine} from "../core/messages.js"
 */

/** The module's looks: not on the shown sheet; faded. */
export const NOWHERE = 0;
export const FADED = 2;

/**
 * @typedef {object} Style
 * @property {string} colour blended with "darken"
 * @property {string} kind pattern; empty for none
 * @property {string} ink of the pattern and of circles; empty for none
 * @property {number} turn degrees
 * @property {boolean} isLight whether the pattern is a light one, whose ink is blended with "multiply"
 */

/**
 * @typedef {object} Lens
 * @property {string} name
 * @property {boolean} flags
 * @property {boolean} leaning
 * @property {[number, number]} isolate
 * @property {Uint32Array} shells that do not fade, ascending; none for all
 */

/**
 * @param {number} r
 * @param {number} g
 * @param {number} b
 */
function css(r, g, b) {
  return `rgb(${r} ${g} ${b})`;
}

export class Triangles {
  #engine;
  /** By number, from 1. */
  #patterns;
  /** By lens and look. @type {Map<string, Style>} */
  #styles = new Map();

  /** @param {Engine} engine */
  constructor(engine) {
    this.#engine = engine;
    this.#patterns = ["", ...engine.lens_patterns().map(({ name }) => name)];
  }

  /**
   * Looks of a run of triangles.
   * @param {Uint32Array} words four a triangle
   * @param {number} from
   * @param {number} to
   * @param {Lens} lens
   */
  looks(words, from, to, { name, flags, leaning, isolate, shells }) {
    return this.#engine.drawn_looks(name, flags, leaning, words.subarray(from * 4, to * 4), to - from, ...isolate, shells);
  }

  /**
   * @param {string} lens
   * @param {number} look
   * @returns {Style}
   */
  style(lens, look) {
    const key = `${lens} ${look}`;
    const known = this.#styles.get(key);
    if (known) return known;
    const [r = 0, g = 0, b = 0, pattern = 0, inkR = NaN, inkG = 0, inkB = 0, turn = 0, isLight = 0] = this.#engine.drawn_style(lens, look);
    const style = {
      colour: css(r, g, b),
      kind: this.#patterns[pattern] ?? "",
      ink: Number.isNaN(inkR) ? "" : css(inkR, inkG, inkB),
      turn,
      isLight: isLight === 1,
    };
    this.#styles.set(key, style);
    return style;
  }
}

/**
 * Adds a triangle to a path, always with the same winding: a flipped one would cancel those below it.
 * @param {Path2D} path
 * @param {Float32Array} uv
 * @param {number} triangle
 * @param {(u: number, v: number) => [number, number]} at
 */
export function addTriangle(path, uv, triangle, at) {
  const [u0 = 0, v0 = 0, u1 = 0, v1 = 0, u2 = 0, v2 = 0] = uv.subarray(triangle * 6, triangle * 6 + 6);
  const isTurned = (u1 - u0) * (v2 - v0) < (u2 - u0) * (v1 - v0);
  path.moveTo(...at(u0, v0));
  path.lineTo(...(isTurned ? at(u2, v2) : at(u1, v1)));
  path.lineTo(...(isTurned ? at(u1, v1) : at(u2, v2)));
  path.closePath();
}
