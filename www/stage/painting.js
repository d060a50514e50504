/**
 * Draws model and sheet on a canvas by orders: in a worker that has the canvas, so that the page never waits for the GPU, or on
 * the page where browsers do not transfer canvases.
 *
 * Why in a worker: src/view/painter.rs. The page sends orders and one list of numbers a task. The same painter runs on the
 * page where browsers do not transfer canvases, or have no WebGL2 for a transferred one.
 *
 * @import {FromPainting, LineBuffers, MeshBuffers, Order, Painter, SightMessage} from "../core/messages.js"
 */

import { startEngine } from "../core/engine.js";

/** Between two steps of pending uploads, ms: frames are rare while the browser draws the page. */
const WORK_EVERY_MS = 4;
/** Index of the canvas's width and height in a view's numbers. */
const CANVAS_AT = 2;

/**
 * From this many triangles on, their corner data, 72 bytes each, is moved to a blob once the GPU has it: browsers put large
 * blobs on disk, and a model of ten million triangles needs the memory to be measured. Own choice.
 */
const STORED_FROM = 2 ** 21;
const PIECE_BYTES = 2 ** 25;
const CORNERS = /** @type {const} */ (["position", "uv", "normal"]);

/** `stored`: what is not in the mesh's arrays any more. @typedef {{mesh: MeshBuffers, stored: Partial<Record<typeof CORNERS[number], Blob>> | null, triangles: Uint32Array | null, lines: LineBuffers | null}} Kept */

/**
 * In pieces, each taken before the next is copied.
 * @param {Float32Array | Int8Array} array
 */
async function storedOf({ buffer, byteOffset, byteLength }) {
  const pieces = [];
  for (let at = 0; at < byteLength; at += PIECE_BYTES) {
    const piece = new Blob([new Uint8Array(/** @type {ArrayBuffer} */ (buffer), byteOffset + at, Math.min(PIECE_BYTES, byteLength - at))]);
    // The blob is complete once it can be read.
    await piece.slice(0, 1).arrayBuffer();
    pieces.push(piece);
  }
  return new Blob(pieces);
}

export class Painting {
  #context;
  #canvas;
  #say;
  /** @type {Painter | null} */
  #painter = null;
  /** Messages that came before the module. @type {SightMessage[]} */
  #early = [];
  /** Models that can be shown, by their ids. @type {Map<number, Kept>} */
  #models = new Map();
  /** @type {number | null} */
  #shown = null;
  #heard = 0;
  #wanted = 0;
  #working = 0;
  /** Those that are being moved to blobs. @type {WeakSet<MeshBuffers>} */
  #storing = new WeakSet();
  /** Models that are being read back from blobs, by their ids; the painter has none of them. @type {Set<number>} */
  #recalled = new Set();
  /** The last message, as text. */
  #said = "";

