/**
 * Two versions of a model. A file that is given while a measured model is on screen is compared with it: the previous one
 * stays, worker and all, and one key flips between the two, with the same views and, by place, the same choice. Notes and
 * decisions are taken over from the previous version to the newer one. Exactly one previous version is kept.
 *
 * What is the same finding in both is decided by src/compare.rs, in the new version's worker.
 *
 * Two workers and two sets of buffers, so that flipping is a change of the store and an upload instead of reading the file
 * again, and what is on screen is always answered by its own worker. Matching is in the second module, so that what every
 * visitor loads does not grow.
 *
 * @import {Brief, Comparison, Finding, MeasuredMessage, ReportMessage, Version} from "../core/messages.js"
 * @import {Reader} from "../model/reader.js"
 * @import {Decided, SavedNote} from "../core/review.js"
 * @import {Stage} from "../stage/stage.js"
 * @import {Model, Note, Store} from "../core/state.js"
 */

import { SEVERITIES } from "../findings/checks.js";
import { NUMBERS } from "../core/known.js";
import { resultOf } from "../findings/table.js";
import { byId, icon, make } from "../base/dom.js";
import { bytes, counted, isolated, whole } from "../base/format.js";
import { numberLabel, numberText } from "./numbers.js";
import { pinOf } from "../notes/reviewing.js";
import { VERDICTS } from "../findings/verdict.js";

/** Most bytes of the two files together: a model takes some 1.8 times its file in its worker, and its buffers in the page. */
const MOST_BYTES = 1e9;
/** Share of the previous one's names that the newer one must have to be taken for a version of it. */
const AKIN = 0.5;
/** A screen as narrow as this shows the list or the stage. */
const NARROW = "(max-width: 599px)";

/** A version that is not on screen. @typedef {{model: Model, notes: readonly Note[], decisions: readonly Decided[]}} Aside */

const CHANGES = /** @type {const} */ ({ better: "better", worse: "worse", same: "as it was" });

/**
 * @param {Store} store
 * @param {Reader} reader
 * @param {Stage} stage
 * @param {object} page
 * @param {(finding: Finding) => void} page.choose
 * @param {() => boolean} page.finish ends the note that is being written; false where it cannot be kept yet
 * @param {(change: () => void) => void} page.follow changes the store without a new entry in the address bar
 * @param {(notes: readonly SavedNote[], decisions: readonly Decided[]) => Promise<{notes: number, lost: number, decisions: number}>} page.carry
 * @param {(text: string) => void} page.say
 */
