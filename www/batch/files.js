/**
 * Dropped or chosen items as the files of a class: folders are walked, zips opened, in the command's order.
 * Names that begin with a dot are skipped, as in the command.
 *
 * Where several models share a folder, a material library is used for the models that name it or have its name: otherwise
 * another student's library with the same material names would decide the sheets of both.
 *
 * @import {ClassSource, Failure, ZippedFile} from "../core/messages.js"
 * @import {Zips} from "../open/zips.js"
 */

import { whole } from "../base/format.js";
import { uploadOf } from "./students.js";
import { keyOf } from "../model/materials.js";
import { isCompanion } from "../lenses/shelf.js";

/** Most entries of folders that are walked, and most files of a class: far above any, and the page still answers. */
const MOST_WALKED = 50_000;
const MOST_FILES = 2000;
/** Most files that go with one model: far above any. */
const MOST_COMPANIONS = 1000;
/** Most libraries that are read for one model of a class, and most bytes of each: far above any. */
const MOST_LIBRARIES = 32;
const MOST_LIBRARY_BYTES = 2 ** 22;

/**
 * @typedef {object} Picked
 * @property {File[]} files
 * @property {FileSystemEntry[]} folders
 * @property {Promise<FileSystemHandle | null>} [dropped] handle to reopen the one dropped folder or zip
 * @property {FileSystemDirectoryHandle} [handle] of a folder that is reopened
 * @property {{path: string, file: File, size: number}[]} [entries] copies of an earlier visit; of some only the size is stored
 * @property {boolean} [alone] whether it was a single zip
 */

/**
 * @typedef {object} Class
 * @property {string} name of the folder or zip; empty for files picked one by one
 * @property {ClassSource[]} sources
 * @property {ClassSource[]} rest skipped files: textures, materials etc.
 * @property {{path: string, file: File}[]} given all files as dropped or chosen
 * @property {boolean} alone whether it is a single zip
 * @property {(() => Promise<File>)[]} companions of a single model, or of the one on screen: libraries and pictures
 */

/**
 * Content of a drop; to be called during its event.
 * @param {DataTransfer | null} transfer
 * @returns {Picked}
 */
export function pickedOf(transfer) {
  const items = [...(transfer?.items ?? [])].filter(({ kind }) => kind === "file");
  const taken = items.map((item) => ({ entry: item.webkitGetAsEntry?.() ?? null, file: item.getAsFile() }));
  const [only, ...others] = items;
  const { getAsFileSystemHandle: ask } = /** @type {{getAsFileSystemHandle?: () => Promise<FileSystemHandle | null>}} */ (/** @type {unknown} */ (only ?? {}));
  return {
    files: taken.flatMap(({ entry, file }) => (file && !entry?.isDirectory ? [file] : [])),
    folders: taken.flatMap(({ entry }) => (entry?.isDirectory ? [entry] : [])),
    ...(ask && others.length === 0 && { dropped: ask.call(only).catch(() => null) }),
  };
}

/**
 * Whether it may be more than one model.
 * @param {Picked} picked
 */
export function mayBeClass({ files, folders }) {
  return (
    folders.length > 0 ||
    files.some(({ name, webkitRelativePath }) => isZip(name) || webkitRelativePath !== "") ||
    files.filter(({ name }) => isObj(name)).length > 1
  );
}

/**
 * @param {Picked} picked
 * @param {Zips} zips
 * @param {boolean} hasModel whether there is a model for companions that came without one
 * @returns {Promise<Class>} rejects with a {@link Failure} if nothing can be opened
 */
