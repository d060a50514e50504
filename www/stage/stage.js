/**
 * The canvas: what draws on it, when, and its input. One canvas shows model and sheet; two
 * surfaces over it take the input, and which of them is the model depends on `swapped`.
 *
 * Drawing is on demand, from one scheduler: every change calls `wake()`. The cameras are here, so that pointers, pins and scale
 * bar respond at once; the painter is elsewhere (stage/canvas.js), and gets all changes of a task at once.
 *
 * The canvas's size is read in a separate task, after one for the styles, so that no task waits for both. A flight to a
 * finding starts once the view knows the new legend, which changes the free area: otherwise the same finding would be shown
 * from another distance the second time.
 *
 * @import {Canvas} from "./canvas.js"
 * @import {Face} from "./hands.js"
 * @import {Brief, Decoded, Engine, FromPainting, MeshBuffers, ProbeMessage, Scene, Shown, View} from "../core/messages.js"
 * @import {Model, State, Store} from "../core/state.js"
 */

import { pixelRatio } from "./canvas.js";
import { byId, calm } from "../base/dom.js";
import { Hands } from "./hands.js";
import { Orders } from "./orders.js";
import { problemOf } from "../core/problems.js";
import { partnersOf } from "./partners.js";
import { reachOf } from "./reach.js";
import { coversOf, mayCover, rectangleOf } from "./room.js";
import { DrawnSheet } from "./sheet2d.js";
import { Views } from "./views.js";
import { tilesOf } from "../core/state.js";
import { onThemeChange, themeColours } from "../base/theme.js";

/** Duration of the move that makes room for a card, ms. */
const ROOM_MS = 240;

/**
 * @typedef {object} Asker
 * @property {(order: ProbeMessage) => void} hover
 * @property {(order: ProbeMessage) => void} choose
 * @property {(order: ProbeMessage) => void} mark
 * @property {() => void} moved the model was rotated, moved or zoomed
 * @property {() => void} leave
 * @property {() => number | null} aside id of the version that is not on screen
 */

