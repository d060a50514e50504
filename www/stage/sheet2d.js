/**
 * The sheet, drawn on a plain 2D canvas from the same buffers, for browsers without WebGL2. It replaces the wasm
 * module's view: methods of the 3D view do nothing here. Colours are blended with "darken", so that many layers do not turn
 * the sheet black.
 *
 * Large models and the grid are drawn in slices over several frames, so that the page stays responsive.
 *
 * @import {Engine, LineBuffers, Look as Shown, MeshBuffers} from "../core/messages.js"
 */

import { DrawnCamera } from "./camera2d.js";
import { DrawnGrid } from "./grid2d.js";
import { drawOutlines } from "./outlines2d.js";
import { CanvasPatterns } from "./patterns.js";
import { DrawnPictures, PAPER } from "./pictures2d.js";
import { UDIM } from "../core/known.js";
import { addTriangle, NOWHERE, Triangles } from "./triangles2d.js";

/** Triangles or outline segments a frame: about 10 ms of drawing on a slow machine. */
const SLICE = 6000;
/** Longer side of a picture, px. */
const PICTURE_PX = 2048;
/** Opacity of a picture and of the grid outside shells. */
const QUIET = { picture: 0.45, grid: 0.6 };
/** Smallest cell whose circle is drawn, CSS px. */
const LEAST_CIRCLE_PX = 10;

/** Not GPU-backed: the GPU may be missing, or its context lost. @type {CanvasRenderingContext2DSettings} */
const CANVAS = { willReadFrequently: true };

/** @typedef {[number, number, number]} Rgb */

export class DrawnSheet {
  /** The visible canvas. */
  #screen;
  /** The picture without the pointer's ring, finished over several frames. */
  #pen;
  #engine;
  #looks;
  #patterns;
  #camera;
  #grid;
  /** @type {Record<string, number[]>} */
  #theme = {};
  /** @type {MeshBuffers | null} */
  #mesh = null;
  /** @type {Uint32Array} */
  #triangles = new Uint32Array();
  /** @type {LineBuffers | null} */
  #lines = null;
  #lens = "grid";
  #pictures;
  /** Cells along a tile's width. */
  #cells = 32;
  #flags = true;
  #leaning = false;
  /** @type {[number, number]} */
  #isolate = [NaN, NaN];
  /** @type {Set<number>} */
  #selected = new Set();
  /** @type {Set<number>} */
  #partner = new Set();
  /** @type {[number, number] | null} */
  #hover = null;
  #ratio = 1;
  /** UDIM numbers. @type {number[]} */
  #tiles = [UDIM.first];
  /** Next triangle, and after the last next outline segment, to draw; infinite when the picture is complete. */
  #next = Infinity;
  #frames = 0;

  /**
   * @param {HTMLCanvasElement} canvas
   * @param {Engine} engine for its scales, its grid and its clear areas
   */
  constructor(canvas, engine) {
    const screen = canvas.getContext("2d", CANVAS);
    const pen = document.createElement("canvas").getContext("2d", CANVAS);
    if (!screen || !pen) throw new Error("this browser gives no canvas to draw on");
    this.#screen = screen;
    this.#pen = pen;
    this.#engine = engine;
    this.#camera = new DrawnCamera(engine);
    this.#grid = new DrawnGrid(engine);
    this.#looks = new Triangles(engine);
    this.#patterns = new CanvasPatterns(pen);
    this.#pictures = new DrawnPictures(pen);
  }

  // No 3D view here.
  clear_model() {
    this.#mesh = null;
    this.#camera.setModel(false);
    this.#redraw();
  }
  orbit() {}
  pan() {}
  zoom() {}
  fit() {}
  fly_fit() {}
  set_up() {}
  fly_to() {}
  set_camera() {}
  set_map() {}
  set_extent() {}
  set_bounds_uv() {
    this.#camera.pan(0, 0);
  }
  set_under() {}
  lose_context() {}
  restore_context() {}
  camera() {
    return {};
  }
  ray_at() {
    return new Float64Array(6);
  }
  units_per_pixel() {
    return NaN;
  }
  seen_radius() {
    return NaN;
  }
  seen_across() {
    return new Float64Array(2);
  }
  /** @param {Float64Array} points */
  seen_at(points) {
    return new Float64Array((points.length / 3) * 2).fill(NaN);
  }
  sight() {
    return new Float64Array();
  }
  is_flying() {
    return false;
  }
  frames_drawn() {
    return this.#frames;
  }