export function startCompare(store, reader, stage, { choose, finish, follow, carry, say }) {
  const card = byId("versions", HTMLElement);
  const text = byId("versions-text", HTMLElement);
  const details = byId("compare", HTMLDialogElement);
  const flips = [byId("versions-flip", HTMLButtonElement), byId("compare-flip", HTMLButtonElement)];
  const opener = byId("compare-open", HTMLButtonElement);
  /** Whether the file that is being read was given by hand. */
  let isGiven = false;
  /** The version that is not on screen. @type {Aside | null} */
  let aside = null;
  /** What became of the previous version's findings; null until it is known. @type {Comparison | null} */
  let found = null;
  /** Whether comparing is only offered. */
  let isOffered = false;
  /** Whether it could not be done. */
  let isFailed = false;
  let isClosed = false;
  /** What came over from the previous version; null while nothing has. @type {{notes: number, lost: number, decisions: number} | null} */
  let carried = null;
  /** The findings that were compared last. */
  let compared = "";
  let working = 0;
  /** Counts pairs of versions: what was asked about one pair says nothing of the next. */
  let turn = 0;
  /** Where the chosen shell was chosen. @type {ReturnType<typeof pinOf> | null} */
  let spot = null;

  store.watch(["chosen"], ({ chosen, finding, under, model }) => {
    const isPressed = finding === null && chosen.length === 1 && under?.shell === chosen[0];
    spot = isPressed && under && model ? pinOf(under, model.mesh.centre) : null;
  });
  store.watch(["job", "previous"], fill);
  for (const button of flips) button.addEventListener("click", () => flip());
  for (const button of [byId("versions-details", HTMLButtonElement), opener]) button.addEventListener("click", openDetails);
  byId("versions-compare", HTMLButtonElement).addEventListener("click", () => {
    isOffered = false;
    void match();
    byId("surface-large", HTMLElement).focus();
  });
  byId("versions-close", HTMLButtonElement).addEventListener("click", () => {
    if (found) isClosed = true;
    else forget();
    fill();
    byId("surface-large", HTMLElement).focus();
  });
  byId("compare-close", HTMLButtonElement).addEventListener("click", closeDetails);
  details.addEventListener("keydown", (event) => {
    if (event.key === "Escape") {
      event.stopPropagation();
      closeDetails();
    } else if (event.key === "v" && !event.ctrlKey && !event.metaKey && !event.altKey) {
      // The page's own keys must not act again: what had the focus may be made anew, and so be outside the dialog.
      event.preventDefault();
      flip();
    }
  });

  /** The previous and the newer one; null where there are no two. @returns {{previous: Model, newer: Model} | null} */
  function both() {
    const { model, previous } = store.state;
    if (!aside || !model) return null;
    return previous ? { previous: model, newer: aside.model } : { previous: aside.model, newer: model };
  }

  /** Lets the version go that is not on screen. */
  function forget() {
    turn += 1;
    reader.leaveAside();
    [aside, found, carried, compared] = [null, null, null, ""];
    stage.tidy();
    isOffered = isFailed = isClosed = false;
    closeDetails();
    store.set({ previous: false });
    fill();
  }

  /** Finds out what became of the findings, unless that is known. */
  async function match() {
    const pair = both();
    if (!pair?.previous.report || !pair.newer.report || isOffered || reader.busy) return;
    const ask = { what: /** @type {const} */ ("compare"), previous: versionOf(pair.previous), newer: versionOf(pair.newer) };
    const asked = JSON.stringify(ask);
    if (asked === compared) {
      fill();
      return;
    }
    compared = asked;
    const mine = turn;
    working += 1;
    try {
      const answer = await reader.ask(ask);
      if (mine !== turn || asked !== compared) return;
      [found, isFailed] = [answer, answer === null];
      if (!answer) compared = "";
      else if (!carried && !store.state.previous) await takeOver(pair, answer);
    } finally {
      working -= 1;
    }
    if (mine === turn) fill();
  }

  /**
   * Notes and decisions of the previous version, for the newer one, which is on screen.
   * @param {{previous: Model, newer: Model}} pair
   * @param {Comparison} comparison
   */
  async function takeOver({ previous, newer }, comparison) {
    if (!aside) return;
    const move = mover(previous, newer, comparison.by_box);
    const notes = aside.notes.map(({ id: _, place: __, ...note }) => ({ ...note, point: move.point(note.point), camera: note.camera && { ...note.camera, eye: move.point(note.camera.eye), target: move.point(note.camera.target), radius: note.camera.radius * move.scale, ...(note.camera.across ? { across: /** @type {[number, number]} */ (note.camera.across.map((side) => side * move.scale)) } : {}) } }));
    const ids = new Map(comparison.still_there.map(({ old, new: now }) => [previous.report?.findings[old]?.id, newer.report?.findings[now]?.id]));
    const decisions = aside.decisions.flatMap((decided) => {
      const finding = ids.get(decided.finding);
      return finding ? [{ ...decided, finding }] : [];
    });
    carried = { notes: 0, lost: 0, decisions: 0 };
    carried = await carry(notes, decisions);
  }

  function flip() {
    const pair = both();
    if (!pair || !found || !aside) {
      store.set({ notice: pair ? "" : "There is no previous version to flip to. Drop another version of the model on the page." });
      return;
    }
    if (!reader.hasAside) {
      forget();
      store.set({ notice: "The other version is gone: its measuring ended in trouble. Open its file again to compare." });
      return;
    }
    if (!finish()) return;
    const { model, notes, decisions, finding, chosen, kind, previous } = store.state;
    if (!model) return;
    const next = aside;
    aside = { model, notes, decisions };
    const { report } = next.model;
    const twin = found.still_there.find((entry) => model.report?.findings[previous ? entry.old : entry.new]?.id === finding);
    const other = twin ? (report?.findings[previous ? twin.new : twin.old] ?? null) : null;
    const before = spot;
    const comparison = found;
    follow(() => stage.holding(() => {
      reader.flip();
      store.set({
        ...next,
        previous: !previous,
        finding: other?.id ?? null,
        chosen: other?.shells ?? [],
        kind: report?.findings.some((entry) => entry.kind === kind) ? kind : null,
        note: null,
        placing: false,
        under: null,
      });
    }, comparison.by_box));
    if (before && finding === null && chosen.length === 1) void chooseAt(before, model, next.model, comparison.by_box);
    const verdict = report ? ` Verdict: ${VERDICTS[report.verdict].word}.` : "";
    say(`${previous ? "The new" : "The previous"} version is shown: ${isolated(next.model.name)}.${verdict}`);
  }

  /**
   * Chooses the shell at a spot of the other version.
   * @param {ReturnType<typeof pinOf>} pin
   * @param {Model} from
   * @param {Model} to
   * @param {boolean} byBox
   */
  async function chooseAt({ place: _, ...pin }, from, to, byBox) {
    working += 1;
    const { lens } = store.state;
    const note = { ...pin, point: mover(from, to, byBox).point(pin.point), text: "", lens, camera: stage.eye() };
    const [probe] = (await reader.ask({ what: "places", notes: [note], exact: false })) ?? [];
    working -= 1;
    const { model, chosen, finding } = store.state;
    if (probe?.shell == null || model?.mesh !== to.mesh || chosen.length > 0 || finding !== null) return;
    store.set({ chosen: [probe.shell] });
    spot = pinOf(probe, to.mesh.centre);
  }

  /** Brings card, list and buttons in line. */
  function fill() {
    const pair = both();
    const { previous, job } = store.state;
    const isKnown = pair !== null && found !== null;
    card.hidden = !pair || job !== null || (isClosed && !previous) || !(isKnown || isOffered || isFailed);
    for (const button of flips) {
      button.setAttribute("aria-pressed", String(previous));
      button.hidden = !isKnown;
    }
    byId("versions-details", HTMLButtonElement).hidden = !isKnown;
    byId("versions-compare", HTMLButtonElement).hidden = isKnown;
    byId("versions-close", HTMLButtonElement).hidden = previous;
    opener.hidden = !isKnown || job !== null;
    if (!pair) return;
    const name = make("bdi", { class: "about-file" }, pair.previous.name);
    if (!found) {
      text.replaceChildren(...(isFailed ? ["It could not be compared with ", name, ": the module that does it could not be loaded."] : ["Compare with ", name, "? The two have little in common."]));
      return;
    }
    const counts = countsOf(found);
    opener.textContent = `${whole(found.fixed.length)} fixed`;
    opener.title = `Compared with ${pair.previous.name}: ${counts}`;
    text.replaceChildren(...(previous ? ["On screen: the previous version, ", name] : ["Compared with ", name]), `: ${counts}.`, ...carriedOf(carried));
    if (details.open) fillDetails(pair, found);
  }

  /**
   * @param {{previous: Model, newer: Model}} pair
   * @param {Comparison} comparison
   */
  function fillDetails({ previous, newer }, comparison) {
    const { brief, previous: isPrevious } = store.state;
    byId("compare-versions", HTMLElement).replaceChildren(...versionRow("Previous", previous), ...versionRow("New", newer));
    byId("compare-box", HTMLElement).hidden = !comparison.by_box;
    byId("compare-shown", HTMLElement).textContent = `${isPrevious ? "The previous" : "The new"} version is shown.`;
    const [then, now] = [previous, newer].map(({ report }) => report?.findings ?? []);
    const lists = byId("compare-lists", HTMLElement);
    const active = document.activeElement;
    const focused = active && lists.contains(active) ? active.getAttribute("data-entry") : null;
    lists.replaceChildren(
      ...listOf("fixed", "Fixed", comparison.fixed.map((at) => entryOf(then?.[at], `old-${at}`, true))),
      ...listOf("still", "Still there", comparison.still_there.map((entry) => entryOf(now?.[entry.new], `new-${entry.new}`, null, { before: then?.[entry.old], change: entry.change }))),
      ...listOf("new", "New", comparison.new.map((at) => entryOf(now?.[at], `new-${at}`, false))),
    );
    if (focused) /** @type {HTMLElement | null} */ (lists.querySelector(`[data-entry="${focused}"]`))?.focus({ preventScroll: true });
    byId("compare-numbers", HTMLElement).replaceChildren(...numberRows(previous, newer, brief));
  }

  /**
   * A finding that can be chosen in the version that has it.
   * @param {Finding | undefined} finding as the new version has it, if it has
   * @param {string} entry
   * @param {boolean | null} ofPrevious whose it is; null for both
   * @param {{before: Finding | undefined, change: keyof typeof CHANGES} | null} still
   */
  function entryOf(finding, entry, ofPrevious, still = null) {
    if (!finding) return make("li");
    const { shape, word } = SEVERITIES[finding.severity];
    const numbers = still?.before && still.before.number.text !== finding.number.text
      ? [make("span", { class: "quiet" }, make("span", { class: "unseen" }, "before "), still.before.number.text), make("span", { "aria-hidden": "true" }, " → "), make("span", { class: "unseen" }, ", now ")]
      : [];
    const change = still ? [make("span", { class: `compare-change is-${still.change}` }, CHANGES[still.change])] : [];
    const button = make("button", { type: "button", class: `card tone-${finding.severity}`, "data-entry": entry },
      make("span", { class: "card-title" }, make("span", { class: "card-sign", title: word }, icon(shape), make("span", { class: "unseen" }, `${word}: `)), make("span", {}, finding.title)),
      make("span", { class: "card-facts" }, make("span", { class: "card-where" }, finding.where), make("span", { class: "compare-figures figure" }, ...numbers, make("b", {}, finding.number.text), ...change)));
    button.addEventListener("click", () => {
      const { previous } = store.state;
      if (ofPrevious !== null && ofPrevious !== previous) flip();
      const twin = still && store.state.previous ? still.before : finding;
      if (!twin || (ofPrevious !== null && ofPrevious !== store.state.previous)) return;
      if (matchMedia(NARROW).matches) closeDetails();
      choose(twin);
      stage.show(twin);
    });
    return make("li", {}, button);
  }

  function openDetails() {
    const pair = both();
    if (!pair || !found) return;
    if (!details.open) details.show();
    fillDetails(pair, found);
    byId("compare-close", HTMLButtonElement).focus();
  }

  function closeDetails() {
    if (!details.open) return;
    const isInside = details.contains(document.activeElement);
    details.close();
    if (isInside) (card.hidden ? opener : byId("versions-details", HTMLElement)).focus();
  }

  return {
    flip,

    /** @param {boolean} given whether the file that is about to be read was given by hand */
    expect(given) {
      isGiven = given;
    },

    /**
     * Something was written about a file in another tab.
     * @param {string} sha256
     * @param {{notes: readonly Note[], decisions: readonly Decided[]}} kept
     */
    rewritten(sha256, { notes, decisions }) {
      if (aside?.model.report?.file.sha256 === sha256) aside = { ...aside, notes, decisions };
    },

    /** Another model takes the place of that on screen. @returns {boolean} whether the previous one is kept to be compared */
    replaced() {
      const { model, notes, decisions, job, previous } = store.state;
      // The next one is compared with the newer one of two, or with the previous one where the newer was never measured.
      const takesAside = previous || (aside !== null && !(reader.hasModel && model?.report));
      const newest = takesAside ? aside : model && { model, notes, decisions };
      if (takesAside) reader.flip();
      turn += 1;
      [aside, found, carried, compared] = [null, null, null, ""];
      isOffered = isFailed = isClosed = false;
      closeDetails();
      store.set({ previous: false });
      if (!isGiven || !newest?.model.report || !reader.hasModel) return false;
      const sum = newest.model.bytes + (job?.total ?? 0);
      if (sum > MOST_BYTES) {
        store.set({ notice: `${isolated(newest.model.name)} was not kept to be compared: the two files have ${bytes(sum)} together, and ${bytes(MOST_BYTES)} are the most.` });
        return false;
      }
      aside = newest;
      return true;
    },

    /** The new version is measured. */
    measured() {
      const pair = both();
      if (!pair) return;
      isOffered = !isAkin(pair.previous, pair.newer);
      fill();
      void match();
    },

    /** The version on screen is judged anew. */
    judged() {
      if (aside) void match();
    },

    /** @param {MeasuredMessage | ReportMessage} message of the version that is not on screen */
    aside(message) {
      if (!aside) return;
      if (message.type === "measured") {
        const { triangles, histograms, lines } = message;
        const { model } = aside;
        aside = { ...aside, model: { ...model, triangles: triangles ?? model.triangles, histograms: { ...model.histograms, ...histograms }, lines: lines ?? model.lines } };
      } else {
        const { report, shells, areas } = message;
        aside = { ...aside, model: { ...aside.model, report, shells, areas } };
        void match();
      }
    },

    /** What may soon be on screen again. */
    get kept() {
      return aside?.model.mesh ?? null;
    },

    get busy() {
      return working > 0;
    },
  };
}

