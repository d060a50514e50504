/**
 * Starts the page and ties its parts together: files go to the reader, what the reader says goes to the store, and
 * every part follows the store.
 *
 * `window.gridproof` is for tests, which need to know when the page has come to rest; nothing on the page uses it.
 *
 * The page starts in steps (`start`), since where the browser draws in software everything else takes time from the first
 * frame. A task is as long as the processors it waits for, so each wait gets a turn of its own.
 *
 * @import {Failure, Finding, FindingPlace, Histograms, Probe, Source} from "../core/messages.js"
 * @import {Review, Shown} from "../core/review.js"
 * @import {Inside} from "../share/page.js"
 * @import {Job, Model} from "../core/state.js"
 */

import { Address, isOurs, linkHere, readAddress } from "./address.js";
import { startBrief } from "../brief/brief.js";
import { counts } from "../findings/checks.js";
import { classPages } from "../batch/pages.js";
import { startChosen } from "./chosen.js";
import { startClass } from "../batch/batch.js";
import { startCompare } from "../compare/compare.js";
import { startDialogs } from "./dialogs.js";
import { byId } from "../base/dom.js";
import { DraftMemory } from "../notes/draft-memory.js";
import { startDrop } from "./drop.js";
import { startEmbed } from "./embed.js";
import { compileEngine, startEngine } from "../core/engine.js";
import { canvas, nextWorker } from "./first.js";
import { startFar } from "../stage/far.js";
import { startFindings, visibleFindings } from "../findings/findings.js";
import { bytes, counted, isolated } from "../base/format.js";
import { startGaps } from "../stage/gaps.js";
import { startGrid } from "../lenses/grid.js";
import { startJob } from "./job.js";
import { KEYS, startKeys } from "./keys.js";
import { startLenses } from "../lenses/lenses.js";
import { startMemory } from "./memory.js";
import { startNotes } from "../notes/notes.js";
import { startOffline } from "./offline.js";
import { pause } from "../base/pause.js";
import { startPins } from "../notes/pins.js";
import { fetchPlaced, placeOf } from "../open/placed.js";
import { problemOf, startProblems } from "../core/problems.js";
import { Reader } from "../model/reader.js";
import { startReading } from "../stage/reading.js";
import { startPictures } from "../lenses/pictures.js";
import { parseReview, Refused, reviewFrom, reviewOf } from "../core/review.js";
import { insideThis, sourceInside } from "../share/page.js";
import { ReviewMemory } from "../notes/memory.js";
import { givenOf, startReviewing } from "../notes/reviewing.js";
import { startSave } from "../save/save.js";
import { startScaleBar } from "../stage/scalebar.js";
import { shareKinds } from "../share/kinds.js";
import { startShare } from "../share/share.js";
import { startSheet } from "../stage/sheet.js";
import { Stage } from "../stage/stage.js";
import { LENS_NAMES } from "../core/known.js";
import { asLens, Store } from "../core/state.js";
import { startTiles } from "../stage/tiles.js";
import { startUnkept } from "./unkept.js";
import { startVerdict } from "../findings/verdict.js";

/** The demos' files, relative to the page. @type {Record<string, string>} */
const DEMOS = { draft: "demo/lantern-draft.obj", revised: "demo/lantern-revised.obj" };

/** From the last thing that the page did of itself, ms. */
const PRACTICE_AFTER_MS = 800;

const UPS = ["y", "z", "x", "-y", "-z", "-x"];

