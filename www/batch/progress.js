/**
 * Messages while a class is opened, measured and saved: the progress line, the result, and announcements for screen readers.
 *
 * @import {Measuring} from "./measuring.js"
 * @import {Roster} from "./roster.js"
 * @import {Store} from "../core/state.js"
 */

import { OUTCOME_SIGNS, outcomeOf, OUTCOMES } from "./rows.js";
import { byId } from "../base/dom.js";
import { counted, whole } from "../base/format.js";

/** Between two announcements, ms, so that each can be heard to its end. */
const SPEAK_MS = 10_000;

export class Progress {
  #store;
  #roster;
  #measuring;
  #say;
  #line = byId("class-job", HTMLElement);
  #text = byId("class-job-text", HTMLElement);
  #bar = byId("class-job-bar", HTMLProgressElement);
  #again = byId("class-again", HTMLButtonElement);
  #outcome = byId("class-outcome", HTMLElement);
  #spoken = 0;
  /** Progress of saving; null if nothing is being saved. @type {{done: number, of: number, doing: string} | null} */
  making = null;

  /**
   * @param {Store} store
   * @param {Roster} roster
   * @param {Measuring} measuring
   * @param {(text: string) => void} say for screen readers
   */
  constructor(store, roster, measuring, say) {
    this.#store = store;
    this.#roster = roster;
    this.#measuring = measuring;
    this.#say = say;
    this.#again.addEventListener("click", () => measuring.measure());
  }

  /** The result of a job. @param {string} text */
  tell(text) {
    this.#outcome.textContent = text;
    this.#outcome.hidden = text === "";
  }

  show() {
    const { job } = this.#store.state;
    const opening = job?.stage === "opening" ? job : null;
    const isMeasuring = this.#measuring.isRunning;
    this.#line.hidden = !opening && !this.making && !isMeasuring;
    this.#again.hidden = isMeasuring || !this.#roster.rows.some((row) => row.state === "stopped" || (row.state === "measured" && !row.isWhole));
    if (opening) {
      this.#text.textContent = `Opening ${opening.name} …`;
      this.#bar.removeAttribute("value");
    } else if (this.making) {
      const { done, of, doing } = this.making;
      this.#text.textContent = `${doing}: ${whole(done)} of ${whole(of)}`;
      this.#bar.value = done / of;
    } else if (isMeasuring) {
      this.#showMeasured();
    }
  }

  #showMeasured() {
    const { rows } = this.#roster;
    const known = rows.filter((row) => outcomeOf(row) !== null).length;
    const now = rows
      .filter(({ state }) => state === "measuring")
      .map(({ source }) => source.name)
      .join(", ");
    const complete = rows.filter(({ state, isWhole }) => state !== "measured" || isWhole).length;
    const [done, doing] = known < rows.length ? [known, "Measured"] : [complete, "All measured. Seams:"];
    this.#text.textContent = `${doing} ${whole(done)} of ${whole(rows.length)}${known < rows.length && now ? `: now ${now}` : ""}`;
    this.#bar.value = done / rows.length;
  }

  /** Another class is measured. */
  begin() {
    this.#say(`${counted(this.#roster.rows.length, "file")}. They are being measured.`);
    this.#spoken = performance.now();
  }

  /** Announces progress from time to time, and the result at the end. */
  speak() {
    const { rows } = this.#roster;
    const known = rows.filter((row) => outcomeOf(row) !== null).length;
    const now = performance.now();
    if (known === rows.length && this.#spoken > 0) {
      this.#spoken = 0;
      const parts = OUTCOMES.map((entry) => ({ entry, of: rows.filter((row) => outcomeOf(row) === entry).length })).filter(({ of }) => of > 0);
      this.#say(`All ${rows.length} files are measured: ${parts.map(({ entry, of }) => `${of} ${OUTCOME_SIGNS[entry].word.toLowerCase()}`).join(", ")}.`);
    } else if (known < rows.length && now - this.#spoken > SPEAK_MS && this.#measuring.isRunning) {
      this.#spoken = now;
      this.#say(`${known} of ${rows.length} files are measured.`);
    }
  }
}
