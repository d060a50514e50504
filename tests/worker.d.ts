// Types of messages describe the page's side too, which has elements; the worker has none and only passes the name by.
interface HTMLCanvasElement extends OffscreenCanvas {}
// `gridproof site` puts it above the service worker's text.
declare const SITE: { version: string, files: string[] };
// The worker's library leaves it out.
interface WebGL2RenderingContext { readonly canvas: HTMLCanvasElement | OffscreenCanvas }