/** What the entry of the page was when it began. */
const begunWith = history.state;
const store = new Store();
const address = new Address(store);
const pictures = startPictures(store, say);
/** @type {WebAssembly.Module | null} */
let module = null;
/** @type {Stage | null} */
let stage = null;
/** @type {ReturnType<typeof startGrid> | null} */
let grid = null;
/** @type {ReturnType<typeof startBrief> | null} */
let brief = null;
/** @type {ReturnType<typeof startSave> | null} */
let save = null;
/** @type {ReturnType<typeof startReviewing> | null} */
let reviewing = null;
/** What the person wrote; in a frame it is not kept: there, the parent chooses. */
const written = new ReviewMemory(window.parent === window);
/** @type {ReturnType<typeof startMemory> | null} */
let memory = null;
/** @type {ReturnType<typeof startNotes> | null} */
let notes = null;
/** @type {ReturnType<typeof startShare> | null} */
let share = null;
/** @type {ReturnType<typeof startDrop> | null} */
let drop = null;
/** @type {ReturnType<typeof startClass> | null} */
let course = null;
/** @type {ReturnType<typeof classPages> | null} */
let pages = null;
/** @type {ReturnType<typeof startCompare> | null} */
let versions = null;
/** What the address asks for, until the first model is there to be shown so. @type {Shown | null} */
let asked = null;
/** The brief and the verdict of the last report. @type {{brief: unknown, verdict: string}} */
let judged = { brief: null, verdict: "" };
/** What was to be opened before the engine was there. @type {Source | null} */
let early = null;
/** The new version that is opened when the previous one is measured. @type {File | null} */
let second = null;
/** What this page wrote into the entry of the carried link that is being opened. @type {Review | null} */
let kept = null;
/** What is being fetched; a later fetch and a cancel end it. @type {AbortController | null} */
let fetching = null;
/** Where the model on screen was fetched, and the digest its link gave; null for one that was given. @type {{src: string, sha256: string | null} | null} */
let fetched = null;
let goingBack = 0;
/**
 * What was measured of the model and is not shown yet, and the clock that will.
 * @type {{shown: number, seen: Partial<Pick<Model, "triangles" | "histograms" | "lines">>} | null}
 */
let news = null;

/** Before anything is measured. @type {Histograms} */
const NO_HISTOGRAMS = { stretch: undefined, density: undefined, seams: undefined };

/** How long what is measured waits for more, ms: each showing costs a picture, which the next would only overtake. */
const NEWS_MS = 250;

/** What was measured and not shown; it counts as shown from then on. */
function takeNews() {
  const seen = news?.seen ?? {};
  clearTimeout(news?.shown);
  news = null;
  return seen;
}

/** The model with all that was measured of it. */
function withNews() {
  const { model } = store.state;
  return { model: model && { ...model, ...takeNews() } };
}

