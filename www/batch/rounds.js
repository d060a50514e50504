/**
 * What became of each student's upload before: finding by finding, matched as two versions are (src/compare.rs), where both
 * uploads were kept with their findings; else kind by kind. The matching is in the module that reports are made with, so a
 * worker loads it, and only where there is an upload before.
 *
 * Kept of an upload is what the matching needs: kind, place, names and number of each finding, up to 60; where there are
 * more, kinds are counted.
 *
 * @import {ClassMemory, KeptFinding, Round} from "./memory.js"
 * @import {Row, Since} from "./rows.js"
 * @import {Brief, ClassResult, Comparison} from "../core/messages.js"
 */

import { MOST_ROUND } from "./memory.js";
import { countsOf, sinceOf } from "./rows.js";
import { keyOfName } from "./students.js";
import { compileEngine, REPORT_CODE } from "../core/engine.js";
import { LivingWorker } from "../base/living-worker.js";

const SCRIPT = new URL("./rounds.worker.js", import.meta.url);
/** Digits of a place that are kept: far finer than what tells two findings apart. */
const DIGITS = 6;

/**
 * The brief as far as it judges: points change no finding.
 * @param {Brief} brief
 */
export function judging({ rubric: _, ...brief }) {
  return JSON.stringify(brief);
}

export class Rounds {
  #heard;
  /** @type {Promise<LivingWorker> | null} */
  #worker = null;
  /** @type {Map<number, (comparison: Comparison | null) => void>} */
  #asked = new Map();
  #count = 0;

  /** @param {(row: Row, since: Since | null) => void} heard */
  constructor(heard) {
    this.#heard = heard;
  }

  get busy() {
    return this.#asked.size > 0;
  }

  /**
   * Keeps a row's upload, and tells what became of the one before: only where it is clear which one counts.
   * @param {Row} row that was measured to the end
   * @param {ClassMemory} memory
   * @param {Brief} brief
   */
  async tell(row, memory, brief) {
    const { state, result, sha256, several, counts: isCounted } = row;
    if (state !== "measured" || !result || !sha256) return;
    if (several > 1 && isCounted !== true) {
      this.#heard(row, null);
      return;
    }
    const round = roundOf(result, sha256, judging(brief));
    const former = memory.round(keyOfName(row.student), round);
    if (!former) {
      this.#heard(row, null);
      return;
    }
    const comparison = former.findings && round.findings ? await this.#compare(former, round) : null;
    // Measured anew, or told not to count, meanwhile.
    if (row.result !== result) return;
    this.#heard(row, comparison
      ? { fixed: comparison.fixed.length, still: comparison.still_there.length, fresh: comparison.new.length }
      : { ...sinceOf(former.counts, round.counts), kinds: true });
  }

  /**
   * @param {Round} former
   * @param {Round} round
   * @returns {Promise<Comparison | null>} null where it cannot be had
   */
  async #compare(former, round) {
    const id = (this.#count += 1);
    const answer = new Promise((/** @type {(comparison: Comparison | null) => void} */ done) => this.#asked.set(id, done));
    try {
      const worker = await (this.#worker ??= this.#start());
      const version = (/** @type {Round} */ { bounds = null, findings = [] }) => ({ bounds, spots: findings.map(({ title: _, ...spot }) => spot) });
      worker.postMessage({ type: "compare", id, previous: version(former), newer: version(round) });
    } catch {
      this.#end();
    }
    return answer;
  }

  async #start() {
    const module = await compileEngine(REPORT_CODE);
    const worker = new LivingWorker(SCRIPT, { type: "module", name: "gridproof rounds" });
    worker.addEventListener("message", ({ data }) => {
      this.#asked.get(data.id)?.(data.comparison);
      this.#asked.delete(data.id);
      if (this.#asked.size === 0) this.#end();
    });
    for (const wrong of ["error", "messageerror"]) {
      worker.addEventListener(wrong, (event) => {
        event.preventDefault();
        this.#end();
      });
    }
    worker.postMessage({ type: "start", module });
    return worker;
  }

  /** Nothing more is asked, or nothing will be answered. */
  #end() {
    void this.#worker?.then((worker) => worker.terminate(), () => {});
    this.#worker = null;
    for (const done of this.#asked.values()) done(null);
    this.#asked.clear();
  }
}

/**
 * @param {ClassResult} result
 * @param {string} sha256
 * @param {string} brief
 * @returns {Round}
 */
function roundOf(result, sha256, brief) {
  const counting = result.findings.filter(({ severity }) => severity !== "info");
  const rounded = (/** @type {number[]} */ place) => /** @type {[number, number, number]} */ (place.map((value) => Number(value.toPrecision(DIGITS))));
  const findings = counting.map((/** @type {KeptFinding} */ finding) => {
    const { place } = finding;
    return { ...finding, place: place && { ...place, centre: rounded(place.centre), ...(place.eye && { eye: rounded(place.eye) }) } };
  });
  return { sha256, brief, counts: countsOf(result), ...(findings.length <= MOST_ROUND && { findings, bounds: result.bounds }) };
}
