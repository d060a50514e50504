/**
 * The browser's database of this page: what outlasts a visit and is more than a few words. It is opened for each request
 * and closed again, so that it can be deleted at any time. Where it is refused (private windows), requests fail.
 */

const NAME = "gridproof";
const VERSION = 2;
const STORES = /** @type {const} */ (["files", "reviews"]);

/** @typedef {typeof STORES[number]} StoreName */

/** @returns {Promise<IDBDatabase>} */
function opened() {
  return new Promise((done, failed) => {
    const request = indexedDB.open(NAME, VERSION);
    request.addEventListener("upgradeneeded", () => {
      for (const name of STORES) if (!request.result.objectStoreNames.contains(name)) request.result.createObjectStore(name);
    });
    request.addEventListener("success", () => done(request.result));
    request.addEventListener("error", () => failed(request.error));
    request.addEventListener("blocked", () => failed(new Error("Another tab holds an older version of the database.")));
  });
}

/**
 * @template T
 * @param {StoreName} name
 * @param {IDBTransactionMode} mode
 * @param {(store: IDBObjectStore) => IDBRequest<T>} request
 * @returns {Promise<T>}
 */
export async function ask(name, mode, request) {
  const database = await opened();
  try {
    return await new Promise((done, failed) => {
      const asked = request(database.transaction(name, mode).objectStore(name));
      asked.addEventListener("success", () => done(asked.result));
      asked.addEventListener("error", () => failed(asked.error));
    });
  } finally {
    database.close();
  }
}

/** Deletes all of it; what is refused is not there either. */
export async function erase() {
  await new Promise((done) => {
    const request = indexedDB.deleteDatabase(NAME);
    for (const outcome of ["success", "error", "blocked"]) request.addEventListener(outcome, done);
  }).catch(() => {});
}
