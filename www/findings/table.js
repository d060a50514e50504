/**
 * A report's cells in a class's table, and the table as a file: the student, the same columns, cell by cell, as
 * `gridproof check --csv` writes them (src/cli/output/csv.rs; a test compares both, byte by byte), and the teacher's entries.
 *
 * @import {ClassResult, Failure, Report} from "../core/messages.js"
 */

import { NUMBERS } from "../core/known.js";
import { counts } from "./checks.js";

/** The page's own columns, before and after those of the command. */
const STUDENT = "student";
const ADDED = [
  "upload",
  "counts",
  "must_fix_findings",
  "look_findings",
  "notes",
  "decisions",
  "fixed",
  "still_there",
  "new",
  "points",
  "points_of",
  "seen",
  "grade",
  "comment",
];

/** The command's columns before the numbers. */
const WORDS = ["path", "verdict", "worst_finding", "error"];

/** Those that count something; all others are written with a point. */
const WHOLE = /^counts\.|_shells$|_triangles$|^intended$/;
/** Decimal exponents between which a number is written without one, as the command's JSON writer does. */
const [EXPONENT_LEAST, EXPONENT_MOST] = [-5, 15];

/** @typedef {typeof NUMBERS[number]} NumberName */
/** By the rubric of the brief; `of`: the most that a model can get. @typedef {{points: number, of: number}} Points */

/**
 * @param {unknown} value
 * @param {string} key
 */
function within(value, key) {
  return typeof value === "object" ? /** @type {Record<string, unknown> | null} */ (value)?.[key] : undefined;
}

/**
 * @param {Report & {names?: string[][], bounds?: [number[], number[]] | null}} report in short, where rows are made of it
 * @returns {ClassResult}
 */
export function resultOf(report) {
  // Intended findings count neither in the verdict nor here.
  const counting = report.findings.map((finding, at) => ({ finding, names: report.names?.[at] ?? [] })).filter(({ finding }) => counts(finding));
  const worst = counting[0]?.finding;
  return {
    verdict: report.verdict,
    findings: counting.map(({ finding: { id, kind, severity, title, number, limit, camera, places, follows_cause: follows }, names }) => ({
      id,
      kind,
      severity: follows && report.cause ? report.cause.severity : severity,
      title,
      number,
      limit: limit?.value ?? null,
      place: places.length > 0 || !camera ? null : { centre: camera.target, radius: camera.radius, eye: camera.eye },
      names: [...new Set(names)],
    })),
    intended: report.findings.length - counting.length,
    bounds: report.bounds ?? null,
    cause: report.cause,
    toReady: report.to_ready,
    sheets: report.sheets?.by === "pictures" ? report.sheets : null,
    worst: worst ? { title: worst.title, number: worst.number, limit: worst.limit } : null,
    numbers: NUMBERS.map((name) => /** @type {number | boolean | null} */ (name.split(".").reduce(within, /** @type {unknown} */ (report)) ?? null)),
  };
}

/**
 * A result with the seams' numbers from another.
 * @param {ClassResult} result
 * @param {ClassResult} seen
 * @returns {ClassResult}
 */
export function withSeams(result, seen) {
  return { ...result, numbers: NUMBERS.map((name, at) => (name.startsWith("seams.") ? seen : result).numbers[at] ?? null) };
}

/**
 * @param {ClassResult} result
 * @param {NumberName} name
 * @returns {number | null}
 */
export function numberOf(result, name) {
  const value = result.numbers[NUMBERS.indexOf(name)];
  return typeof value === "number" ? value : null;
}

/**
 * @typedef {object} Line of a file
 * @property {string} path
 * @property {ClassResult | null} result a file with neither this nor a failure was not measured
 * @property {Failure | null} failure
 * @property {string} student
 * @property {string} upload why it is a wrong upload; empty if it is not
 * @property {{notes: number, decisions: number}} written
 * @property {{fixed: number, still: number, fresh: number} | null} since comparison with the student's previous upload
 * @property {Points | null} points by the brief's rubric; null where it has none, or the file was not measured
 * @property {boolean | null} counts whether it is the student's file that counts; null if not selected
 * @property {boolean} seen
 * @property {string} grade
 * @property {string} comment
 */

