/**
 * Starts the page and ties its parts together: files go to the reader, what the reader says goes to the store, and
 * every part follows the store.
 *
 * `window.gridproof` is for tests, which need to know when the page has come to rest; nothing on the page uses it.
 *
 * @import {Failure, Finding, Probe} from "./messages.js"
 * @import {Key} from "./keys.js"
 * @import {Model} from "./state.js"
 */

import { startBrief } from "./brief.js";
import { startDialogs } from "./dialogs.js";
import { byId } from "./dom.js";
import { startDrop } from "./drop.js";
import { compileEngine, startEngine } from "./engine.js";
import { startFindings, visibleFindings } from "./findings.js";
import { bytes, counted } from "./format.js";
import { startGaps } from "./gaps.js";
import { startGrid } from "./grid.js";
import { startKeys } from "./keys.js";
import { startLenses } from "./lenses.js";
import { problemOf, startProblems } from "./problems.js";
import { Reader } from "./reader.js";
import { startReading } from "./reading.js";
import { startSave } from "./save.js";
import { startScaleBar } from "./scalebar.js";
import { startSheet } from "./sheet.js";
import { Stage } from "./stage.js";
import { asLens, LENS_NAMES, readAddress, Store, writeAddress, writeDemo } from "./state.js";
import { startTiles } from "./tiles.js";
import { startVerdict } from "./verdict.js";

/** The demos' files, relative to the page. @type {Record<string, string>} */
const DEMOS = { draft: "demo/lantern-draft.obj", revised: "demo/lantern-revised.obj" };

const UPS = ["y", "z", "x", "-y", "-z", "-x"];

const store = new Store();
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
/** A file chosen before the engine was there. @type {File | null} */
let early = null;
let fetching = false;
/**
 * What was measured of the model and is not shown yet, and the clock that will.
 * @type {{shown: number, seen: Partial<Pick<Model, "triangles" | "histograms" | "lines">>} | null}
 */
let news = null;

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
  mesh({ mesh, summary, triangles, lines }) {
    const { job, lens } = store.state;
    takeNews();
    // The address speaks of the model it came with; a second one starts with nothing chosen.
    if (store.state.model) history.replaceState(null, "", location.pathname + location.search);
    const address = readAddress();
    store.set({
      model: {
        name: job?.name ?? "model.obj",
        bytes: job?.total ?? 0,
        mesh,
        summary,
        triangles,
        lines,
        histograms: { stretch: undefined, size: undefined, seams: undefined },
        areas: null,
        report: null,
        shells: [],
      },
      judging: "",
      lens: address.lens ?? lens,
      finding: null,
      kind: null,
      chosen: [],
      under: null,
      isolate: null,
    });
    if (summary.warning_counts["cut-short"]) {
      store.set({ notice: `${job?.name ?? "The file"} ends in the middle of a statement: it may have been cut short. What was there is shown.` });
    }
  },
  measured({ triangles, histograms, lines }) {
    news ??= { shown: window.setTimeout(() => store.set(withNews()), NEWS_MS), seen: {} };
    news.seen = { ...news.seen, triangles, histograms, ...(lines ? { lines } : {}) };
  },
  report({ report, shells, areas }, again) {
    const { model } = withNews();
    const { finding, kind } = store.state;
    const first = report.findings[0];
    const found = `Verdict: ${report.verdict}. ${counted(report.findings.length, "finding")}${first ? `, the worst: ${first.title}` : ""}.`;
    if (!model) return;
    if (again) {
      const chosen = report.findings.find(({ id }) => id === finding);
      store.set({
        model: { ...model, report, shells, areas },
        judging: "",
        kind: report.findings.some((entry) => entry.kind === kind) ? kind : null,
        ...(finding === null ? {} : { finding: chosen?.id ?? null, chosen: chosen?.shells ?? [] }),
      });
      say(`Judged by the changed brief. ${found}`);
      return;
    }
    store.set({ model: { ...model, report, shells, areas }, job: null });
    followAddress();
    say(`${model.name} is measured. ${found}`);
  },
  failed: fail,
});

/** @param {string} text for screen readers */
function say(text) {
  byId("announcement", HTMLElement).textContent = text;
}

/** @param {Failure} failure */
function fail(failure) {
  console.warn(`Gridproof: ${failure.code}: ${failure.message}`);
  store.set({ problem: problemOf(failure, store.state.job?.name ?? ""), job: null, judging: "" });
}

/** @param {File} file */
function open(file) {
  store.set({ job: { name: file.name, bytes: 0, total: file.size, stage: "" }, problem: null, notice: "" });
  if (!module) {
    early = file;
    if (store.state.engine === "failed") fail({ code: "engine", message: "", line: null });
    return;
  }
  reader.open(module, file, store.state.brief);
}

