/**
 * The rows of a class's table: what each column shows and is sorted by. As a table on wide screens, as cards on narrow
 * ones; there the cells carry their column's name.
 *
 * Rows are grids, so that `content-visibility` can skip them; since display values remove table semantics in some
 * browsers, roles restore them. Pictures come as pixels for a canvas: encoding a PNG and loading its blob URL
 * took some 3 ms of CPU for each. They are as large as the screen shows them, 96 x 72 px or up to twice that.
 *
 * @import {Brief, ClassResult, ClassSource, Failure, ToReady} from "../core/messages.js"
 * @import {Mark} from "./memory.js"
 * @import {NumberName, Points} from "../findings/table.js"
 */

import { CHECKS, SEVERITIES } from "../findings/checks.js";
import { MOST_COMMENT, MOST_GRADE } from "./memory.js";
import { pointsOf } from "./points.js";
import { severalOf } from "./students.js";
import { numberOf } from "../findings/table.js";
import { icon, make } from "../base/dom.js";
import { bytes, counted, percent, three, whole } from "../base/format.js";
import { pause } from "../base/pause.js";
import { problemOf } from "../core/problems.js";
import { VERDICTS } from "../findings/verdict.js";

/**
 * @typedef {object} Row
 * @property {number} id as workers call it
 * @property {number} at its place in the order of paths
 * @property {number} rank its place in the order of students
 * @property {string} student its student
 * @property {boolean} isWrong whether it is not an OBJ by its name, or a missing file
 * @property {string} upload what is wrong with it as an upload; empty for nothing
 * @property {string} sha256 of the file; empty while unknown
 * @property {{notes: number, decisions: number}} written about it
 * @property {Mark} mark of the teacher's
 * @property {number | null} gradeRank its place in the order of grades; null for none
 * @property {Points | null} points by the brief's rubric
 * @property {Since | null} since comparison with the student's previous upload
 * @property {string} about decisions and notes it was judged with
 * @property {number} several number of the student's OBJs
 * @property {boolean | null} counts whether it is the one of several that counts; null if not selected
 * @property {ClassSource} source
 * @property {"waiting" | "measuring" | "measured" | "unreadable" | "stopped"} state
 * @property {ClassResult | null} result of the active brief, or of a previous one while `state` is not "measured"
 * @property {boolean} isWhole whether `result` has the seams' numbers too
 * @property {Failure | null} failure
 * @property {HTMLCanvasElement | null} picture
 * @property {HTMLTableRowElement | null} element once it was shown
 */

/** How many findings are fixed, still there and new; `kinds`: counted kind by kind, since the upload before was kept without its findings. @typedef {{fixed: number, still: number, fresh: number, kinds?: boolean}} Since */
/** @typedef {"not ready" | "look" | "ready" | "unreadable" | "missing"} Outcome */

/** Worst first. @type {Outcome[]} */
export const OUTCOMES = ["not ready", "look", "ready", "unreadable", "missing"];

export const OUTCOME_SIGNS = {
  ...VERDICTS,
  unreadable: /** @type {const} */ ({ word: "Unreadable", shape: "shape-close", tone: "must-fix" }),
  missing: /** @type {const} */ ({ word: "Missing", shape: "shape-minus", tone: "must-fix" }),
};

/** How long rows are created and moved in one slice, ms. */
const SLICE_MS = 8;

const STATES = { waiting: "Waiting", measuring: "Measuring", stopped: "Not measured" };

/**
 * The outcome of a file; null while unknown.
 * @param {Row} row
 * @returns {Outcome | null}
 */
export function outcomeOf({ state, result, failure }) {
  if (state === "unreadable") return failure?.code === "missing" ? "missing" : "unreadable";
  return state === "measured" && result ? result.verdict : null;
}

/**
 * @typedef {object} Column
 * @property {string} key
 * @property {string} head
 * @property {boolean} figures whether its cells are numbers
 * @property {boolean} down whether the first press sorts the greatest first
 * @property {(row: Row) => number | null} order rows without a value come last
 * @property {(row: Row, brief: Brief) => (Node | string)[]} show
 */

