/**
 * The numbers of a table (findings/table.js) as text, side by side.
 *
 * @import {NumberName} from "../findings/table.js"
 * @import {Brief} from "../core/messages.js"
 */

import { percent, three, whole } from "../base/format.js";

/** @typedef {(value: number, unit: string) => string} Form */

const px = /** @type {Form} */ ((value) => `${three(value)}\u00a0px`);
const density = /** @type {Form} */ ((value, unit) => `${three(value)}\u00a0px/${unit}`);

/** @type {Record<NumberName, [string, Form]>} */
const WORDS = {
  "to_ready.must_fix_share": ["surface that must be fixed", percent],
  "to_ready.look_share": ["surface to look at", percent],
  "counts.faces": ["faces", whole],
  "counts.triangles": ["triangles", whole],
  "counts.parts": ["parts", whole],
  "counts.shells": ["shells", whole],
  "counts.faces_without_uv": ["faces without UVs", whole],
  "area.surface": ["surface", (value, unit) => `${three(value)}\u00a0${unit}²`],
  "stretch.anisotropy_median": ["anisotropy, median", three],
  "stretch.anisotropy_p95": ["anisotropy, 95\u00a0%", three],
  "stretch.share_over": ["surface over the limit", percent],
  "density.mean_px_per_unit": ["density", density],
  "density.max_over_min": ["density, greatest over least shell", three],
  "handedness.reversed_share": ["reversed surface", percent],
  "handedness.flipped_shells": ["shells flipped", whole],
  "handedness.folded_triangles": ["folded triangles", whole],
  "handedness.mirrored_share": ["mirrored surface", percent],
  sharing_at_least: ["search for sharing cut off", whole],
  "sheet.coverage": ["coverage", percent],
  "sheet.coverage_sampling_error": ["coverage, standard error", percent],
  "sheet.overlap_share": ["overlap", percent],
  "sheet.overlap_share_sampling_error": ["overlap, standard error", percent],
  "sheet.outside_share": ["outside the tile", percent],
  "sheet.padding_between_px": ["padding between shells", px],
  "sheet.padding_border_px": ["padding to the border", px],
  "seams.length": ["seams", (value, unit) => `${three(value)}\u00a0${unit}`],
  "seams.length_over_diagonal": ["seams over the diagonal", three],
  "seams.share_in_front": ["seams seen from the front", percent],
  "seams.front_over_diagonal": ["soft seams in front over the diagonal", three],
  "seams.exposure": ["exposure of the seams", percent],
  "text.text_share": ["safe for text", percent],
  intended: ["findings intended", whole],
};

/** @param {NumberName} name */
export function numberLabel(name) {
  return WORDS[name][0];
}

/**
 * @param {NumberName} name
 * @param {number | boolean | null} value
 * @param {Brief} brief
 */
export function numberText(name, value, brief) {
  if (typeof value === "boolean") return value ? "yes" : "no";
  return value === null ? "none" : WORDS[name][1](value, brief.map?.unit ?? "unit");
}
