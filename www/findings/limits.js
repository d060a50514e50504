/**
 * Summary of the brief: its name for the bar, and each check's limit.
 *
 * @import {Brief, BriefForm, WholeBrief} from "../core/messages.js"
 */

import { counted, percent, three } from "../base/format.js";
import { mapOf, mergeBrief } from "../core/state.js";

/**
 * The preset's title where the brief is one, and otherwise its map and how many values differ from the defaults.
 * @param {Brief} brief
 * @param {BriefForm | null} form
 * @returns {{name: string, changed: number}} `changed` is 0 for a preset
 */
export function briefName(brief, form) {
  const preset = presetOf(brief, form);
  if (preset) return { name: preset.title, changed: 0 };
  const { width, height } = mapOf(brief);
  const changed = Object.values(brief).reduce((sum, values) => sum + Object.keys(values).length, 0);
  const map = width === height ? `${width} px` : `${width} × ${height} px`;
  return { name: changed > 0 ? `${map}, ${counted(changed, "value")} changed` : map, changed };
}

/**
 * @param {Brief} brief
 * @param {BriefForm | null} form
 */
export function presetOf(brief, form) {
  const text = sorted(brief);
  return form?.presets.find((preset) => sorted(mergeBrief({}, preset.brief, form.defaults)) === text);
}

/** @param {Brief} brief */
function sorted(brief) {
  return Object.entries(brief)
    .flatMap(([section, values]) => Object.entries(values).map(([key, value]) => `${section}.${key}=${JSON.stringify(value)}`))
    .sort()
    .join("\n");
}

/**
 * The default of an optional length, px.
 * @param {string} section
 * @param {string} key
 * @param {Brief} brief
 * @param {BriefForm} form
 */
export function usualLength(section, key, brief, form) {
  const share = form.sections.find((entry) => entry.section === section)?.keys.find((entry) => entry.key === key)?.of_larger_side;
  const { width, height } = mapOf(brief);
  return share === undefined ? null : share * Math.max(width, height);
}

const POLICIES = /** @type {const} */ ({ allow: "allowed", look: "a person decides", "must-fix": "not allowed" });

/**
 * A check's limit, in the units of its findings; empty if the brief has none.
 * @param {string} kind of finding
 * @param {Brief} brief
 * @param {BriefForm | null} form
 */
export function limitOf(kind, brief, form) {
  if (!form) return "";
  const active = /** @type {WholeBrief} */ (
    Object.fromEntries(
      Object.entries(form.defaults).map(([section, values]) => [section, { ...values, .../** @type {Record<string, object>} */ (brief)[section] }]),
    )
  );
  const { density, stretch, sharing, padding, coverage, seams, tilt, text, map } = active;
  const px = (/** @type {keyof typeof padding} */ key) => `at least ${three(padding[key] ?? usualLength("padding", key, brief, form) ?? 0)}\u00a0px`;
  switch (kind) {
    case "stretch":
      return `anisotropy up to ${three(stretch.max_anisotropy)}, must fix beyond ${three(Math.max(stretch.max_anisotropy, stretch.must_fix_anisotropy))}, each on all but ${percent(stretch.max_share_over)}`;
    case "density":
      return `within ${three(density.tolerance_percent)}\u00a0% of ${density.target_px_per_unit === null ? "the median" : `${three(density.target_px_per_unit)}\u00a0px/${map.unit}`}`;
    case "mirrored":
    case "stacked":
      return POLICIES[sharing[kind]];
    case "partial-overlap":
    case "self-overlap":
      return POLICIES[sharing.partial_overlap];
    case "outside":
    case "across-tiles":
      return map.tiles === "single" ? "one tile" : map.tiles === "udim" ? "UDIM tiles" : "";
    case "coverage":
      return `at least ${percent(coverage.min_share)}`;
    case "padding":
      return px("between_px");
    case "border":
      return px("border_px");
    case "seams":
      return seams.max_front_over_diagonal === null
        ? ""
        : `soft seams seen from ${seams.front.toUpperCase()} up to ${three(seams.max_front_over_diagonal)} of the diagonal`;
    case "tilt":
      return `up is ${tilt.up.toUpperCase()}`;
    case "text":
      return text.groups.join(", ");
    default:
      return "";
  }
}