/**
 * What of a version is compared.
 * @param {Model} model with its report
 * @returns {Version}
 */
function versionOf({ summary, report }) {
  const names = (report?.shells ?? []).map(({ object, group, material }) => object ?? group ?? material);
  return {
    bounds: summary.bounds,
    spots: (report?.findings ?? []).map(({ id, kind, severity, number, limit, camera, shells, places }) => ({
      id,
      kind,
      severity,
      number,
      limit: limit?.value ?? null,
      // One that is about many parts has no place of its own.
      place: places.length > 0 ? null : camera && { centre: camera.target, radius: camera.radius, eye: camera.eye },
      names: [...new Set(shells.flatMap((shell) => names[shell] ?? []))],
    })),
  };
}

/**
 * Whether the newer one is likely to be a version of the previous one: their boxes meet, and it has at least half of the names
 * of objects and groups, where there are any.
 * @param {Model} previous
 * @param {Model} newer
 */
function isAkin(previous, newer) {
  const [[low, high], [otherLow, otherHigh]] = [previous.summary.bounds, newer.summary.bounds];
  if (![0, 1, 2].every((axis) => (low[axis] ?? 0) <= (otherHigh[axis] ?? 0) && (otherLow[axis] ?? 0) <= (high[axis] ?? 0))) return false;
  const [names, others] = [previous, newer].map(({ report }) => new Set((report?.shells ?? []).flatMap(({ object, group }) => [object, group]).filter((name) => name !== null)));
  if (!names || !others || names.size === 0) return true;
  return [...names].filter((name) => others.has(name)).length >= names.size * AKIN;
}