/** @type {Column[]} */
export const COLUMNS = [
  { key: "file", head: "Student, file", figures: false, down: false, order: ({ rank }) => rank, show: () => [] },
  { key: "verdict", head: "Verdict", figures: false, down: false, order: fromReady, show: (row) => [sign(row)] },
  share("must-fix", "Must fix", "to_ready.must_fix_share", ({ must_fix_text: text }) => text),
  share("look", "Look", "to_ready.look_share", ({ look_text: text }) => text),
  { key: "worst", head: "Worst finding", figures: false, down: false, order: worstRank, show: worst },
  column("triangles", "Triangles", "counts.triangles", true, whole),
  column("shells", "Shells", "counts.shells", true, whole),
  column("anisotropy", "Anisotropy p95", "stretch.anisotropy_p95", true, three),
  column("density", "Density", "density.mean_px_per_unit", false, (value, { map }) => `${three(value)}\u00a0px/${map?.unit ?? "unit"}`),
  column("coverage", "Coverage", "sheet.coverage", false, percent),
  column("padding", "Padding", "sheet.padding_between_px", false, (value) => `${three(value)}\u00a0px`),
  {
    key: "bytes",
    head: "Size",
    figures: true,
    down: true,
    order: ({ source }) => source.bytes,
    show: ({ source, failure }) => (failure?.code === "missing" ? [] : [bytes(source.bytes)]),
  },
  {
    key: "findings",
    head: "Findings",
    figures: false,
    down: true,
    order: findingsRank,
    show: ({ result, failure }) => [result ? findingsText(result) : failure ? "" : "–"],
  },
  {
    key: "notes",
    head: "Notes",
    figures: false,
    down: true,
    order: ({ written }) => written.notes + written.decisions,
    show: ({ written }) => [writtenText(written)],
  },
  {
    key: "seen",
    head: "Seen",
    figures: false,
    down: true,
    order: (row) => Number(isSeen(row)),
    show: (row) => [isSeen(row) ? "Seen" : row.failure ? "–" : "Not seen"],
  },
  { key: "comment", head: "Comment", figures: false, down: true, order: ({ mark }) => Number(mark.comment !== ""), show: () => [] },
  {
    key: "points",
    head: "Points",
    figures: true,
    down: true,
    order: (row) => row.points?.points ?? null,
    show: ({ points }) => [points ? `${three(points.points)} of ${three(points.of)}` : ""],
  },
  { key: "grade", head: "Grade", figures: false, down: false, order: ({ gradeRank }) => gradeRank, show: () => [] },
  {
    key: "since",
    head: "Since the upload before",
    figures: false,
    down: true,
    order: ({ since }) => since && since.fixed - since.fresh,
    show: ({ since }) => (since ? [sinceText(since)] : []),
  },
];

/** @param {Since} since */
function sinceText({ fixed, still, fresh, kinds }) {
  return `${whole(fixed)} fixed, ${whole(still)} still there, ${whole(fresh)} new${kinds ? " (by kind)" : ""}`;
}

/** @param {ClassResult} result */
function findingsText({ findings, intended }) {
  const of = (/** @type {string} */ severity) => findings.filter((finding) => finding.severity === severity).length;
  const [must, look] = [of("must-fix"), of("look")];
  const parts = [
    must > 0 ? `${whole(must)} must fix` : "",
    look > 0 ? `${whole(look)} to look at` : "",
    intended > 0 ? `${whole(intended)} intended` : "",
  ].filter(Boolean);
  return parts.join(", ") || "none";
}

/** By those that must be fixed, then by those to look at. @param {Row} row */
function findingsRank({ result }) {
  if (!result) return null;
  const of = (/** @type {string} */ severity) => result.findings.filter((finding) => finding.severity === severity).length;
  return of("must-fix") * 100_000 + of("look");
}

/**
 * Number of counting findings by kind.
 * @param {ClassResult} result
 */
export function countsOf({ findings }) {
  /** @type {Record<string, number>} */
  const counts = {};
  for (const { kind, severity } of findings) if (severity !== "info") counts[kind] = (counts[kind] ?? 0) + 1;
  return counts;
}

/**
 * By kind only: shells have other numbers in another upload, so findings of one kind cannot be matched.
 * @param {Record<string, number>} former
 * @param {Record<string, number>} now
 * @returns {Since}
 */
export function sinceOf(former, now) {
  const since = { fixed: 0, still: 0, fresh: 0 };
  for (const kind of new Set([...Object.keys(former), ...Object.keys(now)])) {
    const [before, after] = [former[kind] ?? 0, now[kind] ?? 0];
    since.still += Math.min(before, after);
    since.fixed += Math.max(0, before - after);
    since.fresh += Math.max(0, after - before);
  }
  return since;
}

/** Whether the teacher has opened this exact file. @param {Pick<Row, "mark" | "sha256">} row */
export function isSeen({ mark, sha256 }) {
  return mark.seen !== "" && (sha256 === "" || sha256 === mark.seen);
}

/** @param {Row["written"]} written */
function writtenText({ notes, decisions }) {
  const parts = [notes > 0 ? counted(notes, "note") : "", decisions > 0 ? counted(decisions, "decision") : ""].filter(Boolean);
  return parts.length > 0 ? parts.join(", ") : "No notes";
}

