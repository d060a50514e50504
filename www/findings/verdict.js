/**
 * The bar on top: the file, the verdict, one chip a check. A chip narrows the findings to its kind.
 *
 * Chips are fitted by one layout instead of one each, and later than the rest (`Store.watchLater`).
 *
 * @import {Report} from "../core/messages.js"
 * @import {State, Store} from "../core/state.js"
 */

import { CHECKS, checkLabel, notJudged, tally } from "./checks.js";
import { briefName, limitOf } from "./limits.js";
import { byId, icon, make } from "../base/dom.js";
import { bytes, counted, whole } from "../base/format.js";

/** Text and sign of each verdict. @satisfies {Record<Report["verdict"], object>} */
export const VERDICTS = /** @type {const} */ ({
  ready: { word: "Ready", shape: "shape-ready", tone: "ready" },
  look: { word: "Have a look", shape: "shape-look", tone: "look" },
  "not ready": { word: "Not ready", shape: "shape-must-fix", tone: "must-fix" },
});

/**
 * @param {Store} store
 * @param {{brief: () => void, warnings: () => void}} open
 */
export function startVerdict(store, open) {
  const name = byId("file-name", HTMLElement);
  const facts = byId("file-facts", HTMLElement);
  const verdict = byId("verdict", HTMLElement);
  const toReady = byId("to-ready", HTMLElement);
  const inForm = byId("brief-verdict", HTMLElement);
  const chips = byId("chips", HTMLElement);
  const brief = byId("brief-open", HTMLButtonElement);
  brief.addEventListener("click", open.brief);

  const briefText = byId("brief-in-force", HTMLElement);
  store.watch(["brief", "form"], (state) => {
    const { name, changed } = briefName(state.brief, state.form);
    briefText.textContent = name;
    brief.classList.toggle("is-changed", changed > 0);
    brief.title = `What the model is checked against: ${name} (R)`;
  });

  store.watch(["model", "job", "judging", "previous"], (state) => {
    const { model, previous } = state;
    name.textContent = model?.name ?? "";
    name.title = model ? `${model.name}, ${bytes(model.bytes)}` : "";
    facts.textContent = model ? factsOf(state) : "";
    verdict.replaceChildren(...verdictOf(state));
    toReady.textContent = state.judging ? "" : (model?.report?.to_ready.text ?? "");
    inForm.replaceChildren(...verdictOf(state));
    name.parentElement?.classList.toggle("is-previous", previous);
    document.title = model ? `${model.name}${previous ? " (previous version)" : ""} · Gridproof` : "Gridproof";
  });
  store.watchLater(["model", "kind", "brief", "form"], (state) => {
    const { activeElement } = document;
    const focused = chips.contains(activeElement) && activeElement instanceof HTMLElement ? activeElement.dataset.kind : undefined;
    chips.replaceChildren(...chipsOf(state, store, open));
    fitChips(chips, open.brief);
    if (focused) /** @type {HTMLElement | null} */ (chips.querySelector(`[data-kind="${focused}"]`))?.focus();
  });
  new ResizeObserver(() => fitChips(chips, open.brief)).observe(chips);
}

/**
 * Keeps the chips in one row: those that do not fit are replaced by one that shows their number and opens the brief,
 * where all checks are listed. Where the row scrolls by touch all stay.
 * @param {HTMLElement} chips
 * @param {() => void} brief
 */
