/**
 * Yields to pending events and frames, in the page and in workers.
 * @param {number} [milliseconds]
 * @returns {Promise<void>}
 */
export function pause(milliseconds = 0) {
  return new Promise((resolve) => setTimeout(resolve, milliseconds));
}
