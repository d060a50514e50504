/**
 * The scale bar under the model: the length of one cell of the grid, at the depth of the camera's target, on a surface
 * with the reference density. So a cell on the model can be compared with it.
 *
 * @import {Stage} from "./stage.js"
 * @import {State, Store} from "../core/state.js"
 */

import { byId } from "../base/dom.js";
import { withUnit } from "../base/format.js";
import { mapOf } from "../core/state.js";

/** Shortest and longest bar, CSS px: long enough to compare, short enough to stay in its place. */
const LENGTH_PX = /** @type {const} */ ([28, 150]);

/** Numbers of cells that a bar may show if one is too short or too long. */
const STEPS = [1 / 64, 1 / 16, 1 / 4, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512];

/**
 * The reference density, px per unit.
 * @param {State} state
 * @returns {number | null}
 */
export function referenceDensity({ model }) {
  const density = model?.report?.density;
  return density?.reference ?? density?.mean_px_per_unit ?? null;
}

/**
 * How long a cell of the grid is on a surface that has that density, model units. The density is in px of the brief's
 * map; a grid for another size spreads over the same sheet, so its px are as much finer as its sides are longer.
 * @param {State} state
 * @returns {number | null}
 */
export function cellLength(state) {
  const reference = referenceDensity(state);
  if (reference === null || !(reference > 0)) return null;
  const { grid, brief } = state;
  const map = mapOf(brief);
  return grid.cell / (reference * Math.sqrt((grid.width * grid.height) / (map.width * map.height)));
}

/**
 * @param {Store} store
 * @param {Stage} stage
 */
export function startScaleBar(store, stage) {
  const bar = byId("scale", HTMLElement);
  const rule = byId("scale-rule", HTMLElement);
  const text = byId("scale-text", HTMLElement);
  let before = "";

  stage.onFrame(() => {
    const cell = cellLength(store.state);
    const unitsPerPx = stage.view.units_per_pixel() * stage.ratio;
    const usable = cell !== null && unitsPerPx > 0 && Number.isFinite(unitsPerPx) && !store.state.swapped;
    bar.hidden = !usable;
    if (!usable || cell === null) return;
    const one = cell / unitsPerPx;
    const fits = (/** @type {number} */ cells) => one * cells >= LENGTH_PX[0] && one * cells <= LENGTH_PX[1];
    const cells = fits(1) ? 1 : (STEPS.find(fits) ?? STEPS.find((step) => one * step >= LENGTH_PX[0]) ?? 1);
    const unit = store.state.brief.map?.unit ?? "unit";
    const length = `${(one * cells).toFixed(1)}px`;
    const words = `${cellsText(cells)} = ${withUnit(cell * cells, unit)}`;
    if (before === length + words) return;
    before = length + words;
    rule.style.setProperty("width", length);
    text.textContent = words;
  });
  store.watch(["model", "swapped", "brief", "grid"], () => stage.wake());
}

/** @param {number} cells */
function cellsText(cells) {
  if (cells < 1) return `1/${1 / cells} cell`;
  return cells === 1 ? "1 cell" : `${cells} cells`;
}
