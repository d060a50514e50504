/**
 * Ways in: files and folders dropped anywhere, the buttons for them, a demo.
 *
 * @import {Picked} from "./class-files.js"
 * @import {Store} from "./state.js"
 */

import { pickedOf } from "./class-files.js";
import { byId } from "./dom.js";

/**
 * @param {Store} store
 * @param {(file: File) => void} open
 * @param {(demo: string) => void} demo
 * @param {{wants: (picked: Picked) => boolean, take: (picked: Picked) => void}} many where more than one model may be
 */
export function startDrop(store, open, demo, many) {
  const veil = byId("veil", HTMLElement);
  const veilTitle = byId("veil-title", HTMLElement);
  const veilText = byId("veil-text", HTMLElement);
  const input = byId("file-input", HTMLInputElement);
  const folderInput = byId("folder-input", HTMLInputElement);
  const folderButton = byId("folder-open", HTMLButtonElement);

  /** @param {DragEvent} event */
  function judge(event) {
    const verdict = judgeDrag(event.dataTransfer);
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
  });
  addEventListener("dragover", (event) => {
    event.preventDefault();
    judge(event);
  });
  addEventListener("dragleave", (event) => {
    // Going from one element to another names the next one; leaving the window names none.
    if (event.relatedTarget === null) lift();
  });
  addEventListener("drop", (event) => {
    event.preventDefault();
    lift();
    take(pickedOf(event.dataTransfer));
  });

  /** @param {Picked} picked */
  function take(picked) {
    if (many.wants(picked)) {
      many.take(picked);
      return;
    }
    const { files } = picked;
    const [first] = files;
    if (!first) return;
    const chosen = files.find(({ name }) => /\.obj$/i.test(name)) ?? first;
    open(chosen);
    if (files.length > 1) {
      store.set({ notice: `${files.length} files were dropped. This is ${chosen.name}; the others are no models.` });
    }
  }

  for (const chooser of [input, folderInput]) {
    chooser.addEventListener("change", () => {
      take({ files: [...(chooser.files ?? [])], folders: [] });
      chooser.value = "";
    });
  }
  byId("folder-line", HTMLElement).hidden = !("webkitdirectory" in folderInput);
  folderButton.addEventListener("click", () => folderInput.click());
  for (const button of document.querySelectorAll("[data-open]")) {
    button.addEventListener("click", () => input.click());
  }
  for (const link of document.querySelectorAll("[data-demo]")) {
    if (!(link instanceof HTMLAnchorElement)) continue;
    link.addEventListener("click", (event) => {
      if (event.ctrlKey || event.metaKey || event.shiftKey) return;
      event.preventDefault();
      demo(link.dataset.demo ?? "");
    });
  }
}

/**
 * What can be said before the drop; names stay hidden until then, kinds do not.
 * @param {DataTransfer | null} transfer
 */
function judgeDrag(transfer) {
  const files = [...(transfer?.items ?? [])].filter(({ kind }) => kind === "file");
  if (files.length === 0) {
    return { usable: false, title: "That is not a file", text: "Drop an OBJ, a folder of them, or a zip." };
  }
  const foreign = files.map(({ type }) => /^(image|audio|video|font)\/|\/pdf$|\/html$/.test(type) && !/tgif/.test(type) ? type : "");
  if (foreign.every(Boolean)) {
    return { usable: false, title: "That is no model", text: `It looks like ${foreign[0]}; an OBJ file is needed.` };
  }
  return files.length > 1
    ? { usable: true, title: "Drop to read them", text: `${files.length} files; several OBJs are told in a table.` }
    : { usable: true, title: "Drop to read it", text: "It stays in this tab." };
}
