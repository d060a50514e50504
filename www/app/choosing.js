/**
 * The selection: a finding, one of its places, or a shell; and what an address or a review asks to show.
 *
 * @import {Parts} from "./parts.js"
 * @import {Finding, FindingPlace, Probe} from "../core/messages.js"
 * @import {Shown} from "../core/review.js"
 * @import {Store} from "../core/state.js"
 */

import { asLens } from "../core/state.js";
import { visibleFindings } from "../findings/findings.js";

export class Choosing {
  #store;
  #parts;
  #say;

  /**
   * @param {Store} store
   * @param {Parts} parts
   * @param {(text: string) => void} say
   */
  constructor(store, parts, say) {
    this.#store = store;
    this.#parts = parts;
    this.#say = say;
  }

  /** @param {Finding | null} finding null: clears the selection */
  finding(finding) {
    const { camera, lens, sheet } = this.#store.state;
    this.#store.set({
      finding: finding?.id ?? null,
      note: null,
      placing: false,
      chosen: finding?.shells ?? [],
      // A finding has a view of its own.
      camera: finding ? null : camera,
      lens: finding ? (asLens(finding.lens) ?? lens) : lens,
      sheet: this.#sheetOf(finding) ?? sheet,
    });
    if (finding) this.#say(`${finding.title}. ${finding.where}. ${finding.advice}`);
  }

  /**
   * One of the places of a finding that is about many.
   * @param {Finding} finding
   * @param {FindingPlace} place
   */
  place(finding, place) {
    if (this.#store.state.finding !== finding.id) this.finding(finding);
    this.#store.set({ chosen: place.shells, camera: null });
    // After the 3D view has followed the finding.
    queueMicrotask(() => this.#parts.stage?.views.show(place));
    this.#say(`${place.name}. ${place.number.text}.`);
  }

  /** @param {Probe | null} probe of the shell; null: clears the selection */
  shell(probe) {
    const shell = probe?.shell ?? null;
    this.#store.set({ finding: null, note: null, chosen: shell === null ? [] : [shell], under: probe });
  }

  /** The next finding or the previous one. @param {1 | -1} by */
  step(by) {
    const findings = visibleFindings(this.#store.state);
    const at = findings.findIndex(({ id }) => id === this.#store.state.finding);
    const next = findings[at < 0 ? (by > 0 ? 0 : findings.length - 1) : at + by];
    if (next) this.finding(next);
  }

  /**
   * Shows what an address or a review asks for.
   * @param {Shown} shown with the id of a note
   */
  show({ finding, lens, note, camera }) {
    const { model, up } = this.#store.state;
    if (!model?.report) return;
    const found = model.report.findings.find(({ id }) => id === finding) ?? null;
    if (camera && camera.up !== up) this.#store.setUp(camera.up);
    this.#store.set({ finding: found?.id ?? null, chosen: found?.shells ?? [], lens: lens ?? asLens(found?.lens) ?? "grid", note, camera });
    // After the 3D view has followed the finding.
    queueMicrotask(() => {
      const written = this.#store.state.notes.find(({ id }) => id === note);
      if (camera) this.#parts.stage?.views.fly(camera);
      else if (written) this.#parts.notes?.show(written);
      else if (found) this.#parts.stage?.views.show(found);
    });
    if (finding && !found) {
      this.#store.set({
        notice: `The link points at the finding “${finding}”, which this model does not have. It may have been fixed, or the model has changed.`,
      });
    }
  }

  /**
   * The sheet that a finding is about, or its first shell's sheet.
   * @param {Finding | null} finding
   */
  #sheetOf(finding) {
    const shell = finding?.shells[0];
    return finding?.sheet ?? (shell === undefined ? undefined : this.#store.state.model?.report?.shells[shell]?.sheet);
  }
}
