/**
 * Handles reviews in the page: a review from a link or a file waits for its model, and is then applied; the notes and decisions
 * on each file are stored by its SHA-256 (notes/memory.js), and sent to the worker, which judges with them.
 *
 * @import {Engine, Followed, GivenReview} from "../core/messages.js"
 * @import {Kept, ReviewMemory} from "./memory.js"
 * @import {Reader} from "../model/reader.js"
 * @import {Decided, Review, SavedNote, Shown} from "../core/review.js"
 * @import {Note, State, Store} from "../core/state.js"
 */

import { holds, sinceWords, startAwaited } from "./awaited.js";
import { nextId, pinned, pinOf } from "./pin.js";
import { counted, isolated, whole } from "../base/format.js";
import { byKey, MOST, parseReview, Refused, reviewOf } from "../core/review.js";
import { mapOf } from "../core/state.js";

/**
 * @typedef {object} Page
 * @property {(shown: Shown) => void} show takes the id of a note
 * @property {(text: string) => void} say
 * @property {(sha256: string, kept: Kept) => void} aside called when another tab changed a file's entries
 */

export class Reviewing {
  #store;
  #reader;
  #engine;
  #memory;
  #page;
  /** The brief that was active before that of an awaited review was taken for a file of the same size. @type {State["brief"] | null} */
  #briefBefore = null;
  /** To be shown once the model is judged by its brief. @type {{review: Review, exact: boolean} | null} */
  #adopting = null;
  #placing = 0;