function fitChips(chips, brief) {
  chips.querySelector(".chips-rest")?.remove();
  const items = /** @type {HTMLElement[]} */ ([...chips.children]);
  for (const item of items) item.hidden = false;
  if (items.length === 0 || getComputedStyle(chips).overflowX !== "hidden") return;
  const text = make("span", {}, `${items.length} more`);
  const more = make("button", { type: "button", class: "chip", title: "All checks" }, text);
  more.addEventListener("click", brief);
  const rest = make("li", { class: "chips-rest" }, more);
  chips.append(rest);
  // All positions are read at once: a read after each change would force another layout.
  const { right } = chips.getBoundingClientRect();
  const ends = items.map((item) => item.getBoundingClientRect().right);
  const { left, width } = rest.getBoundingClientRect();
  const last = ends.at(-1) ?? 0;
  const needed = left - last + width;
  const fitting = last <= right ? items.length : ends.filter((end) => end + needed <= right).length;
  if (fitting === items.length) rest.remove();
  else text.textContent = fitting > 0 ? `${items.length - fitting} more` : counted(items.length, "check");
  items.slice(fitting).forEach((item) => (item.hidden = true));
}

/** @param {State} state */
function factsOf({ model, previous }) {
  if (!model) return "";
  if (previous) return "previous version";
  const { triangles, shells } = model.summary.counts;
  return [counted(triangles, "triangle"), shells ? counted(shells, "shell") : ""].filter(Boolean).join(" · ");
}

/** @param {State} state */
function verdictOf({ model, job, judging }) {
  if (!model) return [];
  const entry = !judging && model.report && VERDICTS[model.report.verdict];
  const meant = model.report?.intended ?? 0;
  if (entry)
    return [make("span", { class: `verdict-sign tone-${entry.tone}` }, icon(entry.shape), meant > 0 ? `${entry.word}, ${whole(meant)} intended` : entry.word)];
  const word = job || judging ? "Measuring" : "Not measured";
  return [make("span", { class: "verdict-sign tone-quiet" }, icon("shape-info"), word)];
}

/**
 * @param {State} state
 * @param {Store} store
 * @param {{brief: () => void, warnings: () => void}} open
 */
function chipsOf({ model, kind, brief, form }, store, open) {
  if (!model) return [];
  const items = [];
  if (model.report) {
    const counts = tally(model.report.findings, model.report.cause);
    for (const entry of counts) {
      const pressed = entry.kind === kind;
      const chip = make(
        "button",
        { type: "button", class: `chip tone-${entry.severity}`, "aria-pressed": String(pressed), "data-kind": entry.kind },
        icon(`shape-${entry.severity}`),
        make("b", {}, whole(entry.count)),
        ` ${checkLabel(entry.kind)}`,
      );
      const limit = limitOf(entry.kind, brief, form);
      if (limit) chip.title = `Limit: ${limit}`;
      chip.addEventListener("click", () => store.set({ kind: pressed ? null : entry.kind }));
      items.push(chip);
    }
    const unjudged = notJudged(model.report);
    const clear = CHECKS.filter(([check]) => !unjudged.includes(check) && !counts.some((entry) => entry.kind === check)).length;
    const chip = make("button", { type: "button", class: "chip tone-ready" }, icon("shape-ready"), make("b", {}, whole(clear)), " clear");
    chip.title = "Checks without a finding";
    chip.addEventListener("click", open.brief);
    items.push(chip);
    if (unjudged.length > 0) {
      const rest = make("button", { type: "button", class: "chip tone-quiet" }, icon("shape-info"), make("b", {}, whole(unjudged.length)), " not judged");
      rest.title = `Not asked by the brief, or nothing to judge: ${unjudged.map(checkLabel).join(", ")}`;
      rest.addEventListener("click", open.brief);
      items.push(rest);
    }
  }
  const warned = warningCount(model.summary.warning_counts);
  if (warned > 0) {
    const chip = make(
      "button",
      { type: "button", class: "chip" },
      icon("shape-lines"),
      make("b", {}, whole(warned)),
      ` file ${warned === 1 ? "warning" : "warnings"}`,
    );
    chip.addEventListener("click", open.warnings);
    // First, so that it is never hidden: nothing else opens the notes.
    items.unshift(chip);
  }
  return items.map((chip) => make("li", {}, chip));
}

/** @param {Record<string, number>} counts */
export function warningCount(counts) {
  return Object.values(counts).reduce((sum, count) => sum + count, 0);
}
