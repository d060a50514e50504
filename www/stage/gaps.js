/**
 * Gaps that are narrower than the brief asks, drawn over the sheet: a short double-ended mark each, with its width in px at
 * the worst ones. If a finding about padding is selected, only its own, and around the outlines of its shells the zone
 * that the brief keeps free: half the padding of each. All of it follows the sheet's camera frame by frame.
 *
 * @import {Finding, Gap} from "../core/messages.js"
 * @import {Stage} from "./stage.js"
 * @import {State, Store} from "../core/state.js"
 */

import { byId, draw } from "../base/dom.js";
import { three } from "../base/format.js";
import { layOver, sheetPlace } from "./sheet-place.js";
import { NO_SHELL, UDIM } from "../core/known.js";
import { chosenFinding, mapOf } from "../core/state.js";

/** Least distance of two marks, and of two labels, CSS px; worse gaps have priority. */
const APART = /** @type {const} */ ({ mark: 15, label: 54 });
/** Labels at most. */
const LABELS = 6;
/** A gap at least this wide on the screen contains its mark; else the mark's ends are outside and point at it. CSS px. */
const INSIDE_PX = 26;
/** Length of an end that points, and half of a bar, CSS px. */
const END_PX = 11;
const BAR_PX = 4;
/** Most segments of outlines with a zone: more would slow every frame. */
const ZONE_SEGMENTS = 20_000;

/** @typedef {{gaps: Gap[], zone: SVGElement | null, tone: string}} Shown */

/**
 * @param {Store} store
 * @param {Stage} stage
 */
export function startGaps(store, stage) {
  const area = byId("area", HTMLElement);
  const layer = byId("gaps", SVGSVGElement);
  /** @type {Shown | null} */
  let shown = null;
  let before = "";

  store.watch(["model", "finding", "lens", "brief"], (state) => {
    shown = shownOf(state);
    before = "";
    stage.wake();
  });

  stage.onFrame(() => {
    const place = shown && sheetPlace(area, stage);
    layer.classList.toggle("is-hidden", !place);
    if (!place || !shown || place.key === before) return;
    before = place.key;
    layOver(layer, place);
    const {
      scale,
      view: [u0, , , v1],
    } = place;
    const at = (/** @type {[number, number]} */ [u, v]) => /** @type {[number, number]} */ ([(u - u0) * scale[0], (v - v1) * scale[1]]);
    const { width, height } = mapOf(store.state.brief);
    shown.zone?.setAttribute("transform", `matrix(${scale[0] / width} 0 0 ${-scale[1] / height} ${-u0 * scale[0]} ${-v1 * scale[1]})`);
    layer.setAttribute("class", `gaps tone-${shown.tone}`);
    layer.replaceChildren(...(shown.zone ? [shown.zone] : []), ...marks(shown.gaps, at, place));
  });
}

/**
 * @param {State} state
 * @returns {Shown | null}
 */
function shownOf(state) {
  const { model, lens } = state;
  const report = model?.report;
  if (!model || !report) return null;
  const chosen = chosenFinding(state);
  const finding = chosen?.kind === "padding" || chosen?.kind === "border" ? chosen : null;
  if (report.sheet.gaps.length === 0 || (lens !== "grid" && !finding)) return null;
  const gaps = report.sheet.gaps.filter((gap) => gap.sheet === state.sheet && (!finding || isOf(gap, finding)));
  const about = finding ? [finding] : report.findings.filter(({ kind }) => kind === "padding" || kind === "border");
  const tone = about.some(({ severity }) => severity === "must-fix") ? "must-fix" : "look";
  return { gaps, zone: finding && zoneOf(finding, gaps, state), tone };
}

/**
 * The zone that the brief keeps free, in px of the map, downwards: half of it on either side of outlines, all of it within
 * tiles.
 * @param {Finding} finding
 * @param {Gap[]} gaps its own
 * @param {State} state
 */
