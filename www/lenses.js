/**
 * The lens bar and the legend: what the lens shows, in words, numbers and a histogram of the surface. Dragging over the
 * histogram, or typing two numbers, keeps only the surfaces in between.
 *
 * @import {Engine, Histogram, LensName} from "./messages.js"
 * @import {State, Store} from "./state.js"
 */

import { byId, draw, make } from "./dom.js";
import { percent, three, whole } from "./format.js";
import { definePatterns } from "./patterns.js";
import { STEPS } from "./scales.js";
import { cellLength, referenceDensity } from "./scalebar.js";
import { LENS_NAMES } from "./state.js";

/** @type {Record<LensName, string>} */
const TITLES = { grid: "Grid", stretch: "Stretch", size: "Size", handedness: "Handedness", sharing: "Sharing" };

/**
 * The lenses that show a number: from the lens's own value to the one people read, and back.
 * @typedef {object} Gauge
 * @property {string} name of the quantity
 * @property {(value: number) => number} shown
 * @property {(shown: number) => number} own
 * @property {(value: number) => string} text
 * @property {number[]} ticks own values worth a label, the first ones first
 */

/** @type {Partial<Record<LensName, Gauge>>} */
const GAUGES = {
  stretch: { name: "Anisotropy", shown: (value) => value, own: (shown) => shown, text: (value) => three(value), ticks: [1, 4, 2, 3, 1.5, 6, 8, 16, 32] },
  size: { name: "Times the reference", shown: (value) => 2 ** value, own: (shown) => Math.log2(shown), text: (value) => `×${three(2 ** value)}`, ticks: [-3, 3, -1, 1, -2, 2, -4, 4] },
};

/** Past every value a lens can show. */
const BEYOND = 1e9;

/** Histogram's drawing, in its own units. */
const WIDTH = 260;
const HEIGHT = 56;

/**
 * @param {Store} store
 * @param {Engine} engine
 * @param {() => void} openGrid
 */
export function startLenses(store, engine, openGrid) {
  definePatterns(byId("drawings", SVGElement), engine);
  const bar = byId("lenses", HTMLElement);
  const buttons = LENS_NAMES.map((name, index) => {
    const button = make("button", { type: "button", class: "lens", "data-lens": name }, TITLES[name], make("kbd", { "aria-hidden": "true" }, String(index + 1)));
    button.addEventListener("click", () => store.set({ lens: name }));
    return button;
  });
  bar.append(...buttons);
  store.watch(["lens"], ({ lens }) => {
    for (const button of buttons) button.setAttribute("aria-pressed", String(button.dataset.lens === lens));
    if (store.state.isolate) store.set({ isolate: null });
  });

  const legend = byId("legend-body", HTMLElement);
  const title = byId("legend-title", HTMLElement);
  store.watch(["lens", "model", "brief", "grid"], (state) => {
    title.textContent = TITLES[state.lens];
    legend.replaceChildren(...(state.model ? legendOf(state, store, engine, openGrid) : []));
  });

  const fold = byId("legend-fold", HTMLButtonElement);
  const card = byId("legend", HTMLElement);
  const open = (/** @type {boolean} */ wanted) => {
    card.classList.toggle("is-folded", !wanted);
    fold.setAttribute("aria-expanded", String(wanted));
  };
  fold.addEventListener("click", () => open(card.classList.contains("is-folded")));
  open(matchMedia("(min-width: 700px) and (min-height: 560px)").matches);
}

/**
 * @param {State} state
 * @param {Store} store
 * @param {Engine} engine
 * @param {() => void} openGrid
 * @returns {Node[]}
 */
function legendOf(state, store, engine, openGrid) {
  switch (state.lens) {
    case "grid":
      return gridLegend(state, store, openGrid);
    case "stretch":
      return [
        make("p", {}, "How much longer than wide a circle of the sheet comes out. Strokes run along the stretch; the line is the brief's limit."),
        ...gauge(state, store, engine, "stretch"),
      ];
    case "size":
      return [make("p", {}, sizeText(state)), ...gauge(state, store, engine, "size")];
    case "handedness":
      return handednessLegend(state);
    case "sharing":
      return sharingLegend(state);
  }
}

/** @param {State} state */
function unitOf(state) {
  return state.brief.map?.unit ?? "cm";
}

/**
 * @param {State} state
 * @param {Store} store
 * @param {() => void} openGrid
 */