export async function gather({ files, folders, handle, entries = [], alone: wasAlone }, zips, hasModel) {
  /** @type {{path: string, file: File}[]} */
  const found = [];
  /** @type {ClassSource[]} */
  const rest = [];
  /** @type {(() => Promise<File>)[]} */
  const companions = [];
  /** @type {Class["given"]} */
  const given = [];
  const passOver = (/** @type {ClassSource} */ source) => {
    rest.push(source);
    if (isCompanion(source) && companions.length < MOST_COMPANIONS) companions.push(() => fileFrom(source, zips));
  };
  const put = (/** @type {string} */ path, /** @type {File} */ file, size = file.size) => {
    given.push({ path, file });
    if (isObj(path) || isZip(path)) found.push({ path, file });
    else passOver({ path, name: file.name, bytes: size, failure: null, file });
    if (given.length > MOST_WALKED) throw tooMany();
  };
  for (const file of files) {
    const path = file.webkitRelativePath || file.name;
    if (!isHidden(path)) put(path, file);
  }
  for (const { path, file, size } of entries) put(path, file, size);
  if (handle) for await (const { path, entry } of walkHandle(handle, handle.name)) put(path, await entry.getFile());
  for (const folder of folders) {
    for await (const { path, entry } of walk(folder)) {
      // Unreadable files that are not models are skipped.
      const file = await (isObj(path) || isZip(path) ? fileOf(entry) : fileOf(entry).catch(() => null));
      if (file) put(path, file);
    }
  }
  const packed = found.filter(({ path }) => isZip(path));
  const models = found.filter(({ path }) => isObj(path));
  /** @type {ClassSource[]} */
  const sources = models.map(({ path, file }) => ({ path, name: file.name, bytes: file.size, failure: null, file }));
  const alone = wasAlone ?? (packed.length === 1 && found.length === 1 && folders.length === 0 && !handle);
  for (const { path, file } of packed) {
    const key = zips.key();
    try {
      const listing = await zips.list(file, key);
      const sourceOf = (/** @type {ZippedFile} */ { path: inside, bytes, index, failure }) => ({
        path: alone ? inside : `${path}/${inside}`,
        name: inside.slice(inside.lastIndexOf("/") + 1),
        bytes,
        failure,
        zip: file,
        key,
        index,
      });
      sources.push(...listing.files.map(sourceOf));
      const passed = listing.others.map(sourceOf);
      if (listing.files.length > 0) {
        passed.forEach(passOver);
        continue;
      }
      const none = failure("no-obj", "There is no OBJ file in this zip.");
      if (alone) throw none;
      sources.push({ path, name: file.name, bytes: file.size, failure: none, upload: uploadOf(passed), file });
    } catch (error) {
      // Among other files it is a row with its reason.
      if (alone) throw error;
      sources.push({ path, name: file.name, bytes: file.size, failure: /** @type {Failure} */ (error), file });
    }
  }
  if (sources.length === 0 && !(hasModel && companions.length > 0))
    throw failure("no-obj", folders.length > 0 ? "There is no OBJ file in this folder, nor in those inside it." : "There is no OBJ file among these.");
  if (sources.length > MOST_FILES) {
    throw failure(
      "class-limit",
      `These are ${whole(sources.length)} files; a class may have ${whole(MOST_FILES)}. Drop a part of them; the command \`gridproof check\` takes any number.`,
    );
  }
  if (sources.length > 1) giveLibraries(sources, rest);
  return { name: nameOf(found, alone), sources: sources.sort((a, b) => comparePaths(a.path, b.path)), rest, companions, given, alone };
}

function tooMany() {
  return failure("class-limit", `The folder holds more than ${whole(MOST_WALKED)} files. Drop a folder of those that count.`);
}

/**
 * Gives each model the libraries beside it. Among several models a library belongs to those that name it or have its name:
 * another student's with the same material names must not decide.
 * @param {ClassSource[]} sources
 * @param {ClassSource[]} rest
 */
function giveLibraries(sources, rest) {
  const folderOf = (/** @type {ClassSource} */ { path, name }) => path.slice(0, path.length - name.length);
  const group = (/** @type {ClassSource[]} */ list) => {
    /** @type {Map<string, ClassSource[]>} */
    const groups = new Map();
    for (const source of list) {
      const among = groups.get(folderOf(source));
      if (among) among.push(source);
      else groups.set(folderOf(source), [source]);
    }
    return groups;
  };
  const libraries = group(rest.filter(({ name, bytes, failure }) => /\.mtl$/i.test(name) && bytes <= MOST_LIBRARY_BYTES && !failure));
  for (const [folder, models] of group(sources.filter(({ name }) => isObj(name)))) {
    const beside = libraries.get(folder) ?? [];
    for (const model of models) {
      const own = keyOf(model.name.replace(/\.obj$/i, ".mtl"));
      const [its, others] = [beside.filter(({ name }) => keyOf(name) === own), beside.filter(({ name }) => keyOf(name) !== own)];
      model.libraries = [...its, ...others].slice(0, MOST_LIBRARIES);
      model.own = models.length > 1 ? own : null;
    }
  }
}