  /** @param {Record<string, number[]>} theme */
  set_theme(theme) {
    this.#theme = theme;
    this.#redraw();
  }
  /**
   * @param {number} map_width
   * @param {number} map_height
   * @param {number} cell_px
   * @param {string} words
   * @param {number} words_px
   */
  set_grid(map_width, map_height, cell_px, words, words_px) {
    this.#cells = map_width / cell_px;
    this.#grid.begin({ width: map_width, height: map_height, cell: cell_px, words, wordsPx: words_px }, CANVAS);
    this.#camera.setAspect(map_height / map_width);
    this.#redraw();
  }
  /** @param {Uint32Array} numbers */
  set_tiles(numbers) {
    this.#tiles = numbers.length > 0 ? [...numbers] : [UDIM.first];
    this.#redraw();
  }
  /** @param {MeshBuffers} mesh */
  set_model(mesh) {
    this.#mesh = mesh;
    this.#triangles = new Uint32Array();
    this.#lines = null;
    this.#camera.setModel(true);
    this.#redraw();
  }
  /** @param {Float32Array} uv */
  set_uvs(uv) {
    if (this.#mesh) this.#mesh = { ...this.#mesh, uv };
    this.#redraw();
  }
  /**
   * @param {Shown[]} looks
   * @param {number} ground
   */
  set_looks(looks, ground) {
    this.#pictures.setLooks(looks, ground, this.#mesh?.triangle_count ?? 0);
    this.#redraw();
  }
  /**
   * @param {number} number
   * @param {number} _width
   * @param {number} _height
   * @param {Uint8Array | ImageBitmap} picture
   */
  set_picture(number, _width, _height, picture) {
    if (!(picture instanceof ImageBitmap)) return;
    this.#pictures.setPicture(number, picture);
    this.#redraw();
  }
  most_picture_px() {
    return PICTURE_PX;
  }
  /** @param {Uint32Array} data */
  set_triangles(data) {
    if (data === this.#triangles) return;
    this.#triangles = data;
    this.#redraw();
  }
  /** @param {LineBuffers} lines */
  set_lines(lines) {
    if (lines === this.#lines) return;
    this.#lines = lines;
    this.#redraw();
  }
  /** @param {string} lens */
  set_lens(lens) {
    this.#lens = lens;
    this.#redraw();
  }
  /** @param {boolean} on */
  set_flags(on) {
    this.#flags = on;
    this.#redraw();
  }
  set_measuring() {
    // Drawn on the main thread, where no measure runs.
  }
  /** @param {boolean} on */
  set_leaning(on) {
    this.#leaning = on;
    this.#redraw();
  }
  /**
   * @param {number} lo
   * @param {number} hi
   */
  set_isolate(lo, hi) {
    this.#isolate = [lo, hi];
    this.#redraw();
  }
  /** @param {Uint32Array} shells */
  set_selected(shells) {
    this.#selected = new Set(shells);
    this.#redraw();
  }
  /** @param {Uint32Array} shells */
  set_partner(shells) {
    this.#partner = new Set(shells);
    this.#redraw();
  }
  /**
   * @param {number} triangle
   * @param {number} _x
   * @param {number} _y
   * @param {number} _z
   * @param {number} u
   * @param {number} v
   */
  set_hover(triangle, _x, _y, _z, u, v) {
    this.#hover = triangle < 0 ? null : [u, v];
  }
  /**
   * @param {number} width
   * @param {number} height
   * @param {number} ratio
   * @param {ArrayLike<number>} _stage
   * @param {ArrayLike<number> | null} [sheet]
   */
  set_layout(width, height, ratio, _stage, sheet) {
    for (const { canvas } of [this.#screen, this.#pen]) [canvas.width, canvas.height] = [width, height];
    this.#ratio = ratio;
    this.#camera.setRect(sheet ? /** @type {[number, number, number, number]} */ (Array.from(sheet)) : null);
    this.#redraw();
  }
  /** @param {Float64Array} sides left, top, right, bottom of what covers the canvas */
  set_covers(sides) {
    this.#camera.setCovers(sides);
    this.#redraw();
  }

  /**
   * @param {number} u0
   * @param {number} v0
   * @param {number} u1
   * @param {number} v1
   */
  set_region(u0, v0, u1, v1) {
    this.#camera.setRegion([u0, v0, u1, v1]);
    this.#redraw();
  }
  sheet_fit() {
    this.#camera.fit();
    this.#redraw();
  }
  /**
   * @param {number} u0
   * @param {number} v0
   * @param {number} u1
   * @param {number} v1
   */
  sheet_show(u0, v0, u1, v1) {
    this.#camera.show([u0, v0, u1, v1]);
    this.#redraw();
  }
  /**
   * @param {number} dx
   * @param {number} dy
   */
  sheet_pan(dx, dy) {
    this.#camera.pan(dx, dy);
    this.#redraw();
  }
  /**
   * @param {number} factor
   * @param {number} x
   * @param {number} y
   */
  sheet_zoom(factor, x, y) {
    this.#camera.zoom(factor, x, y);
    this.#redraw();
  }
  /**
   * @param {number} x
   * @param {number} y
   */
  uv_at(x, y) {
    return this.#camera.uvAt(x, y);
  }

  /** @returns {boolean} whether another frame is wanted */
  frame() {
    if (this.#grid.paint()) this.#redraw();
    const triangles = this.#mesh?.triangle_count ?? 0;
    const lines = this.#mesh && this.#lines;
    const segments = lines ? lines.sheet.length / 4 : 0;
    if (this.#next === 0) this.#ground();
    const end = this.#next + SLICE;
    if (this.#next < triangles) this.#fill(this.#next, Math.min(triangles, end));
    if (lines && end > triangles && this.#next < triangles + segments) {
      drawOutlines(this.#pen, lines, [Math.max(0, this.#next - triangles), Math.min(segments, end - triangles)], {
        at: (u, v) => this.#camera.at(u, v),
        ratio: this.#ratio,
        scale: this.#camera.scale,
        isSeams: this.#lens === "seams",
        isolate: this.#isolate,
        accent: this.#ink("accent"),
        isChosen: (shell) => this.#selected.has(shell),
        isPartner: (shell) => this.#partner.has(shell),
      });
    }
    const whole = end >= triangles + segments;
    this.#next = whole ? Infinity : end;
    this.#screen.drawImage(this.#pen.canvas, 0, 0);
    if (whole) this.#ring();
    this.#frames += 1;
    return !whole || this.#grid.isPainting;
  }

  #ring() {
    if (!this.#hover) return;
    const pen = this.#screen;
    const [x, y] = this.#camera.at(...this.#hover);
    pen.beginPath();
    pen.arc(x, y, 7 * this.#ratio, 0, 2 * Math.PI);
    pen.lineWidth = 2 * this.#ratio;
    pen.strokeStyle = this.#ink("accent");
    pen.stroke();
  }

  #redraw() {
    this.#next = 0;
  }

  /**
   * @param {string} name
   * @param {number} [alpha]
   */
  #ink(name, alpha = 1) {
    const [r, g, b] = /** @type {Rgb} */ (this.#theme[name] ?? [0, 0, 0]);
    return `rgb(${r * 255} ${g * 255} ${b * 255} / ${alpha})`;
  }

  /** Background; the faded grid in the map's tiles; their borders. */
  #ground() {
    const pen = this.#pen;
    pen.globalCompositeOperation = "source-over";
    pen.globalAlpha = 1;
    pen.fillStyle = this.#ink("card");
    pen.fillRect(0, 0, pen.canvas.width, pen.canvas.height);
    const [width, height] = [this.#camera.scale, this.#camera.scale * this.#camera.aspect];
    for (const tile of this.#tiles) {
      const place = tile - UDIM.first;
      const [left, top] = this.#camera.at(place % UDIM.columns, Math.floor(place / UDIM.columns) + 1);
      if (left > pen.canvas.width || top > pen.canvas.height || left + width < 0 || top + height < 0) continue;
      const pictured = this.#lens === "picture";
      pen.fillStyle = pictured ? PAPER : this.#ink("tint_a");
      pen.fillRect(left, top, width, height);
      if (pictured) {
        pen.globalAlpha = QUIET.picture;
        pen.fillStyle = this.#pictures.ground(this.#place());
        pen.fillRect(left, top, width, height);
        pen.globalAlpha = 1;
      } else if (this.#grid.picture) {
        pen.globalAlpha = QUIET.grid;
        pen.imageSmoothingQuality = "high";
        pen.drawImage(this.#grid.picture, left, top, width, height);
        pen.globalAlpha = 1;
      }
      pen.strokeStyle = this.#ink("second");
      pen.lineWidth = 2;
      pen.strokeRect(left, top, width, height);
    }
  }

  /**
   * Triangles of one look are one path.
   * @param {number} from
   * @param {number} to
   */
  #fill(from, to) {
    const uv = this.#mesh?.uv;
    if (!uv) return;
    const looks = this.#looks.looks(this.#triangles, from, to, {
      name: this.#lens,
      flags: this.#flags,
      leaning: this.#leaning,
      isolate: this.#isolate,
      shells: this.#selected.size > 0 ? Uint32Array.from([...this.#selected, ...this.#partner]).sort() : new Uint32Array(),
    });
    if (this.#lens === "picture") {
      this.#pictures.fill(uv, looks, from, this.#place());
      return;
    }
    /** @type {Map<number, Path2D>} */
    const paths = new Map();
    for (const [index, look] of looks.entries()) {
      if (look === NOWHERE) continue;
      const path = paths.get(look) ?? new Path2D();
      paths.set(look, path);
      addTriangle(path, uv, from + index, (u, v) => this.#camera.at(u, v));
    }
    const pen = this.#pen;
    for (const [look, path] of paths) {
      const style = this.#looks.style(this.#lens, look);
      pen.globalCompositeOperation = "darken";
      pen.fillStyle = style.colour;
      pen.fill(path);
      if (this.#lens === "stretch" && style.ink) this.#circles(style.ink, path);
      pen.globalCompositeOperation = style.isLight ? "multiply" : "source-over";
      const marks = this.#patterns.marks(style.kind, style.ink, { origin: this.#camera.origin, ratio: this.#ratio, turn: style.turn, isLight: style.isLight });
      if (!marks) continue;
      pen.fillStyle = marks;
      pen.fill(path);
    }
  }

  /**
   * The circles of the grid's cells within a path.
   * @param {string} ink
   * @param {Path2D} path
   */
  #circles(ink, path) {
    const side = this.#camera.scale / this.#cells;
    if (side < LEAST_CIRCLE_PX * this.#ratio) return;
    const [radius, width, strength] = this.#engine.lens_circles();
    const pen = this.#pen;
    const circles = this.#patterns.circles(ink, { origin: this.#camera.origin, side, radius: radius * side, width: width * this.#ratio });
    if (!circles) return;
    pen.globalCompositeOperation = "source-over";
    pen.globalAlpha = strength;
    pen.fillStyle = circles;
    pen.fill(path);
    pen.globalAlpha = 1;
  }

  /** Transform of the sheet for drawing. */
  #place() {
    const { origin, scale, aspect } = this.#camera;
    return { origin, scale, aspect, at: (/** @type {number} */ u, /** @type {number} */ v) => this.#camera.at(u, v) };
  }
}
