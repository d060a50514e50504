/**
 * Points for a model of a class, by the rubric of the brief: all of a check's if it has no finding that counts, half if all
 * are "look", none if one is "must fix". A suggestion: the grade is the teacher's.
 *
 * @import {Points} from "../findings/table.js"
 * @import {Brief, ClassResult} from "../core/messages.js"
 */

/** The rule in words, shown with points. */
export const POINTS_RULE =
  "Points by the brief's rubric: all where a check has no finding, half where only “look”, none where “must fix”. What is intended does not count.";

/** The key of the rubric that is not a check. */
const MAXIMUM = "maximum";

/**
 * @param {Brief} brief
 * @param {ClassResult | null} result of this brief
 * @returns {Points | null} null without a rubric, or without a result
 */
export function pointsOf({ rubric = {} }, result) {
  const checks = Object.entries(rubric).filter(([key]) => key !== MAXIMUM);
  if (!result || checks.length === 0) return null;
  let [points, of] = [0, 0];
  for (const [kind, worth] of checks) {
    const found = result.findings.filter((finding) => finding.kind === kind).map(({ severity }) => severity);
    const share = found.includes("must-fix") ? 0 : found.includes("look") ? 0.5 : 1;
    points += worth * share;
    of += worth;
  }
  // Sums of decimals: rounding errors are removed.
  return { points: rounded(points), of: rounded(rubric[MAXIMUM] ?? of) };
}

/** @param {number} value */
function rounded(value) {
  return Number(value.toPrecision(9));
}