/** @param {string} name */
async function openDemo(name) {
  const path = DEMOS[name];
  if (!path) return;
  const fileName = path.slice(path.lastIndexOf("/") + 1);
  fetching = true;
  store.set({ job: { name: fileName, bytes: 0, total: 0, stage: "fetching" }, problem: null, notice: "" });
  try {
    const response = await fetch(path);
    if (!response.ok) throw new Error(`The server answered ${response.status} for ${path}.`);
    const blob = await response.blob();
    // Another file may have been dropped meanwhile.
    if (store.state.job?.name === fileName) open(new File([blob], fileName));
  } catch (error) {
    fail({ code: "network", message: error instanceof Error ? error.message : String(error), line: null });
  } finally {
    fetching = false;
  }
}

function cancel() {
  const { job, model } = store.state;
  reader.cancel();
  early = null;
  store.set({ job: null, notice: job ? `Stopped ${job.stage && model?.name === job.name ? "measuring" : "reading"} ${job.name}.` : "" });
}

/** @param {Finding | null} finding */
function chooseFinding(finding) {
  store.set({
    finding: finding?.id ?? null,
    chosen: finding?.shells ?? [],
    lens: finding ? (asLens(finding.lens) ?? store.state.lens) : store.state.lens,
  });
  if (finding) say(`${finding.title}. ${finding.where}. ${finding.advice}`);
}

/** @param {Probe | null} probe */
function chooseShell(probe) {
  const shell = probe?.shell ?? null;
  store.set({ finding: null, chosen: shell === null ? [] : [shell], under: probe });
}

/** @param {1 | -1} step */
function stepFinding(step) {
  const findings = visibleFindings(store.state);
  const at = findings.findIndex(({ id }) => id === store.state.finding);
  const next = findings[at < 0 ? (step > 0 ? 0 : findings.length - 1) : at + step];
  if (next) chooseFinding(next);
}

/** Takes up what the address asks for: at the end of measuring, and when Back or Forward is pressed. */
function followAddress() {
  const { finding, lens } = readAddress();
  const { model } = store.state;
  if (!model?.report) return;
  const found = model.report.findings.find(({ id }) => id === finding) ?? null;
  store.set({ finding: found?.id ?? null, chosen: found?.shells ?? [], lens: lens ?? asLens(found?.lens) ?? "grid" });
  if (finding && !found) {
    store.set({ notice: `The link points at the finding “${finding}”, which this model does not have. It may have been mended, or the model has changed.` });
  }
}

/** How long a job takes before there is a card of it, ms: one that only blinks tells nobody anything. */
const CARD_AFTER_MS = 300;

function startJob() {
  const card = byId("job", HTMLElement);
  const text = byId("job-text", HTMLElement);
  const bar = byId("job-bar", HTMLProgressElement);
  const stop = byId("job-cancel", HTMLButtonElement);
  let due = 0;
  stop.addEventListener("click", cancel);
  store.watch(["job", "judging"], ({ job, judging }) => {
    if (job === null && judging === "") {
      clearTimeout(due);
      due = 0;
      card.hidden = true;
    } else if (due === 0) {
      due = window.setTimeout(() => (card.hidden = false), CARD_AFTER_MS);
    }
    stop.hidden = job === null;
    if (!job) {
      text.textContent = `By the changed brief: ${judging} …`;
      bar.removeAttribute("value");
      return;
    }
    const reading = job.stage === "";
    text.textContent = reading ? `Reading ${job.name}: ${bytes(job.bytes)} of ${bytes(job.total)}` : `${job.name}: ${job.stage} …`;
    if (reading && job.total > 0) bar.value = job.bytes / job.total;
    else bar.removeAttribute("value");
  });
}

function startChosen() {
  const pill = byId("chosen", HTMLElement);
  const text = byId("chosen-text", HTMLElement);
  byId("chosen-clear", HTMLButtonElement).addEventListener("click", () => chooseFinding(null));
  store.watch(["chosen", "model"], ({ chosen, model }) => {
    pill.hidden = chosen.length === 0 || !model;
    const [first] = chosen;
    if (first === undefined) return;
    text.textContent = chosen.length === 1 ? (model?.shells[first] ?? `Shell ${first}`) : counted(chosen.length, "shell");
  });
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
    fit: () => stage?.fit(),
    up: () => store.setUp(UPS[(UPS.indexOf(store.state.up) + 1) % UPS.length] ?? "y"),
    brief: () => brief?.open(),
    next: () => stepFinding(1),
    previous: () => stepFinding(-1),
    leave: () => (store.state.problem ? store.set({ problem: null }) : chooseFinding(null)),
    save: () => save?.open(),
    open: () => byId("file-input", HTMLInputElement).click(),
    help,
  });
}

