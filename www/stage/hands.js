/**
 * Input on the two surfaces of model and sheet: pointers, keys, and the crosshair that replaces the pointer while keys are
 * used.
 *
 * @import {Asker, Stage} from "./stage.js"
 * @import {ProbeMessage} from "../core/messages.js"
 */

import { listen } from "./gestures.js";
import { byId } from "../base/dom.js";

/** One press of an arrow key, as CSS px of dragging. */
const KEY_STEP_PX = 24;
/** One press of + or -. */
const KEY_ZOOM = 1.2;

/** @typedef {"model" | "sheet"} Face */

export class Hands {
  #stage;
  #asker;
  #large;
  #area = byId("area", HTMLElement);
  #cross = byId("cross", HTMLElement);

  /**
   * @param {Stage} stage
   * @param {Asker} asker
   * @param {{large: HTMLElement, small: HTMLElement}} places
   */
  constructor(stage, asker, { large, small }) {
    this.#stage = stage;
    this.#asker = asker;
    this.#large = large;
    this.#listenTo(large, () => stage.largeFace);
    this.#listenTo(small, () => (stage.isFlat || stage.largeFace === "model" ? "sheet" : "model"));
  }

  /** @param {number} factor above 1 comes closer */
  zoom(factor) {
    const box = this.#large.getBoundingClientRect();
    this.#zoomAt(this.#stage.largeFace, factor, box.x + box.width / 2, box.y + box.height / 2);
  }

  /** Probe under the crosshair; null if it is not shown. @returns {ProbeMessage | null} */
  crossed() {
    if (this.#cross.hidden) return null;
    const box = this.#large.getBoundingClientRect();
    return this.#probeAt(this.#stage.largeFace, box.x + box.width / 2, box.y + box.height / 2);
  }

  /**
   * @param {HTMLElement} surface
   * @param {() => Face} face
   */
  #listenTo(surface, face) {
    listen(surface, {
      drag: (dx, dy, second) => this.#drag(face(), dx, dy, second),
      zoom: (factor, x, y) => this.#zoomAt(face(), factor, x, y),
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
   * @returns {boolean} whether the key was handled
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
    else if (event.key === "+" || event.key === "=") this.#zoomAt(face, KEY_ZOOM, x, y);
    else if (event.key === "-") this.#zoomAt(face, 1 / KEY_ZOOM, x, y);
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
    const [x, y] = [dx * this.#stage.ratio, dy * this.#stage.ratio];
    this.#stage.views.leave();
    if (face === "sheet") this.#stage.view.sheet_pan(x, y);
    else if (second) this.#stage.view.pan(x, y);
    else this.#stage.view.orbit(x, y);
    if (face === "model") this.#asker.moved();
    this.#stage.wake();
  }

  /**
   * @param {Face} face
   * @param {number} factor
   * @param {number} x
   * @param {number} y
   */
  #zoomAt(face, factor, x, y) {
    const [px, py] = this.#inCanvas(x, y);
    this.#stage.views.leave();
    if (face === "sheet") this.#stage.view.sheet_zoom(factor, px, py);
    else this.#stage.view.zoom(factor, px, py);
    if (face === "model") this.#asker.moved();
    this.#stage.wake();
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
      ? { type: "probe", uv: Array.from(this.#stage.view.uv_at(px, py)) }
      : { type: "probe", ray: Array.from(this.#stage.view.ray_at(px, py)) };
  }

  /**
   * @param {number} x CSS px of the window
   * @param {number} y
   * @returns {[number, number]} device px of the canvas
   */
  #inCanvas(x, y) {
    const area = this.#area.getBoundingClientRect();
    return [(x - area.x) * this.#stage.ratio, (y - area.y) * this.#stage.ratio];
  }
}
