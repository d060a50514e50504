/**
 * Review pages of a class: one for each model, with the model, the active brief, and the notes and decisions on that file,
 * which reports get from here too.
 *
 * The page's own files are packed once for all; each page goes into the zip before the next is started, so that
 * only the zip grows. Thirty of them are thirty times the page, so the size is shown first.
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

/** Chunk size for the digest, bytes: some milliseconds of the main thread. */
const SLICE_BYTES = 1 << 19;
/** Bytes of a few files that are compressed to estimate the ratio. */
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
     * Estimated size of a zip of their pages, bytes: pages have compressed models as base64, which a zip compresses back.
     * @param {ClassSource[]} sources
     */
    async bytes(sources) {
      const all = sources.reduce((sum, { bytes }) => sum + bytes, 0);
      return (await pageBytes(engine)) * sources.length + all * (await shareLeft(sources));
    },

    /**
     * Notes and decisions on files of this size, for a report.
     * @param {number} size bytes
     * @returns {WrittenReview[]}
     */
    written: (size) => memory.ofSize(size).map(({ sha256, notes, decisions }) => ({ sha256, ...givenOf(notes, decisions) })),

    /**
     * @param {File} file
     * @param {Report["sheets"] | null} sheets if pictures decided them, which the page does not have
     * @param {Since | null} since comparison with the previous upload
     */
    async make(file, sheets, since) {
      const sha256 = await digestOf(file, engine);
      const { notes, decisions } = memory.ofSize(file.size).find((entry) => entry.sha256 === sha256) ?? { notes: [], decisions: [] };
      const { brief, grid } = store.state;
      const about = { name: asLabel(file.name), bytes: file.size, sha256 };
      const review = writeReview({
        file: about,
        sender: senderKept(),
        since,
        camera: null,
        lens: "grid",
        finding: null,
        note: null,
        brief: withSheets(brief, sheets),
        grid,
        notes: [...notes],
        decisions: [...decisions],
      });
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
 * Estimated compression ratio of models, 0..1, from the beginnings of some; models in zips are assumed to be like the others,
 * or a third of their unpacked size.
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
