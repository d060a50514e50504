/**
 * The graphics context of a canvas.
 */

/**
 * Asks for it, once; a later call gives the same.
 * @param {{getContext: (kind: "webgl2", attributes: WebGLContextAttributes) => unknown}} canvas on the page or in a worker
 */
export function openContext(canvas) {
  // Stage and sheet bring their own samples and depths; the canvas only receives finished pictures.
  canvas.getContext("webgl2", { alpha: false, antialias: false, depth: false, stencil: false });
}
