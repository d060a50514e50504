/**
 * Marks at the sheet's border for what is outside it: shells too far from the tiles to be fitted (stage/reach.js), grouped by
 * direction, and the tiles themselves once they are out of view. A press goes there.
 *
 * @import {Box, Far} from "./reach.js"
 * @import {SheetPlace} from "./sheet-place.js"
 * @import {Stage} from "./stage.js"
 * @import {Store} from "../core/state.js"
 */

import { byId, icon, make } from "../base/dom.js";
import { counted, three } from "../base/format.js";
import { joined, reachOf } from "./reach.js";
import { layOver, sheetPlace } from "./sheet-place.js";

/** Number of directions: as many marks as fit around a small sheet. */
const DIRECTIONS = 8;
/** From the border to a mark's middle, CSS px: half its width, and half its height. */
const INSET = { x: 52, y: 18 };
/** Steps of a mark from the border to the middle to avoid what covers the sheet. */
const STEPS = 24;
/** Selectors of what may cover the sheet. */
const COVERS = "#lenses, .tools, #legend, #scale, #sheet";

/** @typedef {{box: Box, button: HTMLElement, arrow: SVGElement, target: Box}} Mark `target`: what must be out of sight for it to be seen */

/**
 * @param {Store} store
 * @param {Stage} stage
 */
export function startFar(store, stage) {
  const area = byId("area", HTMLElement);
  const layer = byId("far", HTMLElement);
  /** @type {Mark[]} */
  let marks = [];
  /** @type {readonly Far[] | null} */
  let shown = null;
  let before = "";

  store.watch(["model", "brief"], (state) => {
    const { far, tiles } = reachOf(state);
    // Names come with the report.
    if (far === shown && far.length === 0) return;
    shown = far;
    before = "";
    const home = mark("the tiles", "Back to the tiles", tiles, tiles, () => stage.views.fitSheet());
    marks = [home, ...grouped(far, tiles).map((group) => markOf(group, state.model?.shells ?? []))];
    const focused = [...layer.children].indexOf(document.activeElement ?? layer);
    layer.replaceChildren(...marks.map(({ button }) => button));
    if (focused >= 0) marks[focused]?.button.focus({ preventScroll: true });
    stage.wake();
  });

  /**
   * @param {Far[]} group nearest first
   * @param {string[]} names
   */
  function markOf(group, names) {
    const [nearest] = group;
    const box = group.map((one) => one.box).reduce(joined);
    const away = `${three(nearest?.tiles ?? 0)}\u00a0tiles`;
    const text = group.length === 1 ? away : `${counted(group.length, "shell")}, ${away}`;
    const what = group.length === 1 ? `${text} away: show ${names[nearest?.shell ?? -1] ?? "the shell"}` : `${text} away: show them`;
    return mark(text, what, box, nearest?.box ?? box, () => stage.views.showRegion(box));
  }

  /**
   * @param {string} text
   * @param {string} label
   * @param {Box} box
   * @param {Box} target
   * @param {() => void} go
   * @returns {Mark}
   */
  function mark(text, label, box, target, go) {
    const arrow = icon("shape-away");
    const button = make("button", { type: "button", class: "far-mark", "aria-label": label, title: label }, arrow, make("span", { class: "figure" }, text));
    button.addEventListener("click", go);
    // A wheel over a mark is for the sheet below it.
    button.addEventListener(
      "wheel",
      (event) => {
        event.preventDefault();
        stage.sheetSurface.dispatchEvent(new WheelEvent("wheel", event));
      },
      { passive: false },
    );
    return { box, target, button, arrow };
  }

  stage.onFrame(() => {
    const place = marks.length > 0 ? sheetPlace(area, stage) : null;
    layer.hidden = place === null;
    if (!place || place.key === before) return;
    before = place.key;
    layOver(layer, place);
    const isInset = stage.sheetSurface.id === "surface-small";
    layer.classList.toggle("is-inset", isInset);
    const covers = isInset ? [] : coversOf(layer);
    for (const { box, target, button, arrow } of marks) {
      button.hidden = meet(target, place.view);
      if (!button.hidden) put(button, arrow, box, place, covers);
    }
  });
}

/**
 * Shells by the direction in which they lie from the tiles, each group nearest first.
 * @param {readonly Far[]} far
 * @param {Box} tiles
 */
function grouped(far, tiles) {
  /** @type {Far[][]} */
  const groups = Array.from({ length: DIRECTIONS }, () => []);
  for (const one of [...far].sort((a, b) => a.tiles - b.tiles)) {
    const [x, y] = [0, 1].map((axis) => (one.box[axis] ?? 0) + (one.box[axis + 2] ?? 0) - (tiles[axis] ?? 0) - (tiles[axis + 2] ?? 0));
    const turn = Math.atan2(y ?? 0, x ?? 0) / (2 * Math.PI);
    groups[(Math.round(turn * DIRECTIONS) + DIRECTIONS) % DIRECTIONS]?.push(one);
  }
  return groups.filter((group) => group.length > 0);
}

/**
 * Puts a mark where the line from the sheet's middle to its box leaves the sheet, or nearer if that is covered.
 * @param {HTMLElement} button
 * @param {SVGElement} arrow
 * @param {Box} box
 * @param {SheetPlace} place
 * @param {DOMRect[]} covers relative to the sheet
 */
function put(button, arrow, box, { view, scale, width, height }, covers) {
  const dx = ((box[0] + box[2] - view[0] - view[2]) / 2) * scale[0];
  const dy = ((box[1] + box[3] - view[1] - view[3]) / 2) * scale[1];
  const reach = Math.min(Math.max(0, width / 2 - INSET.x) / Math.abs(dx), Math.max(0, height / 2 - INSET.y) / Math.abs(dy));
  let [x, y] = [width / 2, height / 2];
  for (let step = STEPS; step > 0; step -= 1) {
    [x, y] = [width / 2 + (dx * reach * step) / STEPS, height / 2 + (dy * reach * step) / STEPS];
    if (covers.every((cover) => x + INSET.x < cover.left || x - INSET.x > cover.right || y + INSET.y < cover.top || y - INSET.y > cover.bottom)) break;
  }
  button.style.setProperty("transform", `translate(${x.toFixed(1)}px, ${y.toFixed(1)}px) translate(-50%, -50%)`);
  arrow.style.setProperty("transform", `rotate(${((Math.atan2(dy, dx) * 180) / Math.PI).toFixed(0)}deg)`);
}

/**
 * @param {Box} a
 * @param {Box} b
 */
function meet(a, b) {
  return a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
}

/** @param {HTMLElement} layer */
function coversOf(layer) {
  const { x, y } = layer.getBoundingClientRect();
  return [...document.querySelectorAll(COVERS)]
    .map((element) => element.getBoundingClientRect())
    .filter(({ width }) => width > 0)
    .map((box) => new DOMRect(box.x - x, box.y - y, box.width, box.height));
}
