/**
 * The checks a finding can come from: how each is counted in a chip, and what the brief says about it.
 *
 * @import {Brief, Finding, Severity} from "./messages.js"
 */

import { fixed, percent, three } from "./format.js";

/** Kind of finding → what a chip says after the number. In the order in which chips stand. */
export const CHECKS = /** @type {const} */ ([
  ["unmapped", "without UVs"],
  ["inside-out", "inside out"],
  ["turned-over", "turned over"],
  ["folded", "folded"],
  ["stretch", "stretched"],
  ["collapsed", "collapsed"],
  ["density", "off size"],
  ["mirrored", "mirrored"],
  ["stacked", "stacked"],
  ["crossing", "crossing"],
  ["self-crossing", "crossing itself"],
  ["outside", "outside the tile"],
  ["across-tiles", "across tiles"],
  ["padding", "too close together"],
  ["border", "too near the border"],
  ["coverage", "low coverage"],
  ["lettering", "unsafe for lettering"],
  ["seams", "seams in front"],
  ["tilt", "tilted"],
  ["no-area", "without area"],
  ["cut-short", "file cut short"],
  ["left-out", "left out in reading"],
]);

/**
 * @param {string} kind
 * @returns {string}
 */
export function checkLabel(kind) {
  return CHECKS.find(([known]) => known === kind)?.[1] ?? kind.replaceAll("-", " ");
}

/** @type {Record<Severity, {shape: string, word: string}>} */
export const SEVERITIES = {
  stop: { shape: "shape-stop", word: "Breaks the brief" },
  look: { shape: "shape-look", word: "Have a look" },
  note: { shape: "shape-note", word: "Note" },
};

/** @param {Severity} severity */
function rank(severity) {
  return severity === "stop" ? 0 : severity === "look" ? 1 : 2;
}

/**
 * Findings by kind, in the order of {@link CHECKS}, with the worst severity among them.
 * @param {Finding[]} findings
 */
export function tally(findings) {
  /** @type {Map<string, {count: number, severity: Severity}>} */
  const byKind = new Map();
  for (const { kind, severity } of findings) {
    const known = byKind.get(kind);
    if (!known) byKind.set(kind, { count: 1, severity });
    else byKind.set(kind, { count: known.count + 1, severity: rank(severity) < rank(known.severity) ? severity : known.severity });
  }
  const order = CHECKS.map(([kind]) => /** @type {string} */ (kind));
  const place = (/** @type {string} */ kind) => (order.includes(kind) ? order.indexOf(kind) : order.length);
  return [...byKind]
    .map(([kind, entry]) => ({ kind, ...entry }))
    .sort((a, b) => rank(a.severity) - rank(b.severity) || place(a.kind) - place(b.kind));
}

const POLICY = /** @type {Record<string, string>} */ ({
  allow: "allowed",
  look: "have a look",
  stop: "not allowed",
});

/**
 * The brief as rows for people: what, value, what it means.
 * @param {Brief} brief
 * @returns {[string, string, string][]}
 */
export function briefRows(brief) {
  const unit = brief.map?.unit ?? "cm";
  const target = brief.density?.target_px_per_unit;
  const tolerance = brief.density?.tolerance_percent ?? 15;
  const maxAnisotropy = brief.stretch?.max_anisotropy ?? 1.25;
  const maxShare = brief.stretch?.max_share_over ?? 0.05;
  return [
    ["Map", `${brief.map?.width_px ?? 2048} × ${brief.map?.height_px ?? 2048} px`, "Every length on the sheet is measured in pixels of this map."],
    ["Tiles", brief.map?.tiles === "udim" ? "UDIM" : "single", brief.map?.tiles === "udim" ? "Each tile in use is a map of its own." : "UVs belong between 0 and 1; what lies outside is reported."],
    ["Unit", unit, "An OBJ names no unit; its numbers are read in this one."],
    ["Texel density", target ? `${three(target)} px/${unit}` : "the model's own mean", "Pixels that each unit of surface is given. Shells are compared with this."],
    ["Density tolerance", `±${three(tolerance)} %`, "A shell farther off than this gets too little or too much detail."],
    ["Anisotropy", `up to ${fixed(maxAnisotropy)}`, "Longest over shortest axis that a circle on the sheet takes on the surface; 1 means a square stays a square."],
    ["Area above it", `up to ${percent(maxShare)}`, "Share of a shell's surface that may be stretched more than that."],
    ["Mirrored", POLICY[brief.sharing?.mirrored ?? "look"] ?? "", "Two surfaces use one place of the sheet, one of them reversed. Lettering would read backwards on one."],
    ["Stacked", POLICY[brief.sharing?.stacked ?? "look"] ?? "", "Two surfaces use exactly the same place, the same way round."],
    ["Crossing", POLICY[brief.sharing?.crossing ?? "stop"] ?? "", "Shells overlap in part; paint for one spills onto the other."],
    ["Coverage", `at least ${percent(brief.coverage?.min_share ?? 0.5)}`, "Share of the tile that the shells use. The rest is memory spent on nothing."],
  ];
}
