/**
 * The graphics context of a canvas.
 */

/**
 * Asks for it, once; a later call gives the same.
 * @param {HTMLCanvasElement | OffscreenCanvas} canvas
 */
export function openContext(canvas) {
  // Stage and sheet bring their own samples and depths; the canvas only receives finished pictures.
  canvas.getContext("webgl2", { alpha: false, antialias: false, depth: false, stencil: false });
}
