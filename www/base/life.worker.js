/**
 * In a worker, before anything else: holds a lock for as long as it lives, and says which. What the page makes of it is in
 * base/living-worker.js.
 */

const lock = `gridproof-life-${crypto.getRandomValues(new Uint32Array(4)).join("-")}`;

navigator.locks?.request(lock, () => {
  self.postMessage({ type: "lives", lock });
  // Never given back: it is free when the worker is gone.
  return new Promise(() => {});
}).catch(() => {});
