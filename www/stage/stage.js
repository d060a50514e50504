/**
 * The canvas: who draws on it, when, and what pointers and keys on it do. One canvas shows model and sheet; two
 * surfaces over it take the input, and which of them is the model depends on `swapped`.
 *
 * Drawing is on demand, from one scheduler: whatever changes something calls `wake()`. The cameras are here, so that pointers,
 * pins and scale bar are answered at once; what draws by them is elsewhere (stage/canvas.js), and is told all changes of a turn
 * at once.
 *
 * The canvas's size is asked in a turn of its own, after one for the styles, so that no task waits for both. A flight to a
 * finding starts once the view knows of the new legend, which changes the room there is: otherwise the same finding would
 * be seen from nearer or farther the second time.
 *
 * @import {Canvas} from "./canvas.js"
 * @import {Brief, Decoded, Engine, Finding, FromPainting, MeshBuffers, ProbeMessage, Scene, Shown, View} from "../core/messages.js"
 * @import {Eye} from "../core/review.js"
 * @import {State, Store} from "../core/state.js"
 */

import { pixelRatio } from "./canvas.js";
import { byId, calm } from "../base/dom.js";
import { listen } from "./gestures.js";
import { Orders } from "./orders.js";
import { problemOf } from "../core/problems.js";
import { reachOf } from "./reach.js";
import { DrawnSheet } from "./sheet2d.js";
import { chosenFinding, tilesOf } from "../core/state.js";
import { onThemeChange, themeColours } from "../base/theme.js";

/** How long the camera flies to a finding, ms: long enough to see from where. */
const FLIGHT_MS = 650;
/** How long it takes to make room for a card, ms. */
const ROOM_MS = 240;
/** What lies over the canvas and the model should be seen beside, as selectors. */
const COVERS = "#lenses, .tools, #legend, #scale, #sheet, #graphics, #grid, #brief, #note, #compare, #versions";
/** Room left around it, CSS px. */
const COVER_GAP = 8;
/** Digits of a view that is kept: more than a screen shows. */
const EYE_DIGITS = 9;
/** Half of what is shown around a spot of the sheet, CSS px at its present scale. */
const SPOT_PX = 60;
/** Spots a side that are tried in a finding's region of the sheet. */
const SPOT_STEPS = 9;
/** One press of an arrow key, as CSS px of dragging. */
const KEY_STEP_PX = 24;
/** One press of + or -. */
const KEY_ZOOM = 1.2;

/** @typedef {"model" | "sheet"} Face */

/**
 * @typedef {object} Asker
 * @property {(order: ProbeMessage) => void} hover
 * @property {(order: ProbeMessage) => void} choose
 * @property {(order: ProbeMessage) => void} mark
 * @property {() => void} moved the model was turned, moved or zoomed
 * @property {() => void} leave
 * @property {() => MeshBuffers | null} aside a model that may soon be on screen again
 */

