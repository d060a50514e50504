/**
 * Ways in: files and folders dropped anywhere, the buttons for them, a demo. A brief, a review, and what belongs to a model's
 * materials may come with it or alone.
 *
 * @import {Picked} from "../batch/files.js"
 * @import {Store} from "../core/state.js"
 */

import { pickedOf } from "../batch/files.js";
import { byId } from "../base/dom.js";
import { isolated } from "../base/format.js";
import { isCompanion } from "../lenses/shelf.js";
import { problemOf } from "../core/problems.js";

/**
 * @param {Store} store
 * @param {(file: File) => void} open
 * @param {(file: File) => Promise<void>} openReview
 * @param {(demo: string) => void} demo
 * @param {{hold: (file: File) => Promise<string>, show: () => void}} brief
 * @param {{wants: (picked: Picked) => boolean, take: (picked: Picked) => void, expect: () => void, rest: () => void}} many for input that may have several models
 * @param {(companions: File[], withModel: boolean) => void} give libraries and pictures
 * @param {(handle: FileSystemFileHandle) => Promise<void>} remember called with the handle of a chosen model
 * @returns {{choose: () => Promise<void>}}
 */
export function startDrop(store, open, openReview, demo, brief, many, give, remember) {
  const veil = byId("veil", HTMLElement);
  const veilTitle = byId("veil-title", HTMLElement);
  const veilText = byId("veil-text", HTMLElement);
  const input = byId("file-input", HTMLInputElement);
  const folderInput = byId("folder-input", HTMLInputElement);
  const folderButton = byId("folder-open", HTMLButtonElement);

  /** @param {DragEvent} event */
  function judge(event) {
    const verdict = judgeDrag(event.dataTransfer, store.state.model !== null || store.state.job !== null);
    veil.hidden = false;
    veil.classList.toggle("is-refused", !verdict.usable);
    veilTitle.textContent = verdict.title;
    veilText.textContent = verdict.text;
    if (event.dataTransfer) event.dataTransfer.dropEffect = verdict.usable ? "copy" : "none";
  }
  function lift() {
    veil.hidden = true;
  }

  addEventListener("dragenter", (event) => {
    event.preventDefault();
    judge(event);
    if (event.relatedTarget === null && (event.dataTransfer?.items.length ?? 0) > 1) many.expect();
  });
  addEventListener("dragover", (event) => {
    event.preventDefault();
    judge(event);
  });
  addEventListener("dragleave", (event) => {
    // `relatedTarget` is the next element, or null when leaving the window.
    if (event.relatedTarget !== null) return;
    lift();
    many.rest();
  });
  addEventListener("drop", (event) => {
    event.preventDefault();
    lift();
    void take(pickedOf(event.dataTransfer));
  });

  /** @param {Picked} picked */
  async function take({ files, folders, dropped }) {
    const texts = files.filter(
      ({ name, type, webkitRelativePath }) => webkitRelativePath === "" && (/\.(json|toml)$/i.test(name) || /\/(json|toml)$/.test(type)),
    );
    const companions = files.filter((file) => !texts.includes(file) && file.webkitRelativePath === "" && isCompanion(file));
    const models = files.filter((file) => !texts.includes(file) && !companions.includes(file));
    const model = models.find(({ name }) => /\.obj$/i.test(name)) ?? models[0];
    // A model alone is opened at once.
    const told = texts.length > 0 ? await Promise.all(texts.map(isReview)) : [];
    const [review] = texts.filter((_, index) => told[index]);
    const briefs = texts.filter((_, index) => !told[index]);
    const [first] = briefs;
    if (review) await openReview(review);
    const why = first ? await brief.hold(first) : "";
    const all = { files: models, folders };
    const isClass = many.wants(all);
    if (!isClass) many.rest();
    if (!isClass && companions.length > 0) give(companions, model !== undefined);
    if (isClass) many.take({ files: [...models, ...companions], folders, ...(dropped && texts.length === 0 && { dropped }) });
    else if (model) open(model);
    else if (first && why) store.set({ problem: problemOf({ code: "brief", message: why, line: null }, first.name) });
    else if (first) brief.show();
    const said = [];
    const [named, briefNamed] = [model, first].map((file) => isolated(file?.name ?? ""));
    if (models.length > 1 && !isClass) said.push(`${models.length} files were dropped. This is ${named}; the others are no models.`);
    if (briefs.length > 1) said.push(`One brief is active at a time: of ${briefs.length}, ${briefNamed} was taken.`);
    if (first && (model || isClass))
      said.push(why ? `Checked against the brief that was active, because ${briefNamed} could not be used: ${why}` : `Checked against ${briefNamed}.`);
    else if (first && !why && !store.state.model && !store.state.job) said.push(`${briefNamed} is active. Drop an OBJ to hold it to this brief.`);
    if (said.length > 0) store.set({ notice: said.join(" ") });
  }

  for (const chooser of [input, folderInput]) {
    chooser.addEventListener("change", () => {
      void take({ files: [...(chooser.files ?? [])], folders: [] });
      chooser.value = "";
    });
  }
  /** Asks for files, with the file picker API where it exists, so that they can be reopened at the next visit. */
  async function choose() {
    const { showOpenFilePicker: ask } = /** @type {{showOpenFilePicker?: (options: object) => Promise<FileSystemFileHandle[]>}} */ (
      /** @type {unknown} */ (window)
    );
    // Frames may not ask.
    if (!ask || window.parent !== window) {
      input.click();
      return;
    }
    let handles;
    try {
      handles = await ask.call(window, { multiple: true });
    } catch (error) {
      // Cancelled, or refused by the browser.
      if (!(error instanceof DOMException && error.name === "AbortError")) input.click();
      return;
    }
    const files = await Promise.allSettled(handles.map((handle) => handle.getFile()));
    await take({ files: files.flatMap((file) => (file.status === "fulfilled" ? [file.value] : [])), folders: [] });
    const [only, ...others] = handles;
    if (only && others.length === 0 && /\.obj$/i.test(only.name)) await remember(only);
  }

  byId("folder-line", HTMLElement).hidden = !("webkitdirectory" in folderInput);
  folderButton.addEventListener("click", () => {
    many.expect();
    folderInput.click();
  });
  folderInput.addEventListener("cancel", () => many.rest());
  for (const button of document.querySelectorAll("[data-open]")) {
    button.addEventListener("click", () => void choose());
  }
  for (const link of document.querySelectorAll("[data-demo]")) {
    if (!(link instanceof HTMLAnchorElement)) continue;
    link.addEventListener("click", (event) => {
      if (event.ctrlKey || event.metaKey || event.shiftKey) return;
      event.preventDefault();
      demo(link.dataset.demo ?? "");
    });
  }
  return { choose };
}

