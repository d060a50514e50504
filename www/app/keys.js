/**
 * The keyboard shortcuts: one table for handling and help. Single keys can be switched off (WCAG 2.2, 2.1.4), for
 * users of speech input or switches; keys on a focused surface stay.
 */

import { byId } from "../base/dom.js";

const OFF = "gridproof.keys-off";

/**
 * @typedef {object} Key
 * @property {string[]} keys as `KeyboardEvent.key` gives them
 * @property {string} group
 * @property {string} text
 * @property {((key: string) => void) | null} act null for keys handled by a focused surface
 */

/**
 * All keys; `act` names what the page does.
 * @type {(Omit<Key, "act"> & {act: string | null})[]}
 */
export const KEYS = [
  {
    group: "Lenses",
    keys: ["1", "2", "3", "4", "5", "6", "7", "8"],
    text: "Grid, Stretch, Texel density, Flipped, Overlaps, Seams, Text, Picture",
    act: "lens",
  },
  { group: "Lenses", keys: ["g"], text: "Problem patterns over the grid, on or off", act: "flags" },
  { group: "Lenses", keys: ["t"], text: "Tilt over the grid, on or off", act: "leaning" },
  { group: "Lenses", keys: ["c"], text: "Grid settings, and the grid as a picture", act: "cells" },
  { group: "Findings", keys: ["."], text: "Next finding", act: "next" },
  { group: "Findings", keys: [","], text: "Previous finding", act: "previous" },
  { group: "Findings", keys: ["Escape"], text: "Clear selection", act: "leave" },
  { group: "Findings", keys: ["n"], text: "Note at the spot under the pointer or the cross, else on the chosen finding", act: "note" },
  { group: "Class", keys: ["j"], text: "Next file of the class", act: "next-file" },
  { group: "Class", keys: ["k"], text: "Previous file of the class", act: "previous-file" },
  { group: "Class", keys: ["f"], text: "The list of all files", act: "files" },
  { group: "View", keys: ["m"], text: "Swap model and sheet", act: "swap" },
  { group: "View", keys: ["b"], text: "Sheet and model side by side", act: "beside" },
  { group: "View", keys: ["e"], text: "Enlarge the small view, and back", act: "enlarge" },
  { group: "View", keys: ["v"], text: "The previous version, and back", act: "flip" },
  { group: "View", keys: ["0"], text: "Fit in view", act: "fit" },
  { group: "View", keys: ["u"], text: "Another axis up", act: "up" },
  { group: "On the model or the sheet, when focused", keys: ["←", "→", "↑", "↓"], text: "Turn the model, move the sheet", act: null },
  { group: "On the model or the sheet, when focused", keys: ["Shift + arrows"], text: "Move the model", act: null },
  { group: "On the model or the sheet, when focused", keys: ["+", "−"], text: "Zoom in, zoom out", act: null },
  { group: "On the model or the sheet, when focused", keys: ["Enter"], text: "Choose what is under the cross", act: null },
  { group: "Page", keys: ["r"], text: "The brief: what the model is checked against", act: "brief" },
  { group: "Page", keys: ["o"], text: "Open one file or several", act: "open" },
  { group: "Page", keys: ["s"], text: "Save report, data or pictures", act: "save" },
  { group: "Page", keys: ["l"], text: "Share: a link to this view, or the review as a file", act: "share" },
  { group: "Page", keys: ["?"], text: "This list", act: "help" },
];

/** @param {Key[]} table */
export function startKeys(table) {
  const box = byId("keys-on", HTMLInputElement);
  box.checked = remembered();
  box.addEventListener("change", () => {
    try {
      if (box.checked) localStorage.removeItem(OFF);
      else localStorage.setItem(OFF, "1");
    } catch {
      // Without storage the setting applies until the page is left.
    }
  });
  document.addEventListener("keydown", (event) => {
    if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey) return;
    if (takesKeys(event.target)) return;
    if (!box.checked && event.key !== "Escape") return;
    const row = table.find(({ keys, act }) => act !== null && keys.includes(event.key));
    if (!row?.act) return;
    event.preventDefault();
    row.act(event.key);
  });
}

/**
 * Whether keys belong to the focused element: a field, or a dialog. A closed dialog keeps the focus until the browser
 * draws its next frame, and must not take keys pressed before that.
 * @param {EventTarget | null} target
 */
function takesKeys(target) {
  const taker = target instanceof Element ? target.closest("input:not([type=checkbox]), select, textarea, dialog") : null;
  return taker !== null && taker.getClientRects().length > 0;
}

function remembered() {
  try {
    return localStorage.getItem(OFF) === null;
  } catch {
    return true;
  }
}
