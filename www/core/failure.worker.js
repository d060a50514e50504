/**
 * An exception in a worker as a failure that the page can explain.
 *
 * @import {Failure} from "./messages.js"
 */

/**
 * Memory above which a trap counts as out of memory, bytes. Allocation failure and a program error both end in the
 * same trap; below a quarter of the 4 GiB that 32-bit wasm can address the first is unlikely, unless the browser refuses more.
 */
const MEMORY_SUSPECT_BYTES = 2 ** 30;
/** A module asks for at most about as much as it has, when a list grows; and for no less than this, bytes. */
const LEAST_MORE_BYTES = 2 ** 24;
/** Of a module's memory, bytes (WebAssembly Core Specification, memory instances). */
const PAGE_BYTES = 2 ** 16;

/**
 * @param {unknown} error
 * @param {WebAssembly.Memory | null} memory of the module, which is not used after a trap
 * @returns {Failure}
 */
export function failureFrom(error, memory) {
  if (error && typeof error === "object" && "code" in error && typeof error.code === "string" && "message" in error) {
    return /** @type {Failure} */ (error);
  }
  const message = error instanceof Error ? error.message : String(error);
  const isTrap = error instanceof WebAssembly.RuntimeError;
  const isRefused = error instanceof RangeError || /out of memory|allocation failed/i.test(message) || (isTrap && memory !== null && lacksMemory(memory));
  if (isRefused) return { code: "memory", message, line: null };
  if (error instanceof DOMException) return { code: "unreadable", message, line: null };
  return { code: "crashed", message, line: null };
}

/**
 * Whether a module probably ran out of memory: the trap does not say so, but a new allocation fails too.
 * @param {WebAssembly.Memory} memory
 */
function lacksMemory(memory) {
  const { byteLength } = memory.buffer;
  if (byteLength > MEMORY_SUSPECT_BYTES) return true;
  try {
    memory.grow(Math.ceil(Math.max(byteLength, LEAST_MORE_BYTES) / PAGE_BYTES));
    return false;
  } catch {
    return true;
  }
}
