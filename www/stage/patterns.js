/**
 * The patterns that show a kind without colour, for the legend and the drawn sheet: one set of drawings for
 * both. The stage's shader draws the same kinds by its own means (src/view/shaders/patterns.glsl); colours are the module's.
 * Over the Grid lens they are light: wider apart and thinner, so that the grid stays readable.
 *
 * @import {Engine} from "../core/messages.js"
 */

import { draw } from "../base/dom.js";

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

/** A light pattern: how much larger its cell is, width of stroked lines in the cell's own px, and what bars are filled with. */
const LIGHT = { scale: 1.5, line: 0.85, bars: "M0 0h1.5v10H0z" };

/** Device px a CSS px of cells on a canvas, before they are scaled. */
const FINE = 4;

/** Longest side of the picture of a cell's circle, px; a larger one is stretched. */
const CIRCLE_PX = 1024;

/**
 * Puts the patterns into the page's drawings, as `#pattern-KIND` and `#pattern-light-KIND`.
 * @param {SVGElement} place
 * @param {Engine} engine
 */
export function definePatterns(place, engine) {
  const tint = engine.light_tint();
  for (const { name: kind, inks } of engine.lens_patterns()) {
    if (!inks) continue;
    const [ground, mark, lightMark] = inks;
    for (const isLight of [false, true]) {
      const pattern = drawingOf(kind, isLight);
      if (!pattern) continue;
      const { width, height, turn, line, fill, scale, lineWidth } = pattern;
      const element = draw(
        "pattern",
        {
          id: `pattern-${isLight ? "light-" : ""}${kind}`,
          class: "pattern",
          width,
          height,
          patternUnits: "userSpaceOnUse",
          patternTransform: `rotate(${turn}) scale(${scale})`,
        },
        draw("rect", { class: "wash", width, height }),
        draw("path", { class: "line", d: line }),
        draw("path", { class: "solid", d: fill }),
      );
      element.style.setProperty("--hue", `rgb(${ground.join(" ")})`);
      element.style.setProperty("--line", String(lineWidth));
      if (isLight) element.style.setProperty("--wash", String(tint));
      // Multiplied with the swatch's paper, which is nearly white.
      element.style.setProperty("color", `rgb(${(isLight ? lightMark : mark).join(" ")})`);
      place.append(element);
    }
  }
}

/**
 * @param {string} kind
 * @param {boolean} isLight
 * @returns {(Pattern & {scale: number, lineWidth: number}) | null} null for an unknown kind
 */
function drawingOf(kind, isLight) {
  const pattern = PATTERNS[kind];
  if (!pattern) return null;
  if (!isLight) return { ...pattern, scale: 1, lineWidth: LINE };
  return { ...pattern, fill: kind === "bars" ? LIGHT.bars : pattern.fill, scale: LIGHT.scale, lineWidth: LIGHT.line };
}

/**
 * Side of the picture of a cell's circle, px.
 * @param {number} side of the cell on the canvas
 */
function circleFineness(side) {
  return Math.min(CIRCLE_PX, 2 ** Math.ceil(Math.log2(side)));
}

/** Patterns for a 2D canvas, made when first asked for. */
export class CanvasPatterns {
  #pen;
  /** @type {Map<string, CanvasPattern>} */
  #made = new Map();
  /** Circles of one size, by their ink. @type {Map<string, CanvasPattern>} */
  #circles = new Map();
  #circlesOf = "";

  /** @param {CanvasRenderingContext2D} pen */
  constructor(pen) {
    this.#pen = pen;
  }

  /**
   * A pattern's marks only, on a transparent ground.
   * @param {string} kind
   * @param {string} ink CSS colour
   * @param {{origin: [number, number], ratio: number, turn?: number, isLight: boolean}} place position of its lattice, device
   *   px; device px a CSS px; degrees it is turned by, besides its own
   * @returns {CanvasPattern | null} null for an unknown kind
   */
  marks(kind, ink, { origin: [x, y], ratio, turn = 0, isLight }) {
    const drawing = drawingOf(kind, isLight);
    if (!drawing) return null;
    const key = `${kind} ${ink} ${isLight}`;
    const pattern = this.#made.get(key) ?? this.#make(drawing, ink);
    if (!pattern) return null;
    this.#made.set(key, pattern);
    const scale = (ratio / FINE) * drawing.scale;
    pattern.setTransform(
      new DOMMatrix()
        .translate(x, y)
        .rotate(drawing.turn + turn)
        .scale(scale, scale),
    );
    return pattern;
  }

  /**
   * The circles of the grid's cells.
   * @param {string} ink CSS colour
   * @param {{origin: [number, number], side: number, radius: number, width: number}} place where the sheet's corner is, side
   *   of a cell, radius and width of the line, device px
   */
  circles(ink, { origin: [x, y], side, radius, width }) {
    const size = `${side} ${radius} ${width}`;
    if (this.#circlesOf !== size) this.#circles.clear();
    this.#circlesOf = size;
    const pattern = this.#circles.get(ink) ?? this.#makeCircle(ink, side, radius, width);
    if (!pattern) return null;
    this.#circles.set(ink, pattern);
    const scale = side / circleFineness(side);
    pattern.setTransform(new DOMMatrix().translate(x, y).scale(scale, scale));
    return pattern;
  }

  /**
   * @param {string} ink
   * @param {number} side
   * @param {number} radius
   * @param {number} width
   */
  #makeCircle(ink, side, radius, width) {
    const fine = circleFineness(side);
    const cell = document.createElement("canvas");
    [cell.width, cell.height] = [fine, fine];
    const pen = cell.getContext("2d");
    if (!pen) return null;
    pen.scale(fine / side, fine / side);
    pen.strokeStyle = ink;
    pen.lineWidth = width;
    pen.beginPath();
    pen.arc(side / 2, side / 2, radius, 0, 2 * Math.PI);
    pen.stroke();
    return this.#pen.createPattern(cell, "repeat");
  }

  /**
   * @param {Pattern & {lineWidth: number}} drawing
   * @param {string} ink
   */
  #make({ width, height, line, fill, lineWidth }, ink) {
    const cell = document.createElement("canvas");
    [cell.width, cell.height] = [width * FINE, height * FINE];
    const pen = cell.getContext("2d");
    if (!pen) return null;
    pen.scale(FINE, FINE);
    pen.strokeStyle = ink;
    pen.fillStyle = ink;
    pen.lineWidth = lineWidth;
    pen.lineCap = "round";
    pen.lineJoin = "round";
    pen.stroke(new Path2D(line));
    pen.fill(new Path2D(fill));
    return this.#pen.createPattern(cell, "repeat");
  }
}
