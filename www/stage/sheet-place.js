/**
 * The sheet's position on the page, and the mapping of uv to it: for layers that follow its camera frame by frame.
 *
 * @import {Box} from "./reach.js"
 * @import {Stage} from "./stage.js"
 */

/**
 * @typedef {object} SheetPlace
 * @property {number} left CSS px of the area, as all lengths here
 * @property {number} top
 * @property {number} width
 * @property {number} height
 * @property {Box} view lowest and highest visible u and v
 * @property {[number, number]} scale CSS px a unit of u and of v, which is below 0
 * @property {string} key changes with place or camera
 */

/**
 * @param {HTMLElement} area
 * @param {Stage} stage
 * @returns {SheetPlace | null} null if it is not shown
 */
export function sheetPlace(area, stage) {
  const surface = stage.sheetSurface;
  if (surface.getClientRects().length === 0) return null;
  const [outer, { x, y, width, height }] = [area.getBoundingClientRect(), surface.getBoundingClientRect()];
  const [left, top] = [x - outer.x, y - outer.y];
  // The sheet's camera does not rotate: two places of the canvas determine all uvs.
  const [u0 = 0, v1 = 1] = stage.view.uv_at(left * stage.ratio, top * stage.ratio);
  const [u1 = 1, v0 = 0] = stage.view.uv_at((left + width) * stage.ratio, (top + height) * stage.ratio);
  if (u1 === u0 || v1 === v0) return null;
  const key = [left, top, width, height, u0, v0, u1, v1].join();
  return { left, top, width, height, view: [u0, v0, u1, v1], scale: [width / (u1 - u0), height / (v0 - v1)], key };
}

/**
 * Positions a layer exactly over the sheet.
 * @param {HTMLElement | SVGElement} layer
 * @param {SheetPlace} place
 */
export function layOver(layer, { left, top, width, height }) {
  for (const [name, value] of Object.entries({ left, top, width, height })) layer.style.setProperty(name, `${value}px`);
}