/**
 * A file of a class, as a file.
 * @param {ClassSource} source
 * @param {Zips} zips
 */
export async function fileFrom(source, zips) {
  return "file" in source ? source.file : new File([await zips.take(source)], source.name);
}

/** @param {string} name */
function isObj(name) {
  return /\.obj$/i.test(name);
}

/** @param {string} name */
function isZip(name) {
  return /\.zip$/i.test(name);
}

/** @param {string} path */
function isHidden(path) {
  return path.split("/").some((part) => part.startsWith("."));
}

/**
 * @param {{path: string}[]} found
 * @param {boolean} alone whether it is a single zip
 */
function nameOf(found, alone) {
  const [first, ...rest] = new Set(found.map(({ path }) => path.split("/")[0] ?? ""));
  return first !== undefined && rest.length === 0 && (alone || found.some(({ path }) => path.includes("/"))) ? first : "";
}

/**
 * Folder by folder, by code points, which is the order of their bytes in UTF-8.
 * @param {string} a
 * @param {string} b
 */
export function comparePaths(a, b) {
  const [one, other] = [a.split("/"), b.split("/")];
  for (const [at, part] of one.entries()) {
    const against = other[at];
    if (against === undefined) return 1;
    if (part !== against) return compareCodePoints(part, against);
  }
  return one.length - other.length;
}

/**
 * @param {string} a
 * @param {string} b
 */
function compareCodePoints(a, b) {
  const [one, other] = [[...a], [...b]];
  for (const [at, letter] of one.entries()) {
    const [left, right] = [letter.codePointAt(0) ?? 0, other[at]?.codePointAt(0)];
    if (right === undefined) return 1;
    if (left !== right) return left - right;
  }
  return one.length - other.length;
}

/**
 * @param {FileSystemEntry} folder
 * @returns {AsyncGenerator<{path: string, entry: FileSystemFileEntry}>}
 */
async function* walk(folder) {
  const reader = /** @type {FileSystemDirectoryEntry} */ (folder).createReader();
  for (;;) {
    // `readEntries` gives a hundred at a time; an empty answer is the end.
    const entries = await /** @type {Promise<FileSystemEntry[]>} */ (new Promise((done, failed) => reader.readEntries(done, failed))).catch(() => {
      throw failure("unreadable", `The folder ${folder.name} could not be listed.`);
    });
    if (entries.length === 0) return;
    for (const entry of entries) {
      if (entry.name.startsWith(".")) continue;
      if (entry.isDirectory) yield* walk(entry);
      else yield { path: entry.fullPath.replace(/^\//, ""), entry: /** @type {FileSystemFileEntry} */ (entry) };
    }
  }
}

/**
 * The same for a folder by its handle.
 * @param {FileSystemDirectoryHandle} folder
 * @param {string} path of it
 * @returns {AsyncGenerator<{path: string, entry: FileSystemFileHandle}>}
 */
async function* walkHandle(folder, path) {
  for await (const entry of folder.values()) {
    if (entry.name.startsWith(".")) continue;
    const inside = `${path}/${entry.name}`;
    if (entry.kind === "directory") yield* walkHandle(/** @type {FileSystemDirectoryHandle} */ (entry), inside);
    else yield { path: inside, entry: /** @type {FileSystemFileHandle} */ (entry) };
  }
}

/**
 * @param {FileSystemFileEntry} entry
 * @returns {Promise<File>}
 */
function fileOf(entry) {
  return new Promise((done, failed) =>
    entry.file(done, () => failed(failure("unreadable", `${entry.name} could not be opened. It may have been moved since the folder was dropped.`))),
  );
}

/**
 * @param {string} code
 * @param {string} message
 * @returns {Failure}
 */
function failure(code, message) {
  return { code, message, line: null };
}
