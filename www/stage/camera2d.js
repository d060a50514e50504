/**
 * The camera of the drawn sheet: its scale, its origin, and what it was last fitted to.
 *
 * @import {Engine} from "../core/messages.js"
 */

/** Margin around the tile when fitted, share of its size; around a shown region. */
const MARGIN = { tile: 0.06, region: 0.5 };
/** A region is shown no closer than this share of the tile. */
const LEAST = 0.04;
/** Closest and farthest: device px a tile. */
const SCALE_LIMITS = /** @type {const} */ ([20, 400000]);

/** @typedef {[number, number, number, number]} Rect */

export class DrawnCamera {
  #engine;
  /** What it is fitted to: u0, v0, u1, v1. @type {Rect} */
  #region = [0, 0, 1, 1];
  /** Where the sheet is drawn, device px. @type {Rect} */
  #rect = [0, 0, 1, 1];
  /** Left, top, right, bottom of what covers the canvas. @type {Float64Array} */
  #covers = new Float64Array();
  /** Height of the map over its width. */
  #aspect = 1;
  /** Device px a tile's width, and position of the first tile's bottom left. */
  #scale = 1;
  /** @type {[number, number]} */
  #origin = [0, 0];
  #hasModel = false;
  /** Whether all of it is shown; null before there is anything. @type {boolean | null} */
  #fitted = null;

  /** @param {Engine} engine for its clear areas */
  constructor(engine) {
    this.#engine = engine;
  }

  get scale() {
    return this.#scale;
  }

  get aspect() {
    return this.#aspect;
  }

  get origin() {
    return this.#origin;
  }

  /**
   * @param {number} u
   * @param {number} v
   * @returns {[number, number]} place on the canvas
   */
  at(u, v) {
    return [this.#origin[0] + u * this.#scale, this.#origin[1] - v * this.#scale * this.#aspect];
  }

  /**
   * @param {number} x
   * @param {number} y
   */
  uvAt(x, y) {
    return Float64Array.of((x - this.#origin[0]) / this.#scale, (this.#origin[1] - y) / (this.#scale * this.#aspect));
  }

  /** @param {number} aspect of the map */
  setAspect(aspect) {
    this.#aspect = aspect;
    if (this.#fitted) this.fit();
  }

  /** @param {Rect | null} rect where the sheet is drawn; null if it is not visible */
  setRect(rect) {
    if (rect) this.#rect = rect;
    if (this.#fitted !== false) this.fit();
  }

  /** @param {Float64Array} covers */
  setCovers(covers) {
    this.#covers = covers;
    if (this.#fitted !== false) this.fit();
  }

  /** @param {Rect} region that `fit` shows */
  setRegion(region) {
    if (!region.every(Number.isFinite)) return;
    this.#region = region;
    if (this.#fitted) this.fit();
  }

  /** A new model is fitted with the next layout. @param {boolean} hasModel */
  setModel(hasModel) {
    this.#hasModel = hasModel;
    if (hasModel) this.#fitted = null;
  }

  /** Shows all of it. */
  fit() {
    this.#frameOn(this.#region, MARGIN.tile);
    this.#fitted = this.#hasModel ? true : null;
  }

  /** @param {Rect} region that is shown */
  show(region) {
    this.#frameOn(region, MARGIN.region);
    this.#fitted = false;
  }

  /**
   * @param {number} dx
   * @param {number} dy
   */
  pan(dx, dy) {
    this.#origin = [this.#origin[0] + dx, this.#origin[1] + dy];
    this.#fitted = false;
  }

  /**
   * @param {number} factor
   * @param {number} x
   * @param {number} y
   */
  zoom(factor, x, y) {
    const scale = limited(this.#scale * factor);
    const by = scale / this.#scale;
    this.#origin = [x + (this.#origin[0] - x) * by, y + (this.#origin[1] - y) * by];
    this.#scale = scale;
    this.#fitted = false;
  }

  /**
   * @param {Rect} region
   * @param {number} margin
   */
  #frameOn([u0, v0, u1, v1], margin) {
    const [x, y, width, height] = this.#rect;
    const [du, dv] = [u1 - u0, v1 - v0].map((side) => Math.max(side * (1 + 2 * margin), LEAST));
    const [wide, high] = [du ?? LEAST, (dv ?? LEAST) * this.#aspect];
    const covers = this.#covers.map((side, at) => side - (at % 2 === 0 ? x : y));
    const [mx = 0, my = 0, clearWidth = width, clearHeight = height] = this.#engine.clear_area(width, height, covers, wide, high);
    this.#scale = limited(Math.min(clearWidth / wide, clearHeight / high));
    this.#origin = [x + width / 2 + mx - ((u0 + u1) / 2) * this.#scale, y + height / 2 + my + ((v0 + v1) / 2) * this.#scale * this.#aspect];
  }
}

/** @param {number} scale */
function limited(scale) {
  return Math.min(SCALE_LIMITS[1], Math.max(SCALE_LIMITS[0], scale));
}
