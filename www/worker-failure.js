/**
 * What a worker caught, as a failure that the page can explain.
 *
 * @import {Failure} from "./messages.js"
 */

/**
 * Memory above which a trap counts as memory refused, bytes. Allocation failure and a fault of ours both end in the
 * same trap; below a quarter of the 4 GiB that 32-bit wasm can address the first is unlikely.
 */
const MEMORY_SUSPECT_BYTES = 2 ** 30;

/**
 * @param {unknown} error
 * @param {number} memoryBytes of the module
 * @returns {Failure}
 */
export function failureFrom(error, memoryBytes) {
  if (error && typeof error === "object" && "code" in error && typeof error.code === "string" && "message" in error) {
    return /** @type {Failure} */ (error);
  }
  const message = error instanceof Error ? error.message : String(error);
  const trapped = error instanceof WebAssembly.RuntimeError;
  if (error instanceof RangeError || (trapped && memoryBytes > MEMORY_SUSPECT_BYTES)) return { code: "memory", message, line: null };
  if (error instanceof DOMException) return { code: "unreadable", message, line: null };
  return { code: "crashed", message, line: null };
}
