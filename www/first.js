/**
 * What the page does before anything else: it asks for the canvas's context. Later, the graphics system is busy with the
 * page itself, above all one that draws in software, and asking would hold the page until it is done.
 */

import { openContext } from "./context.js";
import { byId } from "./dom.js";

openContext(byId("canvas", HTMLCanvasElement));
