/**
 * The script of a review page (share/page.js): unpacks the page's own files, which are in the same HTML file, and starts
 * it. From a file on disk browsers load neither modules nor workers nor data beside it, so each file becomes a blob, and
 * references between files the blobs' URLs. It is embedded verbatim: a script, not a module.
 */
(() => {
  /** Base64 characters decoded at a time; a multiple of four. */
  const PIECE = 1 << 20;

  /**
   * @param {string} id of the element
   * @returns {Promise<Blob>}
   */
  async function inside(id) {
    const letters = document.getElementById(id)?.textContent?.trim() ?? "";
    const parts = [];
    for (let at = 0; at < letters.length; at += PIECE) parts.push(Uint8Array.from(atob(letters.slice(at, at + PIECE)), (letter) => letter.charCodeAt(0)));
    return new Response(new Blob(parts).stream().pipeThrough(new DecompressionStream("gzip"))).blob();
  }

  /**
   * The files of an archive: length of the list, the list as JSON, the files one after another.
   * @param {Blob} archive
   */
  async function filesIn(archive) {
    const length = new DataView(await archive.slice(0, 4).arrayBuffer()).getUint32(0);
    /** @type {{path: string, type: string, bytes: number, uses: [string, string, string][]}[]} */
    const list = JSON.parse(await archive.slice(4, 4 + length).text());
    let at = 4 + length;
    return new Map(list.map(({ path, type, bytes, uses }) => [path, { type, uses, blob: archive.slice(at, (at += bytes), type) }]));
  }

  /** @typedef {Awaited<ReturnType<typeof filesIn>>} Site */

  /**
   * Creates URLs for files, in the page or in a worker, where it is embedded as text.
   * @param {Site} site
   */
  function placing(site) {
    /** @type {Map<string, Promise<string>>} */
    const addresses = new Map();
    /** @type {Map<string, string>} */
    const paths = new Map();
    async function made(/** @type {string} */ path) {
      const file = site.get(path);
      if (!file) throw new Error(`${path} is missing.`);
      let { blob } = file;
      if (file.uses.length > 0) {
        let text = await blob.text();
        for (const [said, written, used] of file.uses) {
          const address = await addressOf(used);
          text = text.replaceAll(said, () => written.replace("@", address));
        }
        blob = new Blob([text], { type: file.type });
      }
      const address = URL.createObjectURL(blob);
      paths.set(address, path);
      return address;
    }
    function addressOf(/** @type {string} */ path) {
      const address = addresses.get(path) ?? made(path);
      addresses.set(path, address);
      return address;
    }
    return { addressOf, paths };
  }

  /**
   * The start of a worker, embedded as text too: on disk, a worker may not load the page's blobs, only its own. Messages of the
   * page wait meanwhile.
   * @param {typeof placing} place
   */
  function boot(place) {
    /** @type {unknown[]} */
    const early = [];
    const keep = (/** @type {MessageEvent} */ event) => {
      event.stopImmediatePropagation();
      early.push(event.data);
    };
    self.addEventListener(
      "message",
      ({ data: { site, entry } }) => {
        self.addEventListener("message", keep);
        place(site)
          .addressOf(entry)
          .then((address) => import(address))
          .then(
            () => {
              self.removeEventListener("message", keep);
              for (const data of early) self.dispatchEvent(new MessageEvent("message", { data }));
            },
            (error) =>
              setTimeout(() => {
                throw error;
              }),
          );
      },
      { once: true },
    );
  }

  async function start() {
    const [site, model] = await Promise.all([inside("site").then(filesIn), inside("model")]);
    const { addressOf, paths } = placing(site);
    const script = URL.createObjectURL(new Blob([`(${boot})(${placing});`], { type: "text/javascript" }));
    const { Worker } = window;
    window.Worker = class extends Worker {
      constructor(/** @type {string | URL} */ url, /** @type {WorkerOptions} */ { name = "" } = {}) {
        super(script, { name });
        this.postMessage({ site, entry: paths.get(String(url)) });
      }
    };
    const data = /** @type {HTMLElement} */ (document.getElementById("model")).dataset;
    const review = document.getElementById("review")?.textContent ?? "";
    Object.defineProperty(window, "gridproofInside", {
      value: Object.freeze({ site, model: { name: data.name ?? "", kind: data.kind ?? "", blob: model }, review }),
    });
    for (const entry of (document.getElementById("site")?.dataset.entries ?? "").split(" ")) await import(await addressOf(entry));
  }

  start().catch((error) => {
    const line = document.createElement("p");
    line.setAttribute("role", "alert");
    line.className = "problem";
    const why = String(error instanceof Error ? error.message : error).replace(/[^.]$/, "$&.");
    line.textContent = `This page could not be opened: ${why} The browser may be too old, or the file was cut short.`;
    document.body.replaceChildren(line);
  });
})();
