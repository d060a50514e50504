/**
 * A review: view, notes and decisions of one file, as one versioned value, `gridproof-review/3`. It is sent in links and
 * as a saved file, so the input is untrusted: one strict reader refuses unknown keys with their path, and limits every count
 * and length. Pure: no page, no model.
 *
 * As JSON a review holds only what is not the default; lengths and places are in the file's own coordinates.
 *
 *     schema     "gridproof-review/3", or "gridproof-review/2" without sender and since, so that older pages read it
 *     file       {name, bytes, sha256} it is about
 *     sender     who sends it, as they call themselves
 *     since      {fixed, still, new}: findings compared with the previous upload
 *     camera     {eye, target, radius, across, up} of the 3D view; absent: that of finding or note, or the whole model
 *     lens       name; absent: grid
 *     finding    id of the selected one
 *     note       number of the selected one, from 1; never both
 *     brief      what differs from the defaults, by section
 *     grid       {cell, words, words_px}
 *     notes      [{text, face, triangle, barycentric, point, uv, shell, camera, lens}]
 *     decisions  [{finding, kind: "intended", reason} | {finding, kind: "to-fix"}]
 *
 * An older version has an entry in `UPGRADES`.
 *
 * The command has a separate reader (src/cli/review.rs), because the page reads reviews before the module is loaded: sender
 * and notes of a link are shown while the module is loading and where it fails to load. In the module it would need a second
 * JSON reader, or as much glue (objects alone cost 3 kB, see src/web/review.rs). Limits and words are the same constants
 * (known.js), and tests/page/review-both.test.mjs checks that both readers agree.
 *
 * @import {AboutFile, Brief, LensName, Report} from "./messages.js"
 * @import {State} from "./state.js"
 */

import { decode, encode } from "../base/base64url.js";
import { GRID_DEFAULTS, LENS_NAMES, REVIEW_MOST, REVIEW_RANGES, SECOND_WORDS } from "./known.js";

/** @typedef {[number, number, number]} Vec3 */

/**
 * The camera of the 3D view, in the file's coordinates.
 * @typedef {object} Eye
 * @property {Vec3} eye
 * @property {Vec3} target
 * @property {number} radius of the sphere around the target that is fully visible
 * @property {[number, number]} [across] width and height of the view at the target's depth, so that another aspect ratio shows the same
 * @property {string} up x, y or z, or one of them after a minus
 */

/**
 * A note on a place of the surface. Face, triangle and weights are exact in the file it was written on; point, uv and shell
 * are used to find it in another version.
 * @typedef {object} SavedNote
 * @property {string} text
 * @property {number} face from 0, in the file's order
 * @property {number} triangle of the face, from 0
 * @property {Vec3} barycentric weights of the triangle's corners
 * @property {Vec3} point
 * @property {[number, number] | null} uv null where the surface has none
 * @property {string | null} shell its label
 * @property {Eye | null} camera the view it was written in
 * @property {LensName} lens
 */

/** @typedef {{finding: string, kind: "intended", reason: string} | {finding: string, kind: "to-fix"}} Decided */

/** How many findings of the upload before are fixed and still there, and how many are new. @typedef {{fixed: number, still: number, new: number}} Since */

/**
 * @typedef {object} Review
 * @property {AboutFile} file
 * @property {string} sender empty if not given
 * @property {Since | null} since
 * @property {Eye | null} camera
 * @property {LensName} lens
 * @property {string | null} finding
 * @property {number | null} note
 * @property {Brief} brief
 * @property {{cell: number, words: string, wordsPx: number}} grid
 * @property {SavedNote[]} notes
 * @property {Decided[]} decisions
 */

/** What is shown: of a finding or a note its id, never both. @typedef {{finding: string | null, lens: LensName | null, note: number | null, camera: Eye | null}} Shown */

/** Prefix of the fragment of a link with the model inside. */
export const CARRIED = "#m=";

const SCHEMA = "gridproof-review/";
const VERSION = 3;
/** The version that everything but sender and since is written in. */
const PLAIN_VERSION = 2;

/** Limits. A review at all of them is read in well under a second. */
export const MOST = Object.freeze({
  ...REVIEW_MOST,
  sections: 20,
  /** Keys of a section, and entries of a list. */
  keys: 1000,
  /** Characters of a review in an address: beyond what browsers take (Chromium: 2 MB; not checked against the source). */
  fragment: 2_000_000,
});