/** Length of a file's start that is searched for its schema, bytes. */
const SCHEMA_WITHIN = 4096;

/**
 * Whether a JSON file is a review by its schema; any other one is taken for a brief.
 * @param {File} file
 */
async function isReview(file) {
  const head = await file
    .slice(0, SCHEMA_WITHIN)
    .text()
    .catch(() => "");
  return /"schema"\s*:\s*"gridproof-review\//.test(head);
}

/**
 * The message before the drop, when types are known but not names.
 * @param {DataTransfer | null} transfer
 * @param {boolean} hasModel whether one is open or being opened
 */
function judgeDrag(transfer, hasModel) {
  const files = [...(transfer?.items ?? [])].filter(({ kind }) => kind === "file");
  if (files.length === 0) {
    return { usable: false, title: "That is not a file", text: "Drop an OBJ, a folder of them, or a zip." };
  }
  const companions = files.filter(({ type }) => isCompanion({ name: "", type })).length;
  if (companions === files.length) {
    return hasModel
      ? { usable: true, title: "Drop to see it on the model", text: "A picture through its UVs. It stays in this tab." }
      : { usable: true, title: "A picture, and no model yet", text: "It is kept in this tab for the OBJ that comes next; or drop both together." };
  }
  const foreign = files.map(({ type }) => (/^(audio|video|font)\/|\/pdf$|\/html$/.test(type) ? type : ""));
  if (foreign.every(Boolean)) {
    return { usable: false, title: "That is no model", text: `It looks like ${foreign[0]}; an OBJ file is needed.` };
  }
  const briefs = files.filter(({ type }) => /\/(json|toml)$/.test(type)).length;
  if (briefs === files.length) return { usable: true, title: "Drop to use it", text: "A brief, which models are then checked against, or a review." };
  if (briefs > 0 && files.length - briefs === 1)
    return { usable: true, title: "Drop to read it", text: "The brief or review that comes with it is used. Both stay in this tab." };
  return files.length > 1
    ? { usable: true, title: "Drop to read them", text: `${files.length} files; several OBJs are told in a table.` }
    : { usable: true, title: "Drop to read it", text: "It stays in this tab." };
}
