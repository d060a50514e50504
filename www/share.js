/**
 * The dialog that shares: one list of kinds, each with how long it is, where it will work, and what it reveals. A kind is
 * made anew whenever the dialog opens or what goes into it changes, unless it takes long: then when somebody asks for it.
 *
 * @import {Review} from "./review.js"
 * @import {Kind, Made, Work} from "./share-kinds.js"
 * @import {Store} from "./state.js"
 */

import { byId, make } from "./dom.js";
import { bytes, counted } from "./format.js";
import { reviewOf } from "./review.js";
import { offer } from "./save.js";

/**
 * Up to how many characters a link arrives whole, and where; the command tells by the same numbers (src/cli/link.rs, with
 * sources): chats and mail by common practice, Firefox 1 MiB, Chromium 2 MiB.
 */
const REACH = /** @type {const} */ ([
  [2000, "Chats, mail, browsers."],
  [8000, "Mail and browsers. Too long for many chats, which cut links after some 2,000 characters."],
  [1_048_576, "Browsers. Too long for chats and for mail as text: they cut it. Put it into a page as the address of a link, or send a file."],
  [2_097_152, "Chromium and browsers made of it. Too long for Firefox, chats and mail: a file is safer."],
]);

/**
 * @param {Store} store
 * @param {Kind[]} kinds
 * @param {(file: File) => void} openReview
 * @returns {{open: () => void, readonly busy: boolean}}
 */
