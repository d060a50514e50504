/**
 * Starts the page and connects its parts: files go to the reader, the reader's messages go to the store, and
 * every part follows the store.
 *
 * `window.gridproof` is for tests, which need to know when the page is idle; nothing on the page uses it.
 *
 * The page starts in steps (`start`), since where the browser draws in software all other work delays the first frame.
 * Each wait gets a separate task, so that no task is long.
 *
 * @import {Step, WrittenReview} from "../core/messages.js"
 */

import { Address, isOurs, linkHere, readAddress } from "./address.js";
import { startBrief } from "../brief/brief.js";
import { classPages } from "../batch/pages.js";
import { Choosing } from "./choosing.js";
import { startChosen } from "./chosen.js";
import { Batch } from "../batch/batch.js";
import { Versions } from "../compare/compare.js";
import { startDialogs } from "./dialogs.js";
import { byId } from "../base/dom.js";
import { DraftMemory } from "../notes/draft-memory.js";
import { startDrop } from "./drop.js";
import { startEmbed } from "./embed.js";
import { compileEngine, startEngine } from "../core/engine.js";
import { canvas } from "./first.js";
import { startFar } from "../stage/far.js";
import { startFindings } from "../findings/findings.js";
import { startGaps } from "../stage/gaps.js";
import { startGrid } from "../lenses/grid.js";
import { startJob } from "./job.js";
import { KEYS, startKeys } from "./keys.js";
import { startLenses } from "../lenses/lenses.js";
import { startMemory } from "./memory.js";
import { Notes } from "../notes/notes.js";
import { startOffline } from "./offline.js";
import { Opening } from "./opening.js";
import { Parts } from "./parts.js";
import { pause } from "../base/pause.js";
import { startPins } from "../notes/pins.js";
import { startProblems } from "../core/problems.js";
import { startReading } from "../stage/reading.js";
import { Pictures } from "../lenses/pictures.js";
import { insideThis } from "../share/page.js";
import { ReviewMemory } from "../notes/memory.js";
import { givenOf, Reviewing } from "../notes/reviewing.js";
import { startSave } from "../save/save.js";
import { startScaleBar } from "../stage/scalebar.js";
import { shareKinds } from "../share/kinds.js";
import { startShare } from "../share/share.js";
import { startSheet } from "../stage/sheet.js";
import { Stage } from "../stage/stage.js";
import { LENS_NAMES } from "../core/known.js";
import { Store } from "../core/state.js";
import { startTiles } from "../stage/tiles.js";
import { startUnkept } from "./unkept.js";
import { startVerdict } from "../findings/verdict.js";

/** The demos' files, relative to the page. @type {Record<string, string>} */
const DEMOS = { draft: "demo/lantern-draft.obj", revised: "demo/lantern-revised.obj" };

/** Delay of the warm-up after the page's last action of its own, ms. */
const PRACTICE_AFTER_MS = 800;

const UPS = ["y", "z", "x", "-y", "-z", "-x"];

/** The page's history entry at the start. */
const begunWith = history.state;
const store = new Store();
const address = new Address(store);
const pictures = new Pictures(store, say);
const parts = new Parts();
const choosing = new Choosing(store, parts, say);
/** The user's notes; not stored in a frame: there, the parent decides. */
const written = new ReviewMemory(window.parent === window);
const opening = new Opening({ store, address, pictures, choosing, parts, say });
const { reader } = opening;
let goingBack = 0;

/** @param {string} text for screen readers */
function say(text) {
  byId("announcement", HTMLElement).textContent = text;
}

/**
 * Location of the model that the address asks for; null for none.
 * @param {{demo: string | null, src: string | null}} address
 */
function sourceIn({ demo, src }) {
  return src ?? DEMOS[demo ?? ""] ?? null;
}

/** @param {{help: () => void}} dialogs */
function keyActions({ help }) {
  return /** @type {Record<string, (key: string) => void>} */ ({
    lens: (key) => store.set({ lens: LENS_NAMES[Number(key) - 1] ?? store.state.lens }),
    cells: () => (store.state.model ? parts.grid?.open() : undefined),
    flags: () => store.set({ flags: !store.state.flags, lens: "grid" }),
    leaning: () => store.set({ leaning: !store.state.leaning, lens: "grid" }),
    swap: () => store.set({ swapped: !store.state.swapped }),
    beside: () => store.set({ beside: !store.state.beside }),
    enlarge: () => store.set({ large: !store.state.large }),
    fit: () => parts.stage?.views.fit(),
    up: () => store.setUp(UPS[(UPS.indexOf(store.state.up) + 1) % UPS.length] ?? "y"),
    brief: () => parts.brief?.open(),
    next: () => choosing.step(1),
    previous: () => choosing.step(-1),
    leave: () => (store.state.problem ? store.set({ problem: null }) : store.state.placing ? store.set({ placing: false }) : choosing.finding(null)),
    note: () => parts.notes?.ask(true),
    share: () => parts.share?.open(),
    save: () => parts.save?.open(),
    files: () => parts.batch?.back(),
    "next-file": () => parts.batch?.step(1),
    "previous-file": () => parts.batch?.step(-1),
    flip: () => parts.versions?.flip(),
    open: () => void parts.drop?.choose(),
    help,
  });
}

