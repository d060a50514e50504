/**
 * The parts of the page that start one after another: each is null until it is ready, and stays null if the page cannot start.
 *
 * @import {startMemory} from "./memory.js"
 * @import {startDrop} from "./drop.js"
 * @import {Batch} from "../batch/batch.js"
 * @import {ClassPages} from "../batch/pages.js"
 * @import {startBrief} from "../brief/brief.js"
 * @import {Versions} from "../compare/compare.js"
 * @import {startGrid} from "../lenses/grid.js"
 * @import {Notes} from "../notes/notes.js"
 * @import {Reviewing} from "../notes/reviewing.js"
 * @import {startSave} from "../save/save.js"
 * @import {startShare} from "../share/share.js"
 * @import {Stage} from "../stage/stage.js"
 */

export class Parts {
  /** @type {WebAssembly.Module | null} */
  module = null;
  /** @type {Stage | null} */
  stage = null;
  /** @type {ReturnType<typeof startGrid> | null} */
  grid = null;
  /** @type {ReturnType<typeof startBrief> | null} */
  brief = null;
  /** Why this brief is invalid; nothing if it is valid. @type {(brief: object) => string | undefined} */
  briefTrouble = () => "Gridproof has not started.";
  /** @type {ReturnType<typeof startSave> | null} */
  save = null;
  /** @type {Notes | null} */
  notes = null;
  /** @type {Reviewing | null} */
  reviewing = null;
  /** @type {Versions | null} */
  versions = null;
  /** @type {Batch | null} */
  batch = null;
  /** @type {ClassPages | null} */
  pages = null;
  /** @type {ReturnType<typeof startShare> | null} */
  share = null;
  /** @type {ReturnType<typeof startDrop> | null} */
  drop = null;
  /** @type {ReturnType<typeof startMemory> | null} */
  memory = null;
  /** Resolves once all parts are ready. @type {Promise<void>} */
  started = new Promise(() => {});
}
