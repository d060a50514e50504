/**
 * Saving in the worker: report, data, pictures of sheet and 3D view. Everything is created here and returned as a blob,
 * which the page only offers. Long work is done in steps, and can be cancelled between them.
 *
 * The 3D view's picture is drawn by the same renderer on a separate canvas: same shaders, grid, text and colours, at
 * another size. Without WebGL2 the module draws on the CPU, as for the report.
 *
 * @import {ReportSession} from "./report.worker.js"
 * @import {Engine, Painter, SaveOrder, Scene, Session, SheetOrder, StageOrder} from "../core/messages.js"
 */

import { openContext } from "../base/context.js";
import { pause } from "../base/pause.js";
import { decodePicture } from "./picture-pixels.js";
import { drawSvg, sizeOf } from "./svg.worker.js";

/** Rows of the grid a step: some 10 ms. */
const STRIP_ROWS = 96;
/** Consecutive frames without uploads or refinement before a picture counts as drawn. */
const CALM_FRAMES = 3;
/** Between two frames, ms: the GPU does not answer sooner. */
const FRAME_MS = 16;

/**
 * @typedef {object} Task
 * @property {Session} session of the model on screen
 * @property {() => Promise<ReportSession>} pictured the same model and brief in the module that makes pictures and pages
 * @property {Engine} engine
 * @property {(done: number, of: number) => void} tell how far it is
 * @property {() => boolean} stopped
 * @property {boolean} isEdited whether the UVs are not those that were read
 */

/**
 * @param {SaveOrder} order
 * @param {Task} task
 * @returns {Promise<Blob>}
 */
export async function makeBlob(order, task) {
  switch (order.what) {
    case "report":
      return new Blob([await report(task)], { type: "text/html" });
    case "data":
      return new Blob([data(task.session)], { type: "application/json" });
    case "obj":
      if (task.isEdited)
        throw new Error("The UVs were changed here, and an OBJ that has the changes cannot be written yet. Undo them to save the model as it came.");
      return new Blob([(await task.pictured()).obj_text()], { type: "model/obj" });
    case "sheet":
      return order.as === "png" ? sheetPixels(order, task) : new Blob([await sheet(order, task)], { type: "image/svg+xml" });
    case "stage":
      return stage(order, task);
  }
}

/**
 * Throws if the save was cancelled.
 * @param {Task} task
 */
async function rest({ stopped }, milliseconds = 0) {
  await pause(milliseconds);
  if (stopped()) throw new Error("stopped");
}

/**
 * @param {number} width
 * @param {number} height
 */
function canvasOf(width, height) {
  const canvas = new OffscreenCanvas(width, height);
  // Not GPU-backed: pixels are written once and read once.
  const pen = canvas.getContext("2d", { willReadFrequently: true });
  if (!pen) throw new Error(`This browser gives no picture of ${width} × ${height} px. Choose a smaller size, or one tile.`);
  return { canvas, pen };
}

/**
 * @param {Uint8Array} rgba opaque
 * @param {number} width
 * @param {number} height
 */
function png(rgba, width, height) {
  const { canvas, pen } = canvasOf(width, height);
  pen.putImageData(new ImageData(new Uint8ClampedArray(rgba), width), 0, 0);
  return canvas.convertToBlob({ type: "image/png" });
}

/** @param {Blob} blob */
function dataUrl(blob) {
  return new FileReaderSync().readAsDataURL(blob);
}

/** @param {Task} task */
async function report(task) {
  const { tell } = task;
  const session = await task.pictured();
  await rest(task);
  const wanted = session.pictures_wanted();
  /** @type {string[]} */
  const images = [];
  for (const [index, { width, height }] of wanted.entries()) {
    tell(index, wanted.length);
    await rest(task);
    images.push(dataUrl(await png(session.wanted_picture(index), width, height)));
  }
  tell(wanted.length, wanted.length);
  await rest(task);
  return session.report_html(images);
}

/**
 * One line, as the command prints it for a file of this name.
 * @param {Session} session
 */
function data(session) {
  const report = session.report();
  return `${JSON.stringify({ path: report.file.name, ...report })}\n`;
}

/**
 * @param {SheetOrder} order
 * @param {Task} task
 */
async function sheet({ ground, innerEdges, flags, names, tile, sheet: shown, grid }, task) {
  let below = /** @type {string} */ (ground);
  if (ground === "grid") {
    const { canvas, pen } = canvasOf(grid.width, grid.height);
    await lay(pen, grid, [[0, 0]], task);
    below = dataUrl(await canvas.convertToBlob({ type: "image/png" }));
    await rest(task);
  }
  const session = await task.pictured();
  await rest(task);
  return session.sheet_svg(below, innerEdges, flags, names, tile ?? undefined, shown);
}

