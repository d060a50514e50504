/**
 * Review pages: one HTML file with this page, the model and a review in it, which opens from disk, without a server and
 * without a connection. It is made of the page's own files, as they were loaded; its script is share/unpack.js.
 *
 * The page's files are one archive, packed once: a list of them with their references to others, then all of them, gzipped
 * (RFC 1952). The model is its file's own bytes, or the link it came in. Nothing of it is sent anywhere.
 *
 * From `file:` browsers load no modules, workers or data, and workers know no import maps; so each file becomes a blob,
 * those first that import no other, and therefore imports must not be cyclic. The alternative would be a bundle: a second
 * form of the page, with a build tool. The page's policy allows blobs and the hashes of its own script and styles, and no
 * connection at all. Both modules are in it, so it can do all that the page can, also create review pages.
 *
 * @import {Engine, Source, Subject} from "../core/messages.js"
 */

import { make } from "../base/dom.js";
import { bytes } from "../base/format.js";
import { NO_PLAN } from "./carrier.js";
import { pause } from "../base/pause.js";

/** Largest model in a page, bytes: it is in memory as text, four thirds of its size, while the page opens. */
export const MODEL_MOST_BYTES = 128 * 1024 * 1024;

/** Longest piece that is turned into base64 at once; a multiple of three. */
const PIECE = 3 << 18;
/** Arguments of one call: engines allow some tens of thousands. */
const ARGUMENTS = 1 << 13;

/**
 * One of the page's files. `uses`: a reference, its replacement with `@` for a URL, and the path of the file at that URL.
 * @typedef {{type: string, uses: [string, string, string][], blob: Blob}} SiteFile
 * @typedef {Map<string, SiteFile>} Site by path
 */

/** What a review page has in it; see share/unpack.js. @typedef {{site: Site, model: {name: string, kind: "file" | "link", blob: Blob}, review: string}} Inside */

/** Content of this review page; null if the page is not one. @returns {Inside | null} */
export function insideThis() {
  return window.gridproofInside ?? null;
}

/**
 * The source of a review page's model.
 * @param {Inside} inside
 * @returns {Promise<Source>}
 */
export async function sourceInside({ model: { name, kind, blob } }) {
  return kind === "link" ? { link: await blob.text() } : { file: new File([blob], name) };
}

/** The document's own entry of the archive, and its script. */
const [DOCUMENT, SCRIPT] = ["document", "www/share/unpack.js"];
const ROOT = new URL(".", location.href);

const TYPES = /** @type {Record<string, string>} */ ({
  js: "text/javascript",
  css: "text/css",
  wasm: "application/wasm",
  json: "application/json",
  svg: "image/svg+xml",
  woff2: "font/woff2",
  html: "text/html",
});