  /**
   * @param {WebGL2RenderingContext} context a transferred canvas does not give it twice
   * @param {(message: FromPainting) => void} say
   */
  constructor(context, say) {
    const { canvas } = context;
    this.#context = context;
    this.#canvas = canvas;
    this.#say = say;
    canvas.addEventListener("webglcontextlost", (event) => {
      event.preventDefault();
      say({ type: "lost" });
    });
    canvas.addEventListener("webglcontextrestored", () => {
      say({ type: "restored" });
      this.#try((painter) => painter.context_restored());
      if (this.#models.get(this.#shown ?? NaN)?.stored) this.#try((painter) => this.#show(painter));
      this.#wake();
    });
  }

  /** @param {WebAssembly.Module} module */
  async begin(module) {
    const { engine } = await startEngine(module);
    this.#painter = new engine.Painter(this.#context);
    for (const message of this.#early.splice(0)) this.hear(message);
  }

  /** @param {SightMessage} message */
  hear(message) {
    const { turn, orders, sight } = message;
    if (!this.#painter) {
      this.#early.push(message);
      return;
    }
    for (const order of orders) this.#try((painter) => this.#follow(painter, order));
    const emptied = sight.length > 0 && this.#try((painter) => this.#look(painter, sight));
    this.#heard = turn;
    // The canvas is presented at the end of this task, whether or not there is a frame.
    if (emptied) this.#frame();
    this.#wake();
  }

  /**
   * @param {Painter} painter
   * @param {Float64Array} sight
   * @returns {boolean} whether the canvas was cleared
   */
  #look(painter, sight) {
    const [width = 1, height = 1] = sight.subarray(CANVAS_AT);
    // Setting the size clears the canvas, even if it is the same.
    const emptied = this.#canvas.width !== width || this.#canvas.height !== height;
    if (emptied) Object.assign(this.#canvas, { width, height });
    painter.set_sight(sight);
    return emptied;
  }

  /**
   * @param {Painter} painter
   * @param {Order} order
   */
  #follow(painter, order) {
    switch (order.to) {
      case "bring": {
        const { id, mesh, uv, triangles, lines } = order;
        const before = this.#models.get(id);
        const kept = mesh ? { mesh, stored: null, triangles: null, lines: null } : before;
        if (!kept) return;
        this.#models.set(id, { ...kept, mesh: uv ? { ...kept.mesh, uv } : kept.mesh, triangles: triangles ?? kept.triangles, lines: lines ?? kept.lines });
        if (id !== this.#shown || this.#recalled.has(id)) return;
        if (uv) painter.set_uvs(uv);
        if (triangles) painter.set_triangles(triangles);
        if (lines) painter.set_lines(lines);
        return;
      }
      case "show": {
        this.#shown = order.id;
        this.#show(painter);
        return;
      }
      case "keep":
        for (const id of this.#models.keys()) if (!order.ids.includes(id)) this.#models.delete(id);
        return;
      default:
        // Which values go with which name was checked where the order was given.
        /** @type {Record<string, (...values: unknown[]) => void>} */ (/** @type {unknown} */ (painter))[order.to]?.(...order.values);
    }
  }

  /** @param {Painter} painter */
  #show(painter) {
    const id = this.#shown;
    const kept = id === null ? undefined : this.#models.get(id);
    if (id === null || !kept) painter.clear_model();
    else if (kept.stored) {
      painter.clear_model();
      void this.#recall(id, kept.stored);
    } else {
      painter.set_model(kept.mesh);
      if (kept.triangles) painter.set_triangles(kept.triangles);
      if (kept.lines) painter.set_lines(kept.lines);
    }
  }

  /** Moves the corner data of a large model to a blob, once the GPU has it. */
  #store() {
    const id = this.#shown;
    const kept = id === null ? undefined : this.#models.get(id);
    if (id === null || !kept || kept.mesh.triangle_count < STORED_FROM || this.#storing.has(kept.mesh) || !this.#painter?.has_model()) return;
    // If the rest is stored already these are new uvs.
    const here = CORNERS.filter((name) => kept.mesh[name].length > 0);
    if (here.length === 0) return;
    this.#storing.add(kept.mesh);
    // A browser that stores nothing leaves the arrays here.
    this.#move(id, kept.mesh, here).catch(() => {});
  }

  /**
   * @param {number} id
   * @param {MeshBuffers} mesh
   * @param {(typeof CORNERS)[number][]} here
   */
  async #move(id, mesh, here) {
    const stored = await Promise.all(here.map(async (name) => /** @type {const} */ ([name, await storedOf(mesh[name])])));
    const now = this.#models.get(id);
    if (now?.mesh !== mesh) return;
    // The painter can release these arrays too, if it no longer needs them.
    if (this.#shown === id && !this.#try((painter) => painter.release_model())) return;
    for (const name of here) /** @type {ArrayBuffer} */ (mesh[name].buffer).transfer?.(0);
    this.#models.set(id, {
      ...now,
      stored: { ...now.stored, ...Object.fromEntries(stored) },
      mesh: { ...mesh, position: new Float32Array(), uv: new Float32Array(), normal: new Int8Array() },
    });
  }

  /**
   * Reads it back, and shows the model if it is still needed.
   * @param {number} id
   * @param {NonNullable<Kept["stored"]>} stored
   */
  async #recall(id, stored) {
    this.#recalled.add(id);
    try {
      const [position, uv, normal] = await Promise.all(CORNERS.map((name) => stored[name]?.arrayBuffer()));
      const kept = this.#models.get(id);
      if (kept?.stored !== stored) return;
      const { mesh } = kept;
      this.#models.set(id, {
        ...kept,
        stored: null,
        mesh: {
          ...mesh,
          position: position ? new Float32Array(position) : mesh.position,
          // Other uvs may have arrived meanwhile.
          uv: uv && mesh.uv.length === 0 ? new Float32Array(uv) : mesh.uv,
          normal: normal ? new Int8Array(normal) : mesh.normal,
        },
      });
      this.#recalled.delete(id);
      if (this.#shown === id) this.#try((painter) => this.#show(painter));
    } catch {
      this.#say({ type: "failed", message: "The browser did not give the model's picture back. Open the file again." });
    } finally {
      this.#recalled.delete(id);
      this.#wake();
    }
  }

  #wake() {
    if (this.#wanted === 0) this.#wanted = requestAnimationFrame(() => this.#frame());
    if (this.#working === 0) this.#working = setTimeout(() => this.#work(), WORK_EVERY_MS);
  }

  #frame() {
    cancelAnimationFrame(this.#wanted);
    this.#wanted = 0;
    if (this.#try((painter) => painter.frame(performance.now()))) this.#wake();
    this.#tell();
  }

  #work() {
    this.#working = 0;
    if (this.#try((painter) => painter.work(performance.now()))) this.#working = setTimeout(() => this.#work(), WORK_EVERY_MS);
    this.#tell();
  }

  /**
   * @template T
   * @param {(painter: Painter) => T} act
   * @returns {T | null} null if it failed or is impossible
   */
  #try(act) {
    if (!this.#painter) return null;
    try {
      return act(this.#painter);
    } catch (error) {
      this.#say({ type: "failed", message: error instanceof Error ? error.message : String(error) });
      return null;
    }
  }

  #tell() {
    if (!this.#painter) return;
    this.#store();
    /** @type {FromPainting} */
    const message = {
      type: "drawn",
      turn: this.#heard,
      frames: this.#painter.frames_drawn(),
      isBusy: this.#wanted + this.#working + this.#recalled.size !== 0,
      hasGrid: this.#painter.shows_grid(),
    };
    const text = JSON.stringify(message);
    if (text === this.#said) return;
    this.#said = text;
    this.#say(message);
  }
}