/**
 * Paints the grid at each of these places.
 * @param {OffscreenCanvasRenderingContext2D} pen
 * @param {SheetOrder["grid"]} grid
 * @param {number[][]} places left and top, px
 * @param {Task} task
 */
async function lay(pen, { width, height, cell, words, wordsPx }, places, task) {
  const strips = new task.engine.GridStrips(width, height, cell, words, wordsPx);
  try {
    for (let row = 0; row < height; ) {
      const strip = strips.next(STRIP_ROWS);
      const picture = new ImageData(new Uint8ClampedArray(strip), width);
      for (const [left = 0, top = 0] of places) pen.putImageData(picture, left, top + row);
      row += picture.height;
      task.tell(row, height);
      await rest(task);
    }
  } finally {
    strips.free();
  }
}

/**
 * The grid is drawn below as pixels, without encoding and decoding.
 * @param {SheetOrder} order
 * @param {Task} task
 */
async function sheetPixels(order, task) {
  const onGrid = order.ground === "grid";
  const svg = await sheet({ ...order, ground: onGrid ? "none" : order.ground }, task);
  const { width, height } = sizeOf(svg);
  const { canvas, pen } = canvasOf(width, height);
  if (onGrid) await lay(pen, order.grid, order.places, task);
  await drawSvg(pen, svg, (done) => {
    task.tell(Math.round(done * 100), 100);
    return rest(task);
  });
  await rest(task);
  return canvas.convertToBlob({ type: "image/png" });
}

/**
 * @param {StageOrder} order
 * @param {Task} task
 */
async function stage(order, task) {
  const { width, height } = order;
  const canvas = new OffscreenCanvas(width, height);
  const painter = order.scene ? painterOn(canvas, task.engine) : null;
  if (!painter || !order.scene) {
    if (order.lens === "picture") throw new Error("Without WebGL2 the model cannot be drawn with a picture on it. Choose another lens and save again.");
    const session = await task.pictured();
    await rest(task);
    const rgba = session.stage_picture(width, height, new Float64Array(), order.lens, order.flags, Uint32Array.from(order.chosen));
    await rest(task);
    return png(rgba, width, height);
  }
  try {
    dress(painter, order, order.scene, task);
    if (order.lens === "picture") await hang(painter, order.scene.pictures, task);
    for (let calm = 0; calm < CALM_FRAMES; ) {
      calm = painter.frame(performance.now()) ? 0 : calm + 1;
      await rest(task, FRAME_MS);
    }
    return await canvas.convertToBlob({ type: "image/png" });
  } finally {
    // Its buffers are freed at once, not when the canvas is collected.
    painter.lose_context();
    painter.free();
  }
}

/**
 * @param {OffscreenCanvas} canvas
 * @param {Engine} engine
 * @returns {Painter | null}
 */
function painterOn(canvas, engine) {
  try {
    const context = openContext(canvas);
    return context && new engine.Painter(context);
  } catch {
    return null;
  }
}

/**
 * Uploads the pictures of the Picture lens, after the model.
 * @param {Painter} painter
 * @param {Scene["pictures"]} pictures
 * @param {Task} task
 */
async function hang(painter, { looks, ground, files }, task) {
  painter.set_looks(looks, ground);
  for (const { number, file, most } of files) {
    const { width, height, pixels } = await decodePicture(file, most, false);
    await rest(task);
    painter.set_picture(number, width, height, /** @type {Uint8Array} no bitmap was asked for */ (pixels));
  }
}

/**
 * @param {Painter} painter
 * @param {StageOrder} order
 * @param {NonNullable<StageOrder["scene"]>} scene
 * @param {Task} task
 */
function dress(painter, { width, height, ratio, lens, flags, chosen }, scene, { engine, session }) {
  const mesh = session.mesh();
  painter.set_theme(scene.theme);
  painter.set_grid(scene.grid.width, scene.grid.height, scene.grid.cell, scene.grid.words, scene.grid.wordsPx);
  painter.set_tiles(Uint32Array.from(scene.tiles));
  painter.set_model(mesh);
  painter.set_triangles(session.triangles());
  painter.set_lines(session.lines());
  painter.set_lens(lens);
  painter.set_flags(flags);
  painter.set_leaning(scene.leaning);
  painter.set_isolate(scene.isolate?.[0] ?? NaN, scene.isolate?.[1] ?? NaN);
  painter.set_selected(Uint32Array.from(chosen));
  painter.set_partner(Uint32Array.from(scene.partners));
  const view = new engine.View();
  view.set_map(scene.grid.width, scene.grid.height);
  view.set_extent(mesh);
  view.set_up(scene.up);
  // Line widths scale with the picture.
  view.set_layout(width, height, ratio, Float64Array.of(0, 0, width, height), null);
  view.set_camera(scene.camera);
  painter.set_sight(view.sight(performance.now()));
  view.free();
}
