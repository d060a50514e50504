/**
 * The legend of the Picture lens: each material's picture, missing files, and the user's own picture.
 *
 * @import {State} from "../core/state.js"
 */

import { byId, make } from "../base/dom.js";
import { counted, isolated } from "../base/format.js";
import { NO_PICTURE } from "./pictures.js";

/** Pictures listed; the others are counted. */
const ROWS = 8;
/** Names listed; the others are counted. */
const NAMED = 12;

/** @typedef {{choose: (name: string) => void, wear: (on: string) => void}} Choices */

/**
 * @param {State} state
 * @param {Choices} choices
 * @returns {Node[]}
 */
export function pictureLegend({ pictures, model }, choices) {
  const { rows, missing, shown } = pictures;
  const choose = make("button", { type: "button", id: "picture-choose", class: "button" }, "Choose files");
  choose.addEventListener("click", () => byId("file-input", HTMLInputElement).click());
  const lead = shown
    ? "Pictures through the UVs, on paper where they are clear. They stay in this tab."
    : "Your own picture through the UVs. Drop one on the page (PNG, JPEG or WebP), or the model's MTL with its pictures. They stay in this tab.";
  return [
    make("p", {}, lead),
    ...(missing.length > 0
      ? [
          make(
            "p",
            { class: isLacking(pictures) ? "is-over" : "quiet" },
            `Not here yet: ${listed(missing)}. Drop ${missing.length === 1 ? "it" : "them"} on the page.`,
          ),
        ]
      : []),
    ...(rows.some(({ shows }) => shows !== NO_PICTURE) ? list(rows) : []),
    ...ownFields(pictures, model?.summary.materials ?? [], choices),
    choose,
  ];
}

/**
 * The user's own picture, and the materials that show it.
 * @param {State["pictures"]} pictures
 * @param {readonly string[]} materials
 * @param {Choices} choices
 */
function ownFields({ choices: names, rows, own, on }, materials, choices) {
  if (names.length === 0) return [];
  const which = select("picture-own", "Own picture", [["", "none"], ...names.map((name) => [name, name])], own);
  which.field.addEventListener("change", () => choices.choose(which.field.value));
  if (own === "" || rows.length < 2) return [which.label];
  const used = materials.filter((name) => rows.some((row) => row.name === name));
  const where = select(
    "picture-on",
    "Shown on",
    [["all", "all materials"], ["rest", "those without a picture"], ...used.map((name) => [`=${name}`, name])],
    on,
  );
  where.field.addEventListener("change", () => choices.wear(where.field.value));
  return [which.label, where.label];
}

/**
 * Whether files are missing while others are there, and would be visible.
 * @param {State["pictures"]} pictures
 */
export function isLacking({ missing, own, on, rows }) {
  return missing.length > 0 && !(own && on === "all") && rows.some(({ shows }) => shows !== NO_PICTURE);
}

/** @param {readonly string[]} names */
function listed(names) {
  const first = names.slice(0, NAMED).map(isolated).join(", ");
  return names.length > NAMED ? `${first} and ${names.length - NAMED} more` : first;
}

/**
 * The pictures shown, with their materials.
 * @param {State["pictures"]["rows"]} rows
 */
function list(rows) {
  /** @type {Map<string, State["pictures"]["rows"]>} */
  const groups = new Map();
  for (const row of rows) groups.set(row.shows, [...(groups.get(row.shows) ?? []), row]);
  const alike = [...groups.values()];
  const items = alike
    .slice(0, ROWS)
    .map((group) =>
      make(
        "div",
        group[0]?.trouble ? { class: "is-over" } : {},
        make("dt", {}, alike.length > 1 ? listed(group.map(({ name }) => name || "without a material")) : rows.length > 1 ? "all materials" : "Picture"),
        make("dd", { class: "figure" }, group[0]?.shows ?? ""),
      ),
    );
  return [
    make("dl", { class: "materials" }, ...items),
    ...(alike.length > ROWS ? [make("p", { class: "quiet" }, `and ${counted(alike.length - ROWS, "other")}.`)] : []),
  ];
}

/**
 * @param {string} id
 * @param {string} text
 * @param {string[][]} options value and words
 * @param {string} value
 */
function select(id, text, options, value) {
  const field = make("select", { id }, ...options.map(([own = "", words = own]) => new Option(words, own, false, own === value)));
  return { field, label: make("label", { class: "field field-wide" }, make("span", {}, text), field) };
}
