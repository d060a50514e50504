/**
 * The region that the sheet is fitted to: its tiles, and the shells near them. A shell far away must not make the tiles small;
 * it is marked at the sheet's border instead (stage/far.js).
 *
 * @import {LineBuffers, MeshBuffers} from "../core/messages.js"
 * @import {State} from "../core/state.js"
 */

import { NO_SHELL, UDIM } from "../core/known.js";
import { tilesOf } from "../core/state.js";

/** How far from its tiles the sheet is shown, tiles: neighbours, where unused or stacked shells are parked. Own choice. */
const REACH = 1;

/** Lowest and highest u and v. @typedef {[u0: number, v0: number, u1: number, v1: number]} Box */
/** @typedef {{shell: number, box: Box, tiles: number}} Far a shell out of reach, and how many tiles it is away from them */
/** @typedef {{tiles: Box, fit: Box, far: readonly Far[]}} Reach */

/** Boxes by shell; a model's shells stay where they are. @type {WeakMap<MeshBuffers, Map<number, Box>>} */
const known = new WeakMap();
/** @type {{boxes: Map<number, Box> | null, numbers: string, reach: Reach}} */
let last = { boxes: null, numbers: "", reach: { tiles: [0, 0, 1, 1], fit: [0, 0, 1, 1], far: [] } };

/**
 * @param {State} state
 * @returns {Reach}
 */
export function reachOf(state) {
  const boxes = state.model && boxesOf(state.model.mesh, state.model.lines);
  const numbers = tilesOf(state);
  if (last.boxes === boxes && last.numbers === numbers.join()) return last.reach;
  const tiles = boxAround(numbers);
  last = { boxes, numbers: numbers.join(), reach: { tiles, ...within(boxes ?? new Map(), tiles) } };
  return last.reach;
}

/**
 * @param {Map<number, Box>} boxes
 * @param {Box} tiles
 */
export function within(boxes, tiles) {
  const limits = /** @type {Box} */ (tiles.map((side, at) => side + (at < 2 ? -REACH : REACH)));
  /** @type {Box} */
  let fit = [...tiles];
  /** @type {Far[]} */
  const far = [];
  for (const [shell, box] of boxes) {
    const seen = /** @type {Box} */ (box.map((side, at) => (at < 2 ? Math.max : Math.min)(side, limits[at] ?? side)));
    if (seen[0] <= seen[2] && seen[1] <= seen[3]) fit = joined(fit, seen);
    else far.push({ shell, box, tiles: Math.hypot(...[0, 1].map((axis) => gap(box, tiles, axis))) });
  }
  return { fit, far };
}

/**
 * @param {Box} a
 * @param {Box} b
 * @returns {Box}
 */
export function joined(a, b) {
  return [Math.min(a[0], b[0]), Math.min(a[1], b[1]), Math.max(a[2], b[2]), Math.max(a[3], b[3])];
}

/**
 * How far two boxes are apart along an axis; 0 where they overlap.
 * @param {Box} a
 * @param {Box} b
 * @param {number} axis
 */
function gap(a, b, axis) {
  return Math.max(0, (a[axis] ?? 0) - (b[axis + 2] ?? 0), (b[axis] ?? 0) - (a[axis + 2] ?? 0));
}

/**
 * @param {number[]} numbers UDIM; none for the one tile of other maps
 * @returns {Box}
 */
function boxAround(numbers) {
  const boxes = (numbers.length > 0 ? numbers : [UDIM.first]).map((number) => {
    const [column, row] = [(number - UDIM.first) % UDIM.columns, Math.floor((number - UDIM.first) / UDIM.columns)];
    return /** @type {Box} */ ([column, row, column + 1, row + 1]);
  });
  return boxes.reduce(joined);
}

/**
 * The boxes around the outlines of shells.
 * @param {MeshBuffers} mesh
 * @param {LineBuffers} lines
 */
function boxesOf(mesh, { sheet, sheet_shell }) {
  const before = known.get(mesh);
  if (before) return before;
  /** @type {Map<number, Box>} */
  const boxes = new Map();
  for (const [segment, word] of sheet_shell.entries()) {
    const shell = word & NO_SHELL;
    const box = boxes.get(shell) ?? [Infinity, Infinity, -Infinity, -Infinity];
    boxes.set(shell, box);
    for (let at = segment * 4; at < segment * 4 + 4; at += 2) {
      const [u, v] = [sheet[at] ?? NaN, sheet[at + 1] ?? NaN];
      if (u < box[0]) box[0] = u;
      if (v < box[1]) box[1] = v;
      if (u > box[2]) box[2] = u;
      if (v > box[3]) box[3] = v;
    }
  }
  known.set(mesh, boxes);
  return boxes;
}
