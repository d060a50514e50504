/**
 * The grid's picture for the drawn sheet, painted some rows a frame; until it is complete the previous one is shown.
 *
 * @import {Engine} from "../core/messages.js"
 */

/** Longer side of the grid's picture, px; one that is larger on the screen is stretched. */
const GRID_PX = 2048;
/** Rows of the grid a frame: some 10 ms. */
const GRID_ROWS = 96;

export class DrawnGrid {
  #engine;
  /** The picture, and the one that is being painted. @type {HTMLCanvasElement | null} */
  #picture = null;
  /** @type {{strips: InstanceType<Engine["GridStrips"]>, pen: CanvasRenderingContext2D, row: number} | null} */
  #painting = null;

  /** @param {Engine} engine for its grid */
  constructor(engine) {
    this.#engine = engine;
  }

  get picture() {
    return this.#picture;
  }

  get isPainting() {
    return this.#painting !== null;
  }

  /**
   * Starts another one.
   * @param {{width: number, height: number, cell: number, words: string, wordsPx: number}} grid
   * @param {CanvasRenderingContext2DSettings} settings
   */
  begin({ width, height, cell, words, wordsPx }, settings) {
    const part = Math.min(1, GRID_PX / Math.max(width, height));
    const [wide = 1, high = 1] = [width, height].map((side) => Math.max(1, Math.round(side * part)));
    const canvas = document.createElement("canvas");
    const pen = canvas.getContext("2d", settings);
    if (!pen) return;
    [canvas.width, canvas.height] = [wide, high];
    this.#painting?.strips.free();
    this.#painting = { strips: new this.#engine.GridStrips(width, height, cell, words, wordsPx, Uint32Array.of(wide, high)), pen, row: 0 };
  }

  /** Continues painting. @returns {boolean} whether the picture has changed */
  paint() {
    const painting = this.#painting;
    if (!painting) return false;
    const { strips, pen } = painting;
    const strip = strips.next(GRID_ROWS);
    const { width, height } = pen.canvas;
    if (strip.length > 0) {
      pen.putImageData(new ImageData(new Uint8ClampedArray(strip), width), 0, painting.row);
      painting.row += strip.length / (4 * width);
    }
    if (painting.row < height) return false;
    strips.free();
    this.#painting = null;
    this.#picture = pen.canvas;
    return true;
  }
}
