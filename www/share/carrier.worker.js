/**
 * Creates links with the model inside, in a separate worker: the search for the coarsest coordinates is one long call, which
 * can only be cancelled with its worker, and the model's worker must stay. Messages are described in core/messages.js.
 *
 * @import {FromCarrier, ToCarrier} from "../core/messages.js"
 */

import "../base/life.worker.js";
import { failureFrom } from "../core/failure.worker.js";
import { reportEngine, reportSession } from "../model/report.worker.js";

/** No decision changes what is proven. */
const NO_REVIEW = { notes: [], places: new Float64Array(), decisions: [] };

/** @type {Uint8Array} */
let model = new Uint8Array();

/** @param {FromCarrier} message */
function post(message) {
  self.postMessage(message);
}

/** @param {Extract<ToCarrier, {type: "encode"}>} order */
async function encode({ subject, about, brief }) {
  const { source } = subject;
  if ("link" in source) {
    model = (await reportEngine()).model_in_link(source.link);
    post({ type: "encoded", bytes: model.length, steps: null });
    return;
  }
  const begun = performance.now();
  const session = await reportSession({ which: subject, subject, about, brief, review: NO_REVIEW });
  post({ type: "measured", ms: performance.now() - begun });
  const { model: encoded, position_step: position, uv_step: uv, proofs } = session.carried_model();
  model = encoded;
  post({ type: "encoded", bytes: model.length, steps: { position, uv, proofs } });
}

self.addEventListener("message", async (/** @type {MessageEvent<ToCarrier>} */ { data }) => {
  try {
    if (data.type === "encode") await encode(data);
    else post({ type: "linked", id: data.id, link: (await reportEngine()).carried_link(model, new TextEncoder().encode(data.review)) });
  } catch (error) {
    post({ type: "failed", id: data.type === "link" ? data.id : null, message: failureFrom(error, null).message });
  }
});