function gridLegend(state, store, openGrid) {
  const length = cellLength(state);
  const { cell } = state.grid;
  const asked = typeof state.brief.density?.target_px_per_unit === "number";
  const calibration = length
    ? [make("b", {}, `1 cell = ${cell} px = ${three(length)} ${unitOf(state)}`), ` at ${asked ? "the asked density" : "the model's mean density"}.`]
    : [make("b", {}, `1 cell = ${cell} px`), " of the map."];
  const flags = make("input", { type: "checkbox", id: "flags", role: "switch" });
  flags.checked = state.flags;
  flags.addEventListener("change", () => store.set({ flags: flags.checked }));
  const change = make("button", { type: "button", class: "button", "aria-haspopup": "dialog", title: "Cells, words, picture (C)" }, "Cells and words");
  change.addEventListener("click", openGrid);
  return [
    make("p", {}, ...calibration, " A circle that stays a circle keeps its shape; the quill points up the sheet, its barb to the right."),
    make("label", { class: "switch" }, flags, make("span", {}, "Flags over the grid")),
    swatches([
      ["strokes", "stretched", ""],
      ["bars", "turned over", ""],
      ["hatch", "folded", ""],
      ["chevrons", "mirrored", ""],
    ], "swatches swatches-two"),
    change,
  ];
}

/** @param {State} state */
function sizeText(state) {
  const reference = referenceDensity(state);
  const lead = "Pixels each surface gets, against the reference";
  return reference ? `${lead} of ${three(reference)} px/${unitOf(state)}. Left: too little detail; right: more than asked.` : `${lead}.`;
}

/** @param {State} state */
function handednessLegend({ model }) {
  const handedness = model?.report?.handedness;
  const turned = handedness?.turned_over_shells;
  const folded = handedness?.folded_triangles;
  const reversed = handedness?.reversed_share;
  return [
    make("p", {}, "Whether a picture on the sheet reads the right way round on the surface."),
    swatches([
      ["plain", "right way", typeof reversed === "number" ? percent(1 - reversed) : ""],
      ["bars", "turned over", typeof turned === "number" ? `${whole(turned)} ${turned === 1 ? "shell" : "shells"}` : ""],
      ["hatch", "folded", typeof folded === "number" ? `${whole(folded)} ${folded === 1 ? "triangle" : "triangles"}` : ""],
    ]),
  ];
}

/** @param {State} state */
function sharingLegend({ model }) {
  const sharing = model?.report?.sharing;
  const pairs = (/** @type {string[]} */ ...kinds) => {
    if (!sharing) return "";
    const count = sharing.filter(({ kind }) => kinds.includes(kind)).length;
    return `${whole(count)} ${count === 1 ? "pair" : "pairs"}`;
  };
  return [
    make("p", {}, "Surfaces that use the same place on the sheet. Choose one to light its partner; chevrons point at the fold between them."),
    swatches([
      ["chevrons", "mirrored", pairs("mirrored")],
      ["dots", "stacked", pairs("stacked")],
      ["bricks", "crossing", pairs("crossing", "self-crossing")],
    ]),
  ];
}

/**
 * @param {[pattern: string, label: string, value: string][]} rows
 * @param {string} [className]
 */
function swatches(rows, className = "swatches") {
  return make(
    "ul",
    { class: className },
    ...rows.map(([pattern, label, value]) => {
      const swatch = draw("svg", { class: "swatch", viewBox: "0 0 28 20", "aria-hidden": "true" },
        draw("rect", { class: "swatch-ground", width: 28, height: 20 }),
        draw("rect", { width: 28, height: 20, fill: pattern === "plain" ? "none" : `url(#pattern-${pattern})` }),
        draw("rect", { class: "swatch-edge", x: 0.5, y: 0.5, width: 27, height: 19 }));
      return make("li", {}, swatch, make("span", {}, label), make("span", { class: "figure" }, value));
    }),
  );
}

/**
 * The scale with its numbers, the histogram over it, and what isolates.
 * @param {State} state
 * @param {Store} store
 * @param {Engine} engine
 * @param {"stretch" | "size"} lens
 * @returns {Node[]}
 */
