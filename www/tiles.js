/**
 * The numbers of UDIM tiles, written over the sheet in the corners of the tiles that the map has. They follow the
 * sheet's camera frame by frame.
 *
 * @import {Stage} from "./stage.js"
 * @import {State, Store} from "./state.js"
 */

import { byId, make } from "./dom.js";

/** The first tile's number, and columns of tiles. */
const FIRST = 1001;
const COLUMNS = 10;

/** Least width of a tile that is numbered, CSS px: about the number's own. */
const LEAST_PX = 34;

/** From the tile's top left corner, CSS px. */
const INSET_PX = 4;

/** Most numbers at once: a screen has no room for more. */
const MOST = 200;

/** @param {State} state */
function tilesOf({ brief, model }) {
  return /** @type {number[]} */ (brief.map?.tiles === "udim" ? (model?.report?.sheet.tiles ?? []) : []);
}

/**
 * @param {Store} store
 * @param {Stage} stage
 */
export function startTiles(store, stage) {
  const area = byId("area", HTMLElement);
  const layer = byId("tiles", HTMLElement);
  let before = "";

  stage.onFrame(() => {
    const tiles = tilesOf(store.state);
    const surface = stage.sheetSurface;
    layer.hidden = tiles.length === 0 || surface.getClientRects().length === 0;
    if (layer.hidden) return;
    const [outer, box] = [area.getBoundingClientRect(), surface.getBoundingClientRect()];
    const [left, top] = [box.x - outer.x, box.y - outer.y];
    // The sheet's camera neither turns nor slants: two places of the canvas say where every uv is.
    const [u0 = 0, v0 = 0] = stage.view.uv_at(left * stage.ratio, top * stage.ratio);
    const [u1 = 1, v1 = 1] = stage.view.uv_at((left + box.width) * stage.ratio, (top + box.height) * stage.ratio);
    const perU = box.width / (u1 - u0);
    const perV = box.height / (v1 - v0);
    const spots = Math.abs(perU) < LEAST_PX ? [] : tiles
      .map((tile) => ({ tile, x: (((tile - FIRST) % COLUMNS) - u0) * perU, y: (Math.floor((tile - FIRST) / COLUMNS) + 1 - v0) * perV }))
      .filter(({ x, y }) => x > -perU && x < box.width && y > perV && y < box.height)
      .slice(0, MOST);
    const now = `${left} ${top} ${box.width} ${box.height} ${spots.map(({ tile, x, y }) => `${tile} ${x.toFixed(1)} ${y.toFixed(1)}`).join()}`;
    if (now === before) return;
    before = now;
    for (const [name, value] of Object.entries({ left, top, width: box.width, height: box.height })) layer.style.setProperty(name, `${value}px`);
    layer.replaceChildren(...spots.map(({ tile, x, y }) => {
      const label = make("span", { class: "tile figure" }, String(tile));
      label.style.setProperty("transform", `translate(${Math.max(0, x) + INSET_PX}px, ${Math.max(0, y) + INSET_PX}px)`);
      return label;
    }));
  });
}
