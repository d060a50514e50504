/**
 * Shells that are marked with the selected ones.
 *
 * @import {State} from "../core/state.js"
 */

/**
 * Depending on the lens.
 * @param {State} state
 * @returns {number[]}
 */
export function partnersOf(state) {
  if (state.lens === "overlaps") return [...partners(state)];
  return state.lens === "text" ? unsafeForText(state) : [];
}

/**
 * Shells that need text by the brief and are not safe for it.
 * @param {State} state
 */
function unsafeForText({ model }) {
  return (model?.report?.findings ?? []).filter(({ kind }) => kind === "text").flatMap(({ shells }) => shells);
}

/**
 * Shells that overlap the selected ones.
 * @param {State} state
 * @returns {Set<number>}
 */
export function partners({ model, chosen }) {
  /** @type {Set<number>} */
  const found = new Set();
  const { sharing = [], equal_shells: equal = [] } = model?.report ?? {};
  // The first of equal shells represents all.
  const groups = new Map(equal.map((group) => [group[0] ?? NaN, group]));
  const all = (/** @type {number} */ shell) => groups.get(shell) ?? [shell];
  const among = new Set(chosen);
  for (const [these, those] of [
    ...equal.map((group) => [group, group]),
    ...sharing.flatMap(({ a, b }) => [
      [all(a), all(b)],
      [all(b), all(a)],
    ]),
  ]) {
    if (these?.some((shell) => among.has(shell))) those?.forEach((shell) => found.add(shell));
  }
  chosen.forEach((shell) => found.delete(shell));
  return found;
}
