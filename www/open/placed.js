/**
 * Hosted models: `?src=` names one that is served beside the page or, if the site was built with its origin listed, elsewhere.
 * It is fetched without cookies or referrer.
 *
 * @import {Failure} from "../core/messages.js"
 */

import { metaWords } from "../base/dom.js";
import { bytes } from "../base/format.js";

/** Limit, so that a link cannot fill the visitor's memory, bytes. */
export const PLACED_BYTES_MAX = 512 * 1024 * 1024;

/**
 * URL and name of the model.
 * @param {string} src as the address has it
 * @returns {{url: URL, name: string}} fails with a {@link Failure}
 */
export function placeOf(src) {
  let url;
  try {
    url = new URL(src, document.baseURI);
  } catch {
    throw failure("elsewhere", `“${src}” is no address of a model.`);
  }
  if (url.username || url.password) throw failure("elsewhere", "The address carries a name or a password, which links must not.");
  const allowed = [location.origin, ...metaWords("gridproof-models-from")];
  if (!allowed.includes(url.origin)) {
    throw failure("elsewhere", `It lies at ${url.origin === "null" ? url.protocol : url.origin}, and this page opens models of ${allowed.join(", ")} only.`);
  }
  const last = url.pathname.split("/").at(-1) ?? "";
  try {
    return { url, name: decodeURIComponent(last) || "model.obj" };
  } catch {
    return { url, name: last };
  }
}

/**
 * @param {{url: URL, name: string}} place
 * @param {(read: number, total: number) => void} heard total is 0 where the server does not say
 * @param {AbortSignal} signal
 * @returns {Promise<File>} fails with a {@link Failure}
 */
export async function fetchPlaced({ url, name }, heard, signal) {
  const response = await fetch(url, { credentials: "omit", referrerPolicy: "no-referrer", signal });
  if (!response.ok) throw failure("network", `The server answered ${response.status} for ${url.origin === location.origin ? url.pathname : url.href}.`);
  const total = Number(response.headers.get("content-length") ?? 0);
  if (total > PLACED_BYTES_MAX) throw tooLarge(total);
  const parts = [];
  let read = 0;
  const chunks = response.body?.getReader();
  for (let next = await chunks?.read(); next && !next.done; next = await chunks?.read()) {
    parts.push(next.value);
    read += next.value.byteLength;
    if (read > PLACED_BYTES_MAX) {
      void chunks?.cancel();
      throw tooLarge(read);
    }
    heard(read, Math.max(total, read));
  }
  return new File(parts, name);
}

/** @param {number} found */
function tooLarge(found) {
  return failure("large-link", `The model has ${bytes(found)} or more; links open up to ${bytes(PLACED_BYTES_MAX)}.`);
}

/**
 * @param {string} code
 * @param {string} message
 * @returns {Failure}
 */
function failure(code, message) {
  return { code, message, line: null };
}