export function startShare(store, kinds, openReview) {
  const dialog = byId("share", HTMLDialogElement);
  const opener = byId("share-open", HTMLButtonElement);
  const notes = byId("share-notes", HTMLInputElement);
  const list = byId("share-kinds", HTMLUListElement);
  const outcome = byId("share-outcome", HTMLElement);
  const input = byId("share-file", HTMLInputElement);
  let turn = 0;
  let busy = false;
  /** How the work of each kind goes, or why it failed. @type {Map<string, {text: string, failed: boolean}>} */
  const works = new Map();

  store.watch(["model", "job", "judging", "awaited"], (state) => {
    const why = whyNot(state);
    opener.setAttribute("aria-disabled", String(why !== ""));
    opener.title = why || "Share this view and its notes (L)";
    if (why && dialog.open) dialog.close();
  });
  store.watch(["notes", "decisions", "camera", "lens", "finding", "note"], () => {
    if (dialog.open) void fill();
  });
  opener.addEventListener("click", open);
  notes.addEventListener("change", fill);
  byId("share-close", HTMLButtonElement).addEventListener("click", () => dialog.close());
  dialog.addEventListener("close", () => {
    for (const { id, work } of kinds) if (works.has(id)) work?.stop();
    works.clear();
  });
  dialog.addEventListener("click", (event) => {
    if (event.target === dialog) dialog.close();
  });
  byId("share-open-file", HTMLButtonElement).addEventListener("click", () => input.click());
  input.addEventListener("change", () => {
    const [file] = input.files ?? [];
    input.value = "";
    if (!file) return;
    dialog.close();
    openReview(file);
  });

  function open() {
    const why = whyNot(store.state);
    if (why) {
      store.set({ notice: why });
      return;
    }
    if (dialog.open) return;
    say("");
    const { state } = store;
    byId("share-with", HTMLElement).hidden = state.notes.length + state.decisions.length === 0;
    void fill();
    dialog.showModal();
  }

  async function fill() {
    const mine = (turn += 1);
    busy = true;
    try {
      const full = reviewOf(store.state);
      const review = notes.checked ? full : { ...full, note: null, notes: [], decisions: [] };
      const rows = await Promise.all(kinds.filter((kind) => kind.offered()).map((kind) => rowOf(kind, review)));
      if (mine === turn) list.replaceChildren(...rows);
    } finally {
      if (mine === turn) busy = false;
    }
  }

  /**
   * @param {Kind} kind
   * @param {Review} review
   */
  async function rowOf(kind, review) {
    if (kind.work && !kind.work.done()) return waiting(kind, kind.work, review);
    try {
      return ready(kind, review, await kind.make(review));
    } catch (error) {
      return item(kind, make("p", { class: "grid-trouble" }, error instanceof Error ? error.message : String(error)));
    }
  }

  /**
   * @param {Kind} kind
   * @param {...Node} children
   */
  function item({ id, title, text }, ...children) {
    return make("li", { class: "share-kind", "data-kind": id }, make("h3", {}, title), make("p", {}, text), ...children);
  }

  /**
   * @param {Kind} kind
   * @param {Work} work
   * @param {Review} review
   */
  function waiting(kind, work, review) {
    const facts = make("dl", { class: "share-facts" }, ...fact("Reveals", kind.reveals(review)));
    const now = works.get(kind.id);
    const button = make("button", { type: "button", class: "button" }, now && !now.failed ? "Cancel" : work.ask);
    const actions = make("div", { class: "entry-actions" }, button);
    if (now && !now.failed) {
      button.addEventListener("click", work.stop);
      return item(kind, make("p", { class: "share-work", role: "status" }, now.text), make("progress", { "aria-label": kind.title }), facts, actions);
    }
    button.addEventListener("click", () => void start(kind, work));
    return item(kind, make("p", { class: now ? "grid-trouble" : "quiet" }, now ? now.text : work.takes), facts, actions);
  }

  /**
   * @param {Kind} kind
   * @param {Work} work
   */
  async function start({ id, title }, work) {
    const tell = (/** @type {string} */ text) => {
      works.set(id, { text, failed: false });
      const shown = list.querySelector(`[data-kind="${id}"] .share-work`);
      if (shown) shown.textContent = text;
      else void fill();
    };
    try {
      await work.run(tell);
      works.delete(id);
      say(`${title}: made.`);
    } catch (error) {
      const why = error instanceof Error ? error.message : String(error);
      works.delete(id);
      if (why) works.set(id, { text: why, failed: true });
    }
    if (!dialog.open) return;
    await fill();
    if (document.activeElement === document.body) /** @type {HTMLElement | null} */ (list.querySelector(`[data-kind="${id}"] button`))?.focus();
  }

  /**
   * @param {Kind} kind
   * @param {Review} review
   * @param {Made} made
   */
  function ready(kind, review, made) {
    if ("how" in made) return item(kind, make("p", { class: "quiet" }, made.how));
    const length = "link" in made ? counted(made.link.length, "character") : bytes(made.file.size);
    const where = kind.works(review) || ("link" in made ? reach(made.link.length) : "");
    return item(kind,
      ..."link" in made ? [make("input", { type: "text", readonly: "", value: made.link, class: "share-link", "aria-label": kind.title, spellcheck: "false" })] : [],
      make("dl", { class: "share-facts" }, ...fact("Length", length), ...(made.facts ?? []).flatMap(([term, text]) => fact(term, text)), ...fact("Works in", where), ...fact("Reveals", kind.reveals(review))),
      make("div", { class: "entry-actions" }, ...("link" in made ? linkActions(kind, made.link) : [saveAction(kind, made)])));
  }

  /**
   * @param {Kind} kind
   * @param {string} link
   */
  function linkActions({ title }, link) {
    const copy = make("button", { type: "button", class: "button button-strong" }, "Copy");
    copy.addEventListener("click", async () => {
      const field = copy.closest("li")?.querySelector("input");
      say((await copied(link, field ?? null)) ? `${title} copied, ${counted(link.length, "character")}.` : "Copying was refused here. The link is selected: copy it with Ctrl+C, or from its menu.");
    });
    return [copy, make("a", { class: "button", href: link, target: "_blank", rel: "noopener" }, "Open in a new tab")];
  }

  /**
   * @param {Kind} kind
   * @param {Extract<Made, {file: Blob}>} made
   */
  function saveAction({ save: words = "Save" }, { file, name }) {
    const save = make("button", { type: "button", class: "button" }, words);
    save.addEventListener("click", () => {
      offer(file, name);
      say(`Saved ${name}, ${bytes(file.size)}.`);
    });
    return save;
  }

  /** @param {string} text */
  function say(text) {
    outcome.textContent = text;
  }

  return {
    open,
    get busy() {
      return busy;
    },
  };
}

/**
 * Puts text on the clipboard; where that is refused, selects it in its field for the person to copy.
 * @param {string} text
 * @param {HTMLInputElement | null} field
 */
async function copied(text, field) {
  try {
    await navigator.clipboard.writeText(text);
    return true;
  } catch {
    field?.focus();
    field?.select();
    return document.execCommand("copy");
  }
}

/** @param {number} length */
function reach(length) {
  return REACH.find(([most]) => length <= most)?.[1] ?? "Nowhere: no browser opens a link as long as this one. Send a file.";
}

/**
 * @param {string} term
 * @param {string} text
 */
function fact(term, text) {
  return [make("dt", {}, term), make("dd", {}, text)];
}

/** @param {Pick<import("./state.js").State, "model" | "job" | "judging" | "awaited">} state */
function whyNot({ model, job, judging, awaited }) {
  if (!model) return "There is nothing to share before a model is open.";
  if (job || judging || !model.report) return "Sharing waits until the model is measured.";
  return awaited ? "Decide first about the review that is about another file." : "";
}
