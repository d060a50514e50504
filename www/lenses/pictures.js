/**
 * The Picture lens: the pictures that a model's materials name, and one of the user's own. Libraries and
 * pictures come along with the model or later; each model has its own, so that two versions can be compared.
 *
 * A picture is decoded by a worker when it is shown, and stays in GPU memory for as long.
 *
 * The previous picture is shown until the new one is decoded, so that an unreadable one changes nothing, and dropping an
 * updated file does not flicker.
 *
 * @import {Decoded, Look, MeshBuffers} from "../core/messages.js"
 * @import {Material} from "../model/materials.js"
 * @import {Picture} from "./shelf.js"
 * @import {Stage} from "../stage/stage.js"
 * @import {Model, Pictures as Shown, Store} from "../core/state.js"
 */

import { Decoder } from "./decoder.js";
import { isLibrary, Shelf } from "./shelf.js";
import { isolated } from "../base/format.js";
import { baseName, keyOf, linkMaterials } from "../model/materials.js";
import { NO_PICTURES } from "../core/state.js";

/** Pictures that get the full size; four times as many get half of it each way, and so on: 358 MB with mipmaps. */
const FULL_SIZE = 4;
/** No picture becomes smaller than this because there are many, px. */
const LEAST_PX = 256;
/** Models whose pictures are kept: two versions that are compared, and a third that replaces one. */
const MOST_SHELVES = 3;
/** The legend's text for a material that shows paper. */
export const NO_PICTURE = "no picture";

export class Pictures {
  #store;
  #say;
  #decoder = new Decoder();
  /** Of the models that may be on screen again, by their ids; those on screen last come last. @type {Map<number, Shelf>} */
  #shelves = new Map();
  /** Of the model on screen; without one, of the next. */
  #shelf = new Shelf();
  /** Of the model that is being read, if it has companion files. @type {Shelf | null} */
  #coming = null;
  /** Id of the model on screen. @type {number | null} */
  #shown = null;
  /** @type {Stage | null} */
  #stage = null;
  #numbers = 0;
  /** Pictures in the view. @type {Set<Picture>} */
  #held = new Set();
  /** Text of a temporary notice. */
  #said = "";

  /**
   * @param {Store} store
   * @param {(text: string) => void} say
   */
  constructor(store, say) {
    this.#store = store;
    this.#say = say;
  }

  get busy() {
    return this.#decoder.busy || this.#shelf.isReading || this.#coming?.isReading === true;
  }

