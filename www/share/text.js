/**
 * The text of a mail or chat message with a link: the verdict, what must be fixed first, the notes, and the link last. Plain
 * text, for recipients who do not open the link.
 *
 * @import {Report} from "../core/messages.js"
 * @import {Review} from "../core/review.js"
 */

import { counts } from "../findings/checks.js";
import { isolated, whole } from "../base/format.js";
import { VERDICTS } from "../findings/verdict.js";

/** Most listed findings: enough for one session of fixing. */
const MOST_FINDINGS = 5;

/**
 * @param {Report} report
 * @param {Review} review with the notes that are sent
 * @param {string} student whose model it is; empty if unknown
 * @param {string} link
 */
export function pasteText(report, review, student, link) {
  const { verdict, cause, to_ready: toReady, findings } = report;
  const must = findings.filter((finding) => counts(finding) && finding.severity === "must-fix");
  const told = must
    .slice(0, MOST_FINDINGS)
    .map(({ title, number, limit }, at) => `${at + 1}. ${title}: ${number.text}${limit ? ` (limit ${limit.text})` : ""}`);
  const more = must.length - told.length;
  const { since, notes, sender } = review;
  const parts = [
    student && `For ${isolated(student)}`,
    `${isolated(review.file.name)}: ${VERDICTS[verdict].word.toLowerCase()}.${toReady.text && verdict !== "ready" ? ` ${toReady.text.replace(/^./u, (first) => first.toUpperCase())}.` : ""}`,
    since && `Since the upload before: ${whole(since.fixed)} fixed, ${whole(since.still)} still there, ${whole(since.new)} new.`,
    cause?.sentence,
    told.length > 0 && ["Must fix:", ...told, ...(more > 0 ? [`and ${whole(more)} more`] : [])].join("\n"),
    notes.length > 0 && ["Notes:", ...notes.map(({ text }, at) => `${at + 1}. ${text.replaceAll("\n", "\n   ")}`)].join("\n"),
    sender,
    link,
  ];
  return parts.filter(Boolean).join("\n\n");
}
