/**
 * Material libraries (MTL): the statements for a surface's colour, `newmtl`, `Kd` and `map_Kd`; all others are skipped.
 * And which materials a model uses.
 *
 * The format: Alias|Wavefront, File Formats, version 4.2, chapter 5 (not checked against the source). A uv is looked up at
 * `scale` times itself plus `offset`, and Kd is taken for sRGB, as three's MTLLoader does. A map replaces Kd instead of being
 * multiplied by it: the picture itself is to be seen.
 */

/**
 * @typedef {object} MaterialMap
 * @property {string} file as written
 * @property {[number, number]} scale of u and v
 * @property {[number, number]} offset
 * @property {boolean} clamp whether it does not repeat
 */

/** @typedef {{colour: [number, number, number] | null, map: MaterialMap | null}} Material colour: sRGB, 0..1 */
/** @typedef {{name: string, materials: Map<string, Material>}} Library */

/** Options of a map by their least and most arguments; beyond the least only numbers are taken. */
const OPTIONS = /** @type {Record<string, [number, number]>} */ ({
  "-blendu": [1, 1],
  "-blendv": [1, 1],
  "-bm": [1, 1],
  "-boost": [1, 1],
  "-cc": [1, 1],
  "-clamp": [1, 1],
  "-colorspace": [1, 1],
  "-imfchan": [1, 1],
  "-mm": [2, 2],
  "-o": [1, 3],
  "-s": [1, 3],
  "-t": [1, 3],
  "-texres": [1, 1],
  "-type": [1, 1],
});

const NUMBER = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i;

/**
 * The text of a library: UTF-8, or else every byte is the character of the same number, as the reader of OBJ takes names.
 * @param {Uint8Array} bytes
 */
export function libraryText(bytes) {
  try {
    return new TextDecoder("utf-8", { fatal: true }).decode(bytes);
  } catch {
    let text = "";
    for (let at = 0; at < bytes.length; at += 4096) text += String.fromCharCode(...bytes.subarray(at, at + 4096));
    return text;
  }
}

/**
 * @param {string} text
 * @returns {Map<string, Material>} by name; of two of one name the later one counts
 */
export function readLibrary(text) {
  /** @type {Map<string, Material>} */
  const materials = new Map();
  /** @type {Material | null} */
  let material = null;
  for (const line of text.replace(/\\[ \t]*(\r\n|\r|\n)/g, " ").split(/\r\n|\r|\n/)) {
    const [, keyword = "", rest = ""] = line.match(/^\s*(\S+)\s*(.*?)\s*$/) ?? [];
    switch (keyword.toLowerCase()) {
      case "newmtl":
        material = { colour: null, map: null };
        materials.set(tidy(withoutComment(rest)), material);
        break;
      case "kd":
        if (material) material.colour = colourOf(rest) ?? material.colour;
        break;
      case "map_kd":
        if (material) material.map = mapOf(withoutComment(rest)) ?? material.map;
        break;
    }
  }
  return materials;
}

/** In a name, `#` starts a comment only between blanks. @param {string} text */
function withoutComment(text) {
  return text.replace(/(^|\s)#(\s.*)?$/, "");
}

/** A name as the reader of OBJ keeps it. @param {string} name */
function tidy(name) {
  return name.trim().replace(/\s+/g, " ");
}

/**
 * @param {string} words
 * @returns {[number, number, number] | null}
 */
function colourOf(words) {
  const parts = words.split(/\s+/).slice(0, 3).map(Number);
  const [red = NaN, green = red, blue = red] = parts;
  const colour = /** @type {[number, number, number]} */ ([red, green, blue]);
  return colour.every(Number.isFinite) ? /** @type {[number, number, number]} */ (colour.map((part) => Math.min(1, Math.max(0, part)))) : null;
}

/**
 * @param {string} text options and a name, which may contain blanks
 * @returns {MaterialMap | null}
 */
function mapOf(text) {
  /** @type {MaterialMap} */
  const map = { file: "", scale: [1, 1], offset: [0, 0], clamp: false };
  let rest = text.trim();
  for (;;) {
    const [option = ""] = rest.split(/\s+/, 1);
    const takes = OPTIONS[option.toLowerCase()];
    if (!takes) break;
    const words = rest.split(/\s+/).slice(1);
    let count = takes[0];
    while (count < takes[1] && NUMBER.test(words[count] ?? "")) count += 1;
    // A file may have the name of an option.
    if (words.length < count) break;
    const values = words.slice(0, count);
    const [u, v] = values.map(Number);
    if (option.toLowerCase() === "-clamp") map.clamp = values[0]?.toLowerCase() === "on";
    if (option.toLowerCase() === "-s") map.scale = [u || 1, v || 1];
    if (option.toLowerCase() === "-o") map.offset = [u || 0, v || 0];
    for (let taken = 0; taken <= count; taken += 1) rest = rest.replace(/^\S+\s*/, "");
  }
  map.file = rest.replace(/^"(.*)"$/, "$1").trim();
  return map.file ? map : null;
}

/**
 * A file's name without folders, whatever their separator.
 * @param {string} path
 */
export function baseName(path) {
  return path.slice(Math.max(path.lastIndexOf("/"), path.lastIndexOf("\\")) + 1);
}

/**
 * Key of a file name, since programs and systems differ in folders and letter case.
 * @param {string} path
 */
export function keyOf(path) {
  return baseName(path).normalize("NFC").toLowerCase();
}

/**
 * The materials of a model by its libraries: in those it names, in their order, and then in the others that were given, since
 * a library may have been renamed. If several models share a folder, of those others only one with the model's name.
 * @param {readonly string[]} materials names
 * @param {readonly string[]} named libraries, as the model names them
 * @param {ReadonlyMap<string, Library>} given by the key of their names
 * @param {string | null} own key of the only library that counts without being named; null where each does
 * @returns {{found: (Material | null)[], missing: string[]}} `missing`: libraries, while materials are
 */
export function linkMaterials(materials, named, given, own = null) {
  const wanted = [...new Map(named.map((name) => [keyOf(name), name]))];
  const ours = wanted.flatMap(([key]) => given.get(key) ?? []);
  const libraries = [...ours, ...[...given].filter(([key, library]) => !ours.includes(library) && (own === null || key === own)).map(([, library]) => library)];
  const found = materials.map((name) => libraries.map((library) => library.materials.get(tidy(name))).find(Boolean) ?? null);
  const missing = found.every(Boolean) ? [] : wanted.filter(([key]) => !given.has(key)).map(([, name]) => baseName(name));
  return { found, missing };
}