/** Why a review was refused, with the path. */
export class Refused extends Error {}

/**
 * @param {string} path
 * @param {string} reason
 * @returns {never}
 */
function refuse(path, reason) {
  throw new Refused(path ? `${path}: ${reason}` : reason);
}

/** @template T @typedef {(value: unknown, path: string) => T} Reads */

/**
 * @param {number} least
 * @param {number} most
 * @returns {Reads<number>}
 */
function number(least = -Number.MAX_VALUE, most = Number.MAX_VALUE) {
  return (value, path) => {
    if (typeof value !== "number" || !Number.isFinite(value)) return refuse(path, "has to be a number.");
    if (value < least || value > most)
      return refuse(path, `is ${value}; it has to be ${most === Number.MAX_VALUE ? `at least ${least}` : `from ${least} to ${most}`}.`);
    return value;
  };
}

/**
 * @param {number} least
 * @param {number} most
 * @returns {Reads<number>}
 */
function wholeNumber(least, most = Number.MAX_SAFE_INTEGER) {
  const read = number(least, most);
  return (value, path) => (Number.isInteger(read(value, path)) ? /** @type {number} */ (value) : refuse(path, `is ${value}; it has to be a whole number.`));
}

/** @type {Reads<number>} */
const above0 = (value, path) => {
  const read = number()(value, path);
  return read > 0 ? read : refuse(path, `is ${read}; it has to be above 0.`);
};

/**
 * @param {number} most characters
 * @param {{lines?: boolean, empty?: boolean}} [may]
 * @returns {Reads<string>}
 */
function text(most, { lines = false, empty = false } = {}) {
  return (value, path) => {
    if (typeof value !== "string") return refuse(path, "has to be a text.");
    if (value.length > 2 * most || [...value].length > most) return refuse(path, `is longer than ${most} characters.`);
    if (!empty && value.trim() === "") return refuse(path, "is empty.");
    if (/\p{Surrogate}/u.test(value)) return refuse(path, "has half a character in it.");
    if ((lines ? /[^\P{Cc}\n\t]/u : /\p{Cc}/u).test(value)) return refuse(path, "has a control character in it.");
    return value;
  };
}

/**
 * @template {string} const T
 * @param {readonly T[]} values
 * @returns {Reads<T>}
 */
function oneOf(values) {
  return (value, path) => values.find((known) => known === value) ?? refuse(path, `has to be one of ${values.join(", ")}.`);
}

/**
 * @template {2 | 3} L
 * @param {L} length
 * @param {Reads<number>} read
 * @returns {Reads<L extends 2 ? [number, number] : Vec3>}
 */
function tuple(length, read) {
  return (value, path) => {
    if (!Array.isArray(value) || value.length !== length) return refuse(path, `has to be a list of ${length} numbers.`);
    return /** @type {L extends 2 ? [number, number] : Vec3} */ (value.map((entry, index) => read(entry, `${path}[${index}]`)));
  };
}

/**
 * @template T
 * @param {number} most
 * @param {Reads<T>} read
 * @returns {Reads<T[]>}
 */
function list(most, read) {
  return (value, path) => {
    if (!Array.isArray(value)) return refuse(path, "has to be a list.");
    if (value.length > most) return refuse(path, `has ${value.length} entries; at most ${most} are taken.`);
    return value.map((entry, index) => read(entry, `${path}[${index}]`));
  };
}

/**
 * @param {unknown} value
 * @returns {value is Record<string, unknown>}
 */