function zoneOf({ kind, shells, limit }, gaps, { model, brief }) {
  const px = limit?.value ?? 0;
  const { width, height } = mapOf(brief);
  if (kind === "padding" && model) {
    return draw("path", { class: "gap-zone", d: outlines(model.lines.sheet, model.lines.sheet_shell, new Set(shells), width, height), "stroke-width": px });
  }
  const rectangle = (/** @type {number} */ tile, /** @type {number} */ inset) => {
    const [x, y] = [((tile - UDIM.first) % UDIM.columns) * width + inset, -Math.floor((tile - UDIM.first) / UDIM.columns) * height - inset];
    return `M${x} ${y}h${width - 2 * inset}v${2 * inset - height}h${2 * inset - width}z`;
  };
  const tiles = [...new Set(gaps.map(({ tile }) => tile ?? UDIM.first))];
  return draw("path", { class: "gap-zone gap-frame", d: tiles.map((tile) => rectangle(tile, 0) + rectangle(tile, px)).join("") });
}

/**
 * @param {Gap} gap
 * @param {Finding} finding
 */
function isOf({ a, b }, { kind, shells }) {
  return shells.includes(a) && (kind === "border" ? b === null : b !== null && shells.includes(b));
}

/**
 * Outlines of some shells, px of the map, downwards.
 * @param {Float32Array} sheet
 * @param {Uint32Array} words
 * @param {Set<number>} shells
 * @param {number} width
 * @param {number} height
 */
function outlines(sheet, words, shells, width, height) {
  const parts = [];
  for (let segment = 0; segment < words.length && parts.length < ZONE_SEGMENTS; segment += 1) {
    if (!shells.has((words[segment] ?? NO_SHELL) & NO_SHELL)) continue;
    const [u0 = 0, v0 = 0, u1 = 0, v1 = 0] = sheet.subarray(segment * 4, segment * 4 + 4);
    parts.push(`M${u0 * width} ${-v0 * height}L${u1 * width} ${-v1 * height}`);
  }
  return parts.join("");
}

/**
 * Marks of the gaps in view, and labels: worse ones first, none on another.
 * @param {Gap[]} gaps
 * @param {(uv: [number, number]) => [number, number]} at
 * @param {{width: number, height: number}} box
 */
function marks(gaps, at, { width, height }) {
  /** @type {[number, number][]} */
  const placed = [];
  /** @type {[number, number][]} */
  const labelled = [];
  const lines = [];
  const labels = [];
  const far = (/** @type {[number, number][]} */ others, /** @type {number} */ x, /** @type {number} */ y, /** @type {number} */ least) =>
    others.every(([ox, oy]) => Math.hypot(ox - x, oy - y) >= least);
  for (const { at_a, at_b, px } of gaps) {
    const [a, b] = [at(at_a), at(at_b)];
    const [x, y] = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
    if (x < 0 || y < 0 || x > width || y > height || !far(placed, x, y, APART.mark)) continue;
    placed.push([x, y]);
    const length = Math.hypot(b[0] - a[0], b[1] - a[1]);
    const [dx, dy] = length > 1e-6 ? [(b[0] - a[0]) / length, (b[1] - a[1]) / length] : [1, 0];
    const bar = (/** @type {[number, number]} */ [ex, ey]) => `M${ex - dy * BAR_PX} ${ey + dx * BAR_PX}L${ex + dy * BAR_PX} ${ey - dx * BAR_PX}`;
    const between =
      length >= INSIDE_PX
        ? `M${a[0]} ${a[1]}L${b[0]} ${b[1]}`
        : `M${a[0]} ${a[1]}l${-dx * END_PX} ${-dy * END_PX}M${b[0]} ${b[1]}l${dx * END_PX} ${dy * END_PX}`;
    lines.push(between + bar(a) + bar(b));
    if (labels.length >= LABELS || !far(labelled, x, y, APART.label)) continue;
    labelled.push([x, y]);
    const text = `${three(px)}\u00a0px`;
    const half = text.length * 3.6 + 4;
    const lx = Math.min(width - half, Math.max(half, x));
    const ly = y > 30 ? y - 14 : y + 22;
    labels.push(draw("text", { class: "gap-label figure", x: lx, y: ly }));
    labels.at(-1)?.append(text);
  }
  const d = lines.join("");
  return [draw("path", { class: "gap-halo", d }), draw("path", { class: "gap-mark", d }), ...labels];
}
