/**
 * Compares each student's upload with the previous one: finding by finding, matched like two versions (src/compare.rs), if both
 * uploads were stored with their findings; else by kind. The matching is in the report module, so a worker loads it,
 * and only if there is a previous upload.
 *
 * Stored of an upload is what the matching needs: kind, place, names and number of each finding, up to 60; beyond
 * that, kinds are counted.
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
/** Stored digits of a place: far finer than the distance between two findings. */
const DIGITS = 6;

/**
 * The brief without the rubric, which changes no finding.
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
   * Stores a row's upload, and compares it with the previous one, if it is clear which file counts.
   * @param {Row} row that is completely measured
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
    // Measured again, or set not to count, meanwhile.
    if (row.result !== result) return;
    this.#heard(
      row,
      comparison
        ? { fixed: comparison.fixed.length, still: comparison.still_there.length, fresh: comparison.new.length }
        : { ...sinceOf(former.counts, round.counts), kinds: true },
    );
  }

  /**
   * @param {Round} former
   * @param {Round} round
   * @returns {Promise<Comparison | null>} null if it is not available
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

  /** Ends the worker; pending comparisons get no result. */
  #end() {
    void this.#worker?.then(
      (worker) => worker.terminate(),
      () => {},
    );
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
