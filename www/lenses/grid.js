/**
 * The dialog of the grid settings: cells, the map's size, text, and the grid as a picture file.
 * It does not cover the 3D view, so that every change is visible at once on model and sheet.
 *
 * @import {Engine, FromPainter, PaintMessage} from "../core/messages.js"
 * @import {Grid, Store} from "../core/state.js"
 */

import { byId } from "../base/dom.js";
import { counted } from "../base/format.js";
import { LivingWorker } from "../base/living-worker.js";
import { GRID_DEFAULTS } from "../core/known.js";
import { mapOf } from "../core/state.js";

const PAINTER = new URL("./grid.worker.js", import.meta.url);

/** Debounce of typing before the grid is painted again, ms. */
const REST_MS = 200;

/** How long a saved picture's URL is kept, ms: until every browser has started writing it. */
const KEEP_MS = 60_000;

/**
 * @param {Store} store
 * @param {Engine} engine
 * @param {WebAssembly.Module} module
 * @returns {{open: () => void, readonly busy: boolean}}
 */
export function startGrid(store, engine, module) {
  const dialog = byId("grid", HTMLDialogElement);
  const form = byId("grid-form", HTMLFormElement);
  const fields = {
    cell: byId("grid-cell", HTMLInputElement),
    width: byId("grid-width", HTMLInputElement),
    height: byId("grid-height", HTMLInputElement),
    words: byId("grid-words", HTMLInputElement),
    wordsPx: byId("grid-words-px", HTMLInputElement),
  };
  const trouble = byId("grid-trouble", HTMLElement);
  const missing = byId("grid-missing", HTMLElement);
  const progress = byId("grid-progress", HTMLProgressElement);
  const save = byId("grid-save", HTMLButtonElement);
  /** @type {Element | null} */
  let before = null;
  /** @type {Worker | null} */
  let painter = null;
  let resting = 0;

  /** @param {Grid} grid */
  function fill({ cell, width, height, words, wordsPx }) {
    fields.cell.value = String(cell);
    fields.width.value = String(width);
    fields.height.value = String(height);
    fields.words.value = words;
    fields.wordsPx.value = String(wordsPx);
    judge();
  }

  /** @returns {Grid | null} the grid in the form; null, with a message, if it is invalid */
  function judge() {
    const grid = {
      cell: fields.cell.valueAsNumber,
      width: fields.width.valueAsNumber,
      height: fields.height.valueAsNumber,
      words: fields.words.value.trim(),
      wordsPx: fields.wordsPx.valueAsNumber,
    };
    const boxes = [...form.querySelectorAll("label")].map((label) => label.querySelector("input")).filter((box) => box !== null);
    const wrong = boxes.find((box) => !box.checkValidity());
    const name = wrong?.closest("label")?.querySelector("span")?.textContent ?? "";
    const why = wrong ? `${name}: ${wrong.validationMessage}` : engine.grid_trouble(grid.width, grid.height, grid.cell, grid.words, grid.wordsPx);
    trouble.hidden = !why;
    trouble.textContent = why ?? "";
    const unknown = [...engine.missing_glyphs(fields.words.value)];
    missing.hidden = unknown.length === 0;
    missing.textContent = `The grid’s face has no drawing for ${unknown.map((character) => `“${character}”`).join(" ")}: ${unknown.length === 1 ? "a box stands for it" : "boxes stand for them"}.`;
    save.disabled = Boolean(why) || painter !== null;
    return why ? null : grid;
  }

  form.addEventListener("input", () => {
    rest();
    const grid = judge();
    if (!grid) return;
    resting = window.setTimeout(() => {
      resting = 0;
      store.set({ grid });
    }, REST_MS);
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const grid = judge();
    if (grid) begin(grid);
  });
  function rest() {
    clearTimeout(resting);
    resting = 0;
  }
  byId("grid-reset", HTMLButtonElement).addEventListener("click", () => {
    rest();
    const grid = { ...mapOf(store.state.brief), ...GRID_DEFAULTS };
    fill(grid);
    store.set({ grid });
  });
  byId("grid-close", HTMLButtonElement).addEventListener("click", close);
  dialog.addEventListener("keydown", (event) => {
    if (event.key === "Escape") close();
  });
  let map = mapOf({});
  store.watch(["brief"], ({ brief, grid }) => {
    const before = map;
    map = mapOf(brief);
    // A size set here applies until the brief's size changes.
    if (map.width !== before.width || map.height !== before.height) store.set({ grid: { ...grid, ...map } });
    if (dialog.open) fill(store.state.grid);
  });

  // At once, not on the dialog's close event: it may be open again by then.
  function close() {
    dialog.close();
    if (before instanceof HTMLElement && before.isConnected) before.focus();
  }

  /** @param {Grid} grid */
  function begin(grid) {
    if (painter) return;
    painter = new LivingWorker(PAINTER, { type: "module", name: "gridproof-grid" });
    progress.hidden = false;
    progress.value = 0;
    save.disabled = true;
    painter.addEventListener("message", (/** @type {MessageEvent<FromPainter>} */ { data }) => {
      if (data.type === "painted") progress.value = data.rows / data.of;
      else if (data.type === "picture") end(() => offer(data.blob, grid));
      else end(() => refuse(data.message));
    });
    painter.addEventListener("error", (event) => {
      event.preventDefault();
      end(() => refuse(`The picture could not be made (${event.message || "the painter did not start"}). Try a smaller map.`));
    });
    painter.postMessage(/** @type {PaintMessage} */ ({ module, grid }));
  }

  /** @param {() => void} then */
  function end(then) {
    painter?.terminate();
    painter = null;
    progress.hidden = true;
    judge();
    then();
  }

  /** @param {string} message */
  function refuse(message) {
    trouble.hidden = false;
    trouble.textContent = message;
  }

  return {
    open() {
      if (dialog.open) return close();
      before = document.activeElement;
      fill(store.state.grid);
      dialog.show();
      fields.cell.focus();
    },
    /** Whether input is not applied yet, or a picture is being created. */
    get busy() {
      return resting !== 0 || painter !== null;
    },
  };
}

/**
 * @param {Blob} blob
 * @param {Grid} grid
 */
function offer(blob, { width, height, cell }) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = `grid-${width}x${height}-${cell}.png`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), KEEP_MS);
  byId("announcement", HTMLElement).textContent = `The grid is saved: ${counted(width * height, "pixel")}.`;
}
