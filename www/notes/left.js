/**
 * An unfinished note or reason of an earlier visit or a crash, offered when its file is on screen again.
 *
 * @import {DraftMemory} from "./draft-memory.js"
 * @import {Writing} from "./writing.js"
 * @import {Finding} from "../core/messages.js"
 * @import {Store} from "../core/state.js"
 */

import { asText, goOnWith, keepReasons, leaveReasons } from "../findings/decisions.js";
import { byId } from "../base/dom.js";
import { isolated } from "../base/format.js";

/** Shown characters of a left draft. */
const SHOWN_MOST = 80;

export class Left {
  #store;
  #drafts;
  #writing;
  #chooseFinding;
  #notice = byId("draft-left", HTMLElement);
  /** The file on which a draft was looked for. @type {string | null} */
  #asked = null;
  /** The last file that had a report. */
  #last = "";
  /** A closed tab's draft on this file. @type {Awaited<ReturnType<DraftMemory["left"]>>} */
  #note = null;
  /** The same for a reason. @type {Awaited<ReturnType<DraftMemory["leftReason"]>>} */
  #reason = null;

  /**
   * @param {Store} store
   * @param {DraftMemory} drafts
   * @param {Writing} writing
   * @param {{say: (text: string) => void, chooseFinding: (finding: Finding | null) => void}} page
   */
  constructor(store, drafts, writing, { say, chooseFinding }) {
    this.#store = store;
    this.#drafts = drafts;
    this.#writing = writing;
    this.#chooseFinding = chooseFinding;
    store.watch(["model"], ({ model }) => this.#look(model?.report?.file.sha256 ?? null));
    keepReasons((finding, text) => {
      const sha256 = store.state.model?.report?.file.sha256;
      if (sha256 && !drafts.keepReason(sha256, finding, text)) say("The browser keeps no drafts here: the reason lasts once it is decided.");
    });
    byId("draft-left-take", HTMLButtonElement).addEventListener("click", () => this.#take());
    byId("draft-left-leave", HTMLButtonElement).addEventListener("click", () => {
      this.#note?.leave();
      this.#reason?.leave();
      this.#forget();
      byId("surface-large", HTMLElement).focus();
    });
  }

  /** @param {string | null} sha256 of the model on screen, once it has a report */
  #look(sha256) {
    if (sha256 !== null && sha256 !== this.#last) leaveReasons();
    this.#last = sha256 ?? this.#last;
    if (sha256 !== null && sha256 !== this.#asked) void this.#offerLeft(sha256);
    this.#asked = sha256;
    if (sha256 === null) this.#forget();
  }

  #forget() {
    this.#note = this.#reason = null;
    this.#notice.hidden = true;
  }

  /** @param {string} sha256 of the model on screen */
  async #offerLeft(sha256) {
    const found = await this.#drafts.left(sha256);
    const isThere = this.#store.state.model?.report?.file.sha256 === sha256;
    if (!isThere || this.#store.state.draft) return;
    this.#note = found;
    if (found) offer(`A note on ${found.note.shell ?? "this model"} was`, found.text);
    else await this.#offerReason(sha256);
    this.#notice.hidden = !this.#note && !this.#reason;
  }

  /** @param {string} sha256 of the model on screen */
  async #offerReason(sha256) {
    const found = await this.#drafts.leftReason(sha256);
    const { report } = this.#store.state.model ?? {};
    const finding = report?.findings.find(({ id }) => id === found?.finding);
    this.#reason = found && finding && report?.file.sha256 === sha256 ? found : null;
    if (this.#reason && finding) offer(`Why “${finding.title}” is intended was`, this.#reason.text);
  }

  /** Continues it. */
  #take() {
    const { model, notes } = this.#store.state;
    const [taken, reason] = [this.#note, this.#reason];
    this.#forget();
    const finding = model?.report?.findings.find(({ id }) => id === reason?.finding);
    if (reason && finding) {
      goOnWith(reason.finding, reason.text);
      reason.leave();
      // Its card is replaced, with the form.
      this.#chooseFinding(null);
      this.#chooseFinding(finding);
    }
    if (!taken || !model) return;
    const { note, text } = taken;
    const place = { point: /** @type {[number, number, number]} */ (note.point.map((value, axis) => value - (model.mesh.centre[axis] ?? 0))), uv: note.uv };
    this.#writing.write(notes.find(({ id }) => id === note.id) ?? { ...note, text: "", place }, text);
    if (this.#store.state.draft) taken.leave();
  }
}

/**
 * @param {string} what kind of draft
 * @param {string} text of it
 */
function offer(what, text) {
  const words = asText(text).replace(/\s+/g, " ");
  const short = [...words].slice(0, SHOWN_MOST).join("");
  byId("draft-left-text", HTMLElement).textContent = `${what} being written when the page was left: “${isolated(short)}${short === words ? "" : " …"}”`;
}
