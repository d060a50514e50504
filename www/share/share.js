/**
 * The share dialog. It asks for the recipient, and shows the matching kinds, each with its length, where it works, and what it
 * reveals; the others are behind "More ways". A kind is updated whenever the dialog opens or its content changes, unless it is
 * slow: then on request.
 *
 * @import {Review} from "../core/review.js"
 * @import {Kind, Made, Whom, Work} from "./kinds.js"
 * @import {Store} from "../core/state.js"
 */

import { byId, make } from "../base/dom.js";
import { bytes, counted } from "../base/format.js";
import { asSender, reviewOf } from "../core/review.js";
import { offer } from "../save/save.js";
import { pasteText } from "./text.js";

/** Storage key of the sender's name. */
const SENDER_KEY = "gridproof.sender";
/** Debounce of typing before links are updated, ms. */
const TYPED_MS = 300;

/** The stored name; empty for none. */
export function senderKept() {
  try {
    return asSender(localStorage.getItem(SENDER_KEY) ?? "");
  } catch {
    return "";
  }
}

/** @param {string} name @returns {boolean} whether it was stored */
function keepSender(name) {
  try {
    if (name) localStorage.setItem(SENDER_KEY, name);
    else localStorage.removeItem(SENDER_KEY);
    return true;
  } catch {
    return false;
  }
}

