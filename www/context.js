/**
 * The graphics context of a canvas.
 */

/**
 * Asks for it, once; a later call gives the same.
 * @param {{getContext: (kind: "webgl2", attributes: WebGLContextAttributes) => unknown}} canvas on the page or in a worker
 * @returns {WebGL2RenderingContext | null}
 */
export function openContext(canvas) {
  // Stage and sheet bring their own samples and depths; the canvas only receives finished pictures.
  const context = canvas.getContext("webgl2", { alpha: false, antialias: false, depth: false, stencil: false });
  return /** @type {WebGL2RenderingContext | null} */ (context);
}
