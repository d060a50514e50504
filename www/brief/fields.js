/**
 * One key of the brief as a field: its control, description and validation.
 *
 * @import {Brief, BriefForm, BriefKey} from "../core/messages.js"
 * @import {State} from "../core/state.js"
 */

import { icon, make } from "../base/dom.js";
import { percent, three } from "../base/format.js";
import { usualLength } from "../findings/limits.js";

/** Step of the arrow keys on a number; other values are valid. */
const STEPS = /** @type {Record<string, string>} */ ({ whole: "1", share: "0.01", number: "any" });

/** For a value that is not among a field's options. */
const OWN = "own";

/** Suffixes of keys for their unit. */
const UNITS = /** @type {const} */ ([
  ["_px_per_unit", "px/"],
  ["_px", "px"],
  ["_percent", "%"],
]);

/**
 * A key's label, and the unit from its suffix; `px/` is followed by the model's unit.
 * @param {string} key
 */
export function labelled(key) {
  const [ending, unit] = UNITS.find(([end]) => key.endsWith(end)) ?? ["", ""];
  const words = key.slice(0, key.length - ending.length).replaceAll(/[_-]/g, " ");
  return { label: words.charAt(0).toUpperCase() + words.slice(1), unit };
}

export class BriefField {
  #section;
  #entry;
  #form;
  #changed;
  /** @type {HTMLInputElement | HTMLSelectElement} */
  #control;
  #unit = make("small", {});
  #trouble = make("p", { class: "brief-trouble", role: "alert", hidden: "" });
  /** Rows of names, in the two kinds of field that have them. */
  #rows = make("ul", { class: "brief-names" });
  /** @type {[string, number][]} */
  #names = [];
  /** @type {Set<string> | null} */
  #known = null;
  /** Whether the control's input was refused. */
  #wrong = false;
  #before = "";
  /** @type {HTMLElement} */
  element;

