/**
 * The page's one store. Which parts are in the address bar: app/address.js.
 *
 * `model` is on screen; `job` is in progress. They differ while a second file is being read: the first stays complete
 * until the second has something to show.
 *
 * @import {Decided, Eye, Review, SavedNote, Since} from "./review.js"
 * @import {Areas, Brief, BriefForm, Finding, Histograms, LensName, LineBuffers, MeshBuffers, Probe, Report, Summary, UvsMessage, Warning} from "./messages.js"
 */

import { GRID_DEFAULTS, LENS_NAMES, MAP } from "./known.js";

/**
 * @typedef {object} Model
 * @property {number} id
 * @property {number} revision which layout `mesh`, `triangles` and `lines` are of; report and areas follow
 * @property {number} undo how many steps can be undone
 * @property {number} redo how many can be redone
 * @property {string} name
 * @property {number} bytes
 * @property {MeshBuffers} mesh
 * @property {Summary} summary
 * @property {Uint32Array} triangles
 * @property {LineBuffers} lines
 * @property {Histograms} histograms
 * @property {Areas | null} areas null until measured
 * @property {Report | null} report null until measured
 * @property {string[]} shells labels by id, once measured
 * @property {string | null} link that carried it, as in {@link Job}; null for a file's
 * @property {Handed | null} handed as in {@link Job}; null if the user opened it
 */

/**
 * @typedef {object} Job
 * @property {string} name
 * @property {number} bytes read
 * @property {number} total
 * @property {string} stage empty while reading
 * @property {string} [link] that carries the model, without its `#m=`
 * @property {Handed} [handed] set if the frame's parent sent the model
 * @property {boolean} [again] whether it is the model on screen, whose worker has ended
 */

/** A model that the frame's parent sent, by its name there; a new object each time. @typedef {{readonly id: string}} Handed */

/**
 * The grid settings.
 * @typedef {object} Grid
 * @property {number} width of the map, px
 * @property {number} height
 * @property {number} cell side of a cell, map px
 * @property {string} words across the sheet; empty for none
 * @property {number} wordsPx their size, map px to the em
 */

/**
 * A note with an id that stays while its number changes, and its place on the model on screen: null if it has none
 * there, or it is not known yet. `point` is minus the mesh's centre.
 * @typedef {SavedNote & {id: number, place: {point: [number, number, number], uv: [number, number] | null} | null}} Note
 */

/**
 * State of the Picture lens for the model on screen.
 * @typedef {object} Pictures
 * @property {{name: string, shows: string, trouble: boolean}[]} rows one a material in use; `name` is empty for surface without one
 * @property {string[]} choices pictures that no material names, any of which can be the user's own
 * @property {string} own the one that is; empty for none
 * @property {string} on which materials show it: `all`, `rest` (those without a picture) or `=` and a name
 * @property {string[]} missing files that the model needs and that are not here
 * @property {boolean} shown whether any picture is
 * @property {boolean} busy whether one is being read
 */

/** @typedef {{code: string, title: string, message: string, detail: string, place: string, next: string, warnings: Warning[], again?: boolean}} Problem `again`: whether the model on screen can be opened once more */

/**
 * @typedef {object} State
 * @property {"loading" | "ok" | "failed"} engine
 * @property {"gl" | "lost" | "none"} graphics
 * @property {Brief} brief the active one; only what differs from the defaults
 * @property {BriefForm | null} form keys, explanations, defaults and presets of briefs; null until fetched
 * @property {Model | null} model
 * @property {string} student whose model of a class is on screen; empty for none
 * @property {Since | null} since comparison with the student's previous upload
 * @property {Job | null} job
 * @property {string} judging what is measured again under another brief; empty for nothing
 * @property {Problem | null} problem
 * @property {string} notice information that is not a failure; empty for none
 * @property {LensName} lens
 * @property {Pictures} pictures what the Picture lens shows
 * @property {boolean} flags
 * @property {boolean} leaning whether Grid shows tilt
 * @property {[number, number] | null} isolate values of the lens to keep
 * @property {string | null} finding id
 * @property {string | null} kind findings of this kind only
 * @property {number[]} chosen shells
 * @property {Eye | null} camera set by the user; null after a selection or a fit
 * @property {readonly Note[]} notes on the model on screen, in the order of their numbers
 * @property {readonly Decided[]} decisions on its findings
 * @property {number | null} note id of the selected one
 * @property {Note | null} draft the note that is being written
 * @property {boolean} placing whether the next press on model or sheet is where a note belongs
 * @property {Review | null} awaited a review that waits for its file
 * @property {boolean} previous whether the previous one of two compared versions is on screen
 * @property {Probe | null} under the pointer
 * @property {Grid} grid
 * @property {number} drawer share of the window that the pulled-up findings take, on a narrow screen
 * @property {string} up the brief's `tilt.up` in the 3D view's notation: without plus
 * @property {number} sheet the one that is shown, by its place in the report's list
 * @property {boolean} swapped the sheet has the large place
 * @property {boolean} beside sheet and model are side by side
 * @property {boolean} large the smaller of both has most of the area
 */

/**
 * The model with another layout; its measures come later.
 * @param {Model} model
 * @param {UvsMessage} message
 * @returns {Model}
 */
