/**
 * The legend of each lens: text, patterns, and numbers for the whole model.
 *
 * @import {Areas, Engine} from "../core/messages.js"
 * @import {State, Store} from "../core/state.js"
 */

import { draw, make } from "../base/dom.js";
import { counted, percent, three, withUnit } from "../base/format.js";
import { cellLength, referenceDensity } from "../stage/scalebar.js";

/** @param {State} state */
function unitOf(state) {
  return state.brief.map?.unit ?? "unit";
}

/**
 * @param {State} state
 * @param {Store} store
 * @param {() => void} openGrid
 */
export function gridLegend(state, store, openGrid) {
  const length = cellLength(state);
  const { cell } = state.grid;
  const asked = typeof state.brief.density?.target_px_per_unit === "number";
  const calibration = length
    ? [make("b", {}, `1 cell = ${cell} px = ${withUnit(length, unitOf(state))}`), ` at ${asked ? "the target" : "the model's median texel density"}.`]
    : [make("b", {}, `1 cell = ${cell} px`), " of the map."];
  const toggle = (/** @type {"flags" | "leaning"} */ name, /** @type {string} */ text) => {
    const box = make("input", { type: "checkbox", id: name, role: "switch" });
    box.checked = state[name];
    box.addEventListener("change", () => store.set({ [name]: box.checked }));
    return make("label", { class: "switch" }, box, make("span", {}, text));
  };
  return [
    make("p", {}, ...calibration, " A circle that stays a circle keeps its shape; the pennant points up the sheet, its flag to the right."),
    toggle("flags", "Problem patterns over the grid"),
    swatches(
      [
        ["light-strokes", "stretched", ""],
        ["light-bars", "flipped", ""],
        ["light-hatch", "folded", ""],
        ["light-chevrons", "mirrored", ""],
      ],
      "swatches swatches-two",
    ),
    toggle("leaning", "Tilt: which way the sheet's up runs"),
    swatches([["light-stems", "not upright", share(state.model?.areas?.tilted)]]),
    cellsButton(openGrid),
  ];
}

/** @param {() => void} openGrid */
function cellsButton(openGrid) {
  const button = make("button", { type: "button", class: "button", "aria-haspopup": "dialog", title: "Cells, words, picture (C)" }, "Grid settings");
  button.addEventListener("click", openGrid);
  return button;
}

/** @param {number | null | undefined} value 0..1 */
function share(value) {
  return typeof value === "number" ? percent(value) : "";
}

/**
 * Several figures of one kind in a row of a legend.
 * @param {...string} parts empty ones are left out
 */
function joined(...parts) {
  return parts.filter(Boolean).join(" · ");
}

/** @param {State} state */
export function sizeText(state) {
  const reference = referenceDensity(state);
  const lead = "Pixels each surface gets, against the reference";
  return reference ? `${lead} of ${three(reference)} px/${unitOf(state)}. Left: too low; right: too high.` : `${lead}.`;
}

/** @param {State} state */
export function flippedLegend({ model }) {
  const handedness = model?.report?.handedness;
  const turned = handedness?.flipped_shells;
  const folded = handedness?.folded_triangles;
  const areas = model?.areas;
  return [
    make("p", {}, "Whether a picture on the sheet reads the right way round on the surface. Shares are of the whole surface."),
    swatches([
      ["plain", "right way", share(areas && areas.mapped - areas.reversed)],
      ["bars", "flipped", joined(typeof turned === "number" ? counted(turned, "shell") : "", share(areas?.flipped))],
      ["hatch", "folded", joined(typeof folded === "number" ? counted(folded, "triangle") : "", share(areas?.folded))],
      ...unmapped(areas),
    ]),
  ];
}

