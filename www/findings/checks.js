/**
 * The checks behind findings, and the label of each chip.
 *
 * @import {Brief, Cause, Finding, FindingKind, Report, Severity} from "../core/messages.js"
 */

/** Kind of finding → text of a chip after the number. In the order of the chips. @type {Readonly<Record<FindingKind, string>>} */
const LABELS = {
  unmapped: "without UVs",
  "inside-out": "inside out",
  flipped: "flipped",
  folded: "folded",
  stretch: "stretched",
  collapsed: "collapsed",
  density: "off density",
  mirrored: "mirrored",
  stacked: "stacked",
  "partial-overlap": "partly overlapping",
  "self-overlap": "self-overlapping",
  outside: "outside the tile",
  "across-tiles": "across tiles",
  padding: "too close together",
  border: "too near the border",
  coverage: "low coverage",
  text: "unsafe for text",
  seams: "seams in front",
  tilt: "not upright",
  sheets: "assumed sheets",
  "no-area": "without area",
  "cut-short": "file cut short",
  "left-out": "left out in reading",
};

/** The same as pairs. */
export const CHECKS = /** @type {readonly [FindingKind, string][]} */ (Object.entries(LABELS));

/**
 * @param {string} kind
 * @returns {string}
 */
export function checkLabel(kind) {
  return CHECKS.find(([known]) => known === kind)?.[1] ?? kind.replaceAll("-", " ");
}

/** @type {Record<Severity, {shape: string, word: string}>} */
export const SEVERITIES = {
  "must-fix": { shape: "shape-must-fix", word: "Must fix" },
  look: { shape: "shape-look", word: "Look" },
  info: { shape: "shape-info", word: "Info" },
};

/** @param {Severity} severity */
function rank(severity) {
  return severity === "must-fix" ? 0 : severity === "look" ? 1 : 2;
}

/**
 * Whether a finding counts in the verdict.
 * @param {Finding} finding
 */
export function counts({ decision }) {
  return decision?.kind !== "intended";
}

/**
 * Checks that neither failed nor passed: the brief does not ask for them, or there was nothing to judge.
 * @param {Report} report
 * @returns {FindingKind[]}
 */
export function notJudged({ findings, not_judged: known }) {
  return CHECKS.map(([kind]) => kind).filter((kind) => known.includes(kind) && !findings.some((finding) => finding.kind === kind));
}

/**
 * Findings that count, by kind, in the order of {@link CHECKS}, with the worst severity among them.
 * Findings that follow from the cause have its severity.
 * @param {Finding[]} findings
 * @param {Cause | null} cause
 */
export function tally(findings, cause) {
  /** @type {Map<string, {count: number, severity: Severity}>} */
  const byKind = new Map();
  for (const { kind, severity: own, follows_cause: follows } of findings.filter(counts)) {
    const severity = follows && cause ? cause.severity : own;
    const known = byKind.get(kind);
    if (!known) byKind.set(kind, { count: 1, severity });
    else byKind.set(kind, { count: known.count + 1, severity: rank(severity) < rank(known.severity) ? severity : known.severity });
  }
  const order = Object.keys(LABELS);
  const place = (/** @type {string} */ kind) => (order.includes(kind) ? order.indexOf(kind) : order.length);
  return [...byKind].map(([kind, entry]) => ({ kind, ...entry })).sort((a, b) => rank(a.severity) - rank(b.severity) || place(a.kind) - place(b.kind));
}
