/**
 * Matches the findings of two uploads of a student, with the module that compares two versions.
 *
 * @import {Version} from "../core/messages.js"
 * @import {ReportEngine} from "../model/report.worker.js"
 */

import "../base/life.worker.js";

const GLUE = new URL("../../wasm/gridproof_report.js", import.meta.url).href;

/** @type {Promise<ReportEngine> | null} */
let started = null;

/** @param {WebAssembly.Module} module */
async function start(module) {
  /** @type {ReportEngine} */
  const engine = await import(GLUE);
  await engine.default({ module_or_path: module });
  return engine;
}

self.addEventListener(
  "message",
  async (
    /** @type {MessageEvent<{type: "start", module: WebAssembly.Module} | {type: "compare", id: number, previous: Version, newer: Version}>} */ { data },
  ) => {
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
  },
);
