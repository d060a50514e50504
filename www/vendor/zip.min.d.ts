// The part of @zip.js/zip.js 2.24.0 that the page calls; zip.min.js is its dist/zip-core-external.min.js, unchanged.

export interface Entry {
  filename: string;
  directory: boolean;
  encrypted: boolean;
  compressionMethod: number;
  compressedSize: number;
  uncompressedSize: number;
  /** Inflates into `writable` and checks the CRC-32. */
  getData(writable: WritableStream<Uint8Array>, options: { checkSignature: boolean }): Promise<unknown>;
}
export class BlobReader {
  constructor(blob: Blob);
}
export class BlobWriter {
  constructor(type: string);
}
export class ZipReader {
  constructor(reader: BlobReader, options: { filenameValidation: "tolerant" });
  /** In the order of the central directory, one at a time. */
  getEntriesGenerator(): AsyncGenerator<Entry>;
}
export class ZipWriter {
  constructor(writer: BlobWriter);
  add(name: string, reader: BlobReader): Promise<unknown>;
  close(): Promise<Blob>;
}
export function configure(options: { useWebWorkers: boolean }): void;
