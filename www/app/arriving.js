/**
 * Handles the messages of an opened model's worker: mesh, measures, report. They are put into the store and announced; what
 * a link or a review asks for is shown as soon as the model can show it.
 *
 * @import {Address} from "./address.js"
 * @import {Choosing} from "./choosing.js"
 * @import {Opening} from "./opening.js"
 * @import {Parts} from "./parts.js"
 * @import {CarriedMessage, Failure, Histograms, MeasuredMessage, MeshMessage, ReportMessage, UvsMessage, Which} from "../core/messages.js"
 * @import {Model, Store} from "../core/state.js"
 * @import {Listener} from "../model/reader.js"
 * @import {Lost} from "../model/served.js"
 */

import { counted, isolated } from "../base/format.js";
import { Refused, reviewFrom } from "../core/review.js";
import { withUvs } from "../core/state.js";
import { counts } from "../findings/checks.js";

/** Before anything is measured. @type {Histograms} */
const NO_HISTOGRAMS = { stretch: undefined, density: undefined, seams: undefined };

/** How long measures are collected before they are shown, ms: each update costs a frame. */
const NEWS_MS = 250;

/** @implements {Listener} */
export class Arriving {
  #opening;
  #store;
  #address;
  #choosing;
  #parts;
  #say;
  /** The brief and the verdict of the last report. @type {{brief: unknown, verdict: string}} */
  #judged = { brief: null, verdict: "" };
  /**
   * Measures that are not shown yet, and the timer that will show them.
   * @type {{shown: number, seen: Partial<Pick<Model, "triangles" | "histograms" | "lines">>} | null}
   */
  #news = null;

  /**
   * @param {Opening} opening
   * @param {{store: Store, address: Address, choosing: Choosing, parts: Parts, say: (text: string) => void}} page
   */
  constructor(opening, { store, address, choosing, parts, say }) {
    this.#opening = opening;
    this.#store = store;
    this.#address = address;
    this.#choosing = choosing;
    this.#parts = parts;
    this.#say = say;
  }

  /** Whether something was measured that is not shown yet. */
  get hasNews() {
    return this.#news !== null;
  }

  /**
   * @param {number} read bytes
   * @param {number} total
   */
  progress(read, total) {
    const { job } = this.#store.state;
    if (job) this.#store.set({ job: { ...job, bytes: read, total } });
  }

  /**
   * @param {string} name
   * @param {boolean} again of the model on screen, under another brief
   */
  stage(name, again) {
    const { job } = this.#store.state;
    if (again) this.#store.set({ judging: name });
    else if (job) this.#store.set({ job: { ...job, stage: name } });
  }