/**
 * Longest links, characters, and where they work; the command uses the same numbers (src/cli/commands/link.rs, with
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
  const sender = byId("share-sender", HTMLInputElement);
  const list = byId("share-kinds", HTMLUListElement);
  const others = byId("share-others", HTMLUListElement);
  const none = byId("share-none", HTMLElement);
  const more = byId("share-more", HTMLDetailsElement);
  const choices = /** @type {HTMLInputElement[]} */ ([...dialog.querySelectorAll("[name=share-whom]")]);
  /** In a frame the choices are the parent's. */
  const lasting = window.parent === window;
  const outcome = byId("share-outcome", HTMLElement);
  const input = byId("share-file", HTMLInputElement);
  let turn = 0;
  let busy = false;
  let typing = 0;
  let isKept = true;
  /** A press in the dialog, until its click: what it is on must stay. @type {Promise<void>} */
  let press = Promise.resolve();
  /** @type {Whom | null} */
  let whom = null;
  /** Progress of each kind, or why it failed. @type {Map<string, {text: string, failed: boolean}>} */
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
  dialog.addEventListener("pointerdown", () => {
    const over = new AbortController();
    press = new Promise((done) => {
      // The click comes right after the release.
      const ended = () => void setTimeout(done, 0, over.abort());
      for (const type of ["pointerup", "pointercancel"]) window.addEventListener(type, ended, { signal: over.signal, capture: true });
    });
  });
  opener.addEventListener("click", open);
  notes.addEventListener("change", fill);
  for (const choice of choices) {
    choice.addEventListener("change", () => {
      whom = /** @type {Whom} */ (choice.value);
      more.open = false;
      void fill();
    });
  }
  sender.addEventListener("input", () => {
    clearTimeout(typing);
    typing = window.setTimeout(named, TYPED_MS);
  });
  sender.addEventListener("change", () => {
    sender.value = asSender(sender.value);
    named();
  });

  function named() {
    clearTimeout(typing);
    typing = 0;
    isKept = keepSender(lasting ? asSender(sender.value) : "");
    if (lasting && !isKept) say("This browser does not keep your name; it holds until the page is left.");
    void fill();
  }
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
    if (lasting && isKept) sender.value = senderKept();
    byId("share-with", HTMLElement).hidden = state.notes.length + state.decisions.length === 0;
    void fill();
    dialog.showModal();
  }

  async function fill() {
    const mine = (turn += 1);
    busy = true;
    try {
      const full = { ...reviewOf(store.state), sender: asSender(sender.value), since: store.state.since };
      const review = notes.checked ? full : { ...full, note: null, notes: [], decisions: [] };
      const rows = await Promise.all(
        kinds.filter((kind) => kind.offered()).map(async (kind) => ({ fits: kind.whom === whom, row: await rowOf(kind, review) })),
      );
      await press;
      if (mine !== turn) return;
      const fitting = rows.filter(({ fits }) => fits);
      list.replaceChildren(...fitting.map(({ row }) => row));
      others.replaceChildren(...rows.filter(({ fits }) => !fits).map(({ row }) => row));
      none.hidden = whom === null || fitting.length > 0;
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
      const shown = dialog.querySelector(`[data-kind="${id}"] .share-work`);
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
    if (document.activeElement === document.body) /** @type {HTMLElement | null} */ (dialog.querySelector(`[data-kind="${id}"] button`))?.focus();
  }

  /**
   * @param {Kind} kind
   * @param {Review} review
   * @param {Made} made
   */
  function ready(kind, review, made) {
    if ("how" in made) return item(kind, make("p", { class: "quiet" }, made.how));
    const copied = "link" in made ? made.link : "code" in made ? made.code : null;
    const length = "file" in made ? bytes(made.file.size) : counted(copied?.length ?? 0, "character");
    const where = kind.works(review) || ("link" in made ? reach(made.link.length) : "");
    const { report } = store.state.model ?? {};
    const paste = "link" in made && report ? pasteText(report, review, store.state.student, made.link) : "";
    return item(
      kind,
      ...(copied !== null
        ? [make("input", { type: "text", readonly: "", value: copied, class: "share-link", "aria-label": kind.title, spellcheck: "false" })]
        : []),
      make(
        "dl",
        { class: "share-facts" },
        ...fact("Length", length),
        ...(made.facts ?? []).flatMap(([term, text]) => fact(term, text)),
        ...fact("Works in", where),
        ...fact("Reveals", kind.reveals(review)),
      ),
      make("div", { class: "entry-actions" }, ...("file" in made ? [saveAction(kind, made)] : copyActions(kind, copied ?? "", paste))),
      ...(paste ? [textOf(kind, paste)] : []),
    );
  }

  /**
   * @param {Kind} kind
   * @param {string} paste
   */
  function textOf({ title }, paste) {
    const field = make("textarea", {
      readonly: "",
      rows: "8",
      class: "share-paste",
      dir: "auto",
      "aria-label": `Text with the ${title.toLowerCase()}`,
      spellcheck: "false",
    });
    field.value = paste;
    return make("details", { class: "share-text" }, make("summary", {}, "See the text to paste"), field);
  }

  /**
   * @param {Kind} kind
   * @param {string} link or code
   * @param {string} paste text with the link; empty for none
   */
  function copyActions({ title }, link, paste) {
    const copy = make("button", { type: "button", class: "button button-strong" }, "Copy");
    copy.addEventListener("click", async () => {
      const field = copy.closest("li")?.querySelector("input");
      say(
        (await copied(link, field ?? null))
          ? `${title} copied, ${counted(link.length, "character")}.`
          : "Copying was refused here. The link is selected: copy it with Ctrl+C, or from its menu.",
      );
    });
    if (!paste) return [copy];
    const text = make("button", { type: "button", class: "button" }, "Copy as text");
    text.title = "The verdict, what must be fixed first, your notes, and the link";
    text.addEventListener("click", async () => {
      const details = text.closest("li")?.querySelector("details");
      if (await copied(paste, null)) say(`Text with the ${title.toLowerCase()} copied, ${counted(paste.length, "character")}.`);
      else {
        if (details) details.open = true;
        await copied(paste, details?.querySelector("textarea") ?? null);
        say("Copying was refused here. The text is selected: copy it with Ctrl+C, or from its menu.");
      }
    });
    return [copy, text, make("a", { class: "button", href: link, target: "_blank", rel: "noopener" }, "Open in a new tab")];
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
      return busy || typing !== 0;
    },
  };
}

/**
 * Puts text on the clipboard; if that is refused, selects it in its field for the user to copy.
 * @param {string} text
 * @param {HTMLInputElement | HTMLTextAreaElement | null} field
 */
async function copied(text, field) {
  try {
    await navigator.clipboard.writeText(text);
    return true;
  } catch {
    field?.focus();
    field?.select();
    return field !== null && document.execCommand("copy");
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

/** @param {Pick<import("../core/state.js").State, "model" | "job" | "judging" | "awaited">} state */
function whyNot({ model, job, judging, awaited }) {
  if (!model) return "There is nothing to share before a model is open.";
  if (job || judging || !model.report) return "Sharing waits until the model is measured.";
  return awaited ? "Decide first about the review that is about another file." : "";
}
