/**
 * The form of the brief. Every key has its explanation; a change is applied at once, and an invalid one shows its reason
 * beside the field and changes nothing. Keys, explanations, defaults and presets come from `brief.json`, which
 * the project's command writes beside the page. Briefs are opened and saved as JSON, which the command reads too.
 *
 * The form is filled only while it is open.
 *
 * @import {BriefForm, BriefKey, Engine} from "../core/messages.js"
 * @import {State, Store} from "../core/state.js"
 */

import { BriefField, labelled } from "./fields.js";
import { CHECKS, notJudged, tally } from "../findings/checks.js";
import { byId, icon, make } from "../base/dom.js";
import { isolated, whole } from "../base/format.js";
import { briefName, limitOf, presetOf } from "../findings/limits.js";
import { mergeBrief } from "../core/state.js";

const FORM = new URL("../../brief.json", import.meta.url);

/** The section of the form that is folded. */
const RUBRIC = "rubric";
/** Debounce of typing before the model is judged again, ms. */
const REST_MS = 350;

/** How long a saved brief's URL is kept, ms: until every browser has started writing it. */
const KEEP_MS = 60_000;

/** A brief is a few kB; more is another kind of file. */
const MOST_BYTES = 1_000_000;

/** Most names of the model that the form suggests while typing. */
const MOST_NAMES = 1000;

/**
 * @param {Store} store
 * @param {Engine} engine
 * @returns {{open: () => void, show: () => void, hold: (file: File) => Promise<string>, replace: (brief: object) => void, readonly busy: boolean}}
 *   `hold` activates a file's brief, or says why not
 */
export function startBrief(store, engine) {
  const dialog = byId("brief", HTMLDialogElement);
  const name = byId("brief-name", HTMLElement);
  const place = byId("brief-form", HTMLFormElement);
  const presets = byId("brief-preset", HTMLSelectElement);
  const trouble = byId("brief-trouble", HTMLElement);
  const input = byId("brief-file", HTMLInputElement);
  /** @type {BriefField[]} */
  let fields = [];
  /** Fields with input that is not applied yet. @type {Set<BriefField>} */
  const typed = new Set();
  /** Names of the model that the form offers. @type {string[] | null} */
  let offered = null;
  let resting = 0;
  let busy = true;
  /** @type {Element | null} */
  let before = null;

  /** @param {string} [why] */
  function refuse(why = "") {
    trouble.textContent = why;
    trouble.hidden = why === "";
  }

  /**
   * Replaces the active brief.
   * @param {object} brief
   */
  function replace(brief) {
    clearTimeout(resting);
    typed.clear();
    refuse();
    store.setBrief(brief, {});
    for (const field of fields) field.fill(store.state);
  }

  /** Applies valid input. */
  function judge() {
    clearTimeout(resting);
    const done = [...typed];
    typed.clear();
    let { brief } = store.state;
    for (const field of done) {
      const patch = field.take(brief);
      if (!patch) continue;
      const asked = mergeBrief(brief, patch, store.state.form?.defaults ?? {});
      const why = engine.brief_trouble(asked);
      field.refuse(why);
      if (!why) brief = asked;
    }
    store.setBrief(brief, {});
    for (const field of done) field.follow(store.state);
  }

  /** @param {BriefForm} form */
  function build(form) {
    fields = [];
    place.replaceChildren(
      ...form.sections.map(({ section, text, keys }) => {
        const title = make("legend", {}, labelled(section).label);
        const entries = keys.length > 0 ? keys : [/** @type {BriefKey} */ ({ key: "", text: "", kind: "factors" })];
        const own = entries.map(
          (entry) =>
            new BriefField(section, entry, form, (field, now) => {
              typed.add(field);
              clearTimeout(resting);
              if (now) judge();
              else resting = window.setTimeout(judge, REST_MS);
            }),
        );
        fields.push(...own);
        const elements = own.map(({ element }) => element);
        // One for each check: folded, since many give no points.
        const shown = section === RUBRIC ? [make("details", {}, make("summary", {}, "Points for each check"), ...elements)] : elements;
        return make("fieldset", { "data-section": section }, title, make("p", { class: "quiet" }, text), ...shown);
      }),
    );
    presets.replaceChildren(make("option", { value: "" }, "custom"), ...form.presets.map((preset) => make("option", { value: preset.name }, preset.title)));
  }

  async function fetchForm() {
    try {
      const response = await fetch(FORM);
      if (!response.ok) throw new Error(`the server answered ${response.status}`);
      store.set({ form: await response.json() });
    } catch (error) {
      refuse(
        `The form could not be fetched (${error instanceof Error ? error.message : String(error)}). The model is checked against the defaults; reload the page to try again.`,
      );
    } finally {
      busy = false;
    }
  }

  /** Fills the form from the active brief, when it is opened. */
  function follow() {
    const { state } = store;
    fillChecks(state);
    const names = state.model?.summary.names ?? null;
    if (names !== offered)
      byId("brief-names", HTMLDataListElement).replaceChildren(...(names ?? []).slice(0, MOST_NAMES).map((value) => make("option", { value })));
    offered = names;
    if (!state.form) return;
    if (fields.length === 0) build(state.form);
    name.textContent = briefName(state.brief, state.form).name;
    presets.value = presetOf(state.brief, state.form)?.name ?? "";
    for (const field of fields) if (!typed.has(field)) field.follow(state);
  }
  store.watch(["brief", "model", "form"], () => (dialog.open ? follow() : undefined));

  presets.addEventListener("change", () => {
    const preset = store.state.form?.presets.find((entry) => entry.name === presets.value);
    if (preset) replace(preset.brief);
    else presets.value = presetOf(store.state.brief, store.state.form)?.name ?? "";
  });
  byId("brief-reset", HTMLButtonElement).addEventListener("click", () => replace({}));
  byId("brief-open-file", HTMLButtonElement).addEventListener("click", () => input.click());
  byId("brief-save", HTMLButtonElement).addEventListener("click", () => {
    judge();
    save(store.state);
  });
  input.addEventListener("change", async () => {
    const [file] = input.files ?? [];
    input.value = "";
    const why = file ? await hold(file) : "";
    if (file && why) refuse(`${isolated(file.name)}: ${why}`);
  });
  place.addEventListener("submit", (event) => event.preventDefault());
  byId("brief-close", HTMLButtonElement).addEventListener("click", close);
  dialog.addEventListener("keydown", (event) => {
    if (event.key === "Escape") close();
  });

  // At once, not on the dialog's close event: it may be open again by then.
  function close() {
    judge();
    dialog.close();
    // Chips are replaced when the model is judged again.
    if (before instanceof HTMLElement) (before.isConnected ? before : byId("brief-open", HTMLButtonElement)).focus();
  }

  function show() {
    if (dialog.open) return;
    before = document.activeElement;
    follow();
    dialog.show();
    presets.focus();
  }

  const fetched = fetchForm();

  /** @param {File} file */
  async function hold(file) {
    await fetched;
    busy = true;
    const read = await readBrief(file);
    busy = false;
    const why = read.why ?? engine.brief_trouble(read.brief);
    if (why) return why;
    replace(read.brief);
    byId("announcement", HTMLElement).textContent = `The brief ${isolated(file.name)} is active.`;
    return "";
  }

  return {
    open: () => (dialog.open ? close() : show()),
    show,
    hold,
    replace,
    get busy() {
      return busy || typed.size > 0;
    },
  };
}

