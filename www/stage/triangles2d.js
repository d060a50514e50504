/**
 * What the drawn sheet shows of a triangle: its colour and its pattern, from the words the module packs (src/lens.rs).
 *
 * @import {Engine} from "../core/messages.js"
 */

import { FLAG, NO_SHELL, SCALE_STEPS, STATE } from "../core/known.js";
import { patternInks, thinned } from "./patterns.js";

/** Steps of colour, so that triangles of like colour can be filled together. */
const COLOURS = 64;
/** Degrees between the directions a pattern is turned to, for the same reason. */
const TURN = 15;
/** What a shell makes of white. */
const SHELL = [226, 230, 228];
/** How much of a kind's colour lies on the paper of a lens of kinds. */
const WASH = 0.34;
/** What hides the words where they would not come out right. */
const VEIL = [188, 185, 180];
/** Luminance (0..255) below which marks are paper instead of ink, as on the stage. */
const DARK = 107;

/**
 * @typedef {object} Look
 * @property {string} colour of the two, it and what lies below, the darker one of each channel is seen
 * @property {string} kind pattern; empty for none
 * @property {string} ink of the pattern
 * @property {number} turn degrees
 * @property {boolean} isLight whether the pattern is a light one, whose ink is multiplied with what lies below
 */

/**
 * @typedef {object} Lens
 * @property {string} name
 * @property {boolean} flags
 * @property {boolean} leaning
 * @property {number} octaveTolerance
 * @property {[number, number]} isolate
 * @property {(shell: number) => boolean} faded
 */

/**
 * A half-precision float from its bits.
 * @param {number} bits
 */
function half(bits) {
  const sign = bits & 0x8000 ? -1 : 1;
  const exponent = (bits >> 10) & 31;
  const fraction = bits & 1023;
  if (exponent === 0) return sign * fraction * 2 ** -24;
  if (exponent === 31) return fraction ? NaN : sign * Infinity;
  return sign * (1 + fraction / 1024) * 2 ** (exponent - 15);
}

/** @param {number[]} rgb */
function css(rgb) {
  return `rgb(${rgb.map(Math.round).join(" ")})`;
}

/**
 * The shell of a triangle; null where it has no place on the sheet.
 * @param {Uint32Array} words four a triangle
 * @param {number} triangle
 */
export function shellOf(words, triangle) {
  const word = words[triangle * 4 + 2];
  return word === undefined || !((word >>> 24) & FLAG.mapped) ? null : word & NO_SHELL;
}

export class Triangles {
  #engine;
  #inks;
  /** @type {Map<string, Uint8Array>} */
  #scales = new Map();

  /** @param {Engine} engine */
  constructor(engine) {
    this.#engine = engine;
    this.#inks = patternInks(engine);
  }

