/**
 * Notes: written at a spot of the model or the sheet, listed under the findings by their numbers, chosen, changed, deleted
 * and brought back.
 *
 * @import {DraftMemory} from "./draft-memory.js"
 * @import {Finding, Probe} from "../core/messages.js"
 * @import {Stage} from "../stage/stage.js"
 * @import {Note, Store} from "../core/state.js"
 */

import { asText, goOnWith, keepReasons, leaveReasons, tooLong } from "../findings/decisions.js";
import { byId, make } from "../base/dom.js";
import { counted, isolated } from "../base/format.js";
import { MOST } from "../core/review.js";
import { nextId, pinOf } from "./reviewing.js";
import { chosenFinding } from "../core/state.js";

/** After the last key, ms, until what is typed is kept. */
const TYPED_MS = 300;
/** What is shown of a draft that was left, characters. */
const SHOWN_MOST = 80;

/**
 * @param {Store} store
 * @param {Stage} stage
 * @param {DraftMemory} drafts
 * @param {{say: (text: string) => void, drawer: {raise: () => void, lower: () => void}, noteOn: (finding: Finding) => void, probeCross: () => boolean, chooseFinding: (finding: Finding | null) => void}} page
 *   `noteOn` begins a note on a finding, `probeCross` one at the spot under the cross where one is shown
 */
