/**
 * The save dialog: report, data, pictures of sheet and 3D view, and a link to the grid's own picture. The worker
 * creates the files. Names come from the model's.
 *
 * @import {Reader} from "../model/reader.js"
 * @import {Stage} from "../stage/stage.js"
 * @import {SheetOrder, StageOrder} from "../core/messages.js"
 * @import {State, Store} from "../core/state.js"
 */

import { byId } from "../base/dom.js";
import { bytes, whole } from "../base/format.js";
import { tilesOf } from "../core/state.js";
import { UDIM } from "../core/known.js";
import { mapOf } from "../core/state.js";

/** How long a saved file's URL is kept, ms: until every browser has started writing it. */
const KEEP_MS = 60_000;
/** Most pixels of a picture of the sheet: the same as the command's. */
const SHEET_MOST_PX = 8192 * 8192;
/** Most pixels of a picture of the stage, a screen of 3840 x 2160: beyond it GPUs run out of memory. */
const STAGE_MOST_PX = 3840 * 2160;
/** Most characters of a name: every file system takes it, even in a script of four bytes a character. */
const NAME_MOST = 60;

/** @typedef {"report" | "data" | "obj" | "sheet" | "stage"} What */

/**
 * A model's name as the start of a file name: without its extension, and without characters and names that file systems
 * refuse. (Microsoft, "Naming Files, Paths, and Namespaces"; not checked against the source.)
 * @param {string} model
 */