  /**
   * Looks of a run of triangles; null for those without a place on the sheet.
   * @param {Uint32Array} words four a triangle
   * @param {number} from
   * @param {number} to
   * @param {Lens} lens
   * @returns {(Look | null)[]}
   */
  looks(words, from, to, lens) {
    const values = new Float32Array(to - from);
    const scaled = lens.name === "stretch" || lens.name === "density";
    if (scaled) {
      for (let at = from; at < to; at += 1) {
        const word = words[at * 4] ?? 0;
        values[at - from] = half(lens.name === "density" ? word >>> 16 : word & 0xffff);
      }
    }
    const places = scaled ? this.#engine.lens_positions(lens.name, values) : values;
    return Array.from(values, (value, at) => this.#look(words.subarray((from + at) * 4, (from + at) * 4 + 4), value, places[at] ?? NaN, lens));
  }

  /**
   * @param {Uint32Array} words
   * @param {number} value
   * @param {number} place on the scale
   * @param {Lens} lens
   * @returns {Look | null}
   */
  #look([, y = 0, z, w = 0], value, place, { name, flags, leaning, octaveTolerance, isolate, faded }) {
    if (z === undefined) return { colour: css([232, 234, 232]), kind: "", ink: "", turn: 0, isLight: false };
    const bits = z >>> 24;
    if (!(bits & FLAG.mapped) || (w >>> 16) & STATE.elsewhere) return null;
    const outside = name !== "seams" && (value < isolate[0] || value > isolate[1]);
    const plain = { colour: css([244, 244, 240]), kind: "", ink: "", turn: 0, isLight: false };
    if (outside || faded(z & NO_SHELL)) return plain;
    if (name === "stretch" || name === "density") {
      if (Number.isNaN(place) || value === 0 && name === "stretch") return { ...plain, colour: css([205, 200, 194]) };
      const rgb = this.#scaled(name, place);
      const light = 0.2126 * (rgb[0] ?? 0) + 0.7152 * (rgb[1] ?? 0) + 0.0722 * (rgb[2] ?? 0);
      const ink = light > DARK ? "rgb(23 38 59)" : "rgb(251 247 236)";
      const off = name === "stretch" ? (bits & FLAG.stretched) !== 0 : Math.abs(value) > octaveTolerance;
      const kind = !off ? "" : name === "stretch" ? "strokes" : value < 0 ? "minus" : "plus";
      return { colour: css(rgb), kind, ink, turn: kind === "strokes" ? turned(y & 0xffff) : 0, isLight: false };
    }
    if (name === "seams") return plain;
    const state = w >>> 16;
    const kind = name === "text" ? reasonOf(bits, state) : kindOf(name, bits, flags) || (name === "grid" && leaning && state & STATE.tilted ? "stems" : "");
    const inks = this.#inks.get(kind);
    if (!inks) return { ...plain, colour: css(SHELL) };
    const turn = kind === "strokes" ? turned(y & 0xffff) : kind === "chevrons" ? turned(w & 0xffff) : 0;
    if (name === "grid") {
      const hue = kind === "stems" ? [255, 255, 255] : inks.light.ground;
      return { colour: css(hue.map((part, channel) => (part * (SHELL[channel] ?? 0)) / 255)), kind, ink: css(inks.light.mark), turn, isLight: true };
    }
    return { colour: css(name === "text" ? VEIL : thinned(inks.ground, WASH)), kind, ink: css(inks.mark), turn, isLight: false };
  }

  /**
   * @param {string} lens
   * @param {number} place
   */
  #scaled(lens, place) {
    const colours = this.#scales.get(lens) ?? this.#engine.lens_scale(lens);
    this.#scales.set(lens, colours);
    const step = Math.round(Math.round(place * (COLOURS - 1)) * ((SCALE_STEPS - 1) / (COLOURS - 1))) * 3;
    return [...colours.subarray(step, step + 3)];
  }
}

/**
 * Adds a triangle to a path, always the same way round: one that is turned would take those below it away.
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

/**
 * Degrees clockwise on the screen, in steps, from radians counter-clockwise on the sheet; 0 where there is no direction.
 * @param {number} bits
 */
function turned(bits) {
  const degrees = (-half(bits) * 180) / Math.PI;
  return Number.isNaN(degrees) ? 0 : Math.round(degrees / TURN) * TURN;
}

/**
 * The gravest reason why letters would not come out right, as on the stage; empty where they would.
 * @param {number} bits
 * @param {number} state
 */
function reasonOf(bits, state) {
  if (!(state & STATE.unsafe)) return "";
  if (bits & FLAG.reversed) return "bars";
  if (bits & (FLAG.mirrored | FLAG.stacked | FLAG.partial_overlap)) return "dots";
  return bits & FLAG.stretched || state & STATE.collapsed ? "strokes" : "stems";
}

/**
 * The gravest thing that a lens of kinds has to say, by the same order as on the stage.
 * @param {string} lens
 * @param {number} bits
 * @param {boolean} flags
 */
function kindOf(lens, bits, flags) {
  if (lens === "overlaps") return bits & FLAG.partial_overlap ? "bricks" : bits & FLAG.mirrored ? "chevrons" : bits & FLAG.stacked ? "dots" : "";
  if (lens === "grid" && !flags) return "";
  if (bits & FLAG.folded) return "hatch";
  if (bits & FLAG.flipped) return "bars";
  if (lens === "flipped") return "";
  return bits & FLAG.mirrored ? "chevrons" : bits & FLAG.stretched ? "strokes" : "";
}