const reader = new Reader({
  progress(read, total) {
    const { job } = store.state;
    if (job) store.set({ job: { ...job, bytes: read, total } });
  },
  stage(name, again) {
    const { job } = store.state;
    if (again) store.set({ judging: name });
    else if (job) store.set({ job: { ...job, stage: name } });
  },
  async carried({ file, review: bytes }) {
    const { job } = store.state;
    if (!job) return;
    store.set({ job: { ...job, name: file.name, bytes: file.bytes, total: file.bytes } });
    const review = kept;
    await started;
    if (!reviewing || (store.state.job ?? store.state.model)?.link !== job.link) return;
    try {
      if (review || bytes.length > 0) reviewing.take(review ?? reviewFrom(bytes));
      reviewing.expect(file.bytes);
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      reviewing.refuse(`${error.message} The model in the link is shown.`);
    }
  },
  mesh({ mesh, summary, triangles, lines }) {
    notes?.finish(true);
    const { job, lens } = store.state;
    takeNews();
    // The address speaks of the model it came with; a second one starts with nothing chosen.
    if (store.state.model && !job?.link && !job?.again) {
      address.clear();
      asked = null;
    }
    store.set({
      model: {
        name: job?.name ?? "model.obj",
        bytes: job?.total ?? 0,
        mesh,
        summary,
        triangles,
        lines,
        histograms: NO_HISTOGRAMS,
        areas: null,
        report: null,
        shells: [],
        link: job?.link ?? null,
        handed: job?.handed ?? null,
      },
      judging: "",
      lens: asked?.lens ?? lens,
      finding: null,
      note: null,
      notes: [],
      decisions: [],
      draft: null,
      placing: false,
      camera: null,
      kind: null,
      chosen: [],
      under: null,
      isolate: null,
      sheet: 0,
    });
    if (summary.warning_counts["cut-short"]) {
      store.set({ notice: `${isolated(job?.name ?? "The file")} ends in the middle of a statement: it may have been cut short. What was there is shown.` });
    }
  },
  measured({ triangles, histograms, lines }) {
    news ??= { shown: window.setTimeout(() => store.set(withNews()), NEWS_MS), seen: {} };
    const before = news.seen.histograms ?? store.state.model?.histograms ?? NO_HISTOGRAMS;
    news.seen = { ...news.seen, ...(triangles ? { triangles } : {}), ...(lines ? { lines } : {}), histograms: { ...before, ...histograms } };
  },
  report({ report, shells, areas }, again) {
    const { model } = withNews();
    const { finding, kind } = store.state;
    if (!model) return;
    if (store.state.sheet >= report.sheets.list.length) store.set({ sheet: 0 });
    const first = report.cause?.sentence ?? report.findings.find(counts)?.title;
    const verdict = `Verdict: ${report.verdict}${report.intended > 0 ? `, ${report.intended} intended` : ""}.`;
    const found = `${verdict} ${counted(report.findings.length, "finding")}${first ? `, ${report.cause ? "one cause" : "the worst"}: ${first.replace(/\.$/, "")}` : ""}.`;
    const before = judged;
    judged = { brief: store.state.brief, verdict };
    if (again) {
      const chosen = report.findings.find(({ id }) => id === finding);
      store.set({
        model: { ...model, report, shells, areas },
        judging: "",
        kind: report.findings.some((entry) => entry.kind === kind) ? kind : null,
        ...(finding === null ? {} : { finding: chosen?.id ?? null, chosen: chosen?.shells ?? [] }),
      });
      if (before.brief !== store.state.brief) say(`Judged by the changed brief. ${found}`);
      else if (before.verdict !== verdict) say(verdict);
      reviewing?.arrived();
      versions?.judged();
      return;
    }
    const isBack = store.state.job?.again === true;
    store.set({ model: { ...model, report, shells, areas }, job: null, ...(isBack && { notice: `${isolated(model.name)} was opened again: the part that measures it had ended by itself, as when the system needs its memory. Nothing is lost.` }) });
    address.follow(() => {
      // The lens is there since the model is, and somebody may have chosen another.
      if (!reviewing?.arrived() && asked && (asked.finding || asked.note || asked.camera) && !store.state.awaited) show(asked);
    });
    asked = null;
    if (fetched?.sha256 && fetched.sha256.toLowerCase() !== report.file.sha256) {
      store.set({ notice: `${isolated(model.name)} is not the file that the link was made for: it has changed since.` });
    }
    say(`${isolated(model.name)} is measured. ${found}`);
    versions?.measured();
    if (second) openVersion(second);
  },
  failed: (failure) => fail(failure),
  died(failure, source) {
    const isFirst = !died.has(source);
    died.add(source);
    dead = source;
    if (isFirst) reopen(source);
    else {
      fail(failure, store.state.model?.name ?? "");
      const { problem } = store.state;
      if (problem) store.set({ problem: { ...problem, next: "It has ended a second time. Open the model again, or choose another file; if it happens again, please report it with the file.", again: true }, notice: "" });
    }
  },
  replaced: () => versions?.replaced() ?? false,
  aside: (message) => versions?.aside(message),
}, nextWorker);

/** Why a brief cannot be active; nothing where it can. @type {(brief: object) => string | undefined} */
let engineTrouble = () => "Gridproof has not started.";

/** Between the deaths of two workers that end together, ms: far more than the browser takes to tell of them. */
const DEATHS_MS = 250;
let reopening = 0;

/** Sources whose worker has ended once. @type {WeakSet<Source>} */
const died = new WeakSet();
/** That of the model whose worker has ended. @type {Source | null} */
let dead = null;

