/**
 * The lens bar, and the common part of the legend for lenses that show a number: the histogram of surface or seams.
 * Dragging over the histogram, or typing two numbers, isolates the values in between.
 *
 * @import {Engine, Histogram, LensName} from "../core/messages.js"
 * @import {Choices} from "./picture-legend.js"
 * @import {State, Store} from "../core/state.js"
 */

import { byId, draw, make, scrollByKeys } from "../base/dom.js";
import { counted, three, whole } from "../base/format.js";
import { gridLegend, flippedLegend, textLegend, partsLegend, seamsLegend, overlapsLegend, sizeText } from "./legends.js";
import { definePatterns } from "../stage/patterns.js";
import { isLacking, pictureLegend } from "./picture-legend.js";
import { LENS_NAMES } from "../core/known.js";

/** @type {Record<LensName, string>} */
const TITLES = {
  grid: "Grid",
  stretch: "Stretch",
  density: "Texel density",
  flipped: "Flipped",
  overlaps: "Overlaps",
  seams: "Seams",
  text: "Text",
  picture: "Picture",
};

/**
 * The lenses that show a number: from the lens's own value to the one people read, and back.
 * @typedef {object} Gauge
 * @property {string} name of the quantity
 * @property {(value: number) => number} shown
 * @property {(shown: number) => number} own
 * @property {(value: number) => string} text
 * @property {number[]} ticks own values worth a label, the first ones first
 * @property {string} of what the bars count
 * @property {boolean} open whether the last bar includes all values beyond
 * @property {number} step of the two inputs, shown
 */