/**
 * The table by RFC 4180. It begins with the BOM that spreadsheets need for UTF-8.
 * @param {Line[]} files
 */
export function csvOf(files) {
  const head = line([STUDENT, ...WORDS, ...NUMBERS, ...ADDED]);
  return `\ufeff${[head, ...files.map((file) => line([file.student, ...cells(file), ...added(file)]))].join("")}`;
}

/** @param {Line} file */
function added({ result, upload, written, since, points, counts: isCounted, seen, grade, comment }) {
  const count = (/** @type {string} */ kind) => (result ? String(result.findings.filter(({ severity }) => severity === kind).length) : "");
  const became = since ? [since.fixed, since.still, since.fresh].map(String) : ["", "", ""];
  const scored = points ? [String(points.points), String(points.of)] : ["", ""];
  return [
    upload,
    isCounted === null ? "" : isCounted ? "yes" : "no",
    count("must-fix"),
    count("look"),
    String(written.notes),
    String(written.decisions),
    ...became,
    ...scored,
    seen ? "yes" : "no",
    grade,
    comment,
  ];
}

/** @param {Line} file */
function cells({ path, result, failure }) {
  if (failure || !result) {
    const error = failure ? `${failure.code}: ${failure.message}${failure.line ? ` (line ${failure.line})` : ""}` : "";
    return [path, failure?.code === "missing" ? "missing" : failure ? "unreadable" : "not measured", "", error, ...NUMBERS.map(() => "")];
  }
  const { worst, cause } = result;
  const limit = worst?.limit ? ` (limit ${worst.limit.text})` : "";
  const finding = cause ? `${cause.kind}: ${cause.sentence}` : worst ? `${result.findings[0]?.kind}: ${worst.title}, ${worst.number.text}${limit}` : "";
  return [path, result.verdict, finding, "", ...NUMBERS.map((name, at) => written(result.numbers[at] ?? null, WHOLE.test(name)))];
}

/**
 * @param {number | boolean | null} value
 * @param {boolean} whole
 */
function written(value, whole) {
  if (value === null) return "";
  if (whole || typeof value === "boolean") return String(value);
  const short = value.toExponential();
  const exponent = Number(short.slice(short.indexOf("e") + 1));
  if (exponent < EXPONENT_LEAST || exponent > EXPONENT_MOST) return short;
  const text = Object.is(value, -0) ? "-0" : String(value);
  return text.includes(".") ? text : `${text}.0`;
}

/** @param {string[]} cells */
function line(cells) {
  return `${cells.map(plain).join(",")}\r\n`;
}

/** A number and nothing else. */
const NUMBER = /^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/;

/**
 * A cell on one line that is no formula, quoted if the format requires it.
 * @param {string} cell
 */
function plain(cell) {
  const clean = printable(cell);
  const text = /^\p{White_Space}*[=+\-@]/u.test(clean) && clean !== "-" && !NUMBER.test(clean) ? `'${clean}` : clean;
  return /[,"]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

/** Controls, ends of lines and paragraphs, and what opens or closes another direction of writing. */
const STEERS = /[\p{Cc}\u2028-\u202E\u2066-\u2069]/u;

/**
 * The text with blanks instead of control characters; balanced isolates stay. The command's version is in
 * src/util/isolate.rs.
 * @param {string} text
 */
function printable(text) {
  if (!STEERS.test(text)) return text;
  const letters = Array.from(text);
  /** @type {number[]} */
  const open = [];
  letters.forEach((letter, at) => {
    if (letter === "\u2068") open.push(at);
    else if (letter === "\u2069" && open.pop() !== undefined) return;
    else if (STEERS.test(letter)) letters[at] = " ";
  });
  for (const at of open) letters[at] = " ";
  return letters.join("");
}
