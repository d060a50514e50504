/**
 * The column of findings, worst first as in the report; above them the cause, if there is one, with its consequences folded
 * below. On a narrow screen the column is a drawer at the bottom.
 *
 * @import {Cause, Finding, FindingPlace} from "../core/messages.js"
 * @import {State, Store} from "../core/state.js"
 */

import { checkLabel, counts, SEVERITIES } from "./checks.js";
import { decisionLine, decisionWords } from "./decisions.js";
import { byId, icon, make } from "../base/dom.js";
import { counted, whole } from "../base/format.js";
import { chosenFinding } from "../core/state.js";

/** Cards shown at once; more on request. A model with ten thousand shells can have as many findings. */
const PAGE = 60;

/** Most places listed on a card. */
const PLACES = 200;

/** Offered ways to judge a model: `tiles` of the brief, and the label. */
const OFFERS = /** @type {Record<string, [string, string]>} */ ({
  repeating: ["repeat", "Judge as a repeating texture"],
  palette: ["palette", "Judge as a palette"],
});

/** Heights at which the drawer rests, share of the window; the first is its handle alone. */
const RESTS = /** @type {const} */ ([0, 0.48, 0.86]);

/**
 * @param {Store} store
 * @param {(finding: Finding | null) => void} choose
 * @param {(finding: Finding, place: FindingPlace) => void} choosePlace
 * @param {() => void} comment begins a note on the selected finding
 */
export function startFindings(store, choose, choosePlace, comment) {
  const list = byId("cards", HTMLOListElement);
  const heading = byId("findings-count", HTMLElement);
  const order = byId("findings-order", HTMLElement);
  const first = byId("findings-first", HTMLElement);
  const note = byId("findings-note", HTMLElement);
  const more = byId("cards-more", HTMLButtonElement);
  const all = byId("cards-all", HTMLButtonElement);
  const drawer = startDrawer(store);
  let shown = PAGE;
  /** Which model's findings, of which kind, are listed. */
  let listed = /** @type {unknown[]} */ ([]);
  /** Unfolded items: ids of findings, and the cause's kind. @type {Set<string>} */
  const unfolded = new Set();

  /** @param {Finding} finding */
  const made = (finding) =>
    card(
      finding,
      (place) => {
        drawer.lower();
        if (place) choosePlace(finding, place);
        else choose(finding);
      },
      unfolded,
    );

  function fill() {
    const { model, kind } = store.state;
    const findings = visibleFindings(store.state);
    const cause = kind === null ? (model?.report?.cause ?? null) : null;
    const page = findings.slice(0, shown);
    const focused = focusOf(list);
    list.replaceChildren(
      ...(cause
        ? [
            causeCard(
              cause,
              store,
              findings
                .filter((finding) => finding.follows_cause)
                .slice(0, PAGE)
                .map(made),
              unfolded,
            ),
          ]
        : []),
      ...page.filter((finding) => !cause || !finding.follows_cause).map(made),
    );
    heading.textContent = model?.report ? counted(findings.length, "finding") : "Findings";
    order.hidden = findings.length < 2;
    first.textContent = cause?.sentence ?? findings.find(counts)?.title ?? "";
    note.textContent = noteOf(store.state);
    note.hidden = note.textContent === "";
    more.hidden = findings.length <= shown;
    more.textContent = `Show ${whole(Math.min(PAGE, findings.length - shown))} more`;
    all.hidden = kind === null;
    all.textContent = kind === null ? "" : `Only ${checkLabel(kind)} · show all`;
    mark();
    focused();
  }

  function mark() {
    const { finding, chosen } = store.state;
    for (const line of list.querySelectorAll(".decide"))
      if (line.parentElement?.querySelector("[data-finding]")?.getAttribute("data-finding") !== finding) line.remove();
    for (const button of /** @type {NodeListOf<HTMLElement>} */ (list.querySelectorAll("[data-finding]"))) {
      const own = button.dataset.finding === finding;
      if (own) button.setAttribute("aria-current", "true");
      else button.removeAttribute("aria-current");
      const shells = (button.dataset.shells ?? "").split(" ").filter(Boolean).map(Number);
      button.classList.toggle("is-touched", !own && shells.some((shell) => chosen.includes(shell)));
      if (!own) continue;
      const found = visibleFindings(store.state).find(({ id }) => id === finding);
      if (found && !button.parentElement?.querySelector(".decide")) button.parentElement?.append(decisionLine(found, store, comment));
      const fold = button.closest("details");
      if (fold) fold.open = true;
      button.parentElement?.scrollIntoView({ block: "nearest" });
    }
  }

  more.addEventListener("click", () => {
    const next = list.children.length;
    shown += PAGE;
    fill();
    list.children[next]?.querySelector("button")?.focus();
  });
  all.addEventListener("click", () => store.set({ kind: null }));
  list.addEventListener("keydown", (event) => {
    const step = event.key === "ArrowDown" ? 1 : event.key === "ArrowUp" ? -1 : 0;
    if (step === 0) return;
    const buttons = /** @type {HTMLElement[]} */ ([...list.querySelectorAll("[data-finding]")]).filter((button) => !button.closest("details:not([open])"));
    const at = buttons.findIndex((button) => button === document.activeElement);
    const next = at < 0 ? undefined : buttons[at + step];
    if (next) {
      event.preventDefault();
      next.focus();
    }
  });
  store.watch(["model", "kind"], ({ model, kind }) => {
    // For the same model the number of shown cards stays.
    if (listed[0] !== model?.id || listed[1] !== kind) shown = PAGE;
    listed = [model?.id, kind];
    fill();
  });
  store.watch(["job"], (state) => {
    note.textContent = noteOf(state);
    note.hidden = note.textContent === "";
  });
  store.watch(["finding", "chosen"], mark);
  startChosenFinding(store, () => choose(null));
  return drawer;
}

