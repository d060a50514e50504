/**
 * The page's record of a worker's model: its id and layout, its edits, and what its reports include. Enough to restore it
 * after its worker has ended.
 *
 * @import {AboutMessage, Edit, Followed, FromWorker, GivenReview, Step, Subject, ToWorker, Which} from "../core/messages.js"
 */

/** A model whose worker has ended. `undone`: edits that can be taken again, the next first. @typedef {{subject: Subject, undone: readonly Edit[]}} Lost */

/** Most memory of a model's edits, bytes: they are kept here and in its worker. */
const MOST_EDIT_BYTES = 2 ** 28;

/** Messages that are valid for any layout. @type {readonly FromWorker["type"][]} */
const ANY_LAYOUT = ["stepped", "saving", "saved", "unsaved", "failed"];

export class Served {
  #source;
  /** Null before it is known. @type {number | null} */
  #modelId = null;
  /** Of its layout. */
  #revision = 0;
  /** That of the last report. */
  #reported = 0;
  /** Revision that notes and decisions are about: that of the report on screen. */
  #written = 0;
  /** The review that it judges with. */
  #told = textOf({ notes: [], places: new Float64Array(), decisions: [] });
  /** The review under another layout, until that can be shown. @type {Followed | null} */
  #followed = null;
  /** Edit history; edits after `#applied` can be redone. @type {Edit[]} */
  #edits;
  #applied;
  /** Those without an answer. @type {Map<number, {step: Step, done: (refusal: string) => void}>} */
  #steps = new Map();
  #lastStep = 0;
  /** Number of briefs and reviews sent after the first, and how many of them the last report includes. */
  #sent = 0;
  #judged = 0;
  /** Messages that wait until the model has an id. @type {AboutMessage[]} */
  #early = [];

  /** @param {Lost} lost */
  constructor({ subject: { source, plan }, undone }) {
    this.#source = source;
    this.#edits = [...(plan ?? []), ...undone];
    this.#applied = plan?.length ?? 0;
  }

  /** @returns {Lost} */
  get lost() {
    const plan = this.#applied > 0 ? this.#edits.slice(0, this.#applied) : null;
    return { subject: { source: this.#source, plan }, undone: this.#edits.slice(this.#applied) };
  }

  /** Its source, edits, id and revision. @returns {Subject & Which} */
  get subject() {
    return { ...this.lost.subject, modelId: this.#modelId ?? 0, revision: this.#revision };
  }

  /** Whether a report is due. */
  get busy() {
    return this.#sent > this.#judged || this.#steps.size > 0 || this.#revision > this.#reported;
  }

  /**
   * The message ready to be sent; null if it has to wait.
   * @param {AboutMessage} message
   * @returns {ToWorker | null}
   */
  named(message) {
    if (this.#modelId === null) this.#early.push(message);
    const revision = message.type === "review" ? this.#written : this.#revision;
    return this.#modelId === null ? null : { ...message, modelId: this.#modelId, revision };
  }

  /** A report is due after what is sent now. */
  count() {
    this.#sent += 1;
  }

  /**
   * @param {GivenReview} review
   * @returns {boolean} whether it judges with that already
   */
  knows(review) {
    const text = textOf(review);
    const isKnown = text === this.#told;
    this.#told = text;
    return isKnown;
  }

  /**
   * A step that is to be sent.
   * @param {Step} step
   * @param {(refusal: string) => void} done
   * @returns {number | null} its number; null if the limit is reached, which was reported
   */
  begin(step, done) {
    const waiting = Array.from(this.#steps.values(), (other) => other.step);
    const edits = [...waiting, step].flatMap((other) => (other.do === "apply" ? [other.edit] : []));
    const bytes = [...this.#edits.slice(0, this.#applied), ...edits].reduce((sum, { corners, uvs }) => sum + corners.byteLength + uvs.byteLength, 0);
    if (bytes > MOST_EDIT_BYTES) {
      done(`The changes of this model take all the memory that there is for them (${MOST_EDIT_BYTES / 2 ** 20} MB).`);
      return null;
    }
    this.#lastStep += 1;
    this.#steps.set(this.#lastStep, { step, done });
    return this.#lastStep;
  }

  /** Its worker is ended. */
  end() {
    for (const { done } of this.#steps.values()) done("The model was closed before its UVs were changed.");
  }

  /**
   * Whether a message is about this model and not about an older layout of it.
   * @param {FromWorker} message
   */
  isOfNow(message) {
    if (message.type === "opened") this.#modelId = message.modelId;
    if (message.type === "mesh") this.#revision = this.#written = this.#reported = message.revision;
    return message.type === "failed" || (message.modelId === this.#modelId && (message.revision >= this.#revision || ANY_LAYOUT.includes(message.type)));
  }

  /**
   * Records a message. Removes the review from a report that is older than the latest notes.
   * @param {FromWorker} message a current one
   * @returns {AboutMessage[]} messages that can now be sent
   */
  hear(message) {
    switch (message.type) {
      case "opened":
        return this.#early.splice(0);
      case "uvs": {
        this.#revision = message.revision;
        const step = this.#steps.get(message.id)?.step;
        if (step?.do === "apply") this.#edits.splice(this.#applied, Infinity, step.edit);
        if (step) this.#applied += step.do === "undo" ? -1 : 1;
        return [];
      }
      case "stepped":
        this.#steps.get(message.id)?.done(message.refusal);
        this.#steps.delete(message.id);
        return [];
      case "report": {
        this.#judged = message.briefs;
        this.#reported = message.revision;
        const followed = message.followed ?? this.#followed;
        const isOvertaken = this.#sent > this.#judged;
        this.#followed = isOvertaken ? followed : null;
        message.followed = isOvertaken ? null : followed;
        if (!isOvertaken) this.#written = message.revision;
        if (message.followed) this.#told = textOf(message.followed);
        return [];
      }
      default:
        return [];
    }
  }
}

/** @param {GivenReview} review */
function textOf({ notes, places, decisions }) {
  return JSON.stringify([notes, [...places], decisions]);
}
