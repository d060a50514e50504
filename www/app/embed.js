/**
 * The page in a frame of a course site: the parent hands over a model and gets the report. Protocol `gridproof-embed/1`,
 * by postMessage; every message is a plain object with `protocol` and `type`.
 *
 *     parent → page    open     a model as bytes; answered by progress, and by one report or failed
 *                      brief    another brief for the model on screen; answered by a report
 *                      lens     another lens
 *     page → parent    ready    once the page can take messages
 *                      progress now and then
 *                      report   the report (`gridproof-report/2`), once for a model and again after each change of the brief
 *                      failed   there is no report on the model: it could not be read (why, and the line where there is one),
 *                               another was opened before it was measured (`replaced`), or somebody stopped it (`stopped`)
 *                      refused  a message that does not hold to this protocol, and why
 *
 * Heard are only the parent itself, and only where its origin is this page's own or was allowed when the site was built
 * (`gridproof site --allow-parent ORIGIN`). `id` is the parent's own name for a model; answers about it carry it. Nothing is
 * told of a model that somebody else opened in the frame.
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

/** What a parent may send, and with which keys. @type {ReadonlyMap<unknown, string[]>} */
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
  /** What the parent handed over last. @type {Handed | null} */
  let handed = null;
  /** Whether it waits for an answer. */
  let isOwed = false;
  /** The report it heard last. @type {Report | null} */
  let told = null;

  /** @param {Ready | Progress | Reported | Failed | Refused} answer */
  function tell(answer) {
    for (const origin of parentOrigins(allowed)) parent.postMessage({ protocol: PROTOCOL, ...answer }, origin);
  }

  /**
   * Answers that what was handed over last gives no report, where an answer is still owed.
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
    // Whatever else is opened in the frame is its visitor's, and nobody else's.
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
 * Who may be the parent: itself where the browser tells, otherwise all that are allowed; others never hear anything.
 * @param {string[]} allowed
 */
function parentOrigins(allowed) {
  const [parent] = Array.from(location.ancestorOrigins ?? []);
  return parent === undefined ? allowed : allowed.filter((origin) => origin === parent);
}

/**
 * Why a message cannot be heeded; empty where it can.
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
