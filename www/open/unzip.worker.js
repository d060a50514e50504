/**
 * Reading zips, in workers. The directory at a zip's end lists its files; only the current file is read into memory, chunk by
 * chunk. Declared sizes are checked against limits first, and against the real size while inflating: a file that is longer
 * than declared is aborted at once.
 *
 * The package (www/vendor/README.md) was chosen because it reads by the directory. A reader that scans a stream for file
 * headers may take bytes inside files for headers.
 *
 * By reading from the end, a gigabyte on disk does not need a gigabyte of memory, and the declared size of an entry is
 * known before it is inflated. fflate was considered (a third of the weight): its stream reader takes bytes inside
 * files for headers, its author advises against it (101arrowz/fflate issues 208 and 243), and its other reader wants
 * the whole zip in memory. Own code for the directory would be a hundred lines, and as many kinds of zip to learn from
 * bug reports. The package (40 kB packed) is loaded with the first zip, in workers; it starts none of its own, which
 * the page's policy would refuse.
 *
 * @import {Failure, ZippedFile, ZipListing} from "../core/messages.js"
 * @import {Entry} from "../vendor/zip.min.js"
 */

import { whole } from "../base/format.js";
import { BlobReader, configure, ZipReader } from "../vendor/zip.min.js";

// Its own workers would be loaded from URLs that the page's security policy does not allow.
configure({ useWebWorkers: false });

/**
 * Limits, all of them common practice without a source: far above any class, far below what fills a computer.
 * Deflate's own limit is a ratio of 1032; text of an OBJ is mostly below 20.
 */
const MOST_ZIP_BYTES = 2 ** 32;
const MOST_ENTRIES = 20_000;
const MOST_FILE_BYTES = 2 ** 30;
const MOST_BYTES = 2 ** 33;
const MOST_RATIO = 200;
/** Smaller files may be packed at any ratio. */
const RATIO_FROM_BYTES = 2 ** 20;

const [STORED, DEFLATED] = [0, 8];
const UNPACK = "Unpack the zip, and drop the folder.";

/** The last zip, since its files are read one after another. @type {{key: number, entries: Map<number, Entry>} | null} */
let kept = null;

/**
 * @param {string} code
 * @param {string} message
 * @returns {Failure}
 */
function failure(code, message) {
  return { code, message, line: null };
}

/** @param {number} bytes */
function size(bytes) {
  return bytes < 2 ** 30 ? `${Math.round(bytes / 2 ** 20)} MiB` : `${Math.round((10 * bytes) / 2 ** 30) / 10} GiB`;
}

/**
 * All files, by their places in the directory.
 * @param {Blob} zip
 * @param {number} key
 */
async function directory(zip, key) {
  if (kept?.key === key) return kept.entries;
  kept = null;
  if (zip.size > MOST_ZIP_BYTES) {
    throw failure("zip-limit", `The zip has ${size(zip.size)}; the limit is ${size(MOST_ZIP_BYTES)}. ${UNPACK}`);
  }
  /** @type {Map<number, Entry>} */
  const entries = new Map();
  let count = 0;
  try {
    for await (const entry of new ZipReader(new BlobReader(zip), { filenameValidation: "tolerant" }).getEntriesGenerator()) {
      if (!entry.directory) entries.set(count, entry);
      count += 1;
      if (count > MOST_ENTRIES) break;
    }
  } catch (error) {
    const said = error instanceof Error ? error.message : String(error);
    throw failure(
      "zip-damaged",
      `The directory at its end cannot be read (“${said}”): it may have been cut short while it was fetched, or be no zip at all. Fetch it again, or drop the unpacked folder.`,
    );
  }
  if (count > MOST_ENTRIES) {
    throw failure("zip-limit", `The zip holds more than ${whole(MOST_ENTRIES)} entries. Unpack it, and drop a folder of those that count.`);
  }
  kept = { key, entries };
  return entries;
}

