/**
 * Error messages: what happened, where, and what to do next. Failures are distinguished by their code only.
 *
 * @import {Failure, ModuleFailure} from "./messages.js"
 * @import {Problem, State, Store} from "./state.js"
 */

import { byId, make, scrollByKeys } from "../base/dom.js";
import { isolated } from "../base/format.js";

/** Most warnings shown with a failure: the first show its cause. */
const WARNINGS_SHOWN = 4;

/** @typedef {{title: string, says?: string, next?: string}} Words */

/**
 * `says` replaces a technical message. The reader's failures include what to do next, so they have no `next` here. All codes
 * of the module are listed.
 * @type {Record<string, Words> & Record<ModuleFailure, Words>}
 */
const CAUSES = {
  empty: { title: "The file is empty" },
  "no-faces": { title: "There is nothing to draw in it" },
  binary: { title: "This is not an OBJ text file" },
  "looks-like-other-text": { title: "This is text, but not an OBJ" },
  utf16: { title: "The text is in UTF-16" },
  "too-large": { title: "The model is too large" },
  memory: {
    title: "There was not enough memory",
    says: "The browser refused the memory that this model needs.",
    next: "Close other tabs, or export a part of the model and look at that.",
  },
  "no-obj": { title: "There is no model in it" },
  "zip-damaged": { title: "The zip is damaged" },
  "zip-limit": { title: "The zip holds too much" },
  "zip-locked": { title: "The zip is locked" },
  "zip-method": { title: "The zip cannot be unpacked here" },
  "zip-nested": { title: "A zip in a zip" },
  "class-limit": { title: "These are too many files" },
  missing: { title: "Missing" },
  unreadable: { title: "The file could not be read", next: "It may have been moved or changed since it was chosen. Choose it again." },
  network: { title: "The model could not be fetched", next: "Check the connection and the address, then try again." },
  elsewhere: { title: "The link points to another site", next: "Download the model there and drop it here, or ask whoever runs this page to allow that site." },
  "not-carried": { title: "The link carries no model" },
  newer: { title: "The link was made by a newer Gridproof" },
  "cut-short": { title: "The link was cut short" },
  altered: { title: "The link was altered" },
  damaged: { title: "The model in the link is damaged" },
  "large-link": { title: "The model is too large for a link", next: "Download it and drop it here." },
  crashed: {
    title: "Stopped by a fault of ours",
    says: "The part that reads and measures stopped where it should not have.",
    next: "Try once more. If it happens again, please report it with the file.",
  },
  brief: { title: "The brief could not be used" },
  graphics: {
    title: "The picture could not be drawn",
    says: "The graphics card or its driver refused something.",
    next: "Findings and readings still hold. Reload the page to draw again; a smaller part of the model may fit.",
  },
  engine: {
    title: "Gridproof could not start",
    says: "The part that reads and draws models could not be loaded.",
    next: "Reload the page. If that does not help, the browser may be too old for WebAssembly, or the file wasm/gridproof_bg.wasm is missing from this host.",
  },
};

/** @type {{title: string, says?: string, next?: string}} */
const OTHER = { title: "The file could not be read", next: "Check the file, or export it again, and drop it here." };

/**
 * @param {Failure} failure
 * @param {string} name of the file
 * @returns {Problem}
 */
export function problemOf({ code, message, line, warnings = [] }, name) {
  const { title, says, next = "" } = CAUSES[code] ?? OTHER;
  const place = [isolated(name), line ? `line ${line}` : ""].filter(Boolean).join(", ");
  return { code, title, message: says ?? message, detail: says ? message : "", place, next, warnings };
}

/**
 * An exception as a failure: anything else is a program error.
 * @param {unknown} error
 * @returns {Failure}
 */
export function asFailure(error) {
  if (error && typeof error === "object" && "code" in error && typeof error.code === "string") return /** @type {Failure} */ (error);
  return { code: "crashed", message: error instanceof Error ? error.message : String(error), line: null };
}

/** @param {Store} store */
export function startProblems(store) {
  const card = byId("problem", HTMLElement);
  const title = byId("problem-title", HTMLElement);
  const place = byId("problem-place", HTMLElement);
  const message = byId("problem-message", HTMLElement);
  const next = byId("problem-next", HTMLElement);
  const list = byId("problem-warnings", HTMLElement);
  const detail = byId("problem-detail", HTMLElement);
  scrollByKeys(detail);
  const choose = byId("problem-choose", HTMLButtonElement);
  const again = byId("problem-again", HTMLButtonElement);
  const kept = byId("problem-kept", HTMLElement);
  byId("problem-close", HTMLButtonElement).addEventListener("click", () => store.set({ problem: null }));

  store.watch(["problem"], ({ problem, model }) => {
    card.hidden = problem === null;
    if (!problem) return;
    choose.hidden = problem.code === "engine";
    again.hidden = !problem.again;
    choose.classList.toggle("button-strong", !problem.again);
    title.textContent = problem.title;
    place.textContent = problem.place;
    place.hidden = problem.place === "";
    message.textContent = problem.message;
    message.hidden = problem.message === "";
    next.textContent = problem.next;
    next.hidden = problem.next === "";
    const shown = problem.warnings.filter((warning) => !problem.message.includes(warning.message)).slice(0, WARNINGS_SHOWN);
    list.hidden = shown.length === 0;
    list.replaceChildren(...shown.map(({ line, message }) => make("li", {}, line > 0 ? `Line ${line}: ${message}` : message)));
    detail.hidden = problem.detail === "";
    detail.textContent = `What the browser said: ${problem.detail}`;
    kept.hidden = model === null;
    kept.textContent = model ? `${isolated(model.name)} is still here, ${model.report ? "as it was" : "but not measured"}.` : "";
  });

  const notice = byId("notice", HTMLElement);
  const noticeText = byId("notice-text", HTMLElement);
  byId("notice-close", HTMLButtonElement).addEventListener("click", () => store.set({ notice: "" }));
  store.watch(["notice"], (state) => {
    notice.hidden = state.notice === "";
    noticeText.textContent = state.notice;
  });

  const graphics = byId("graphics", HTMLElement);
  const graphicsText = byId("graphics-text", HTMLElement);
  const graphicsClose = byId("graphics-close", HTMLButtonElement);
  let read = false;
  const tell = (/** @type {Readonly<State>} */ state) => {
    // A notice that appears by itself also disappears by itself.
    graphicsClose.hidden = state.graphics === "lost";
    graphics.hidden = state.graphics === "gl" || (state.graphics === "none" && (!state.model || read));
    graphicsText.textContent =
      state.graphics === "lost"
        ? "The graphics were interrupted by the system. They come back by themselves; nothing is lost."
        : "This browser offers no WebGL2, so the model cannot be turned here. Findings, readings and the sheet work.";
  };
  store.watch(["graphics", "model"], tell);
  graphicsClose.addEventListener("click", () => {
    read = true;
    tell(store.state);
  });
}
