/**
 * A model's pictures: its libraries and pictures, one of the user's own, and which of them is shown where. Each model has
 * its own shelf, so that two versions can be compared.
 *
 * @import {Decoded} from "../core/messages.js"
 * @import {Library} from "../model/materials.js"
 */

import { keyOf, libraryText, readLibrary } from "../model/materials.js";

/** Names of base colour maps, as opposed to other maps of a material. Common practice, no source. */
const COLOURS = /base.?colou?r|albedo|diffuse|colou?r/i;

/**
 * @typedef {object} Picture
 * @property {number} number that looks call it by
 * @property {File} file
 * @property {"waiting" | "reading" | "there" | "failed"} state
 * @property {number} most px of the longer side that it was or is being read for
 * @property {Omit<Decoded, "pixels"> | null} size once it was read
 * @property {Picture | null} previous of the same name, shown until this one is there
 */

/** @param {File} file */
export function isLibrary({ name }) {
  return /\.mtl$/i.test(name);
}

/**
 * Whether it belongs to a model: a library, or a picture of any kind, so that an unsupported one is reported.
 * @param {{name: string, type?: string}} file
 */
export function isCompanion({ name, type = "" }) {
  return (
    /\.(mtl|png|jpe?g|webp|gif|bmp|avif|tga|tiff?|exr|hdr|psd|dds|ktx2?|svg)$/i.test(name) ||
    (/^image\//.test(type) && !/\.(obj|zip)$/i.test(name) && !/tgif/.test(type))
  );
}

export class Shelf {
  /** By key. @type {Map<string, Library>} */
  libraries = new Map();
  /** By key. @type {Map<string, Picture>} */
  pictures = new Map();
  /** The user's own. @type {Picture | null} */
  own = null;
  /** Which materials show it: see `Pictures` in core/state.js. */
  on = "all";
  /** Its replacement once decoded. @type {{picture: Picture, on: string} | null} */
  next = null;
  /** Whether the lens is selected when the first picture is ready. */
  turns = false;
  /** Added since the last settling. @type {Picture[]} */
  #fresh = [];
  /** Whether only pictures were added. */
  #isAlone = false;
  #reading = 0;

  /**
   * @param {readonly File[]} [came] libraries that came with the model
   * @param {string | null} [only] see `own` of `linkMaterials`
   */
  constructor(came = [], only = null) {
    this.came = came;
    this.only = only;
  }

  /** Whether libraries are being read. */
  get isReading() {
    return this.#reading > 0;
  }

  /** Every picture that may be shown, now or later. */
  get all() {
    return [...this.pictures.values(), this.own, this.next?.picture];
  }

  /**
   * The part that applies to any model: the user's own picture.
   * @param {readonly File[]} [came]
   * @param {string | null} [only]
   */
  ownAlone(came, only) {
    const other = new Shelf(came, only);
    Object.assign(other, { own: this.own, on: this.on });
    if (this.own) other.pictures.set(keyOf(this.own.file.name), this.own);
    return other;
  }

  /**
   * The part for another model that came without companions: everything if it names the same libraries.
   * @param {readonly string[]} libraries that it names
   */
  carried(libraries) {
    if (!libraries.some((name) => this.libraries.has(keyOf(name)))) return this.ownAlone();
    const other = new Shelf(this.came, this.only);
    const { own, on, next, turns } = this;
    Object.assign(other, { own, on, next, turns, libraries: new Map(this.libraries), pictures: new Map(this.pictures) });
    [other.#fresh, other.#isAlone] = [this.#fresh, this.#isAlone];
    return other;
  }

  /**
   * @param {File[]} files pictures that were added
   * @param {() => number} number of another one
   * @param {boolean} isAlone whether they came without libraries, and without a model
   */
  give(files, number, isAlone) {
    this.#isAlone = isAlone;
    for (const file of files) {
      const known = this.pictures.get(keyOf(file.name));
      const previous = !known || known.state === "failed" ? null : (known.previous ?? known);
      /** @type {Picture} */
      const picture = { number: number(), file, state: "waiting", most: 0, size: null, previous };
      this.pictures.set(keyOf(file.name), picture);
      this.#fresh.push(picture);
    }
  }

  /**
   * @param {readonly File[]} files libraries
   * @param {(file: File) => void} failed
   */
  async read(files, failed) {
    this.#reading += 1;
    for (const file of files) {
      try {
        this.libraries.set(keyOf(file.name), { name: file.name, materials: readLibrary(libraryText(new Uint8Array(await file.arrayBuffer()))) });
      } catch {
        failed(file);
      }
    }
    this.#reading -= 1;
  }

  /**
   * Selects the user's own picture among those just added.
   * @param {Set<string>} named keys of the pictures that materials name
   */
  takeFresh(named) {
    if (this.isReading || this.#fresh.length === 0) return;
    const loose = this.#fresh.filter(({ file }) => !named.has(keyOf(file.name)));
    const next = loose.find(({ file }) => COLOURS.test(file.name)) ?? loose[0];
    if (next) {
      const isNewer = this.own && keyOf(this.own.file.name) === keyOf(next.file.name);
      // A picture that came with the materials' pictures is for materials without one.
      const on = named.size > 0 && (!this.#isAlone || loose.length < this.#fresh.length) ? "rest" : "all";
      this.next = { picture: next, on: isNewer ? this.on : on };
    }
    this.turns = true;
    this.#fresh = [];
  }

  /** Applies the pending own picture once it is ready; shows it on all materials if its material does not exist. @param {readonly string[]} materials */
  settle(materials) {
    if (this.next?.picture.state === "there") {
      [this.own, this.on] = [this.next.picture, this.next.on];
      this.next = null;
    }
    if (this.on.startsWith("=") && !materials.includes(this.on.slice(1))) this.on = "all";
  }

  /** @param {string} name of a loaded picture, to be the user's own; empty for none */
  choose(name) {
    const picture = name ? this.pictures.get(keyOf(name)) : undefined;
    this.next = picture && picture !== this.own ? { picture, on: this.on } : null;
    if (!picture) this.own = null;
  }

  /** @param {string} on which materials show it */
  wear(on) {
    this.on = on;
    if (this.next) this.next.on = on;
  }

  /** A picture cannot be decoded: the previous one of its name stays. @param {Picture} picture */
  leave(picture) {
    const key = keyOf(picture.file.name);
    if (picture.previous && this.pictures.get(key) === picture) this.pictures.set(key, picture.previous);
    else if (this.next?.picture === picture) this.pictures.delete(key);
    if (this.next?.picture === picture) this.next = null;
    if (this.own === picture) this.own = null;
  }
}
