/**
 * The reading strip: numbers for the place under the pointer.
 *
 * @import {Engine, Probe} from "../core/messages.js"
 * @import {State, Store} from "../core/state.js"
 */

import { byId, scrollByKeys } from "../base/dom.js";
import { fixed, three } from "../base/format.js";

const DASH = "\u2013";

/**
 * @param {Store} store
 * @param {Engine} engine for the cell of the grid that is drawn
 */
export function startReading(store, engine) {
  const strip = byId("reading", HTMLElement);
  scrollByKeys(strip);
  const fields = Object.fromEntries(
    ["surface", "anisotropy", "density", "tilt", "cell", "handed", "shares"].map((name) => [name, byId(`read-${name}`, HTMLElement)]),
  );
  store.watch(["under", "brief", "grid"], ({ under, brief, grid }) => {
    strip.classList.toggle("is-idle", under === null);
    /** @type {Record<string, string>} */
    const texts = under ? { ...reading(under, brief.map?.unit ?? "unit"), cell: cellText(under, grid, brief, engine) } : {};
    for (const [name, field] of Object.entries(fields)) {
      const text = texts[name] ?? DASH;
      if (field.textContent !== text) field.textContent = text;
    }
  });
}

/**
 * @param {Probe} probe
 * @param {string} unit
 * @returns {Record<string, string>}
 */
function reading(probe, unit) {
  return {
    surface: probe.shell_label ?? probe.part_label,
    anisotropy: probe.anisotropy === null ? DASH : `${fixed(probe.anisotropy)}${probe.direction_deg === null ? "" : ` at ${fixed(probe.direction_deg, 0)}°`}`,
    density: probe.density === null ? DASH : `${three(probe.density)} px/${unit}`,
    tilt: probe.tilt_deg === null ? DASH : `${fixed(probe.tilt_deg, 0)}°`,
    handed: probe.shell === null ? "no UVs" : probe.folded ? "folded" : probe.flipped ? "flipped" : probe.reversed ? "reversed" : "right way",
    shares: probe.shell === null ? DASH : sharers(probe),
  };
}

/**
 * Column and row in the grid; in a UDIM map, in the grid of the place's tile.
 * @param {Probe} probe
 * @param {State["grid"]} grid
 * @param {State["brief"]} brief
 * @param {Engine} engine
 */
function cellText({ u, v }, { width, height, cell }, brief, engine) {
  if (u === null || v === null) return DASH;
  const [du, dv] = brief.map?.tiles === "udim" ? [Math.floor(u), Math.floor(v)] : [0, 0];
  const found = engine.cell_at(width, height, cell, u - du, v - dv);
  return found ? Array.from(found, (part) => String(part).padStart(2, "0")).join("·") : DASH;
}

/** @param {Probe} probe */
function sharers({ shares }) {
  if (shares.length === 0) return "none";
  const [first] = shares;
  const rest = shares.length > 1 ? ` and ${shares.length - 1} more` : "";
  return `${first?.label} (${first?.kind})${rest}`;
}