function isObject(value) {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

/**
 * @param {string} path
 * @param {string} key
 */
function below(path, key) {
  const shown = key.length > 40 ? `${key.slice(0, 40)}…` : key;
  return path ? `${path}.${shown}` : shown;
}

/** How a key is read, and what it is where it may be absent. @typedef {{read: Reads<unknown>, otherwise?: unknown}} Key */
/** What a key is read as. @template {Key} K @typedef {ReturnType<K["read"]> | (K extends {otherwise: infer O} ? O : never)} Held */

/**
 * An object with these keys and no others.
 * @template {Record<string, Key>} const K
 * @param {K} keys
 * @returns {Reads<{[key in keyof K]: Held<K[key]>}>}
 */
function object(keys) {
  return (value, path) => {
    if (!isObject(value)) return refuse(path, "has to be an object.");
    for (const key of Object.keys(value))
      if (!Object.hasOwn(keys, key)) refuse(below(path, key), `is no key of a review. Known here are ${Object.keys(keys).join(", ")}.`);
    return /** @type {{[key in keyof K]: Held<K[key]>}} */ (
      Object.fromEntries(
        Object.entries(keys).map(([key, { read, ...rest }]) => {
          if (Object.hasOwn(value, key)) return [key, read(value[key], below(path, key))];
          return [key, "otherwise" in rest ? rest.otherwise : refuse(below(path, key), "is missing.")];
        }),
      )
    );
  };
}

/**
 * An object with any keys.
 * @template T
 * @param {number} most
 * @param {Reads<T>} read
 * @returns {Reads<Record<string, T>>}
 */
function named(most, read) {
  return (value, path) => {
    if (!isObject(value)) return refuse(path, "has to be an object.");
    const entries = Object.entries(value);
    if (entries.length > most) return refuse(path, `has ${entries.length} keys; at most ${most} are taken.`);
    return Object.fromEntries(entries.map(([key, entry]) => [text(MOST.name)(key, below(path, key)), read(entry, below(path, key))]));
  };
}

const lens = oneOf(LENS_NAMES);
const point = tuple(3, number());
const label = text(MOST.name);

const eyeKeys = object({
  eye: { read: point },
  target: { read: point },
  radius: { read: above0 },
  across: { read: tuple(2, above0), otherwise: null },
  up: { read: oneOf(["x", "y", "z", "-x", "-y", "-z"]) },
});

/** @type {Reads<Eye>} */
const eye = (value, path) => {
  const { across, ...rest } = eyeKeys(value, path);
  return across ? { ...rest, across } : rest;
};

/** @type {Reads<Vec3>} */
const barycentric = (value, path) => {
  const weights = tuple(3, number(0, 1))(value, path);
  const sum = weights[0] + weights[1] + weights[2];
  return Math.abs(sum - 1) <= REVIEW_RANGES.weightsOff ? weights : refuse(path, "has to sum up to 1.");
};

const note = object({
  text: { read: text(MOST.text, { lines: true }) },
  face: { read: wholeNumber(0, 2 ** 32 - 1) },
  triangle: { read: wholeNumber(0, 2 ** 32 - 1) },
  barycentric: { read: barycentric },
  point: { read: point },
  uv: { read: tuple(2, number()), otherwise: null },
  shell: { read: label, otherwise: null },
  camera: { read: eye, otherwise: null },
  lens: { read: lens, otherwise: "grid" },
});

const meant = object({ finding: { read: label }, kind: { read: oneOf(["intended"]) }, reason: { read: text(MOST.reason, { lines: true }) } });
const todo = object({ finding: { read: label }, kind: { read: oneOf(["to-fix"]) } });

/** @type {Reads<Decided>} */
const decided = (value, path) => {
  if (!isObject(value)) return refuse(path, "has to be an object.");
  oneOf(["intended", "to-fix"])(value.kind, below(path, "kind"));
  return (value.kind === "intended" ? meant : todo)(value, path);
};

/** @type {Reads<Decided[]>} */
const decisions = (value, path) => {
  const read = list(MOST.decisions, decided)(value, path);
  const seen = new Set();
  for (const [index, { finding }] of read.entries()) {
    if (seen.has(finding)) refuse(`${path}[${index}].finding`, "is decided twice.");
    seen.add(finding);
  }
  return read;
};

/** Materials that share a sheet. */
const sheetGroup = object({
  name: { read: text(MOST.name) },
  materials: { read: list(MOST.keys, text(MOST.name, { empty: true })) },
  width_px: { read: wholeNumber(1), otherwise: undefined },
  height_px: { read: wholeNumber(1), otherwise: undefined },
});

/** A value of a brief: validated by the engine. @type {Reads<unknown>} */
const briefValue = (value, path) => {
  if (value === null) return null;
  if (Array.isArray(value)) return list(MOST.keys, /** @type {Reads<unknown>} */ (isObject(value[0]) ? sheetGroup : text(MOST.name)))(value, path);
  return typeof value === "number" ? number()(value, path) : text(MOST.name, { empty: true })(value, path);
};

/** @type {Reads<AboutFile>} */
const file = object({
  name: { read: text(MOST.name) },
  bytes: { read: wholeNumber(0) },
  sha256: {
    read: (value, path) => (typeof value === "string" && /^[0-9a-f]{64}$/.test(value) ? value : refuse(path, "has to be 64 lower-case hexadecimal digits.")),
  },
});

const NONE = /** @type {never[]} */ (/** @type {unknown} */ (Object.freeze([])));

const whole = object({
  schema: { read: (value) => value },
  file: { read: file },
  sender: { read: text(MOST.sender), otherwise: "" },
  since: { read: object({ fixed: { read: wholeNumber(0) }, still: { read: wholeNumber(0) }, new: { read: wholeNumber(0) } }), otherwise: null },
  camera: { read: eye, otherwise: null },
  lens: { read: lens, otherwise: "grid" },
  finding: { read: label, otherwise: null },
  note: { read: wholeNumber(1), otherwise: null },
  brief: { read: named(MOST.sections, named(MOST.keys, briefValue)), otherwise: Object.freeze({}) },
  grid: {
    read: object({
      cell: { read: wholeNumber(...REVIEW_RANGES.cell), otherwise: GRID_DEFAULTS.cell },
      words: { read: text(MOST.words), otherwise: GRID_DEFAULTS.words },
      words_px: { read: number(...REVIEW_RANGES.wordsPx), otherwise: GRID_DEFAULTS.wordsPx },
    }),
    otherwise: Object.freeze({ cell: GRID_DEFAULTS.cell, words: GRID_DEFAULTS.words, words_px: GRID_DEFAULTS.wordsPx }),
  },
  notes: { read: list(MOST.notes, note), otherwise: NONE },
  decisions: { read: decisions, otherwise: NONE },
});

/** @type {ReadonlyMap<unknown, string>} */
const SECOND = new Map(Object.entries(SECOND_WORDS));

/** @param {unknown} word */
const second = (word) => SECOND.get(word) ?? word;

/**
 * Version 1 named findings by the number of their lowest shell, version 2 by that shell's lowest face. That face is only
 * known with the model: such a name stays marked until `byKeys` gets the model's shells.
 * @param {unknown} id
 */
function secondFinding(id) {
  if (typeof id !== "string") return id;
  if (id.startsWith("lettering-")) return id.replace("lettering", "text");
  const [, kind, shell] = id.match(/^(.*)-(\d+)$/s) ?? [];
  return kind === undefined ? second(id) : `${second(kind)}-shell-${shell}`;
}

/** @param {unknown} brief */
function secondBrief(brief) {
  if (!isObject(brief)) return brief;
  const { emphasis, lettering, sharing, seams, ...rest } = brief;
  const policies = isObject(sharing)
    ? Object.fromEntries(Object.entries(sharing).map(([key, value]) => [key === "crossing" ? "partial_overlap" : key, second(value)]))
    : sharing;
  return {
    ...rest,
    ...(emphasis !== undefined && { density_factor: emphasis }),
    ...(lettering !== undefined && { text: lettering }),
    ...(sharing !== undefined && { sharing: policies }),
    // A share of all seams cannot be converted into a length of soft ones, and is dropped.
    ...(seams !== undefined && { seams: isObject(seams) ? Object.fromEntries(Object.entries(seams).filter(([key]) => key !== "max_share_in_front")) : seams }),
  };
}

/** @param {Record<string, unknown>} older */
function toSecond({ lens, finding, brief, notes, decisions, ...rest }) {
  const eachOf = (/** @type {unknown} */ list, /** @type {(entry: Record<string, unknown>) => Record<string, unknown>} */ change) =>
    Array.isArray(list) ? list.map((entry) => (isObject(entry) ? change(entry) : entry)) : list;
  return {
    ...rest,
    ...(lens !== undefined && { lens: second(lens) }),
    ...(finding !== undefined && { finding: secondFinding(finding) }),
    ...(brief !== undefined && { brief: secondBrief(brief) }),
    ...(notes !== undefined && { notes: eachOf(notes, (entry) => ("lens" in entry ? { ...entry, lens: second(entry.lens) } : entry)) }),
    ...(decisions !== undefined && {
      decisions: eachOf(decisions, (entry) => ({ ...entry, finding: secondFinding(entry.finding), kind: second(entry.kind) })),
    }),
    schema: `${SCHEMA}2`,
  };
}

/** @param {Record<string, unknown>} older */
function toThird(older) {
  for (const key of ["sender", "since"]) if (key in older) refuse(key, `is no key of version 2 of a review.`);
  return { ...older, schema: `${SCHEMA}3` };
}

/**
 * Upgrades from a version to the next, from the first on.
 * @type {Record<number, (older: Record<string, unknown>) => Record<string, unknown>>}
 */
const UPGRADES = { 1: toSecond, 2: toThird };

/**
 * A finding's name by its shell's key, if an older review named it by the shell's number.
 * @param {string} finding
 * @param {readonly {key: number}[]} shells of the model's report
 */
export function byKey(finding, shells) {
  return finding.replace(/^(.+)-shell-(\d+)$/, (all, kind, number) => (shells[number] ? `${kind}-${shells[number].key}` : all));
}

/**
 * The review in a plain value.
 * @param {unknown} value
 * @param {typeof UPGRADES} [upgrades]
 * @returns {Review}
 */
export function readReview(value, upgrades = UPGRADES) {
  if (!isObject(value)) return refuse("", 'A review is an object with a key for each subject, such as "notes".');
  const [, digits] = (typeof value.schema === "string" && value.schema.match(/^gridproof-review\/(0|[1-9]\d{0,8})$/)) || [];
  const version = Number(digits);
  if (digits === undefined) return refuse("schema", `has to be "${SCHEMA}${VERSION}"; this is no review.`);
  if (version > VERSION) return refuse("schema", `is version ${version}, and this page reads up to version ${VERSION}. Reload the page to get a newer one.`);
  let current = value;
  for (let from = version; from < VERSION; from += 1) {
    const upgrade = upgrades[from] ?? refuse("schema", `is version ${version}, which is no longer read.`);
    current = upgrade(current);
  }
  const { schema: _, grid, ...read } = whole(current, "");
  if (read.note !== null && read.finding !== null) refuse("note", "cannot be chosen together with a finding.");
  if (read.note !== null && read.note > read.notes.length) refuse("note", `is ${read.note}, and there are ${read.notes.length} notes.`);
  return { ...read, grid: { cell: grid.cell, words: grid.words, wordsPx: grid.words_px } };
}

/**
 * @param {string} json
 * @param {typeof UPGRADES} [upgrades]
 * @returns {Review}
 */
export function parseReview(json, upgrades = UPGRADES) {
  if (json.length > MOST.json) return refuse("", `It is larger than ${MOST.json / 1e6} MB, which no review is.`);
  let value;
  try {
    value = JSON.parse(json);
  } catch (error) {
    return refuse("", `This is no JSON (${error instanceof Error ? error.message : error}).`);
  }
  return readReview(value, upgrades);
}

/**
 * The review in a link with the model inside.
 * @param {Uint8Array} bytes
 */
export function reviewFrom(bytes) {
  try {
    return parseReview(new TextDecoder("utf-8", { fatal: true }).decode(bytes));
  } catch (error) {
    if (error instanceof Refused) throw error;
    return refuse("", "It is no text.");
  }
}

/**
 * The plain value of a review without defaults.
 * @param {Omit<Review, "sender" | "since"> & Partial<Review>} review
 */
export function writeReview({ file, sender = "", since = null, camera, lens, finding, note, brief, grid, notes, decisions }) {
  const unusual = Object.entries({ cell: grid.cell, words: grid.words, words_px: grid.wordsPx }).filter(
    ([key, value]) => value !== GRID_DEFAULTS[/** @type {keyof typeof GRID_DEFAULTS} */ (key === "words_px" ? "wordsPx" : key)],
  );
  return {
    schema: `${SCHEMA}${sender || since ? VERSION : PLAIN_VERSION}`,
    file,
    ...(sender && { sender }),
    ...(since && { since }),
    ...(camera && { camera }),
    ...(lens !== "grid" && { lens }),
    ...(finding !== null && { finding }),
    ...(note !== null && { note }),
    ...(Object.keys(brief).length > 0 && { brief }),
    ...(unusual.length > 0 && { grid: Object.fromEntries(unusual) }),
    ...(notes.length > 0 && { notes: notes.map(writeNote) }),
    ...(decisions.length > 0 && { decisions }),
  };
}

/**
 * A note as it was written, by the same strict reader.
 * @param {unknown} value
 * @returns {SavedNote}
 */
export function asKept(value) {
  return note(value, "note");
}

/** @param {SavedNote} note */
export function writeNote({ text, face, triangle, barycentric, point, uv, shell, camera, lens }) {
  return {
    text,
    face,
    triangle,
    barycentric,
    point,
    ...(uv && { uv }),
    ...(shell !== null && { shell }),
    ...(camera && { camera }),
    ...(lens !== "grid" && { lens }),
  };
}

/**
 * The state of the page as a review.
 * @param {Readonly<Pick<State, "model" | "camera" | "lens" | "finding" | "note" | "brief" | "grid" | "notes" | "decisions">>} state with a report
 * @returns {Review}
 */
export function reviewOf({ model, camera, lens, finding, note, brief, grid, notes, decisions }) {
  const { name, bytes, sha256 } = model?.report?.file ?? { name: "", bytes: 0, sha256: "" };
  const number = notes.findIndex(({ id }) => id === note) + 1;
  return {
    file: { name: asLabel(name), bytes, sha256 },
    sender: "",
    since: null,
    camera,
    lens,
    finding: finding !== null && asLabel(finding) === finding ? finding : null,
    note: number > 0 ? number : null,
    brief: withSheets(brief, model?.report?.sheets),
    grid: { cell: grid.cell, words: grid.words, wordsPx: grid.wordsPx },
    notes: notes.map(({ id: _, place: __, ...saved }) => saved),
    decisions: [...decisions],
  };
}

/**
 * The brief with the sheets that pictures beside the model decided: the recipient may not have the pictures.
 * @param {Brief} brief
 * @param {Report["sheets"] | null} [sheets]
 * @returns {Brief}
 */
export function withSheets(brief, sheets) {
  if (sheets?.by !== "pictures") return brief;
  return { ...brief, map: { ...brief.map, sheets: sheets.list.map(({ name, materials }) => ({ name, materials })) } };
}

/**
 * A name as a review may hold it: shortened, without invalid characters.
 * @param {string} name
 */
export function asLabel(name) {
  return [...name.replace(/\p{Cc}|\p{Surrogate}/gu, " ")].slice(0, MOST.name).join("").trim() || "unnamed";
}

/**
 * A person's name as a review may hold it: on one line, without directional controls.
 * @param {string} name
 */
export function asSender(name) {
  return [...name.replace(/[\p{Cc}\p{Surrogate}\u2028-\u202e\u2066-\u2069]/gu, " ")].slice(0, MOST.sender).join("").trim();
}

/**
 * A review for an address: its JSON, deflated (RFC 1951), as base64url.
 * @param {Review} review
 */
export async function packReview(review) {
  const deflated = new Blob([JSON.stringify(writeReview(review))]).stream().pipeThrough(new CompressionStream("deflate-raw"));
  return encode(new Uint8Array(await new Response(deflated).arrayBuffer()));
}

/**
 * @param {string} letters
 * @returns {Promise<Review>}
 */
export async function unpackReview(letters) {
  if (letters.length > MOST.fragment) return refuse("", `It is longer than ${MOST.fragment} characters, which no review is.`);
  const bytes = decode(letters);
  if (!bytes) return refuse("", "It is damaged or was cut short: its letters are not those of a review.");
  return parseReview(await inflated(bytes));
}

/**
 * Inflates text, up to the limit of a review.
 * @param {Uint8Array<ArrayBuffer>} bytes
 */
async function inflated(bytes) {
  const decoder = new TextDecoder("utf-8", { fatal: true });
  const parts = [];
  let length = 0;
  try {
    const chunks = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw")).getReader();
    for (let next = await chunks.read(); !next.done; next = await chunks.read()) {
      length += next.value.byteLength;
      if (length > MOST.json) {
        void chunks.cancel();
        return refuse("", `It unfolds to more than ${MOST.json / 1e6} MB, which no review does.`);
      }
      parts.push(decoder.decode(next.value, { stream: true }));
    }
    parts.push(decoder.decode());
  } catch (error) {
    if (error instanceof Refused) throw error;
    return refuse("", "It is damaged or was cut short: it cannot be unfolded.");
  }
  return parts.join("");
}