/** Keys that work while the table of a class is shown; all others are about the 3D view. */
const ON_TABLE = ["brief", "open", "help"];

function startPage() {
  const dialogs = startDialogs(store, KEYS);
  const actions = keyActions(dialogs);
  const acts = (/** @type {string} */ act, /** @type {string} */ key) => (parts.batch?.shown && !ON_TABLE.includes(act) ? undefined : actions[act]?.(key));
  startKeys(KEYS.map(({ act, ...row }) => ({ ...row, act: act === null ? null : (key) => acts(act, key) })));
  startVerdict(store, { brief: () => parts.brief?.open(), warnings: dialogs.warnings });
  const drawer = startFindings(
    store,
    (finding) => choosing.finding(finding),
    (finding, place) => choosing.place(finding, place),
    () => parts.notes?.about(),
  );
  startProblems(store);
  byId("problem-again", HTMLButtonElement).addEventListener("click", () => opening.reopen());
  startJob(store, () => opening.cancel());
  startChosen(store, () => choosing.finding(null));
  parts.batch = new Batch(store, {
    open: (file, libraries, own) => {
      pictures.leave(libraries, own);
      opening.open(file);
    },
    openAlone: (file, companions) => {
      if (companions.length > 0) void pictures.give(companions, true);
      opening.openGiven(file);
    },
    give: (companions) => void pictures.give(companions, false),
    compare: (previous, newer) => opening.openTwo(previous, newer),
    fail: (failure, name) => opening.fail(failure, name),
    say,
    written: (sha256) => written.counts(sha256),
    async rebrief(before) {
      await parts.started;
      if (parts.briefTrouble(before) === undefined) parts.brief?.replace(before);
    },
    decided() {
      /** @type {Map<number, WrittenReview[]>} */
      const bySize = new Map();
      for (const { sha256, bytes: size, notes: about, decisions } of written.all()) {
        if (decisions.length > 0) bySize.set(size, [...(bySize.get(size) ?? []), { sha256, ...givenOf(about, decisions) }]);
      }
      return bySize;
    },
    async pages() {
      await parts.started;
      if (!parts.pages) throw new Error("Gridproof could not start.");
      return parts.pages;
    },
  });
  parts.drop = startDrop(
    store,
    (file) => opening.openVersion(file),
    (file) => opening.openReview(file),
    (demo) => {
      address.demo(demo);
      void opening.openPlaced(DEMOS[demo] ?? demo);
    },
    {
      hold: async (file) => {
        await parts.started;
        return parts.brief ? parts.brief.hold(file) : "Gridproof could not start.";
      },
      show: () => parts.brief?.show(),
    },
    parts.batch,
    (companions, withModel) => void pictures.give(companions, withModel),
    async (handle) => {
      await parts.started;
      await parts.memory?.remember(handle);
    },
  );
  // A link to a model shows the final layout at once: another layout would only delay the model.
  const linked = /[?&](demo|src)=/.test(location.search) || linkHere() !== null || insideThis() !== null;
  let begun = !linked;
  store.watch(["model", "job", "problem"], ({ model, job, problem }) => {
    begun ||= job !== null || problem !== null;
    document.body.classList.toggle("is-empty", model === null && begun && !(linked && job));
  });
  return drawer;
}