/**
 * Where a place of one version is in the other one, in each one's file's coordinates.
 * @param {Model} from
 * @param {Model} to
 * @param {boolean} byBox
 */
function mover({ mesh: from }, { mesh: to }, byBox) {
  const scale = byBox && from.radius > 0 ? to.radius / from.radius : 1;
  const point = (/** @type {readonly number[]} */ place) => /** @type {[number, number, number]} */ (
    place.map((value, axis) => (byBox ? (value - (from.centre[axis] ?? 0)) * scale + (to.centre[axis] ?? 0) : value)));
  return { scale, point };
}

/** @param {Comparison} found */
function countsOf({ fixed, still_there, new: fresh }) {
  return `${whole(fixed.length)}\u00a0fixed, ${whole(still_there.length)}\u00a0still there, ${whole(fresh.length)}\u00a0new`;
}

/** @param {{notes: number, lost: number, decisions: number} | null} carried */
function carriedOf(carried) {
  if (!carried) return [];
  const { notes, lost, decisions } = carried;
  const parts = [notes > 0 ? counted(notes, "note") : "", decisions > 0 ? counted(decisions, "decision") : ""].filter(Boolean);
  if (parts.length === 0) return [];
  const without = lost > 0 ? ` ${lost === notes ? (notes === 1 ? "The note has" : "The notes have") : `${counted(lost, "note")} ${lost === 1 ? "has" : "have"}`} no place on this version; the list has ${lost === 1 ? "it" : "them"} all the same.` : "";
  return [` Taken over: ${parts.join(", ")}.${without}`];
}

/**
 * @param {string} role
 * @param {Model} model
 */
function versionRow(role, { name, report }) {
  const verdict = report ? VERDICTS[report.verdict] : null;
  return [make("dt", {}, role), make("dd", {}, make("bdi", { class: "about-file" }, name), ...(verdict ? [make("span", { class: `compare-verdict tone-${verdict.tone}` }, icon(verdict.shape), verdict.word)] : []))];
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
    const sign = !isChanged ? [] : before === null || after === null ? [make("span", { class: "compare-sign" }, "≠"), make("span", { class: "unseen" }, " changed")]
      : [make("span", { class: "compare-sign", "aria-hidden": "true" }, higher ? "↑" : "↓"), make("span", { class: "unseen" }, higher ? " higher" : " lower")];
    return make("tr", { class: isChanged ? "is-changed" : "" },
      make("th", { scope: "row" }, numberLabel(name)), make("td", { class: "figure" }, old ?? ""), make("td", { class: "figure" }, fresh ?? "", ...sign));
  });
}
