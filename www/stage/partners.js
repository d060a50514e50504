/**
 * Shells that are marked beside the chosen ones.
 *
 * @import {State} from "../core/state.js"
 */

/**
 * As the lens has it.
 * @param {State} state
 * @returns {number[]}
 */
export function partnersOf(state) {
  if (state.lens === "overlaps") return [...partners(state)];
  return state.lens === "text" ? unsafeForText(state) : [];
}

/**
 * Shells that the brief wants lettered and that are not safe.
 * @param {State} state
 */
function unsafeForText({ model }) {
  return (model?.report?.findings ?? []).filter(({ kind }) => kind === "text").flatMap(({ shells }) => shells);
}

/**
 * Shells that share sheet space with the chosen ones.
 * @param {State} state
 * @returns {Set<number>}
 */
export function partners({ model, chosen }) {
  /** @type {Set<number>} */
  const found = new Set();
  const { sharing = [], equal_shells: equal = [] } = model?.report ?? {};
  // Of equal shells the first stands for all.
  const groups = new Map(equal.map((group) => [group[0] ?? NaN, group]));
  const all = (/** @type {number} */ shell) => groups.get(shell) ?? [shell];
  const among = new Set(chosen);
  for (const [these, those] of [...equal.map((group) => [group, group]), ...sharing.flatMap(({ a, b }) => [[all(a), all(b)], [all(b), all(a)]])]) {
    if (these?.some((shell) => among.has(shell))) those?.forEach((shell) => found.add(shell));
  }
  chosen.forEach((shell) => found.delete(shell));
  return found;
}
