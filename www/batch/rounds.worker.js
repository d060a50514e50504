/**
 * Matches the findings of two uploads of a student, with the module that compares two versions.
 *
 * @import {Engine, Version} from "../core/messages.js"
 */

import "../base/life.worker.js";

const GLUE = new URL("../../wasm/gridproof_report.js", import.meta.url).href;

/** @type {Promise<Engine & {compare: (previous: Version, newer: Version) => unknown}> | null} */
let started = null;

/** @param {WebAssembly.Module} module */
async function start(module) {
  const engine = await import(GLUE);
  await engine.default({ module_or_path: module });
  return engine;
}

self.addEventListener("message", async (/** @type {MessageEvent<{type: "start", module: WebAssembly.Module} | {type: "compare", id: number, previous: Version, newer: Version}>} */ { data }) => {
  if (data.type === "start") {
    started = start(data.module);
    started.catch(() => {});
    return;
  }
  let comparison = null;
  try {
    comparison = (await started)?.compare(data.previous, data.newer) ?? null;
  } catch (error) {
    console.warn("Gridproof could not compare:", error);
  }
  self.postMessage({ id: data.id, comparison });
});
