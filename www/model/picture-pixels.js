/**
 * Decodes a picture's file to pixels, in workers: with colour profile and orientation applied, composited over paper, and
 * limited in size.
 *
 * On paper, so that there is no alpha to filter.
 *
 * @import {Decoded} from "../core/messages.js"
 */

/** Colour below transparent parts: the paper of src/lens.rs. */
const PAPER = "#fbf7ec";

/**
 * @param {Blob} file
 * @param {number} most px of the longer side
 * @param {boolean} asBitmap whether it is for a 2D canvas; else for the GPU
 * @returns {Promise<Decoded>} rejects if this browser cannot decode it
 */
export async function decodePicture(file, most, asBitmap) {
  const bitmap = await createImageBitmap(file);
  const from = /** @type {[number, number]} */ ([bitmap.width, bitmap.height]);
  const part = Math.min(1, most / Math.max(...from));
  const [width, height] = /** @type {[number, number]} */ (from.map((side) => Math.max(1, Math.round(side * part))));
  const canvas = new OffscreenCanvas(width, height);
  // Not GPU-backed: pixels are written once and read once.
  const pen = canvas.getContext("2d", { willReadFrequently: true, alpha: false });
  if (!pen) throw new Error(`no canvas of ${width} × ${height} px`);
  pen.fillStyle = PAPER;
  pen.fillRect(0, 0, width, height);
  pen.imageSmoothingQuality = "high";
  pen.drawImage(bitmap, 0, 0, width, height);
  bitmap.close();
  if (asBitmap) return { width, height, from, pixels: canvas.transferToImageBitmap() };
  const { data } = pen.getImageData(0, 0, width, height);
  return { width, height, from, pixels: new Uint8Array(data.buffer) };
}
