/**
 * The dialog that shares: one list of kinds, each with how long it is, where it will work, and what it reveals. A kind is
 * made anew whenever the dialog opens or what goes into it changes; others can be added to the list that it is started with.
 *
 * @import {Review} from "./review.js"
 * @import {Store} from "./state.js"
 */

import { byId, make } from "./dom.js";
import { bytes, counted } from "./format.js";
import { packReview, reviewOf, writeReview } from "./review.js";
import { offer, stem } from "./save.js";

/**
 * Up to how many characters a link arrives whole, and where. Common practice, no source: chats cut messages or links at some
 * 2,000; mail programs take several times that in one line; browsers take far more (Chromium 2 MB, from memory).
 */
const REACH = /** @type {const} */ ([
  [2000, "Chats, mail, browsers."],
  [8000, "Mail and browsers; many chats cut links after 2,000 characters."],
  [100_000, "Browsers: send it in a file or a page, since chats and mail may cut it."],
]);

/** What a kind comes to: a link to copy and open, or a file to save. @typedef {{link: string} | {file: Blob, name: string}} Made */

/**
 * @typedef {object} Kind
 * @property {string} id
 * @property {string} title
 * @property {string} text what it is, in one sentence
 * @property {() => boolean} offered
 * @property {(review: Review) => Promise<Made>} make
 * @property {(review: Review) => string} works where it does
 * @property {(review: Review) => string} reveals
 */

/** @type {Kind} */
const viewLink = {
  id: "view",
  title: "View link",
  text: "Opens the page on this view. It says which file it is about; whoever opens it drops that file.",
  offered: () => true,
  async make(review) {
    return { link: `${location.origin}${location.pathname}${location.search}#r=${await packReview(review)}` };
  },
  works: () => (isLocal() ? "On this computer only: the page is served from it." : ""),
  reveals: (review) => `${contents(review)} Not the model${new URLSearchParams(location.search).has("demo") ? "; the demo comes with the page" : ""}.`,
};

/** @type {Kind} */
const reviewFile = {
  id: "file",
  title: "Review file",
  text: "The same as JSON, to be kept beside the model. Drop it on the page to open it; gridproof check --review reads it.",
  offered: () => true,
  async make(review) {
    const file = new Blob([`${JSON.stringify(writeReview(review), null, 2)}\n`], { type: "application/json" });
    return { file, name: `${stem(review.file.name)} review.json` };
  },
  works: () => "Wherever files can be sent.",
  reveals: (review) => `${contents(review)} Not the model.`,
};

/** Kinds that work from the state alone. */
export const KINDS = [viewLink, reviewFile];

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
      const rows = await Promise.all(kinds.filter((kind) => kind.offered()).map(async (kind) => row(kind, review, await kind.make(review))));
      if (mine === turn) list.replaceChildren(...rows);
    } finally {
      if (mine === turn) busy = false;
    }
  }

  /**
   * @param {Kind} kind
   * @param {Review} review
   * @param {Made} made
   */
  function row(kind, review, made) {
    const length = "link" in made ? counted(made.link.length, "character") : bytes(made.file.size);
    const works = kind.works(review) || ("link" in made ? reach(made.link.length) : "");
    return make("li", { class: "share-kind", "data-kind": kind.id },
      make("h3", {}, kind.title),
      make("p", {}, kind.text),
      ..."link" in made ? [make("input", { type: "text", readonly: "", value: made.link, class: "share-link", "aria-label": kind.title, spellcheck: "false" })] : [],
      make("dl", { class: "share-facts" }, ...fact("Length", length), ...fact("Works in", works), ...fact("Reveals", kind.reveals(review))),
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
  function saveAction({ title }, { file, name }) {
    const save = make("button", { type: "button", class: "button" }, title === "Review file" ? "Save review" : "Save");
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
  return REACH.find(([most]) => length <= most)?.[1] ?? "Too long for a link: save the review file instead.";
}

/** Whether the page is served from the computer that shows it (RFC 6761 section 6.3). */
function isLocal() {
  return /^(localhost|.*\.localhost|127(\.\d+){3}|\[::1\])$/.test(location.hostname) || location.protocol === "file:";
}

/**
 * What a review tells whoever has it.
 * @param {Review} review
 */
function contents({ camera, finding, note, brief, grid, notes, decisions }) {
  const parts = [
    "the file’s name, size and SHA-256",
    "the lens",
    camera && "where the model is looked at from",
    finding !== null && "the chosen finding",
    note !== null && "the chosen note",
    Object.keys(brief).length > 0 && "the brief",
    grid.words !== "" && "your words across the sheet",
    notes.length > 0 && `${counted(notes.length, "note")} with ${notes.length === 1 ? "its place" : "their places"}`,
    decisions.length > 0 && counted(decisions.length, "decision"),
    decisions.some(({ kind }) => kind === "meant") && "why things are meant so",
  ].filter(Boolean);
  return `${parts.slice(0, -1).join(", ")} and ${parts.at(-1)}.`.replace(/^t/, "T");
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