/**
 * Remembers which control of which card has the focus, to restore it when the cards are replaced.
 * @param {HTMLElement} list
 */
function focusOf(list) {
  const active = document.activeElement;
  const id = active && list.contains(active) ? active.closest("li")?.querySelector("[data-finding]")?.getAttribute("data-finding") : null;
  const act = active?.getAttribute("data-act");
  const caret = active instanceof HTMLTextAreaElement ? [active.selectionStart, active.selectionEnd] : [];
  return () => {
    if (!id) return;
    const card = /** @type {HTMLElement | null} */ (list.querySelector(`[data-finding="${CSS.escape(id)}"]`));
    const control = /** @type {HTMLElement | null} */ (act && card?.parentElement?.querySelector(`[data-act="${act}"]`)) ?? card;
    control?.focus({ preventScroll: true });
    if (control instanceof HTMLTextAreaElement) control.setSelectionRange(caret[0] ?? 0, caret[1] ?? 0);
  };
}

/**
 * @param {State} state
 * @returns {Finding[]}
 */
export function visibleFindings({ model, kind }) {
  const findings = model?.report?.findings ?? [];
  return kind === null ? findings : findings.filter((finding) => finding.kind === kind);
}

/** @param {State} state */
function noteOf({ model, job }) {
  if (!model) return "";
  if (!model.report) return job ? "They appear here as soon as everything is measured." : "Measuring was stopped. Open the file again to have it measured.";
  if (model.report.findings.length === 0) return "Nothing to fix: the model keeps to its brief.";
  return "";
}

/**
 * The cause of the whole model, above all findings.
 * @param {Cause} cause
 * @param {Store} store
 * @param {HTMLElement[]} following cards
 * @param {Set<string>} unfolded
 */
function causeCard({ kind, severity, sentence }, store, following, unfolded) {
  const { shape, word } = SEVERITIES[severity];
  const item = make(
    "li",
    { class: `cause tone-${severity}`, "data-cause": kind },
    make(
      "p",
      { class: "cause-sentence" },
      make("span", { class: "card-sign", title: word }, icon(shape), make("span", { class: "unseen" }, `${word}: `)),
      make("span", {}, sentence),
    ),
  );
  const [tiles, words] = OFFERS[kind] ?? [];
  if (tiles && words) {
    const button = make("button", { type: "button", class: "button", "data-act": "judge-as" }, words);
    button.addEventListener("click", () => store.setBrief({ map: { tiles } }));
    item.append(button);
  }
  const count = following.length;
  if (count > 0)
    item.append(
      folded(
        `cause-${kind}`,
        `${counted(count, "finding")} ${count === 1 ? "follows" : "follow"} from this`,
        unfolded,
        make("ol", { class: "cards" }, ...following),
      ),
    );
  return item;
}

/**
 * A fold that stays open when the cards are replaced.
 * @param {string} key
 * @param {string} summary
 * @param {Set<string>} unfolded
 * @param {HTMLElement | (() => HTMLElement)} inside created when first opened, if it is large
 */
function folded(key, summary, unfolded, inside) {
  const details = make("details", { class: "folded" }, make("summary", { "data-act": "unfold" }, summary));
  const fill = () => {
    if (details.childElementCount === 1) details.append(typeof inside === "function" ? inside() : inside);
  };
  details.open = unfolded.has(key);
  if (details.open || typeof inside !== "function") fill();
  details.addEventListener("toggle", () => {
    if (details.open) fill();
    unfolded[details.open ? "add" : "delete"](key);
  });
  return details;
}

/**
 * @param {Finding} finding
 * @param {(place: FindingPlace | null) => void} choose the finding, or one of its places
 * @param {Set<string>} unfolded
 */
