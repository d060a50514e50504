/**
 * The worker that draws on the page's canvas. It requests the context before it loads anything: that takes long once the
 * browser is busy drawing the page.
 *
 * @import {FromPainting, ToPainting} from "../core/messages.js"
 */

import "../base/life.worker.js";

/** @param {FromPainting} message */
function post(message) {
  self.postMessage(message);
}

/**
 * @param {OffscreenCanvas} canvas
 * @param {WebGLContextAttributes} attributes
 */
async function begin(canvas, attributes) {
  const context = /** @type {WebGL2RenderingContext | null} */ (canvas.getContext("webgl2", attributes));
  post({ type: "context", has: context !== null, mostTexturePx: context?.getParameter(context.MAX_TEXTURE_SIZE) ?? 0 });
  if (!context) return null;
  const { Painting } = await import("./painting.js");
  return new Painting(context, post);
}

/** @type {Promise<import("./painting.js").Painting | null> | null} */
let painting = null;

self.addEventListener("message", async (/** @type {MessageEvent<ToPainting>} */ { data: message }) => {
  try {
    if (message.type === "canvas") painting = begin(message.canvas, message.attributes);
    else if (message.type === "engine") await (await painting)?.begin(message.module);
    else (await painting)?.hear(message);
  } catch (error) {
    post({ type: "failed", message: String(error) });
  }
});