export function startNotes(store, stage, drafts, { say, drawer, noteOn, probeCross, chooseFinding }) {
  const section = byId("notes", HTMLElement);
  const list = byId("notes-list", HTMLOListElement);
  const title = byId("notes-title", HTMLElement);
  const jump = byId("notes-jump", HTMLButtonElement);
  const dialog = byId("note", HTMLDialogElement);
  const form = byId("note-form", HTMLFormElement);
  const heading = byId("note-title", HTMLElement);
  const field = byId("note-text", HTMLTextAreaElement);
  const trouble = byId("note-trouble", HTMLElement);
  const count = byId("note-count", HTMLElement);
  const gone = byId("note-gone", HTMLElement);
  /** Where the focus was before the dialog. @type {Element | null} */
  let before = null;
  /** The last one deleted, and where it stood. @type {{note: Note, at: number} | null} */
  let deleted = null;
  let typed = 0;
  /** The file on which a draft was looked for. @type {string | null} */
  let asked = null;
  /** A draft that a tab which is gone has left on this file. @type {Awaited<ReturnType<DraftMemory["left"]>>} */
  let left = null;
  /** The same of a reason for a decision. @type {Awaited<ReturnType<DraftMemory["leftReason"]>>} */
  let leftReason = null;
  /** The last file that had a report. */
  let last = "";
  const leftNotice = byId("draft-left", HTMLElement);

  store.watch(["model"], ({ model }) => (section.hidden = !model?.report));
  store.watch(["notes"], ({ notes }) => {
    jump.hidden = notes.length === 0;
    jump.textContent = counted(notes.length, "note");
    title.textContent = notes.length > 0 ? counted(notes.length, "note") : "Notes";
    const focused = list.contains(document.activeElement) ? document.activeElement?.closest("li")?.dataset.note : undefined;
    list.replaceChildren(...notes.map((note, index) => item(note, index + 1)));
    mark();
    if (focused) buttonOf(focused)?.focus({ preventScroll: true });
  });
  store.watch(["note"], mark);
  store.watch(["model"], ({ model }) => {
    const sha256 = model?.report?.file.sha256 ?? null;
    if (sha256 !== null && sha256 !== last) leaveReasons();
    last = sha256 ?? last;
    if (sha256 !== null && sha256 !== asked) void offerLeft(sha256);
    asked = sha256;
    // Another model has no use for what was deleted from this one.
    if (model?.report) return;
    deleted = left = leftReason = null;
    gone.hidden = leftNotice.hidden = true;
  });
  jump.addEventListener("click", () => {
    drawer.raise();
    section.scrollIntoView({ block: "start" });
    list.querySelector("button")?.focus({ preventScroll: true });
  });

  /**
   * @param {Note} note
   * @param {number} number
   */
  function item(note, number) {
    const button = make("button", { type: "button", class: "card note-card" },
      make("span", { class: "note-number figure", "aria-hidden": "true" }, String(number)),
      make("span", { class: "unseen" }, `Note ${number}: `),
      make("span", { class: "note-text", dir: "auto" }, note.text),
      make("span", { class: "card-where" }, note.place ? (note.shell ?? "surface without UVs") : "not found on this model"));
    button.addEventListener("click", () => {
      drawer.lower();
      choose(note.id);
    });
    return make("li", { "data-note": String(note.id) }, button);
  }

  function mark() {
    const { note, notes } = store.state;
    for (const li of /** @type {NodeListOf<HTMLElement>} */ (list.querySelectorAll("[data-note]"))) {
      const own = li.dataset.note === String(note);
      const [button, line] = li.children;
      if (own) button?.setAttribute("aria-current", "true");
      else button?.removeAttribute("aria-current");
      if (!own) line?.remove();
      if (!own) continue;
      const chosen = notes.find(({ id }) => id === note);
      if (chosen && !line) li.append(actions(chosen));
      li.scrollIntoView({ block: "nearest" });
    }
  }

  /** @param {Note} note */
  function actions(note) {
    const edit = make("button", { type: "button", class: "chip" }, "Edit …");
    const remove = make("button", { type: "button", class: "chip" }, "Delete");
    edit.addEventListener("click", () => write(note));
    remove.addEventListener("click", () => erase(note));
    return make("div", { class: "decide", role: "group", "aria-label": "Of this note" }, edit, remove);
  }

  /** @param {number} id */
  function choose(id) {
    const note = store.state.notes.find((entry) => entry.id === id);
    if (!note) return;
    store.set({ note: id, finding: null, chosen: [], camera: null, lens: note.lens });
    show(note);
    say(`Note ${numberOf(id)}: ${note.text}`);
  }

  /**
   * Flies to the view that a note was written in.
   * @param {Note} note
   */
  function show({ camera, place }) {
    stage.fly(camera, place?.uv ?? null);
  }

  /** @param {string} id */
  function buttonOf(id) {
    return list.querySelector(`[data-note="${id}"]`)?.querySelector("button");
  }

  /** @param {number} id */
  function numberOf(id) {
    return store.state.notes.findIndex((note) => note.id === id) + 1;
  }

  /**
   * @param {Note} note that is new or changed
   * @param {string} [text] typed already
   */
  function write(note, text = note.text) {
    finish();
    // The one that was open is too long to be kept: first things first.
    if (store.state.draft) return;
    before = document.activeElement;
    const known = numberOf(note.id);
    heading.textContent = `Note ${known || store.state.notes.length + 1} on ${note.shell ?? (note.place ? "a surface without UVs" : "this model")}`;
    field.value = text;
    judge();
    store.set({ draft: note, placing: false });
    dialog.show();
    field.focus();
    if (text !== note.text) keepDraft();
  }

  /** Keeps what is typed for the case that the page goes without asking. */
  function keepDraft() {
    clearTimeout(typed);
    const { draft, model } = store.state;
    const sha256 = model?.report?.file.sha256;
    if (!draft || !sha256) return;
    if (field.value === draft.text || asText(field.value) === "") drafts.drop();
    else if (!drafts.keep(sha256, { note: draft, text: field.value })) count.textContent = "The browser keeps no drafts here: the note lasts once it is kept.";
  }

  /** @param {string} sha256 of the model on screen */
  async function offerLeft(sha256) {
    const found = await drafts.left(sha256);
    const isThere = store.state.model?.report?.file.sha256 === sha256;
    if (!isThere || store.state.draft) return;
    left = found;
    if (left) offer(`A note on ${left.note.shell ?? "this model"} was`, left.text);
    else await offerReason(sha256);
    leftNotice.hidden = !left && !leftReason;
  }

  /** @param {string} sha256 of the model on screen */
  async function offerReason(sha256) {
    const found = await drafts.leftReason(sha256);
    const { report } = store.state.model ?? {};
    const finding = report?.findings.find(({ id }) => id === found?.finding);
    leftReason = found && finding && report?.file.sha256 === sha256 ? found : null;
    if (leftReason && finding) offer(`Why “${finding.title}” is intended was`, leftReason.text);
  }

  /**
   * @param {string} what was being written
   * @param {string} text of it
   */
  function offer(what, text) {
    const words = asText(text).replace(/\s+/g, " ");
    const short = [...words].slice(0, SHOWN_MOST).join("");
    byId("draft-left-text", HTMLElement).textContent = `${what} being written when the page was left: “${isolated(short)}${short === words ? "" : " …"}”`;
  }

  keepReasons((finding, text) => {
    const sha256 = store.state.model?.report?.file.sha256;
    if (sha256 && !drafts.keepReason(sha256, finding, text)) say("The browser keeps no drafts here: the reason lasts once it is decided.");
  });

  byId("draft-left-take", HTMLButtonElement).addEventListener("click", () => {
    const { model, notes } = store.state;
    const [taken, reason] = [left, leftReason];
    left = leftReason = null;
    leftNotice.hidden = true;
    const finding = model?.report?.findings.find(({ id }) => id === reason?.finding);
    if (reason && finding) {
      goOnWith(reason.finding, reason.text);
      reason.leave();
      // Its card is made anew, with the form.
      chooseFinding(null);
      chooseFinding(finding);
    }
    if (!taken || !model) return;
    const { note, text } = taken;
    const place = { point: /** @type {[number, number, number]} */ (note.point.map((value, axis) => value - (model.mesh.centre[axis] ?? 0))), uv: note.uv };
    write(notes.find(({ id }) => id === note.id) ?? { ...note, text: "", place }, text);
    if (store.state.draft) taken.leave();
  });
  byId("draft-left-leave", HTMLButtonElement).addEventListener("click", () => {
    left?.leave();
    leftReason?.leave();
    left = leftReason = null;
    leftNotice.hidden = true;
    byId("surface-large", HTMLElement).focus();
  });

  function judge() {
    const length = [...field.value].length;
    trouble.textContent = tooLong(field.value, MOST.text);
    count.textContent = length > MOST.text * 0.8 ? `${length} of ${MOST.text} characters` : "";
    return trouble.textContent === "";
  }

  function close() {
    clearTimeout(typed);
    drafts.drop();
    store.set({ draft: null });
    dialog.close();
    if (before instanceof HTMLElement && before.isConnected) before.focus();
    else byId("surface-large", HTMLElement).focus();
  }

  /**
   * Keeps what was written.
   * @param {boolean} [now] there is no time to shorten what is too long: its beginning is kept
   */
  function finish(now = false) {
    const { draft, notes } = store.state;
    if (!draft) return;
    const text = now ? [...asText(field.value)].slice(0, MOST.text).join("") : asText(field.value);
    if (!now && text !== "" && !judge()) {
      field.focus();
      return;
    }
    const known = numberOf(draft.id);
    close();
    if (text === "" || text === draft.text) return;
    const note = { ...draft, text };
    store.set(known ? { notes: notes.map((entry) => (entry.id === note.id ? { ...entry, text } : entry)) } : { notes: [...notes, note] });
    store.set({ note: note.id, finding: null, chosen: [], camera: null });
    say(known ? `Note ${known} is changed.` : `Note ${notes.length + 1} is written.`);
  }

  /** @param {Note} note */
  function erase(note) {
    const at = store.state.notes.findIndex(({ id }) => id === note.id);
    deleted = { note, at };
    store.set({ notes: store.state.notes.filter(({ id }) => id !== note.id), note: null });
    byId("note-gone-text", HTMLElement).textContent = `Note ${at + 1} is deleted.`;
    drawer.lower();
    gone.hidden = false;
    byId("note-undo", HTMLButtonElement).focus();
  }

  byId("note-undo", HTMLButtonElement).addEventListener("click", () => {
    gone.hidden = true;
    if (!deleted) return;
    const { note, at } = deleted;
    deleted = null;
    const { notes } = store.state;
    store.set({ notes: [...notes.slice(0, at), note, ...notes.slice(at)], note: note.id, finding: null, chosen: [], camera: null });
    drawer.raise();
    buttonOf(String(note.id))?.focus();
    say(`Note ${at + 1} is back.`);
  });
  byId("note-gone-close", HTMLButtonElement).addEventListener("click", () => {
    gone.hidden = true;
    byId("surface-large", HTMLElement).focus();
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (asText(field.value) === "") trouble.textContent = "Write something, or discard the note.";
    else finish();
  });
  field.addEventListener("input", () => {
    judge();
    clearTimeout(typed);
    typed = window.setTimeout(keepDraft, TYPED_MS);
  });
  addEventListener("pagehide", keepDraft);
  document.addEventListener("visibilitychange", keepDraft);
  byId("note-discard", HTMLButtonElement).addEventListener("click", close);
  byId("note-close", HTMLButtonElement).addEventListener("click", () => finish());
  dialog.addEventListener("keydown", (event) => {
    if (event.key === "Escape") {
      event.stopPropagation();
      finish();
    }
    if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) form.requestSubmit();
  });

  const hint = byId("placing", HTMLElement);
  byId("placing-leave", HTMLButtonElement).addEventListener("click", () => store.set({ placing: false }));
  store.watch(["placing"], ({ placing }) => {
    hint.hidden = !placing;
    document.body.classList.toggle("is-placing", placing);
  });

  const notes = {
    choose,
    show,
    finish,

    /**
     * Begins a note at a spot that was probed.
     * @param {Probe | null} probe
     */
    begin(probe) {
      const { model, notes, lens } = store.state;
      if (!model) return;
      if (!probe) {
        store.set({ notice: "There is nothing of the model there. Press on the model, or on a shell of the sheet." });
        return;
      }
      if (notes.length >= MOST.notes) {
        store.set({ notice: `A review holds ${MOST.notes} notes. Delete one before another is written.`, placing: false });
        return;
      }
      write({ id: nextId(), text: "", camera: stage.eye(), lens, ...pinOf(probe, model.mesh.centre) });
    },

    /** Begins a note at the place of the chosen finding. @returns {boolean} whether there is one */
    about() {
      const finding = chosenFinding(store.state);
      if (finding) noteOn(finding);
      return finding !== null;
    },

    /**
     * Begins a note at the spot under the pointer or the cross, or asks for one.
     * @param {boolean} [byKey] then the chosen finding's place will do
     */
    ask(byKey = false) {
      const { model, under, placing } = store.state;
      if (!model?.report) {
        store.set({ notice: "Notes are written once the model is measured." });
        return;
      }
      if (placing) store.set({ placing: false });
      else if (under) notes.begin(under);
      else if (!probeCross() && !(byKey && notes.about())) {
        store.set({ placing: true, notice: "" });
        drawer.lower();
        byId("surface-large", HTMLElement).focus();
      }
    },
  };
  for (const id of ["note-new", "note-new-listed"]) byId(id, HTMLButtonElement).addEventListener("click", () => notes.ask());
  return notes;
}
