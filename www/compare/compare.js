/**
 * Two versions of a model. A file opened while a measured model is on screen is compared with it: the previous one
 * stays with its worker, and one key switches between the two, with the same views and, by place, the same selection. Notes and
 * decisions are carried over from the previous version to the new one. Exactly one previous version is kept.
 *
 * Findings are matched by src/compare.rs, in the new version's worker.
 *
 * Two workers and two sets of buffers, so that switching is a change of the store and an upload instead of reading the file
 * again, and the model on screen always has its own worker. Matching is in the second module, to keep the first small.
 *
 * @import {Comparison, Finding, MeasuredMessage, ReportMessage, UvsMessage} from "../core/messages.js"
 * @import {Reader} from "../model/reader.js"
 * @import {Pin} from "../notes/pin.js"
 * @import {Pair} from "./pair.js"
 * @import {Decided, SavedNote} from "../core/review.js"
 * @import {Stage} from "../stage/stage.js"
 * @import {Model, Note, Store} from "../core/state.js"
 */

import { Details } from "./details.js";
import { isAkin, mover, versionOf } from "./pair.js";
import { withUvs } from "../core/state.js";
import { VERDICTS } from "../findings/verdict.js";
import { pinOf } from "../notes/pin.js";
import { followedBy } from "../notes/reviewing.js";
import { byId, make } from "../base/dom.js";
import { bytes, counted, isolated, whole } from "../base/format.js";

/** Most bytes of the two files together: a model takes some 1.8 times its file in its worker, and its buffers in the page. */
const MOST_BYTES = 1e9;

/** A version that is not on screen. @typedef {{model: Model, notes: readonly Note[], decisions: readonly Decided[]}} Aside */
/** What came over from the previous version. @typedef {{notes: number, lost: number, decisions: number}} Carried */

/**
 * @typedef {object} Page
 * @property {(finding: Finding) => void} choose
 * @property {() => boolean} finish saves the open note; false if it is too long
 * @property {(change: () => void) => void} follow changes the store without a new entry in the address bar
 * @property {(notes: readonly SavedNote[], decisions: readonly Decided[]) => Promise<Carried>} carry
 * @property {(text: string) => void} say
 */

export class Versions {
  #store;
  #reader;
  #stage;
  #page;
  #details;
  #card = byId("versions", HTMLElement);
  #text = byId("versions-text", HTMLElement);
  #opener = byId("compare-open", HTMLButtonElement);
  /** Whether the file that is being read was opened by the user. */
  #isGiven = false;
  /** The version that is not on screen. @type {Aside | null} */
  #aside = null;
  /** Comparison of the findings; null until known. @type {Comparison | null} */
  #found = null;
  /** The findings that were compared last. */
  #compared = "";
  /** Carried over from the previous version; null if nothing. @type {Carried | null} */
  #carried = null;
  /** Whether comparing is only offered. */
  #isOffered = false;
  /** Whether comparing failed. */
  #isFailed = false;
  #isClosed = false;
  #working = 0;
  /** Where the shell was selected. @type {Pin | null} */
  #spot = null;

