/**
 * The worker that decodes pictures, one at a time to limit memory.
 *
 * @import {FromDecoder, ToDecoder} from "../core/messages.js"
 */

import "../base/life.worker.js";
import { decodePicture } from "../model/picture-pixels.js";

let last = Promise.resolve();

/**
 * @param {FromDecoder} message
 * @param {Transferable[]} [transfer]
 */
function post(message, transfer = []) {
  self.postMessage(message, { transfer });
}

/** @param {ToDecoder} order */
async function decode({ id, file, most, asBitmap }) {
  try {
    const decoded = await decodePicture(file, most, asBitmap);
    post({ type: "decoded", id, decoded }, [decoded.pixels instanceof ImageBitmap ? decoded.pixels : decoded.pixels.buffer]);
  } catch (error) {
    console.warn(`Gridproof: ${file.name} could not be read as a picture:`, error);
    post({ type: "failed", id });
  }
}

self.addEventListener("message", (/** @type {MessageEvent<ToDecoder>} */ { data }) => {
  last = last.then(() => decode(data));
});