/** In steps, so that there is no long task. */
async function start() {
  // Started at once; its failure is handled below.
  void compileEngine().catch(() => {});
  await pause();
  const drawer = startPage();
  const recalled = written.load();
  const begun = await readAddress(history.state);
  opening.asked = begun.shown;
  if (begun.shown.lens) store.set({ lens: begun.shown.lens });
  const inside = insideThis();
  if (inside) await opening.openInside(inside, begun.review);
  else if (begun.link !== null) opening.openLink(begun.link, begun.review);
  else if (begun.review) store.set({ awaited: begun.review });
  if (begun.refused) store.set({ notice: `The review in the link could not be taken. ${begun.refused} The page works without it.` });
  const source = sourceIn(begun);
  if (source !== null) void opening.openPlaced(source, begun.sha256);
  const isReload = isOurs(begunWith) || (typeof begunWith === "object" && begunWith !== null && "class" in begunWith);
  if (source === null && begun.link === null && !inside && (isReload || !begun.review)) void recalled.then(() => parts.batch?.restore(isReload));
  store.watch(["brief"], (state) => reader.rebrief(state.brief));
  store.watch(["sheet"], (state) => reader.sheet(state.sheet));
  try {
    const module = (parts.module = await compileEngine());
    canvas.begin(module);
    opening.begin();
    const [{ engine }] = await Promise.all([startEngine(module), recalled]);
    performance.mark("gridproof-engine");
    const stage = (parts.stage = new Stage(engine, canvas, store, {
      hover: (order) => reader.probe({ purpose: "hover", order, answer: (under) => store.set({ under }) }),
      choose: (order) =>
        reader.probe({ purpose: "choose", order, answer: (probe) => (store.state.placing ? parts.notes?.begin(probe) : choosing.shell(probe)) }),
      mark: (order) => reader.probe({ purpose: "choose", order, answer: (probe) => (probe ? parts.notes?.begin(probe) : choosing.shell(null)) }),
      moved: () => (parts.stage ? address.moved(parts.stage) : undefined),
      leave: () => store.set({ under: null }),
      aside: () => parts.versions?.kept ?? null,
    }));
    startSheet(store, stage);
    await pause();
    startReading(store, engine);
    const grid = (parts.grid = startGrid(store, engine, module));
    startLenses(store, engine, grid.open, pictures);
    pictures.show(stage);
    await pause();
    const brief = (parts.brief = startBrief(store, engine));
    parts.briefTrouble = engine.brief_trouble;
    parts.save = startSave(store, reader, stage, grid.open);
    parts.notes = new Notes(store, stage, reader, new DraftMemory(window.parent === window), {
      say,
      drawer,
      chooseFinding: (finding) => choosing.finding(finding),
    });
    startPins(store, stage, reader, (id) => parts.notes?.choose(id));
    const reviewing = (parts.reviewing = new Reviewing(store, reader, engine, written, {
      show: (shown) => address.follow(() => choosing.show(shown)),
      say,
      aside: (sha256, kept) => parts.versions?.rewritten(sha256, kept),
    }));
    startUnkept(store, written);
    parts.versions = new Versions(store, reader, stage, {
      choose: (finding) => choosing.finding(finding),
      finish: () => parts.notes?.finish() ?? true,
      follow: (change) => address.follow(change),
      carry: (saved, decided) => reviewing.carry(saved, decided),
      say,
    });
    await pause();
    parts.pages = classPages(engine, store, written);
    parts.share = startShare(
      store,
      shareKinds(store, reader, engine, () => opening.fetched),
      (file) => void opening.openReview(file),
    );
    if (store.state.awaited) reviewing.take(store.state.awaited);
    startTiles(store, stage);
    startFar(store, stage);
    startGaps(store, stage);
    startScaleBar(store, stage);
    parts.memory = startMemory(store, { replaceBrief: brief.replace, briefTrouble: engine.brief_trouble, open: (file) => opening.openGiven(file) }, written);
    store.set({ engine: "ok" });
    startEmbed(store, engine, (file, handed) => opening.openGiven(file, { handed }));
  } catch (error) {
    store.set({ engine: "failed" });
    opening.fail({ code: "engine", message: error instanceof Error ? error.message : String(error), line: null });
    return;
  }
  addEventListener("popstate", (event) => void goBack(event.state));
  startOffline(store, (file) => opening.openGiven(file), idle);
  void practise();
}

/** If nothing is opened for a while, warms up the code for the first file. */
async function practise() {
  await idle();
  await pause(PRACTICE_AFTER_MS);
  const { module, batch } = parts;
  if (module && !store.state.model && !reader.busy && !batch?.busy) reader.practise(module);
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
    opening.openLink(link, review);
  } else if (source !== null && source !== opening.fetched?.src) {
    opening.asked = { ...shown, note: null };
    store.set({ awaited: isOurs(entry) ? null : review });
    void opening.openPlaced(source, begun.sha256);
  } else if (refused) {
    parts.reviewing?.refuse(refused);
  } else if (review && !isOurs(entry)) {
    parts.reviewing?.take(review);
  } else if (model) {
    const note = store.state.notes[(shown.note ?? 0) - 1]?.id ?? null;
    address.follow(() => choosing.show({ ...shown, note }));
    if (!shown.finding && !shown.camera && note === null) parts.stage?.views.flyHome();
  }
}

/** Resolves when nothing is being fetched, read, measured, probed or drawn. */
async function idle() {
  for (let calm = 0; calm < 2; ) {
    await pause(20);
    const { stage, grid, brief, save, reviewing, versions, share, batch } = parts;
    const isStarting = store.state.engine === "loading" || !store.told || goingBack > 0;
    const ofPage = [opening, pictures, grid, brief, address, reviewing, written, versions, share, batch];
    const busy = isStarting || stage?.drawing || save?.saving || ofPage.some((part) => part?.busy);
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
        model: model && {
          name: model.name,
          bytes: model.bytes,
          id: model.id,
          revision: model.revision,
          undo: model.undo,
          redo: model.redo,
          counts: model.summary.counts,
          verdict: model.report?.verdict ?? null,
        },
        camera: parts.stage?.view.camera() ?? null,
        frames: parts.stage?.frames ?? 0,
      };
    },
    report: () => store.state.model?.report ?? null,
    seen: (/** @type {number[]} */ points) => parts.stage?.views.seen(points) ?? null,
    idle,
    /** Changes the uvs of the model on screen. @param {Step} step */
    step: (step) => reader.step(step),
    loseContext: () => parts.stage?.disturb("lose_context"),
    restoreContext: () => parts.stage?.disturb("restore_context"),
  }),
});

parts.started = start();