  /** Libraries that came with the model that is about to be read. @returns {{libraries: readonly File[], own: string | null}} */
  get toCome() {
    return { libraries: this.#coming?.came ?? [], own: this.#coming?.only ?? null };
  }

  /** @param {Stage} stage where it is shown */
  show(stage) {
    this.#stage = stage;
    stage.onRestored(() => {
      this.#release(() => true);
      this.#settle();
    });
    this.#store.watch(["model"], ({ model }) => this.#follow(model));
  }

  /**
   * Adds dropped or chosen files.
   * @param {File[]} files for which `isCompanion` holds
   * @param {boolean} withModel whether they came with one that is about to be read
   */
  async give(files, withModel) {
    const { model, job, lens } = this.#store.state;
    const libraries = files.filter(isLibrary);
    const fresh = files.filter((file) => !isLibrary(file));
    const into = withModel ? new Shelf(libraries) : (job && this.#coming) || this.#shelf;
    if (withModel) this.#coming = into;
    into.give(fresh, () => (this.#numbers += 1), !withModel && libraries.length === 0);
    if (!withModel && !model && !job) {
      const names = files.length === 1 ? `${isolated(files[0]?.name ?? "")} is` : `These ${files.length} files are`;
      this.#store.set({
        notice: `${names} kept in this tab. Drop the OBJ too, and see ${files.length === 1 && fresh.length === 0 ? "what it says" : "it through the UVs"}.`,
      });
    } else if (!withModel && model && fresh.length > 0) {
      this.#tell(fresh.length === 1 ? `Reading ${isolated(fresh[0]?.name ?? "")} …` : `Reading ${fresh.length} pictures …`);
    }
    if (!withModel && model && fresh.length === 0 && lens !== "picture") {
      this.#store.set({ notice: `What ${libraries.map(({ name }) => isolated(name)).join(", ")} says is shown by the lens Picture.` });
    }
    await this.#read(into, libraries);
  }

  /**
   * Starts the next model's shelf, with its own libraries and without the previous model's pictures.
   * @param {File[]} libraries
   * @param {string | null} only see `own` of `linkMaterials`
   */
  leave(libraries, only) {
    this.#coming = this.#shelf.ownAlone(libraries, only);
    void this.#read(this.#coming, libraries);
  }

  /** @param {string} name of a loaded picture; empty for none */
  choose(name) {
    this.#shelf.choose(name);
    this.#settle();
  }

  /** @param {string} on which materials show it */
  wear(on) {
    this.#shelf.wear(on);
    this.#settle();
  }

  /** @param {string} notice only for now */
  #tell(notice) {
    if (notice || (this.#said && this.#store.state.notice === this.#said)) this.#store.set({ notice });
    this.#said = notice;
  }

  /**
   * @param {Shelf} into
   * @param {readonly File[]} libraries
   */
  async #read(into, libraries) {
    await into.read(libraries, ({ name }) =>
      this.#store.set({ notice: `${isolated(name)} could not be read. It may have been moved since it was chosen; drop it again.` }),
    );
    if (into === this.#shelf) this.#settle();
  }

  /** @param {Model | null} model */
  #follow(model) {
    if ((model?.id ?? null) === this.#shown) return;
    const isFirst = this.#shown === null;
    this.#shown = model?.id ?? null;
    if (model) {
      const known = this.#shelves.get(model.id);
      this.#shelf = known ?? this.#coming ?? (isFirst ? this.#shelf : this.#shelf.carried(model.summary.libraries));
      if (!known) this.#coming = null;
      this.#shelves.delete(model.id);
      this.#shelves.set(model.id, this.#shelf);
      const [oldest] = this.#shelves.keys();
      if (oldest !== undefined && this.#shelves.size > MOST_SHELVES) this.#shelves.delete(oldest);
    }
    this.#settle();
  }

  /** Updates 3D view and legend, and starts decoding of missing pictures. */
  #settle() {
    const { model } = this.#store.state;
    const stage = this.#stage;
    if (!stage) return;
    if (!model) {
      stage.setLooks({ looks: [], ground: -1, files: [] });
      this.#release(() => true);
      this.#store.set({ pictures: NO_PICTURES });
      return;
    }
    const { materials, libraries } = model.summary;
    const { found, missing } = linkMaterials(materials, libraries, this.#shelf.libraries, this.#shelf.only);
    const named = new Set(found.flatMap((material) => (material?.map ? [keyOf(material.map.file)] : [])));
    this.#shelf.takeFresh(named);
    this.#shelf.settle(materials);
    const { looks, rows, wanted, renewed, lacking } = this.#worn(model, found);
    const most = this.#sideOf(wanted.size);
    stage.setLooks({
      looks,
      ground: looks.length === 1 ? 0 : -1,
      files: [...wanted].map(({ number, file }) => ({ number, file, most })),
    });
    this.#release((picture) => !wanted.has(picture));
    const due = [...wanted, ...renewed];
    if (stage.mostPicturePx > 0) for (const picture of due) this.#bring(picture, most);
    const busy = due.some(({ state }) => state === "reading");
    const { own, on, next, pictures } = this.#shelf;
    const choices = [...pictures.values()].filter(({ file, state }) => !named.has(keyOf(file.name)) && state !== "failed");
    if (own && !choices.includes(own)) choices.push(own);
    this.#store.set({
      pictures: {
        rows: rows.map((row) => row()),
        choices: choices.map(({ file }) => file.name),
        own: (next?.picture ?? own)?.file.name ?? "",
        on: next?.on ?? on,
        missing: [...new Set([...missing, ...lacking])],
        shown: wanted.size > 0,
        busy,
      },
    });
    if (!busy) this.#tell("");
  }

  /**
   * What each material shows now. Rows of the legend are created once it is known what is being decoded.
   * @param {Model} model
   * @param {readonly (Material | null)[]} found the materials' own, as libraries say
   */
  #worn({ mesh, summary }, found) {
    const { own, on, next, pictures } = this.#shelf;
    /** @type {Map<string, {look: Look, runs: number[]}>} */
    const looks = new Map();
    /** @type {Set<Picture>} */
    const wanted = new Set();
    /** Being decoded while the previous picture is still shown. @type {Set<Picture>} */
    const renewed = new Set(next ? [next.picture] : []);
    /** @type {string[]} */
    const lacking = [];
    /** @type {(() => Shown["rows"][number])[]} */
    const rows = [];
    for (const [index, runs] of runsOf(mesh)) {
      const [name, material] = [summary.materials[index] ?? "", found[index] ?? null];
      const itsMap = material?.map ?? null;
      const latest = itsMap ? (pictures.get(keyOf(itsMap.file)) ?? null) : null;
      if (latest?.previous) renewed.add(latest);
      const its = latest?.previous ?? latest;
      if (itsMap && !its) lacking.push(baseName(itsMap.file));
      const isOwn = own !== null && (on === "all" || (on === "rest" ? !its || its.state === "failed" : on === `=${name}`));
      const map = isOwn ? null : itsMap;
      const picture = isOwn ? own : its;
      const shows = picture && picture.state !== "failed" ? picture : null;
      if (shows) wanted.add(shows);
      const look = {
        picture: shows?.number ?? -1,
        colour: isOwn ? null : (material?.colour ?? null),
        scale: map?.scale ?? [1, 1],
        offset: map?.offset ?? [0, 0],
        clamp: map?.clamp ? 1 : 0,
      };
      const key = JSON.stringify(look);
      const known = looks.get(key);
      if (known) known.runs = known.runs.concat(runs);
      else looks.set(key, { look: /** @type {Look} */ ({ ...look, runs: new Uint32Array() }), runs });
      rows.push(() => ({ name, ...told(picture, map?.file ?? "", material) }));
    }
    return { looks: [...looks.values()].map(({ look, runs }) => ({ ...look, runs: Uint32Array.from(runs) })), rows, wanted, renewed, lacking };
  }

  /** Notes which pictures the view has not any more. @param {(picture: Picture) => boolean} isGone */
  #release(isGone) {
    for (const picture of [...this.#held].filter(isGone)) {
      this.#held.delete(picture);
      picture.state = "waiting";
    }
  }

  /** Longest side for so many pictures, px. @param {number} count */
  #sideOf(count) {
    let side = this.#stage?.mostPicturePx ?? LEAST_PX;
    for (let room = FULL_SIZE; room < count && side > LEAST_PX; room *= 4) side /= 2;
    return side;
  }

