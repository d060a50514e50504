/**
 * The page's canvas, and the connection to its painter.
 *
 * @import {FromPainting, SightMessage} from "../core/messages.js"
 */

import { CONTEXT, openContext } from "../base/context.js";
import { byId } from "../base/dom.js";
import { LivingWorker } from "../base/living-worker.js";
import { Painting } from "./painting.js";
import { pause } from "../base/pause.js";

const SCRIPT = new URL("./painting.worker.js", import.meta.url);

/** Most device px per CSS px: more cost time without visible gain. */
const MAX_PIXEL_RATIO = 2;

/** Longest side of a picture on a model, px: the usual largest map, 89 MB with mipmaps. Own choice. */
const MOST_PICTURE_PX = 4096;

/** Px of the canvas a CSS px. */
export function pixelRatio() {
  return Math.min(devicePixelRatio || 1, MAX_PIXEL_RATIO);
}

/** @typedef {(message: import("../core/messages.js").ToPainting, transfer: Transferable[]) => void} Post */

export class Canvas {
  #element = byId("canvas", HTMLCanvasElement);
  /** @type {Post | null} */
  #post = null;
  /** @type {(message: FromPainting) => void} */
  #heard = () => {};
  #mostPicturePx = 0;
  /** Whether WebGL2 is available; messages wait until that is known. @type {Promise<boolean>} */
  hasContext;

  /**
   * @param {() => [number, number]} sizeToCome px that it will soon have: with a context, another size waits for the graphics
   *   system. Requested in a separate task, because it forces a layout.
   */
  constructor(sizeToCome) {
    this.hasContext = this.#begin(sizeToCome);
  }

  /** The element; without WebGL2 a new one without a context. */
  get element() {
    return this.#element;
  }

  /** Longest side that a picture may have, px; 0 before that is known. */
  get mostPicturePx() {
    return this.#mostPicturePx;
  }

  /** @param {WebAssembly.Module} module */
  begin(module) {
    this.#send({ type: "engine", module });
  }

  /**
   * @param {SightMessage} message
   * @param {Transferable[]} transfer
   */
  show(message, transfer) {
    this.#send(message, transfer);
  }

  /** @param {(message: FromPainting) => void} heard */
  listen(heard) {
    this.#heard = heard;
  }

  /**
   * @param {import("../core/messages.js").ToPainting} message
   * @param {Transferable[]} [transfer]
   */
  #send(message, transfer = []) {
    void this.hasContext.then(() => this.#post?.(message, transfer));
  }

  /** @param {() => [number, number]} sizeToCome */
  async #begin(sizeToCome) {
    const worker = "transferControlToOffscreen" in this.#element ? new LivingWorker(SCRIPT, { type: "module", name: "gridproof-painting" }) : null;
    await pause();
    // Styles in a separate task: together with the layout they would be a long task.
    void getComputedStyle(this.#element).display;
    await pause();
    [this.#element.width, this.#element.height] = sizeToCome();
    this.#post = (worker && (await this.#inWorker(worker))) ?? this.#onPage();
    return this.#post !== null;
  }

  /**
   * Some browsers transfer a canvas and then have no WebGL2 for it.
   * @param {Worker} worker
   * @returns {Promise<Post | null>}
   */
  async #inWorker(worker) {
    const canvas = this.#element.transferControlToOffscreen();
    /** @type {Post} */
    const post = (message, transfer) => worker.postMessage(message, transfer);
    const has = new Promise((resolve) => {
      worker.addEventListener("message", (/** @type {MessageEvent<FromPainting>} */ { data }) => {
        if (data.type !== "context") return this.#heard(data);
        this.#mostPicturePx = Math.min(MOST_PICTURE_PX, data.mostTexturePx);
        resolve(data.has);
      });
      worker.addEventListener("error", (event) => {
        event.preventDefault();
        resolve(false);
        this.#heard({ type: "failed", message: event.message ?? "" });
      });
    });
    post({ type: "canvas", canvas, attributes: CONTEXT }, [canvas]);
    if (await has) return post;
    worker.terminate();
    this.#renew();
    return null;
  }

  /** @returns {Post | null} */
  #onPage() {
    const context = openContext(this.#element);
    if (!context) {
      this.#renew();
      return null;
    }
    this.#mostPicturePx = Math.min(MOST_PICTURE_PX, context.getParameter(context.MAX_TEXTURE_SIZE));
    const painting = new Painting(context, (message) => this.#heard(message));
    return (message) => {
      if (message.type === "engine") void painting.begin(message.module).catch((error) => this.#heard({ type: "failed", message: String(error) }));
      else if (message.type === "sight") painting.hear(message);
    };
  }

  /** A canvas that was transferred, or has a context of one kind, cannot have another. */
  #renew() {
    const fresh = /** @type {HTMLCanvasElement} */ (this.#element.cloneNode());
    this.#element.replaceWith(fresh);
    this.#element = fresh;
  }
}
