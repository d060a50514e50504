/**
 * The pictures that material libraries name, which decide which materials share a sheet. They are read with the
 * model: only libraries that came with it count.
 *
 * @import {Session, Source} from "../core/messages.js"
 */

/**
 * @param {Session} session with its model read
 * @param {Source} source
 */
export async function givePictures(session, source) {
  const files = "file" in source ? (source.libraries ?? []) : [];
  if (files.length === 0) return;
  const { keyOf, libraryText, linkMaterials, readLibrary } = await import("./materials.js");
  const read = await Promise.all(
    files.map(async (file) => {
      try {
        const materials = readLibrary(libraryText(new Uint8Array(await file.arrayBuffer())));
        return [/** @type {const} */ ([keyOf(file.name), { name: file.name, materials }])];
      } catch {
        // The page reports that it cannot be read.
        return [];
      }
    }),
  );
  const { materials, libraries } = session.summary();
  const own = "file" in source ? (source.own ?? null) : null;
  const { found } = linkMaterials(materials, libraries, new Map(read.flat()), own);
  session.set_pictures(found.map((material) => material?.map?.file ?? null));
}
