/**
 * Ways in: a file dropped anywhere, the file button, a demo. A review, which is JSON, may come alone or with its model.
 *
 * @import {Store} from "./state.js"
 */

import { byId } from "./dom.js";

/**
 * @param {Store} store
 * @param {(file: File) => void} open
 * @param {(file: File) => Promise<void>} openReview
 * @param {(demo: string) => void} demo
 */
export function startDrop(store, open, openReview, demo) {
  const veil = byId("veil", HTMLElement);
  const veilTitle = byId("veil-title", HTMLElement);
  const veilText = byId("veil-text", HTMLElement);
  const input = byId("file-input", HTMLInputElement);

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
    void take([...(event.dataTransfer?.files ?? [])]);
  });

  /** @param {File[]} files */
  async function take(files) {
    const review = files.find(({ name }) => /\.json$/i.test(name));
    const models = files.filter((file) => file !== review);
    const [first] = models;
    if (review) await openReview(review);
    if (!first) return;
    const chosen = models.find(({ name }) => /\.obj$/i.test(name)) ?? first;
    open(chosen);
    if (models.length > 1) {
      store.set({ notice: `${models.length} files were dropped. One model is looked at at a time: this is ${chosen.name}.` });
    }
  }

  input.addEventListener("change", () => {
    void take([...(input.files ?? [])]);
    input.value = "";
  });
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
    return { usable: false, title: "That is not a file", text: "Drop an OBJ file from a folder." };
  }
  const foreign = files.map(({ type }) => /^(image|audio|video|font)\/|\/pdf$|\/html$/.test(type) && !/tgif/.test(type) ? type : "");
  if (foreign.every(Boolean)) {
    return { usable: false, title: "That is no model", text: `It looks like ${foreign[0]}; an OBJ file is needed.` };
  }
  return files.length > 1
    ? { usable: true, title: "Drop to read the first OBJ", text: `${files.length} files; one model is looked at at a time.` }
    : { usable: true, title: "Drop to read it", text: "It stays in this tab." };
}
