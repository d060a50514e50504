/**
 * Mouse, pen, touch and wheel on one surface, as gestures. One pointer drags, two move and spread; a press
 * that stays in place is a tap. Positions are CSS px of the window.
 */

/**
 * @typedef {object} Gestures
 * @property {(dx: number, dy: number, second: boolean) => void} drag `second` with another button, or with Shift
 * @property {(factor: number, x: number, y: number) => void} zoom above 1 comes closer
 * @property {(x: number, y: number) => void} tap
 * @property {(x: number, y: number) => void} mark pressed twice, or held by a finger or a pen
 * @property {(x: number, y: number) => void} hover
 * @property {() => void} leave
 */

/** How far a press may move and still be a tap, CSS px (common practice, no source). */
const TAP_SLACK_PX = 6;

/** Delay of a long press, ms (common practice, no source). */
const HOLD_MS = 550;

/** Zoom for one px of wheel, as an exponent: a mouse's usual step of 100 px gives about 1.2. */
const WHEEL_RATE = 0.0018;

/** A trackpad's pinch arrives as a wheel with Ctrl and steps of a few px. */
const SPREAD_RATE = 0.01;

/** Px in a line and a page, for wheels with these units. */
const WHEEL_UNIT_PX = [1, 16, 400];

/**
 * @param {HTMLElement} surface
 * @param {Gestures} on
 */
export function listen(surface, on) {
  /** @type {Map<number, {x: number, y: number}>} */
  const down = new Map();
  let travelled = 0;
  let second = false;
  let holding = 0;

  function middle() {
    const spots = [...down.values()];
    const x = spots.reduce((sum, spot) => sum + spot.x, 0) / spots.length;
    const y = spots.reduce((sum, spot) => sum + spot.y, 0) / spots.length;
    const reach = spots.reduce((sum, spot) => sum + Math.hypot(spot.x - x, spot.y - y), 0) / spots.length;
    return { x, y, reach };
  }

  surface.addEventListener("pointerdown", (event) => {
    if (down.size === 0) {
      travelled = 0;
      second = event.button !== 0 || event.shiftKey;
    } else {
      travelled = Infinity;
    }
    down.set(event.pointerId, { x: event.clientX, y: event.clientY });
    clearTimeout(holding);
    if (down.size === 1 && event.pointerType !== "mouse") {
      holding = window.setTimeout(() => {
        if (down.size !== 1 || travelled >= TAP_SLACK_PX) return;
        travelled = Infinity;
        on.mark(event.clientX, event.clientY);
      }, HOLD_MS);
    }
    surface.setPointerCapture(event.pointerId);
    surface.focus({ preventScroll: true });
  });

  surface.addEventListener("pointermove", (event) => {
    const spot = down.get(event.pointerId);
    if (!spot) {
      if (down.size === 0) on.hover(event.clientX, event.clientY);
      return;
    }
    const before = middle();
    travelled += Math.hypot(event.clientX - spot.x, event.clientY - spot.y);
    spot.x = event.clientX;
    spot.y = event.clientY;
    if (travelled < TAP_SLACK_PX) return;
    const after = middle();
    on.drag(after.x - before.x, after.y - before.y, second || down.size > 1);
    if (down.size > 1 && before.reach > 0 && after.reach > 0) on.zoom(after.reach / before.reach, after.x, after.y);
  });

  /** @param {PointerEvent} event */
  function up(event) {
    if (!down.delete(event.pointerId)) return;
    clearTimeout(holding);
    if (event.type === "pointerup" && travelled < TAP_SLACK_PX && !second) on.tap(event.clientX, event.clientY);
  }
  surface.addEventListener("pointerup", up);
  surface.addEventListener("pointercancel", up);
  surface.addEventListener("pointerleave", () => {
    if (down.size === 0) on.leave();
  });
  surface.addEventListener("dblclick", (event) => on.mark(event.clientX, event.clientY));
  surface.addEventListener("contextmenu", (event) => event.preventDefault());
  surface.addEventListener(
    "wheel",
    (event) => {
      event.preventDefault();
      const px = event.deltaY * (WHEEL_UNIT_PX[event.deltaMode] ?? 1);
      on.zoom(Math.exp(-px * (event.ctrlKey ? SPREAD_RATE : WHEEL_RATE)), event.clientX, event.clientY);
    },
    { passive: false },
  );
}