export function stem(model) {
  const plain = model
    .normalize("NFC")
    .replace(/\.obj$/i, "")
    .replace(/[\u200e\u200f\u202a-\u202e\u2066-\u2069]/gu, "")
    .replace(/[\\/:*?"<>|\p{Cc}]/gu, "-")
    .replace(/\s+/gu, " ");
  const short = [...plain]
    .slice(0, NAME_MOST)
    .join("")
    .replace(/^[ .]+|[ .]+$/g, "");
  if (short === "") return "model";
  return /^(con|prn|aux|nul|com\d|lpt\d)(\.|$)/i.test(short) ? `model ${short}` : short;
}

/**
 * The same with the student's name, unless that is in it.
 * @param {string} student empty for none
 * @param {string} model
 */
export function stemWith(student, model) {
  const words = (/** @type {string} */ text) =>
    ` ${text
      .normalize("NFC")
      .toLowerCase()
      .replace(/[\s_.-]+/g, " ")
      .trim()} `;
  return student === "" || words(model).includes(words(student)) ? stem(model) : stem(`${student} ${stem(model)}`);
}

/**
 * @param {Store} store
 * @param {Reader} reader
 * @param {Stage} stage
 * @param {() => void} openGrid
 * @returns {{open: () => void, readonly saving: boolean}}
 */
export function startSave(store, reader, stage, openGrid) {
  const dialog = byId("save", HTMLDialogElement);
  const form = byId("save-form", HTMLFormElement);
  const opener = byId("save-open", HTMLButtonElement);
  const go = byId("save-go", HTMLButtonElement);
  const cancel = byId("save-cancel", HTMLButtonElement);
  const progress = byId("save-progress", HTMLProgressElement);
  const outcome = byId("save-outcome", HTMLElement);
  const trouble = byId("save-trouble", HTMLElement);
  const tile = byId("save-tile", HTMLSelectElement);
  const width = byId("save-width", HTMLInputElement);
  const height = byId("save-height", HTMLInputElement);
  const names = byId("save-names", HTMLInputElement);
  const choices = byId("save-choices", HTMLFieldSetElement);
  let saving = false;
  /** Number of the latest save; results of others are ignored. */
  let turn = 0;

  /** @param {string} name of a group of radio buttons; read directly, since form data omit disabled ones */
  const chosen = (name) => form.querySelector(`input[name="${name}"]:checked`)?.getAttribute("value") ?? "";
  /** @param {string} id */
  const ticked = (id) => byId(id, HTMLInputElement).checked;

  store.watch(["model", "job", "judging"], (state) => {
    const why = whyNot(state);
    opener.setAttribute("aria-disabled", String(why !== ""));
    opener.title = why || "Save report, data or pictures (S)";
    if (why && dialog.open) close();
  });
  opener.addEventListener("click", open);
  byId("save-close", HTMLButtonElement).addEventListener("click", close);
  dialog.addEventListener("cancel", leave);
  dialog.addEventListener("click", (event) => {
    if (event.target === dialog) close();
  });
  cancel.addEventListener("click", leave);
  form.addEventListener("input", judge);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (judge()) void save();
  });
  byId("save-grid", HTMLButtonElement).addEventListener("click", () => {
    close();
    openGrid();
  });

  function open() {
    const why = whyNot(store.state);
    if (why) {
      store.set({ notice: why });
      return;
    }
    if (dialog.open) return;
    const size = stage.pictureSize();
    width.value = String(size.width);
    height.value = String(size.height);
    const tiles = tilesOf(store.state);
    const carried = store.state.model?.link !== null;
    byId("save-obj", HTMLElement).hidden = !carried;
    if (!carried && chosen("what") === "obj") byId("save-report", HTMLInputElement).checked = true;
    byId("save-tiles", HTMLElement).hidden = tiles.length < 2;
    tile.replaceChildren(new Option(`all ${tiles.length}`, ""), ...tiles.map((number) => new Option(String(number))));
    say("");
    judge();
    dialog.showModal();
  }

  function close() {
    leave();
    dialog.close();
  }

  /** Cancels the running save. */
  function leave() {
    if (!saving) return;
    end("Stopped. Nothing was saved.");
    reader.leaveSaving();
  }

  /** Shows the fields of the selected kind. @returns {boolean} whether it can be saved */
  function judge() {
    const what = chosen("what");
    for (const group of /** @type {NodeListOf<HTMLElement>} */ (form.querySelectorAll("[data-of]"))) group.hidden = group.dataset.of !== what;
    const isSvg = chosen("as") === "svg";
    byId("save-names-note", HTMLElement).hidden = isSvg;
    const why = what === "stage" ? stageTrouble() : what === "sheet" && !isSvg ? sheetTrouble() : "";
    trouble.textContent = why;
    trouble.hidden = why === "";
    go.disabled = saving || why !== "";
    byId("save-name", HTMLElement).textContent = fileName();
    return why === "";
  }

  function stageTrouble() {
    const wrong = [width, height].find((box) => !box.checkValidity());
    if (wrong) return `${wrong === width ? "Width" : "Height"}: ${wrong.validationMessage}`;
    const [w, h] = [width.valueAsNumber, height.valueAsNumber];
    return w * h > STAGE_MOST_PX ? `${whole(w)} × ${whole(h)} px is too large: at most 3,840 × 2,160 px, or as many in another shape.` : "";
  }

  function sheetTrouble() {
    const size = sheetSize();
    return size.width * size.height > SHEET_MOST_PX ? `${whole(size.width)} × ${whole(size.height)} px is too large for a PNG. Choose one tile, or SVG.` : "";
  }

  /** Size of the sheet's picture, and where its tiles lie on it. */
  function sheetSize() {
    const map = mapOf(store.state.brief);
    const all = tilesOf(store.state);
    const shown = (tile.value ? [Number(tile.value)] : all.length > 0 ? all : [UDIM.first]).map((number) => number - UDIM.first);
    const columns = shown.map((at) => at % UDIM.columns);
    const rows = shown.map((at) => Math.floor(at / UDIM.columns));
    const [left, top] = [Math.min(...columns), Math.max(...rows)];
    return {
      width: (Math.max(...columns) - left + 1) * map.width,
      height: (top - Math.min(...rows) + 1) * map.height,
      places: shown.map((_, at) => [((columns[at] ?? 0) - left) * map.width, (top - (rows[at] ?? 0)) * map.height]),
    };
  }

  function fileName() {
    const name = stemWith(store.state.student, store.state.model?.name ?? "");
    const what = /** @type {What} */ (chosen("what"));
    if (what === "report") return `${name} report.html`;
    if (what === "data") return `${name} report.json`;
    if (what === "obj") return `${name}.obj`;
    if (what === "sheet") return `${name} sheet${tile.value ? ` ${tile.value}` : ""}.${chosen("as")}`;
    return `${name} stage.png`;
  }

  async function save() {
    const mine = (turn += 1);
    const name = fileName();
    saving = true;
    choices.disabled = true;
    go.disabled = true;
    cancel.hidden = progress.hidden = false;
    progress.removeAttribute("value");
    say(`Making ${name} …`);
    try {
      const blob = await make();
      if (mine !== turn) return;
      offer(blob, name);
      end(`Saved ${name}, ${bytes(blob.size)}.`);
      byId("announcement", HTMLElement).textContent = outcome.textContent;
    } catch (error) {
      if (mine !== turn) return;
      end("");
      trouble.hidden = false;
      trouble.textContent = `${name} could not be made. ${error instanceof Error ? error.message : String(error)}`;
    }
  }

  /** @param {string} text */
  function end(text) {
    turn += 1;
    saving = false;
    choices.disabled = false;
    cancel.hidden = progress.hidden = true;
    say(text);
    judge();
    if (dialog.open && document.activeElement === document.body) go.focus();
  }

  /** @param {string} text */
  function say(text) {
    outcome.textContent = text;
  }

  /** @param {number} done @param {number} of */
  function heard(done, of) {
    if (of > 1) progress.value = done / of;
  }

  /** @returns {Promise<Blob>} */
  function make() {
    const what = /** @type {What} */ (chosen("what"));
    if (what === "sheet") return reader.save(sheetOrder(), heard);
    if (what === "stage") return reader.save(stageOrder(), heard);
    return reader.save({ what }, heard);
  }

  /** @returns {StageOrder} */
  function stageOrder() {
    const { lens, flags, chosen: shells } = store.state;
    const size = { width: width.valueAsNumber, height: height.valueAsNumber };
    return { what: "stage", ...size, lens, flags, chosen: [...shells].sort((a, b) => a - b), ...stage.scene(size.width, size.height) };
  }

  /** @returns {SheetOrder} */
  function sheetOrder() {
    const { brief, grid } = store.state;
    return {
      what: "sheet",
      as: /** @type {SheetOrder["as"]} */ (chosen("as")),
      ground: /** @type {SheetOrder["ground"]} */ (chosen("ground")),
      innerEdges: ticked("save-edges"),
      flags: ticked("save-flags"),
      names: names.checked,
      tile: tile.value ? Number(tile.value) : null,
      sheet: store.state.sheet,
      grid: { ...mapOf(brief), cell: grid.cell, words: grid.words, wordsPx: grid.wordsPx },
      places: sheetSize().places,
    };
  }

  return {
    open,
    get saving() {
      return saving;
    },
  };
}

/**
 * Why nothing can be saved; empty if it can.
 * @param {State} state
 */
function whyNot({ model, job, judging }) {
  if (!model) return "There is nothing to save before a model is open.";
  if (job || judging || !model.report) return "Saving waits until the model is measured.";
  return "";
}

/**
 * Has the browser save a blob.
 * @param {Blob} blob
 * @param {string} name
 */
export function offer(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), KEEP_MS);
}