/**
 * Opens the model on screen once more, whose worker has ended: what was chosen, written and turned stays.
 * @param {Source} source
 */
function reopen(source) {
  const { model, finding, lens, note, camera } = store.state;
  if (!model) return;
  notes?.finish(true);
  const { name, bytes: total, link, handed } = model;
  kept = link === null || !model.report ? null : reviewOf(store.state);
  store.set({
    job: { name, bytes: 0, total, stage: "", again: true, ...(link !== null && { link }), ...(handed && { handed }) },
    problem: null,
    notice: `The part that measures ${isolated(name)} ended by itself, as when the system needs its memory. The model is being opened again; nothing is lost.`,
  });
  asked = { finding, lens, note, camera };
  const { job } = store.state;
  // What ended this worker may have ended the one that waits, which is heard a moment later.
  reopening = window.setTimeout(() => {
    reopening = 0;
    if (store.state.job === job) reader.open(compileEngine(), source, store.state.brief);
  }, DEATHS_MS);
}

/** @param {string} text for screen readers */
function say(text) {
  byId("announcement", HTMLElement).textContent = text;
}

/**
 * @param {Failure} failure
 * @param {string} [name] of what failed, if not of the job
 */
function fail(failure, name = store.state.job?.name ?? "") {
  console.warn(`Gridproof: ${failure.code}: ${failure.message}`);
  store.set({ problem: problemOf(failure, name), job: null, judging: "" });
}

/**
 * @param {File} file
 * @param {Pick<Job, "handed">} [more]
 */
function open(file, more = {}) {
  begin({ file, ...pictures.toCome() }, { ...more, name: file.name, bytes: 0, total: file.size, stage: "" });
}

/**
 * @param {string} link that carries a model
 * @param {Review | null} review what to show on it instead of what comes with it
 */
function openLink(link, review) {
  kept = review;
  begin({ link }, { name: "The model in the link", bytes: 0, total: 0, stage: "unpacking", link });
}

/**
 * Opens what a review page has in it.
 * @param {Inside} inside
 * @param {Review | null} written what its address says instead of the review in it
 */
async function openInside(inside, written) {
  const [source, review] = [await sourceInside(inside), written ?? parseReview(inside.review)];
  if ("link" in source) openLink(source.link, review);
  else {
    store.set({ awaited: review });
    open(source.file);
  }
}

/**
 * @param {Source} source
 * @param {Job} job
 */
function begin(source, job) {
  versions?.expect(false);
  second = null;
  fetching?.abort();
  fetching = null;
  fetched = null;
  store.set({ job, problem: null, notice: "" });
  if (module) read(source);
  else if (store.state.engine === "failed") fail({ code: "engine", message: "", line: null });
  else early = source;
}

/** @param {Source} source */
function read(source) {
  if ("file" in source) reviewing?.expect(source.file.size);
  reader.open(compileEngine(), source, store.state.brief);
}

/**
 * A file that the person gave, or the parent of the frame: the address speaks of no other any more.
 * @param {File} file
 * @param {Pick<Job, "handed">} [more]
 */
function openGiven(file, more) {
  course?.leave();
  address.demo(null);
  open(file, more);
}

/** @param {File} file */
async function openReview(file) {
  await started;
  if (reviewing) await reviewing.open(file);
  else store.set({ notice: "Gridproof could not start, so the review could not be opened." });
}

/**
 * A file that was dropped or chosen: it may be another version of the model on screen.
 * @param {File} file
 */
function openVersion(file) {
  openGiven(file);
  versions?.expect(true);
}

/**
 * Where the model lies that the address asks for; null for none.
 * @param {{demo: string | null, src: string | null}} address
 */
function sourceIn({ demo, src }) {
  return src ?? DEMOS[demo ?? ""] ?? null;
}

/**
 * @param {string} src address of the model
 * @param {string | null} [sha256] what it should be
 */
