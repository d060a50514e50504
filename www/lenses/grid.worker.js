/**
 * Paints the grid at its map's full size and encodes a PNG: the same pixels as the command's, since both
 * come from the module's generator. A separate worker, so that neither page nor reading waits for it.
 *
 * @import {FromPainter, PaintMessage} from "../core/messages.js"
 */

import { startEngine } from "../core/engine.js";
import "../base/life.worker.js";

/** Rows a strip: some 10 ms, for smooth progress. */
const STRIP_ROWS = 96;

/** @param {FromPainter} message */
function post(message) {
  self.postMessage(message);
}

/** @param {PaintMessage} order */
async function paint({ module, grid }) {
  const { engine } = await startEngine(module);
  const { width, height, cell, words, wordsPx } = grid;
  const strips = new engine.GridStrips(width, height, cell, words, wordsPx);
  const canvas = new OffscreenCanvas(width, height);
  // Not GPU-backed: pixels are written once and read once.
  const pen = canvas.getContext("2d", { alpha: false, willReadFrequently: true });
  if (!pen) throw new Error(`This browser gives no picture of ${width} x ${height} px. A smaller map may fit; the command gridproof grid makes any.`);
  for (let row = 0; row < height; ) {
    const strip = strips.next(STRIP_ROWS);
    pen.putImageData(new ImageData(new Uint8ClampedArray(strip), width), 0, row);
    row += strip.length / (4 * width);
    post({ type: "painted", rows: row, of: height });
  }
  post({ type: "picture", blob: await canvas.convertToBlob({ type: "image/png" }) });
}

self.addEventListener("message", async (/** @type {MessageEvent<PaintMessage>} */ { data }) => {
  try {
    await paint(data);
  } catch (error) {
    post({ type: "refused", message: error instanceof Error ? error.message : String(error) });
  }
});
