/**
 * Positions of model and sheet on the canvas, and what covers it, from the page's layout.
 */

/** Selectors of panels over the canvas that should not cover the model. */
const COVERS = "#lenses, .tools, #legend, #scale, #sheet, #graphics, #grid, #brief, #note, #compare, #versions";
/** Margin around it, CSS px. */
const COVER_GAP = 8;

/** Everything that may cover the canvas. */
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
  // The drawer is animated; its final position counts.
  if (drawer > 0) boxes.push(new DOMRect(area.x, innerHeight * (1 - drawer), area.width, innerHeight * drawer));
  return Float64Array.from(
    boxes.flatMap(({ left, top, right, bottom }) => [
      left - area.x - COVER_GAP,
      top - area.y - COVER_GAP,
      right - area.x + COVER_GAP,
      bottom - area.y + COVER_GAP,
    ]),
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
