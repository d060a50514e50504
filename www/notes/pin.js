/**
 * The place of a note on a model, and its id.
 *
 * @import {Probe} from "../core/messages.js"
 * @import {SavedNote} from "../core/review.js"
 * @import {Note} from "../core/state.js"
 */

import { asLabel } from "../core/review.js";

/** Places within this distance, as a share of the model's radius, are equal up to rounding. */
const SAME = 1e-4;

/** Where a note was found. @typedef {Omit<Note, "id" | "text" | "camera" | "lens">} Pin */

/** A unique id, also among other tabs: 53 random bits. */
export function nextId() {
  const [high = 0, low = 0] = crypto.getRandomValues(new Uint32Array(2));
  return (high % 2 ** 21) * 2 ** 32 + low;
}

/**
 * A note's displayed number: its position in the list, from 1; 0 if it is not in it.
 * @param {readonly Note[]} notes
 * @param {number} id
 */
export function numberOf(notes, id) {
  return notes.findIndex((note) => note.id === id) + 1;
}

/**
 * A probed place, in the form of a review and of the page.
 * @param {Probe} probe
 * @param {readonly number[]} centre of the mesh
 * @returns {Pin}
 */
export function pinOf({ face, triangle_of_face, barycentric, point, u, v, shell_label }, centre) {
  const rounded = (/** @type {number} */ value) => Number(value.toPrecision(9));
  const uv = u === null || v === null ? null : /** @type {[number, number]} */ ([rounded(u), rounded(v)]);
  return {
    face,
    triangle: triangle_of_face,
    barycentric: /** @type {[number, number, number]} */ (barycentric.map((weight) => Math.min(1, Math.max(0, Number(weight.toFixed(6)))))),
    point: /** @type {[number, number, number]} */ (point.map((value, axis) => rounded(value + (centre[axis] ?? 0)))),
    uv,
    shell: shell_label === null ? null : asLabel(shell_label),
    place: { point, uv },
  };
}

/**
 * A note's pin on this model. Its stored values are kept if they mean the same place: weights are rounded, and a note must not
 * drift when it is opened repeatedly.
 * @param {SavedNote} note
 * @param {Pin} found
 * @param {number} radius of the model
 */
export function pinned({ face, triangle, barycentric, point, uv }, found, radius) {
  const off = Math.hypot(...point.map((value, axis) => value - (found.point[axis] ?? 0)));
  const stays = face === found.face && triangle === found.triangle && off <= SAME * radius && (uv === null) === (found.uv === null);
  return stays ? { ...found, barycentric, point, uv } : found;
}
