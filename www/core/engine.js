/**
 * Loading the wasm modules: each compiled once on the page, instantiated there and in the workers.
 *
 * @import {Engine} from "./messages.js"
 */

const GLUE = new URL("../../wasm/gridproof.js", import.meta.url).href;
const CODE = new URL("../../wasm/gridproof_bg.wasm", import.meta.url).href;

/** The second module: the first plus pictures and reports. */
export const REPORT_CODE = new URL("../../wasm/gridproof_report_bg.wasm", import.meta.url).href;

/** By address. @type {Map<string, Promise<WebAssembly.Module>>} */
const compiled = new Map();

/**
 * Fetches and compiles a module's code, off this thread, once.
 * @param {string} code its address; the page's own module, if no other
 * @returns {Promise<WebAssembly.Module>}
 */
export function compileEngine(code = CODE) {
  const known = compiled.get(code);
  if (known) return known;
  const compiling = compile(code);
  compiled.set(code, compiling);
  // A failed request may succeed on the next try.
  compiling.catch(() => compiled.delete(code));
  return compiling;
}

/** @param {string} code */
async function compile(code) {
  const response = await fetch(code);
  if (!response.ok) throw new Error(`${response.status} for ${code}`);
  // Many hosts serve .wasm under another media type; only the streaming form requires it.
  return (response.headers.get("content-type") ?? "").startsWith("application/wasm")
    ? WebAssembly.compileStreaming(response)
    : WebAssembly.compile(await response.arrayBuffer());
}

/**
 * Loads the module's JS glue. A worker that waits for a model does so ahead.
 * @returns {Promise<Engine>}
 */
export function loadGlue() {
  return import(GLUE);
}

/**
 * One instance of a compiled module.
 * @param {WebAssembly.Module} module
 * @returns {Promise<{engine: Engine, memory: WebAssembly.Memory}>}
 */
export async function startEngine(module) {
  const engine = await loadGlue();
  const { memory } = await engine.default({ module_or_path: module });
  return { engine, memory };
}
