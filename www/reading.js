/**
 * The reading strip: what lies under the pointer, in numbers.
 *
 * @import {Probe} from "./messages.js"
 * @import {Store} from "./state.js"
 */

import { byId } from "./dom.js";
import { fixed, three } from "./format.js";

const DASH = "\u2013";

/** @param {Store} store */
export function startReading(store) {
  const strip = byId("reading", HTMLElement);
  const fields = Object.fromEntries(
    ["surface", "anisotropy", "density", "tilt", "cell", "handed", "shares"].map((name) => [name, byId(`read-${name}`, HTMLElement)]),
  );
  store.watch(["under", "brief"], ({ under, brief }) => {
    strip.classList.toggle("is-idle", under === null);
    const texts = under ? reading(under, brief.map?.unit ?? "cm") : {};
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
    anisotropy: probe.anisotropy === null
      ? DASH
      : `${fixed(probe.anisotropy)}${probe.direction_deg === null ? "" : ` at ${fixed(probe.direction_deg, 0)}°`}`,
    density: probe.density === null ? DASH : `${three(probe.density)} px/${unit}`,
    tilt: probe.tilt_deg === null ? DASH : `${fixed(probe.tilt_deg, 0)}°`,
    cell: probe.cell === null ? DASH : probe.cell.map((part) => String(part).padStart(2, "0")).join("·"),
    handed: probe.shell === null ? "no UVs" : probe.folded ? "folded" : probe.turned_over ? "turned over" : probe.reversed ? "reversed" : "right way",
    shares: probe.shell === null ? DASH : sharers(probe),
  };
}

/** @param {Probe} probe */
function sharers({ shares }) {
  if (shares.length === 0) return "nobody";
  const [first] = shares;
  const rest = shares.length > 1 ? ` and ${shares.length - 1} more` : "";
  return `${first?.label} (${first?.kind})${rest}`;
}
