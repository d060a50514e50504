/**
 * What the Picture lens shows: the pictures that a model's materials name, and one of the person's own. Libraries and
 * pictures come along with the model or later; each model has its own, so that two versions can be compared.
 *
 * A picture is read by a worker when something shows it, and stays in the graphics system as long.
 *
 * The previous picture is shown until the new one is read, so that one that cannot be read takes nothing away, and saving a
 * painting and dropping it again does not blink.
 *
 * @import {Decoded, FromDecoder, Look, MeshBuffers, Summary} from "../core/messages.js"
 * @import {Library, Material} from "../model/materials.js"
 * @import {Stage} from "../stage/stage.js"
 * @import {Model, Store} from "../core/state.js"
 */

import { isolated } from "../base/format.js";
import { LivingWorker } from "../base/living-worker.js";
import { baseName, keyOf, libraryText, linkMaterials, readLibrary } from "../model/materials.js";
import { NO_PICTURES } from "../core/state.js";

const SCRIPT = new URL("./pictures.worker.js", import.meta.url);

/** Pictures that get the full size; four times as many get half of it each way, and so on: 358 MB with all their levels. */
const FULL_SIZE = 4;
/** No picture becomes smaller than this because there are many, px. */
const LEAST_PX = 256;
/** What the pictures of a surface's colour are called, among others of the same material. Common practice, no source. */
const COLOURS = /base.?colou?r|albedo|diffuse|colou?r/i;

/** What the legend says of a material that shows paper. */
export const NO_PICTURE = "no picture";

/**
 * @typedef {object} Picture
 * @property {number} number that looks call it by
 * @property {File} file
 * @property {"waiting" | "reading" | "there" | "failed"} state
 * @property {number} most px of the longer side that it was or is being read for
 * @property {Omit<Decoded, "pixels"> | null} size once it was read
 * @property {Picture | null} previous of the same name, shown until this one is there
 */

/**
 * @typedef {object} Shelf
 * @property {Map<string, Library>} libraries by key
 * @property {File[]} came libraries that came along with the model
 * @property {string | null} only see `own` of `linkMaterials`
 * @property {Map<string, Picture>} pictures by key
 * @property {Picture | null} own
 * @property {string} on which materials wear it: see `Pictures` in core/state.js
 * @property {{picture: Picture, on: string} | null} next what takes its place once it is read
 * @property {Picture[]} fresh given since the last settling
 * @property {boolean} alone whether that was pictures and nothing else
 * @property {boolean} turn whether the lens is to be chosen with the first picture that is there
 * @property {number} reading libraries
 */

/** @param {File} file */
function isLibrary({ name }) {
  return /\.mtl$/i.test(name);
}

/**
 * Whether it belongs to a model: a library, or a picture of whatever kind, so that one that cannot be shown is told of.
 * @param {{name: string, type?: string}} file
 */