/**
 * The OBJ files of a zip, in the order of its directory, and the other ones. Names that begin with a dot are
 * skipped, as in the command: archivers add files such as `._model.obj` beside `model.obj`.
 * @param {Blob} zip
 * @param {number} key of this zip and no other
 * @returns {Promise<ZipListing>} fails with a {@link Failure}
 */
export async function listZip(zip, key) {
  /** @type {ZippedFile[]} */
  const files = [];
  /** @type {ZippedFile[]} */
  const others = [];
  let bytes = 0;
  for (const [index, entry] of await directory(zip, key)) {
    const path = entry.filename.replaceAll("\\", "/").replace(/^(\.?\.?\/)+/, "");
    if (path.split("/").some((part) => part.startsWith("."))) continue;
    const wrong = whyNot(entry);
    if (!/\.(obj|zip)$/i.test(path)) {
      others.push({ path, bytes: entry.uncompressedSize, index, failure: wrong });
      continue;
    }
    if (!wrong) bytes += entry.uncompressedSize;
    files.push({ path, bytes: entry.uncompressedSize, index, failure: wrong });
  }
  if (bytes > MOST_BYTES) {
    throw failure(
      "zip-limit",
      `Unpacked, its OBJ files would have ${size(bytes)}; the limit is ${size(MOST_BYTES)}. Unpack it, and drop a folder of those that count.`,
    );
  }
  return { files, others };
}

/**
 * Why a file is not inflated; null if it is.
 * @param {Entry} entry
 */
function whyNot({ filename, encrypted, compressionMethod, compressedSize, uncompressedSize }) {
  if (/\.zip$/i.test(filename)) return failure("zip-nested", `This is a zip inside a zip, which is not opened. ${UNPACK}`);
  if (encrypted) return failure("zip-locked", `It is locked with a password. ${UNPACK}`);
  if (compressionMethod !== STORED && compressionMethod !== DEFLATED) {
    return failure("zip-method", `It is packed in a way that browsers do not know (method ${compressionMethod}). ${UNPACK}`);
  }
  if (uncompressedSize > MOST_FILE_BYTES) {
    return failure(
      "zip-limit",
      `Unpacked, it would have ${size(uncompressedSize)}; the limit inside a zip is ${size(MOST_FILE_BYTES)}. Unpack it, and drop it by itself.`,
    );
  }
  if (uncompressedSize > RATIO_FROM_BYTES && uncompressedSize > MOST_RATIO * compressedSize) {
    return failure(
      "zip-limit",
      `It would grow to ${Math.round(uncompressedSize / Math.max(1, compressedSize))} times its size, as only zips do that are made to fill a computer; the limit is ${MOST_RATIO} times. If you trust it, unpack the zip, and drop the folder.`,
    );
  }
  return null;
}

/**
 * Inflates one file, piece by piece.
 * @param {{zip: Blob, key: number, index: number}} place
 * @param {(chunk: Uint8Array) => void} feed what it throws ends it
 */
export async function inflate({ zip, key, index }, feed) {
  const entry = (await directory(zip, key)).get(index);
  if (!entry) throw failure("zip-damaged", "The zip has changed since it was opened. Drop it again.");
  /** The original error, since the package may wrap it. @type {{error: unknown} | null} */
  let ended = null;
  let bytes = 0;
  const writable = new WritableStream({
    write(/** @type {Uint8Array} */ chunk) {
      bytes += chunk.byteLength;
      try {
        if (bytes > entry.uncompressedSize) {
          throw failure(
            "zip-damaged",
            `It is longer than the ${entry.uncompressedSize} bytes that the zip's directory says. The zip is damaged, or made to fill a computer.`,
          );
        }
        feed(chunk);
      } catch (error) {
        ended = { error };
        throw error;
      }
    },
  });
  try {
    await entry.getData(writable, { checkSignature: true });
  } catch (error) {
    const said = error instanceof Error ? error.message : String(error);
    throw (
      /** @type {{error: unknown} | null} */ (ended)?.error ??
      failure("zip-damaged", `It is damaged inside the zip (“${said}”). Pack it again, or drop the file itself.`)
    );
  }
}
