/**
 * The worker for zips: lists one, extracts a file, packs a new one.
 *
 * @import {FromZip, ToZip} from "../core/messages.js"
 */

import "../base/life.worker.js";
import { BlobReader, BlobWriter, ZipWriter } from "../vendor/zip.min.js";
import { failureFrom } from "../core/failure.worker.js";
import { inflate, listZip } from "./unzip.worker.js";

/** Zips that are being packed. @type {Map<number, ZipWriter>} */
const writers = new Map();

/** @param {FromZip} message */
function post(message) {
  self.postMessage(message);
}

/** @param {ToZip} order */
async function serve(order) {
  const { id } = order;
  if (order.type === "list") {
    post({ type: "listed", id, listing: await listZip(order.zip, order.key) });
  } else if (order.type === "take") {
    /** @type {BlobPart[]} */
    const parts = [];
    await inflate(order, (chunk) => void parts.push(chunk.slice()));
    post({ type: "blob", id, blob: new Blob(parts) });
  } else {
    const writer = writers.get(order.to) ?? new ZipWriter(new BlobWriter("application/zip"));
    writers.set(order.to, writer);
    if (order.type === "add") {
      await writer.add(order.name, new BlobReader(order.blob));
      post({ type: "added", id });
    } else {
      writers.delete(order.to);
      post({ type: "blob", id, blob: await writer.close() });
    }
  }
}

self.addEventListener("message", async (/** @type {MessageEvent<ToZip>} */ { data }) => {
  try {
    await serve(data);
  } catch (error) {
    post({ type: "failed", id: data.id, failure: failureFrom(error, null) });
  }
});
