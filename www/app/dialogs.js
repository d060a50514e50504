/**
 * Dialogs: the keys and the reader's notes. Each is a native modal `dialog` filled when it opens.
 *
 * @import {Store} from "../core/state.js"
 */

import { byId, make } from "../base/dom.js";
import { counted, whole } from "../base/format.js";
import { warningCount } from "../findings/verdict.js";

/** Beyond this number only the first and last key of a row are listed. */
const LONG_RUN = 4;

/** @typedef {{group: string, keys: string[], text: string}} KeyRow */

/** @param {string} id */
function dialogOf(id) {
  const dialog = byId(id, HTMLDialogElement);
  // A press on the backdrop has the dialog itself as its target.
  dialog.addEventListener("click", (event) => {
    if (event.target === dialog) dialog.close();
  });
  return dialog;
}

/**
 * @param {Store} store
 * @param {KeyRow[]} keys
 */
export function startDialogs(store, keys) {
  const help = dialogOf("help");
  const warnings = dialogOf("warnings");
  byId("help-open", HTMLButtonElement).addEventListener("click", () => help.showModal());
  fillHelp(byId("help-keys", HTMLElement), keys);

  return {
    help: () => help.showModal(),
    warnings: () => {
      fillWarnings(store);
      warnings.showModal();
    },
  };
}

/**
 * @param {HTMLElement} place
 * @param {KeyRow[]} keys
 */
function fillHelp(place, keys) {
  const groups = [...new Set(keys.map(({ group }) => group))];
  place.replaceChildren(
    ...groups.map((group) =>
      make(
        "section",
        {},
        make("h3", {}, group),
        make(
          "dl",
          { class: "keys" },
          ...keys.filter((row) => row.group === group).map((row) => make("div", {}, make("dt", {}, ...keysOf(row)), make("dd", {}, row.text))),
        ),
      ),
    ),
  );
}

/** @param {KeyRow} row */
function keysOf({ keys }) {
  const [first = "", last = ""] = [keys[0], keys.at(-1)];
  if (keys.length > LONG_RUN) return [make("kbd", {}, first), " to ", make("kbd", {}, last)];
  return keys.flatMap((key) => [make("kbd", {}, key), " "]);
}

/** @param {Store} store */
function fillWarnings({ state: { model } }) {
  const warnings = model?.summary.warnings ?? [];
  const total = warningCount(model?.summary.warning_counts ?? {});
  byId("warnings-lead", HTMLElement).textContent =
    `The reader went on past ${counted(total, "place")} in ${model?.name ?? "the file"}. What could not be used was left out; everything else is here.`;
  byId("warnings-rows", HTMLElement).replaceChildren(
    ...warnings.map(({ line, message }) => make("tr", {}, make("td", { class: "figure" }, line > 0 ? whole(line) : "file"), make("td", {}, message))),
  );
  const rest = byId("warnings-rest", HTMLElement);
  rest.hidden = total <= warnings.length;
  const kinds = Object.entries(model?.summary.warning_counts ?? {});
  rest.textContent = `The first ${whole(warnings.length)} are listed. All of them by kind: ${kinds
    .map(([kind, count]) => `${kind.replaceAll("-", " ")} ${whole(count)}`)
    .join(", ")}.`;
}