/**
 * @param {string} key
 * @param {string} head
 * @param {NumberName} name
 * @param {boolean} down
 * @param {(value: number, brief: Brief) => string} text
 * @returns {Column}
 */
function column(key, head, name, down, text) {
  const value = (/** @type {Row} */ { result }) => (result ? numberOf(result, name) : null);
  return {
    key,
    head,
    figures: true,
    down,
    order: value,
    show: (row, brief) => {
      const number = value(row);
      return [number === null ? "–" : text(number, brief)];
    },
  };
}

/**
 * A share of the surface, in the report's own words.
 * @param {string} key
 * @param {string} head
 * @param {NumberName} name
 * @param {(toReady: ToReady) => string} text
 * @returns {Column}
 */
function share(key, head, name, text) {
  return { ...column(key, head, name, true, percent), show: ({ result }) => [result ? text(result.toReady) : "–"] };
}

/**
 * The farthest from ready first: by verdict, by share that must be fixed, by share to look at (both to 0.01 %), by number of
 * findings that must be fixed, as digits of one number.
 * @param {Row} row
 */
function fromReady(row) {
  const outcome = outcomeOf(row);
  if (outcome === null) return null;
  const { toReady, findings } = row.result ?? { toReady: null, findings: [] };
  const rest = (/** @type {number} */ share) => 10_000 - Math.round(share * 10_000);
  const few = 9_999 - Math.min(9_999, findings.filter(({ severity }) => severity === "must-fix").length);
  return ((OUTCOMES.indexOf(outcome) * 10_001 + rest(toReady?.must_fix_share ?? 0)) * 10_001 + rest(toReady?.look_share ?? 0)) * 10_000 + few;
}

/**
 * By severity, then causes, then by kind in the order of the chips, then by how many findings there are.
 * @param {Row} row
 */
function worstRank({ state, result }) {
  if (state === "measured" && result?.cause) return Object.keys(SEVERITIES).indexOf(result.cause.severity) * CHECKS.length - 0.9995;
  const [first] = state === "measured" ? (result?.findings ?? []) : [];
  if (!first) return null;
  const severity = Object.keys(SEVERITIES).indexOf(first.severity);
  const kind = CHECKS.findIndex(([known]) => known === first.kind);
  return severity * CHECKS.length + kind - Math.min(0.999, (result?.findings.length ?? 0) / 1e6);
}

/** @param {Row} row */
function sign(row) {
  const outcome = outcomeOf(row);
  const { word, shape, tone } = outcome
    ? OUTCOME_SIGNS[outcome]
    : { word: row.state in STATES ? STATES[/** @type {keyof typeof STATES} */ (row.state)] : "", shape: "shape-info", tone: "quiet" };
  return make("span", { class: `class-sign tone-${tone}` }, icon(shape), word);
}

/** @param {Row} row */
function worst({ state, result, failure, source, upload }) {
  if (failure) {
    const { title: usual, message, next } = problemOf(failure, source.name);
    const title = upload || usual;
    const place = failure.line ? `Line ${whole(failure.line)}: ` : "";
    return [make("b", {}, title), " ", make("span", { class: "quiet" }, `${place}${message} ${next}`.trim())];
  }
  if (state !== "measured" || !result) return ["–"];
  const { findings, worst: first, cause } = result;
  if (cause) {
    return [
      make("span", { class: `class-worst tone-${cause.severity}` }, icon(`shape-${cause.severity}`), make("b", {}, cause.sentence)),
      " ",
      make("span", { class: "quiet" }, counted(findings.length, "finding")),
    ];
  }
  const severity = findings[0]?.severity;
  if (!first || !severity) return [make("span", { class: "quiet" }, "none")];
  const limit = first.limit ? `, limit ${first.limit.text}` : "";
  const more = findings.length > 1 ? ` ·\u00a0${whole(findings.length - 1)}\u00a0more` : "";
  return [
    make("span", { class: `class-worst tone-${severity}` }, icon(`shape-${severity}`), make("b", {}, first.title)),
    " ",
    make("span", { class: "quiet" }, `${first.number.text}${limit}${more}`),
  ];
}

/**
 * A row's element, filled.
 * @param {Row} row
 * @param {Brief} brief
 */