export class Stage {
  /** @type {Store} */
  #store;
  /** @type {Asker} */
  #asker;
  /** @type {View} */
  #view;
  #area = byId("area", HTMLElement);
  #canvas;
  /** What is drawn without WebGL2; null with it, and until it is known. @type {DrawnSheet | null} */
  #drawn = null;
  /** Carry the store's changes to the view and to what draws. @type {[(keyof State)[], (state: State) => void][]} */
  #links = [
    [["job", "judging"], ({ job, judging }) => this.#setMeasuring(job !== null || judging !== "")],
    [["model"], (state) => this.#setModel(state)],
    [["brief", "model"], ({ brief }) => this.#tell("set_limits", limitsOf(brief))],
    [["grid"], ({ grid }) => {
      this.#view.set_map(grid.width, grid.height);
      this.#tell("set_grid", grid.width, grid.height, grid.cell, grid.words, grid.wordsPx);
    }],
    [["brief", "model"], (state) => {
      this.#tell("set_tiles", Uint32Array.from(tilesOf(state)));
      this.#view.set_region(...reachOf(state).fit);
    }],
    [["lens"], ({ lens }) => this.#tell("set_lens", lens)],
    [["flags"], ({ flags }) => this.#tell("set_flags", flags)],
    [["leaning"], ({ leaning }) => this.#tell("set_leaning", leaning)],
    [["isolate"], ({ isolate }) => this.#tell("set_isolate", isolate?.[0] ?? NaN, isolate?.[1] ?? NaN)],
    [["chosen", "lens", "model"], (state) => {
      this.#tell("set_selected", Uint32Array.from(state.chosen));
      this.#tell("set_partner", Uint32Array.from(partnersOf(state)));
    }],
    [["under"], ({ under }) => {
      const [x = NaN, y = NaN, z = NaN] = under?.point ?? [];
      this.#view.set_under(x, y, z);
      this.#tell("set_hover", under?.triangle ?? -1, x, y, z, under?.u ?? 0, under?.v ?? 0);
    }],
    [["up"], ({ up }) => this.#view.set_up(up)],
  ];
  #large = byId("surface-large", HTMLElement);
  #small = byId("surface-small", HTMLElement);
  #cross = byId("cross", HTMLElement);
  #wanted = 0;
  /** Tells the painter what there is, once everything of this turn is known. */
  #telling = 0;
  #orders;
  #ratio = 1;
  /** Whether a model is being read or measured. */
  #measuring = false;
  /** Whether the page's layout has changed since the view was told of it. */
  #unlaid = false;
  /** Whether another version takes the model's place, and the views stay. */
  #holds = false;
  /** What waits until the view knows the page's layout. @type {(() => void) | null} */
  #next = null;
  /** Shows the chosen place again where there is other room; null once somebody looked elsewhere. @type {(() => void) | null} */
  #again = null;
  /** Size and covers that the view knows. */
  #laid = "";
  /** Whether the first grid has been noted among the browser's marks. */
  #marked = false;
  /** @type {(() => void)[]} */
  #afterFrame = [];
  /** What the Picture lens shows, and the files of its pictures. @type {Scene["pictures"]} */
  #pictures = { looks: [], ground: -1, files: [] };
  /** @type {() => void} */
  #restored = () => {};
  /** The one on screen. @type {MeshBuffers | null} */
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
    canvas.listen((message) => this.#hear(message));
    void canvas.hasContext.then((has) => {
      if (has) this.#restored();
      else this.#flatten(engine);
    });
    const dress = () => this.#tell("set_theme", themeColours());
    dress();
    onThemeChange(dress);
    this.#listenTo(this.#large, () => (this.#flat || store.state.swapped ? "sheet" : "model"));
    this.#listenTo(this.#small, () => (store.state.swapped ? "model" : "sheet"));
    this.#follow();
    const resized = new ResizeObserver(() => this.layout());
    for (const element of [this.#area, this.#small, ...document.querySelectorAll(COVERS)]) resized.observe(element);
  }

  /** There is no WebGL2: the sheet alone is drawn, beginning with what is shown now. @param {Engine} engine */
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
  get #flat() {
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
   * What the Picture lens shows of the model on screen from now on.
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

  /** @param {() => void} heard called when the graphics are there, or back, and have no pictures */
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

  /** CSS px to device px. */
  get ratio() {
    return this.#ratio;
  }

  /** What takes the input of the sheet. */
  get sheetSurface() {
    return this.#flat || this.#store.state.swapped ? this.#large : this.#small;
  }

  /** @param {() => void} heard called after each frame */
  onFrame(heard) {
    this.#afterFrame.push(heard);
  }

  /** Asks for a frame. */
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

  /** Has the painter do what it was told, as seen from here and now: frames are rare while the browser draws the page. */
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

  /** For tests: has the browser take the graphics context away, or give it back. @param {"lose_context" | "restore_context"} what */
  disturb(what) {
    this.#tell(what);
  }

  /** Notes the first grid among the browser's marks. */
  #mark() {
    if (this.#marked) return;
    this.#marked = true;
    performance.mark("gridproof-grid");
  }

  /** Fits the model, or the sheet, whichever has the large place. */
  fit() {
    if (this.#flat || this.#store.state.swapped) {
      this.#view.sheet_fit();
    } else {
      this.#view.fit();
      this.#store.set({ camera: null });
    }
    this.#again = null;
    this.wake();
  }

  /** Fits the sheet, wherever it is. */
  fitSheet() {
    this.#next = this.#again = null;
    this.#view.sheet_fit();
    this.wake();
  }

  /** @param {[number, number, number, number]} region of the sheet to fly to: lowest and highest u and v */
  showRegion(region) {
    this.#whenLaid(() => this.#view.sheet_show(...region, ...this.#flight()));
  }

  /** @param {number} factor above 1 comes closer */
  zoom(factor) {
    const box = this.#large.getBoundingClientRect();
    this.#zoom(this.#flat || this.#store.state.swapped ? "sheet" : "model", factor, box.x + box.width / 2, box.y + box.height / 2);
  }

  /** @param {Pick<Finding, "camera" | "region_uv">} place */
  show({ camera, region_uv }) {
    const act = () => {
      if (camera) this.#fly(camera);
      if (region_uv) this.#view.sheet_show(...region_uv, ...this.#flight());
    };
    this.#whenLaid(act);
    this.#again = act;
  }

  /**
   * Does something that goes by the room there is, once that is known; a later one takes its place.
   * @param {() => void} act
   */
  #whenLaid(act) {
    this.#next = act;
    this.#again = null;
    this.layout();
  }

  /**
   * Flies to a view that is in the file's coordinates.
   * @param {{eye: number[], target: number[], radius: number, across?: number[]}} view
   */
  #fly({ eye, target, radius, across }) {
    const centre = this.#store.state.model?.mesh.centre ?? [0, 0, 0];
    const moved = (/** @type {number[]} */ place) => place.map((value, axis) => value - (centre[axis] ?? 0));
    this.#view.fly_to({ eye: moved(eye), target: moved(target), radius, ...(across ? { across } : {}) }, ...this.#flight());
  }

  /** Flies to where all of the model is seen. */
  flyHome() {
    this.#whenLaid(() => this.#view.fly_fit(...this.#flight()));
  }

  /** @param {Eye | null} view @param {readonly [number, number] | null} [uv] a spot of the sheet, to be seen too */
  fly(view, uv = null) {
    this.#whenLaid(() => {
      if (view) this.#fly(view);
      if (!uv) return;
      const [u0 = 0, v0 = 0] = this.#view.uv_at(0, 0);
      const [u1 = 0, v1 = 0] = this.#view.uv_at(SPOT_PX * this.#ratio, SPOT_PX * this.#ratio);
      // As near as the sheet is looked at now.
      const [du, dv] = [Math.abs(u1 - u0), Math.abs(v1 - v0)];
      this.#view.sheet_show(uv[0] - du, uv[1] - dv, uv[0] + du, uv[1] + dv, ...this.#flight());
    });
  }

  /**
   * Puts another version in the model's place: stage and sheet are looked at from where they were.
   * @param {() => void} change does it in the store
   * @param {boolean} byBox whether the versions are laid over one another by their boxes, not by the file's coordinates
   */
  holding(change, byBox) {
    const { eye, target, ...rest } = this.#view.camera();
    const before = this.#store.state.model?.mesh;
    this.#next = this.#again = null;
    this.#holds = true;
    try {
      change();
    } finally {
      this.#holds = false;
    }
    const { model, isolate } = this.#store.state;
    this.#tell("set_isolate", isolate?.[0] ?? NaN, isolate?.[1] ?? NaN);
    // Whoever moves the sheet by nothing keeps it from being fitted to what is new.
    this.#view.sheet_pan(0, 0);
    if (!before || !model || !eye || !target) return;
    const { centre, radius } = model.mesh;
    const scale = byBox ? radius / before.radius : 1;
    const moved = (/** @type {number[]} */ place) => place.map((value, axis) => value * scale + (byBox ? 0 : (before.centre[axis] ?? 0) - (centre[axis] ?? 0)));
    this.#view.set_camera({ ...rest, eye: moved(eye), target: moved(target) });
  }

  /** How long a flight takes, and from when. @returns {[number, number]} */
  #flight() {
    return [calm() ? 0 : FLIGHT_MS, performance.now()];
  }

  /** Where the model is looked at from, in the file's coordinates; null where only the sheet is drawn. @returns {Eye | null} */
  eye() {
    const { state } = this.#store;
    const radius = this.#view.seen_radius();
    if (this.#flat || !(radius > 0)) return null;
    const { eye, target } = /** @type {{eye: number[], target: number[]}} */ (this.#view.camera());
    const centre = state.model?.mesh.centre ?? [0, 0, 0];
    const rounded = (/** @type {number} */ value) => Number(value.toPrecision(EYE_DIGITS));
    const moved = (/** @type {number[]} */ place) => /** @type {[number, number, number]} */ (place.map((value, axis) => rounded(value + (centre[axis] ?? 0))));
    const [width = 0, height = 0] = this.#view.seen_across();
    return { eye: moved(eye), target: moved(target), radius: rounded(radius), up: state.up, ...(width > 0 && height > 0 ? { across: [rounded(width), rounded(height)] } : {}) };
  }

  /** What is under the cross, to be probed; null where no cross is shown. @returns {ProbeMessage | null} */
  crossed() {
    if (this.#cross.hidden) return null;
    const box = this.#large.getBoundingClientRect();
    return this.#probeAt(this.#flat || this.#store.state.swapped ? "sheet" : "model", box.x + box.width / 2, box.y + box.height / 2);
  }

  /**
   * Spots where a finding may be, the likeliest first, to be probed until one is on its shells: where its view looks at, then
   * its region of the sheet from the middle outwards.
   * @param {Finding} finding
   * @returns {ProbeMessage[]}
   */
  spotsOf({ camera, region_uv }) {
    const centre = this.#store.state.model?.mesh.centre ?? [0, 0, 0];
    /** @type {ProbeMessage[]} */
    const spots = [];
    if (camera) {
      const eye = camera.eye.map((value, axis) => value - (centre[axis] ?? 0));
      const away = camera.target.map((value, axis) => value - (camera.eye[axis] ?? 0));
      spots.push({ type: "probe", ray: [...eye, ...away.map((value) => value / Math.hypot(...away))] });
    }
    if (!region_uv) return spots;
    const [u0, v0, u1, v1] = region_uv;
    const steps = Array.from({ length: SPOT_STEPS }, (_, at) => (at + 0.5) / SPOT_STEPS);
    const shares = steps.flatMap((u) => steps.map((v) => [u, v])).sort(([a = 0, b = 0], [c = 0, d = 0]) => Math.hypot(a - 0.5, b - 0.5) - Math.hypot(c - 0.5, d - 0.5));
    return [...spots, ...shares.map(([u = 0, v = 0]) => /** @type {ProbeMessage} */ ({ type: "probe", uv: [u0 + u * (u1 - u0), v0 + v * (v1 - v0)] }))];
  }

  /**
   * Where points of the file are seen, CSS px of the window: x and y of each.
   * @param {readonly number[]} points
   */
  seen(points) {
    const centre = this.#store.state.model?.mesh.centre ?? [0, 0, 0];
    const area = this.#area.getBoundingClientRect();
    const seen = this.#view.seen_at(Float64Array.from(points, (value, at) => value - (centre[at % 3] ?? 0)));
    return Array.from(seen, (value, at) => value / this.#ratio + (at % 2 ? area.y : area.x));
  }

  /** The size of the large place, device px: what a picture of the stage has unless somebody wishes otherwise. */
  pictureSize() {
    const box = this.#large.getBoundingClientRect();
    return { width: Math.max(1, Math.round(box.width * this.#ratio)), height: Math.max(1, Math.round(box.height * this.#ratio)) };
  }

  /**
   * What a picture of this size shows to be as the stage is now; no scene where only the sheet can be drawn. A picture of
   * another shape shows more, never less.
   * @param {number} width
   * @param {number} height
   * @returns {{ratio: number, scene: Scene | null}}
   */
  scene(width, height) {
    const { state } = this.#store;
    const stage = (state.swapped ? this.#small : this.#large).getBoundingClientRect();
    const ratio = Math.max(width / Math.max(stage.width, 1), 0.5);
    if (this.#flat) return { ratio, scene: null };
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
        limits: limitsOf(state.brief),
        leaning: state.leaning,
        isolate: state.isolate,
        partners: partnersOf(state),
        pictures: this.#pictures,
      },
    };
  }

  /** Asks for the canvas to follow the page's layout with the next frame. */
  layout() {
    this.#unlaid = true;
    this.wake();
  }

  /** Does what waited for the page's layout to be known. */
  #settle() {
    if (this.#unlaid) this.#lay();
    this.#next?.();
    this.#next = null;
  }

  /** Measures the page and tells the view where model and sheet are. */
  #lay() {
    this.#unlaid = false;
    const area = this.#area.getBoundingClientRect();
    this.#ratio = pixelRatio();
    const width = Math.max(1, Math.round(area.width * this.#ratio));
    const height = Math.max(1, Math.round(area.height * this.#ratio));
    const large = this.#rectangle(this.#large, area);
    const small = this.#small.offsetParent ? this.#rectangle(this.#small, area) : null;
    const { swapped } = this.#store.state;
    if (this.#flat) this.#view.set_layout(width, height, this.#ratio, new Float64Array(4), large);
    else if (swapped && small) this.#view.set_layout(width, height, this.#ratio, small, large);
    else this.#view.set_layout(width, height, this.#ratio, large, small);
    const covers = this.#covers(area);
    this.#view.set_covers(covers, calm() || this.#store.state.job ? 0 : ROOM_MS, performance.now());
    const laid = [width, height, ...covers].join();
    if (laid !== this.#laid) this.#next ??= this.#again;
    this.#laid = laid;
    this.wake();
  }

  /**
   * Left, top, right and bottom of each card over the canvas, device px.
   * @param {DOMRect} area
   */
  #covers(area) {
    const boxes = [...document.querySelectorAll(COVERS)].filter((element) => element.getClientRects().length > 0).map((element) => element.getBoundingClientRect());
    const { drawer } = this.#store.state;
    // The drawer glides; what counts is where it comes to rest.
    if (drawer > 0) boxes.push(new DOMRect(area.x, innerHeight * (1 - drawer), area.width, innerHeight * drawer));
    return Float64Array.from(
      boxes.flatMap(({ left, top, right, bottom }) => [left - area.x - COVER_GAP, top - area.y - COVER_GAP, right - area.x + COVER_GAP, bottom - area.y + COVER_GAP]),
      (value) => Math.round(value * this.#ratio),
    );
  }

  /**
   * @param {HTMLElement} element
   * @param {DOMRect} area
   */
  #rectangle(element, area) {
    const box = element.getBoundingClientRect();
    return Float64Array.from(
      [box.x - area.x, box.y - area.y, box.width, box.height],
      (value) => Math.round(value * this.#ratio),
    );
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

  /**
   * @param {HTMLElement} surface
   * @param {() => Face} face
   */
  #listenTo(surface, face) {
    listen(surface, {
      drag: (dx, dy, second) => this.#drag(face(), dx, dy, second),
      zoom: (factor, x, y) => this.#zoom(face(), factor, x, y),
      tap: (x, y) => this.#asker.choose(this.#probeAt(face(), x, y)),
      mark: (x, y) => this.#asker.mark(this.#probeAt(face(), x, y)),
      hover: (x, y) => this.#asker.hover(this.#probeAt(face(), x, y)),
      leave: () => this.#asker.leave(),
    });
    surface.addEventListener("keydown", (event) => {
      if (this.#press(face(), event, surface)) {
        this.#cross.hidden = surface !== this.#large;
        event.preventDefault();
        event.stopPropagation();
      }
    });
    surface.addEventListener("focus", () => (this.#cross.hidden = surface !== this.#large || !surface.matches(":focus-visible")));
    surface.addEventListener("blur", () => (this.#cross.hidden = true));
    surface.addEventListener("pointerdown", () => (this.#cross.hidden = true));
  }

  /**
   * @param {Face} face
   * @param {KeyboardEvent} event
   * @param {HTMLElement} surface
   * @returns {boolean} whether the key meant something here
   */
  #press(face, event, surface) {
    if (event.ctrlKey || event.metaKey || event.altKey) return false;
    const box = surface.getBoundingClientRect();
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    const steps = /** @type {Record<string, [number, number]>} */ ({
      ArrowLeft: [-KEY_STEP_PX, 0],
      ArrowRight: [KEY_STEP_PX, 0],
      ArrowUp: [0, -KEY_STEP_PX],
      ArrowDown: [0, KEY_STEP_PX],
    });
    const step = steps[event.key];
    if (step) this.#drag(face, step[0], step[1], event.shiftKey);
    else if (event.key === "+" || event.key === "=") this.#zoom(face, KEY_ZOOM, x, y);
    else if (event.key === "-") this.#zoom(face, 1 / KEY_ZOOM, x, y);
    else if (event.key === "Enter") this.#asker.choose(this.#probeAt(face, x, y));
    else return false;
    if (event.key !== "Enter") this.#asker.hover(this.#probeAt(face, x, y));
    return true;
  }

  /**
   * @param {Face} face
   * @param {number} dx
   * @param {number} dy
   * @param {boolean} second
   */
  #drag(face, dx, dy, second) {
    const [x, y] = [dx * this.#ratio, dy * this.#ratio];
    this.#next = this.#again = null;
    if (face === "sheet") this.#view.sheet_pan(x, y);
    else if (second) this.#view.pan(x, y);
    else this.#view.orbit(x, y);
    if (face === "model") this.#asker.moved();
    this.wake();
  }

  /**
   * @param {Face} face
   * @param {number} factor
   * @param {number} x
   * @param {number} y
   */
  #zoom(face, factor, x, y) {
    const [px, py] = this.#inCanvas(x, y);
    this.#next = this.#again = null;
    if (face === "sheet") this.#view.sheet_zoom(factor, px, py);
    else this.#view.zoom(factor, px, py);
    if (face === "model") this.#asker.moved();
    this.wake();
  }

  /**
   * @param {Face} face
   * @param {number} x
   * @param {number} y
   * @returns {ProbeMessage}
   */
  #probeAt(face, x, y) {
    const [px, py] = this.#inCanvas(x, y);
    return face === "sheet"
      ? { type: "probe", uv: Array.from(this.#view.uv_at(px, py)) }
      : { type: "probe", ray: Array.from(this.#view.ray_at(px, py)) };
  }

  /**
   * @param {number} x CSS px of the window
   * @param {number} y
   * @returns {[number, number]} device px of the canvas
   */
  #inCanvas(x, y) {
    const area = this.#area.getBoundingClientRect();
    return [(x - area.x) * this.#ratio, (y - area.y) * this.#ratio];
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
    // The legend changes with the finding's lens first, and with it the room there is.
    store.watch(["finding"], () => {
      if (this.#holds) return;
      queueMicrotask(() => {
        const finding = chosenFinding(store.state);
        if (finding) this.show(finding);
        else this.#again = null;
      });
    });
  }

  /** @param {boolean} on */
  #setMeasuring(on) {
    if (on === this.#measuring) return;
    this.#measuring = on;
    this.#tell("set_measuring", on);
  }

  /** @param {State} state */
  #setModel({ model }) {
    const mesh = model?.mesh ?? null;
    const isOther = mesh !== this.#shown;
    if (isOther) this.#view.set_extent(mesh);
    this.#shown = mesh;
    if (this.#drawn) {
      if (isOther && mesh) this.#drawn.set_model(mesh);
      if (!model) this.#drawn.clear_model();
      else {
        this.#drawn.set_triangles(model.triangles);
        this.#drawn.set_lines(model.lines);
      }
      return;
    }
    if (model) this.#orders.bring(model);
    if (isOther) {
      this.#orders.show(mesh);
      this.tidy();
    }
  }

  /** Lets the painter forget what is neither on screen nor set aside. */
  tidy() {
    this.#orders.keep([this.#shown, this.#asker.aside()]);
    this.wake();
  }
}

/** @param {Brief} brief */
function limitsOf(brief) {
  const tolerance = brief.density?.tolerance_percent ?? 15;
  return { max_anisotropy: brief.stretch?.max_anisotropy ?? 1.25, octave_tolerance: Math.log2(1 + tolerance / 100) };
}

/**
 * Shells that are marked beside the chosen ones, as the lens has it.
 * @param {State} state
 * @returns {number[]}
 */
function partnersOf(state) {
  if (state.lens === "overlaps") return [...partners(state)];
  return state.lens === "text" ? unsafeForText(state) : [];
}

/**
 * Shells that the brief wants lettered and that are not safe.
 * @param {State} state
 */
function unsafeForText({ model }) {
  return (model?.report?.findings ?? []).filter(({ kind }) => kind === "text").flatMap(({ shells }) => shells);
}

/**
 * Shells that share sheet space with the chosen ones.
 * @param {State} state
 * @returns {Set<number>}
 */
export function partners({ model, chosen }) {
  /** @type {Set<number>} */
  const found = new Set();
  const { sharing = [], equal_shells: equal = [] } = model?.report ?? {};
  // Of equal shells the first stands for all.
  const groups = new Map(equal.map((group) => [group[0] ?? NaN, group]));
  const all = (/** @type {number} */ shell) => groups.get(shell) ?? [shell];
  const among = new Set(chosen);
  for (const [these, those] of [...equal.map((group) => [group, group]), ...sharing.flatMap(({ a, b }) => [[all(a), all(b)], [all(b), all(a)]])]) {
    if (these?.some((shell) => among.has(shell))) those?.forEach((shell) => found.add(shell));
  }
  chosen.forEach((shell) => found.delete(shell));
  return found;
}