/** @param {State} state */
export function overlapsLegend({ model }) {
  const { sharing, equal_shells: equal, sharing_at_least: isLeast } = model?.report ?? {};
  const firstTwo = new Set(equal?.map(([a, b]) => `${a} ${b}`));
  const stacks = equal?.length
    ? `${counted(equal.length, "stack")} of up to ${counted(
        equal.reduce((most, { length }) => Math.max(most, length), 0),
        "shell",
      )}`
    : "";
  const pairs = (/** @type {string[]} */ ...kinds) => {
    if (!sharing) return "";
    const count = sharing.filter(({ kind, a, b }) => kinds.includes(kind) && !(kind === "stacked" && firstTwo.has(`${a} ${b}`))).length;
    if (count === 0 && stacks && kinds.includes("stacked")) return "";
    return `${isLeast ? "at least " : ""}${counted(count, "pair")}`;
  };
  const areas = model?.areas;
  return [
    make(
      "p",
      {},
      "Surfaces that use the same place on the sheet. Choose one to light its partner; chevrons point at the fold between them. Shares of the surface count every triangle that shares whole.",
    ),
    swatches([
      ["chevrons", "mirrored", joined(pairs("mirrored"), share(areas?.mirrored))],
      ["dots", "stacked", joined(stacks, pairs("stacked"), share(areas?.stacked))],
      ["bricks", "partial overlap", joined(pairs("partial-overlap", "self-overlap"), share(areas?.partial_overlap))],
      ["plain", "alone", share(areas && areas.mapped - areas.shared)],
      ...unmapped(areas),
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
      const swatch = draw(
        "svg",
        { class: "swatch", viewBox: "0 0 28 20", "aria-hidden": "true" },
        draw("rect", { class: "swatch-ground", width: 28, height: 20 }),
        draw("rect", { width: 28, height: 20, fill: pattern === "plain" ? "none" : `url(#pattern-${pattern})` }),
        draw("rect", { class: "swatch-edge", x: 0.5, y: 0.5, width: 27, height: 19 }),
      );
      return make("li", {}, swatch, make("span", {}, label), make("span", { class: "figure" }, value));
    }),
  );
}

/**
 * A row for surface without UVs, where there is any.
 * @param {Areas | null | undefined} areas
 * @returns {[pattern: string, label: string, value: string][]}
 */
function unmapped(areas) {
  return areas && areas.mapped < 1 - 1e-9 ? [["unmapped", "without UVs", percent(1 - areas.mapped)]] : [];
}

/** Parts listed; the others are better. */
const PARTS_LISTED = 6;

/**
 * Parts by deviation, worst first; selecting one selects its shells.
 * @param {State} state
 * @param {Store} store
 * @returns {Node[]}
 */
export function partsLegend({ model, chosen, brief }, store) {
  const report = model?.report;
  const parts = report?.density.parts ?? [];
  if (!report || parts.length === 0) return [];
  const now = chosen.join(" ");
  const tolerance = brief.density?.tolerance_percent ?? 15;
  const rows = parts.slice(0, PARTS_LISTED).map(({ name, density_factor, factor, grade, shells }) => {
    const ids = shells.join(" ");
    const button = make(
      "button",
      { type: "button", class: "part", "data-part": ids, "aria-pressed": String(ids === now) },
      make("span", { class: "part-name" }, name, ...(density_factor === 1 ? [] : [make("small", {}, ` asked ×${three(density_factor)}`)])),
      make("b", { class: "figure" }, `×${three(factor)}`),
      make(
        "small",
        { class: "figure" },
        grade === "within" ? `within ${three(tolerance)}\u00a0%` : grade === "not-judged" ? "not checked: stretched" : `scale by ${three(1 / factor)}`,
      ),
    );
    button.addEventListener("click", () => store.set({ finding: null, chosen: store.state.chosen.join(" ") === ids ? [] : shells }));
    return make("li", {}, button);
  });
  const rest = parts.length - rows.length;
  return [
    make("h3", { class: "legend-head" }, "Parts, the farthest off first"),
    make("ol", { class: "parts" }, ...rows),
    ...(rest > 0 ? [make("p", { class: "quiet" }, `${counted(rest, "other part")} ${rest === 1 ? "is" : "are"} nearer to what they should be.`)] : []),
  ];
}