  /**
   * @param {Store} store
   * @param {Reader} reader
   * @param {Engine} engine
   * @param {ReviewMemory} memory
   * @param {Page} page
   */
  constructor(store, reader, engine, memory, page) {
    this.#store = store;
    this.#reader = reader;
    this.#engine = engine;
    this.#memory = memory;
    this.#page = page;
    store.watch(["notes", "decisions"], (state) => this.#keep(state));
    memory.changed = (sha256) => this.#changedElsewhere(sha256);
    memory.cut = (sha256, notes, decisions) => {
      if (store.state.model?.report?.file.sha256 === sha256) this.#add(leftWords(notes, decisions));
    };
    startAwaited(store, (review) => this.#adopt(review, false));
  }

  /** Whether a review is still being put on screen. */
  get busy() {
    return this.#placing > 0;
  }

  /** @param {string} why */
  refuse(why) {
    this.#store.set({ awaited: null, notice: `The review could not be taken. ${why}` });
  }

  /**
   * Takes a review: at once if its file is on screen, otherwise when the file is opened.
   * @param {Review} review
   */
  take(review) {
    const why = this.#trouble(review);
    if (why) return this.refuse(why);
    this.#store.set({ awaited: review, notice: "" });
    this.arrived();
  }

  /**
   * Takes a saved review.
   * @param {File} file
   */
  async open(file) {
    try {
      if (file.size > MOST.json) throw new Refused("It is too large for a review.");
      this.take(parseReview(await file.text()));
    } catch (error) {
      this.refuse(`${file.name}: ${error instanceof Refused ? error.message : "it could not be read."}`);
    }
  }

  /**
   * A file is about to be read: where it has the size of the awaited one, it is measured by that review's brief.
   * @param {number} size
   */
  expect(size) {
    const { awaited, brief } = this.#store.state;
    if (awaited?.file.bytes !== size) return;
    this.#briefBefore ??= brief;
    this.#store.setBrief(awaited.brief, {});
  }

  /**
   * There is a report: the first of a file, or one by another brief.
   * @returns {boolean} whether a review was shown
   */
  arrived() {
    const { awaited, model } = this.#store.state;
    const sha256 = model?.report?.file.sha256;
    if (!sha256 || this.#reader.busy) return false;
    if (this.#store.state.notes.length + this.#store.state.decisions.length === 0) this.#recall(sha256);
    if (!awaited) return false;
    if (this.#adopting?.review === awaited) {
      this.#adopt(awaited, this.#adopting.exact);
      return this.#store.state.awaited === null;
    }
    if (awaited.file.sha256 !== sha256) {
      if (this.#briefBefore) this.#store.setBrief(this.#briefBefore, {});
      this.#briefBefore = null;
      return false;
    }
    this.#adopt(awaited, true);
    return this.#store.state.awaited === null;
  }

  /**
   * Carries notes and decisions of a previous version over to the model on screen, whose own come first.
   * @param {readonly SavedNote[]} notes in this model's coordinates
   * @param {readonly Decided[]} decisions by the ids of this model's findings
   * @returns {Promise<{notes: number, lost: number, decisions: number}>} number carried over, and of notes without a place
   */
  async carry(notes, decisions) {
    const { state } = this.#store;
    const texts = new Set(state.notes.map(({ text }) => text));
    const known = new Set(state.decisions.map(({ finding }) => finding));
    const room = (/** @type {number} */ most, /** @type {readonly unknown[]} */ own) => Math.max(0, most - own.length);
    const wanted = { notes: notes.filter(({ text }) => !texts.has(text)), decisions: decisions.filter(({ finding }) => !known.has(finding)) };
    const ours = wanted.notes.slice(0, room(MOST.notes, state.notes)).map((note) => ({ ...note, id: nextId(), place: null }));
    const decided = wanted.decisions.slice(0, room(MOST.decisions, state.decisions));
    this.#store.set({ notes: [...state.notes, ...ours], decisions: [...state.decisions, ...decided] });
    const left = leftWords(wanted.notes.length - ours.length, wanted.decisions.length - decided.length);
    if (left) this.#add(left);
    return { notes: ours.length, lost: await this.#place(ours, false), decisions: decided.length };
  }

  /** Stores notes and decisions, and judges with them. @param {State} state */
  #keep(state) {
    const { model, notes, decisions } = state;
    if (!model?.report) return;
    this.#memory.set(reviewOf(state), { notes, decisions });
    this.#reader.review(givenOf(notes, decisions));
  }

  /** @param {string} sha256 of a file changed in another tab */
  #changedElsewhere(sha256) {
    const kept = this.#memory.about(sha256);
    if (!kept || kept === "damaged") return;
    this.#page.aside(sha256, kept);
    if (this.#store.state.model?.report?.file.sha256 !== sha256) return;
    const { notes, decisions } = kept;
    this.#store.set({ notes, decisions, note: notes.find(({ id }) => id === this.#store.state.note)?.id ?? null });
    void this.#place(
      notes.filter(({ place: known }) => known === null),
      true,
    );
    this.#page.say("Notes or decisions on this file were changed in another tab.");
  }

  /**
   * Applies a review; its file is, or may be, on screen.
   * @param {Review} review
   * @param {boolean} exact whether it is exactly that file
   */
  #adopt(review, exact) {
    const before = this.#store.state.brief;
    this.#store.setBrief(review.brief, {});
    // Findings depend on the brief: they come with the next report.
    this.#adopting = this.#store.state.brief === before ? null : { review, exact };
    if (this.#adopting) return;
    this.#briefBefore = null;
    const theirs = review.notes.map((note) => ({ ...note, id: nextId(), place: null }));
    const { notes, decisions, left } = merged({ notes: theirs, decisions: this.#byKeys(review.decisions) }, this.#store.state);
    this.#store.set({ awaited: null, notes, decisions, grid: { ...this.#store.state.grid, ...review.grid } });
    const { lens, camera } = review;
    const finding = review.finding === null ? null : byKey(review.finding, this.#store.state.model?.report?.shells ?? []);
    this.#page.show({ finding, lens, camera, note: review.note === null ? null : (theirs[review.note - 1]?.id ?? null) });
    void this.#place(theirs, exact).then((lost) => {
      if (lost > 0)
        this.#add(
          `${counted(lost, "note")} of ${theirs.length} ${lost === 1 ? "has" : "have"} no place on this model; the list has ${lost === 1 ? "it" : "them"} all the same.`,
        );
    });
    const from = [review.sender ? `From ${isolated(review.sender)}.` : "", sinceWords(review), left].filter(Boolean).join(" ");
    if (from) this.#add(from);
    const told = holds(review);
    if (told) this.#page.say(`The review is shown: ${told}.`);
  }

  /**
   * The layout has changed: notes stay at their points of the surface, decisions follow their shells.
   * @param {Followed} followed
   */
  follow(followed) {
    this.#store.set(followedBy(this.#store.state.notes, followed));
    const lost = followed.lapsed.reduce((/** @type {number} */ sum, part) => sum + (typeof part === "number" ? part : 0), 0);
    if (lost > 0)
      this.#add(
        `${counted(lost, "decision")} ${lost === 1 ? "does" : "do"} not hold any more: shells that ${lost === 1 ? "it was" : "they were"} about are one with others, on which nothing or something else was decided.`,
      );
  }

  /**
   * Finds the places of notes on the model.
   * @param {readonly Note[]} notes
   * @param {boolean} exact
   * @returns {Promise<number>} how many have no place
   */
  async #place(notes, exact) {
    const { id: modelId, mesh } = this.#store.state.model ?? {};
    if (notes.length === 0 || !mesh) return 0;
    this.#placing += 1;
    const found = await this.#reader.ask({ what: "places", notes: notes.map(({ id: _, place: __, ...saved }) => saved), exact });
    this.#placing -= 1;
    if (!found || this.#store.state.model?.id !== modelId) return 0;
    const places = new Map(notes.map(({ id }, index) => [id, found[index] ?? null]));
    this.#store.set({
      notes: this.#store.state.notes.map((note) => {
        const probe = places.get(note.id);
        return probe ? { ...note, ...pinned(note, pinOf(probe, mesh.centre), mesh.radius) } : note;
      }),
    });
    return found.filter((probe) => probe === null).length;
  }

  /** Appends to the current message. @param {string} text */
  #add(text) {
    this.#store.set({ notice: [this.#store.state.notice, text].filter(Boolean).join(" ") });
  }

  /** @param {readonly Decided[]} decisions */
  #byKeys(decisions) {
    const shells = this.#store.state.model?.report?.shells ?? [];
    return decisions.map((decided) => ({ ...decided, finding: byKey(decided.finding, shells) }));
  }

  /**
   * Restores earlier notes and decisions on this file.
   * @param {string} sha256
   */
  #recall(sha256) {
    const known = this.#memory.about(sha256);
    if (known === "damaged") this.#add("This browser had kept notes or decisions on this file, but they are damaged and were left out.");
    if (known === null || known === "damaged") return;
    const { notes, decisions, isEarlier } = known;
    this.#store.set({ notes, decisions: isEarlier ? this.#byKeys(decisions) : decisions });
    void this.#place(
      notes.filter(({ place: found }) => found === null),
      true,
    );
    if (isEarlier) this.#add(`From an earlier visit on this file: ${holds(known)}.`);
  }

  /** @param {Review} review */
  #trouble(review) {
    const { width, height } = mapOf(review.brief);
    const { cell, words, wordsPx } = review.grid;
    const brief = this.#engine.brief_trouble(review.brief);
    if (brief) return `brief: ${brief}`;
    const grid = this.#engine.grid_trouble(width, height, cell, words, wordsPx);
    return grid ? `grid: ${grid}` : "";
  }
}

