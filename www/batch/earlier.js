/**
 * The previous class: restored after a reload, offered on a new visit; and where its files are not stored, or may not be
 * read, the page says by name what to drop.
 *
 * @import {Class, Picked} from "./files.js"
 * @import {KeptClass, View} from "./kept.js"
 */

import { byId } from "../base/dom.js";
import { isolated } from "../base/format.js";

/** Initial state of a table. @type {View} */
const PLAIN_VIEW = { brief: {}, sort: { key: "verdict", down: false }, words: "", kind: "", verdicts: [], row: null, place: "table" };

/** @typedef {NonNullable<Awaited<ReturnType<KeptClass["find"]>>>} Found */

/**
 * @param {KeptClass} kept
 * @param {object} page
 * @param {() => boolean} page.isTaken whether something else was opened or is being opened
 * @param {(picked: Picked) => Promise<Class>} page.gather
 * @param {(found: Class, view: View | null, isReload: boolean) => Promise<void>} page.begin
 */
export function startEarlier(kept, { isTaken, gather, begin }) {
  const card = byId("class-earlier", HTMLElement);
  const text = byId("class-earlier-text", HTMLElement);
  const opener = byId("class-earlier-open", HTMLButtonElement);
  byId("class-earlier-leave", HTMLButtonElement).addEventListener("click", () => (card.hidden = true));
  let busy = false;

  /**
   * @param {boolean} isReload whether the page was left from an entry of its own
   */
  async function restore(isReload) {
    const { before } = kept;
    busy = true;
    try {
      const found = await kept.find();
      const isOurs = isReload && before !== null && (before.view?.place ?? "none") !== "none";
      if (isTaken()) return;
      if (isOurs && found?.hasFiles && found.id === before.id && (await bring(found, false))) return;
      if (isTaken()) return;
      if (isOurs && found?.id !== before.id) ask(before.name, null);
      else if (found) ask(found.name, found.hasFiles ? found : null);
    } finally {
      busy = false;
    }
  }

  /**
   * @param {Found} found
   * @param {boolean} isPressed
   * @returns {Promise<boolean>} false if permission has to be requested first, or was denied
   */
  async function bring(found, isPressed) {
    let gathered;
    try {
      const picked = await found.open(isPressed);
      if (!picked) return false;
      gathered = await gather(picked);
    } catch {
      // Moved, renamed, or evicted by the browser.
      gathered = null;
    }
    if (!isPressed && isTaken()) return true;
    if (!gathered || gathered.sources.length < 2) {
      ask(found.name, null);
      return true;
    }
    const view = kept.before?.id === found.id ? (kept.before.view ?? PLAIN_VIEW) : PLAIN_VIEW;
    kept.take(found.id, found.name);
    await begin(gathered, isPressed ? { ...view, place: "table" } : view, !isPressed);
    return true;
  }

  /**
   * Names the previous class, and how to open it again.
   * @param {string} name empty for files picked one by one
   * @param {Found | null} found to open it
   */
  function ask(name, found) {
    if (name === "" && !found) return;
    const called = name === "" ? "A class of files" : isolated(name);
    text.textContent = found
      ? `${called} was open here, and its files are kept in this browser.`
      : `${called} was open here. Drop ${/\.zip$/i.test(name) ? "the zip" : "the folder"} ${called} again: grades, comments and notes are waiting.`;
    opener.hidden = found === null;
    opener.onclick = async () => {
      if (found && !(await bring(found, true))) text.textContent = `The browser was not allowed to read ${called}. Press again to be asked, or drop it.`;
    };
    card.hidden = false;
  }

  return {
    restore,
    leave: () => (card.hidden = true),
    get busy() {
      return busy;
    },
  };
}
