/**
 * The Picture lens on the drawn sheet: its looks and bitmaps.
 *
 * @import {Look, MeshBuffers} from "../core/messages.js"
 */

import { addTriangle, FADED as FADED_LOOK, NOWHERE } from "./triangles2d.js";

/** Fill without a picture. */
export const PAPER = "rgb(251 247 236)";
/** Opacity of a faded picture. */
const FADED = 0.3;

/**
 * @typedef {object} Sheet
 * @property {[number, number]} origin device px of the first tile's bottom left
 * @property {number} scale device px a tile's width
 * @property {number} aspect height of the map over its width
 * @property {(u: number, v: number) => [number, number]} at place on the canvas
 */

export class DrawnPictures {
  #pen;
  /** @type {Look[]} */
  #looks = [];
  /** Which of them each triangle shows. @type {Uint16Array} */
  #lookOf = new Uint16Array();
  #ground = -1;
  /** By number. @type {Map<number, ImageBitmap>} */
  #bitmaps = new Map();

  /** @param {CanvasRenderingContext2D} pen */
  constructor(pen) {
    this.#pen = pen;
  }

  /**
   * @param {Look[]} looks
   * @param {number} ground
   * @param {number} triangles of the model
   */
  setLooks(looks, ground, triangles) {
    this.#looks = looks;
    this.#ground = ground;
    this.#lookOf = new Uint16Array(triangles);
    for (const [index, { runs }] of looks.entries()) {
      for (let at = 0; at < runs.length; at += 2) this.#lookOf.fill(index, runs[at], (runs[at] ?? 0) + (runs[at + 1] ?? 0));
    }
    for (const [number, bitmap] of this.#bitmaps) {
      if (looks.some((look) => look.picture === number)) continue;
      bitmap.close();
      this.#bitmaps.delete(number);
    }
  }

  /**
   * @param {number} number
   * @param {ImageBitmap} bitmap
   */
  setPicture(number, bitmap) {
    this.#bitmaps.get(number)?.close();
    this.#bitmaps.set(number, bitmap);
  }

  /**
   * The picture below the shells.
   * @param {Sheet} sheet
   */
  ground(sheet) {
    return this.#style(this.#ground, sheet);
  }

  /**
   * The fill of a look: its picture, repeated, or its colour.
   * @param {number} index
   * @param {Sheet} sheet
   */
  #style(index, { origin: [x, y], scale, aspect }) {
    const look = this.#looks[index];
    if (!look) return PAPER;
    const bitmap = this.#bitmaps.get(look.picture);
    const pattern = bitmap && this.#pen.createPattern(bitmap, look.clamp ? "no-repeat" : "repeat");
    if (!bitmap || !pattern) return look.colour ? `rgb(${look.colour.map((part) => part * 255).join(" ")})` : PAPER;
    const [u, v] = look.scale.map((factor) => scale / factor);
    const [right, up] = [u ?? 1, (v ?? 1) * aspect];
    pattern.setTransform(new DOMMatrix([right / bitmap.width, 0, 0, up / bitmap.height, x - look.offset[0] * right, y - (1 - look.offset[1]) * up]));
    return pattern;
  }

  /**
   * Fills a run of triangles. Those of one look are one path.
   * @param {MeshBuffers["uv"]} uv
   * @param {Uint32Array} looks of each of them, as `Triangles` gives them
   * @param {number} from first triangle
   * @param {Sheet} sheet
   */
  fill(uv, looks, from, sheet) {
    /** By look, and whether it is faded. @type {Map<number, Path2D>} */
    const paths = new Map();
    for (const [index, look] of looks.entries()) {
      if (look === NOWHERE) continue;
      const triangle = from + index;
      const key = (this.#lookOf[triangle] ?? 0) * 2 + (look === FADED_LOOK ? 1 : 0);
      const path = paths.get(key) ?? new Path2D();
      paths.set(key, path);
      addTriangle(path, uv, triangle, sheet.at);
    }
    const pen = this.#pen;
    pen.globalCompositeOperation = "source-over";
    pen.imageSmoothingQuality = "high";
    for (const [key, path] of paths) {
      pen.globalAlpha = key % 2 === 1 ? FADED : 1;
      pen.fillStyle = this.#style(key >> 1, sheet);
      pen.fill(path);
    }
    pen.globalAlpha = 1;
  }
}
