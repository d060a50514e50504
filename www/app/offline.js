/**
 * The page without a connection: registers the service worker where the site has one, offers a newer version, and
 * activates it on request. An installed page also gets the files that the system opens with it.
 *
 * Files are cached once the page is idle: where the browser draws in software, the first grid came after 850 ms with the
 * fetching, after 560 without.
 *
 * @import {Store} from "../core/state.js"
 */

import { byId, metaWords } from "../base/dom.js";
import { scriptAddress } from "../base/trusted.js";

/**
 * @param {Store} store
 * @param {(file: File) => void} open
 * @param {() => Promise<void>} idle resolves when the page is idle
 */
export function startOffline(store, open, idle) {
  takeLaunches(open);
  const [script] = metaWords("gridproof-offline");
  if (!script || !("serviceWorker" in navigator)) return;
  const { serviceWorker } = navigator;
  const card = byId("newer", HTMLElement);
  const lost = byId("newer-lost", HTMLElement);
  byId("newer-close", HTMLButtonElement).addEventListener("click", () => {
    card.hidden = true;
  });
  store.watch(["model"], ({ model }) => {
    lost.hidden = model === null;
  });
  /** @type {ServiceWorker | null} */
  let waiting = null;
  byId("newer-take", HTMLButtonElement).addEventListener("click", () => {
    // Another tab may have activated it meanwhile.
    if (!waiting || waiting.state === "activated") location.reload();
    serviceWorker.addEventListener("controllerchange", () => location.reload(), { once: true });
    waiting?.postMessage("take over");
  });

  /** @param {ServiceWorker | null} newer */
  function tell(newer) {
    if (!newer || !serviceWorker.controller) return;
    waiting = newer;
    card.hidden = false;
  }
  /** @param {ServiceWorkerRegistration | undefined} registration undefined if something between page and browser blocks it */
  function follow(registration) {
    if (!registration) return;
    tell(registration.waiting);
    registration.addEventListener("updatefound", () => {
      const { installing } = registration;
      installing?.addEventListener("statechange", () => {
        if (installing.state === "installed") tell(installing);
      });
    });
  }
  // Refused in private windows and where the host sends a wrong type: then the page needs a connection.
  void idle()
    .then(() => serviceWorker.register(scriptAddress(new URL(script, document.baseURI)), { updateViaCache: "none" }))
    .then(follow, () => {});
  void serviceWorker.ready.then(() => {
    byId("offline-ready", HTMLElement).hidden = false;
  });
}

/** @param {(file: File) => void} open */
function takeLaunches(open) {
  window.launchQueue?.setConsumer(({ files: [file] }) => {
    void file?.getFile().then(open);
  });
}