function gauge(state, store, engine, lens) {
  const histogram = state.model?.histograms[lens];
  const kind = GAUGES[lens];
  if (!histogram || !kind) return [make("p", { class: "quiet" }, "Not measured yet.")];
  const axis = axisOf(histogram);
  const picture = chart(histogram, axis, kind);
  const brush = draw("rect", { class: "brush", y: 0, height: HEIGHT, visibility: "hidden" });
  picture.append(brush);

  const from = numberInput(kind.shown(histogram.lo));
  const to = numberInput(kind.shown(histogram.hi));
  const all = make("button", { type: "button", class: "text-button" }, "Show all");
  const typed = () => {
    const range = /** @type {[number, number]} */ ([kind.own(from.valueAsNumber), kind.own(to.valueAsNumber)]);
    if (range.every(Number.isFinite)) show([Math.min(...range), Math.max(...range)]);
  };
  from.addEventListener("change", typed);
  to.addEventListener("change", typed);
  all.addEventListener("click", () => show(null));

  /** @param {[number, number] | null} range */
  function show(range) {
    store.set({ isolate: range && opened(range) });
    reflect(range);
  }

  /**
   * The outermost bars also hold what lies beyond them, so a range that reaches an end is open there.
   * @param {[number, number]} range
   * @returns {[number, number]}
   */
  function opened([lo, hi]) {
    return [lo <= (histogram?.lo ?? lo) ? -BEYOND : lo, hi >= (histogram?.hi ?? hi) ? BEYOND : hi];
  }

  /** @param {[number, number] | null} range */
  function reflect(range) {
    const [low, high] = [histogram?.lo ?? 0, histogram?.hi ?? 0];
    const [lo, hi] = (range ?? [low, high]).map((value) => Math.min(high, Math.max(low, value)));
    if (lo === undefined || hi === undefined) return;
    from.value = rounded(kind?.shown(lo) ?? lo);
    to.value = rounded(kind?.shown(hi) ?? hi);
    brush.setAttribute("visibility", range ? "visible" : "hidden");
    brush.setAttribute("x", String(axis.place(lo) * WIDTH));
    brush.setAttribute("width", String(Math.max(1, (axis.place(hi) - axis.place(lo)) * WIDTH)));
  }

  let start = NaN;
  const valueAt = (/** @type {PointerEvent} */ event) => {
    const box = picture.getBoundingClientRect();
    return axis.value(Math.min(1, Math.max(0, (event.clientX - box.x) / box.width)));
  };
  picture.addEventListener("pointerdown", (event) => {
    picture.setPointerCapture(event.pointerId);
    start = valueAt(event);
  });
  picture.addEventListener("pointermove", (event) => {
    if (Number.isNaN(start)) return;
    const here = valueAt(event);
    if (here !== start) show([Math.min(start, here), Math.max(start, here)]);
  });
  picture.addEventListener("pointerup", (event) => {
    if (valueAt(event) === start) show(null);
    start = NaN;
  });
  picture.addEventListener("pointercancel", () => (start = NaN));
  reflect(state.isolate);

  return [
    make("figure", { class: "gauge" }, picture, strip(engine, lens, axis), labels(histogram, axis, kind)),
    make("div", { class: "isolate" }, make("span", {}, "Only"), labelled("from", from, `${kind.name} from`), labelled("to", to, `${kind.name} to`), all),
  ];
}

/**
 * Between values and places 0..1 along the histogram.
 * @param {Histogram} histogram
 */
function axisOf({ lo, hi, log }) {
  const warp = log ? Math.log : (/** @type {number} */ value) => value;
  const back = log ? Math.exp : (/** @type {number} */ value) => value;
  const span = warp(hi) - warp(lo) || 1;
  return {
    /** @param {number} value */
    place: (value) => Math.min(1, Math.max(0, (warp(value) - warp(lo)) / span)),
    /** @param {number} place */
    value: (place) => back(warp(lo) + place * span),
  };
}

/**
 * @param {Histogram} histogram
 * @param {ReturnType<typeof axisOf>} axis
 * @param {Gauge} kind
 */
function chart({ counts, limits }, axis, kind) {
  const values = Array.from(counts);
  const most = Math.max(...values, 1e-12);
  const wide = WIDTH / values.length;
  // Square roots, so that a hundredth of the surface is still a tenth of the height.
  const outline = values.map((count, bin) => `L${bin * wide} ${HEIGHT - Math.sqrt(count / most) * (HEIGHT - 4)}H${(bin + 1) * wide}`);
  const picture = draw(
    "svg",
    { class: "chart", viewBox: `0 0 ${WIDTH} ${HEIGHT}`, preserveAspectRatio: "none", role: "img", "aria-label": `${kind.name}: how much of the surface has which value` },
    draw("path", { class: "chart-fill", d: `M0 ${HEIGHT}${outline.join("")}V${HEIGHT}Z` }),
  );
  for (const limit of Array.from(limits)) {
    const x = axis.place(limit) * WIDTH;
    picture.append(draw("line", { class: "chart-limit", x1: x, x2: x, y1: 0, y2: HEIGHT }));
  }
  return picture;
}

