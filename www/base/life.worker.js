/**
 * Imported first in a worker: holds a lock for the worker's lifetime and sends its name. The page's side is
 * base/living-worker.js.
 */

const lock = `gridproof-life-${crypto.getRandomValues(new Uint32Array(4)).join("-")}`;

navigator.locks
  ?.request(lock, () => {
    self.postMessage({ type: "lives", lock });
    // Never released: it is free when the worker is gone.
    return new Promise(() => {});
  })
  .catch(() => {});
