/**
 * Notes: written at a place of the model or the sheet, listed under the findings by number, selected, edited, deleted and
 * restored.
 *
 * @import {DraftMemory} from "./draft-memory.js"
 * @import {Finding, Probe} from "../core/messages.js"
 * @import {Reader} from "../model/reader.js"
 * @import {Stage} from "../stage/stage.js"
 * @import {Note, State, Store} from "../core/state.js"
 */

import { Left } from "./left.js";
import { nextId, numberOf, pinOf } from "./pin.js";
import { Writing } from "./writing.js";
import { byId, make } from "../base/dom.js";
import { counted } from "../base/format.js";
import { MOST } from "../core/review.js";
import { chosenFinding } from "../core/state.js";

/**
 * @typedef {object} Page
 * @property {(text: string) => void} say
 * @property {{raise: () => void, lower: () => void}} drawer
 * @property {(finding: Finding | null) => void} chooseFinding
 */

export class Notes {
  #store;
  #stage;
  #reader;
  #page;
  #writing;
  #section = byId("notes", HTMLElement);
  #list = byId("notes-list", HTMLOListElement);
  #title = byId("notes-title", HTMLElement);
  #jump = byId("notes-jump", HTMLButtonElement);
  #gone = byId("note-gone", HTMLElement);
  /** The last deleted note, and its position. @type {{note: Note, at: number} | null} */
  #deleted = null;