/**
 * The parts of a review for a report.
 * @param {readonly SavedNote[]} notes
 * @param {readonly Decided[]} decisions
 */
export function givenOf(notes, decisions) {
  return {
    notes: notes.flatMap(({ text, shell }) => [text, shell]),
    places: Float64Array.from(notes.flatMap(({ face, point, uv }) => [face, ...point, ...(uv ?? [NaN, NaN])])),
    decisions: decisions.flatMap((decided) => [decided.finding, decided.kind === "intended" ? decided.reason : null]),
  };
}

/**
 * Notes and decisions as a report mapped them to another layout.
 * @param {readonly Note[]} before in the same order
 * @param {GivenReview} given
 * @returns {{notes: Note[], decisions: Decided[]}}
 */
export function followedBy(before, { notes: texts, places, decisions: given }) {
  const notes = before.map((note, at) => {
    if (texts[at * 2] !== note.text) return note;
    const [u = NaN, v = NaN] = places.subarray(at * 6 + 4);
    const uv = Number.isNaN(u) ? null : /** @type {[number, number]} */ ([u, v]);
    return { ...note, shell: texts[at * 2 + 1] ?? null, uv, place: note.place && { ...note.place, uv } };
  });
  const decisions = Array.from({ length: given.length / 2 }, (_, at) => {
    const [finding, reason] = [given[at * 2] ?? "", given[at * 2 + 1] ?? null];
    return reason === null ? { finding, kind: /** @type {const} */ ("to-fix") } : { finding, kind: /** @type {const} */ ("intended"), reason };
  });
  return { notes, decisions };
}

/**
 * Two lists merged: the first, then those of the second that are not in it.
 * @param {{notes: Note[], decisions: Decided[]}} theirs
 * @param {Kept} own
 * @returns {{notes: Note[], decisions: Decided[], left: string}} `left`: message about entries beyond the limits
 */
function merged(theirs, own) {
  const key = (/** @type {SavedNote} */ { text, face, triangle }) => JSON.stringify([text, face, triangle]);
  const known = new Set(theirs.notes.map(key));
  const decided = new Set(theirs.decisions.map(({ finding }) => finding));
  const notes = [...theirs.notes, ...own.notes.filter((note) => !known.has(key(note)))];
  const decisions = [...theirs.decisions, ...own.decisions.filter(({ finding }) => !decided.has(finding))];
  return {
    notes: notes.slice(0, MOST.notes),
    decisions: decisions.slice(0, MOST.decisions),
    left: leftWords(notes.length - MOST.notes, decisions.length - MOST.decisions),
  };
}

/**
 * Message about entries beyond a review's limits; empty if there are none.
 * @param {number} notes
 * @param {number} decisions
 */
function leftWords(notes, decisions) {
  const count = Math.max(0, notes) + Math.max(0, decisions);
  const left = [notes > 0 ? counted(notes, "note") : "", decisions > 0 ? counted(decisions, "decision") : ""].filter(Boolean);
  return left.length > 0
    ? `${left.join(" and ")} of yours found no room and ${count > 1 ? "are" : "is"} left out: a review holds ${whole(MOST.notes)} notes and ${whole(MOST.decisions)} decisions.`
    : "";
}
