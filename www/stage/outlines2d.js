/**
 * Outlines of shells on the drawn sheet. However many overlap, they are no darker than one line: plain ones are opaque, of
 * ink premixed with paper, and of seams the darkest one is visible.
 *
 * @import {LineBuffers} from "../core/messages.js"
 */

import { NO_SHELL } from "../core/known.js";

/** Share of ink in outlines, as on the module's sheet. */
const OUTLINE = 0.72;
/** Ink and paper of the grid, the same by day and night. */
const INK = [23, 38, 59];
const PAPER = [251, 247, 236];
/** Share of an area that outlines may cover at full strength, and their least strength, as there. */
const INKED = { most: 0.4, kept: 0.3 };
/** Outlines of the selection's partners, or of what is to be fixed. */
const PARTNER = "rgb(170 75 0)";

/**
 * @typedef {object} Sheet
 * @property {(u: number, v: number) => [number, number]} at place on the canvas
 * @property {number} ratio device px a CSS px
 * @property {number} scale device px a tile's width
 * @property {boolean} isSeams whether seams are drawn by exposure
 * @property {[number, number]} isolate exposures that do not fade
 * @property {string} accent colour of the selection
 * @property {(shell: number) => boolean} isChosen
 * @property {(shell: number) => boolean} isPartner
 */

/**
 * Draws a run of segments; those of one width and strength are one path.
 * @param {CanvasRenderingContext2D} pen
 * @param {LineBuffers} lines
 * @param {[number, number]} run first segment, and the one after the last
 * @param {Sheet} sheet
 */
export function drawOutlines(pen, lines, [from, to], { at, ratio, scale, isSeams, isolate, accent, isChosen, isPartner }) {
  const chosen = new Path2D();
  const partner = new Path2D();
  /** @type {Map<string, Path2D>} */
  const plain = new Map();
  for (let segment = from; segment < to; segment += 1) {
    const [u0, v0, u1, v1] = /** @type {[number, number, number, number]} */ (/** @type {unknown} */ (lines.sheet.subarray(segment * 4, segment * 4 + 4)));
    const word = lines.sheet_shell[segment] ?? NO_SHELL;
    const shell = word & NO_SHELL;
    const look = isSeams ? seamLook(word >>> 24, isolate) : `1 ${OUTLINE}`;
    const known = plain.get(look) ?? new Path2D();
    if (!plain.has(look)) plain.set(look, known);
    const path = isChosen(shell) ? chosen : isPartner(shell) ? partner : known;
    path.moveTo(...at(u0, v0));
    path.lineTo(...at(u1, v1));
  }
  pen.globalCompositeOperation = isSeams ? "darken" : "source-over";
  const inked = (lines.density[0] * ratio) / scale;
  pen.globalAlpha = isSeams ? 1 : Math.max(INKED.kept, Math.min(1, INKED.most / inked));
  for (const [look, path] of plain) {
    const [width = 1, strength = 1] = look.split(" ").map(Number);
    pen.lineWidth = width * ratio;
    pen.strokeStyle = `rgb(${PAPER.map((code, channel) => Math.round(code + ((INK[channel] ?? 0) - code) * strength)).join(" ")})`;
    pen.stroke(path);
  }
  pen.globalCompositeOperation = "source-over";
  pen.globalAlpha = 1;
  pen.lineWidth = 3 * ratio;
  pen.strokeStyle = PARTNER;
  pen.stroke(partner);
  pen.strokeStyle = accent;
  pen.stroke(chosen);
}

/**
 * Width and strength of a seam, as on the module's sheet: rounded, so that there are few paths.
 * @param {number} seen the byte above a segment's shell
 * @param {[number, number]} isolate
 */
function seamLook(seen, [lo, hi]) {
  if (seen === 0) return "1 0.3";
  const front = (seen >> 6) / 3;
  const exposure = ((seen & 63) - 1) / 62;
  if (exposure < lo || exposure > hi) return "1 0.1";
  return `${(1.15 + 2.05 * front).toFixed(1)} ${(0.45 + 0.55 * Math.max(front, exposure)).toFixed(1)}`;
}