  /**
   * @param {Store} store
   * @param {Reader} reader
   * @param {Stage} stage
   * @param {Page} page
   */
  constructor(store, reader, stage, page) {
    this.#store = store;
    this.#reader = reader;
    this.#stage = stage;
    this.#page = page;
    this.#details = new Details(store, stage, { flip: () => this.flip(), choose: page.choose });
    store.watch(["chosen"], ({ chosen, finding, under, model }) => {
      const isPressed = finding === null && chosen.length === 1 && under?.shell === chosen[0];
      this.#spot = isPressed && under && model ? pinOf(under, model.mesh.centre) : null;
    });
    store.watch(["job", "previous"], () => this.#fill());
    byId("versions-flip", HTMLButtonElement).addEventListener("click", () => this.flip());
    for (const button of [byId("versions-details", HTMLButtonElement), this.#opener]) {
      button.addEventListener("click", () => {
        const pair = this.#pair();
        if (pair && this.#found) this.#details.open(pair, this.#found);
      });
    }
    byId("versions-compare", HTMLButtonElement).addEventListener("click", () => {
      this.#isOffered = false;
      void this.#match();
      byId("surface-large", HTMLElement).focus();
    });
    byId("versions-close", HTMLButtonElement).addEventListener("click", () => {
      if (this.#found) this.#isClosed = true;
      else this.#forget();
      this.#fill();
      byId("surface-large", HTMLElement).focus();
    });
  }

  /** Id of the version that is not on screen. */
  get kept() {
    return this.#aside?.model.id ?? null;
  }

  get busy() {
    return this.#working > 0;
  }

  /** @param {boolean} given whether the file that is about to be read was opened by the user */
  expect(given) {
    this.#isGiven = given;
  }

  /** Another model replaces the one on screen. @returns {boolean} whether the previous one is kept for comparison */
  replaced() {
    const { model, notes, decisions, job, previous } = this.#store.state;
    // The next file is compared with the new version, or with the previous one if the new one was never measured.
    const takesAside = previous || (this.#aside !== null && !(this.#reader.hasModel && model?.report));
    const newest = takesAside ? this.#aside : model && { model, notes, decisions };
    if (takesAside) this.#reader.flip();
    this.#endPair();
    if (!this.#isGiven || !newest?.model.report || !this.#reader.hasModel) return false;
    const sum = newest.model.bytes + (job?.total ?? 0);
    if (sum > MOST_BYTES) {
      this.#store.set({
        notice: `${isolated(newest.model.name)} was not kept to be compared: the two files have ${bytes(sum)} together, and ${bytes(MOST_BYTES)} are the most.`,
      });
      return false;
    }
    this.#aside = newest;
    return true;
  }

  /** The new version is measured. */
  measured() {
    const pair = this.#pair();
    if (!pair) return;
    this.#isOffered = !isAkin(pair);
    this.#fill();
    void this.#match();
  }

  /** The version on screen was judged again. */
  judged() {
    if (this.#aside) void this.#match();
  }

  /** @param {MeasuredMessage | ReportMessage | UvsMessage} message of the version that is not on screen */
  aside(message) {
    if (!this.#aside) return;
    const { model } = this.#aside;
    if (message.type === "uvs") {
      this.#aside = { ...this.#aside, model: withUvs(model, message) };
    } else if (message.type === "measured") {
      const { triangles, histograms, lines } = message;
      this.#aside = {
        ...this.#aside,
        model: { ...model, triangles: triangles ?? model.triangles, histograms: { ...model.histograms, ...histograms }, lines: lines ?? model.lines },
      };
    } else {
      const { report, shells, areas, followed } = message;
      this.#aside = { ...this.#aside, ...(followed && followedBy(this.#aside.notes, followed)), model: { ...model, report, shells, areas } };
      void this.#match();
    }
  }

  /**
   * Notes on a file were changed in another tab.
   * @param {string} sha256
   * @param {{notes: readonly Note[], decisions: readonly Decided[]}} kept
   */
  rewritten(sha256, { notes, decisions }) {
    if (this.#aside?.model.report?.file.sha256 === sha256) this.#aside = { ...this.#aside, notes, decisions };
  }

  /** Shows the other version with the same view and selection. */
  flip() {
    const pair = this.#pair();
    if (!pair || !this.#found || !this.#aside) {
      this.#store.set({ notice: pair ? "" : "There is no previous version to flip to. Drop another version of the model on the page." });
      return;
    }
    if (!this.#reader.hasAside) {
      this.#forget();
      this.#store.set({ notice: "The other version is gone: its measuring ended in trouble. Open its file again to compare." });
      return;
    }
    if (!this.#page.finish()) return;
    const { model, notes, decisions, finding, chosen, kind, previous } = this.#store.state;
    if (!model) return;
    const next = this.#aside;
    this.#aside = { model, notes, decisions };
    const { report } = next.model;
    const twin = this.#found.still_there.find((entry) => model.report?.findings[previous ? entry.old : entry.new]?.id === finding);
    const other = twin ? (report?.findings[previous ? twin.new : twin.old] ?? null) : null;
    const before = this.#spot;
    const { by_box: byBox } = this.#found;
    this.#page.follow(() =>
      this.#stage.holding(() => {
        this.#reader.flip();
        this.#store.set({
          ...next,
          previous: !previous,
          finding: other?.id ?? null,
          chosen: other?.shells ?? [],
          kind: report?.findings.some((entry) => entry.kind === kind) ? kind : null,
          note: null,
          placing: false,
          under: null,
        });
      }, byBox),
    );
    if (before && finding === null && chosen.length === 1) void this.#chooseAt(before, model, next.model, byBox);
    const verdict = report ? ` Verdict: ${VERDICTS[report.verdict].word}.` : "";
    this.#page.say(`${previous ? "The new" : "The previous"} version is shown: ${isolated(next.model.name)}.${verdict}`);
  }

  /** The previous and the new version; null without two versions. @returns {Pair | null} */
  #pair() {
    const { model, previous } = this.#store.state;
    if (!this.#aside || !model) return null;
    return previous ? { previous: model, newer: this.#aside.model } : { previous: this.#aside.model, newer: model };
  }

  /** The pair of versions is gone or replaced. */
  #endPair() {
    [this.#aside, this.#found, this.#carried, this.#compared] = [null, null, null, ""];
    this.#isOffered = this.#isFailed = this.#isClosed = false;
    this.#details.close();
    this.#store.set({ previous: false });
  }

  /** Releases the version that is not on screen. */
  #forget() {
    this.#reader.leaveAside();
    this.#endPair();
    this.#stage.tidy();
    this.#fill();
  }

  /** Compares the findings, unless that is done. */
  async #match() {
    const pair = this.#pair();
    if (!pair?.previous.report || !pair.newer.report || this.#isOffered || this.#reader.busy) return;
    const ask = { what: /** @type {const} */ ("compare"), previous: versionOf(pair.previous), newer: versionOf(pair.newer) };
    const asked = JSON.stringify(ask);
    if (asked === this.#compared) {
      this.#fill();
      return;
    }
    this.#compared = asked;
    // An answer about one pair is not about the next.
    const isOther = () => this.#pair()?.previous.id !== pair.previous.id || this.#pair()?.newer.id !== pair.newer.id;
    this.#working += 1;
    try {
      const answer = await this.#reader.ask(ask);
      if (isOther() || asked !== this.#compared) return;
      [this.#found, this.#isFailed] = [answer, answer === null];
      if (!answer) this.#compared = "";
      else if (!this.#carried && !this.#store.state.previous) await this.#takeOver(pair, answer);
    } finally {
      this.#working -= 1;
    }
    if (!isOther()) this.#fill();
  }

  /**
   * Notes and decisions of the previous version, for the new one, which is on screen.
   * @param {Pair} pair
   * @param {Comparison} comparison
   */
  async #takeOver({ previous, newer }, comparison) {
    if (!this.#aside) return;
    const move = mover(previous, newer, comparison.by_box);
    const notes = this.#aside.notes.map(({ id: _, place: __, ...note }) => ({
      ...note,
      point: move.point(note.point),
      camera: note.camera && move.camera(note.camera),
    }));
    const ids = new Map(comparison.still_there.map(({ old, new: now }) => [previous.report?.findings[old]?.id, newer.report?.findings[now]?.id]));
    const decisions = this.#aside.decisions.flatMap((decided) => {
      const finding = ids.get(decided.finding);
      return finding ? [{ ...decided, finding }] : [];
    });
    this.#carried = { notes: 0, lost: 0, decisions: 0 };
    this.#carried = await this.#page.carry(notes, decisions);
  }

