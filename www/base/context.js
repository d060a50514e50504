/**
 * The graphics context of a canvas.
 */

/** No antialiasing or depth: model and sheet are drawn to other targets and copied. */
export const CONTEXT = /** @type {const} */ ({ alpha: false, antialias: false, depth: false, stencil: false });

/**
 * Creates it; later calls return the same one.
 * @param {{getContext: (kind: "webgl2", attributes: WebGLContextAttributes) => unknown}} canvas on the page or in a worker
 * @returns {WebGL2RenderingContext | null}
 */
export function openContext(canvas) {
  return /** @type {WebGL2RenderingContext | null} */ (canvas.getContext("webgl2", CONTEXT));
}