/** @type {(Omit<Key, "act"> & {act: string | null})[]} */
const KEYS = [
  { group: "Lenses", keys: ["1", "2", "3", "4", "5", "6", "7"], text: "Grid, Stretch, Size, Handedness, Sharing, Seams, Lettering", act: "lens" },
  { group: "Lenses", keys: ["g"], text: "Flags over the grid, on or off", act: "flags" },
  { group: "Lenses", keys: ["t"], text: "Tilt over the grid, on or off", act: "leaning" },
  { group: "Lenses", keys: ["c"], text: "Cells and words of the grid, and its picture", act: "cells" },
  { group: "Findings", keys: ["."], text: "Next finding", act: "next" },
  { group: "Findings", keys: [","], text: "Previous finding", act: "previous" },
  { group: "Findings", keys: ["Escape"], text: "Choose nothing", act: "leave" },
  { group: "View", keys: ["m"], text: "Swap model and sheet", act: "swap" },
  { group: "View", keys: ["b"], text: "Sheet beside the model", act: "beside" },
  { group: "View", keys: ["0"], text: "Show all of it", act: "fit" },
  { group: "View", keys: ["u"], text: "Another axis up", act: "up" },
  { group: "On the model or the sheet, when focused", keys: ["←", "→", "↑", "↓"], text: "Turn the model, move the sheet", act: null },
  { group: "On the model or the sheet, when focused", keys: ["Shift + arrows"], text: "Move the model", act: null },
  { group: "On the model or the sheet, when focused", keys: ["+", "−"], text: "Closer, farther", act: null },
  { group: "On the model or the sheet, when focused", keys: ["Enter"], text: "Choose what is under the cross", act: null },
  { group: "Page", keys: ["r"], text: "The brief: what the model is held against", act: "brief" },
  { group: "Page", keys: ["o"], text: "Open a file", act: "open" },
  { group: "Page", keys: ["s"], text: "Save report, data or pictures", act: "save" },
  { group: "Page", keys: ["?"], text: "This list", act: "help" },
];

function startPage() {
  const dialogs = startDialogs(store, KEYS);
  const actions = keyActions(dialogs);
  startKeys(KEYS.map((row) => ({ ...row, act: row.act === null ? null : (actions[row.act] ?? null) })));
  startVerdict(store, { brief: () => brief?.open(), warnings: dialogs.warnings });
  startFindings(store, chooseFinding);
  startProblems(store);
  startJob();
  startChosen();
  startDrop(
    store,
    (file) => {
      writeDemo(null);
      open(file);
    },
    (demo) => {
      writeDemo(demo);
      void openDemo(demo);
    },
  );
  // A link to a demo shows at once where everything will be: drawing the page anew would only hold up the model.
  const linked = readAddress().demo !== null;
  store.watch(["model", "job"], ({ model, job }) => document.body.classList.toggle("is-empty", model === null && !(linked && job)));
}

async function start() {
  startPage();
  const { demo, lens } = readAddress();
  if (lens) store.set({ lens });
  if (demo) void openDemo(demo);
  store.watch(["brief"], (state) => reader.rebrief(state.brief));
  try {
    module = await compileEngine();
    if (early) open(early);
    const { engine } = await startEngine(module);
    performance.mark("gridproof-engine");
    stage = new Stage(engine, store, {
      hover: (order) => reader.probe({ purpose: "hover", order, answer: (under) => store.set({ under }) }),
      choose: (order) => reader.probe({ purpose: "choose", order, answer: chooseShell }),
      leave: () => store.set({ under: null }),
    });
    startSheet(store, stage);
    startReading(store, engine);
    grid = startGrid(store, engine, module);
    startLenses(store, engine, grid.open);
    brief = startBrief(store, engine);
    save = startSave(store, reader, stage, grid.open);
    startTiles(store, stage);
    startGaps(store, stage);
    startScaleBar(store, stage);
    store.set({ engine: "ok" });
  } catch (error) {
    store.set({ engine: "failed" });
    fail({ code: "engine", message: error instanceof Error ? error.message : String(error), line: null });
    return;
  }
  store.watch(["finding", "lens"], (state) => {
    if (state.model?.report) writeAddress(state);
  });
  addEventListener("popstate", () => {
    const address = readAddress();
    if (address.demo && DEMOS[address.demo]?.endsWith(store.state.model?.name ?? "\n") === false) void openDemo(address.demo);
    else followAddress();
  });
}

/** Resolves when nothing is being fetched, read, measured, probed or drawn. */
async function idle() {
  for (let calm = 0; calm < 2; ) {
    await new Promise((resolve) => setTimeout(resolve, 20));
    const busy = store.state.engine === "loading" || fetching || news !== null || reader.busy || reader.probing || stage?.drawing || grid?.saving || brief?.busy || save?.saving;
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
        frames: stage?.view.frames_drawn() ?? 0,
      };
    },
    report: () => store.state.model?.report ?? null,
    idle,
    loseContext: () => stage?.view.lose_context(),
    restoreContext: () => stage?.view.restore_context(),
  }),
});

void start();
