/**
 * Decisions on the selected finding: intended, for a reason, or to fix. An unfinished reason survives changes of the list
 * of findings.
 *
 * @import {Finding} from "../core/messages.js"
 * @import {Decided} from "../core/review.js"
 * @import {Store} from "../core/state.js"
 */

import { make } from "../base/dom.js";
import { asLabel, MOST } from "../core/review.js";

/** Unfinished reasons, by finding. @type {Map<string, string>} */
const drafts = new Map();
/** Stores an unfinished reason in case the page closes; an empty one is removed. @type {(finding: string, text: string) => void} */
let keep = () => {};

/** @param {(finding: string, text: string) => void} heard */
export function keepReasons(heard) {
  keep = heard;
}

/**
 * Restores an unfinished reason: the form opens with it when its finding is selected.
 * @param {string} finding
 * @param {string} text
 */
export function goOnWith(finding, text) {
  drafts.set(finding, text);
  keep(finding, text);
}

/** Another file has findings of the same names. */
export function leaveReasons() {
  drafts.clear();
}

/** @param {string} finding */
function drop(finding) {
  drafts.delete(finding);
  keep(finding, "");
}

/**
 * User text as a review may hold it: without control characters and lone surrogates.
 * @param {string} text
 */
export function asText(text) {
  return text
    .replace(/\r\n?/g, "\n")
    .replace(/[^\P{Cc}\n\t]|\p{Surrogate}/gu, "")
    .trim();
}

/**
 * @param {string} text
 * @param {number} most characters
 */
export function tooLong(text, most) {
  const length = [...text].length;
  return length > most ? `This is ${length} characters long; ${most} are the most.` : "";
}

/**
 * The line below a finding's card.
 * @param {Finding} finding
 * @param {Store} store
 * @param {() => void} comment begins a note on it
 */
export function decisionLine(finding, store, comment) {
  const { id, decision } = finding;
  const line = make("div", { class: "decide", role: "group", "aria-label": `Decision on: ${finding.title}` });
  // No decision on a name that a review cannot hold.
  if (asLabel(id) !== id) return line;

  /** @param {Decided | null} decided */
  function decide(decided) {
    drop(id);
    const { decisions } = store.state;
    const others = decisions.filter((entry) => entry.finding !== id);
    if (decided && others.length >= MOST.decisions) {
      store.set({ notice: `A review holds ${MOST.decisions} decisions. Take one away before another is made.` });
      return;
    }
    store.set({ decisions: decided ? [...others, decided] : others });
  }

  function buttons() {
    const meant = toggle("intended", "Intended …", decision?.kind === "intended", () => (decision?.kind === "intended" ? decide(null) : form("")));
    const todo = toggle("to-fix", "To fix", decision?.kind === "to-fix", () => decide(decision?.kind === "to-fix" ? null : { finding: id, kind: "to-fix" }));
    const change = decision?.kind === "intended" ? [toggle("change", "Change the reason …", null, () => form(decision.reason))] : [];
    line.replaceChildren(meant, todo, ...change, toggle("comment", "New note", null, comment));
  }

  /** @param {string} reason */
  function form(reason) {
    const field = make("textarea", { id: "decide-reason", rows: "2", dir: "auto", "aria-describedby": "decide-trouble", "data-act": "intended" });
    field.value = reason;
    const trouble = make("p", { id: "decide-trouble", class: "decide-trouble", role: "alert" });
    const box = make(
      "form",
      { class: "decide-form" },
      make("label", { for: "decide-reason" }, "Why it is intended"),
      field,
      trouble,
      make(
        "div",
        { class: "entry-actions" },
        make("button", { type: "submit", class: "button button-strong" }, "Intended"),
        make("button", { type: "button", class: "button" }, "Cancel"),
      ),
    );
    const [submit, cancel] = box.querySelectorAll("button");
    const leave = () => {
      drop(id);
      buttons();
      line.querySelector("button")?.focus();
    };
    drafts.set(id, reason);
    field.addEventListener("input", () => {
      drafts.set(id, field.value);
      keep(id, field.value);
      trouble.textContent = tooLong(field.value, MOST.reason);
    });
    box.addEventListener("keydown", (event) => {
      if (event.key === "Escape") {
        event.stopPropagation();
        leave();
      }
      if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) submit?.click();
    });
    cancel?.addEventListener("click", leave);
    box.addEventListener("submit", (event) => {
      event.preventDefault();
      const text = asText(field.value);
      trouble.textContent = text === "" ? "Say why, in a few words: whoever reads it should not have to guess." : tooLong(text, MOST.reason);
      if (trouble.textContent) field.focus();
      else decide({ finding: id, kind: "intended", reason: text });
    });
    line.replaceChildren(box);
    field.focus();
  }

  const draft = drafts.get(id);
  if (draft === undefined) buttons();
  else form(draft);
  return line;
}

/**
 * @param {string} act
 * @param {string} text
 * @param {boolean | null} pressed null for a button that does something once
 * @param {() => void} press
 */
function toggle(act, text, pressed, press) {
  const button = make(
    "button",
    { type: "button", class: "chip decide-button", "data-act": act, ...(pressed === null ? {} : { "aria-pressed": String(pressed) }) },
    text,
  );
  button.addEventListener("click", press);
  return button;
}

/**
 * The text of a decision on a card; nothing without one.
 * @param {Finding} finding
 */
export function decisionWords({ decision }) {
  if (decision?.kind === "intended") return [make("span", { class: "card-decision" }, make("b", {}, "Intended. "), make("bdi", {}, decision.reason))];
  return decision ? [make("span", { class: "card-decision" }, make("b", {}, "To fix."))] : [];
}
