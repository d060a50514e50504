/**
 * A review whose file is not open yet: its preview, and the question if another file is on screen.
 *
 * @import {Review} from "../core/review.js"
 * @import {State, Store} from "../core/state.js"
 */

import { CHECKS } from "../findings/checks.js";
import { briefName } from "../findings/limits.js";
import { byId, make } from "../base/dom.js";
import { bytes, counted, isolated, whole } from "../base/format.js";

/** Digits of a SHA-256 that people compare: no two files of one folder share them by chance. */
const SHOWN_DIGITS = 12;

/** Values of a brief that are shown of a link whose file is not here, and characters of each. */
const BRIEF_SHOWN = 6;
const VALUE_SHOWN = 60;

/**
 * @param {Store} store
 * @param {(review: Review) => void} show shows it on the file that is on screen
 */
export function startAwaited(store, show) {
  const card = byId("other", HTMLElement);
  byId("other-show", HTMLButtonElement).addEventListener("click", () => {
    const { awaited } = store.state;
    if (awaited) show(awaited);
  });
  for (const id of ["other-leave", "awaited-leave"]) {
    byId(id, HTMLButtonElement).addEventListener("click", () => {
      store.set({ awaited: null, notice: store.state.model ? "The review was left. The model on screen stays as it is." : "" });
    });
  }
  store.watch(["awaited", "model", "form"], ({ awaited, model, form }) => {
    const sha256 = model?.report?.file.sha256;
    card.hidden = !awaited || !sha256 || awaited.file.sha256 === sha256;
    byId("awaited", HTMLElement).hidden = !awaited;
    byId("dropzone-title", HTMLElement).textContent = awaited ? `Drop ${isolated(awaited.file.name)} anywhere` : "Drop an OBJ anywhere";
    if (!awaited) return;
    byId("awaited-file", HTMLElement).replaceChildren(...named(awaited.file));
    fill(awaited, form);
    if (card.hidden || !model?.report) return;
    const { file } = model.report;
    const another = file.name === awaited.file.name ? "The name is the same, the content is not." : "";
    byId("other-text", HTMLElement).replaceChildren("The review is about ", ...named(awaited.file), ". On screen is ", ...named(file), `. ${another}`);
  });
}

/**
 * The preview before the file is open.
 * @param {Review} review
 * @param {State["form"]} form
 */
function fill(review, form) {
  const { sender, brief, notes, decisions } = review;
  byId("awaited-sender", HTMLElement).replaceChildren(...(sender ? ["From ", make("bdi", { class: "about-file" }, sender), ". "] : []));
  byId("awaited-holds", HTMLElement).textContent = [holds(review), sinceWords(review)].filter(Boolean).join(". ");
  byId("awaited-brief", HTMLElement).textContent = briefWords(brief, form);
  const reasons = decisions.map((decided) =>
    make(
      "li",
      { class: "awaited-decision", dir: "auto" },
      make("b", {}, decided.kind === "intended" ? "Intended" : "To fix"),
      ` (${kindWords(decided.finding)})${decided.kind === "intended" ? `: ${decided.reason}` : ""}`,
    ),
  );
  const list = byId("awaited-notes", HTMLElement);
  list.replaceChildren(...notes.map(({ text }) => make("li", { dir: "auto" }, text)), ...reasons);
  list.hidden = list.childElementCount === 0;
}

/**
 * @param {Review["brief"]} brief
 * @param {State["form"]} form
 */
function briefWords(brief, form) {
  const values = Object.entries(brief).flatMap(([section, keys]) => Object.entries(keys).map(([key, value]) => `${section}.${key} ${JSON.stringify(value)}`));
  if (values.length === 0) return "";
  const more = values.length > BRIEF_SHOWN ? `, and ${whole(values.length - BRIEF_SHOWN)} more` : "";
  return `Checked against ${briefName(brief, form).name}: ${values
    .slice(0, BRIEF_SHOWN)
    .map((value) => isolated([...value].slice(0, VALUE_SHOWN).join("")))
    .join(", ")}${more}.`;
}

/** @param {{since: Review["since"]}} review */
export function sinceWords({ since }) {
  return since ? `Since the upload before: ${whole(since.fixed)} fixed, ${whole(since.still)} still there, ${whole(since.new)} new.` : "";
}

/**
 * A finding's subject by its name only, without its model.
 * @param {string} id
 */
function kindWords(id) {
  const [, label] =
    CHECKS.findLast(([kind]) => id === kind || id.startsWith(`${kind}-`)) ??
    (/^(low|high)-/.test(id) ? ["density", "off density"] : ["", isolated([...id].slice(0, VALUE_SHOWN).join(""))]);
  return label;
}

/** @param {{notes: readonly unknown[], decisions: readonly unknown[]}} review */
export function holds({ notes, decisions }) {
  return [notes.length && counted(notes.length, "note"), decisions.length && counted(decisions.length, "decision")].filter(Boolean).join(", ");
}

/** @param {{name: string, bytes: number, sha256: string}} file */
function named(file) {
  return [make("bdi", { class: "about-file" }, file.name), ` (${bytes(file.bytes)}, SHA-256 ${file.sha256.slice(0, SHOWN_DIGITS)}…)`];
}
