/**
 * Which rows of a class are shown: by words in student or path, by verdicts, by a kind of finding.
 *
 * @import {FindingKind} from "../core/messages.js"
 * @import {Outcome, Row} from "./rows.js"
 */

import { checkLabel, CHECKS } from "../findings/checks.js";
import { OUTCOME_SIGNS, outcomeOf, OUTCOMES } from "./rows.js";
import { byId, icon, make } from "../base/dom.js";
import { whole } from "../base/format.js";

/** @param {() => void} changed */
export function startFilter(changed) {
  const words = byId("class-words", HTMLInputElement);
  const kinds = byId("class-kind", HTMLSelectElement);
  const count = byId("class-shown", HTMLElement);
  const none = byId("class-none", HTMLElement);
  const all = byId("class-all", HTMLButtonElement);
  /** @type {Set<Outcome>} */
  const verdicts = new Set();
  const chips = OUTCOMES.map((outcome) => {
    const { word, shape, tone } = OUTCOME_SIGNS[outcome];
    const number = make("b");
    const chip = make("button", { type: "button", class: `chip tone-${tone}`, "data-verdict": outcome }, icon(shape), number, ` ${word}`);
    chip.addEventListener("click", () => {
      if (!verdicts.delete(outcome)) verdicts.add(outcome);
      changed();
    });
    return { outcome, chip, number };
  });
  byId("class-verdicts", HTMLElement).append(...chips.map(({ chip }) => chip));
  words.addEventListener("input", changed);
  kinds.addEventListener("change", changed);
  all.addEventListener("click", () => {
    clear();
    changed();
    words.focus();
  });

  function clear() {
    words.value = kinds.value = "";
    verdicts.clear();
  }

  /** @returns {(row: Row) => boolean} whether a row passes now */
  function passing() {
    const text = folded(words.value.trim());
    const kind = kinds.value;
    return (row) => {
      const outcome = outcomeOf(row);
      return (
        (folded(row.source.path).includes(text) || folded(row.student).includes(text)) &&
        (verdicts.size === 0 || (outcome !== null && verdicts.has(outcome))) &&
        (kind === "" || kindsOf(row).has(/** @type {FindingKind} */ (kind)))
      );
    };
  }

  /**
   * Shows how many rows there are of each kind, and how many pass.
   * @param {Row[]} rows
   * @param {number} shown
   */
  function tell(rows, shown) {
    for (const { outcome, chip, number } of chips) {
      const of = rows.filter((row) => outcomeOf(row) === outcome).length;
      number.textContent = whole(of);
      chip.setAttribute("aria-pressed", String(verdicts.has(outcome)));
      chip.hidden = of === 0 && !verdicts.has(outcome);
    }
    /** @type {Map<FindingKind, number>} */
    const found = new Map();
    for (const row of rows) for (const kind of kindsOf(row)) found.set(kind, (found.get(kind) ?? 0) + 1);
    const chosen = kinds.value;
    const options = CHECKS.filter(([kind]) => found.has(kind) || kind === chosen).map(([kind]) => ({
      kind,
      text: `${checkLabel(kind)} (${found.get(kind) ?? 0})`,
    }));
    const texts = options.map(({ text }) => text).join();
    // An open list would close if its entries were replaced.
    if (kinds.dataset.texts !== texts) {
      kinds.replaceChildren(new Option("any finding", ""), ...options.map(({ kind, text }) => new Option(text, kind)));
      kinds.value = chosen;
      kinds.dataset.texts = texts;
    }
    count.textContent = shown === rows.length ? "" : `${whole(shown)} of ${whole(rows.length)} shown`;
    all.hidden = words.value === "" && chosen === "" && verdicts.size === 0;
    none.hidden = shown > 0;
  }

  return {
    clear,
    passing,
    tell,
    /** State of the filter, to be restored. */
    get asked() {
      return { words: words.value, kind: kinds.value, verdicts: [...verdicts] };
    },
    /** @param {{words: string, kind: string, verdicts: string[]}} asked */
    set({ words: text, kind, verdicts: chosen }) {
      clear();
      words.value = text;
      // Kinds are listed once a file is measured; the one that was chosen is there from the start.
      if (kind !== "") {
        kinds.replaceChildren(new Option("any finding", ""), new Option(checkLabel(kind), kind));
        kinds.value = kind;
      }
      for (const outcome of OUTCOMES) if (chosen.includes(outcome)) verdicts.add(outcome);
    },
  };
}

/** @param {string} text */
function folded(text) {
  return text.normalize("NFC").toLowerCase();
}

/**
 * @param {Row} row
 * @returns {Set<FindingKind>}
 */
function kindsOf({ state, result }) {
  return new Set(state === "measured" ? result?.findings.map(({ kind }) => kind) : []);
}
