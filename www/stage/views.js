/**
 * The views of model and sheet: fitted to everything, or to the selection. Fitting waits until the page's layout is known, and
 * is repeated when the layout changes, until the user moves the view.
 *
 * @import {Stage} from "./stage.js"
 * @import {Finding, ProbeMessage} from "../core/messages.js"
 * @import {Eye} from "../core/review.js"
 * @import {Store} from "../core/state.js"
 */

import { byId, calm } from "../base/dom.js";
import { chosenFinding } from "../core/state.js";

/** Duration of a flight to a finding, ms: long enough to keep orientation. */
const FLIGHT_MS = 650;
/** Digits of a stored view: more than a screen shows. */
const EYE_DIGITS = 9;
/** Half of the region shown around a place of the sheet, CSS px at its present scale. */
const SPOT_PX = 60;
/** Places a side that are tried in a finding's region of the sheet. */
const SPOT_STEPS = 9;

export class Views {
  #stage;
  #store;
  /** Runs once the view knows the page's layout. @type {(() => void) | null} */
  #next = null;
  /** Fits the selection again after a layout change; null once the user moved the view. @type {(() => void) | null} */
  #again = null;
  /** The view's last size and covered areas. */
  #laid = "";
  /** Whether another version replaces the model, and the views stay. */
  #holds = false;

  /**
   * @param {Stage} stage
   * @param {Store} store
   */
  constructor(stage, store) {
    this.#stage = stage;
    this.#store = store;
  }

  /** Follows the selection from now on. */
  follow() {
    // The finding's lens changes the legend first, and with it the free area.
    this.#store.watch(["finding"], () => {
      if (this.#holds) return;
      queueMicrotask(() => {
        const finding = chosenFinding(this.#store.state);
        if (finding) this.show(finding);
        else this.#again = null;
      });
    });
  }

  /** The user moved the view. */
  leave() {
    this.#next = this.#again = null;
  }

  /**
   * Keeps the views while another version replaces the model.
   * @param {() => void} change
   */
  hold(change) {
    this.leave();
    this.#holds = true;
    try {
      change();
    } finally {
      this.#holds = false;
    }
  }

  /** The view knows the page's layout. @param {string} layout size of the canvas and what covers it */
  laid(layout) {
    if (layout !== this.#laid) this.#next ??= this.#again;
    this.#laid = layout;
  }

  /** Runs what waited for the layout. */
  settle() {
    this.#next?.();
    this.#next = null;
  }

  /** Fits the model or the sheet, whichever has the large surface. */
  fit() {
    if (this.#stage.largeFace === "sheet") {
      this.#stage.view.sheet_fit();
    } else {
      this.#stage.view.fit();
      this.#store.set({ camera: null });
    }
    this.#again = null;
    this.#stage.wake();
  }

  /** Fits the sheet, wherever it is. */
  fitSheet() {
    this.leave();
    this.#stage.view.sheet_fit();
    this.#stage.wake();
  }

  /** @param {[number, number, number, number]} region of the sheet to fly to: lowest and highest u and v */
  showRegion(region) {
    this.#whenLaid(() => this.#stage.view.sheet_show(...region, ...this.#flight()));
  }

  /** @param {Pick<Finding, "camera" | "region_uv">} place */
  show({ camera, region_uv }) {
    const act = () => {
      if (camera) this.#fly(camera);
      if (region_uv) this.#stage.view.sheet_show(...region_uv, ...this.#flight());
    };
    this.#whenLaid(act);
    this.#again = act;
  }

  /**
   * Runs something that depends on the layout, once that is known; a later call replaces it.
   * @param {() => void} act
   */
  #whenLaid(act) {
    this.#next = act;
    this.#again = null;
    this.#stage.layout();
  }

  /**
   * Flies to a view in the file's coordinates.
   * @param {{eye: number[], target: number[], radius: number, across?: number[]}} view
   */
  #fly({ eye, target, radius, across }) {
    const centre = this.#store.state.model?.mesh.centre ?? [0, 0, 0];
    const moved = (/** @type {number[]} */ place) => place.map((value, axis) => value - (centre[axis] ?? 0));
    this.#stage.view.fly_to({ eye: moved(eye), target: moved(target), radius, ...(across ? { across } : {}) }, ...this.#flight());
  }

  /** Flies to a view of the whole model. */
  flyHome() {
    this.#whenLaid(() => this.#stage.view.fly_fit(...this.#flight()));
  }

  /** @param {Eye | null} view @param {readonly [number, number] | null} [uv] a place of the sheet, to be shown too */
  fly(view, uv = null) {
    this.#whenLaid(() => {
      if (view) this.#fly(view);
      if (!uv) return;
      const [u0 = 0, v0 = 0] = this.#stage.view.uv_at(0, 0);
      const [u1 = 0, v1 = 0] = this.#stage.view.uv_at(SPOT_PX * this.#stage.ratio, SPOT_PX * this.#stage.ratio);
      // At the sheet's current scale.
      const [du, dv] = [Math.abs(u1 - u0), Math.abs(v1 - v0)];
      this.#stage.view.sheet_show(uv[0] - du, uv[1] - dv, uv[0] + du, uv[1] + dv, ...this.#flight());
    });
  }

  /** The camera in the file's coordinates; null if only the sheet is drawn. @returns {Eye | null} */
  eye() {
    const { state } = this.#store;
    const radius = this.#stage.view.seen_radius();
    if (this.#stage.isFlat || !(radius > 0)) return null;
    const { eye, target } = /** @type {{eye: number[], target: number[]}} */ (this.#stage.view.camera());
    const centre = state.model?.mesh.centre ?? [0, 0, 0];
    const rounded = (/** @type {number} */ value) => Number(value.toPrecision(EYE_DIGITS));
    const moved = (/** @type {number[]} */ place) => /** @type {[number, number, number]} */ (place.map((value, axis) => rounded(value + (centre[axis] ?? 0))));
    const [width = 0, height = 0] = this.#stage.view.seen_across();
    return {
      eye: moved(eye),
      target: moved(target),
      radius: rounded(radius),
      up: state.up,
      ...(width > 0 && height > 0 ? { across: [rounded(width), rounded(height)] } : {}),
    };
  }

  /**
   * Screen positions of points of the file, CSS px of the window: x and y of each.
   * @param {readonly number[]} points
   */
  seen(points) {
    const centre = this.#store.state.model?.mesh.centre ?? [0, 0, 0];
    const area = byId("area", HTMLElement).getBoundingClientRect();
    const seen = this.#stage.view.seen_at(Float64Array.from(points, (value, at) => value - (centre[at % 3] ?? 0)));
    return Array.from(seen, (value, at) => value / this.#stage.ratio + (at % 2 ? area.y : area.x));
  }

  /** Duration and start of a flight. @returns {[number, number]} */
  #flight() {
    return [calm() ? 0 : FLIGHT_MS, performance.now()];
  }

  /**
   * Places where a finding may be, the likeliest first, to be probed until one is on its shells: the target of its view, then
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
    const shares = steps
      .flatMap((u) => steps.map((v) => [u, v]))
      .sort(([a = 0, b = 0], [c = 0, d = 0]) => Math.hypot(a - 0.5, b - 0.5) - Math.hypot(c - 0.5, d - 0.5));
    return [...spots, ...shares.map(([u = 0, v = 0]) => /** @type {ProbeMessage} */ ({ type: "probe", uv: [u0 + u * (u1 - u0), v0 + v * (v1 - v0)] }))];
  }
}
