/**
 * The checks a finding can come from, and how each is counted in a chip.
 *
 * @import {Finding, Severity} from "./messages.js"
 */

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
 * Whether a finding has a say in the verdict.
 * @param {Finding} finding
 */
export function counts({ decision }) {
  return decision?.kind !== "meant";
}

/**
 * Findings that count, by kind, in the order of {@link CHECKS}, with the worst severity among them.
 * @param {Finding[]} findings
 */
export function tally(findings) {
  /** @type {Map<string, {count: number, severity: Severity}>} */
  const byKind = new Map();
  for (const { kind, severity } of findings.filter(counts)) {
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