/**
 * @param {State} state
 * @returns {Node[]}
 */
export function seamsLegend({ model, brief }) {
  const seams = model?.report?.seams;
  const front = (brief.seams?.front ?? seams?.front ?? "+z").toUpperCase().replace("-", "\u2212");
  const lead = make(
    "p",
    {},
    `Ink where the surface is cut. The more of a seam is seen from the front, ${front}, the thicker; the deeper it lies hidden, the paler.`,
  );
  if (!seams) return [lead];
  if (seams.length === 0) return [make("p", {}, "The model has no seams: no edge is cut between two faces.")];
  const limit = brief.seams?.max_front_over_diagonal;
  const soft = seams.front_over_diagonal;
  const over = typeof limit === "number" && soft !== null && soft > limit;
  const times = seams.length_over_diagonal === null ? "" : `${three(seams.length_over_diagonal)}\u00a0× the diagonal`;
  const error = seams.sampling_error === null ? "" : `±\u00a0${three(seams.sampling_error * 100)}\u00a0%`;
  return [
    lead,
    figures([
      ["Length", withUnit(seams.length, brief.map?.unit ?? "unit"), times],
      ["In front", seams.share_in_front === null ? "\u2013" : percent(seams.share_in_front), "of the length"],
      [
        "Soft, in front",
        soft === null ? "\u2013" : `${three(soft)}\u00a0× the diagonal`,
        typeof limit === "number" ? `${over ? "over the limit of" : "limit"} ${three(limit)}` : "no limit",
        over,
      ],
      ["Exposure", seams.exposure === null ? "\u2013" : percent(seams.exposure), joined(error, counted(seams.rays, "ray"))],
    ]),
    make("p", { class: "quiet" }, "Exposure: the share of all directions above a seam from which it is seen. How much of the length has which:"),
  ];
}

/**
 * @param {[name: string, value: string, more: string, over?: boolean][]} rows
 */
function figures(rows) {
  return make(
    "dl",
    { class: "figures" },
    ...rows.map(([name, value, more, over]) =>
      make(
        "div",
        over ? { class: "is-over" } : {},
        make("dt", {}, name),
        make("dd", {}, make("b", { class: "figure" }, value), make("small", { class: "figure" }, more)),
      ),
    ),
  );
}

/** Debounce of typing before the text is set, ms. */
const REST_MS = 250;

/**
 * @param {State} state
 * @param {Store} store
 * @param {Engine} engine
 * @param {() => void} openGrid
 * @returns {Node[]}
 */
export function textLegend({ model, grid }, store, engine, openGrid) {
  const areas = model?.areas;
  const safe = model?.report?.text.text_share;
  const words = make("input", { type: "text", id: "legend-words", maxlength: "120", autocomplete: "off", placeholder: "set across the sheet" });
  words.value = grid.words;
  let resting = 0;
  words.addEventListener("input", () => {
    clearTimeout(resting);
    resting = window.setTimeout(() => {
      const asked = { ...store.state.grid, words: words.value.trim() };
      if (!engine.grid_trouble(asked.width, asked.height, asked.cell, asked.words, asked.wordsPx)) store.set({ grid: asked });
    }, REST_MS);
  });
  const failed = (model?.report?.findings ?? []).filter(({ kind }) => kind === "text");
  return [
    make("p", {}, "Where letters come out right. The rest is veiled, and its pattern says why not; a surface may have several reasons."),
    swatches([
      ["plain", "safe", share(safe)],
      ["bars", "flipped", share(areas?.reversed)],
      ["dots", "also used elsewhere", share(areas?.shared)],
      ["strokes", "stretched", share(areas?.stretched)],
      ["stems", "tilted; strokes run up the sheet", share(areas?.tilted)],
      ...unmapped(areas),
    ]),
    ...failed.map(({ title, number }) => make("p", { class: "is-over" }, `${title}: ${number.text}. Outlined.`)),
    make("label", { class: "field field-wide" }, make("span", {}, "Your own words"), words),
    cellsButton(openGrid),
  ];
}
