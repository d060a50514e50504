/**
 * What the page does before anything else: it gives its canvas to what will draw on it, which takes its time to begin.
 */

import { Canvas } from "./canvas.js";

export const canvas = new Canvas();