async function openPlaced(src, sha256 = null) {
  fetching?.abort();
  const mine = new AbortController();
  fetching = mine;
  try {
    const place = placeOf(src);
    const { name } = place;
    store.set({ job: { name, bytes: 0, total: 0, stage: "fetching" }, problem: null, notice: "" });
    const file = await fetchPlaced(place, (read, total) => {
      if (fetching === mine) store.set({ job: { name, bytes: read, total, stage: `fetching, ${bytes(read)} of ${bytes(total)}` } });
    }, mine.signal);
    if (fetching !== mine) return;
    open(file);
    fetched = { src, sha256 };
  } catch (error) {
    if (fetching !== mine) return;
    const known = error && typeof error === "object" && "code" in error && typeof error.code === "string";
    fail(known ? /** @type {Failure} */ (error) : { code: "network", message: error instanceof Error ? error.message : String(error), line: null });
  } finally {
    if (fetching === mine) fetching = null;
  }
}

function cancel() {
  const { job, model } = store.state;
  fetching?.abort();
  fetching = null;
  reader.cancel();
  early = null;
  store.set({ job: null, notice: job ? `Stopped ${job.stage && model?.name === job.name ? "measuring" : "reading"} ${isolated(job.name)}.` : "" });
}

/**
 * The sheet that a finding is about, or on which its first shell lies.
 * @param {Finding | null} finding
 */
function sheetOf(finding) {
  const shell = finding?.shells[0];
  return finding?.sheet ?? (shell === undefined ? undefined : store.state.model?.report?.shells[shell]?.sheet);
}

/** @param {Finding | null} finding */
function chooseFinding(finding) {
  store.set({
    finding: finding?.id ?? null,
    note: null,
    placing: false,
    chosen: finding?.shells ?? [],
    // A finding has a view of its own.
    camera: finding ? null : store.state.camera,
    lens: finding ? (asLens(finding.lens) ?? store.state.lens) : store.state.lens,
    sheet: sheetOf(finding) ?? store.state.sheet,
  });
  if (finding) say(`${finding.title}. ${finding.where}. ${finding.advice}`);
}

/**
 * Shows one of the places of a finding that is about many.
 * @param {Finding} finding
 * @param {FindingPlace} place
 */
function choosePlace(finding, place) {
  if (store.state.finding !== finding.id) chooseFinding(finding);
  store.set({ chosen: place.shells, camera: null });
  // After the stage has followed the finding.
  queueMicrotask(() => stage?.show(place));
  say(`${place.name}. ${place.number.text}.`);
}

/** @param {Probe | null} probe */
function chooseShell(probe) {
  const shell = probe?.shell ?? null;
  store.set({ finding: null, note: null, chosen: shell === null ? [] : [shell], under: probe });
}

/** @param {1 | -1} step */
function stepFinding(step) {
  const findings = visibleFindings(store.state);
  const at = findings.findIndex(({ id }) => id === store.state.finding);
  const next = findings[at < 0 ? (step > 0 ? 0 : findings.length - 1) : at + step];
  if (next) chooseFinding(next);
}

/**
 * Shows what an address or a review asks for.
 * @param {Shown} shown with the id of a note
 */
function show({ finding, lens, note, camera }) {
  const { model } = store.state;
  if (!model?.report) return;
  const found = model.report.findings.find(({ id }) => id === finding) ?? null;
  if (camera && camera.up !== store.state.up) store.setUp(camera.up);
  store.set({ finding: found?.id ?? null, chosen: found?.shells ?? [], lens: lens ?? asLens(found?.lens) ?? "grid", note, camera });
  // After the stage has followed the finding.
  queueMicrotask(() => {
    const written = store.state.notes.find(({ id }) => id === note);
    if (camera) stage?.fly(camera);
    else if (written) notes?.show(written);
    else if (found) stage?.show(found);
  });
  if (finding && !found) {
    store.set({ notice: `The link points at the finding “${finding}”, which this model does not have. It may have been fixed, or the model has changed.` });
  }
}

