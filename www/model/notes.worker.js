/**
 * Finds the places of notes on the worker's model. In the file it was written on, a note has its exact place by face, triangle
 * and weights. In another version faces may have moved: then the place is at its uv, if that is on the shell of the same name
 * or near the same point, or else the first surface along the writer's line of sight.
 *
 * @import {Ask, Probe, Session} from "../core/messages.js"
 * @import {SavedNote} from "../core/review.js"
 */

/** Distance within which a place counts as the same, as a share of the model's radius (common practice, no source). */
const NEAR = 0.05;

/**
 * @param {Session} session
 * @param {Extract<Ask, {what: "places"}>} ask
 * @param {{centre: number[], radius: number}} sphere around the model
 * @returns {(Probe | null)[]} null for a note that has no place on this model
 */
export function placesOf(session, { notes, exact }, sphere) {
  return notes.map((note) => (exact ? session.place(note.face, note.triangle, ...note.barycentric) : moved(session, note, sphere)) ?? null);
}

/**
 * @param {Session} session
 * @param {SavedNote} note
 * @param {{centre: number[], radius: number}} sphere
 */
function moved(session, { uv, shell, point, camera }, { centre, radius }) {
  const relative = (/** @type {number[]} */ place) => place.map((value, axis) => value - (centre[axis] ?? 0));
  const was = relative(point);
  const near = (/** @type {Probe} */ found) => Math.hypot(...found.point.map((value, axis) => value - (was[axis] ?? 0))) <= NEAR * radius;
  const there = uv && session.probe_uv(...uv);
  if (there && (there.shell_label === shell || near(there))) return there;
  if (!camera) return null;
  const [x = 0, y = 0, z = 0] = relative(camera.eye);
  const seen = session.probe_ray(x, y, z, (was[0] ?? 0) - x, (was[1] ?? 0) - y, (was[2] ?? 0) - z);
  return seen && near(seen) ? seen : null;
}