/** Colours along the strip: more than the eye tells apart in its width. */
const STOPS = 48;

/**
 * The scale's colours along the histogram's axis. A drawing, not a canvas: a canvas would wait for the graphics card.
 * @param {Engine} engine
 * @param {"stretch" | "size"} lens
 * @param {ReturnType<typeof axisOf>} axis
 */
function strip(engine, lens, axis) {
  const scale = engine.lens_scale(lens);
  const places = engine.lens_positions(lens, Float32Array.from({ length: STOPS + 1 }, (_, stop) => axis.value(stop / STOPS)));
  const stops = Array.from(places, (place, stop) => {
    const step = Math.round(place * (STEPS - 1)) * 3;
    return draw("stop", { offset: stop / STOPS, "stop-color": `rgb(${scale[step]}, ${scale[step + 1]}, ${scale[step + 2]})` });
  });
  return draw("svg", { class: "strip", viewBox: "0 0 100 10", preserveAspectRatio: "none", "aria-hidden": "true" },
    draw("linearGradient", { id: "strip-colours" }, ...stops),
    draw("rect", { width: 100, height: 10, fill: "url(#strip-colours)" }));
}

/** Width of a label's figure and room between two labels, in the chart's own units: about what the face takes. */
const FIGURE_WIDTH = 7;
const LABEL_ROOM = 9;

/**
 * Numbers under the scale: all limits, then the ends and as many others as there is room for. Two limits that stand
 * closer than their numbers are wide have them moved apart, half of what is lacking to either side.
 * @param {Histogram} histogram
 * @param {ReturnType<typeof axisOf>} axis
 * @param {Gauge} kind
 */
function labels({ lo, hi, limits }, axis, kind) {
  const row = make("div", { class: "ticks", "aria-hidden": "true" });
  /** @type {{from: number, to: number}[]} */
  const taken = [];
  const words = (/** @type {number} */ value) => (value === hi ? `${kind.text(value)}+` : kind.text(value));
  const widthOf = (/** @type {number} */ value) => words(value).length * FIGURE_WIDTH;
  const spot = (/** @type {number} */ value, /** @type {number} */ shift) => {
    const width = widthOf(value);
    const from = Math.min(WIDTH - width, Math.max(0, axis.place(value) * WIDTH + shift - width / 2));
    return { from, to: from + width };
  };
  const put = (/** @type {number} */ value, /** @type {string} */ className, /** @type {{from: number, to: number}} */ { from, to }) => {
    taken.push({ from, to });
    const label = make("span", { class: className }, words(value));
    label.style.setProperty("--at", String((from + to) / 2 / WIDTH));
    row.append(label);
  };
  const marks = Array.from(limits).filter((limit) => limit >= lo && limit <= hi).sort((one, other) => one - other);
  for (const [index, limit] of marks.entries()) {
    const other = marks[1 - index];
    const lacks = other === undefined ? 0 : (widthOf(limit) + widthOf(other)) / 2 + LABEL_ROOM - Math.abs(axis.place(limit) - axis.place(other)) * WIDTH;
    put(limit, "tick tick-limit", spot(limit, (Math.max(0, lacks) / 2) * (index === 0 ? -1 : 1)));
  }
  for (const tick of kind.ticks.filter((value) => value >= lo && value <= hi)) {
    const { from, to } = spot(tick, 0);
    if (taken.every((other) => from > other.to + LABEL_ROOM || to < other.from - LABEL_ROOM)) put(tick, "tick", { from, to });
  }
  return row;
}

/** @param {number} value */
function rounded(value) {
  return String(Number(value.toPrecision(3)));
}

/** @param {number} value */
function numberInput(value) {
  const input = make("input", { type: "number", step: "any", min: "0", inputmode: "decimal" });
  input.value = rounded(value);
  return input;
}

/**
 * @param {string} text
 * @param {HTMLInputElement} input
 * @param {string} name
 */
function labelled(text, input, name) {
  input.setAttribute("aria-label", name);
  return make("label", {}, text, input);
}
