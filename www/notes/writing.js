/**
 * The dialog in which a note is written or changed. The text is stored as a draft until it is saved or discarded.
 *
 * @import {DraftMemory} from "./draft-memory.js"
 * @import {Note, Store} from "../core/state.js"
 */

import { numberOf } from "./pin.js";
import { asText, tooLong } from "../findings/decisions.js";
import { byId } from "../base/dom.js";
import { MOST } from "../core/review.js";

/** Debounce before the draft is stored, ms. */
const TYPED_MS = 300;

export class Writing {
  #store;
  #drafts;
  #say;
  #dialog = byId("note", HTMLDialogElement);
  #heading = byId("note-title", HTMLElement);
  #field = byId("note-text", HTMLTextAreaElement);
  #trouble = byId("note-trouble", HTMLElement);
  #count = byId("note-count", HTMLElement);
  /** Where the focus was before the dialog. @type {Element | null} */
  #before = null;
  #typed = 0;

  /**
   * @param {Store} store
   * @param {DraftMemory} drafts
   * @param {(text: string) => void} say
   */
  constructor(store, drafts, say) {
    this.#store = store;
    this.#drafts = drafts;
    this.#say = say;
    const form = byId("note-form", HTMLFormElement);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      if (asText(this.#field.value) === "") this.#trouble.textContent = "Write something, or discard the note.";
      else this.finish();
    });
    this.#field.addEventListener("input", () => {
      this.#judge();
      clearTimeout(this.#typed);
      this.#typed = window.setTimeout(() => this.#keepDraft(), TYPED_MS);
    });
    addEventListener("pagehide", () => this.#keepDraft());
    document.addEventListener("visibilitychange", () => this.#keepDraft());
    byId("note-discard", HTMLButtonElement).addEventListener("click", () => this.#close());
    byId("note-close", HTMLButtonElement).addEventListener("click", () => this.finish());
    this.#dialog.addEventListener("keydown", (event) => {
      if (event.key === "Escape") {
        event.stopPropagation();
        this.finish();
      }
      if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) form.requestSubmit();
    });
  }

  /**
   * @param {Note} note that is new or changed
   * @param {string} [text] typed already
   */
  write(note, text = note.text) {
    this.finish();
    // The open note is too long to be saved: it has to be finished first.
    if (this.#store.state.draft) return;
    this.#before = document.activeElement;
    const { notes } = this.#store.state;
    this.#heading.textContent = `Note ${numberOf(notes, note.id) || notes.length + 1} on ${note.shell ?? (note.place ? "a surface without UVs" : "this model")}`;
    this.#field.value = text;
    this.#judge();
    this.#store.set({ draft: note, placing: false });
    this.#dialog.show();
    this.#field.focus();
    if (text !== note.text) this.#keepDraft();
  }

  /**
   * Saves the note.
   * @param {boolean} [now] the model is being replaced: a too long text is cut off
   */
  finish(now = false) {
    const { draft, notes } = this.#store.state;
    if (!draft) return;
    const text = now ? [...asText(this.#field.value)].slice(0, MOST.text).join("") : asText(this.#field.value);
    if (!now && text !== "" && !this.#judge()) {
      this.#field.focus();
      return;
    }
    const known = numberOf(notes, draft.id);
    this.#close();
    if (text === "" || text === draft.text) return;
    const note = { ...draft, text };
    this.#store.set(known ? { notes: notes.map((entry) => (entry.id === note.id ? { ...entry, text } : entry)) } : { notes: [...notes, note] });
    this.#store.set({ note: note.id, finding: null, chosen: [], camera: null });
    this.#say(known ? `Note ${known} is changed.` : `Note ${notes.length + 1} is written.`);
  }

  /** Shows whether it is too long. */
  #judge() {
    const length = [...this.#field.value].length;
    this.#trouble.textContent = tooLong(this.#field.value, MOST.text);
    this.#count.textContent = length > MOST.text * 0.8 ? `${length} of ${MOST.text} characters` : "";
    return this.#trouble.textContent === "";
  }

  /** Stores the draft in case the page closes without a warning. */
  #keepDraft() {
    clearTimeout(this.#typed);
    const { draft, model } = this.#store.state;
    const sha256 = model?.report?.file.sha256;
    if (!draft || !sha256) return;
    if (this.#field.value === draft.text || asText(this.#field.value) === "") this.#drafts.drop();
    else if (!this.#drafts.keep(sha256, { note: draft, text: this.#field.value }))
      this.#count.textContent = "The browser keeps no drafts here: the note lasts once it is kept.";
  }

  #close() {
    clearTimeout(this.#typed);
    this.#drafts.drop();
    this.#store.set({ draft: null });
    this.#dialog.close();
    if (this.#before instanceof HTMLElement && this.#before.isConnected) this.#before.focus();
    else byId("surface-large", HTMLElement).focus();
  }
}
