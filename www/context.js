/**
 * The graphics context of a canvas.
 */

/** Longest side of a picture on a model, px: a map of the usual largest size, and 89 MB with its levels. Own choice. */
const MOST_PICTURE_PX = 4096;

/** Longest side that a picture may have in this context, px. @param {WebGL2RenderingContext | null} context */
export function mostPicturePx(context) {
  return context ? Math.min(MOST_PICTURE_PX, context.getParameter(context.MAX_TEXTURE_SIZE)) : 0;
}

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