function card(finding, choose, unfolded) {
  const { shape, word } = SEVERITIES[finding.severity];
  const sign = make("span", { class: "card-sign", title: word }, icon(shape), make("span", { class: "unseen" }, `${word}: `));
  const number = make("span", { class: "card-number" }, finding.number.text);
  if (finding.limit) number.append(make("span", { class: "card-limit" }, `limit ${finding.limit.text}`));
  const button = make(
    "button",
    { type: "button", class: `card tone-${finding.severity}`, "data-finding": finding.id, "data-shells": finding.shells.join(" ") },
    make("span", { class: "card-title" }, sign, finding.title),
    make("span", { class: "card-facts" }, make("span", { class: "card-where" }, finding.where), number),
    make("span", { class: "card-advice" }, finding.advice),
    ...decisionWords(finding),
  );
  button.classList.toggle("is-intended", !counts(finding));
  button.addEventListener("click", () => choose(null));
  if (finding.places.length === 0) return make("li", {}, button);
  const places = () => {
    const list = make(
      "ol",
      { class: "places" },
      ...finding.places.slice(0, PLACES).map((place) => {
        const entry = make(
          "button",
          { type: "button", class: "place" },
          make("span", { class: "place-name" }, place.name),
          make("span", { class: "figure" }, place.number.text),
        );
        entry.addEventListener("click", () => choose(place));
        return make("li", {}, entry);
      }),
    );
    const rest = finding.places.length - PLACES;
    if (rest > 0) list.append(make("li", { class: "quiet" }, `and ${whole(rest)} more`));
    return list;
  };
  return make("li", {}, button, folded(finding.id, `All ${whole(finding.places.length)}, worst first`, unfolded, places));
}

/**
 * Number and advice of the selected finding on the lowered drawer, whose handle grows to fit them.
 * @param {Store} store
 * @param {() => void} clear
 */
function startChosenFinding(store, clear) {
  const place = byId("findings-chosen", HTMLElement);
  const head = /** @type {HTMLElement} */ (place.parentElement);
  const measure = () => {
    const isSeen = place.getClientRects().length > 0;
    if (isSeen) document.body.style.setProperty("--handle", `${Math.ceil(head.getBoundingClientRect().height)}px`);
    else document.body.style.removeProperty("--handle");
  };
  const say = (/** @type {string} */ part, /** @type {string} */ text) => (byId(`findings-chosen-${part}`, HTMLElement).textContent = text);
  store.watch(["finding", "model"], (state) => {
    const finding = chosenFinding(state);
    document.body.classList.toggle("has-finding", finding !== null);
    place.hidden = finding === null;
    if (finding) {
      say("title", finding.title);
      say("number", `${finding.number.text}${finding.limit ? `, limit ${finding.limit.text}` : ""}`);
      say("advice", finding.advice);
    }
    measure();
  });
  // Another width breaks the lines elsewhere, and a raised drawer has the card.
  new ResizeObserver(measure).observe(place);
  byId("findings-chosen-clear", HTMLButtonElement).addEventListener("click", () => {
    byId("drawer-handle", HTMLButtonElement).focus({ preventScroll: true });
    clear();
  });
}

/**
 * The drawer's handle: dragged, pressed, or moved with the arrow keys.
 * @param {Store} store
 */
function startDrawer(store) {
  const column = byId("findings", HTMLElement);
  const handle = byId("drawer-handle", HTMLButtonElement);
  let rest = 0;
  /** @type {{y: number, height: number} | null} */
  let grip = null;
  let dragged = false;

  /** @param {number} next */
  function settle(next) {
    rest = Math.min(RESTS.length - 1, Math.max(0, next));
    column.style.setProperty("--drawer", `${(RESTS[rest] ?? 0) * 100}dvh`);
    column.classList.toggle("is-open", rest > 0);
    const narrow = getComputedStyle(handle).display !== "none";
    store.set({ drawer: narrow ? (RESTS[rest] ?? 0) : 0 });
    handle.setAttribute("aria-expanded", String(rest > 0));
  }
  handle.addEventListener("pointerdown", (event) => {
    grip = { y: event.clientY, height: column.getBoundingClientRect().height };
    dragged = false;
    handle.setPointerCapture(event.pointerId);
    column.classList.add("is-held");
  });
  handle.addEventListener("pointermove", (event) => {
    if (!grip) return;
    if (Math.abs(event.clientY - grip.y) > 4) dragged = true;
    column.style.setProperty("--drawer", `${grip.height + grip.y - event.clientY}px`);
  });
  const release = (/** @type {PointerEvent} */ event) => {
    if (!grip) return;
    const share = (grip.height + grip.y - event.clientY) / innerHeight;
    grip = null;
    column.classList.remove("is-held");
    if (!dragged) return settle(rest);
    const gaps = RESTS.map((height) => Math.abs(height - share));
    settle(gaps.indexOf(Math.min(...gaps)));
  };
  handle.addEventListener("pointerup", release);
  handle.addEventListener("pointercancel", release);
  handle.addEventListener("click", () => {
    if (dragged) dragged = false;
    else settle(rest === 0 ? 1 : 0);
  });
  handle.addEventListener("keydown", (event) => {
    if (event.key !== "ArrowUp" && event.key !== "ArrowDown") return;
    event.preventDefault();
    settle(rest + (event.key === "ArrowUp" ? 1 : -1));
  });
  settle(0);
  return {
    raise() {
      if (rest === 0) settle(1);
    },
    lower() {
      // The cards hide with the drawer; the focus moves from there to the handle.
      const narrow = getComputedStyle(handle).display !== "none";
      if (narrow && column.contains(document.activeElement)) handle.focus({ preventScroll: true });
      settle(0);
    },
  };
}