/**
 * @param {File} file
 * @returns {Promise<{brief: object, why?: string}>}
 */
async function readBrief(file) {
  if (file.size > MOST_BYTES) return { brief: {}, why: "This is too large for a brief." };
  try {
    const text = await file.text();
    if (/\.toml$/i.test(file.name)) {
      const name = isolated(file.name);
      return {
        brief: {},
        why: `Here briefs are opened as JSON. gridproof brief --from ${name} --json prints it as JSON for this page; gridproof check --brief ${name} holds models to it as it is.`,
      };
    }
    const brief = JSON.parse(text);
    if (brief === null || typeof brief !== "object" || Array.isArray(brief))
      return { brief: {}, why: 'A brief is an object with a section for each subject, such as "map".' };
    return { brief };
  } catch (error) {
    return { brief: {}, why: error instanceof SyntaxError ? `This is no JSON (${error.message}).` : "This could not be read." };
  }
}

/** @param {State} state */
function save({ brief, form }) {
  const own = /** @type {Record<string, object>} */ (brief);
  const ordered = form ? Object.fromEntries(form.sections.filter(({ section }) => own[section]).map(({ section }) => [section, own[section]])) : brief;
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([`${JSON.stringify(ordered, null, 2)}\n`], { type: "application/json" }));
  link.download = "brief.json";
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), KEEP_MS);
  byId("announcement", HTMLElement).textContent = "The brief is saved.";
}

/** @param {State} state */
function fillChecks({ model, brief, form }) {
  const report = model?.report;
  byId("brief-checks-title", HTMLElement).hidden = !report;
  const counts = tally(report?.findings ?? [], report?.cause ?? null);
  const unjudged = report ? notJudged(report) : [];
  byId("brief-checks", HTMLElement).replaceChildren(
    ...(report ? CHECKS : []).map(([kind, label]) => {
      const found = counts.find((entry) => entry.kind === kind);
      const isClear = !found && !unjudged.includes(kind);
      const tone = found?.severity ?? (isClear ? "ready" : "quiet");
      return make(
        "li",
        { class: `tone-${tone}`, "data-kind": kind },
        icon(`shape-${tone === "quiet" ? "info" : tone}`),
        make("span", {}, label),
        make("span", { class: "quiet" }, limitOf(kind, brief, form)),
        make("span", { class: "figure" }, found ? whole(found.count) : isClear ? "clear" : "not judged"),
      );
    }),
  );
}