export function isCompanion({ name, type = "" }) {
  return /\.(mtl|png|jpe?g|webp|gif|bmp|avif|tga|tiff?|exr|hdr|psd|dds|ktx2?|svg)$/i.test(name) || (/^image\//.test(type) && !/\.(obj|zip)$/i.test(name) && !/tgif/.test(type));
}

/** @returns {Shelf} */
function emptyShelf() {
  return { libraries: new Map(), came: [], only: null, pictures: new Map(), own: null, on: "all", next: null, fresh: [], alone: false, turn: false, reading: 0 };
}

/**
 * @param {Store} store
 * @param {(text: string) => void} say
 */
export function startPictures(store, say) {
  /** @type {WeakMap<MeshBuffers, Shelf>} */
  const shelves = new WeakMap();
  /** Of the model on screen; without one, of the one to come. */
  let shelf = emptyShelf();
  /** Of the model that is being read, where something came with it. @type {Shelf | null} */
  let coming = null;
  /** @type {MeshBuffers | null} */
  let mesh = null;
  /** @type {Stage | null} */
  let stage = null;
  let numbers = 0;
  /** What the view has. @type {Set<Picture>} */
  const held = new Set();
  /** What a notice says that is only for now. */
  let said = "";
  const decoder = new Decoder();

  /** @param {string} notice */
  function tell(notice) {
    if (notice || (said && store.state.notice === said)) store.set({ notice });
    said = notice;
  }

  /**
   * Takes what was dropped or chosen.
   * @param {File[]} files for which `isCompanion` holds
   * @param {boolean} withModel whether they came with one that is about to be read
   */
  async function give(files, withModel) {
    const into = withModel ? emptyShelf() : coming && store.state.job ? coming : shelf;
    if (withModel) coming = into;
    const fresh = files.filter((file) => !isLibrary(file)).map((file) => {
      const known = into.pictures.get(keyOf(file.name));
      const previous = !known || known.state === "failed" ? null : (known.previous ?? known);
      /** @type {Picture} */
      const picture = { number: (numbers += 1), file, state: "waiting", most: 0, size: null, previous };
      into.pictures.set(keyOf(file.name), picture);
      return picture;
    });
    into.fresh = [...into.fresh, ...fresh];
    const { model, job } = store.state;
    if (!withModel && !model && !job) {
      const names = files.length === 1 ? `${isolated(files[0]?.name ?? "")} is` : `These ${files.length} files are`;
      store.set({ notice: `${names} kept in this tab. Drop the OBJ too, and see ${files.length === 1 && fresh.length === 0 ? "what it says" : "it through the UVs"}.` });
    } else if (!withModel && model && fresh.length > 0) {
      tell(fresh.length === 1 ? `Reading ${isolated(fresh[0]?.file.name ?? "")} …` : `Reading ${fresh.length} pictures …`);
    }
    const libraries = files.filter(isLibrary);
    if (withModel) into.came = libraries;
    into.alone = !withModel && libraries.length === 0;
    if (!withModel && model && fresh.length === 0 && store.state.lens !== "picture") {
      store.set({ notice: `What ${libraries.map(({ name }) => isolated(name)).join(", ")} says is shown by the lens Picture.` });
    }
    await readInto(into, libraries);
  }

  /**
   * @param {Shelf} into
   * @param {readonly File[]} libraries
   */
  async function readInto(into, libraries) {
    into.reading += 1;
    for (const file of libraries) {
      try {
        into.libraries.set(keyOf(file.name), { name: file.name, materials: readLibrary(libraryText(new Uint8Array(await file.arrayBuffer()))) });
      } catch {
        store.set({ notice: `${isolated(file.name)} could not be read. It may have been moved since it was chosen; drop it again.` });
      }
    }
    into.reading -= 1;
    if (into === shelf) settle();
  }

  /** What goes along with any model: the person's own picture. @returns {Shelf} */
  function ownAlone() {
    const { own, on } = shelf;
    return { ...emptyShelf(), own, on, pictures: new Map(own ? [[keyOf(own.file.name), own]] : []) };
  }

  /**
   * What of a previous model's is for another one that came alone: all of it where it names the same libraries.
   * @param {Summary} summary
   * @returns {Shelf}
   */
  function carried({ libraries }) {
    if (!libraries.some((name) => shelf.libraries.has(keyOf(name)))) return ownAlone();
    return { ...shelf, reading: 0, libraries: new Map(shelf.libraries), pictures: new Map(shelf.pictures) };
  }

  /** @param {Model | null} model */
  function follow(model) {
    if (model?.mesh === mesh) return;
    const isFirst = mesh === null;
    mesh = model?.mesh ?? null;
    if (model) {
      const known = shelves.get(model.mesh);
      shelf = known ?? coming ?? (isFirst ? shelf : carried(model.summary));
      if (!known) coming = null;
      shelves.set(model.mesh, shelf);
    }
    settle();
  }

  /** Chooses among what was just given what is the person's own. @param {Set<string>} named @param {boolean} hasMaps */
  function takeFresh(named, hasMaps) {
    if (shelf.reading > 0 || shelf.fresh.length === 0) return;
    const loose = shelf.fresh.filter(({ file }) => !named.has(keyOf(file.name)));
    const next = loose.find(({ file }) => COLOURS.test(file.name)) ?? loose[0];
    if (next) {
      const isNewer = shelf.own && keyOf(shelf.own.file.name) === keyOf(next.file.name);
      // One that came with the materials' own is for what has none.
      const on = hasMaps && (!shelf.alone || loose.length < shelf.fresh.length) ? "rest" : "all";
      shelf.next = { picture: next, on: isNewer ? shelf.on : on };
    }
    shelf.turn = true;
    shelf.fresh = [];
  }

  /** Tells stage and legend what is shown by all that is known now, and has read what is not there yet. */
  function settle() {
    const { model } = store.state;
    if (!stage) return;
    if (!model) {
      stage.setLooks({ looks: [], ground: -1, files: [] });
      release(() => true);
      store.set({ pictures: NO_PICTURES });
      return;
    }
    const { materials, libraries } = model.summary;
    const { found, missing } = linkMaterials(materials, libraries, shelf.libraries, shelf.only);
    const named = new Set(found.flatMap((material) => (material?.map ? [keyOf(material.map.file)] : [])));
    takeFresh(named, named.size > 0);
    if (shelf.next?.picture.state === "there") {
      [shelf.own, shelf.on] = [shelf.next.picture, shelf.next.on];
      shelf.next = null;
    }
    if (shelf.on.startsWith("=") && !materials.includes(shelf.on.slice(1))) shelf.on = "all";
    const { own, on, next } = shelf;
    /** @type {Map<string, {look: Look, runs: number[]}>} */
    const looks = new Map();
    /** @type {Set<Picture>} */
    const wanted = new Set();
    /** Read while their previous is still shown. @type {Set<Picture>} */
    const renewed = new Set(next ? [next.picture] : []);
    const lacking = new Set(missing);
    /** @type {(() => import("../core/state.js").Pictures["rows"][number])[]} */
    const rows = [];
    for (const [index, runs] of runsOf(model.mesh)) {
      const [name, material] = [materials[index] ?? "", found[index] ?? null];
      const itsMap = material?.map ?? null;
      const latest = itsMap ? (shelf.pictures.get(keyOf(itsMap.file)) ?? null) : null;
      if (latest?.previous) renewed.add(latest);
      const its = latest?.previous ?? latest;
      if (itsMap && !its) lacking.add(baseName(itsMap.file));
      const isOwn = own !== null && (on === "all" || (on === "rest" ? !its || its.state === "failed" : on === `=${name}`));
      const map = isOwn ? null : itsMap;
      const picture = isOwn ? own : its;
      const shows = picture && picture.state !== "failed" ? picture : null;
      if (shows) wanted.add(shows);
      const look = { picture: shows?.number ?? -1, colour: isOwn ? null : (material?.colour ?? null), scale: map?.scale ?? [1, 1], offset: map?.offset ?? [0, 0], clamp: map?.clamp ? 1 : 0 };
      const key = JSON.stringify(look);
      const known = looks.get(key);
      if (known) known.runs = known.runs.concat(runs);
      else looks.set(key, { look: /** @type {Look} */ ({ ...look, runs: new Uint32Array() }), runs });
      rows.push(() => ({ name, ...told(picture, map?.file ?? "", material) }));
    }
    const list = [...looks.values()].map(({ look, runs }) => ({ ...look, runs: Uint32Array.from(runs) }));
    const most = sideOf(wanted.size);
    stage.setLooks({
      looks: list,
      ground: list.length === 1 ? 0 : -1,
      files: [...wanted].map(({ number, file }) => ({ number, file, most })),
    });
    release((picture) => !wanted.has(picture));
    const due = [...wanted, ...renewed];
    if (stage.mostPicturePx > 0) for (const picture of due) bring(picture, most);
    const busy = due.some(({ state }) => state === "reading");
    const choices = [...shelf.pictures.values()].filter(({ file, state }) => !named.has(keyOf(file.name)) && state !== "failed");
    if (own && !choices.includes(own)) choices.push(own);
    store.set({
      pictures: {
        rows: rows.map((row) => row()),
        choices: choices.map(({ file }) => file.name),
        own: (next?.picture ?? own)?.file.name ?? "",
        on: next?.on ?? on,
        missing: [...lacking],
        shown: wanted.size > 0,
        busy,
      },
    });
    if (!busy) tell("");
  }

  /** Notes which pictures the view has not any more. @param {(picture: Picture) => boolean} isGone */
  function release(isGone) {
    for (const picture of [...held].filter(isGone)) {
      held.delete(picture);
      picture.state = "waiting";
    }
  }

  /** Longest side for so many pictures, px. @param {number} count */
  function sideOf(count) {
    let side = stage?.mostPicturePx ?? LEAST_PX;
    for (let room = FULL_SIZE; room < count && side > LEAST_PX; room *= 4) side /= 2;
    return side;
  }

  /**
   * Has a picture read, unless it is there as large as it may be.
   * @param {Picture} picture
   * @param {number} most
   */
  function bring(picture, most) {
    const longest = picture.size ? Math.max(...picture.size.from) : Infinity;
    const fits = Math.min(picture.most, longest) === Math.min(most, longest);
    if (picture.state === "failed" || (picture.state !== "waiting" && fits)) return;
    picture.state = "reading";
    picture.most = most;
    decoder.read(picture.number, picture.file, most, store.state.graphics === "none", (decoded) => {
      if (decoded) arrived(picture, decoded);
      else failed(picture);
    });
  }

  /**
   * @param {Picture} picture
   * @param {Decoded} decoded
   */
  function arrived(picture, { pixels, ...size }) {
    picture.size = size;
    picture.previous = null;
    const isOurs = store.state.graphics !== "lost" && [...shelf.pictures.values(), shelf.own, shelf.next?.picture].includes(picture);
    picture.state = isOurs ? "there" : "waiting";
    if (!isOurs) return;
    held.add(picture);
    stage?.setPicture(picture.number, { pixels, ...size });
    settle();
    if (!shelf.turn || picture.state !== "there") return;
    shelf.turn = false;
    if (store.state.lens !== "picture") store.set({ lens: "picture" });
    say(`${isolated(picture.file.name)} is shown through the UVs.`);
  }

  /** @param {Picture} picture */
  function failed(picture) {
    picture.state = "failed";
    const key = keyOf(picture.file.name);
    if (picture.previous && shelf.pictures.get(key) === picture) shelf.pictures.set(key, picture.previous);
    else if (shelf.next?.picture === picture) shelf.pictures.delete(key);
    if (shelf.next?.picture === picture) shelf.next = null;
    if (shelf.own === picture) shelf.own = null;
    settle();
    tell("");
    store.set({ notice: `${isolated(picture.file.name)} could not be read as a picture: it is damaged, or of a kind that this browser does not show. Save it as PNG, JPEG or WebP and drop it again.` });
  }

  return {
    give,
    /**
     * The model that comes next has none of what a previous one's materials name, but libraries of its own.
     * @param {File[]} libraries
     * @param {string | null} only see `own` of `linkMaterials`
     */
    leave(libraries, only) {
      coming = { ...ownAlone(), came: libraries, only };
      void readInto(coming, libraries);
    },
    /** Libraries that came along with the model that is about to be read. @returns {{libraries: readonly File[], own: string | null}} */
    toCome() {
      return { libraries: coming?.came ?? [], own: coming?.only ?? null };
    },
    /** @param {Stage} on where it is shown */
    show(on) {
      stage = on;
      stage.onRestored(() => {
        release(() => true);
        settle();
      });
      store.watch(["model"], ({ model }) => follow(model));
    },
    /** @param {string} name of a picture that is here; empty for none */
    choose(name) {
      const picture = name ? shelf.pictures.get(keyOf(name)) : undefined;
      shelf.next = picture && picture !== shelf.own ? { picture, on: shelf.on } : null;
      if (!picture) shelf.own = null;
      settle();
    },
    /** @param {string} on */
    wear(on) {
      shelf.on = on;
      if (shelf.next) shelf.next.on = on;
      settle();
    },
    get busy() {
      return decoder.busy || shelf.reading > 0 || (coming?.reading ?? 0) > 0;
    },
  };
}

/**
 * What the legend tells of a material's picture.
 * @param {Picture | null} picture
 * @param {string} file that the material names
 * @param {Material | null} material
 */
function told(picture, file, material) {
  const plain = material?.colour ? "its plain colour" : NO_PICTURE;
  if (picture?.state === "failed") return { shows: `${isolated(baseName(file))} cannot be shown here; ${plain}`, trouble: true };
  if (picture?.size) {
    const { width, height, from: [wide, high] } = picture.size;
    const reduced = width === wide && height === high ? "" : `, reduced to ${width}\u00a0×\u00a0${height}`;
    return { shows: `${isolated(picture.file.name)}, ${wide}\u00a0×\u00a0${high}\u00a0px${reduced}`, trouble: false };
  }
  if (picture) return { shows: `${isolated(picture.file.name)} is being read`, trouble: false };
  return file ? { shows: `${isolated(baseName(file))} is missing; ${plain}`, trouble: true } : { shows: plain, trouble: false };
}

/**
 * Runs of triangles, first and count of each, by material; -1 for none. In the order in which materials come first.
 * @param {MeshBuffers} mesh
 */
function runsOf({ materials, triangle_count: all }) {
  /** @type {Map<number, number[]>} */
  const runs = new Map();
  const add = (/** @type {number} */ index, /** @type {number} */ from, /** @type {number} */ to) => {
    if (to <= from) return;
    const known = runs.get(index);
    if (known) known.push(from, to - from);
    else runs.set(index, [from, to - from]);
  };
  add(-1, 0, materials[0] ?? all);
  for (let at = 0; at < materials.length; at += 2) {
    const index = materials[at + 1] ?? 0xffffffff;
    add(index === 0xffffffff ? -1 : index, materials[at] ?? all, materials[at + 2] ?? all);
  }
  return runs;
}

/** The page's side of the worker that reads pictures; it ends when there is nothing to read. */
class Decoder {
  /** @type {Worker | null} */
  #worker = null;
  /** @type {Map<number, {number: number, done: (decoded: Decoded | null) => void}>} */
  #waiting = new Map();
  #orders = 0;

  get busy() {
    return this.#waiting.size > 0;
  }

  /**
   * A later order for the same picture takes the place of a previous one, which is not answered.
   * @param {number} number
   * @param {File} file
   * @param {number} most
   * @param {boolean} asBitmap
   * @param {(decoded: Decoded | null) => void} done null: it cannot be read
   */
  read(number, file, most, asBitmap, done) {
    for (const [id, order] of this.#waiting) if (order.number === number) this.#waiting.delete(id);
    const id = (this.#orders += 1);
    this.#waiting.set(id, { number, done });
    this.#worker ??= this.#start();
    this.#worker.postMessage({ id, file, most, asBitmap });
  }

  #start() {
    const worker = new LivingWorker(SCRIPT, { type: "module", name: "gridproof picture" });
    const answer = (/** @type {number[]} */ ids, /** @type {Decoded | null} */ decoded) => {
      const orders = ids.map((id) => this.#waiting.get(id));
      for (const id of ids) this.#waiting.delete(id);
      if (this.#waiting.size === 0) {
        worker.terminate();
        this.#worker = null;
      }
      for (const order of orders) order?.done(decoded);
    };
    worker.addEventListener("message", (/** @type {MessageEvent<FromDecoder>} */ { data }) => answer([data.id], data.type === "decoded" ? data.decoded : null));
    worker.addEventListener("error", (event) => {
      event.preventDefault();
      answer([...this.#waiting.keys()], null);
    });
    return worker;
  }
}