  /**
   * @param {string} section
   * @param {BriefKey} entry
   * @param {BriefForm} form
   * @param {(field: BriefField, now: boolean) => void} changed `now` if typing is finished
   */
  constructor(section, entry, form, changed) {
    this.#section = section;
    this.#entry = entry;
    this.#form = form;
    this.#changed = changed;
    const id = `brief-${section}${entry.key ? `-${entry.key}` : ""}`;
    this.#control = this.#makeControl(id);
    this.#trouble.id = `${id}-trouble`;
    const told = make("p", { class: "quiet", id: `${id}-text` }, entry.text);
    this.#control.setAttribute("aria-describedby", `${told.id} ${this.#trouble.id}`);
    const { label } = labelled(this.#hasNames ? "add_a_name" : entry.key);
    const row = make(
      "div",
      { class: this.#hasNames ? "brief-line is-names" : "brief-line" },
      make("label", { for: id }, label),
      this.#control,
      this.#hasNames ? this.#adder() : this.#unit,
    );
    this.element = make("div", { class: "brief-field", "data-key": entry.key }, ...(this.#hasNames ? [this.#rows] : []), row, told, this.#trouble);
    told.hidden = entry.text === "";
  }

  get #hasNames() {
    return this.#entry.kind === "names" || this.#entry.kind === "factors";
  }

  /** @param {string} id */
  #makeControl(id) {
    const { kind, min, max, choices } = this.#entry;
    if (kind === "choice") {
      const select = make("select", { id }, ...(choices ?? []).map(([value, words]) => make("option", { value }, words)));
      select.addEventListener("change", () => this.#changed(this, true));
      return select;
    }
    if (this.#hasNames) {
      const input = make("input", {
        id,
        type: "text",
        list: "brief-names",
        autocomplete: "off",
        spellcheck: "false",
        placeholder: "object, group or material",
      });
      input.addEventListener("keydown", (event) => {
        if (event.key !== "Enter") return;
        event.preventDefault();
        this.#add();
      });
      return input;
    }
    const range = Object.fromEntries(
      Object.entries({ min, max })
        .filter(([, value]) => value !== undefined)
        .map(([name, value]) => [name, String(value)]),
    );
    const input = make("input", {
      id,
      type: "number",
      inputmode: kind === "whole" ? "numeric" : "decimal",
      step: STEPS[kind] ?? "any",
      autocomplete: "off",
      ...range,
    });
    input.addEventListener("input", () => this.#changed(this, false));
    input.addEventListener("change", () => this.#changed(this, true));
    return input;
  }

  #adder() {
    const button = make("button", { type: "button", class: "button" }, "Add");
    button.addEventListener("click", () => this.#add());
    return button;
  }

  #add() {
    const name = this.#control.value.trim();
    if (name === "" || this.#names.some(([own]) => own === name)) {
      this.refuse(name === "" ? "Type a name first." : `“${name}” is in the list already.`);
      return;
    }
    this.#control.value = "";
    this.#names = [...this.#names, [name, 1]];
    this.#list();
    this.#changed(this, true);
  }

  #list() {
    this.#rows.replaceChildren(
      ...this.#names.map(([name, factor], index) => {
        const remove = make("button", { type: "button", class: "tool", "aria-label": `Remove ${name}`, title: "Remove" }, icon("shape-close"));
        remove.addEventListener("click", () => {
          this.#names = this.#names.filter((_, at) => at !== index);
          this.#list();
          this.#changed(this, true);
          this.#control.focus();
        });
        const text = make("span", { class: "brief-name" }, name);
        if (this.#known && !this.#known.has(name)) text.append(make("small", { class: "quiet" }, " not in this file"));
        const parts = [text];
        if (this.#entry.kind === "factors") {
          const input = make("input", {
            type: "number",
            min: "0",
            step: "any",
            inputmode: "decimal",
            value: String(factor),
            "aria-label": `Factor for ${name}`,
          });
          const heard = (/** @type {boolean} */ now) => {
            this.#names = this.#names.map((row, at) => (at === index ? [name, input.valueAsNumber] : row));
            this.#changed(this, now);
          };
          input.addEventListener("input", () => heard(false));
          input.addEventListener("change", () => heard(true));
          parts.push(make("label", { class: "brief-factor" }, "×", input));
        }
        return make("li", {}, ...parts, remove);
      }),
    );
  }

  /**
   * @param {Brief} brief the active one
   * @returns {object | null} its part of the brief; null, with a message, if it is invalid
   */
  take(brief) {
    const { kind, key } = this.#entry;
    if (kind === "factors") {
      const wrong = this.#names.find(([, factor]) => !Number.isFinite(factor));
      if (wrong) return this.refuse(`The factor for “${wrong[0]}” has to be a number above 0, such as 2 for twice the density.`);
      const gone = Object.keys(this.#own(brief)).filter((name) => !this.#names.some(([own]) => own === name));
      return { [this.#section]: Object.fromEntries([...gone.map((name) => [name, null]), ...this.#names]) };
    }
    if (kind === "names") return { [this.#section]: { [key]: this.#names.map(([name]) => name) } };
    if (this.#control instanceof HTMLSelectElement) return { [this.#section]: { [key]: this.#control.value } };
    if (this.#control.validity.badInput) return this.refuse("This is not a number.");
    const value = this.#control.valueAsNumber;
    if (Number.isNaN(value)) return { [this.#section]: { [key]: null } };
    const { min = 0, max = 0 } = this.#entry;
    if (kind === "whole" && !(Number.isInteger(value) && value >= min && value <= max)) {
      return this.refuse(`It has to be a whole number from ${min} to ${max}.`);
    }
    return { [this.#section]: { [key]: value } };
  }

  /**
   * Shows why the input is not active; the input stays.
   * @param {string} [why]
   */
  refuse(why) {
    this.#wrong = Boolean(why);
    this.#trouble.textContent = why ?? "";
    this.#trouble.hidden = !why;
    if (why) this.#trouble.scrollIntoView({ block: "nearest" });
    if (why) this.#control.setAttribute("aria-invalid", "true");
    else this.#control.removeAttribute("aria-invalid");
    return null;
  }

  /**
   * This section of a brief.
   * @param {Brief} brief
   */
  #own(brief) {
    return /** @type {Record<string, Record<string, unknown>>} */ (brief)[this.#section] ?? {};
  }

  /**
   * The active brief or the model has changed; unfinished and refused input stays.
   * @param {State} state
   */
  follow(state) {
    if (this.#wrong) return;
    const typing = document.activeElement === this.#control && this.#control.value !== "";
    if (typing && !this.#hasNames) this.#describe(state);
    else this.fill(state);
  }

  /** @param {State} state */
  fill(state) {
    this.refuse();
    const { kind, key } = this.#entry;
    if (this.#hasNames) {
      const own = this.#own(state.brief);
      const names = /** @type {[string, number][]} */ (
        kind === "names" ? /** @type {string[]} */ (own[key] ?? []).map((name) => [name, 1]) : Object.entries(own)
      );
      this.#known = state.model && new Set(state.model.summary.names.flatMap((name) => [name, ...name.split(" ")]));
      const now = JSON.stringify([names, state.model?.summary.names.length ?? -1, state.model?.name]);
      const focused = this.#rows.contains(document.activeElement);
      if (now !== this.#before && !focused) {
        this.#names = names;
        this.#list();
        this.#before = now;
      }
      return;
    }
    const value = { ...this.#own(this.#form.defaults), ...this.#own(state.brief) }[key];
    if (this.#control instanceof HTMLSelectElement && Array.isArray(value)) {
      // A value that is not among the options is shown until another is selected.
      if (this.#control.options.length === this.#entry.choices?.length) this.#control.append(make("option", { value: OWN, disabled: "" }, "Groups of its own"));
      this.#control.value = OWN;
      return;
    }
    this.#control.value = value === null || value === undefined ? "" : String(value);
    this.#describe(state);
  }

  /**
   * The unit, and the default where the field is empty.
   * @param {State} state
   */
  #describe(state) {
    const { kind, key, absent } = this.#entry;
    const control = this.#control;
    const { unit } = labelled(key);
    if (control instanceof HTMLSelectElement) return;
    const usual = usualLength(this.#section, key, state.brief, this.#form);
    const usualDensity = state.model?.report?.density.reference;
    if (usual !== null) control.placeholder = three(usual);
    else if (key === "target_px_per_unit") control.placeholder = typeof usualDensity === "number" ? `median ${three(usualDensity)}` : "median";
    else if (absent) control.placeholder = this.#section !== "rubric" ? "any" : key === "maximum" ? "all together" : "no points";
    const share = kind === "share" && Number.isFinite(control.valueAsNumber) ? `= ${percent(control.valueAsNumber)}` : "";
    this.#unit.textContent = unit.endsWith("/") ? `${unit}${state.brief.map?.unit ?? this.#form.defaults.map?.unit}` : unit || share;
  }
}
