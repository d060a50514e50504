/**
 * What becomes of a review in the page: taken from a link or a file it waits for the model it is about, and is then shown on
 * it; the notes and decisions on each file are kept by its SHA-256 (notes/memory.js), and go to the worker, which judges with
 * them.
 *
 * @import {Engine, Probe} from "../core/messages.js"
 * @import {Reader} from "../model/reader.js"
 * @import {Decided, Review, SavedNote, Shown} from "../core/review.js"
 * @import {Kept, ReviewMemory} from "./memory.js"
 * @import {Note, State, Store} from "../core/state.js"
 */

import { byId, make } from "../base/dom.js";
import { CHECKS } from "../findings/checks.js";
import { bytes, counted, isolated, whole } from "../base/format.js";
import { briefName } from "../findings/limits.js";
import { asLabel, byKey, MOST, parseReview, Refused, reviewOf } from "../core/review.js";
import { mapOf } from "../core/state.js";

/** Digits of a SHA-256 that people compare: no two files of one folder share them by chance. */
const SHOWN_DIGITS = 12;

/** Values of a brief that are shown of a link whose file is not here, and characters of each. */
const BRIEF_SHOWN = 6;
const VALUE_SHOWN = 60;

/** Places this near, as a share of the model's radius, are one that was rounded. */
const SAME = 1e-4;

/** An id that no other note has, of this tab or another: 53 bits by chance. */
export function nextId() {
  const [high = 0, low = 0] = crypto.getRandomValues(new Uint32Array(2));
  return (high % 2 ** 21) * 2 ** 32 + low;
}

/**
 * Where a probe found a note to be, as a review and as the page say it.
 * @param {Probe} probe
 * @param {readonly number[]} centre of the mesh
 * @returns {Omit<Note, "id" | "text" | "camera" | "lens">}
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
 * @param {Store} store
 * @param {Reader} reader
 * @param {Engine} engine
 * @param {ReviewMemory} memory
 * @param {{show: (shown: Shown) => void, say: (text: string) => void, aside: (sha256: string, kept: Kept) => void}} page `show` takes
 *   the id of a note; `aside` hears what was written about a file in another tab
 */