  /** @param {CarriedMessage} message */
  async carried({ file, review: packed }) {
    const { job } = this.#store.state;
    if (!job) return;
    this.#store.set({ job: { ...job, name: file.name, bytes: file.bytes, total: file.bytes } });
    const review = this.#opening.kept;
    await this.#parts.started;
    const { reviewing } = this.#parts;
    if (!reviewing || (this.#store.state.job ?? this.#store.state.model)?.link !== job.link) return;
    try {
      if (review || packed.length > 0) reviewing.take(review ?? reviewFrom(packed));
      reviewing.expect(file.bytes);
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      reviewing.refuse(`${error.message} The model in the link is shown.`);
    }
  }

  /** @param {MeshMessage & Which} message */
  mesh({ modelId, revision, mesh, summary, triangles, lines, undo, redo }) {
    this.#parts.notes?.finish(true);
    const { job, lens, model } = this.#store.state;
    this.#takeNews();
    // The address is about its own model; a second one starts without a selection.
    if (model && !job?.link && !job?.again) {
      this.#address.clear();
      this.#opening.asked = null;
    }
    this.#store.set({
      model: {
        id: modelId,
        revision,
        undo,
        redo,
        name: job?.name ?? "model.obj",
        bytes: job?.total ?? 0,
        mesh,
        summary,
        triangles,
        lines,
        histograms: NO_HISTOGRAMS,
        areas: null,
        report: null,
        shells: [],
        link: job?.link ?? null,
        handed: job?.handed ?? null,
      },
      judging: "",
      lens: this.#opening.asked?.lens ?? lens,
      finding: null,
      note: null,
      notes: [],
      decisions: [],
      draft: null,
      placing: false,
      camera: null,
      kind: null,
      chosen: [],
      under: null,
      isolate: null,
      sheet: 0,
    });
    if (summary.warning_counts["cut-short"]) {
      this.#store.set({
        notice: `${isolated(job?.name ?? "The file")} ends in the middle of a statement: it may have been cut short. What was there is shown.`,
      });
    }
  }

  /** @param {UvsMessage} message */
  uvs(message) {
    const { model, chosen } = this.#store.state;
    // Measures of the previous layout are stale.
    this.#takeNews();
    const { pieces } = message.uvs;
    if (model) this.#store.set({ model: withUvs(model, message), under: null, chosen: pieces ? piecesOf(chosen, pieces) : chosen });
  }

  /** @param {MeasuredMessage} message */
  measured({ triangles, histograms, lines }) {
    const news = (this.#news ??= { shown: window.setTimeout(() => this.#store.set({ model: this.#withNews() }), NEWS_MS), seen: {} });
    const before = news.seen.histograms ?? this.#store.state.model?.histograms ?? NO_HISTOGRAMS;
    news.seen = { ...news.seen, ...(triangles ? { triangles } : {}), ...(lines ? { lines } : {}), histograms: { ...before, ...histograms } };
  }

  /**
   * @param {ReportMessage} message
   * @param {boolean} again of the model on screen, under another brief, review or layout
   */
  report({ report, shells, areas, followed }, again) {
    const measured = this.#withNews();
    if (!measured) return;
    const { brief, finding, kind, sheet } = this.#store.state;
    const model = { ...measured, report, shells, areas };
    if (sheet >= report.sheets.list.length) this.#store.set({ sheet: 0 });
    const first = report.cause?.sentence ?? report.findings.find(counts)?.title;
    const verdict = `Verdict: ${report.verdict}${report.intended > 0 ? `, ${report.intended} intended` : ""}.`;
    const found = `${verdict} ${counted(report.findings.length, "finding")}${first ? `, ${report.cause ? "one cause" : "the worst"}: ${first.replace(/\.$/, "")}` : ""}.`;
    const before = this.#judged;
    this.#judged = { brief, verdict };
    if (!again) {
      this.#first(model, found);
      return;
    }
    const chosen = report.findings.find(({ id }) => id === finding);
    this.#store.set({
      model,
      judging: "",
      kind: report.findings.some((entry) => entry.kind === kind) ? kind : null,
      ...(finding === null ? {} : { finding: chosen?.id ?? null, chosen: chosen?.shells ?? [] }),
    });
    if (before.brief !== brief) this.#say(`Judged by the changed brief. ${found}`);
    else if (before.verdict !== verdict) this.#say(verdict);
    if (followed) this.#parts.reviewing?.follow(followed);
    this.#parts.reviewing?.arrived();
    this.#parts.versions?.judged();
  }

  /** @param {Failure} failure */
  failed(failure) {
    this.#opening.fail(failure);
  }

  /**
   * @param {Failure} failure
   * @param {Lost} lost
   */
  died(failure, lost) {
    this.#opening.died(failure, lost);
  }

  replaced() {
    return this.#parts.versions?.replaced() ?? false;
  }

  /** @param {MeasuredMessage | ReportMessage | UvsMessage} message */
  aside(message) {
    this.#parts.versions?.aside(message);
  }

  /**
   * The first report of a model.
   * @param {Model & {report: NonNullable<Model["report"]>}} model
   * @param {string} found in words
   */
  #first(model, found) {
    const { report } = model;
    const isBack = this.#store.state.job?.again === true;
    this.#store.set({
      model,
      job: null,
      ...(isBack && {
        notice: `${isolated(model.name)} was opened again: the part that measures it had ended by itself, as when the system needs its memory. Nothing is lost.`,
      }),
    });
    this.#address.follow(() => {
      const { asked } = this.#opening;
      // The lens was set with the model, and the user may have selected another since.
      if (!this.#parts.reviewing?.arrived() && asked && (asked.finding || asked.note || asked.camera) && !this.#store.state.awaited) this.#choosing.show(asked);
    });
    this.#opening.asked = null;
    const { sha256 } = this.#opening.fetched ?? {};
    if (sha256 && sha256.toLowerCase() !== report.file.sha256) {
      this.#store.set({ notice: `${isolated(model.name)} is not the file that the link was made for: it has changed since.` });
    }
    this.#say(`${isolated(model.name)} is measured. ${found}`);
    this.#parts.versions?.measured();
    this.#opening.openSecond();
  }

  /** Takes the measures that are not shown yet. */
  #takeNews() {
    const seen = this.#news?.seen ?? {};
    clearTimeout(this.#news?.shown);
    this.#news = null;
    return seen;
  }

  /** The model with all its measures. */
  #withNews() {
    const { model } = this.#store.state;
    return model && { ...model, ...this.#takeNews() };
  }
}

/**
 * The shells of another layout that have faces of the selected ones.
 * @param {readonly number[]} chosen
 * @param {Uint32Array} pieces as in `UvBuffers`
 */
function piecesOf(chosen, pieces) {
  const former = new Set(chosen);
  return [...new Set(Array.from(pieces).filter((_, at) => at % 2 === 1 && former.has(pieces[at - 1] ?? NaN)))];
}