export class Stage {
  /** @type {Store} */
  #store;
  /** @type {Asker} */
  #asker;
  /** @type {View} */
  #view;
  #views;
  #area = byId("area", HTMLElement);
  #canvas;
  /** The drawn sheet without WebGL2; null with it, and until it is known. @type {DrawnSheet | null} */
  #drawn = null;
  /** Carry the store's changes to the view and to what draws. @type {[(keyof State)[], (state: State) => void][]} */
  #links = [
    [["job", "judging"], ({ job, judging }) => this.#setMeasuring(job !== null || judging !== "")],
    [["model"], (state) => this.#setModel(state)],
    [
      ["grid"],
      ({ grid }) => {
        this.#view.set_map(grid.width, grid.height);
        this.#tell("set_grid", grid.width, grid.height, grid.cell, grid.words, grid.wordsPx);
      },
    ],
    [
      ["brief", "model"],
      (state) => {
        this.#tell("set_tiles", Uint32Array.from(tilesOf(state)));
        this.#view.set_region(...reachOf(state).fit);
      },
    ],
    [["lens"], ({ lens }) => this.#tell("set_lens", lens)],
    [["flags"], ({ flags }) => this.#tell("set_flags", flags)],
    [["leaning"], ({ leaning }) => this.#tell("set_leaning", leaning)],
    [["isolate"], ({ isolate }) => this.#tell("set_isolate", isolate?.[0] ?? NaN, isolate?.[1] ?? NaN)],
    [
      ["chosen", "lens", "model"],
      (state) => {
        this.#tell("set_selected", Uint32Array.from(state.chosen));
        this.#tell("set_partner", Uint32Array.from(partnersOf(state)));
      },
    ],
    [
      ["under"],
      ({ under }) => {
        const [x = NaN, y = NaN, z = NaN] = under?.point ?? [];
        this.#view.set_under(x, y, z);
        this.#tell("set_hover", under?.triangle ?? -1, x, y, z, under?.u ?? 0, under?.v ?? 0);
      },
    ],
    [["up"], ({ up }) => this.#view.set_up(up)],
  ];
  #large = byId("surface-large", HTMLElement);
  #small = byId("surface-small", HTMLElement);
  #hands;
  #wanted = 0;
  /** Sends orders to the painter at the end of this task. */
  #telling = 0;
  #orders;
  #ratio = 1;
  /** Whether a model is being read or measured. */
  #measuring = false;
  /** Whether the page's layout has changed since the view was updated. */
  #unlaid = false;
  /** Whether the performance mark of the first grid is set. */
  #marked = false;
  /** @type {(() => void)[]} */
  #afterFrame = [];
  /** What the Picture lens shows, and the files of its pictures. @type {Scene["pictures"]} */
  #pictures = { looks: [], ground: -1, files: [] };
  /** @type {() => void} */
  #restored = () => {};
  /** The one on screen. @type {Model | null} */
  #shown = null;

  /**
   * @param {Engine} engine
   * @param {Canvas} canvas
   * @param {Store} store
   * @param {Asker} asker
   */
  constructor(engine, canvas, store, asker) {
    this.#store = store;
    this.#asker = asker;
    this.#canvas = canvas;
    this.#orders = new Orders(canvas);
    this.#view = new engine.View();
    this.#views = new Views(this, store);
    canvas.listen((message) => this.#hear(message));
    void canvas.hasContext.then((has) => {
      if (has) this.#restored();
      else this.#flatten(engine);
    });
    const dress = () => this.#tell("set_theme", themeColours());
    dress();
    onThemeChange(dress);
    this.#hands = new Hands(this, asker, { large: this.#large, small: this.#small });
    this.#follow();
    const resized = new ResizeObserver(() => this.layout());
    for (const element of [this.#area, this.#small, ...mayCover()]) resized.observe(element);
  }

  /** Without WebGL2: only the sheet is drawn, starting with the current state. @param {Engine} engine */
  #flatten(engine) {
    this.#drawn = new DrawnSheet(this.#canvas.element, engine);
    this.#view = this.#drawn;
    this.#orders = new Orders(this.#canvas);
    this.#shown = null;
    this.#store.set({ graphics: "none" });
    this.#tell("set_theme", themeColours());
    for (const [, tell] of this.#links) this.#catch(() => tell(this.#store.state));
    this.#restored();
    this.layout();
  }

  /** Whether only the sheet can be drawn. */
  get isFlat() {
    return this.#store.state.graphics === "none";
  }

  /** Whether a frame is due, or being drawn. */
  get drawing() {
    return this.#wanted !== 0 || this.#telling !== 0 || (this.#store.state.graphics === "gl" && this.#orders.areOpen);
  }

  /** Frames drawn so far. */
  get frames() {
    return this.#drawn?.frames_drawn() ?? this.#orders.frames;
  }

  /**
   * Sets the Picture lens for the model on screen.
   * @param {Scene["pictures"]} pictures
   */
  setLooks(pictures) {
    this.#pictures = pictures;
    this.#tell("set_looks", pictures.looks, pictures.ground);
  }

  /**
   * @param {number} number
   * @param {Decoded} picture whose pixels go to the painter
   */
  setPicture(number, { width, height, pixels }) {
    if (!this.#drawn) this.#orders.give(pixels instanceof Uint8Array ? pixels.buffer : pixels);
    this.#tell("set_picture", number, width, height, pixels);
  }

  /** @param {() => void} heard called when the graphics context is created or restored, without pictures */
  onRestored(heard) {
    this.#restored = heard;
  }

  /** Longest side that a picture may have, px; 0 before that is known. */
  get mostPicturePx() {
    return this.#drawn?.most_picture_px() ?? this.#canvas.mostPicturePx;
  }

  get view() {
    return this.#view;
  }

  /** Input on both. */
  get hands() {
    return this.#hands;
  }

  /** The views of model and sheet. */
  get views() {
    return this.#views;
  }

  /** CSS px to device px. */
  get ratio() {
    return this.#ratio;
  }

  /** What the large surface shows. @returns {Face} */
  get largeFace() {
    return this.isFlat || this.#store.state.swapped ? "sheet" : "model";
  }

  /** The surface that takes input for the sheet. */
  get sheetSurface() {
    return this.largeFace === "sheet" ? this.#large : this.#small;
  }

  /** @param {() => void} heard called after each frame */
  onFrame(heard) {
    this.#afterFrame.push(heard);
  }

  /** Requests a frame. */
  wake() {
    if (this.#wanted === 0) this.#wanted = requestAnimationFrame(() => this.#frame());
    if (this.#telling === 0) this.#telling = setTimeout(() => this.#catch(() => this.#send()), 0);
  }

  /**
   * Changes what is shown.
   * @template {keyof Shown} Name
   * @param {Name} name
   * @param {Parameters<Shown[Name]>} values
   */
  #tell(name, ...values) {
    if (this.#drawn) /** @type {(...values: Parameters<Shown[Name]>) => void} */ (this.#drawn[name]).apply(this.#drawn, values);
    else this.#orders.add(name, ...values);
    this.wake();
  }

  /** Sends orders and the current view to the painter now: frames are rare while the browser draws the page. */
  #send() {
    clearTimeout(this.#telling);
    this.#telling = 0;
    this.#settle();
    if (!this.#drawn) this.#orders.send(this.#view.sight(performance.now()));
  }

  /** @param {FromPainting} message */
  #hear(message) {
    switch (message.type) {
      case "drawn": {
        if (this.#orders.heard(message) && this.#store.state.problem?.code === "graphics") this.#store.set({ problem: null });
        this.#canvas.element.classList.toggle("is-drawn", message.frames > 0);
        if (message.hasGrid) this.#mark();
        return;
      }
      case "lost":
        this.#store.set({ graphics: "lost" });
        return;
      case "restored":
        this.#store.set({ graphics: "gl" });
        this.#restored();
        this.layout();
        return;
      case "failed":
        this.#failed(new Error(message.message));
    }
  }

  /** For tests: loses or restores the graphics context. @param {"lose_context" | "restore_context"} what */
  disturb(what) {
    this.#tell(what);
  }

  /** Sets the performance mark of the first grid. */
  #mark() {
    if (this.#marked) return;
    this.#marked = true;
    performance.mark("gridproof-grid");
  }

  /**
   * Replaces the model by another version and keeps both views.
   * @param {() => void} change does it in the store
   * @param {boolean} byBox whether the versions are aligned by their boxes instead of the file's coordinates
   */
  holding(change, byBox) {
    const { eye, target, ...rest } = this.#view.camera();
    const before = this.#store.state.model?.mesh;
    this.#views.hold(change);
    const { model, isolate } = this.#store.state;
    this.#tell("set_isolate", isolate?.[0] ?? NaN, isolate?.[1] ?? NaN);
    // Panning the sheet by zero keeps it from being fitted again.
    this.#view.sheet_pan(0, 0);
    if (!before || !model || !eye || !target) return;
    const { centre, radius } = model.mesh;
    const scale = byBox ? radius / before.radius : 1;
    const moved = (/** @type {number[]} */ place) => place.map((value, axis) => value * scale + (byBox ? 0 : (before.centre[axis] ?? 0) - (centre[axis] ?? 0)));
    this.#view.set_camera({ ...rest, eye: moved(eye), target: moved(target) });
  }

  /** The size of the large surface, device px: the default of a saved picture. */
  pictureSize() {
    const box = this.#large.getBoundingClientRect();
    return { width: Math.max(1, Math.round(box.width * this.#ratio)), height: Math.max(1, Math.round(box.height * this.#ratio)) };
  }

  /**
   * The scene of a picture of this size with the current view; none if only the sheet can be drawn. A picture of another
   * aspect ratio shows more, never less.
   * @param {number} width
   * @param {number} height
   * @returns {{ratio: number, scene: Scene | null}}
   */
  scene(width, height) {
    const { state } = this.#store;
    const stage = (state.swapped ? this.#small : this.#large).getBoundingClientRect();
    const ratio = Math.max(width / Math.max(stage.width, 1), 0.5);
    if (this.isFlat) return { ratio, scene: null };
    const camera = /** @type {{eye: number[], target: number[]}} */ (this.#view.camera());
    const farther = Math.max(1, stage.width / Math.max(stage.height, 1) / (width / height));
    const eye = camera.eye.map((at, axis) => (camera.target[axis] ?? 0) + (at - (camera.target[axis] ?? 0)) * farther);
    return {
      ratio,
      scene: {
        camera: { ...camera, eye },
        up: state.up,
        theme: themeColours(),
        grid: state.grid,
        tiles: tilesOf(state),
        leaning: state.leaning,
        isolate: state.isolate,
        partners: partnersOf(state),
        pictures: this.#pictures,
      },
    };
  }

  /** Requests that the canvas follows the page's layout with the next frame. */
  layout() {
    this.#unlaid = true;
    this.wake();
  }

  /** Runs what waited for the page's layout. */
  #settle() {
    if (this.#unlaid) this.#lay();
    this.#views.settle();
  }

  /** Measures the page and updates the positions of model and sheet in the view. */
  #lay() {
    this.#unlaid = false;
    const area = this.#area.getBoundingClientRect();
    this.#ratio = pixelRatio();
    const width = Math.max(1, Math.round(area.width * this.#ratio));
    const height = Math.max(1, Math.round(area.height * this.#ratio));
    const large = rectangleOf(this.#large, area, this.#ratio);
    const small = this.#small.offsetParent ? rectangleOf(this.#small, area, this.#ratio) : null;
    const { swapped } = this.#store.state;
    if (this.isFlat) this.#view.set_layout(width, height, this.#ratio, new Float64Array(4), large);
    else if (swapped && small) this.#view.set_layout(width, height, this.#ratio, small, large);
    else this.#view.set_layout(width, height, this.#ratio, large, small);
    const covers = coversOf(area, this.#ratio, this.#store.state.drawer);
    this.#view.set_covers(covers, calm() || this.#store.state.job ? 0 : ROOM_MS, performance.now());
    this.#views.laid([width, height, ...covers].join());
    this.wake();
  }

  #frame() {
    this.#wanted = 0;
    if (this.#store.state.graphics === "lost") return;
    this.#catch(() => {
      this.#send();
      if (this.#drawn ? this.#drawn.frame() : this.#view.is_flying()) this.wake();
      if (this.#drawn && this.#store.state.problem?.code === "graphics") this.#store.set({ problem: null });
      if (this.#drawn) this.#canvas.element.classList.add("is-drawn");
      for (const heard of this.#afterFrame) heard();
    });
  }

  /** @param {() => void} act */
  #catch(act) {
    try {
      act();
    } catch (error) {
      this.#failed(error);
    }
  }

  /** @param {unknown} error */
  #failed(error) {
    const message = error instanceof Error ? error.message : String(error);
    this.#store.set({ problem: problemOf({ code: "graphics", message, line: null }, this.#store.state.model?.name ?? "") });
  }

  /** Carries the store's changes to the view. */
  #follow() {
    const store = this.#store;
    for (const [keys, tell] of this.#links) {
      store.watch(keys, (state) => {
        this.#catch(() => tell(state));
        this.wake();
      });
    }
    store.watch(["swapped", "beside", "large", "model", "graphics", "drawer"], () => queueMicrotask(() => this.layout()));
    this.#views.follow();
  }

  /** @param {boolean} on */
  #setMeasuring(on) {
    if (on === this.#measuring) return;
    this.#measuring = on;
    this.#tell("set_measuring", on);
  }

  /** @param {State} state */
  #setModel({ model }) {
    const isOther = model?.id !== this.#shown?.id;
    const isChanged = !isOther && model?.revision !== this.#shown?.revision;
    if (isOther) this.#view.set_extent(model?.mesh ?? null);
    else if (model && isChanged) this.#view.set_bounds_uv(...model.mesh.bounds_uv);
    this.#shown = model;
    if (this.#drawn) {
      if (isOther && model) this.#drawn.set_model(model.mesh);
      else if (isChanged && model) this.#drawn.set_uvs(model.mesh.uv);
      if (!model) this.#drawn.clear_model();
      else {
        this.#drawn.set_triangles(model.triangles);
        this.#drawn.set_lines(model.lines);
      }
      return;
    }
    if (model) this.#orders.bring(model);
    if (isOther) {
      this.#orders.show(model?.id ?? null);
      this.tidy();
    }
  }

  /** Releases models in the painter that are neither on screen nor set aside. */
  tidy() {
    this.#orders.keep([this.#shown?.id ?? null, this.#asker.aside()]);
    this.wake();
  }
}
