/**
 * The page's first step: it transfers its canvas to the painter, which asks for a graphics context, and starts the worker that
 * will read. Where the browser draws in software, a context waits for everything the page shows; so the page stays hidden until
 * the context is there, for a limited time.
 *
 * For its first half second a browser that draws in software is busy with the page: a context requested then came after 400
 * to 750 ms, one requested before after 30. The painter's worker loads nothing before its request; the page waits 0.7 s for
 * it at most.
 */

import { Canvas, pixelRatio } from "../stage/canvas.js";
import { byId } from "../base/dom.js";
import { NextWorker } from "../model/next-worker.js";

/** Longest wait of the page for its canvas, ms. */
const PATIENCE_MS = 700;

/** The stage's size once there is a model on it, px. @returns {[number, number]} */
function sizeToCome() {
  const { classList } = document.body;
  const isEmpty = classList.contains("is-empty");
  classList.remove("is-empty");
  const { width, height } = byId("area", HTMLElement).getBoundingClientRect();
  classList.toggle("is-empty", isEmpty);
  return [Math.max(1, Math.round(width * pixelRatio())), Math.max(1, Math.round(height * pixelRatio()))];
}

export const canvas = new Canvas(sizeToCome);
export const nextWorker = new NextWorker();

const { classList } = document.documentElement;
const show = () => classList.remove("is-beginning");
// A page that is visible already, such as an unpacked review page, stays visible.
classList.toggle("is-beginning", performance.getEntriesByType("paint").length === 0);
void canvas.hasContext.then(show);
setTimeout(show, PATIENCE_MS);
