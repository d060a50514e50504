/**
 * The sheet, drawn on a plain 2D canvas from the same buffers, for browsers without WebGL2. It stands in for the wasm
 * module's view: what belongs to the 3D stage does nothing here.
 *
 * Big models are drawn over several frames, a slice of triangles each, so that the page keeps answering.
 *
 * @import {Engine, LineBuffers, MeshBuffers} from "./messages.js"
 */

import { patternColours, placesOnScale } from "./scales.js";

/** Triangles or outline segments a frame: about 10 ms of drawing on a slow machine. */
const SLICE = 6000;
/** Room left around the tile when fitted, share of its size. */
const MARGIN = 0.06;
/** Closest and farthest, CSS-independent: device px a tile. */
const SCALE_LIMITS = /** @type {const} */ ([20, 400000]);

// Bits of a triangle's words, as the module packs them (src/lens.rs).
const HAS_UV = 1;
const TURNED_OVER = 4;
const FOLDED = 8;
const OVER_STRETCH = 16;
const MIRRORED = 32;
const STACKED = 64;
const CROSSING = 128;

/** @typedef {[number, number, number]} Rgb */

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

export class DrawnSheet {
  /** What is seen. */
  #screen;
  /** The picture without the pointer's ring, finished over several frames. */
  #pen;
  #engine;
  /** @type {Record<string, number[]>} */
  #theme = {};
  /** @type {MeshBuffers | null} */
  #mesh = null;
  /** @type {Uint32Array} */
  #triangles = new Uint32Array();
  /** @type {LineBuffers | null} */
  #lines = null;
  #lens = "grid";
  #flags = true;
  /** @type {[number, number]} */
  #isolate = [NaN, NaN];
  /** @type {Set<number>} */
  #selected = new Set();
  /** @type {Set<number>} */
  #partner = new Set();
  /** @type {[number, number] | null} */
  #hover = null;
  /** @type {Map<string, {colours: Uint8Array, place: (value: number) => number}>} */
  #scales = new Map();
  #kinds;
  #cells = 32;
  /** Where the sheet is drawn. @type {[number, number, number, number]} */
  #rect = [0, 0, 1, 1];
  /** Device px a tile, and where the tile's bottom left stands. */
  #scale = 1;
  #origin = /** @type {[number, number]} */ ([0, 0]);
  #fitted = false;
  /** Next triangle, and after the last of them next outline segment, to draw; infinite when the picture is whole. */
  #next = Infinity;
  #frames = 0;

  /**
   * @param {HTMLCanvasElement} canvas
   * @param {Engine} engine for its lens scales
   */
  constructor(canvas, engine) {
    const screen = canvas.getContext("2d");
    const pen = document.createElement("canvas").getContext("2d");
    if (!screen || !pen) throw new Error("this browser gives no canvas to draw on");
    this.#screen = screen;
    this.#pen = pen;
    this.#engine = engine;
    this.#kinds = patternColours(engine);
  }