export function withUvs(model, { revision, uvs: { uv, bounds_uv, undo, redo }, counts, triangles, lines }) {
  const { mesh, summary } = model;
  return {
    ...model,
    revision,
    undo,
    redo,
    mesh: { ...mesh, uv, bounds_uv },
    summary: { ...summary, counts: { ...summary.counts, ...counts } },
    triangles,
    lines,
  };
}

/**
 * The map's size, px.
 * @param {Brief} brief
 */
export function mapOf(brief) {
  return { width: brief.map?.width_px ?? MAP.width, height: brief.map?.height_px ?? MAP.height };
}

/**
 * A brief with other values, section by section; null removes a value. Only values that differ from the defaults are kept.
 * @param {Brief} brief
 * @param {object} patch
 * @param {Brief} defaults
 * @returns {Brief}
 */
export function mergeBrief(brief, patch, defaults) {
  const [old, changed, usual] = /** @type {Record<string, Record<string, unknown>>[]} */ ([brief, patch, defaults]);
  const merged = Object.keys({ ...usual, ...old, ...changed }).map((section) => {
    const values = { ...old?.[section], ...changed?.[section] };
    const same = (/** @type {string} */ key) => JSON.stringify(values[key]) === JSON.stringify(usual?.[section]?.[key]);
    return /** @type {const} */ ([
      section,
      Object.fromEntries(Object.entries(values).filter(([key, value]) => value !== null && value !== undefined && !same(key))),
    ]);
  });
  return Object.fromEntries(merged.filter(([, values]) => Object.keys(values).length > 0));
}

/**
 * @param {string | null | undefined} name
 * @returns {LensName | null}
 */
export function asLens(name) {
  return LENS_NAMES.find((known) => known === name) ?? null;
}

/** @type {Pictures} */
export const NO_PICTURES = Object.freeze({ rows: [], choices: [], own: "", on: "all", missing: [], shown: false, busy: false });

/** @returns {State} */
function initial() {
  return {
    engine: "loading",
    graphics: "gl",
    brief: {},
    form: null,
    model: null,
    student: "",
    since: null,
    job: null,
    judging: "",
    problem: null,
    notice: "",
    lens: "grid",
    pictures: NO_PICTURES,
    flags: true,
    leaning: false,
    isolate: null,
    finding: null,
    kind: null,
    chosen: [],
    camera: null,
    notes: [],
    decisions: [],
    note: null,
    draft: null,
    placing: false,
    awaited: null,
    previous: false,
    under: null,
    grid: { ...mapOf({}), ...GRID_DEFAULTS },
    drawer: 0,
    up: "y",
    sheet: 0,
    swapped: false,
    beside: false,
    large: false,
  };
}

export class Store {
  /** @type {State} */
  #state = initial();
  /** @type {{keys: (keyof State)[], heard: (state: State) => void}[]} */
  #watchers = [];
  /** Deferred watchers with a pending call. @type {Set<(state: State) => void>} */
  #later = new Set();

  /** @returns {Readonly<State>} */
  get state() {
    return this.#state;
  }

  /** @param {Partial<State>} change */
  set(change) {
    const before = this.#state;
    const after = { ...before, ...change };
    this.#state = after;
    for (const { keys, heard } of this.#watchers) {
      if (keys.some((key) => before[key] !== after[key])) heard(this.#state);
    }
  }

  /**
   * Changes values of the brief, section by section; null removes a value.
   * @param {object} patch
   * @param {Brief} [from] what it is put upon, if not the active brief
   */
  setBrief(patch, from = this.#state.brief) {
    const brief = mergeBrief(from, patch, this.#state.form?.defaults ?? {});
    if (JSON.stringify(brief) === JSON.stringify(this.#state.brief)) return;
    const up = (brief.tilt?.up ?? "+y").replace("+", "");
    // Another up axis fits the whole model in the view again.
    this.set({ brief, up, camera: up === this.#state.up ? this.#state.camera : null });
  }

  /**
   * Sets the up axis, for the 3D view and the brief.
   * @param {string} up
   */
  setUp(up) {
    this.setBrief({ tilt: { up: up.startsWith("-") ? up : `+${up}` } });
  }

  /**
   * Calls `heard` now and whenever one of `keys` has changed.
   * @param {(keyof State)[]} keys
   * @param {(state: State) => void} heard
   */
  watch(keys, heard) {
    this.#watchers.push({ keys, heard });
    heard(this.#state);
  }

  /**
   * The same for slow watchers that can wait: each in a separate task, once for several changes.
   * @param {(keyof State)[]} keys
   * @param {(state: State) => void} heard
   */
  watchLater(keys, heard) {
    this.watch(keys, () => {
      if (this.#later.size === 0) setTimeout(() => this.#tellNext());
      this.#later.add(heard);
    });
  }

  #tellNext() {
    const [heard] = this.#later;
    if (!heard) return;
    this.#later.delete(heard);
    if (this.#later.size > 0) setTimeout(() => this.#tellNext());
    heard(this.#state);
  }

  /** Whether no call is pending. */
  get told() {
    return this.#later.size === 0;
  }
}

/**
 * The used tiles of a UDIM map; none of a single one.
 * @param {State} state
 * @returns {number[]}
 */
export function tilesOf({ brief, model }) {
  return brief.map?.tiles === "udim" ? (model?.report?.sheet.tiles ?? []) : [];
}

/**
 * @param {State} state
 * @returns {Finding | null}
 */
export function chosenFinding({ model, finding }) {
  return model?.report?.findings.find(({ id }) => id === finding) ?? null;
}
