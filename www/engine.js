/**
 * Getting the wasm module: compiled once on the page, instantiated there and in the worker.
 *
 * @import {Engine} from "./messages.js"
 */

const GLUE = new URL("../wasm/gridproof.js", import.meta.url).href;
const CODE = new URL("../wasm/gridproof_bg.wasm", import.meta.url).href;

/**
 * Fetches and compiles a module's code, off this thread.
 * @param {string} code its address; the page's own module, if no other
 * @returns {Promise<WebAssembly.Module>}
 */
export async function compileEngine(code = CODE) {
  const response = await fetch(code);
  if (!response.ok) throw new Error(`${response.status} for ${code}`);
  // A host that serves .wasm under another media type is common enough; only the streaming form insists on it.
  return (response.headers.get("content-type") ?? "").startsWith("application/wasm")
    ? WebAssembly.compileStreaming(response)
    : WebAssembly.compile(await response.arrayBuffer());
}

/**
 * One instance of a compiled module.
 * @param {WebAssembly.Module} module
 * @returns {Promise<{engine: Engine, memory: WebAssembly.Memory}>}
 */
export async function startEngine(module) {
  /** @type {Engine} */
  const engine = await import(GLUE);
  const { memory } = await engine.default({ module_or_path: module });
  return { engine, memory };
}