/** @param {{help: () => void}} dialogs */
function keyActions({ help }) {
  return /** @type {Record<string, (key: string) => void>} */ ({
    lens: (key) => store.set({ lens: LENS_NAMES[Number(key) - 1] ?? store.state.lens }),
    cells: () => (store.state.model ? grid?.open() : undefined),
    flags: () => store.set({ flags: !store.state.flags, lens: "grid" }),
    leaning: () => store.set({ leaning: !store.state.leaning, lens: "grid" }),
    swap: () => store.set({ swapped: !store.state.swapped }),
    beside: () => store.set({ beside: !store.state.beside }),
    enlarge: () => store.set({ large: !store.state.large }),
    fit: () => stage?.fit(),
    up: () => store.setUp(UPS[(UPS.indexOf(store.state.up) + 1) % UPS.length] ?? "y"),
    brief: () => brief?.open(),
    next: () => stepFinding(1),
    previous: () => stepFinding(-1),
    leave: () => (store.state.problem ? store.set({ problem: null }) : store.state.placing ? store.set({ placing: false }) : chooseFinding(null)),
    note: () => notes?.ask(true),
    share: () => share?.open(),
    save: () => save?.open(),
    files: () => course?.back(),
    "next-file": () => course?.step(1),
    "previous-file": () => course?.step(-1),
    flip: () => versions?.flip(),
    open: () => void drop?.choose(),
    help,
  });
}

/** What keys do while the table of a class is shown; all else is about the stage. */
const ON_TABLE = ["brief", "open", "help"];

function startPage() {
  const dialogs = startDialogs(store, KEYS);
  const actions = keyActions(dialogs);
  const acts = (/** @type {string} */ act, /** @type {string} */ key) => (course?.shown && !ON_TABLE.includes(act) ? undefined : actions[act]?.(key));
  startKeys(KEYS.map(({ act, ...row }) => ({ ...row, act: act === null ? null : (key) => acts(act, key) })));
  startVerdict(store, { brief: () => brief?.open(), warnings: dialogs.warnings });
  const drawer = startFindings(store, chooseFinding, choosePlace, () => notes?.about());
  startProblems(store);
  byId("problem-again", HTMLButtonElement).addEventListener("click", () => (dead ? reopen(dead) : undefined));
  startJob(store, cancel);
  startChosen(store, () => chooseFinding(null));
  course = startClass(store, {
    open: (file, libraries, own) => {
      pictures.leave(libraries, own);
      open(file);
    },
    openAlone: (file, companions) => {
      if (companions.length > 0) void pictures.give(companions, true);
      openGiven(file);
    },
    give: (companions) => void pictures.give(companions, false),
    compare: (previous, newer) => {
      openGiven(previous);
      second = newer;
    },
    fail: (failure, name) => fail(failure, name),
    say,
    written: (sha256) => written.counts(sha256),
    async rebrief(before) {
      await started;
      if (brief && engineTrouble(before) === undefined) brief.replace(before);
    },
    decided() {
      /** @type {Map<number, import("../core/messages.js").WrittenReview[]>} */
      const bySize = new Map();
      for (const { sha256, bytes: size, notes: about, decisions } of written.all()) {
        if (decisions.length > 0) bySize.set(size, [...(bySize.get(size) ?? []), { sha256, ...givenOf(about, decisions) }]);
      }
      return bySize;
    },
    async pages() {
      await started;
      if (!pages) throw new Error("Gridproof could not start.");
      return pages;
    },
  });
  drop = startDrop(
    store,
    openVersion,
    openReview,
    (demo) => {
      address.demo(demo);
      void openPlaced(DEMOS[demo] ?? demo);
    },
    {
      hold: async (file) => {
        await started;
        return brief ? brief.hold(file) : "Gridproof could not start.";
      },
      show: () => brief?.show(),
    },
    course,
    (companions, withModel) => void pictures.give(companions, withModel),
    async (handle) => {
      await started;
      await memory?.remember(handle);
    },
  );
  // A link to a model shows at once where everything will be: drawing the page anew would only hold up the model.
  const linked = /[?&](demo|src)=/.test(location.search) || linkHere() !== null || insideThis() !== null;
  let begun = !linked;
  store.watch(["model", "job", "problem"], ({ model, job, problem }) => {
    begun ||= job !== null || problem !== null;
    document.body.classList.toggle("is-empty", model === null && begun && !(linked && job));
  });
  return drawer;
}

