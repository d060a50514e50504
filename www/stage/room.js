/**
 * Where on the canvas model and sheet are, and what lies over it: what the page's layout leaves of it.
 */

/** What lies over the canvas and the model should be seen beside, as selectors. */
const COVERS = "#lenses, .tools, #legend, #scale, #sheet, #graphics, #grid, #brief, #note, #compare, #versions";
/** Room left around it, CSS px. */
const COVER_GAP = 8;

/** All that may lie over the canvas. */
export function mayCover() {
  return document.querySelectorAll(COVERS);
}

/**
 * Left, top, right and bottom of each card over the canvas, device px.
 * @param {DOMRect} area of the canvas
 * @param {number} ratio CSS px to device px
 * @param {number} drawer share of the window that it takes
 */
export function coversOf(area, ratio, drawer) {
  const boxes = [...mayCover()].filter((element) => element.getClientRects().length > 0).map((element) => element.getBoundingClientRect());
  // The drawer glides; what counts is where it comes to rest.
  if (drawer > 0) boxes.push(new DOMRect(area.x, innerHeight * (1 - drawer), area.width, innerHeight * drawer));
  return Float64Array.from(
    boxes.flatMap(({ left, top, right, bottom }) => [left - area.x - COVER_GAP, top - area.y - COVER_GAP, right - area.x + COVER_GAP, bottom - area.y + COVER_GAP]),
    (value) => Math.round(value * ratio),
  );
}

/**
 * Left, top, width and height of an element, device px of the canvas.
 * @param {HTMLElement} element
 * @param {DOMRect} area of the canvas
 * @param {number} ratio CSS px to device px
 */
export function rectangleOf(element, area, ratio) {
  const { x, y, width, height } = element.getBoundingClientRect();
  return Float64Array.from([x - area.x, y - area.y, width, height], (value) => Math.round(value * ratio));
}