  /**
   * @param {Store} store
   * @param {Stage} stage
   * @param {Reader} reader
   * @param {DraftMemory} drafts
   * @param {Page} page
   */
  constructor(store, stage, reader, drafts, page) {
    this.#store = store;
    this.#stage = stage;
    this.#reader = reader;
    this.#page = page;
    this.#writing = new Writing(store, drafts, page.say);
    store.watch(["notes"], ({ notes }) => this.#fill(notes));
    store.watch(["note"], () => this.#mark());
    store.watch(["model"], ({ model }) => {
      this.#section.hidden = !model?.report;
      // Notes deleted from another model cannot be restored here.
      if (!model?.report) this.#leaveDeleted();
    });
    new Left(store, drafts, this.#writing, page);
    this.#jump.addEventListener("click", () => {
      page.drawer.raise();
      this.#section.scrollIntoView({ block: "start" });
      this.#list.querySelector("button")?.focus({ preventScroll: true });
    });
    byId("note-undo", HTMLButtonElement).addEventListener("click", () => this.#bringBack());
    byId("note-gone-close", HTMLButtonElement).addEventListener("click", () => {
      this.#gone.hidden = true;
      byId("surface-large", HTMLElement).focus();
    });
    for (const id of ["note-new", "note-new-listed"]) byId(id, HTMLButtonElement).addEventListener("click", () => this.ask());
    byId("placing-leave", HTMLButtonElement).addEventListener("click", () => store.set({ placing: false }));
    store.watch(["placing"], ({ placing }) => {
      byId("placing", HTMLElement).hidden = !placing;
      document.body.classList.toggle("is-placing", placing);
    });
  }

  /** @param {number} id */
  choose(id) {
    const { notes } = this.#store.state;
    const note = notes.find((entry) => entry.id === id);
    if (!note) return;
    this.#store.set({ note: id, finding: null, chosen: [], camera: null, lens: note.lens });
    this.show(note);
    this.#page.say(`Note ${numberOf(notes, id)}: ${note.text}`);
  }

  /**
   * Moves the camera to the view of a note.
   * @param {Note} note
   */
  show({ camera, place }) {
    this.#stage.views.fly(camera, place?.uv ?? null);
  }

  /**
   * Saves the note that is being edited.
   * @param {boolean} [now] the model is being replaced: a too long text is cut off
   * @returns {boolean} false where it cannot be kept yet
   */
  finish(now) {
    this.#writing.finish(now);
    return this.#store.state.draft === null;
  }

  /**
   * Begins a note at a probed place.
   * @param {Probe | null} probe
   */
  begin(probe) {
    const { model, notes, lens } = this.#store.state;
    if (!model) return;
    if (!probe) {
      this.#store.set({ notice: "There is nothing of the model there. Press on the model, or on a shell of the sheet." });
      return;
    }
    if (notes.length >= MOST.notes) {
      this.#store.set({ notice: `A review holds ${MOST.notes} notes. Delete one before another is written.`, placing: false });
      return;
    }
    this.#writing.write({ id: nextId(), text: "", camera: this.#stage.views.eye(), lens, ...pinOf(probe, model.mesh.centre) });
  }

  /** Begins a note at the place of the selected finding. @returns {boolean} whether there is one */
  about() {
    const finding = chosenFinding(this.#store.state);
    if (finding) void this.#beginOn(finding);
    return finding !== null;
  }

  /**
   * Begins a note at the place under the pointer or the crosshair, or asks for one.
   * @param {boolean} [byKey] then the selected finding's place is used
   */
  ask(byKey = false) {
    const { model, under, placing } = this.#store.state;
    if (!model?.report) {
      this.#store.set({ notice: "Notes are written once the model is measured." });
      return;
    }
    if (placing) this.#store.set({ placing: false });
    else if (under) this.begin(under);
    else if (!this.#beginUnderCross() && !(byKey && this.about())) {
      this.#store.set({ placing: true, notice: "" });
      this.#page.drawer.lower();
      byId("surface-large", HTMLElement).focus();
    }
  }

  /** Probes under the crosshair, and begins a note there. @returns {boolean} whether the crosshair is shown */
  #beginUnderCross() {
    const order = this.#stage.hands.crossed();
    if (order) this.#reader.probe({ purpose: "choose", order, answer: (probe) => this.begin(probe) });
    return order !== null;
  }

  /**
   * Begins a note on a finding, at the first of its places that is on its shells.
   * @param {Finding} finding
   */
  async #beginOn(finding) {
    /** @type {Probe | null} */
    let nearest = null;
    for (const order of this.#stage.views.spotsOf(finding)) {
      const probe = await new Promise((/** @type {(probe: Probe | null) => void} */ answer) => this.#reader.probe({ purpose: "choose", order, answer }));
      if (this.#store.state.finding !== finding.id) return;
      nearest ??= probe;
      if (!probe || (finding.shells.length > 0 && (probe.shell === null || !finding.shells.includes(probe.shell)))) continue;
      nearest = probe;
      break;
    }
    this.begin(nearest);
  }

  /** @param {State["notes"]} notes */
  #fill(notes) {
    this.#jump.hidden = notes.length === 0;
    this.#jump.textContent = counted(notes.length, "note");
    this.#title.textContent = notes.length > 0 ? counted(notes.length, "note") : "Notes";
    const focused = this.#list.contains(document.activeElement) ? document.activeElement?.closest("li")?.dataset.note : undefined;
    this.#list.replaceChildren(...notes.map((note, index) => this.#item(note, index + 1)));
    this.#mark();
    if (focused) this.#buttonOf(focused)?.focus({ preventScroll: true });
  }

  /**
   * @param {Note} note
   * @param {number} number
   */
  #item(note, number) {
    const button = make(
      "button",
      { type: "button", class: "card note-card" },
      make("span", { class: "note-number figure", "aria-hidden": "true" }, String(number)),
      make("span", { class: "unseen" }, `Note ${number}: `),
      make("span", { class: "note-text", dir: "auto" }, note.text),
      make("span", { class: "card-where" }, note.place ? (note.shell ?? "surface without UVs") : "not found on this model"),
    );
    button.addEventListener("click", () => {
      this.#page.drawer.lower();
      this.choose(note.id);
    });
    return make("li", { "data-note": String(note.id) }, button);
  }

  /** Marks the selected note and adds its buttons. */
  #mark() {
    const { note, notes } = this.#store.state;
    for (const li of /** @type {NodeListOf<HTMLElement>} */ (this.#list.querySelectorAll("[data-note]"))) {
      const own = li.dataset.note === String(note);
      const [button, line] = li.children;
      if (own) button?.setAttribute("aria-current", "true");
      else button?.removeAttribute("aria-current");
      if (!own) line?.remove();
      if (!own) continue;
      const chosen = notes.find(({ id }) => id === note);
      if (chosen && !line) li.append(this.#actions(chosen));
      li.scrollIntoView({ block: "nearest" });
    }
  }

  /** @param {Note} note */
  #actions(note) {
    const edit = make("button", { type: "button", class: "chip" }, "Edit …");
    const remove = make("button", { type: "button", class: "chip" }, "Delete");
    edit.addEventListener("click", () => this.#writing.write(note));
    remove.addEventListener("click", () => this.#erase(note));
    return make("div", { class: "decide", role: "group", "aria-label": "Of this note" }, edit, remove);
  }

  /** @param {string} id */
  #buttonOf(id) {
    return this.#list.querySelector(`[data-note="${id}"]`)?.querySelector("button");
  }

  /** @param {Note} note */
  #erase(note) {
    const { notes } = this.#store.state;
    const at = numberOf(notes, note.id) - 1;
    this.#deleted = { note, at };
    this.#store.set({ notes: notes.filter(({ id }) => id !== note.id), note: null });
    byId("note-gone-text", HTMLElement).textContent = `Note ${at + 1} is deleted.`;
    this.#page.drawer.lower();
    this.#gone.hidden = false;
    byId("note-undo", HTMLButtonElement).focus();
  }

  #bringBack() {
    const deleted = this.#deleted;
    this.#leaveDeleted();
    if (!deleted) return;
    const { note, at } = deleted;
    const { notes } = this.#store.state;
    this.#store.set({ notes: [...notes.slice(0, at), note, ...notes.slice(at)], note: note.id, finding: null, chosen: [], camera: null });
    this.#page.drawer.raise();
    this.#buttonOf(String(note.id))?.focus();
    this.#page.say(`Note ${at + 1} is back.`);
  }

  #leaveDeleted() {
    this.#deleted = null;
    this.#gone.hidden = true;
  }
}