/** Patterns of references between files: the replaced text, and the other's name in it. References must not be cyclic. */
const USES = [
  /^import\s[^;]*?\s(from\s*["']([^"']+)["'])/gm,
  /^(import\s*["']([^"']+)["'])/gm,
  /\b(await import\(["']([^"']+)["']\))/g,
  /(new URL\(["']([^"']+\.[^"']+)["'], import\.meta\.url\))/g,
];

/** A page without a review. @typedef {{before: Blob, after: Blob}} Page */

/** The packed files, and the HTML around them. @type {Promise<{parts: string[], site: Blob}> | null} */
let packing = null;

/**
 * @param {Engine} engine
 * @param {Subject} subject
 * @param {string} name of the model's file
 * @returns {Promise<Page>}
 */
export async function packPage(engine, { source, plan }, name) {
  if (plan) throw new Error(NO_PLAN);
  const model = "file" in source ? source.file : new Blob([source.link]);
  if (model.size > MODEL_MOST_BYTES)
    throw new Error(`The model has ${bytes(model.size)}; a page holds up to ${bytes(MODEL_MOST_BYTES)}. Send the file, and the review beside it.`);
  const {
    parts: [head = "", between = "", ...rest],
    site,
  } = await packedSite(engine);
  const given = `data-name="${escaped(name)}" data-kind="${"file" in source ? "file" : "link"}"`;
  return { before: new Blob([head, site, between.replace("data-model", () => given), await packed(model), rest[0] ?? ""]), after: new Blob([rest[1] ?? ""]) };
}

/**
 * Approximate bytes of a page without its model, before base64.
 * @param {Engine} engine
 */
export async function pageBytes(engine) {
  const { parts, site } = await packedSite(engine);
  return (site.size * 3) / 4 + parts.reduce((sum, { length }) => sum + length, 0);
}

/** @param {Engine} engine */
function packedSite(engine) {
  packing ??= packSite(engine);
  packing.catch(() => (packing = null));
  return packing;
}

/**
 * @param {Page} page
 * @param {object} review as it is written
 */
export function reviewPage({ before, after }, review) {
  return new Blob([before, JSON.stringify(review).replaceAll("<", "\\u003c"), after], { type: "text/html" });
}

/** @param {Blob} blob */
async function packed(blob) {
  const all = new Uint8Array(await new Response(blob.stream().pipeThrough(new CompressionStream("gzip"))).arrayBuffer());
  const parts = [];
  for (let at = 0; at < all.length; at += PIECE) {
    const piece = all.subarray(at, at + PIECE);
    let letters = "";
    for (let from = 0; from < piece.length; from += ARGUMENTS) letters += String.fromCharCode(...piece.subarray(from, from + ARGUMENTS));
    parts.push(btoa(letters));
    await pause();
  }
  return new Blob(parts);
}

/** @param {Engine} engine */
async function packSite(engine) {
  const site = insideThis()?.site ?? (await gather(engine));
  const list = [...site].map(([path, { type, uses, blob }]) => ({ path, type, uses, bytes: blob.size }));
  const head = new TextEncoder().encode(JSON.stringify(list));
  const length = new DataView(new ArrayBuffer(4));
  length.setUint32(0, head.length);
  const archive = new Blob([length.buffer, head, ...[...site.values()].map(({ blob }) => blob)]);
  const text = await site.get(DOCUMENT)?.blob.text();
  return { parts: (text ?? "").split("\u0000"), site: await packed(archive) };
}

/** @param {string} path */
async function fetched(path) {
  const response = await fetch(new URL(path, ROOT));
  if (!response.ok) throw new Error(`${path} could not be fetched: the server answered ${response.status}.`);
  const blob = await response.blob();
  return new Blob([blob], { type: TYPES[path.split(".").at(-1) ?? ""] ?? "" });
}

/**
 * All files that the page may load, found from its document.
 * @param {Engine} engine
 */
async function gather(engine) {
  const page = await ownDocument();
  const entries = [...page.querySelectorAll("script[src]")].map((script) => script.getAttribute("src") ?? "");
  /** @type {Site} */
  const site = new Map();
  const open = [...entries];
  for (let path = open.shift(); path !== undefined; path = open.shift()) {
    if (site.has(path)) continue;
    const blob = await fetched(path);
    const uses = path.endsWith(".js") ? usesIn(await blob.text(), path) : [];
    site.set(path, { type: blob.type, uses, blob });
    open.push(...uses.map(([, , used]) => used));
  }
  site.set(DOCUMENT, { type: TYPES.html ?? "", uses: [], blob: new Blob([await documentOf(page, entries, engine)]) });
  return site;
}

/**
 * The page's document as it was sent, without running scripts: parsed by the browser from the response, not from a string.
 * @returns {Promise<Document>}
 */
function ownDocument() {
  return new Promise((done, failed) => {
    const request = new XMLHttpRequest();
    const fail = () => failed(new Error(`The page could not be fetched${request.status ? `: the server answered ${request.status}` : ""}.`));
    request.responseType = "document";
    request.addEventListener("load", () => (request.status === 200 && request.responseXML ? done(request.responseXML) : fail()));
    request.addEventListener("error", fail);
    request.open("GET", location.pathname);
    request.send();
  });
}

/**
 * @param {string} text
 * @param {string} path
 * @returns {SiteFile["uses"]}
 */
function usesIn(text, path) {
  return USES.flatMap((pattern) =>
    [...text.matchAll(pattern)].map(([, said = "", name = ""]) => {
      const written = said.replace(name, "@").replace(", import.meta.url", "");
      return /** @type {[string, string, string]} */ ([said, written, pathOf(name, path)]);
    }),
  );
}

/**
 * @param {string} name as a file has it
 * @param {string} path of that file
 */
function pathOf(name, path) {
  return new URL(name, new URL(path, ROOT)).href.slice(ROOT.href.length);
}

/**
 * The page's document without loads: four parts, with archive, model and review between them.
 * @param {Document} page
 * @param {string[]} entries
 * @param {Engine} engine
 */
async function documentOf(page, entries, engine) {
  const script = await (await fetched(SCRIPT)).text();
  const styles = await Promise.all([...page.querySelectorAll('link[rel="stylesheet"]')].map((link) => styleOf(link.getAttribute("href") ?? "")));
  const icon = page.querySelector('link[rel="icon"]');
  const drawn = icon && (await dataUrl(await fetched(icon.getAttribute("href") ?? "")));
  for (const gone of page.querySelectorAll('link, script, meta[http-equiv], meta[name^="gridproof-"], .demos:has([data-demo])')) gone.remove();
  // No open prompt while the files are unpacked: the page shows the final layout at once.
  page.body.classList.remove("is-empty");
  const hashed = (/** @type {string} */ text) => hashOf(text, engine);
  const policy = `default-src 'none'; script-src ${hashed(script)} blob: 'wasm-unsafe-eval'; style-src ${styles.map(hashed).join(" ")}; img-src blob: data:; font-src data:; connect-src blob:; worker-src blob:; base-uri 'none'; form-action 'none'`;
  page.head.querySelector("meta[charset]")?.after(make("meta", { "http-equiv": "Content-Security-Policy", content: policy }));
  if (drawn) page.head.append(make("link", { rel: "icon", href: drawn }));
  const [head = "", body = ""] = page.documentElement.innerHTML.split("</head>");
  const data = 'type="application/octet-stream"';
  return [
    `<!doctype html>\n<html lang="en">${head}${styles.map((style) => `<style>${style}</style>\n`).join("")}</head>${body.replace(/<\/body>\s*$/, "")}` +
      `<script id="site" ${data} data-entries="${entries.join(" ")}">`,
    `</script>\n<script id="model" ${data} data-model>`,
    '</script>\n<script id="review" type="application/json">',
    `</script>\n<script>${script}</script>\n</body></html>\n`,
  ].join("\u0000");
}

/**
 * A style sheet with its references inlined.
 * @param {string} path
 */
async function styleOf(path) {
  let text = await (await fetched(path)).text();
  for (const [said, name = ""] of text.matchAll(/url\(["']?([^"')#:]+)["']?\)/g)) {
    text = text.replaceAll(said, `url(${await dataUrl(await fetched(pathOf(name, path)))})`);
  }
  return text;
}

/**
 * @param {Blob} blob
 * @returns {Promise<string>}
 */
function dataUrl(blob) {
  return new Promise((done, failed) => {
    const reader = new FileReader();
    reader.addEventListener("load", () => done(String(reader.result)));
    reader.addEventListener("error", () => failed(reader.error));
    reader.readAsDataURL(blob);
  });
}

/**
 * Hash of an inline script or style in a policy (CSP Level 3, hash-source).
 * @param {string} text
 * @param {Engine} engine for the digest, also on pages that are not served securely
 */
function hashOf(text, engine) {
  const digest = new engine.Digest();
  digest.update(new TextEncoder().encode(text));
  return `'sha256-${btoa(digest.finish().replace(/../g, (digits) => String.fromCharCode(parseInt(digits, 16))))}'`;
}

/** @param {string} text in a quoted attribute */
function escaped(text) {
  return text.replaceAll("&", "&amp;").replaceAll('"', "&quot;").replaceAll("<", "&lt;");
}
