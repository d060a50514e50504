/**
 * Pins: the numbers of notes, at their places on the model and on the sheet. They follow both cameras frame by frame; one
 * behind the model is drawn fainter, as reported by the worker once the camera rests.
 *
 * The worker casts rays for that: the GPU's depth would have to be read back.
 *
 * @import {Reader} from "../model/reader.js"
 * @import {Stage} from "../stage/stage.js"
 * @import {Note, State, Store} from "../core/state.js"
 */

import { byId, make } from "../base/dom.js";

/** Selectors of text over the canvas: a pin is hidden where it would overlap one of these. */
const TEXTS = "#scale, #legend, #lenses, .tools, #chosen, .notice, #sheet .sheet-head, #sheet-which";
/** A pin's plate with its foot, CSS px. */
const PIN = { width: 28, height: 34 };

/**
 * @param {Store} store
 * @param {Stage} stage
 * @param {Reader} reader
 * @param {(id: number) => void} choose
 */
export function startPins(store, stage, reader, choose) {
  const area = byId("area", HTMLElement);
  const layers = { model: byId("pins-model", HTMLElement), sheet: byId("pins-sheet", HTMLElement) };
  /** Pinned notes, and those that are hidden in the view of `seen`. @type {Note[]} */
  let pinned = [];
  /** @type {Set<number>} */
  let hidden = new Set();
  let seen = "";
  let asking = false;

  store.watch(["notes", "draft", "model"], ({ notes, draft }) => {
    const isNew = draft && notes.every(({ id }) => id !== draft.id);
    pinned = (isNew ? [...notes, draft] : [...notes]).filter(({ place }) => place);
    seen = "";
    const number = (/** @type {Note} */ { id }) => notes.findIndex((note) => note.id === id) + 1 || notes.length + 1;
    const focused = document.activeElement instanceof HTMLElement ? document.activeElement.dataset.pin : undefined;
    for (const [face, layer] of Object.entries(layers)) {
      const there = face === "model" ? pinned : pinned.filter(({ place }) => place?.uv);
      const held = layer.contains(document.activeElement);
      layer.replaceChildren(...there.map((note) => pin(note, number(note), face)));
      if (held && focused) /** @type {HTMLElement | null} */ (layer.querySelector(`[data-pin="${focused}"]`))?.focus({ preventScroll: true });
    }
    mark(store.state);
    stage.wake();
  });
  store.watch(["note"], mark);

  /**
   * @param {Note} note
   * @param {number} number
   * @param {string} face
   */
  function pin(note, number, face) {
    const button = make(
      "button",
      { type: "button", class: "pin", "data-pin": String(note.id), "aria-label": `Note ${number} on the ${face}: ${note.text.slice(0, 80)}` },
      make("span", { class: "pin-number figure", "aria-hidden": "true" }, String(number)),
    );
    button.addEventListener("click", () => choose(note.id));
    // A wheel over a pin is for the surface below it.
    button.addEventListener(
      "wheel",
      (event) => {
        event.preventDefault();
        surfaces()[/** @type {"model" | "sheet"} */ (face)].dispatchEvent(new WheelEvent("wheel", event));
      },
      { passive: false },
    );
    return button;
  }

  /** @param {Readonly<State>} state */
  function mark({ note, draft }) {
    for (const button of /** @type {NodeListOf<HTMLElement>} */ (area.querySelectorAll("[data-pin]"))) {
      const own = button.dataset.pin === String(draft?.id ?? note);
      if (own) button.setAttribute("aria-current", "true");
      else button.removeAttribute("aria-current");
      button.classList.toggle("is-behind", button.parentElement === layers.model && hidden.has(Number(button.dataset.pin)));
    }
  }

  function surfaces() {
    const sheet = stage.sheetSurface;
    const [large, small] = [byId("surface-large", HTMLElement), byId("surface-small", HTMLElement)];
    return { sheet, model: sheet === large ? small : large };
  }

  /** Positions a layer over its surface and returns its place in the area; null if it is not shown. */
  function lay(/** @type {HTMLElement} */ layer, /** @type {HTMLElement} */ surface) {
    const isShown = pinned.length > 0 && surface.getClientRects().length > 0;
    layer.hidden = !isShown;
    if (!isShown) return null;
    const [outer, box] = [area.getBoundingClientRect(), surface.getBoundingClientRect()];
    const [left, top] = [box.x - outer.x, box.y - outer.y];
    for (const [name, value] of Object.entries({ left, top, width: box.width, height: box.height })) layer.style.setProperty(name, `${value}px`);
    layer.classList.toggle("is-inset", surface.id === "surface-small");
    return { left, top, width: box.width, height: box.height };
  }

  /**
   * @param {HTMLElement} layer
   * @param {(note: Note, index: number) => [number, number]} at CSS px of the layer
   * @param {{left: number, top: number, width: number, height: number}} box of the layer in the area
   */
  function put(layer, at, { left, top, width, height }) {
    const outer = area.getBoundingClientRect();
    const texts = [...area.querySelectorAll(TEXTS)].map((element) => element.getBoundingClientRect()).filter((box) => box.width > 0);
    const [x0, y0] = [outer.x + left, outer.y + top];
    const isClear = (/** @type {number} */ x, /** @type {number} */ y) =>
      texts.every(
        (text) => x0 + x + PIN.width / 2 <= text.left || x0 + x - PIN.width / 2 >= text.right || y0 + y <= text.top || y0 + y - PIN.height >= text.bottom,
      );
    for (const [index, button] of /** @type {HTMLElement[]} */ ([...layer.children]).entries()) {
      const note = pinned.find(({ id }) => String(id) === button.dataset.pin);
      const [x, y] = note ? at(note, index) : [NaN, NaN];
      const inside = x >= 0 && y >= 0 && x <= width && y <= height && isClear(x, y);
      button.hidden = !inside;
      // The foot of the pin is at the place.
      if (inside) button.style.setProperty("transform", `translate(${x}px, ${y}px) translate(-50%, -100%)`);
    }
  }

  stage.onFrame(() => {
    const { sheet, model } = surfaces();
    const [onSheet, onModel] = [lay(layers.sheet, sheet), lay(layers.model, model)];
    if (onSheet) {
      const [u0 = 0, v0 = 0] = stage.view.uv_at(onSheet.left * stage.ratio, onSheet.top * stage.ratio);
      const [u1 = 1, v1 = 1] = stage.view.uv_at((onSheet.left + onSheet.width) * stage.ratio, (onSheet.top + onSheet.height) * stage.ratio);
      put(
        layers.sheet,
        ({ place }) => [(((place?.uv?.[0] ?? 0) - u0) / (u1 - u0)) * onSheet.width, (((place?.uv?.[1] ?? 0) - v0) / (v1 - v0)) * onSheet.height],
        onSheet,
      );
    }
    if (!onModel || store.state.graphics === "none") {
      layers.model.hidden = true;
      return;
    }
    const points = Float64Array.from(pinned.flatMap(({ place }) => place?.point ?? []));
    const spots = stage.view.seen_at(points);
    put(
      layers.model,
      (_, index) => [(spots[2 * index] ?? NaN) / stage.ratio - onModel.left, (spots[2 * index + 1] ?? NaN) / stage.ratio - onModel.top],
      onModel,
    );
    void look(points);
  });

  /**
   * Asks which pins lie behind the model, one question at a time.
   * @param {Float64Array} points
   */
  async function look(points) {
    const { eye = [] } = stage.view.camera();
    const now = eye.join();
    if (asking || now === seen || !store.state.model?.report) return;
    seen = now;
    asking = true;
    const asked = pinned.map(({ id }) => id);
    const answer = await reader.ask({ what: "hidden", eye, points });
    asking = false;
    hidden = new Set(answer ? asked.filter((_, index) => answer[index] === 1) : []);
    mark(store.state);
    // The view may have changed meanwhile.
    stage.wake();
  }
}
