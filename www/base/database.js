/**
 * The page's IndexedDB database, for stored data beyond a few words. It is opened for each request and closed again, so
 * that it can be deleted at any time. Where it is refused (private windows), requests fail; so do those that are not answered
 * in time. Nothing counts as written before its transaction is complete, since it may be rolled back.
 */

const NAME = "gridproof";
const VERSION = 3;
const STORES = /** @type {const} */ (["files", "reviews", "classes"]);
/** Longest wait for an answer, ms: enough for a slow disk, short enough for a user. Own choice. */
const ANSWER_MS = 4000;

/** @typedef {typeof STORES[number]} StoreName */

/**
 * @template T
 * @param {(done: (value: T) => void, failed: (error: unknown) => void) => void} begin
 * @param {() => void} [late] it has taken too long, and is not waited for any more
 * @returns {Promise<T>}
 */
function inTime(begin, late = () => {}) {
  return new Promise((done, failed) => {
    const clock = setTimeout(() => {
      failed(new DOMException("The database did not answer.", "TimeoutError"));
      late();
    }, ANSWER_MS);
    /** @template V @param {(value: V) => void} end @returns {(value: V) => void} */
    const ended = (end) => (value) => {
      clearTimeout(clock);
      end(value);
    };
    try {
      begin(ended(done), ended(failed));
    } catch (error) {
      ended(failed)(error);
    }
  });
}

/** @returns {Promise<IDBDatabase>} */
function opened() {
  let isLate = false;
  return inTime(
    (done, failed) => {
      const request = indexedDB.open(NAME, VERSION);
      request.addEventListener("upgradeneeded", () => {
        for (const name of STORES) if (!request.result.objectStoreNames.contains(name)) request.result.createObjectStore(name);
      });
      request.addEventListener("success", () => (isLate ? request.result.close() : done(request.result)));
      request.addEventListener("error", () => failed(request.error));
      request.addEventListener("blocked", () => failed(new Error("Another tab holds an older version of the database.")));
    },
    () => (isLate = true),
  );
}

/**
 * @template T
 * @param {StoreName} name
 * @param {IDBTransactionMode} mode
 * @param {(store: IDBObjectStore, give: (value: T) => void) => void} work gives what comes of it, which counts once all is done
 * @returns {Promise<T>}
 */
async function transact(name, mode, work) {
  const database = await opened();
  /** @type {IDBTransaction | null} */
  let transaction = null;
  try {
    return await inTime(
      (done, failed) => {
        const doing = (transaction = database.transaction(name, mode));
        /** @type {T} */
        let given;
        for (const wrong of ["error", "abort"]) doing.addEventListener(wrong, () => failed(doing.error ?? new Error("The database took it back.")));
        doing.addEventListener("complete", () => done(given));
        work(doing.objectStore(name), (value) => (given = value));
      },
      () => {
        try {
          transaction?.abort();
        } catch {
          // It has just ended.
        }
      },
    );
  } finally {
    database.close();
  }
}

/**
 * @template T
 * @param {StoreName} name
 * @param {IDBTransactionMode} mode
 * @param {(store: IDBObjectStore) => IDBRequest<T>} request
 * @returns {Promise<T>}
 */
export function ask(name, mode, request) {
  return transact(name, mode, (store, /** @type {(value: T) => void} */ give) => {
    const asked = request(store);
    asked.addEventListener("success", () => give(asked.result));
  });
}

/**
 * Reads and changes one value in a single transaction.
 * @param {StoreName} name
 * @param {string} key
 * @param {(before: unknown) => unknown} next undefined takes it away, the same value leaves it
 * @returns {Promise<void>}
 */
export function change(name, key, next) {
  return transact(name, "readwrite", (store, give) => {
    const asked = store.get(key);
    asked.addEventListener("success", () => {
      const value = next(asked.result);
      if (value === undefined) store.delete(key);
      else if (value !== asked.result) store.put(value, key);
      give(undefined);
    });
  });
}

/** Deletes all of it. @returns {Promise<void>} */
export function erase() {
  return inTime((done, failed) => {
    const request = indexedDB.deleteDatabase(NAME);
    request.addEventListener("success", () => done(undefined));
    request.addEventListener("error", () => failed(request.error));
    request.addEventListener("blocked", () => failed(new Error("Another tab holds it.")));
  });
}