/** @type {Partial<Record<LensName, Gauge>>} */
const GAUGES = {
  stretch: {
    name: "Anisotropy",
    shown: (value) => value,
    own: (shown) => shown,
    text: (value) => three(value),
    ticks: [1, 4, 2, 3, 1.5, 6, 8, 16, 32],
    of: "surface",
    open: true,
    step: 0.05,
  },
  density: {
    name: "Times the reference",
    shown: (value) => 2 ** value,
    own: (shown) => Math.log2(shown),
    text: (value) => `×${three(2 ** value)}`,
    ticks: [-3, 3, -1, 1, -2, 2, -4, 4],
    of: "surface",
    open: true,
    step: 0.05,
  },
  seams: {
    name: "Exposure in percent",
    shown: (value) => value * 100,
    own: (shown) => shown / 100,
    text: (value) => `${whole(value * 100)}\u00a0%`,
    ticks: [0, 1, 0.5, 0.25, 0.75],
    of: "seams' length",
    open: false,
    step: 1,
  },
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
 * @param {Choices} pictures
 */
export function startLenses(store, engine, openGrid, pictures) {
  definePatterns(byId("drawings", SVGElement), engine);
  const bar = byId("lenses", HTMLElement);
  const buttons = LENS_NAMES.map((name, index) => {
    const button = make(
      "button",
      { type: "button", class: "lens", "data-lens": name },
      TITLES[name],
      make("kbd", { "aria-hidden": "true" }, String(index + 1)),
    );
    button.addEventListener("click", () => store.set({ lens: name }));
    return button;
  });
  bar.append(...buttons);
  store.watch(["lens"], ({ lens }) => {
    for (const button of buttons) {
      const own = button.dataset.lens === lens;
      button.setAttribute("aria-pressed", String(own));
      // On a narrow screen the bar scrolls.
      if (own) button.scrollIntoView({ block: "nearest", inline: "nearest" });
    }
    if (store.state.isolate) store.set({ isolate: null });
  });

  const legend = byId("legend-body", HTMLElement);
  scrollByKeys(legend);
  const title = byId("legend-title", HTMLElement);
  const fill = (/** @type {State} */ state) => {
    const lacking = state.lens === "picture" && state.model && isLacking(state.pictures) ? `: ${counted(state.pictures.missing.length, "file")} missing` : "";
    title.textContent = TITLES[state.lens] + lacking;
    const focused = legend.contains(document.activeElement) ? document.activeElement?.id : "";
    legend.replaceChildren(...(state.model ? legendOf(state, store, engine, openGrid, pictures) : []));
    if (focused) document.getElementById(focused)?.focus();
  };
  store.watch(["lens", "model", "brief"], fill);
  // The legend of Text has an input field and is not replaced.
  store.watch(["grid"], (state) => (state.lens === "grid" ? fill(state) : undefined));
  store.watch(["pictures"], (state) => (state.lens === "picture" ? fill(state) : undefined));
  store.watch(["flags", "leaning", "grid", "chosen"], (state) => {
    for (const name of /** @type {const} */ (["flags", "leaning"])) {
      const box = document.getElementById(name);
      if (box instanceof HTMLInputElement) box.checked = state[name];
    }
    const words = document.getElementById("legend-words");
    if (words instanceof HTMLInputElement && words !== document.activeElement) words.value = state.grid.words;
    const chosen = state.chosen.join(" ");
    for (const part of legend.querySelectorAll("[data-part]")) part.setAttribute("aria-pressed", String(part.getAttribute("data-part") === chosen));
  });

  const fold = byId("legend-fold", HTMLButtonElement);
  const card = byId("legend", HTMLElement);
  const open = (/** @type {boolean} */ wanted) => {
    card.classList.toggle("is-folded", !wanted);
    fold.setAttribute("aria-expanded", String(wanted));
  };
  fold.addEventListener("click", () => open(card.classList.contains("is-folded")));
  open(matchMedia("(min-width: 700px) and (min-height: 560px)").matches);
  // Folded, its request would not be visible.
  store.watch(["lens", "pictures"], ({ lens, pictures: { shown, busy }, model }) => {
    if (lens === "picture" && model && !shown && !busy) open(true);
  });
}

/**
 * @param {State} state
 * @param {Store} store
 * @param {Engine} engine
 * @param {() => void} openGrid
 * @param {Choices} pictures
 * @returns {Node[]}
 */
function legendOf(state, store, engine, openGrid, pictures) {
  switch (state.lens) {
    case "grid":
      return gridLegend(state, store, openGrid);
    case "stretch":
      return [
        make(
          "p",
          {},
          "How much longer than wide a circle of the sheet comes out. The circles are those of the grid's cells: where one is round, nothing is stretched. Strokes run along the stretch; the lines are the brief's limits: a look, and what must be fixed.",
        ),
        ...gauge(state, store, engine, "stretch"),
      ];
    case "density":
      return [make("p", {}, sizeText(state)), ...gauge(state, store, engine, "density"), ...partsLegend(state, store)];
    case "flipped":
      return flippedLegend(state);
    case "overlaps":
      return overlapsLegend(state);
    case "seams":
      return [...seamsLegend(state), ...gauge(state, store, engine, "seams")];
    case "text":
      return textLegend(state, store, engine, openGrid);
    case "picture":
      return pictureLegend(state, pictures);
  }
}

/**
 * The scale with its numbers, the histogram over it, and the controls to isolate.
 * @param {State} state
 * @param {Store} store
 * @param {Engine} engine
 * @param {"stretch" | "density" | "seams"} lens
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

  const from = numberInput(kind.shown(histogram.lo), kind.step);
  const to = numberInput(kind.shown(histogram.hi), kind.step);
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
   * The outermost bars include all values beyond, so a range that reaches an end is open there.
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
    make("figure", { class: "gauge" }, picture, ...(lens === "seams" ? [] : [strip(engine, lens, axis)]), labels(histogram, axis, kind)),
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
    {
      class: "chart",
      viewBox: `0 0 ${WIDTH} ${HEIGHT}`,
      preserveAspectRatio: "none",
      role: "img",
      "aria-label": `${kind.name}: how much of the ${kind.of} has which value`,
    },
    draw("path", { class: "chart-fill", d: `M0 ${HEIGHT}${outline.join("")}V${HEIGHT}Z` }),
  );
  for (const limit of Array.from(limits)) {
    const x = axis.place(limit) * WIDTH;
    for (const part of ["chart-hem", "chart-limit"]) picture.append(draw("line", { class: part, x1: x, x2: x, y1: 0, y2: HEIGHT }));
  }
  return picture;
}

/** Colours along the strip: more than are distinguishable in its width. */
const STOPS = 48;

/**
 * The scale's colours along the histogram's axis. A drawing, not a canvas: a canvas would wait for the graphics card.
 * @param {Engine} engine
 * @param {"stretch" | "density"} lens
 * @param {ReturnType<typeof axisOf>} axis
 */
function strip(engine, lens, axis) {
  const values = Float32Array.from({ length: STOPS + 1 }, (_, stop) => axis.value(stop / STOPS));
  const colours = engine.lens_colours(lens, values);
  const stops = Array.from(values, (_, stop) =>
    draw("stop", { offset: stop / STOPS, "stop-color": `rgb(${colours.subarray(3 * stop, 3 * stop + 3).join(", ")})` }),
  );
  return draw(
    "svg",
    { class: "strip", viewBox: "0 0 100 10", preserveAspectRatio: "none", "aria-hidden": "true" },
    draw("linearGradient", { id: "strip-colours" }, ...stops),
    draw("rect", { width: 100, height: 10, fill: "url(#strip-colours)" }),
  );
}

/** Width of a label's figure and room between two labels, in the chart's own units: about what the face takes. */
const FIGURE_WIDTH = 7;
const LABEL_ROOM = 9;

/**
 * Numbers under the scale: all limits, then the ends and as many others as fit. Two limits that are
 * closer than their numbers are wide have them moved apart, by half of the missing width to either side.
 * @param {Histogram} histogram
 * @param {ReturnType<typeof axisOf>} axis
 * @param {Gauge} kind
 */
function labels({ lo, hi, limits }, axis, kind) {
  const row = make("div", { class: "ticks", "aria-hidden": "true" });
  /** @type {{from: number, to: number}[]} */
  const taken = [];
  const words = (/** @type {number} */ value) => (value === hi && kind.open ? `${kind.text(value)}+` : kind.text(value));
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
  const marks = Array.from(limits)
    .filter((limit) => limit >= lo && limit <= hi)
    .sort((one, other) => one - other);
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

/**
 * @param {number} value
 * @param {number} step of the arrow keys
 */
function numberInput(value, step) {
  const input = make("input", { type: "number", step: String(step), min: "0", inputmode: "decimal" });
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
