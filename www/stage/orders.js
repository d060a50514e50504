/**
 * Orders to the painter, the models it has, and its progress: all changes of one task are sent at once.
 *
 * @import {Canvas} from "./canvas.js"
 * @import {FromPainting, Order, Shown} from "../core/messages.js"
 * @import {Model} from "../core/state.js"
 */

export class Orders {
  #canvas;
  /** Since the last message. @type {Order[]} */
  #orders = [];
  /** Their transferables. @type {Transferable[]} */
  #transfer = [];
  #turn = 0;
  /** The painter's progress. */
  #done = { turn: 0, frames: 0, isBusy: false };
  /** Models that it has, by their ids. @type {Map<number, {revision: number, triangles: unknown, lines: unknown}>} */
  #brought = new Map();

  /** @param {Canvas} canvas */
  constructor(canvas) {
    this.#canvas = canvas;
  }

  /** Whether it has more to do. */
  get areOpen() {
    return this.#done.isBusy || this.#done.turn !== this.#turn;
  }

  /** Frames drawn so far. */
  get frames() {
    return this.#done.frames;
  }

  /**
   * @template {keyof Shown} Name
   * @param {Name} name
   * @param {Parameters<Shown[Name]>} values
   */
  add(name, ...values) {
    this.#orders.push(/** @type {Order} */ (/** @type {unknown} */ ({ to: name, values })));
  }

  /** Transferred with the next message. @param {Transferable} part */
  give(part) {
    this.#transfer.push(part);
  }

  /** Sends what the painter does not have of a model. Lines are drawn on the page too, so they are copied. @param {Model} model */
  bring({ id, revision, mesh, triangles, lines }) {
    const known = this.#brought.get(id);
    if (known && known.revision === revision && known.triangles === triangles && known.lines === lines) return;
    /** @type {Order & {to: "bring"}} */
    const order = { to: "bring", id };
    if (!known) {
      order.mesh = mesh;
      for (const { buffer } of [mesh.position, mesh.uv, mesh.normal]) this.give(buffer);
    } else if (known.revision !== revision) {
      order.uv = mesh.uv;
      this.give(mesh.uv.buffer);
    }
    if (known?.triangles !== triangles) {
      order.triangles = triangles;
      this.give(triangles.buffer);
    }
    if (known?.lines !== lines) order.lines = lines;
    this.#orders.push(order);
    this.#brought.set(id, { revision, triangles, lines });
  }

  /** @param {number | null} id of a model that was sent, or null */
  show(id) {
    this.#orders.push({ to: "show", id });
  }

  /** Releases all models but these. @param {(number | null)[]} ids */
  keep(ids) {
    for (const id of this.#brought.keys()) if (!ids.includes(id)) this.#brought.delete(id);
    this.#orders.push({ to: "keep", ids: [...this.#brought.keys()] });
  }

  /** Sends all orders, with the current view. @param {Float64Array} sight empty if it has not changed */
  send(sight) {
    if (sight.length === 0 && this.#orders.length === 0) return;
    this.#turn += 1;
    this.#canvas.show({ type: "sight", turn: this.#turn, orders: this.#orders.splice(0), sight }, this.#transfer.splice(0));
  }

  /** @param {FromPainting & {type: "drawn"}} message @returns {boolean} whether something was drawn */
  heard(message) {
    const isNew = message.frames !== this.#done.frames;
    this.#done = message;
    return isNew;
  }
}
