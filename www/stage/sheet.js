/**
 * The sheet's card: an inset over the 3D view with a transparent middle. It can be swapped with the model, shown side by side,
 * and enlarged.
 *
 * @import {Report} from "../core/messages.js"
 * @import {Stage} from "./stage.js"
 * @import {State, Store} from "../core/state.js"
 */

import { byId, make } from "../base/dom.js";
import { counted, percent } from "../base/format.js";

/**
 * @param {Store} store
 * @param {Stage} stage
 */
export function startSheet(store, stage) {
  const area = byId("area", HTMLElement);
  const title = byId("sheet-title", HTMLElement);
  const facts = byId("sheet-facts", HTMLElement);
  const swap = byId("swap", HTMLButtonElement);
  const beside = byId("beside", HTMLButtonElement);
  const enlarge = byId("enlarge", HTMLButtonElement);
  const large = byId("surface-large", HTMLElement);
  const small = byId("surface-small", HTMLElement);

  swap.addEventListener("click", () => store.set({ swapped: !store.state.swapped }));
  beside.addEventListener("click", () => store.set({ beside: !store.state.beside }));
  enlarge.addEventListener("click", () => store.set({ large: !store.state.large }));
  byId("fit", HTMLButtonElement).addEventListener("click", () => stage.views.fit());
  byId("closer", HTMLButtonElement).addEventListener("click", () => stage.hands.zoom(1.4));
  byId("farther", HTMLButtonElement).addEventListener("click", () => stage.hands.zoom(1 / 1.4));

  const up = byId("up", HTMLSelectElement);
  up.addEventListener("change", () => store.setUp(up.value));
  store.watch(["up"], (state) => (up.value = state.up));

  store.watch(["swapped", "beside", "large", "graphics"], (state) => {
    const flat = state.graphics === "none";
    const swapped = state.swapped || flat;
    area.classList.toggle("is-beside", state.beside && !flat);
    area.classList.toggle("is-swapped", state.swapped && !flat);
    area.classList.toggle("is-large", state.large && !flat);
    area.classList.toggle("is-flat", flat);
    title.textContent = swapped ? "3D view" : "UV sheet";
    swap.setAttribute("aria-pressed", String(state.swapped));
    beside.setAttribute("aria-pressed", String(state.beside));
    enlarge.setAttribute("aria-pressed", String(state.large));
    large.setAttribute("aria-label", swapped ? "UV sheet" : "Model");
    small.setAttribute("aria-label", swapped ? "Model" : "UV sheet");
  });
  store.watch(["model", "swapped", "sheet"], (state) => (facts.textContent = factsOf(state)));

  const which = byId("sheet-which", HTMLElement);
  const choice = byId("sheet-choice", HTMLSelectElement);
  const assumed = byId("sheet-assumed", HTMLElement);
  const change = byId("sheet-change", HTMLButtonElement);
  choice.addEventListener("change", () => store.set({ sheet: Number(choice.value) }));
  change.addEventListener("click", () => store.setBrief({ map: { sheets: change.value } }));
  store.watch(["model", "sheet", "swapped", "graphics"], ({ model, sheet, swapped, graphics }) => {
    const sheets = model?.report?.sheets;
    const assumption = sheets && assumptionOf(sheets, model.summary.materials.length);
    which.hidden = !assumption || (swapped && graphics !== "none");
    if (!sheets || !assumption) return;
    choice.hidden = sheets.list.length === 1;
    choice.replaceChildren(...sheets.list.map(({ name, coverage }, place) => make("option", { value: String(place) }, `${name} · ${percent(coverage)}`)));
    choice.value = String(sheet);
    assumed.textContent = assumption.text;
    change.textContent = assumption.change;
    change.value = assumption.sheets;
  });
}

/**
 * The assumption about the sheets of several materials, and its alternatives.
 * @param {Report["sheets"]} sheets
 * @param {number} materials
 */
function assumptionOf({ by, list }, materials) {
  if (materials < 2) return null;
  const several = list.length > 1;
  const why = {
    one: "all materials on one sheet",
    pictures: `${counted(list.length, "sheet")}, one for each picture`,
    materials: `${counted(list.length, "sheet")} assumed: materials overlap`,
    brief: several ? `${counted(list.length, "sheet")}, by the brief` : "one sheet, by the brief",
  }[by];
  return several ? { text: why, change: "Use one sheet", sheets: "one" } : { text: why, change: "One for each material", sheets: "by-material" };
}

/** @param {State} state */
function factsOf({ model, swapped, sheet: shown }) {
  if (!model || swapped) return "";
  const { faces, faces_without_uv } = model.summary.counts;
  if (faces_without_uv >= faces) return "no UVs in this file";
  if (faces_without_uv > 0) return `${counted(faces_without_uv, "face")} without UVs`;
  const sheet = model.report?.sheets.list[shown] ?? model.report?.sheet;
  if (typeof sheet?.coverage !== "number") return "";
  return `${typeof sheet.coverage_sampling_error === "number" ? "about " : ""}${percent(sheet.coverage)} used`;
}