/** In steps, so that none of them holds the page up for long. */
async function start() {
  // Begun at once; whether it failed is asked below.
  void compileEngine().catch(() => {});
  await pause();
  const drawer = startPage();
  const recalled = written.load();
  const begun = await readAddress(history.state);
  asked = begun.shown;
  if (asked.lens) store.set({ lens: asked.lens });
  const inside = insideThis();
  if (inside) await openInside(inside, begun.review);
  else if (begun.link !== null) openLink(begun.link, begun.review);
  else if (begun.review) store.set({ awaited: begun.review });
  if (begun.refused) store.set({ notice: `The review in the link could not be taken. ${begun.refused} The page works without it.` });
  const source = sourceIn(begun);
  if (source !== null) void openPlaced(source, begun.sha256);
  const isReload = isOurs(begunWith) || (typeof begunWith === "object" && begunWith !== null && "class" in begunWith);
  if (source === null && begun.link === null && !inside && (isReload || !begun.review)) void recalled.then(() => course?.restore(isReload));
  store.watch(["brief"], (state) => reader.rebrief(state.brief));
  store.watch(["sheet"], (state) => reader.sheet(state.sheet));
  try {
    module = await compileEngine();
    canvas.begin(module);
    if (early) read(early);
    const [{ engine }] = await Promise.all([startEngine(module), recalled]);
    performance.mark("gridproof-engine");
    stage = new Stage(engine, canvas, store, {
      hover: (order) => reader.probe({ purpose: "hover", order, answer: (under) => store.set({ under }) }),
      choose: (order) => reader.probe({ purpose: "choose", order, answer: (probe) => (store.state.placing ? notes?.begin(probe) : chooseShell(probe)) }),
      mark: (order) => reader.probe({ purpose: "choose", order, answer: (probe) => (probe ? notes?.begin(probe) : chooseShell(null)) }),
      moved: () => (stage ? address.moved(stage) : undefined),
      leave: () => store.set({ under: null }),
      aside: () => versions?.kept ?? null,
    });
    startSheet(store, stage);
    await pause();
    startReading(store, engine);
    grid = startGrid(store, engine, module);
    startLenses(store, engine, grid.open, pictures);
    pictures.show(stage);
    await pause();
    brief = startBrief(store, engine);
    engineTrouble = engine.brief_trouble;
    save = startSave(store, reader, stage, grid.open);
    notes = startNotes(store, stage, new DraftMemory(window.parent === window), { say, drawer, noteOn, probeCross, chooseFinding });
    startPins(store, stage, reader, notes.choose);
    reviewing = startReviewing(store, reader, engine, written, {
      show: (shown) => address.follow(() => show(shown)),
      say,
      aside: (sha256, kept) => versions?.rewritten(sha256, kept),
    });
    startUnkept(store, written);
    versions = startCompare(store, reader, stage, {
      choose: chooseFinding,
      finish: () => notes?.finish() ?? true,
      follow: (change) => address.follow(change),
      carry: reviewing.carry,
      say,
    });
    await pause();
    pages = classPages(engine, store, written);
    share = startShare(store, shareKinds(store, reader, engine, () => fetched), (file) => void openReview(file));
    if (store.state.awaited) reviewing.take(store.state.awaited);
    startTiles(store, stage);
    startFar(store, stage);
    startGaps(store, stage);
    startScaleBar(store, stage);
    memory = startMemory(store, { replaceBrief: brief.replace, briefTrouble: engine.brief_trouble, open: openGiven }, written);
    store.set({ engine: "ok" });
    startEmbed(store, engine, (file, handed) => openGiven(file, { handed }));
  } catch (error) {
    store.set({ engine: "failed" });
    fail({ code: "engine", message: error instanceof Error ? error.message : String(error), line: null });
    return;
  }
  addEventListener("popstate", (event) => void goBack(event.state));
  startOffline(store, openGiven, idle);
  void practise();
}

