/**
 * How two versions of a model are related, as far as the page itself can tell.
 *
 * @import {Version} from "../core/messages.js"
 * @import {Eye} from "../core/review.js"
 * @import {Model} from "../core/state.js"
 */

/** Share of the previous file's names that a new version must have. */
const AKIN = 0.5;

/** @typedef {{previous: Model, newer: Model}} Pair */

/**
 * The data of a version that is compared.
 * @param {Model} model with its report
 * @returns {Version}
 */
export function versionOf({ summary, report }) {
  const names = (report?.shells ?? []).map(({ object, group, material }) => object ?? group ?? material);
  return {
    bounds: summary.bounds,
    spots: (report?.findings ?? []).map(({ id, kind, severity, number, limit, camera, shells, places }) => ({
      id,
      kind,
      severity,
      number,
      limit: limit?.value ?? null,
      // A finding about many parts has no single place.
      place: places.length > 0 ? null : camera && { centre: camera.target, radius: camera.radius, eye: camera.eye },
      names: [...new Set(shells.flatMap((shell) => names[shell] ?? []))],
    })),
  };
}

/**
 * Whether a file is likely to be a new version of the previous one: their boxes overlap, and it has at least half of the names
 * of objects and groups, if there are any.
 * @param {Pair} pair
 */
export function isAkin({ previous, newer }) {
  const [[low, high], [otherLow, otherHigh]] = [previous.summary.bounds, newer.summary.bounds];
  if (![0, 1, 2].every((axis) => (low[axis] ?? 0) <= (otherHigh[axis] ?? 0) && (otherLow[axis] ?? 0) <= (high[axis] ?? 0))) return false;
  const [names, others] = [previous, newer].map(
    ({ report }) => new Set((report?.shells ?? []).flatMap(({ object, group }) => [object, group]).filter((name) => name !== null)),
  );
  if (!names || !others || names.size === 0) return true;
  return [...names].filter((name) => others.has(name)).length >= names.size * AKIN;
}

/**
 * Maps a place of one version to the other, in the coordinates of each file.
 * @param {Model} from
 * @param {Model} to
 * @param {boolean} byBox
 */
export function mover({ mesh: from }, { mesh: to }, byBox) {
  const scale = byBox && from.radius > 0 ? to.radius / from.radius : 1;
  const point = (/** @type {readonly number[]} */ place) =>
    /** @type {[number, number, number]} */ (place.map((value, axis) => (byBox ? (value - (from.centre[axis] ?? 0)) * scale + (to.centre[axis] ?? 0) : value)));
  const camera = (/** @type {Eye} */ view) => {
    const across = view.across && /** @type {[number, number]} */ (view.across.map((side) => side * scale));
    return { ...view, eye: point(view.eye), target: point(view.target), radius: view.radius * scale, ...(across && { across }) };
  };
  return { point, camera };
}
