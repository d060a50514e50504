/**
 * The numbers of UDIM tiles, written over the sheet in the corners of the tiles that the map has. They follow the
 * sheet's camera frame by frame.
 *
 * @import {Stage} from "./stage.js"
 * @import {Store} from "../core/state.js"
 */

import { byId, make } from "../base/dom.js";
import { layOver, sheetPlace } from "./sheet-place.js";
import { UDIM } from "../core/known.js";
import { tilesOf } from "../core/state.js";

/** Least width of a tile that is numbered, CSS px: about the number's width. */
const LEAST_PX = 34;

/** From the tile's top left corner, CSS px. */
const INSET_PX = 4;

/** Most numbers at once: a screen has no space for more. */
const MOST = 200;

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
    const place = tiles.length > 0 ? sheetPlace(area, stage) : null;
    layer.hidden = place === null;
    if (!place) return;
    const {
      width,
      height,
      view: [u0, , , v1],
      scale: [perU, perV],
    } = place;
    const spots =
      Math.abs(perU) < LEAST_PX
        ? []
        : tiles
            .map((tile) => ({
              tile,
              x: (((tile - UDIM.first) % UDIM.columns) - u0) * perU,
              y: (Math.floor((tile - UDIM.first) / UDIM.columns) + 1 - v1) * perV,
            }))
            .filter(({ x, y }) => x > -perU && x < width && y > perV && y < height)
            .slice(0, MOST);
    const now = `${place.key} ${spots.map(({ tile, x, y }) => `${tile} ${x.toFixed(1)} ${y.toFixed(1)}`).join()}`;
    if (now === before) return;
    before = now;
    layOver(layer, place);
    layer.replaceChildren(
      ...spots.map(({ tile, x, y }) => {
        const label = make("span", { class: "tile figure" }, String(tile));
        label.style.setProperty("transform", `translate(${Math.max(0, x) + INSET_PX}px, ${Math.max(0, y) + INSET_PX}px)`);
        return label;
      }),
    );
  });
}