/** Where nobody has opened anything for a while, the first file shall find code that is fast already. */
async function practise() {
  await idle();
  await pause(PRACTICE_AFTER_MS);
  if (module && !store.state.model && !reader.busy && !course?.busy) reader.practise(module);
}

/**
 * Back, Forward, or another link in the address bar.
 * @param {unknown} entry what the entry carries
 */
async function goBack(entry) {
  goingBack += 1;
  const begun = await readAddress(entry).finally(() => (goingBack -= 1));
  const { link, shown, review, refused } = begun;
  const { job, model } = store.state;
  const source = sourceIn(begun);
  if (link !== null && (!isOurs(entry) || link !== (job ?? model)?.link)) {
    store.set({ awaited: null });
    openLink(link, review);
  } else if (source !== null && source !== fetched?.src) {
    asked = { ...shown, note: null };
    store.set({ awaited: isOurs(entry) ? null : review });
    void openPlaced(source, begun.sha256);
  } else if (refused) {
    reviewing?.refuse(refused);
  } else if (review && !isOurs(entry)) {
    reviewing?.take(review);
  } else if (model) {
    const note = store.state.notes[(shown.note ?? 0) - 1]?.id ?? null;
    address.follow(() => show({ ...shown, note }));
    if (!shown.finding && !shown.camera && note === null) stage?.flyHome();
  }
}

/** Has what is under the cross probed, for a note. @returns {boolean} whether there is a cross */
function probeCross() {
  const order = stage?.crossed() ?? null;
  if (order) reader.probe({ purpose: "choose", order, answer: (probe) => notes?.begin(probe) });
  return order !== null;
}

/**
 * Begins a note on a finding, at the first of its spots that is on its shells.
 * @param {Finding} finding
 */
async function noteOn(finding) {
  /** @type {Probe | null} */
  let nearest = null;
  for (const order of stage?.spotsOf(finding) ?? []) {
    const probe = await new Promise((/** @type {(probe: Probe | null) => void} */ answer) => reader.probe({ purpose: "choose", order, answer }));
    if (store.state.finding !== finding.id) return;
    nearest ??= probe;
    if (!probe || (finding.shells.length > 0 && (probe.shell === null || !finding.shells.includes(probe.shell)))) continue;
    nearest = probe;
    break;
  }
  notes?.begin(nearest);
}

/** Resolves when nothing is being fetched, read, measured, probed or drawn. */
async function idle() {
  for (let calm = 0; calm < 2; ) {
    await pause(20);
    const busy = store.state.engine === "loading" || !store.told || fetching !== null || news !== null || reopening !== 0 || reader.busy || reader.probing || stage?.drawing || grid?.busy || pictures.busy || brief?.busy || save?.saving || goingBack > 0 || address.busy || reviewing?.busy || written.busy || versions?.busy || share?.busy || course?.busy || (second !== null && store.state.problem === null);
    calm = busy ? 0 : calm + 1;
  }
}

Object.defineProperty(window, "gridproof", {
  value: Object.freeze({
    /** What the page shows, as plain data. */
    state() {
      const { model, ...rest } = store.state;
      return {
        ...rest,
        model: model && { name: model.name, bytes: model.bytes, counts: model.summary.counts, verdict: model.report?.verdict ?? null },
        camera: stage?.view.camera() ?? null,
        frames: stage?.frames ?? 0,
      };
    },
    report: () => store.state.model?.report ?? null,
    seen: (/** @type {number[]} */ points) => stage?.seen(points) ?? null,
    idle,
    loseContext: () => stage?.disturb("lose_context"),
    restoreContext: () => stage?.disturb("restore_context"),
  }),
});

const started = start();
