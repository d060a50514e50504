/**
 * Three-way merge of notes and decisions on one file, entry by entry. If both sides changed an entry the newer change wins,
 * and a change wins over a deletion. Pure: no page, no database.
 *
 * The base is the state of the database when the tab last read it, so a deletion needs no tombstone; ids and
 * times are stored beside the review, not in it.
 *
 * @import {Decided, SavedNote} from "../core/review.js"
 */

import { MOST, writeNote } from "../core/review.js";

/**
 * An entry, its plain text for comparison, and when it was written, ms since 1970.
 * @template T
 * @typedef {{value: T, text: string, at: number}} Dated
 */
/** Notes by their ids, decisions by their findings; both in their order. `left`: how many a merge had no room for. @typedef {{notes: Map<number, Dated<SavedNote>>, decisions: Map<string, Dated<Decided>>, left?: {notes: number, decisions: number}}} Book */

/** @type {Book} */
export const NOTHING = Object.freeze({ notes: new Map(), decisions: new Map() });

/**
 * @param {readonly (SavedNote & {id: number})[]} notes
 * @param {readonly Decided[]} decisions
 * @param {Book} before whose equal entries keep their time
 * @param {(kind: "notes" | "decisions", at: number) => number} time of the others, by position
 * @returns {Book}
 */
export function bookOf(notes, decisions, before, time) {
  return {
    notes: dated(
      notes.map((value) => [value.id, value, JSON.stringify(writeNote(value))]),
      before.notes,
      (at) => time("notes", at),
    ),
    decisions: dated(
      decisions.map((value) => [value.finding, value, JSON.stringify(value)]),
      before.decisions,
      (at) => time("decisions", at),
    ),
  };
}

/**
 * @template K, T
 * @param {[K, T, string][]} entries
 * @param {Map<K, Dated<T>>} before
 * @param {(place: number) => number} time
 * @returns {Map<K, Dated<T>>}
 */
function dated(entries, before, time) {
  return new Map(
    entries.map(([key, value, text], place) => {
      const was = before.get(key);
      // Newer than the entry it replaces, whatever the clock says.
      return [key, { value, text, at: was?.text === text ? was.at : Math.max(time(place), (was?.at ?? 0) + 1) }];
    }),
  );
}

/**
 * @param {Book} base common ancestor
 * @param {Book} mine
 * @param {Book} theirs
 * @returns {Book} in the order of `mine`, with entries of `theirs` only at the end
 */
export function merge(base, mine, theirs) {
  // Also the order: tabs without changes must not reorder one another.
  if (isSame(base, mine)) return theirs;
  if (isSame(base, theirs)) return mine;
  const notes = merged(base.notes, mine.notes, theirs.notes, MOST.notes);
  const decisions = merged(base.decisions, mine.decisions, theirs.decisions, MOST.decisions);
  const left = { notes: notes.left, decisions: decisions.left };
  return { notes: notes.all, decisions: decisions.all, ...(left.notes + left.decisions > 0 && { left }) };
}

/**
 * @template K, T
 * @param {Map<K, Dated<T>>} base
 * @param {Map<K, Dated<T>>} mine
 * @param {Map<K, Dated<T>>} theirs
 * @param {number} most
 * @returns {{all: Map<K, Dated<T>>, left: number}}
 */
function merged(base, mine, theirs, most) {
  /** @type {Map<K, Dated<T>>} */
  const all = new Map();
  let left = 0;
  for (const key of new Set([...mine.keys(), ...theirs.keys()])) {
    const [was, own, other] = [base.get(key), mine.get(key), theirs.get(key)];
    const isKept = was?.text === own?.text;
    const isTheirs = was?.text === other?.text;
    const entry = isKept ? other : isTheirs ? own : newer(own, other);
    if (!entry) continue;
    if (all.size < most) all.set(key, entry);
    else left += 1;
  }
  return { all, left };
}

/**
 * @template T
 * @param {Dated<T> | undefined} one
 * @param {Dated<T> | undefined} other
 */
function newer(one, other) {
  if (!one || !other) return one ?? other;
  // Deterministic in every tab, also for equal times.
  return one.at > other.at || (one.at === other.at && one.text > other.text) ? one : other;
}

/**
 * Whether both have the same entries in the same order.
 * @param {Book} one
 * @param {Book} other
 */
export function isSame(one, other) {
  const said = (/** @type {Book} */ { notes, decisions }) =>
    JSON.stringify([[...notes].map(([id, { text }]) => [id, text]), [...decisions].map(([, { text }]) => text)]);
  return said(one) === said(other);
}

/** @param {Book} book */
export function isEmpty({ notes, decisions }) {
  return notes.size + decisions.size === 0;
}

/**
 * The id of a note that was stored without one: the same in every tab.
 * @param {SavedNote} note
 * @param {number} place in its list
 */
export function derivedId(note, place) {
  let [high, low] = [0xdeadbeef, 0x41c6ce57];
  for (const letter of `${place} ${JSON.stringify(writeNote(note))}`) {
    const code = letter.codePointAt(0) ?? 0;
    high = Math.imul(high ^ code, 2654435761);
    low = Math.imul(low ^ code, 1597334677);
  }
  return ((high >>> 0) % 2 ** 21) * 2 ** 32 + (low >>> 0);
}