export function startReviewing(store, reader, engine, memory, { show, say, aside }) {
  const card = byId("other", HTMLElement);
  /** The brief that was active before that of an awaited review was taken for a file of the same size. @type {State["brief"] | null} */
  let briefBefore = null;
  /** What is shown as soon as the model is judged by its brief. @type {{review: Review, exact: boolean} | null} */
  let adopting = null;
  let placing = 0;
  /** What the worker of each model judges with. @type {WeakMap<object, string>} */
  const told = new WeakMap();

  store.watch(["notes", "decisions"], (state) => {
    const { model, notes, decisions } = state;
    if (!model?.report) return;
    memory.set(reviewOf(state), { notes, decisions });
    const given = givenOf(notes, decisions);
    const text = JSON.stringify({ ...given, places: [...given.places] });
    if (told.has(model.mesh) ? told.get(model.mesh) === text : notes.length + decisions.length === 0) return;
    told.set(model.mesh, text);
    reader.review(given);
  });
  memory.changed = (sha256) => {
    const kept = memory.about(sha256);
    if (!kept || kept === "damaged") return;
    aside(sha256, kept);
    if (store.state.model?.report?.file.sha256 !== sha256) return;
    const { notes, decisions } = kept;
    store.set({ notes, decisions, note: notes.find(({ id }) => id === store.state.note)?.id ?? null });
    void place(notes.filter(({ place: known }) => known === null), true);
    say("Notes or decisions on this file were changed in another tab.");
  };
  memory.cut = (sha256, notes, decisions) => {
    if (store.state.model?.report?.file.sha256 === sha256) add(leftWords(notes, decisions));
  };
  store.watch(["awaited", "model", "form"], fill);
  byId("other-show", HTMLButtonElement).addEventListener("click", () => {
    const { awaited } = store.state;
    if (awaited) adopt(awaited, false);
  });
  for (const id of ["other-leave", "awaited-leave"]) {
    byId(id, HTMLButtonElement).addEventListener("click", () => {
      store.set({ awaited: null, notice: store.state.model ? "The review was left. The model on screen stays as it is." : "" });
    });
  }

  function fill() {
    const { awaited, model } = store.state;
    const sha256 = model?.report?.file.sha256;
    card.hidden = !awaited || !sha256 || awaited.file.sha256 === sha256;
    byId("awaited", HTMLElement).hidden = !awaited;
    byId("dropzone-title", HTMLElement).textContent = awaited ? `Drop ${isolated(awaited.file.name)} anywhere` : "Drop an OBJ anywhere";
    if (!awaited) return;
    byId("awaited-file", HTMLElement).replaceChildren(...named(awaited.file));
    fillAwaited(awaited);
    if (card.hidden || !model?.report) return;
    const { file } = model.report;
    const another = file.name === awaited.file.name ? "The name is the same, the content is not." : "";
    byId("other-text", HTMLElement).replaceChildren("The review is about ", ...named(awaited.file), ". On screen is ", ...named(file), `. ${another}`);
  }

  /**
   * What can be read before the file is there.
   * @param {Review} review
   */
  function fillAwaited(review) {
    const { sender, brief, notes, decisions } = review;
    byId("awaited-sender", HTMLElement).replaceChildren(...(sender ? ["From ", make("bdi", { class: "about-file" }, sender), ". "] : []));
    byId("awaited-holds", HTMLElement).textContent = [holds(review), sinceWords(review)].filter(Boolean).join(". ");
    byId("awaited-brief", HTMLElement).textContent = briefWords(brief);
    const reasons = decisions.map((decided) => make("li", { class: "awaited-decision", dir: "auto" },
      make("b", {}, decided.kind === "intended" ? "Intended" : "To fix"), ` (${kindWords(decided.finding)})${decided.kind === "intended" ? `: ${decided.reason}` : ""}`));
    const list = byId("awaited-notes", HTMLElement);
    list.replaceChildren(...notes.map(({ text }) => make("li", { dir: "auto" }, text)), ...reasons);
    list.hidden = list.childElementCount === 0;
  }

  /** @param {Review["brief"]} brief */
  function briefWords(brief) {
    const values = Object.entries(brief).flatMap(([section, keys]) => Object.entries(keys).map(([key, value]) => `${section}.${key} ${JSON.stringify(value)}`));
    if (values.length === 0) return "";
    const more = values.length > BRIEF_SHOWN ? `, and ${whole(values.length - BRIEF_SHOWN)} more` : "";
    return `Checked against ${briefName(brief, store.state.form).name}: ${values.slice(0, BRIEF_SHOWN).map((value) => isolated([...value].slice(0, VALUE_SHOWN).join(""))).join(", ")}${more}.`;
  }

  /**
   * Shows what a review says; its file is, or may be, on screen.
   * @param {Review} review
   * @param {boolean} exact whether it is that very file
   */
  function adopt(review, exact) {
    const before = store.state.brief;
    store.setBrief(review.brief, {});
    // Findings go by the brief; they are there with the next report.
    adopting = store.state.brief === before ? null : { review, exact };
    if (adopting) return;
    briefBefore = null;
    const theirs = review.notes.map((note) => ({ ...note, id: nextId(), place: null }));
    const { notes, decisions, left } = merged({ notes: theirs, decisions: byKeys(review.decisions) }, store.state);
    store.set({ awaited: null, notes, decisions, grid: { ...store.state.grid, ...review.grid } });
    const { lens, camera } = review;
    const finding = review.finding === null ? null : byKey(review.finding, store.state.model?.report?.shells ?? []);
    show({ finding, lens, camera, note: review.note === null ? null : (theirs[review.note - 1]?.id ?? null) });
    void place(theirs, exact).then((lost) => {
      if (lost > 0) add(`${counted(lost, "note")} of ${theirs.length} ${lost === 1 ? "has" : "have"} no place on this model; the list has ${lost === 1 ? "it" : "them"} all the same.`);
    });
    const from = [review.sender ? `From ${isolated(review.sender)}.` : "", sinceWords(review), left].filter(Boolean).join(" ");
    if (from) add(from);
    const told = holds(review);
    if (told) say(`The review is shown: ${told}.`);
  }

  /**
   * Finds where notes are on the model.
   * @param {readonly Note[]} notes
   * @param {boolean} exact
   * @returns {Promise<number>} how many have no place
   */
  async function place(notes, exact) {
    const { mesh } = store.state.model ?? {};
    if (notes.length === 0 || !mesh) return 0;
    placing += 1;
    const found = await reader.ask({ what: "places", notes: notes.map(({ id: _, place: __, ...saved }) => saved), exact });
    placing -= 1;
    if (!found || store.state.model?.mesh !== mesh) return 0;
    const places = new Map(notes.map(({ id }, index) => [id, found[index] ?? null]));
    store.set({
      notes: store.state.notes.map((note) => {
        const probe = places.get(note.id);
        return probe ? { ...note, ...pinned(note, pinOf(probe, mesh.centre), mesh.radius) } : note;
      }),
    });
    return found.filter((probe) => probe === null).length;
  }

  /** Says something besides what is said already. @param {string} text */
  function add(text) {
    store.set({ notice: [store.state.notice, text].filter(Boolean).join(" ") });
  }

  /** @param {readonly Decided[]} decisions */
  function byKeys(decisions) {
    const shells = store.state.model?.report?.shells ?? [];
    return decisions.map((decided) => ({ ...decided, finding: byKey(decided.finding, shells) }));
  }

  /**
   * Has what was written about this file before.
   * @param {string} sha256
   */
  function recall(sha256) {
    const known = memory.about(sha256);
    if (known === "damaged") add("This browser had kept notes or decisions on this file, but they are damaged and were left out.");
    if (known === null || known === "damaged") return;
    const { notes, decisions, isEarlier } = known;
    store.set({ notes, decisions: isEarlier ? byKeys(decisions) : decisions });
    void place(notes.filter(({ place: found }) => found === null), true);
    if (isEarlier) add(`From an earlier visit on this file: ${holds(known)}.`);
  }

  /** @param {Review} review */
  function trouble(review) {
    const { width, height } = mapOf(review.brief);
    const { cell, words, wordsPx } = review.grid;
    const brief = engine.brief_trouble(review.brief);
    if (brief) return `brief: ${brief}`;
    const grid = engine.grid_trouble(width, height, cell, words, wordsPx);
    return grid ? `grid: ${grid}` : "";
  }

  /** @param {string} why */
  function refuse(why) {
    store.set({ awaited: null, notice: `The review could not be taken. ${why}` });
  }

  const reviewing = {
    refuse,

    /**
     * Takes a review: at once where its file is on screen, otherwise when it comes.
     * @param {Review} review
     */
    take(review) {
      const why = trouble(review);
      if (why) return refuse(why);
      store.set({ awaited: review, notice: "" });
      reviewing.arrived();
    },

    /**
     * Takes a saved review.
     * @param {File} file
     */
    async open(file) {
      try {
        if (file.size > MOST.json) throw new Refused("It is too large for a review.");
        reviewing.take(parseReview(await file.text()));
      } catch (error) {
        refuse(`${file.name}: ${error instanceof Refused ? error.message : "it could not be read."}`);
      }
    },

    /**
     * A file is about to be read: where it has the size of the awaited one, it is measured by that review's brief.
     * @param {number} size
     */
    expect(size) {
      const { awaited, brief } = store.state;
      if (awaited?.file.bytes !== size) return;
      briefBefore ??= brief;
      store.setBrief(awaited.brief, {});
    },

    /**
     * There is a report: the first of a file, or one by another brief.
     * @returns {boolean} whether a review was shown
     */
    arrived() {
      const { awaited, model } = store.state;
      const sha256 = model?.report?.file.sha256;
      if (!sha256 || reader.busy) return false;
      if (store.state.notes.length + store.state.decisions.length === 0) recall(sha256);
      if (!awaited) return false;
      if (adopting?.review === awaited) {
        adopt(awaited, adopting.exact);
        return store.state.awaited === null;
      }
      if (awaited.file.sha256 !== sha256) {
        if (briefBefore) store.setBrief(briefBefore, {});
        briefBefore = null;
        return false;
      }
      adopt(awaited, true);
      return store.state.awaited === null;
    },

    /**
     * Takes what was written and decided about a previous version to the model on screen, whose own comes first.
     * @param {readonly SavedNote[]} notes in this model's coordinates
     * @param {readonly Decided[]} decisions by the ids of this model's findings
     * @returns {Promise<{notes: number, lost: number, decisions: number}>} how much came over, and how many notes found no place
     */
    async carry(notes, decisions) {
      const { state } = store;
      const texts = new Set(state.notes.map(({ text }) => text));
      const known = new Set(state.decisions.map(({ finding }) => finding));
      const room = (/** @type {number} */ most, /** @type {readonly unknown[]} */ own) => Math.max(0, most - own.length);
      const wanted = { notes: notes.filter(({ text }) => !texts.has(text)), decisions: decisions.filter(({ finding }) => !known.has(finding)) };
      const ours = wanted.notes.slice(0, room(MOST.notes, state.notes)).map((note) => ({ ...note, id: nextId(), place: null }));
      const decided = wanted.decisions.slice(0, room(MOST.decisions, state.decisions));
      store.set({ notes: [...state.notes, ...ours], decisions: [...state.decisions, ...decided] });
      const left = leftWords(wanted.notes.length - ours.length, wanted.decisions.length - decided.length);
      if (left) add(left);
      return { notes: ours.length, lost: await place(ours, false), decisions: decided.length };
    },

    /** Whether a review is still being put on screen. */
    get busy() {
      return placing > 0;
    },
  };
  return reviewing;
}

