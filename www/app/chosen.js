/**
 * The pill that names the selected shell, or their number, and clears the selection.
 *
 * @import {Store} from "../core/state.js"
 */

import { byId } from "../base/dom.js";
import { counted } from "../base/format.js";

/**
 * @param {Store} store
 * @param {() => void} clear
 */
export function startChosen(store, clear) {
  const pill = byId("chosen", HTMLElement);
  const text = byId("chosen-text", HTMLElement);
  byId("chosen-clear", HTMLButtonElement).addEventListener("click", clear);
  store.watch(["chosen", "model"], ({ chosen, model }) => {
    pill.hidden = chosen.length === 0 || !model;
    const [first] = chosen;
    if (first === undefined) return;
    text.textContent = chosen.length === 1 ? (model?.shells[first] ?? `Shell ${first}`) : counted(chosen.length, "shell");
  });
}
