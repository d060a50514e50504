/**
 * The list of compared findings, and the numbers of both versions: a panel beside the model.
 *
 * @import {Brief, Comparison, Finding} from "../core/messages.js"
 * @import {Pair} from "./pair.js"
 * @import {Stage} from "../stage/stage.js"
 * @import {Model, Store} from "../core/state.js"
 */

import { numberLabel, numberText } from "./numbers.js";
import { SEVERITIES } from "../findings/checks.js";
import { NUMBERS } from "../core/known.js";
import { resultOf } from "../findings/table.js";
import { VERDICTS } from "../findings/verdict.js";
import { byId, icon, make } from "../base/dom.js";
import { whole } from "../base/format.js";

/** A screen as narrow as this shows either the list or the 3D view. */
const NARROW = "(max-width: 599px)";

const CHANGES = /** @type {const} */ ({ better: "better", worse: "worse", same: "as it was" });

export class Details {
  #store;
  #stage;
  #page;
  #dialog = byId("compare", HTMLDialogElement);
  #lists = byId("compare-lists", HTMLElement);

  /**
   * @param {Store} store
   * @param {Stage} stage
   * @param {{flip: () => void, choose: (finding: Finding) => void}} page
   */
  constructor(store, stage, page) {
    this.#store = store;
    this.#stage = stage;
    this.#page = page;
    byId("compare-close", HTMLButtonElement).addEventListener("click", () => this.close());
    byId("compare-flip", HTMLButtonElement).addEventListener("click", page.flip);
    this.#dialog.addEventListener("keydown", (event) => {
      if (event.key === "Escape") {
        event.stopPropagation();
        this.close();
      } else if (event.key === "v" && !event.ctrlKey && !event.metaKey && !event.altKey) {
        // The page's shortcuts must not act too: the focused element may be replaced, and so be outside the dialog.
        event.preventDefault();
        page.flip();
      }
    });
  }

  /**
   * @param {Pair} pair
   * @param {Comparison} comparison
   */
  open(pair, comparison) {
    if (!this.#dialog.open) this.#dialog.show();
    this.fill(pair, comparison);
    byId("compare-close", HTMLButtonElement).focus();
  }

  close() {
    if (!this.#dialog.open) return;
    const isInside = this.#dialog.contains(document.activeElement);
    this.#dialog.close();
    if (isInside) byId(byId("versions", HTMLElement).hidden ? "compare-open" : "versions-details", HTMLElement).focus();
  }

  /**
   * Updates it, if it is open.
   * @param {Pair} pair
   * @param {Comparison} comparison
   */
  fill({ previous, newer }, comparison) {
    if (!this.#dialog.open) return;
    const { brief, previous: isPrevious } = this.#store.state;
    byId("compare-versions", HTMLElement).replaceChildren(...versionRow("Previous", previous), ...versionRow("New", newer));
    byId("compare-box", HTMLElement).hidden = !comparison.by_box;
    byId("compare-shown", HTMLElement).textContent = `${isPrevious ? "The previous" : "The new"} version is shown.`;
    const [then, now] = [previous, newer].map(({ report }) => report?.findings ?? []);
    const active = document.activeElement;
    const focused = active && this.#lists.contains(active) ? active.getAttribute("data-entry") : null;
    this.#lists.replaceChildren(
      ...listOf(
        "fixed",
        "Fixed",
        comparison.fixed.map((at) => this.#entry(then?.[at], `old-${at}`, true)),
      ),
      ...listOf(
        "still",
        "Still there",
        comparison.still_there.map((entry) => this.#entry(now?.[entry.new], `new-${entry.new}`, null, { before: then?.[entry.old], change: entry.change })),
      ),
      ...listOf(
        "new",
        "New",
        comparison.new.map((at) => this.#entry(now?.[at], `new-${at}`, false)),
      ),
    );
    if (focused) /** @type {HTMLElement | null} */ (this.#lists.querySelector(`[data-entry="${focused}"]`))?.focus({ preventScroll: true });
    byId("compare-numbers", HTMLElement).replaceChildren(...numberRows(previous, newer, brief));
  }

  /**
   * A finding that can be selected in its version.
   * @param {Finding | undefined} finding in the new version, if it is there
   * @param {string} entry
   * @param {boolean | null} ofPrevious which version it belongs to; null for both
   * @param {{before: Finding | undefined, change: keyof typeof CHANGES} | null} still
   */
  #entry(finding, entry, ofPrevious, still = null) {
    if (!finding) return make("li");
    const { shape, word } = SEVERITIES[finding.severity];
    const numbers =
      still?.before && still.before.number.text !== finding.number.text
        ? [
            make("span", { class: "quiet" }, make("span", { class: "unseen" }, "before "), still.before.number.text),
            make("span", { "aria-hidden": "true" }, " → "),
            make("span", { class: "unseen" }, ", now "),
          ]
        : [];
    const change = still ? [make("span", { class: `compare-change is-${still.change}` }, CHANGES[still.change])] : [];
    const button = make(
      "button",
      { type: "button", class: `card tone-${finding.severity}`, "data-entry": entry },
      make(
        "span",
        { class: "card-title" },
        make("span", { class: "card-sign", title: word }, icon(shape), make("span", { class: "unseen" }, `${word}: `)),
        make("span", {}, finding.title),
      ),
      make(
        "span",
        { class: "card-facts" },
        make("span", { class: "card-where" }, finding.where),
        make("span", { class: "compare-figures figure" }, ...numbers, make("b", {}, finding.number.text), ...change),
      ),
    );
    button.addEventListener("click", () => {
      const { previous } = this.#store.state;
      if (ofPrevious !== null && ofPrevious !== previous) this.#page.flip();
      const twin = still && this.#store.state.previous ? still.before : finding;
      if (!twin || (ofPrevious !== null && ofPrevious !== this.#store.state.previous)) return;
      if (matchMedia(NARROW).matches) this.close();
      this.#page.choose(twin);
      this.#stage.views.show(twin);
    });
    return make("li", {}, button);
  }
}

/**
 * @param {string} role
 * @param {Model} model
 */
function versionRow(role, { name, report }) {
  const verdict = report ? VERDICTS[report.verdict] : null;
  return [
    make("dt", {}, role),
    make(
      "dd",
      {},
      make("bdi", { class: "about-file" }, name),
      ...(verdict ? [make("span", { class: `compare-verdict tone-${verdict.tone}` }, icon(verdict.shape), verdict.word)] : []),
    ),
  ];
}

/**
 * @param {string} id
 * @param {string} title
 * @param {HTMLElement[]} entries
 */
function listOf(id, title, entries) {
  return [
    make("h3", { id: `compare-${id}` }, `${title} `, make("span", { class: "figure quiet" }, whole(entries.length))),
    entries.length > 0 ? make("ul", { class: "cards", "aria-labelledby": `compare-${id}` }, ...entries) : make("p", { class: "quiet" }, "None."),
  ];
}

/**
 * @param {Model} previous
 * @param {Model} newer
 * @param {Brief} brief
 */
function numberRows(previous, newer, brief) {
  const [then, now] = [previous, newer].map(({ report }) => (report ? resultOf(report).numbers : []));
  return NUMBERS.map((name, at) => {
    const [before, after] = [then?.[at] ?? null, now?.[at] ?? null];
    const [old, fresh] = [before, after].map((value) => numberText(name, value, brief));
    const isChanged = old !== fresh;
    const higher = before !== null && after !== null && after > before;
    const sign = !isChanged
      ? []
      : before === null || after === null
        ? [make("span", { class: "compare-sign" }, "≠"), make("span", { class: "unseen" }, " changed")]
        : [
            make("span", { class: "compare-sign", "aria-hidden": "true" }, higher ? "↑" : "↓"),
            make("span", { class: "unseen" }, higher ? " higher" : " lower"),
          ];
    return make(
      "tr",
      { class: isChanged ? "is-changed" : "" },
      make("th", { scope: "row" }, numberLabel(name)),
      make("td", { class: "figure" }, old ?? ""),
      make("td", { class: "figure" }, fresh ?? "", ...sign),
    );
  });
}