  // Nothing of the stage can be drawn here.
  clear_model() {
    this.#mesh = null;
    this.#redraw();
  }
  orbit() {}
  pan() {}
  zoom() {}
  fit() {}
  set_up() {}
  fly_to() {}
  lose_context() {}
  restore_context() {}
  context_restored() {}
  camera() {
    return {};
  }
  ray_at() {
    return [0, 0, 0, 0, 0, 0];
  }
  units_per_pixel() {
    return NaN;
  }
  is_busy() {
    return false;
  }
  shows_grid() {
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
   * @param {number} _map_height
   * @param {number} cell_px
   */
  set_grid(map_width, _map_height, cell_px) {
    this.#cells = Math.max(1, Math.round(map_width / cell_px));
    this.#redraw();
  }
  /** @param {MeshBuffers} mesh */
  set_model(mesh) {
    this.#mesh = mesh;
    this.#triangles = new Uint32Array();
    this.#fitted = false;
    this.#redraw();
  }
  /** @param {Uint32Array} data */
  set_triangles(data) {
    this.#triangles = data;
    this.#redraw();
  }
  /** @param {LineBuffers} lines */
  set_lines(lines) {
    this.#lines = lines;
    this.#redraw();
  }
  /** @param {string} lens */
  set_lens(lens) {
    this.#lens = lens;
    this.#redraw();
  }
  // The lines of the limits belong to the stage's shader; here the flags say it.
  set_limits() {}
  /** @param {boolean} on */
  set_flags(on) {
    this.#flags = on;
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
    const hover = /** @type {[number, number] | null} */ (triangle < 0 ? null : [u, v]);
    this.#hover = hover;
  }
  /**
   * @param {number} width
   * @param {number} height
   * @param {ArrayLike<number>} _stage
   * @param {ArrayLike<number> | null} sheet
   */
  set_layout(width, height, _stage, sheet) {
    this.#pen.canvas.width = width;
    this.#pen.canvas.height = height;
    if (sheet) this.#rect = /** @type {[number, number, number, number]} */ (Array.from(sheet));
    if (!this.#fitted) this.sheet_fit();
    this.#redraw();
  }

  sheet_fit() {
    const [u0, v0, u1, v1] = this.#mesh?.bounds_uv ?? [0, 0, 1, 1];
    this.#frameOn(Math.min(0, u0), Math.min(0, v0), Math.max(1, u1), Math.max(1, v1), MARGIN);
    this.#fitted = this.#mesh !== null;
  }
  /**
   * @param {number} u0
   * @param {number} v0
   * @param {number} u1
   * @param {number} v1
   */
  sheet_show(u0, v0, u1, v1) {
    this.#frameOn(u0, v0, u1, v1, 0.5);
  }
  /**
   * @param {number} dx
   * @param {number} dy
   */
  sheet_pan(dx, dy) {
    this.#origin = [this.#origin[0] + dx, this.#origin[1] + dy];
    this.#redraw();
  }
  /**
   * @param {number} factor
   * @param {number} x
   * @param {number} y
   */
  sheet_zoom(factor, x, y) {
    const scale = Math.min(SCALE_LIMITS[1], Math.max(SCALE_LIMITS[0], this.#scale * factor));
    const by = scale / this.#scale;
    this.#origin = [x + (this.#origin[0] - x) * by, y + (this.#origin[1] - y) * by];
    this.#scale = scale;
    this.#redraw();
  }
  /**
   * @param {number} x
   * @param {number} y
   */
  uv_at(x, y) {
    return [(x - this.#origin[0]) / this.#scale, (this.#origin[1] - y) / this.#scale];
  }

  /** @returns {boolean} whether another frame is wanted */
  frame() {
    const triangles = this.#mesh?.triangle_count ?? 0;
    const segments = this.#mesh && this.#lines ? this.#lines.sheet.length / 4 : 0;
    if (this.#next === 0) this.#ground();
    const end = this.#next + SLICE;
    if (this.#next < triangles) this.#fill(this.#next, Math.min(triangles, end));
    if (end > triangles && this.#next < triangles + segments) {
      this.#outline(Math.max(0, this.#next - triangles), Math.min(segments, end - triangles));
    }
    const whole = end >= triangles + segments;
    this.#next = whole ? Infinity : end;
    this.#screen.drawImage(this.#pen.canvas, 0, 0);
    if (whole) this.#ring();
    this.#frames += 1;
    return !whole;
  }

  #ring() {
    if (!this.#hover) return;
    const pen = this.#screen;
    const [x, y] = this.#at(...this.#hover);
    pen.beginPath();
    pen.arc(x, y, 7, 0, 2 * Math.PI);
    pen.lineWidth = 2;
    pen.strokeStyle = this.#ink("accent");
    pen.stroke();
  }

  #redraw() {
    this.#next = 0;
  }

  /**
   * @param {number} u0
   * @param {number} v0
   * @param {number} u1
   * @param {number} v1
   * @param {number} margin
   */
  #frameOn(u0, v0, u1, v1, margin) {
    const [x, y, width, height] = this.#rect;
    const [du, dv] = [Math.max(u1 - u0, 1e-4) * (1 + 2 * margin), Math.max(v1 - v0, 1e-4) * (1 + 2 * margin)];
    this.#scale = Math.min(SCALE_LIMITS[1], Math.max(SCALE_LIMITS[0], Math.min(width / du, height / dv)));
    this.#origin = [x + width / 2 - ((u0 + u1) / 2) * this.#scale, y + height / 2 + ((v0 + v1) / 2) * this.#scale];
    this.#redraw();
  }

  /**
   * @param {string} name
   * @param {number} [alpha]
   */
  #ink(name, alpha = 1) {
    const [r, g, b] = /** @type {Rgb} */ (this.#theme[name] ?? [0, 0, 0]);
    return `rgb(${r * 255} ${g * 255} ${b * 255} / ${alpha})`;
  }

  /**
   * @param {number} u
   * @param {number} v
   * @returns {[number, number]}
   */
  #at(u, v) {
    return [this.#origin[0] + u * this.#scale, this.#origin[1] - v * this.#scale];
  }

  /** Stage colour, the tile's paper, its cells and its border. */
  #ground() {
    const pen = this.#pen;
    pen.fillStyle = this.#ink("stage");
    pen.fillRect(0, 0, pen.canvas.width, pen.canvas.height);
    const [left, top] = this.#at(0, 1);
    pen.fillStyle = this.#ink("tint_a");
    pen.fillRect(left, top, this.#scale, this.#scale);
    const step = this.#scale / this.#cells;
    if (step >= 5) {
      pen.beginPath();
      for (let line = 1; line < this.#cells; line += 1) {
        pen.moveTo(left + line * step, top);
        pen.lineTo(left + line * step, top + this.#scale);
        pen.moveTo(left, top + line * step);
        pen.lineTo(left + this.#scale, top + line * step);
      }
      pen.strokeStyle = this.#ink("circle", 0.25);
      pen.lineWidth = 1;
      pen.stroke();
    }
    pen.strokeStyle = this.#ink("circle");
    pen.lineWidth = 2;
    pen.strokeRect(left, top, this.#scale, this.#scale);
  }

  /**
   * @param {number} from
   * @param {number} to
   */
  #fill(from, to) {
    const uv = this.#mesh?.uv;
    if (!uv) return;
    const pen = this.#pen;
    /** Triangles of one colour are one path. @type {Map<string, number[]>} */
    const byColour = new Map();
    for (let triangle = from; triangle < to; triangle += 1) {
      const colour = this.#colourOf(triangle);
      if (!colour) continue;
      const list = byColour.get(colour);
      if (list) list.push(triangle);
      else byColour.set(colour, [triangle]);
    }
    for (const [colour, list] of byColour) {
      pen.beginPath();
      for (const triangle of list) {
        const base = triangle * 6;
        pen.moveTo(...this.#at(/** @type {number} */ (uv[base]), /** @type {number} */ (uv[base + 1])));
        pen.lineTo(...this.#at(/** @type {number} */ (uv[base + 2]), /** @type {number} */ (uv[base + 3])));
        pen.lineTo(...this.#at(/** @type {number} */ (uv[base + 4]), /** @type {number} */ (uv[base + 5])));
        pen.closePath();
      }
      pen.fillStyle = colour;
      pen.fill();
    }
  }

  /**
   * @param {number} triangle
   * @returns {string | null} null for a triangle that has no place on the sheet
   */
  #colourOf(triangle) {
    const x = this.#triangles[triangle * 4];
    const z = this.#triangles[triangle * 4 + 2];
    if (x === undefined || z === undefined) return this.#ink("circle", 0.15);
    const flags = z >>> 24;
    if (!(flags & HAS_UV)) return null;
    const shell = z & 0xffffff;
    const anisotropy = half(x & 0xffff);
    const octaves = half(x >>> 16);
    const dim = this.#selected.size > 0 && !this.#selected.has(shell) && !this.#partner.has(shell);
    const alpha = dim ? 0.2 : 0.8;
    const value = this.#lens === "size" ? octaves : anisotropy;
    if (value < this.#isolate[0] || value > this.#isolate[1]) return this.#ink("circle", 0.06);
    switch (this.#lens) {
      case "stretch":
        return this.#scaled("stretch", anisotropy, alpha);
      case "size":
        return this.#scaled("size", octaves, alpha);
      case "handedness":
        return this.#kind(flags & FOLDED ? "hatch" : flags & TURNED_OVER ? "bars" : "", alpha);
      case "sharing":
        return this.#kind(flags & CROSSING ? "bricks" : flags & MIRRORED ? "chevrons" : flags & STACKED ? "dots" : "", alpha);
      default:
        if (!this.#flags) return this.#kind("", alpha);
        return this.#kind(flags & FOLDED ? "hatch" : flags & TURNED_OVER ? "bars" : flags & OVER_STRETCH ? "strokes" : flags & MIRRORED ? "chevrons" : "", alpha);
    }
  }

  /**
   * @param {string} pattern empty for nothing to say
   * @param {number} alpha
   */
  #kind(pattern, alpha) {
    const colour = this.#kinds.get(pattern);
    return colour ? `rgb(${colour.join(" ")} / ${alpha})` : this.#ink("circle", 0.22 * alpha);
  }

  /**
   * @param {"stretch" | "size"} lens
   * @param {number} value
   * @param {number} alpha
   */
  #scaled(lens, value, alpha) {
    let scale = this.#scales.get(lens);
    if (!scale) {
      scale = { colours: this.#engine.lens_scale(lens), place: placesOnScale(this.#engine, lens) };
      this.#scales.set(lens, scale);
    }
    const { colours } = scale;
    // 64 steps of colour, so that triangles of like colour can be filled together.
    const step = Math.round(scale.place(value) * 63) * 4;
    return `rgb(${colours[step * 3]} ${colours[step * 3 + 1]} ${colours[step * 3 + 2]} / ${alpha})`;
  }

  /**
   * @param {number} from
   * @param {number} to
   */
  #outline(from, to) {
    const lines = this.#lines;
    if (!lines) return;
    const pen = this.#pen;
    const plain = new Path2D();
    const chosen = new Path2D();
    for (let segment = from; segment < to; segment += 1) {
      const [u0, v0, u1, v1] = /** @type {[number, number, number, number]} */ (/** @type {unknown} */ (lines.sheet.subarray(segment * 4, segment * 4 + 4)));
      const path = this.#selected.has(lines.sheet_shell[segment] ?? -1) ? chosen : plain;
      path.moveTo(...this.#at(u0, v0));
      path.lineTo(...this.#at(u1, v1));
    }
    pen.lineWidth = 1;
    pen.strokeStyle = this.#ink("quill", 0.8);
    pen.stroke(plain);
    pen.lineWidth = 3;
    pen.strokeStyle = this.#ink("accent");
    pen.stroke(chosen);
  }
}
