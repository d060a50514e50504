/**
 * Notes and decisions that the browser could not store: reported at once, offered as a file, and the report is withdrawn when
 * they are stored after all. And that edits of UVs are not stored yet.
 *
 * @import {ReviewMemory} from "../notes/memory.js"
 * @import {Store} from "../core/state.js"
 */

import { byId } from "../base/dom.js";
import { counted, isolated } from "../base/format.js";
import { reviewOf } from "../core/review.js";
import { offer } from "../save/save.js";
import { fileOf } from "../share/kinds.js";
import { GRID_DEFAULTS } from "../core/known.js";

/**
 * @param {Store} store
 * @param {ReviewMemory} memory
 */
export function startUnkept(store, memory) {
  const notice = byId("unkept", HTMLElement);
  const text = byId("unkept-text", HTMLElement);

  function show() {
    const [first, ...others] = memory.unkept;
    const { model } = store.state;
    const edited =
      model && model.undo > 0 ? `The changes of the UVs of ${isolated(model.name)} last only until this tab is closed or another model is opened.` : "";
    const about = first && others.length === 0 ? isolated(first.file.name) : counted(others.length + 1, "file");
    const said = first ? `The browser could not keep your notes and decisions on ${about}: ${first.why}. They last only until this tab is closed.` : edited;
    if (text.textContent !== said) text.textContent = said;
    notice.hidden = said === "";
    byId("unkept-save", HTMLButtonElement).hidden = !first;
  }

  memory.troubled = show;
  store.watch(["model"], show);
  byId("unkept-save", HTMLButtonElement).addEventListener("click", () => {
    for (const { file, notes, decisions } of memory.unkept) {
      const isShown = store.state.model?.report?.file.sha256 === file.sha256;
      const review = isShown
        ? reviewOf(store.state)
        : {
            file,
            camera: null,
            lens: /** @type {const} */ ("grid"),
            finding: null,
            note: null,
            brief: {},
            grid: GRID_DEFAULTS,
            notes,
            decisions,
            sender: "",
            since: null,
          };
      const made = fileOf(review);
      offer(made.file, made.name);
      memory.isSaved(file.sha256);
      store.set({ notice: `Saved ${isolated(made.name)}. Drop it on the page, with the model, to go on from it.` });
    }
  });
  addEventListener("beforeunload", (event) => {
    if (memory.unkept.length > 0 || (store.state.model?.undo ?? 0) > 0) event.preventDefault();
  });
}
