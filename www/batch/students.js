/**
 * The student of each file of a class, by its folder or its name, and students without a model: by paths only, without
 * reading the files.
 *
 * @import {ClassSource} from "../core/messages.js"
 */

/** @typedef {"folder" | "file" | "stem" | "pattern"} RuleKind by the first part of the file's name; by all of it */
/** @typedef {{by: RuleKind, pattern: string}} Rule */

/** Longest pattern, and most names on a list of students: far above any class. */
const MOST_PATTERN = 100;
const MOST_HOLES = 4;
const MOST_NAMES = 2000;

/** Tried in this order for files in one folder. */
const SEPARATORS = ["_", " - ", "-"];

/** Formats of models and archives, by file extension: possible wrong uploads. */
const FORMATS = /** @type {Record<string, string>} */ ({
  fbx: "FBX",
  glb: "glTF",
  gltf: "glTF",
  stl: "STL",
  ply: "PLY",
  dae: "COLLADA",
  "3ds": "3DS",
  usd: "USD",
  usda: "USD",
  usdc: "USD",
  usdz: "USD",
  abc: "Alembic",
  x3d: "X3D",
  wrl: "VRML",
  step: "STEP",
  stp: "STEP",
  iges: "IGES",
  igs: "IGES",
  zip: "ZIP",
  "7z": "7z",
  rar: "RAR",
  gz: "GZIP",
  tar: "TAR",
});
/** The same for companion files, reported only if there is no model. */
const OTHERS = /** @type {Record<string, string>} */ ({
  png: "PNG",
  jpg: "JPEG",
  jpeg: "JPEG",
  webp: "WebP",
  gif: "GIF",
  tga: "TGA",
  tif: "TIFF",
  tiff: "TIFF",
  exr: "OpenEXR",
  pdf: "PDF",
  svg: "SVG",
  mtl: "MTL",
});
/** Shared folders that are no student's. Common practice. */
const SHARED_FOLDER = /^(textures?|tex|maps?|materials?|images?|sources?|references?|refs?|docs?)$/i;

/** @type {Intl.Collator | null} made when a class comes: that takes its time */
let collator = null;

/**
 * Names in natural order: ignoring case, numbers by value.
 * @param {string} a
 * @param {string} b
 */
export function compareNames(a, b) {
  return (collator ??= new Intl.Collator(undefined, { numeric: true, sensitivity: "base" })).compare(a, b);
}

/**
 * Why a pattern cannot be used; empty where it can.
 * @param {string} pattern
 */
export function patternTrouble(pattern) {
  const holes = pattern.match(/\{\w+\}/g) ?? [];
  if (holes.filter((hole) => hole === "{student}").length !== 1) return "A pattern has {student} in it, once: {student}_{rest}.";
  if (holes.some((hole) => !/^\{(student|rest)\}$/.test(hole))) return "A pattern knows {student} and {rest}, and takes all else as it is.";
  return pattern.length > MOST_PATTERN || holes.length > MOST_HOLES
    ? `A pattern has at most ${MOST_PATTERN} characters, and ${MOST_HOLES} parts in braces.`
    : "";
}

/**
 * The rules for names in the paths of a class.
 * @param {string[]} paths of its models
 */
export function studentsIn(paths) {
  const folders = paths.map((path) => path.split("/").slice(0, -1));
  let depth = 0;
  while (folders.length > 0 && folders.every((parts) => parts[depth] !== undefined && parts[depth] === folders[0]?.[depth])) depth += 1;
  const folderOf = (/** @type {string} */ path) => {
    const parts = path.split("/");
    return parts.length > depth + 1 ? (parts[depth] ?? "").replace(/\.zip$/i, "") : "";
  };
  const stems = paths.filter((path) => folderOf(path) === "").map(stemOf);
  // A part that is the same for all belongs to the model's name.
  const separator =
    SEPARATORS.find((mark) => stems.every((stem) => stem.indexOf(mark) > 0) && new Set(stems.map((stem) => firstPart(stem, mark))).size > 1) ?? null;
  const byFile = (/** @type {string} */ path) => firstPart(stemOf(path), separator);
  return {
    /** Default rule. @type {Rule} */
    usual: { by: paths.some((path) => folderOf(path) !== "") ? "folder" : separator === null ? "stem" : "file", pattern: "" },
    folderOf,
    /**
     * @param {string} path
     * @param {Rule} rule
     */
    of(path, { by, pattern }) {
      if (by === "pattern") return byPattern(path.split("/").slice(depth).join("/"), pattern) || stemOf(path);
      if (by === "stem") return stemOf(path);
      return (by === "folder" && folderOf(path)) || byFile(path);
    },
  };
}

