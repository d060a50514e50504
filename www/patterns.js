/**
 * The patterns that say a kind without colour, as the legend and the drawn sheet show them: one set of drawings for
 * both. The stage's shader draws the same kinds by its own means (src/view/shaders/patterns.glsl), in the same colours.
 *
 * @import {Engine} from "./messages.js"
 */

import { draw } from "./dom.js";
import { patternColours } from "./scales.js";

/**
 * @typedef {object} Pattern
 * @property {number} width of its cell, CSS px
 * @property {number} height
 * @property {number} turn degrees, clockwise
 * @property {string} line path that is stroked; empty for none
 * @property {string} fill path that is filled; empty for none
 */

/** @type {Readonly<Record<string, Pattern>>} */
const PATTERNS = {
  strokes: { width: 10, height: 6, turn: 0, line: "M1.5 3h6", fill: "" },
  bars: { width: 10, height: 10, turn: 45, line: "", fill: "M0 0h4.5v10H0z" },
  hatch: { width: 5, height: 5, turn: 45, line: "M0 .5h5M.5 0v5", fill: "" },
  chevrons: { width: 9, height: 10, turn: 0, line: "M1.5 1 6 5 1.5 9", fill: "" },
  dots: { width: 7, height: 7, turn: 0, line: "", fill: "M1.9 3.5a1.6 1.6 0 1 0 3.2 0a1.6 1.6 0 1 0-3.2 0z" },
  unmapped: { width: 7, height: 7, turn: 0, line: "", fill: "M1.9 3.5a1.6 1.6 0 1 0 3.2 0a1.6 1.6 0 1 0-3.2 0z" },
  bricks: { width: 12, height: 10, turn: 0, line: "M0 .5h12M0 5.5h12M3 .5v5M9 5.5v5", fill: "" },
  stems: { width: 11, height: 12, turn: 0, line: "M5.5 10V2M3 5l2.5-3L8 5", fill: "" },
  minus: { width: 11, height: 11, turn: 0, line: "M3 5.5h5", fill: "" },
  plus: { width: 11, height: 11, turn: 0, line: "M3 5.5h5M5.5 3v5", fill: "" },
};

/** Width of stroked lines, CSS px. */
const LINE = 1.5;

/** How much darker than its ground a pattern's marks are: the shader's own factor, so that legend and model agree. */
const MARK = 0.45;

/** Device px a CSS px that cells are drawn with on a canvas, before they are scaled to what is wanted. */
const FINE = 4;

/** Ground of what has no UVs: the shader's own. @type {Rgb} */
const UNMAPPED = [204, 200, 194];

/** @typedef {[number, number, number]} Rgb 0..255 */

/**
 * Ground and marks of each kind.
 * @param {Engine} engine
 * @returns {Map<string, {ground: Rgb, mark: Rgb}>}
 */
export function patternInks(engine) {
  const grounds = patternColours(engine).set("unmapped", UNMAPPED);
  return new Map([...grounds].map(([kind, ground]) => [kind, { ground, mark: /** @type {Rgb} */ (ground.map((part) => Math.round(part * MARK))) }]));
}

/**
 * Puts the patterns into the page's drawings, as `#pattern-KIND`.
 * @param {SVGElement} place
 * @param {Engine} engine
 */
export function definePatterns(place, engine) {
  for (const [kind, { ground, mark }] of patternInks(engine)) {
    const pattern = PATTERNS[kind];
    if (!pattern) continue;
    const { width, height, turn, line, fill } = pattern;
    const element = draw("pattern", { id: `pattern-${kind}`, class: "pattern", width, height, patternUnits: "userSpaceOnUse", patternTransform: `rotate(${turn})` },
      draw("rect", { class: "wash", width, height }),
      draw("path", { class: "line", d: line }),
      draw("path", { class: "solid", d: fill }));
    element.style.setProperty("--hue", `rgb(${ground.join(" ")})`);
    element.style.setProperty("color", `rgb(${mark.join(" ")})`);
    place.append(element);
  }
}

/** Patterns for a 2D canvas, made when first asked for. */
export class CanvasPatterns {
  #pen;
  /** @type {Map<string, CanvasPattern>} */
  #made = new Map();

  /** @param {CanvasRenderingContext2D} pen */
  constructor(pen) {
    this.#pen = pen;
  }

  /**
   * A pattern's marks alone, on nothing.
   * @param {string} kind
   * @param {string} ink CSS colour
   * @param {{origin: [number, number], ratio: number, turn?: number}} place where its lattice stands, device px; device px
   *   a CSS px; degrees it is turned by, besides its own
   * @returns {CanvasPattern | null} null for a kind that is none
   */
  marks(kind, ink, { origin: [x, y], ratio, turn = 0 }) {
    const drawing = PATTERNS[kind];
    if (!drawing) return null;
    const key = `${kind} ${ink}`;
    const pattern = this.#made.get(key) ?? this.#make(drawing, ink);
    if (!pattern) return null;
    this.#made.set(key, pattern);
    const scale = ratio / FINE;
    pattern.setTransform(new DOMMatrix().translate(x, y).rotate(drawing.turn + turn).scale(scale, scale));
    return pattern;
  }

  /**
   * @param {Pattern} drawing
   * @param {string} ink
   */
  #make({ width, height, line, fill }, ink) {
    const cell = document.createElement("canvas");
    [cell.width, cell.height] = [width * FINE, height * FINE];
    const pen = cell.getContext("2d");
    if (!pen) return null;
    pen.scale(FINE, FINE);
    pen.strokeStyle = ink;
    pen.fillStyle = ink;
    pen.lineWidth = LINE;
    pen.lineCap = "round";
    pen.lineJoin = "round";
    pen.stroke(new Path2D(line));
    pen.fill(new Path2D(fill));
    return this.#pen.createPattern(cell, "repeat");
  }
}
