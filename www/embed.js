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
 *                      failed   the model could not be read: why, and the line where there is one
 *                      refused  a message that does not hold to this protocol, and why
 *
 * Heard are only the parent itself, and only where its origin is this page's own or was allowed when the site was built
 * (`gridproof site --allow-parent ORIGIN`). `id` is the parent's own name for a model; answers about it carry it.
 *
 * @import {Brief, Engine, LensName, Report} from "./messages.js"
 * @import {State, Store} from "./state.js"
 */

import { metaWords } from "./dom.js";
import { asLens, LENS_NAMES } from "./state.js";

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

/**
 * @param {Store} store
 * @param {Engine} engine
 * @param {(file: File) => void} open
 */
export function startEmbed(store, engine, open) {
  const parent = window.parent;
  if (parent === window) return;
  const allowed = [location.origin, ...metaWords("gridproof-parents")];
  /** The parent's name of the model that it handed over last. @type {string | null} */
  let id = null;
  /** The report it heard last. @type {Report | null} */
  let told = null;
  /** What was on screen when the model was handed over, and is not it. @type {State["model"]} */
  let previous = null;

  /** @param {Ready | Progress | Reported | Failed | Refused} answer */
  function tell(answer) {
    for (const origin of parentOrigins(allowed)) parent.postMessage({ protocol: PROTOCOL, ...answer }, origin);
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
      ({ id } = request);
      previous = store.state.model;
      if (request.brief) store.setBrief(request.brief, {});
      if (request.lens) store.set({ lens: request.lens });
      open(new File([request.bytes], request.name));
    } else if (request.type === "brief") {
      store.setBrief(request.brief, {});
    } else {
      store.set({ lens: request.lens });
    }
  });

  store.watch(["job"], ({ job }) => {
    if (id === null || !job) return;
    const reading = job.stage === "";
    tell({ type: "progress", id, text: reading ? "reading" : job.stage, share: reading && job.total > 0 ? job.bytes / job.total : null });
  });
  store.watch(["model"], ({ model, previous: isPrevious }) => {
    if (id === null || isPrevious || !model?.report || model.mesh === previous?.mesh || model.report === told) return;
    told = model.report;
    tell({ type: "report", id, report: told });
  });
  store.watch(["problem"], ({ problem }) => {
    if (id === null || !problem) return;
    tell({ type: "failed", id, code: problem.code, message: [problem.title, problem.message, problem.next].filter(Boolean).join(". "), place: problem.place });
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
  const keys = /** @type {Record<string, string[]>} */ ({ open: ["id", "name", "bytes", "brief", "lens"], brief: ["brief"], lens: ["lens"] })[String(type)];
  if (!keys) return `There is no message “${String(type).slice(0, NAME_MAX)}”; a parent may send open, brief and lens.`;
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