function makeRow(row, brief) {
  const { path, name } = row.source;
  const folder = path.slice(0, path.length - name.length);
  const label = [make("span", { class: "class-folder" }, folder), make("span", { class: "class-name" }, name)];
  const who = make(
    "div",
    { class: "class-who" },
    make("span", { class: "class-student" }),
    make("button", { type: "button", class: "class-file", title: path }, ...label),
    make("span", { class: "class-several tone-look" }),
    make("button", { type: "button", class: "class-counts chip", hidden: "" }, "This one counts"),
  );
  const element = make(
    "tr",
    { role: "row", "data-row": String(row.id) },
    make("th", { role: "rowheader", scope: "row", class: "class-of-file" }, make("span", { class: "class-picture" }), who),
    ...COLUMNS.slice(1).map(({ key, head, figures }) => make("td", { role: "cell", class: `class-of-${key}${figures ? " figure" : ""}`, "data-head": head })),
  );
  row.element = element;
  element.querySelector(".class-of-grade")?.append(make("input", { ...GRADE_FIELD, "data-mark": "grade", placeholder: "Grade" }));
  element.querySelector(".class-of-comment")?.append(make("input", { ...COMMENT_FIELD, "data-mark": "comment", placeholder: "Comment" }));
  fillRow(row, brief);
  return element;
}

const GRADE_FIELD = { type: "text", maxlength: String(MOST_GRADE), autocomplete: "off" };
const COMMENT_FIELD = { type: "text", maxlength: String(MOST_COMMENT), autocomplete: "off" };
/** The teacher's input fields are not recreated. */
const TYPED = ["grade", "comment"];

/** @param {ImageData} image */
export function pictureOf(image) {
  const canvas = document.createElement("canvas");
  Object.assign(canvas, { width: image.width, height: image.height, ariaHidden: "true" });
  // Not GPU-backed: pixels are written once.
  canvas.getContext("2d", { alpha: false, willReadFrequently: true })?.putImageData(image, 0, 0);
  return canvas;
}

/**
 * Updates a row's element.
 * @param {Row} row
 * @param {Brief} brief
 */
export function fillRow(row, brief) {
  row.points = pointsOf(brief, row.state === "measured" ? row.result : null);
  const { element, picture, state, failure } = row;
  if (!element) return;
  element.classList.toggle("is-stale", state !== "measured" && row.result !== null);
  element.classList.toggle("is-unreadable", failure !== null);
  const opener = element.querySelector("button.class-file");
  if (failure && opener) opener.replaceWith(make("span", { class: "class-file", title: row.source.path }, ...opener.childNodes));
  for (const [at, { key, show }] of COLUMNS.entries()) if (at > 0 && !TYPED.includes(key)) element.children[at]?.replaceChildren(...show(row, brief));
  const { student, several, mark } = row;
  const say = (/** @type {string} */ part, /** @type {string} */ text) => {
    const place = element.querySelector(part);
    if (place && place.textContent !== text) place.textContent = text;
  };
  say(".class-student", student);
  element.querySelector(".class-student")?.setAttribute("title", student);
  say(".class-several", row.counts === null ? severalOf(several) : row.counts ? "" : "Does not count");
  element.classList.toggle("is-left-out", row.counts === false);
  const choice = element.querySelector(".class-counts");
  if (choice instanceof HTMLElement) {
    choice.hidden = several < 2;
    choice.setAttribute("aria-pressed", String(row.counts === true));
    choice.setAttribute("aria-label", `This one counts: ${row.source.path}`);
  }
  for (const field of /** @type {NodeListOf<HTMLInputElement>} */ (element.querySelectorAll("input[data-mark]"))) {
    const part = /** @type {"grade" | "comment"} */ (field.dataset.mark);
    field.ariaLabel = `${part === "grade" ? "Grade" : "Comment"}, ${student}`;
    if (document.activeElement !== field && field.value !== mark[part]) field.value = mark[part];
  }
  const place = element.querySelector(".class-picture");
  if (picture && place && place.firstElementChild !== picture) place.replaceChildren(picture);
}

/**
 * Puts the rows' elements in order and removes the others.
 * @param {HTMLElement} body
 * @param {Row[]} rows
 * @param {Brief} brief
 * @param {() => boolean} goesOn whether this layout is still current
 * @returns {Promise<boolean>} whether it was completed
 */
export async function layRows(body, rows, brief, goesOn) {
  const focused = document.activeElement;
  let at = body.firstElementChild;
  let began = performance.now();
  for (const [index, row] of rows.entries()) {
    if (performance.now() - began > SLICE_MS) {
      await pause();
      if (!goesOn()) return false;
      at = index > 0 ? (rows[index - 1]?.element?.nextElementSibling ?? null) : body.firstElementChild;
      began = performance.now();
    }
    const element = row.element ?? makeRow(row, brief);
    if (element === at) at = at.nextElementSibling;
    else body.insertBefore(element, at);
  }
  while (at) {
    const rest = at;
    at = at.nextElementSibling;
    rest.remove();
  }
  // An element that moves loses the focus.
  if (focused instanceof HTMLElement && body.contains(focused) && document.activeElement === document.body) focused.focus({ preventScroll: true });
  return true;
}
