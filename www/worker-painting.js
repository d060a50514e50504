/**
 * The worker that has the page's canvas and draws on it.
 *
 * @import {FromPainting, ToPainting} from "./messages.js"
 */

import { mostPicturePx, openContext } from "./context.js";
import { Painting } from "./painting.js";

/** @type {Painting | null} */
let painting = null;

/** @param {FromPainting} message */
function post(message) {
  self.postMessage(message);
}

self.addEventListener("message", (/** @type {MessageEvent<ToPainting>} */ { data: message }) => {
  switch (message.type) {
    case "canvas": {
      const context = openContext(message.canvas);
      if (context) painting = new Painting(message.canvas, post);
      post({ type: "context", has: context !== null, mostPicturePx: mostPicturePx(context) });
      return;
    }
    case "engine":
      painting?.begin(message.module).catch((error) => post({ type: "failed", message: String(error) }));
      return;
    case "sight":
      painting?.hear(message);
  }
});
