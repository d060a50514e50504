/**
 * The keys: one table that acts and that the help is made from. Single keys can be switched off (WCAG 2.2, 2.1.4), for
 * people whose speech or switches type by accident; keys on a focused surface stay.
 */

import { byId } from "./dom.js";

const OFF = "gridproof.keys-off";

/**
 * @typedef {object} Key
 * @property {string[]} keys as `KeyboardEvent.key` gives them
 * @property {string} group
 * @property {string} text
 * @property {((key: string) => void) | null} act null for what a focused surface does by itself
 */

/** @param {Key[]} table */
export function startKeys(table) {
  const box = byId("keys-on", HTMLInputElement);
  box.checked = remembered();
  box.addEventListener("change", () => {
    try {
      if (box.checked) localStorage.removeItem(OFF);
      else localStorage.setItem(OFF, "1");
    } catch {
      // Where storage is refused the wish holds until the page is left.
    }
  });
  document.addEventListener("keydown", (event) => {
    if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.target instanceof Element && event.target.closest("input:not([type=checkbox]), select, textarea, dialog")) return;
    if (!box.checked && event.key !== "Escape") return;
    const row = table.find(({ keys, act }) => act !== null && keys.includes(event.key));
    if (!row?.act) return;
    event.preventDefault();
    row.act(event.key);
  });
}

function remembered() {
  try {
    return localStorage.getItem(OFF) === null;
  } catch {
    return true;
  }
}
