/**
 * Lets others in, in the page and in workers: what waits to be heard or drawn.
 * @param {number} [milliseconds]
 * @returns {Promise<void>}
 */
export function pause(milliseconds = 0) {
  return new Promise((resolve) => setTimeout(resolve, milliseconds));
}