  /**
   * Selects the shell at a place of the other version.
   * @param {Pin} pin
   * @param {Model} from
   * @param {Model} to
   * @param {boolean} byBox
   */
  async #chooseAt({ place: _, ...pin }, from, to, byBox) {
    this.#working += 1;
    const { lens } = this.#store.state;
    const note = { ...pin, point: mover(from, to, byBox).point(pin.point), text: "", lens, camera: this.#stage.views.eye() };
    const [probe] = (await this.#reader.ask({ what: "places", notes: [note], exact: false })) ?? [];
    this.#working -= 1;
    const { model, chosen, finding } = this.#store.state;
    if (probe?.shell == null || model?.id !== to.id || chosen.length > 0 || finding !== null) return;
    this.#store.set({ chosen: [probe.shell] });
    this.#spot = pinOf(probe, to.mesh.centre);
  }

  /** Updates card, list and buttons. */
  #fill() {
    const pair = this.#pair();
    const { previous, job } = this.#store.state;
    const isKnown = pair !== null && this.#found !== null;
    this.#card.hidden = !pair || job !== null || (this.#isClosed && !previous) || !(isKnown || this.#isOffered || this.#isFailed);
    for (const id of ["versions-flip", "compare-flip"]) {
      const button = byId(id, HTMLButtonElement);
      button.setAttribute("aria-pressed", String(previous));
      button.hidden = !isKnown;
    }
    byId("versions-details", HTMLButtonElement).hidden = !isKnown;
    byId("versions-compare", HTMLButtonElement).hidden = isKnown;
    byId("versions-close", HTMLButtonElement).hidden = previous;
    this.#opener.hidden = !isKnown || job !== null;
    if (!pair) return;
    const name = make("bdi", { class: "about-file" }, pair.previous.name);
    if (!this.#found) {
      this.#text.replaceChildren(
        ...(this.#isFailed
          ? ["It could not be compared with ", name, ": the module that does it could not be loaded."]
          : ["Compare with ", name, "? The two have little in common."]),
      );
      return;
    }
    const counts = countsOf(this.#found);
    this.#opener.textContent = `${whole(this.#found.fixed.length)} fixed`;
    this.#opener.title = `Compared with ${pair.previous.name}: ${counts}`;
    this.#text.replaceChildren(
      ...(previous ? ["On screen: the previous version, ", name] : ["Compared with ", name]),
      `: ${counts}.`,
      ...carriedOf(this.#carried),
    );
    this.#details.fill(pair, this.#found);
  }
}

/** @param {Comparison} found */
function countsOf({ fixed, still_there, new: fresh }) {
  return `${whole(fixed.length)}\u00a0fixed, ${whole(still_there.length)}\u00a0still there, ${whole(fresh.length)}\u00a0new`;
}

/** @param {Carried | null} carried */
function carriedOf(carried) {
  if (!carried) return [];
  const { notes, lost, decisions } = carried;
  const parts = [notes > 0 ? counted(notes, "note") : "", decisions > 0 ? counted(decisions, "decision") : ""].filter(Boolean);
  if (parts.length === 0) return [];
  const without =
    lost > 0
      ? ` ${lost === notes ? (notes === 1 ? "The note has" : "The notes have") : `${counted(lost, "note")} ${lost === 1 ? "has" : "have"}`} no place on this version; the list has ${lost === 1 ? "it" : "them"} all the same.`
      : "";
  return [` Taken over: ${parts.join(", ")}.${without}`];
}
