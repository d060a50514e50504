/**
 * What is stored in this browser only: briefs that were active, the last up axis, files opened before where the browser can
 * reopen them, notes and decisions (notes/memory.js), and what a teacher adds to a class (batch/memory.js). Everything can be
 * deleted at one press.
 *
 * Small values are in localStorage under one key; file handles, which only a database can hold, in IndexedDB. Where
 * either is refused (private windows), nothing is stored and everything else works.
 *
 * @import {Brief} from "../core/messages.js"
 * @import {ReviewMemory} from "../notes/memory.js"
 * @import {Store} from "../core/state.js"
 */

import { classKept, forgetClass } from "../batch/kept.js";
import { classesKept } from "../batch/memory.js";
import { ask, erase } from "../base/database.js";
import { byId, make } from "../base/dom.js";
import { counted, isolated } from "../base/format.js";
import { briefName, presetOf } from "../findings/limits.js";
import { senderKept } from "../share/share.js";

const KEY = "gridproof.memory";
/** The key of the one list of files. */
const LIST = "files";
/** Stored entries of each, the latest first. */
const BRIEFS_MAX = 8;
const FILES_MAX = 8;
/** How long a brief must stay active before it is stored, ms: not every keystroke. */
const SETTLED_MS = 4000;

/** @typedef {{version: 1, up: string | null, briefs: Brief[]}} Kept */
/** @typedef {{name: string, handle: FileSystemFileHandle, at: number}} Entry */

/** @returns {Kept} */
function read() {
  try {
    const kept = JSON.parse(localStorage.getItem(KEY) ?? "null");
    if (kept?.version === 1 && Array.isArray(kept.briefs)) return kept;
  } catch {
    // Refused or damaged: treated as empty.
  }
  return { version: 1, up: null, briefs: [] };
}

/** @param {Kept} kept */
function write(kept) {
  try {
    localStorage.setItem(KEY, JSON.stringify(kept));
  } catch {
    // Refused: it applies until the page is left.
  }
}

/**
 * @param {Store} store
 * @param {{replaceBrief: (brief: Brief) => void, briefTrouble: (brief: object) => string | undefined, open: (file: File) => void}} page
 * @param {ReviewMemory} reviews
 * @returns {{remember: (handle: FileSystemFileHandle) => Promise<void>}}
 */
