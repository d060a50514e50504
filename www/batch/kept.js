/**
 * Stores the open class so that a reload restores it: by the handle of its folder or zip where the browser gives one,
 * else by a copy of its files in the browser's private file system, within a stated size. Where neither is possible its name is
 * stored, and the page asks for it again. Only the last class is stored; nothing of it leaves the browser.
 *
 * The state of its table is in sessionStorage, with the class that the tab had: another tab's class is only offered, not
 * restored.
 *
 * Only one, since two would take twice the space.
 *
 * @import {Picked} from "./files.js"
 * @import {Brief} from "../core/messages.js"
 */

import { ask } from "../base/database.js";
import { bytes, whole } from "../base/format.js";
import { isCompanion } from "../lenses/shelf.js";

/** Most bytes of a class whose files are copied, and most files: small enough for the browser's storage. */
export const MOST_COPIED = 300 * 2 ** 20;
const MOST_FILES = 4000;
/** The browser must have this many times the space, so that it does not start evicting. */
const ROOM = 2;

const KEY = "gridproof.class-open";
const RECORD = "open";
/** The folder of copies in the private file system. */
const FOLDER = "gridproof-class";

/** How a table is looked at; `row` is the key of the file that is open, `brief` what all are checked against. @typedef {{brief: Brief, sort: {key: string, down: boolean}, words: string, kind: string, verdicts: string[], row: string | null, place: "none" | "table" | "file"}} View */
/** A file that was copied under `copy`, or one of which only the size is known. @typedef {{path: string, name: string, bytes: number, type: string, modified: number, copy: string | null}} Copied */
/** @typedef {{id: string, name: string, alone: boolean, handle: FileSystemHandle | null, files: Copied[]}} Record */
/** What a tab knows of its class. @typedef {{id: string, name: string, view: View | null}} Tab */

/** Counts attempts to store: older ones end. */
let turn = 0;

/** The tab's state; empty once another tab has deleted everything. @returns {Tab | null} */
function tabs() {
  try {
    if (localStorage.getItem(KEY) === null) sessionStorage.removeItem(KEY);
    const tab = JSON.parse(sessionStorage.getItem(KEY) ?? "null");
    return typeof tab?.id === "string" && typeof tab.name === "string" ? { ...tab, view: isView(tab.view) ? tab.view : null } : null;
  } catch {
    return null;
  }
}

/** @param {unknown} read @returns {read is View} */
function isView(read) {
  const { sort, words, kind, place, verdicts, brief } = /** @type {Partial<View>} */ (read ?? {});
  return [sort?.key, words, kind, place].every((text) => typeof text === "string") && Array.isArray(verdicts) && typeof brief === "object" && brief !== null;
}

/** @param {Tab} tab */
function write(tab) {
  try {
    sessionStorage.setItem(KEY, JSON.stringify(tab));
  } catch {
    // Refused: the table starts with defaults.
  }
}

/** Announces the class to other tabs. @param {string} id */
function mark(id) {
  try {
    localStorage.setItem(KEY, id);
  } catch {
    // Refused: then a reload restores nothing.
  }
}

async function folder() {
  return (await navigator.storage.getDirectory()).getDirectoryHandle(FOLDER, { create: true });
}

/** Deletes the stored class with its files; a running copy ends. */
export async function forgetClass() {
  turn += 1;
  try {
    localStorage.removeItem(KEY);
    sessionStorage.removeItem(KEY);
  } catch {
    // Refused: then nothing is stored.
  }
  await ask("classes", "readwrite", (store) => store.delete(RECORD)).catch(() => {});
  try {
    await (await navigator.storage.getDirectory()).removeEntry(FOLDER, { recursive: true });
  } catch {
    // There is none.
  }
}

/** Name of the class whose files are stored; empty for none. */
export async function classKept() {
  const record = await kept().catch(() => null);
  return record && (record.handle || record.files.length > 0) ? record.name : "";
}

/** @returns {Promise<Record | null>} */
async function kept() {
  const record = await ask("classes", "readonly", (store) => store.get(RECORD));
  return typeof record?.id === "string" && typeof record.name === "string" && Array.isArray(record.files) ? record : null;
}

export class KeptClass {
  #lasting;
  #working = 0;
  /** Called with what could not be stored, and why; with an empty text if everything is. @type {(text: string) => void} */
  troubled = () => {};
  /** Called when the files are stored. */
  done = () => {};

  /** @param {boolean} lasting whether anything is stored beyond the tab */
  constructor(lasting) {
    this.#lasting = lasting;
  }

  get busy() {
    return this.#working > 0;
  }