/**
 * A note's pin on this model. What was written of it stays as it was where it says the same: weights are rounded, and a note
 * must not creep when it is opened again and again.
 * @param {SavedNote} note
 * @param {ReturnType<typeof pinOf>} found
 * @param {number} radius of the model
 */
function pinned({ face, triangle, barycentric, point, uv }, found, radius) {
  const off = Math.hypot(...point.map((value, axis) => value - (found.point[axis] ?? 0)));
  const stays = face === found.face && triangle === found.triangle && off <= SAME * radius && (uv === null) === (found.uv === null);
  return stays ? { ...found, barycentric, point, uv } : found;
}

/**
 * What a report takes over.
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
 * What comes first, and of one's own what is not in it.
 * @param {{notes: Note[], decisions: Decided[]}} theirs
 * @param {Kept} own
 * @returns {{notes: Note[], decisions: Decided[], left: string}} `left` says what there was no room for
 */
function merged(theirs, own) {
  const key = (/** @type {SavedNote} */ { text, face, triangle }) => JSON.stringify([text, face, triangle]);
  const known = new Set(theirs.notes.map(key));
  const decided = new Set(theirs.decisions.map(({ finding }) => finding));
  const notes = [...theirs.notes, ...own.notes.filter((note) => !known.has(key(note)))];
  const decisions = [...theirs.decisions, ...own.decisions.filter(({ finding }) => !decided.has(finding))];
  return { notes: notes.slice(0, MOST.notes), decisions: decisions.slice(0, MOST.decisions), left: leftWords(notes.length - MOST.notes, decisions.length - MOST.decisions) };
}

