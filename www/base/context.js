/**
 * The graphics context of a canvas.
 */

/** Stage and sheet bring their own samples and depths; the canvas only receives finished pictures. */
export const CONTEXT = /** @type {const} */ ({ alpha: false, antialias: false, depth: false, stencil: false });

/**
 * Asks for it, once; a later call gives the same.
 * @param {{getContext: (kind: "webgl2", attributes: WebGLContextAttributes) => unknown}} canvas on the page or in a worker
 * @returns {WebGL2RenderingContext | null}
 */
export function openContext(canvas) {
  return /** @type {WebGL2RenderingContext | null} */ (canvas.getContext("webgl2", CONTEXT));
}