  /**
   * Decodes a picture, unless it is there at its largest allowed size.
   * @param {Picture} picture
   * @param {number} most
   */
  #bring(picture, most) {
    const longest = picture.size ? Math.max(...picture.size.from) : Infinity;
    const fits = Math.min(picture.most, longest) === Math.min(most, longest);
    if (picture.state === "failed" || (picture.state !== "waiting" && fits)) return;
    picture.state = "reading";
    picture.most = most;
    this.#decoder.read(picture.number, picture.file, most, this.#store.state.graphics === "none", (decoded) => {
      if (decoded) this.#arrived(picture, decoded);
      else this.#failed(picture);
    });
  }

  /**
   * @param {Picture} picture
   * @param {Decoded} decoded
   */
  #arrived(picture, { pixels, ...size }) {
    picture.size = size;
    picture.previous = null;
    const shelf = this.#shelf;
    const isOurs = this.#store.state.graphics !== "lost" && shelf.all.includes(picture);
    picture.state = isOurs ? "there" : "waiting";
    if (!isOurs) return;
    this.#held.add(picture);
    this.#stage?.setPicture(picture.number, { pixels, ...size });
    this.#settle();
    if (!shelf.turns || picture.state !== "there") return;
    shelf.turns = false;
    if (this.#store.state.lens !== "picture") this.#store.set({ lens: "picture" });
    this.#say(`${isolated(picture.file.name)} is shown through the UVs.`);
  }

  /** @param {Picture} picture */
  #failed(picture) {
    picture.state = "failed";
    this.#shelf.leave(picture);
    this.#settle();
    this.#tell("");
    this.#store.set({
      notice: `${isolated(picture.file.name)} could not be read as a picture: it is damaged, or of a kind that this browser does not show. Save it as PNG, JPEG or WebP and drop it again.`,
    });
  }
}

/**
 * The legend's row of a material's picture.
 * @param {Picture | null} picture
 * @param {string} file that the material names
 * @param {Material | null} material
 */
function told(picture, file, material) {
  const plain = material?.colour ? "its plain colour" : NO_PICTURE;
  if (picture?.state === "failed") return { shows: `${isolated(baseName(file))} cannot be shown here; ${plain}`, trouble: true };
  if (picture?.size) {
    const {
      width,
      height,
      from: [wide, high],
    } = picture.size;
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