export function startMemory(store, { replaceBrief, briefTrouble, open }, reviews) {
  // In a frame the choices are the parent's.
  if (window.parent !== window) return { remember: async () => {} };
  let kept = read();
  const used = byId("brief-used", HTMLSelectElement);
  const usedLine = byId("brief-used-line", HTMLElement);
  const recent = byId("recent", HTMLElement);
  const list = byId("recent-files", HTMLElement);
  const facts = byId("memory-facts", HTMLElement);
  const section = byId("memory", HTMLElement);
  /** @type {Entry[]} */
  let files = [];
  let resting = 0;
  /** The class whose files are kept; empty for none. */
  let course = "";

  /** Reported once everything is deleted. */
  let isForgetting = false;

  function show() {
    if (isForgetting) return;
    usedLine.hidden = kept.briefs.length === 0;
    used.replaceChildren(
      make("option", { value: "" }, "choose one …"),
      ...kept.briefs.map((brief, index) => make("option", { value: String(index) }, nameOf(brief))),
    );
    recent.hidden = files.length === 0;
    list.replaceChildren(
      ...files.map((entry) => {
        const button = make("button", { type: "button", class: "text-button" }, entry.name);
        button.addEventListener("click", () => void reopen(entry));
        return make("li", {}, button);
      }),
    );
    const classes = classesKept();
    const parts = [
      kept.briefs.length > 0 ? counted(kept.briefs.length, "brief") : "",
      files.length > 0 ? counted(files.length, "file") : "",
      reviews.files > 0 ? `notes and decisions on ${counted(reviews.files, "file")}` : "",
      classes > 0 ? `students, grades and comments of ${counted(classes, "class", "classes")}` : "",
      course ? `the files of ${isolated(course)}` : "",
      senderKept() ? "your name" : "",
      kept.up !== null ? `${kept.up.toUpperCase()} as the axis up` : "",
    ].filter(Boolean);
    section.hidden = parts.length === 0;
    facts.textContent = `Remembered in this browser alone: ${parts.join(", ")}.`;
  }

  /** @param {Brief} brief */
  function nameOf(brief) {
    const { name } = briefName(brief, store.state.form);
    const [first] = Object.entries(brief)
      .filter(([part]) => part !== "map")
      .flatMap(([part, values]) => Object.entries(values).map(([key, value]) => `${part}.${key} ${JSON.stringify(value)}`));
    return first ? `${name}: ${first}` : name;
  }

  /** @param {Entry} entry */
  async function reopen(entry) {
    try {
      // The browser asks for permission again, once a visit.
      const permission = await entry.handle.requestPermission({ mode: "read" });
      if (permission !== "granted") return;
      const file = await entry.handle.getFile();
      remember(entry.handle);
      open(file);
    } catch {
      files = files.filter((other) => other !== entry);
      await keep(files);
      show();
      store.set({ notice: `${entry.name} is not where it was. It has been taken off the list.` });
    }
  }

  /** @param {FileSystemFileHandle} handle of a model */
  async function remember(handle) {
    const same = await Promise.all(files.map((entry) => entry.handle.isSameEntry(handle).catch(() => false)));
    files = [{ name: handle.name, handle, at: Date.now() }, ...files.filter((_, index) => !same[index])].slice(0, FILES_MAX);
    await keep(files);
    show();
  }

  used.addEventListener("change", () => {
    const brief = kept.briefs[Number(used.value)];
    if (used.value === "" || !brief) return;
    used.value = "";
    const why = briefTrouble(brief);
    if (!why) replaceBrief(brief);
    else store.set({ notice: `That brief can no longer be used: ${why}` });
  });
  for (const button of document.querySelectorAll("[data-forget]")) {
    button.addEventListener("click", async () => {
      clearTimeout(resting);
      kept = { version: 1, up: null, briefs: [] };
      files = [];
      isForgetting = true;
      await Promise.all([reviews.forget(), forgetClass()]);
      course = "";
      const isErased = await forgetAll();
      reviews.forgotten();
      isForgetting = false;
      show();
      // The pressed button is gone, and a dialog without focus would not get Escape.
      /** @type {HTMLElement | null} */ ((button.closest("dialog") ?? document).querySelector("dialog[open] button, .dropzone"))?.focus();
      store.set({
        notice: isErased
          ? "Everything that this browser remembered of Gridproof is forgotten."
          : "The browser did not let go of all that it remembered. Close other tabs of Gridproof and try again, or clear this site’s data in the browser’s settings.",
      });
    });
  }

  // A link must look the same to everyone.
  if (kept.up !== null && location.search + location.hash === "" && briefTrouble({ tilt: { up: signed(kept.up) } }) === undefined) store.setUp(kept.up);
  store.watch(["brief", "form"], ({ brief, form, up }) => {
    clearTimeout(resting);
    if (!form) return;
    resting = window.setTimeout(() => {
      const { tilt: _, ...rest } = brief;
      const own = Object.keys(rest).length > 0 && !presetOf(brief, form);
      const text = JSON.stringify(brief);
      if (own) kept.briefs = [brief, ...kept.briefs.filter((other) => JSON.stringify(other) !== text)].slice(0, BRIEFS_MAX);
      const axis = up === "y" ? null : up;
      if (!own && axis === kept.up) return;
      kept.up = axis;
      write(kept);
      show();
    }, SETTLED_MS);
  });
  addEventListener("drop", ({ dataTransfer }) => {
    const items = Array.from(dataTransfer?.items ?? []).filter(({ kind }) => kind === "file");
    if (items.length !== 1) return;
    // Must be requested during the event.
    const handle = items[0]?.getAsFileSystemHandle?.();
    void handle?.then((found) => {
      if (found?.kind === "file" && /\.obj$/i.test(found.name)) void remember(/** @type {FileSystemFileHandle} */ (found));
    });
  });
  reviews.heard = show;
  // Other parts of the page store values too.
  const look = async () => {
    course = await classKept();
    show();
  };
  byId("help", HTMLDialogElement).addEventListener("beforetoggle", () => void look());
  void load().then((found) => {
    files = found;
    show();
    return look();
  });
  return { remember };
}

/** @param {string} up in the 3D view's notation */
function signed(up) {
  return up.startsWith("-") ? up : `+${up}`;
}

/** @returns {Promise<Entry[]>} */
async function load() {
  try {
    const found = await ask("files", "readonly", (files) => files.get(LIST));
    return Array.isArray(found) ? found : [];
  } catch {
    return [];
  }
}

/** @param {Entry[]} files */
async function keep(files) {
  try {
    await ask("files", "readwrite", (store) => store.put(files, LIST));
  } catch {
    // Refused: the list is kept until the page is left.
  }
}

/** Also data of other parts of the page: all keys that begin with the project's name. @returns {Promise<boolean>} whether everything is deleted */
async function forgetAll() {
  try {
    for (const key of Object.keys(localStorage)) if (key.startsWith("gridproof.")) localStorage.removeItem(key);
  } catch {
    // Refused: then nothing is stored.
  }
  return erase().then(
    () => true,
    () => false,
  );
}
