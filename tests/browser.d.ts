// What browsers have and TypeScript's library leaves out.
interface FileSystemHandle {
  queryPermission?(asked: { mode: "read" }): Promise<PermissionState>;
  requestPermission(asked: { mode: "read" }): Promise<PermissionState>;
}
interface DataTransferItem { getAsFileSystemHandle?(): Promise<FileSystemHandle | null> }
interface Window {
  launchQueue?: { setConsumer(take: (launch: { files: FileSystemFileHandle[] }) => void): void };
  /** Set by share/unpack.js in a review page. */
  gridproofInside?: import("../www/share/page.js").Inside;
}