/** A file's name without its extension. @param {string} path */
function stemOf(path) {
  const name = path.slice(path.lastIndexOf("/") + 1);
  return name.replace(/(?<=.)\.[^.]*$/, "");
}

/**
 * @param {string} stem
 * @param {string | null} separator
 */
function firstPart(stem, separator) {
  const at = separator === null ? -1 : stem.indexOf(separator);
  return at > 0 ? stem.slice(0, at).trim() : stem;
}

/**
 * @param {string} path below the common folder
 * @param {string} pattern of the file's name without its extension, including folders if it has a slash
 */
function byPattern(path, pattern) {
  if (patternTrouble(pattern)) return "";
  const source = pattern
    .split(/(\{\w+\})/)
    .map((part) => (part === "{student}" ? "(.+?)" : part === "{rest}" ? ".*" : part.replace(/[\\^$.*+?()[\]{}|/]/g, "\\$&")))
    .join("");
  const text = path.replace(/(?<=[^/])\.[^./]*$/, "");
  return (pattern.includes("/") ? text : stemOf(path)).match(new RegExp(`^${source}$`, "u"))?.[1]?.trim() ?? "";
}

/**
 * The names on a list, one a line; empty and repeated lines are skipped.
 * @param {string} text
 */
export function namesIn(text) {
  const names = text
    .split(/\r\n|\r|\n/)
    .map((line) => line.replace(/\s+/g, " ").trim())
    .filter(Boolean);
  return [...new Map(names.map((name) => [keyOfName(name), name])).values()].slice(0, MOST_NAMES);
}

/** Key to compare names: "Meyer, Zoë" equals "zoë meyer". @param {string} name */
export function keyOfName(name) {
  const [family, given, ...more] = name.split(",").map((part) => part.trim());
  const plain = given && more.length === 0 ? `${given} ${family}` : name;
  return plain
    .normalize("NFC")
    .toLowerCase()
    .replace(/[\s_.-]+/g, " ")
    .trim();
}

/**
 * Files that represent a student without an OBJ: one for each such student, with a sentence about what there is.
 * @param {ClassSource[]} rest all files that are not OBJ
 * @param {ReturnType<typeof studentsIn>} students
 * @param {Rule} rule
 * @param {ReadonlySet<string>} known keys of the names of students with a model
 * @param {ReadonlySet<string>} listed keys of the names on the teacher's list
 * @returns {{source: ClassSource, student: string, upload: string}[]}
 */
export function wrongUploads(rest, students, rule, known, listed) {
  /** @type {Map<string, {student: string, sources: ClassSource[]}>} */
  const groups = new Map();
  for (const source of rest) {
    const student = students.of(source.path, rule);
    const key = keyOfName(student);
    const folder = students.folderOf(source.path);
    // Loose texts and pictures may be anything; models, archives and files with a listed name are uploads.
    const isUpload = listed.has(key) || (folder ? !SHARED_FOLDER.test(folder) : endingOf(source.path) in FORMATS);
    if (known.has(key) || !isUpload) continue;
    const group = groups.get(key) ?? { student, sources: [] };
    group.sources.push(source);
    groups.set(key, group);
  }
  return [...groups.values()].map(({ student, sources }) => ({ source: mainOf(sources), student, upload: uploadOf(sources) }));
}

/**
 * The most likely upload: models before texts, pictures last.
 * @param {ClassSource[]} sources at least one
 */
function mainOf(sources) {
  const rank = (/** @type {ClassSource} */ { path }) => (endingOf(path) in FORMATS ? 0 : endingOf(path) in OTHERS ? 2 : 1);
  return sources.reduce((best, source) => ((rank(source) - rank(best) || best.bytes - source.bytes) < 0 ? source : best));
}

/**
 * What a student without an OBJ has uploaded.
 * @param {ClassSource[]} sources
 */
export function uploadOf(sources) {
  if (sources.length === 0) return "No OBJ";
  const { path, bytes } = mainOf(sources);
  const format = FORMATS[endingOf(path)] ?? OTHERS[endingOf(path)];
  if (bytes === 0) return "Empty file";
  return format ? `${format}, no OBJ` : "No OBJ";
}

/** Whether it has the extension of a model or an archive. @param {ClassSource} source */
export function isFormat({ path }) {
  return endingOf(path) in FORMATS;
}

/** Message about a student with several files; empty for one. @param {number} count */
export function severalOf(count) {
  return count > 1 ? `${count} OBJs: which?` : "";
}

/** @param {string} path */
function endingOf(path) {
  return /\.([^./]+)$/.exec(path)?.[1]?.toLowerCase() ?? "";
}
