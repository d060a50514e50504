/**
 * Review pages of a class: one for each model, with the model in it, the active brief, and what was noted and decided
 * about that very file. Its reports ask here too what that is.
 *
 * The page's own files are packed once and shared by all; each page goes into the zip before the next is begun, so that
 * only the zip grows. Thirty of them are thirty times the page, so the size is said first.
 *
 * @import {ClassSource, Engine, Report, WrittenReview} from "../core/messages.js"
 * @import {ReviewMemory} from "../notes/memory.js"
 * @import {Since} from "../core/review.js"
 * @import {Store} from "../core/state.js"
 */

import { asLabel, withSheets, writeReview } from "../core/review.js";
import { packPage, pageBytes, reviewPage } from "../share/page.js";
import { givenOf } from "../notes/reviewing.js";
import { senderKept } from "../share/share.js";

/** Digested at a time, bytes: some milliseconds of the page's thread. */
const SLICE_BYTES = 1 << 19;
/** What is compressed of a few files to tell how far the others will be, bytes. */
const SAMPLE_BYTES = 1 << 16;
const SAMPLES = 4;

/** @typedef {ReturnType<typeof classPages>} ClassPages */

/**
 * @param {Engine} engine
 * @param {Store} store
 * @param {ReviewMemory} memory
 */
export function classPages(engine, store, memory) {
  return {
    /**
     * About how large a zip of their pages will be, bytes: pages hold compressed models as letters, which a zip makes about
     * as small again.
     * @param {ClassSource[]} sources
     */
    async bytes(sources) {
      const all = sources.reduce((sum, { bytes }) => sum + bytes, 0);
      return (await pageBytes(engine)) * sources.length + all * (await shareLeft(sources));
    },

    /**
     * What a report takes over about files of this size.
     * @param {number} size bytes
     * @returns {WrittenReview[]}
     */
    written: (size) => memory.ofSize(size).map(({ sha256, notes, decisions }) => ({ sha256, ...givenOf(notes, decisions) })),

    /**
     * @param {File} file
     * @param {Report["sheets"] | null} sheets where pictures decided them, which the page does not have
     * @param {Since | null} since what became of the findings of the upload before
     */
    async make(file, sheets, since) {
      const sha256 = await digestOf(file, engine);
      const { notes, decisions } = memory.ofSize(file.size).find((entry) => entry.sha256 === sha256) ?? { notes: [], decisions: [] };
      const { brief, grid } = store.state;
      const about = { name: asLabel(file.name), bytes: file.size, sha256 };
      const review = writeReview({ file: about, sender: senderKept(), since, camera: null, lens: "grid", finding: null, note: null, brief: withSheets(brief, sheets), grid, notes: [...notes], decisions: [...decisions] });
      return reviewPage(await packPage(engine, { source: { file }, plan: null }, file.name), review);
    },
  };
}

/**
 * @param {File} file
 * @param {Engine} engine
 */
async function digestOf(file, engine) {
  const digest = new engine.Digest();
  for (let at = 0; at < file.size; at += SLICE_BYTES) digest.update(new Uint8Array(await file.slice(at, at + SLICE_BYTES).arrayBuffer()));
  return digest.finish();
}

/**
 * What compressing leaves of models, 0..1, by the beginnings of some; those in zips are compressed already, and are taken for
 * like the others, or for a third of what they unfold to.
 * @param {ClassSource[]} sources
 */
async function shareLeft(sources) {
  const files = sources.flatMap((source) => ("file" in source ? [source.file] : []));
  const step = Math.max(1, Math.floor(files.length / SAMPLES));
  let [before, after] = [0, 0];
  for (let at = 0; at < files.length; at += step) {
    const sample = files[at]?.slice(0, SAMPLE_BYTES) ?? new Blob();
    before += sample.size;
    after += (await new Response(sample.stream().pipeThrough(new CompressionStream("gzip"))).arrayBuffer()).byteLength;
  }
  return before > 0 ? after / before : 1 / 3;
}