/**
 * What found no room in a review; empty for nothing.
 * @param {number} notes
 * @param {number} decisions
 */
export function leftWords(notes, decisions) {
  const count = Math.max(0, notes) + Math.max(0, decisions);
  const left = [notes > 0 ? counted(notes, "note") : "", decisions > 0 ? counted(decisions, "decision") : ""].filter(Boolean);
  return left.length > 0 ? `${left.join(" and ")} of yours found no room and ${count > 1 ? "are" : "is"} left out: a review holds ${whole(MOST.notes)} notes and ${whole(MOST.decisions)} decisions.` : "";
}

/** @param {{since: Review["since"]}} review */
function sinceWords({ since }) {
  return since ? `Since the upload before: ${whole(since.fixed)} fixed, ${whole(since.still)} still there, ${whole(since.new)} new.` : "";
}

/**
 * What a finding is about, by its name alone: its model is not here.
 * @param {string} id
 */
function kindWords(id) {
  const [, label] = CHECKS.findLast(([kind]) => id === kind || id.startsWith(`${kind}-`)) ?? (/^(low|high)-/.test(id) ? ["density", "off density"] : ["", isolated([...id].slice(0, VALUE_SHOWN).join(""))]);
  return label;
}

/** @param {{notes: readonly unknown[], decisions: readonly unknown[]}} review */
function holds({ notes, decisions }) {
  return [notes.length && counted(notes.length, "note"), decisions.length && counted(decisions.length, "decision")].filter(Boolean).join(", ");
}

/** @param {{name: string, bytes: number, sha256: string}} file */
function named(file) {
  return [make("bdi", { class: "about-file" }, file.name), ` (${bytes(file.bytes)}, SHA-256 ${file.sha256.slice(0, SHOWN_DIGITS)}…)`];
}