  /**
   * Stores the open class from now on.
   * @param {string} name
   * @param {{path: string, file: File}[]} given
   * @param {boolean} alone whether it is a single zip
   * @param {FileSystemHandle | null} handle of the folder or zip
   */
  async keep(name, given, alone, handle) {
    if (!this.#lasting) return;
    const mine = (turn += 1);
    const id = crypto.getRandomValues(new Uint32Array(4)).join("-");
    mark(id);
    write({ id, name, view: null });
    this.troubled("");
    this.#working += 1;
    try {
      if (handle && (await this.#put({ id, name, alone, handle, files: [] }, mine))) {
        this.done();
        return;
      }
      await this.#copy({ id, name, alone, handle: null, files: [] }, given, mine);
    } catch (error) {
      if (mine === turn) this.#fail(reasonOf(error));
    } finally {
      this.#working -= 1;
    }
  }

  /** @param {string} why */
  #fail(why) {
    this.troubled(`The browser could not keep the files of this class: ${why}. After a reload the page asks for them again.`);
  }

  /**
   * @param {Record} record
   * @param {number} mine
   * @returns {Promise<boolean>} false if the handle cannot be stored
   */
  async #put(record, mine) {
    try {
      await ask("classes", "readwrite", (store) => store.put(record, RECORD));
    } catch (error) {
      if (record.handle && error instanceof DOMException && error.name === "DataCloneError") return false;
      throw error;
    }
    // Everything may have been deleted meanwhile.
    if (mine !== turn) await ask("classes", "readwrite", (store) => store.delete(RECORD));
    else await sweep(record.handle ? null : record.id);
    return true;
  }

  /**
   * @param {Record} record
   * @param {{path: string, file: File}[]} given
   * @param {number} mine
   */
  async #copy(record, given, mine) {
    // Pictures only have a row where a student gave nothing else.
    const isCopied = (/** @type {File} */ file) => /\.mtl$/i.test(file.name) || !isCompanion(file);
    const size = given.reduce((sum, { file }) => sum + (isCopied(file) ? file.size : 0), 0);
    // Until all files are copied only the name is stored.
    await this.#put(record, mine);
    if (size > MOST_COPIED || given.length > MOST_FILES) {
      this.#fail(
        size > MOST_COPIED
          ? `they have ${bytes(size)}, and up to ${bytes(MOST_COPIED)} are copied`
          : `they are ${whole(given.length)}, and up to ${whole(MOST_FILES)} are copied`,
      );
      return;
    }
    const { quota = Infinity, usage = 0 } = await navigator.storage.estimate();
    if (quota - usage < ROOM * size) {
      this.#fail("its storage is too full");
      return;
    }
    const place = await (await folder()).getDirectoryHandle(record.id, { create: true });
    for (const [at, { path, file }] of given.entries()) {
      if (mine !== turn) break;
      const copy = isCopied(file) ? String(at) : null;
      if (copy !== null) {
        const writer = await (await place.getFileHandle(copy, { create: true })).createWritable();
        await writer.write(file);
        await writer.close();
      }
      record.files.push({ path, name: file.name, bytes: file.size, type: file.type, modified: file.lastModified, copy });
    }
    if (mine === turn) {
      await this.#put(record, mine);
      this.done();
    } else await (await folder()).removeEntry(record.id, { recursive: true }).catch(() => {});
  }

  /** Stores the state of the table. @param {View} view */
  look(view) {
    const tab = tabs();
    if (this.#lasting && tab) write({ ...tab, view });
  }

  /** The class that this tab had; null for none. */
  get before() {
    return this.#lasting ? tabs() : null;
  }

  /**
   * The stored data of a class.
   * @returns {Promise<{id: string, name: string, hasFiles: boolean, open: (pressed: boolean) => Promise<Picked | null>} | null>} `open` gives null where the
   *   permission has to be requested first, which takes a press, or was denied; it fails if the files are gone
   */
  async find() {
    if (!this.#lasting) return null;
    const record = await kept().catch(() => null);
    if (!record) return null;
    const { id, name, handle, files } = record;
    return { id, name, hasFiles: handle !== null || files.length > 0, open: (pressed) => (handle ? opened(handle, pressed) : copies(record)) };
  }

  /**
   * Marks the restored class as this tab's.
   * @param {string} id
   * @param {string} name
   */
  take(id, name) {
    write({ id, name, view: tabs()?.view ?? null });
  }
}

/**
 * @param {FileSystemHandle} handle
 * @param {boolean} pressed
 * @returns {Promise<Picked | null>}
 */
async function opened(handle, pressed) {
  const mode = { mode: /** @type {const} */ ("read") };
  let permission = (await handle.queryPermission?.(mode)) ?? "granted";
  if (permission === "prompt" && pressed) permission = await handle.requestPermission(mode);
  if (permission !== "granted") return null;
  if (handle.kind === "directory") return { files: [], folders: [], handle: /** @type {FileSystemDirectoryHandle} */ (handle) };
  return { files: [await /** @type {FileSystemFileHandle} */ (handle).getFile()], folders: [] };
}

/** @param {Record} record @returns {Promise<Picked>} */
async function copies({ id, files, alone }) {
  const place = await (await folder()).getDirectoryHandle(id);
  const entries = await Promise.all(
    files.map(async ({ path, name, bytes: size, type, modified, copy }) => {
      const parts = copy === null ? [] : [await (await place.getFileHandle(copy)).getFile()];
      return { path, size, file: new File(parts, name, { type, lastModified: modified }) };
    }),
  );
  return { files: [], folders: [], entries, alone };
}

/** Deletes the copies of other classes. @param {string | null} but */
async function sweep(but) {
  try {
    const root = await folder();
    for await (const name of root.keys()) if (name !== but) await root.removeEntry(name, { recursive: true });
  } catch {
    // No private file system: then there are no copies.
  }
}

/** @param {unknown} error */
function reasonOf(error) {
  const { name = "" } = /** @type {{name?: string}} */ (error ?? {});
  if (name === "QuotaExceededError") return "its storage is full";
  return name === "TimeoutError" ? "its storage does not answer" : "its storage refused them";
}
