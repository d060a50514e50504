/**
 * The page in a frame of a course site: the parent sends a model and gets the report. Protocol `gridproof-embed/1`,
 * by postMessage; every message is a plain object with `protocol` and `type`.
 *
 *     parent → page    open     a model as bytes; answered by progress, and by one report or failed
 *                      brief    another brief for the model on screen; answered by a report
 *                      lens     another lens
 *     page → parent    ready    once the page can take messages
 *                      progress now and then
 *                      report   the report (`gridproof-report/2`), once for a model and again after each change of the brief
 *                      failed   there is no report on the model: it could not be read (why, and the line where there is one),
 *                               another was opened before it was measured (`replaced`), or it was cancelled (`stopped`)
 *                      refused  a message that violates this protocol, and why
 *
 * Only messages of the parent are accepted, and only if its origin is this page's or was allowed when the site was built
 * (`gridproof site --allow-parent ORIGIN`). `id` is the parent's name for a model, repeated in answers about it. Models that
 * the visitor opens in the frame are not reported.
 *
 * @import {Brief, Engine, LensName, Report} from "../core/messages.js"
 * @import {Handed, State, Store} from "../core/state.js"
 */

import { metaWords } from "../base/dom.js";
import { LENS_NAMES } from "../core/known.js";
import { asLens } from "../core/state.js";

export const PROTOCOL = "gridproof-embed/1";

/**
 * @typedef {{protocol: "gridproof-embed/1", type: "open", id: string, name: string, bytes: ArrayBuffer, brief?: Brief, lens?: LensName}} OpenRequest
 * @typedef {{protocol: "gridproof-embed/1", type: "brief", brief: Brief}} BriefRequest
 * @typedef {{protocol: "gridproof-embed/1", type: "lens", lens: LensName}} LensRequest
 * @typedef {OpenRequest | BriefRequest | LensRequest} Request
 * @typedef {{type: "ready", lenses: readonly LensName[]}} Ready
 * @typedef {{type: "progress", id: string, text: string, share: number | null}} Progress `share` is 0..1, null where it is not known
 * @typedef {{type: "report", id: string, report: Report}} Reported
 * @typedef {{type: "failed", id: string, code: string, message: string, place: string}} Failed
 * @typedef {{type: "refused", message: string}} Refused
 * @typedef {{protocol: "gridproof-embed/1"} & (Ready | Progress | Reported | Failed | Refused)} Answer
 */

/** Longest name or id, characters. */
const NAME_MAX = 255;

/** Messages that a parent may send, with their keys. @type {ReadonlyMap<unknown, string[]>} */
const REQUESTS = new Map([
  ["open", ["id", "name", "bytes", "brief", "lens"]],
  ["brief", ["brief"]],
  ["lens", ["lens"]],
]);

const REPLACED = { code: "replaced", message: "Another model was opened before this one was measured.", place: "" };

/**
 * @param {Store} store
 * @param {Engine} engine
 * @param {(file: File, handed: Handed) => void} open
 */
export function startEmbed(store, engine, open) {
  const parent = window.parent;
  if (parent === window) return;
  const allowed = [location.origin, ...metaWords("gridproof-parents")];
  /** The parent's last model. @type {Handed | null} */
  let handed = null;
  /** Whether an answer to it is due. */
  let isOwed = false;
  /** The last report sent to it. @type {Report | null} */
  let told = null;

  /** @param {Ready | Progress | Reported | Failed | Refused} answer */
  function tell(answer) {
    for (const origin of parentOrigins(allowed)) parent.postMessage({ protocol: PROTOCOL, ...answer }, origin);
  }

  /**
   * Reports that the last model gives no report, if an answer is due.
   * @param {Pick<Failed, "code" | "message" | "place">} why
   */
  function fail(why) {
    if (!handed || !isOwed) return;
    isOwed = false;
    tell({ type: "failed", id: handed.id, ...why });
  }

  addEventListener("message", ({ data, origin, source }) => {
    if (source !== parent || !allowed.includes(origin) || data?.protocol !== PROTOCOL) return;
    const why = troubleIn(data, engine, store.state);
    if (why) {
      tell({ type: "refused", message: why });
      return;
    }
    const request = /** @type {Request} */ (data);
    if (request.type === "open") {
      fail(REPLACED);
      handed = { id: request.id };
      isOwed = true;
      if (request.brief) store.setBrief(request.brief, {});
      if (request.lens) store.set({ lens: request.lens });
      open(new File([request.bytes], request.name), handed);
    } else if (request.type === "brief") {
      store.setBrief(request.brief, {});
    } else {
      store.set({ lens: request.lens });
    }
  });

  store.watch(["job", "model"], ({ job, model, problem }) => {
    if (!handed) return;
    const { id } = handed;
    // Other models in the frame are the visitor's and not reported.
    if (model?.report && model.handed === handed && model.report !== told) {
      told = model.report;
      isOwed = false;
      tell({ type: "report", id, report: told });
    }
    if (!isOwed) return;
    if (job?.handed === handed) {
      const reading = job.stage === "";
      tell({ type: "progress", id, text: reading ? "reading" : job.stage, share: reading && job.total > 0 ? job.bytes / job.total : null });
    } else if (job) fail(REPLACED);
    else if (problem) fail({ code: problem.code, message: [problem.title, problem.message, problem.next].filter(Boolean).join(". "), place: problem.place });
    else fail({ code: "stopped", message: "It was stopped before it was measured.", place: "" });
  });
  tell({ type: "ready", lenses: LENS_NAMES });
}

/**
 * Target origins for messages: the parent's where the browser reports it, otherwise all allowed ones.
 * @param {string[]} allowed
 */
function parentOrigins(allowed) {
  const [parent] = Array.from(location.ancestorOrigins ?? []);
  return parent === undefined ? allowed : allowed.filter((origin) => origin === parent);
}

/**
 * Why a message is refused; empty if it is accepted.
 * @param {Record<string, unknown>} message
 * @param {Engine} engine
 * @param {Readonly<State>} state
 */
function troubleIn(message, engine, state) {
  const { type, id, name, bytes, brief, lens } = message;
  const keys = REQUESTS.get(type);
  if (!keys) return `There is no message “${typeof type === "string" ? type.slice(0, NAME_MAX) : typeof type}”; a parent may send open, brief and lens.`;
  const foreign = Object.keys(message).find((key) => !["protocol", "type", ...keys].includes(key));
  if (foreign !== undefined) return `${type}: there is no key “${foreign.slice(0, NAME_MAX)}”; it has ${keys.join(", ")}.`;
  if (type === "open") {
    if (!isName(id)) return `open: id must be a text of 1 to ${NAME_MAX} characters.`;
    if (!isName(name)) return `open: name must be a text of 1 to ${NAME_MAX} characters.`;
    if (!(bytes instanceof ArrayBuffer)) return "open: bytes must be an ArrayBuffer.";
  } else if (type === "brief" && brief === undefined) return "brief: the brief is missing.";
  else if (type === "lens" && lens === undefined) return "lens: the lens is missing.";
  else if (!state.model) return `${type}: there is no model yet; send open first.`;
  if (lens !== undefined && (typeof lens !== "string" || !asLens(lens))) return `${type}: the lenses are ${LENS_NAMES.join(", ")}.`;
  if (brief !== undefined) {
    if (typeof brief !== "object" || brief === null) return `${type}: the brief must be an object.`;
    const why = engine.brief_trouble(brief);
    if (why) return `${type}: ${why}`;
  }
  return "";
}

/** @param {unknown} value */
function isName(value) {
  return typeof value === "string" && value.length > 0 && value.length <= NAME_MAX;
}
