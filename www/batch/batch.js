/**
 * A class at a glance: many files as a table that is measured in the background, sorted, filtered and walked through. The
 * table stays while its files are opened one by one; the browser's Back leads to it. Nothing of it is in the address: a
 * class lives as long as the page and is brought back by a reload where the browser can (batch/kept.js); what the teacher adds
 * to it lives in the browser (batch/memory.js).
 *
 * @import {Brief, ClassSource, Failure, FromClass, WrittenReview} from "../core/messages.js"
 * @import {ClassPages} from "./pages.js"
 * @import {View} from "./kept.js"
 * @import {Row} from "./rows.js"
 * @import {Picked} from "./files.js"
 * @import {Store} from "../core/state.js"
 */

import { comparePaths, fileFrom, gather, mayBeClass } from "./files.js";
import { startHead, whose } from "./head.js";
import { startEarlier } from "./earlier.js";
import { KeptClass } from "./kept.js";
import { ClassMemory } from "./memory.js";
import { Pool } from "./pool.js";
import { startFilter } from "./filter.js";
import { POINTS_RULE } from "./points.js";
import { judging, Rounds } from "./rounds.js";
import { COLUMNS, fillRow, layRows, OUTCOME_SIGNS, outcomeOf, OUTCOMES, pictureOf } from "./rows.js";
import { saveTable, ZipMaker } from "./save.js";
import { compareNames, isFormat, keyOfName, namesIn, studentsIn, wrongUploads } from "./students.js";
import { withSeams } from "../findings/table.js";
import { byId, icon, make } from "../base/dom.js";
import { bytes, counted, isolated, whole } from "../base/format.js";
import { mapOf } from "../core/state.js";
import { Zips } from "../open/zips.js";

/** Between two showings of what the workers told, ms. */
const REFRESH_MS = 250;
/** Between two spoken words of progress, ms: they can be heard out. */
const SPEAK_MS = 10_000;
/** How long a brief must have stayed as it is before a class is measured by it, ms. */
const BRIEF_MS = 500;

/**
 * @typedef {object} Page what the class needs of it
 * @property {(file: File, libraries: File[], own: string | null) => void} open shows a file of the class on the stage; `own`: see `linkMaterials`
 * @property {(file: File, companions: File[]) => void} openAlone the same for a file that is no class, with its libraries and pictures
 * @property {(companions: File[]) => void} give those of the model that is here
 * @property {(previous: File, newer: File) => void} compare opens one after the other, as two versions
 * @property {(failure: Failure, name: string) => void} fail
 * @property {(text: string) => void} say for screen readers
 * @property {() => Promise<ClassPages>} pages makes review pages, and knows what was written about a file
 * @property {(sha256: string) => {notes: number, decisions: number}} written how much was written about a file
 * @property {(brief: Brief) => Promise<void>} rebrief takes the brief that was active before, if it still can be
 * @property {() => Map<number, WrittenReview[]>} decided what was decided about files, by their size
 */

/**
 * @param {Store} store
 * @param {Page} page
 */
export function startClass(store, page) {
  const section = byId("class", HTMLElement);
  const main = byId("work", HTMLElement);
  const reading = byId("reading", HTMLElement);
  const title = byId("class-title", HTMLElement);
  const lead = byId("class-lead", HTMLElement);
  const caption = byId("class-caption", HTMLElement);
  const body = byId("class-rows", HTMLElement);
  const job = byId("class-job", HTMLElement);
  const jobText = byId("class-job-text", HTMLElement);
  const jobBar = byId("class-job-bar", HTMLProgressElement);
  const again = byId("class-again", HTMLButtonElement);
  const outcome = byId("class-outcome", HTMLElement);
  const table = byId("class-save-table", HTMLButtonElement);
  const reports = byId("class-save-reports", HTMLButtonElement);
  const pages = byId("class-save-pages", HTMLButtonElement);
  const pair = byId("class-two", HTMLElement);
  const offered = byId("class-offer", HTMLElement);
  const pointsRule = byId("class-points-rule", HTMLElement);
  pointsRule.textContent = POINTS_RULE;
  const scroll = byId("class-scroll", HTMLElement);
  const where = byId("class-where", HTMLElement);
  const position = byId("class-position", HTMLElement);
  const previous = byId("class-previous", HTMLButtonElement);
  const next = byId("class-next", HTMLButtonElement);

  const zips = new Zips();
  const maker = new ZipMaker();
  /** In the order of their paths. @type {Row[]} */
  let rows = [];
  /** The same by their numbers. @type {Map<number, Row>} */
  let byNumber = new Map();
  let numbers = 0;
  /** What was dropped that is no OBJ. @type {ClassSource[]} */
  let rest = [];
  let memory = new ClassMemory("", false);
  const lasting = window.parent === window;
  const kept = new KeptClass(lasting);
  const unkept = byId("class-unkept", HTMLElement);
  kept.troubled = (text) => {
    unkept.textContent = text;
    unkept.hidden = text === "";
  };
  /** Whether the files outlast the tab. */
  let isKept = false;
  kept.done = () => {
    isKept = true;
    tellLead();
  };
  const rounds = new Rounds((row, since) => {
    if (byNumber.get(row.id) !== row) return;
    touch(row, { since });
    if (row === current) tellCurrent();
  });
  /** As sorted and filtered. @type {Row[]} */
  let shown = [];
  let name = "";
  let view = /** @type {"none" | "table" | "file"} */ ("none");
  /** The row that is open on the stage, or was last. @type {Row | null} */
  let current = null;
  let sort = { key: "verdict", down: false };
  /** What is being gathered, opened or arranged, and anything older is out of date. */
  let gathering = "";
  let opening = 0;
  let arranging = 0;
  let arranged = true;
  /** Rows told of since the last showing. @type {Set<Row>} */
  const told = new Set();
  let refresh = 0;
  let spoken = 0;
  let rebrief = 0;
  let map = mapOf(store.state.brief);
  let judged = judging(store.state.brief);
  /** Where the table was scrolled to when it was left. */
  let top = 0;
  /** What the line of progress says of what is made; null while nothing is. @type {{done: number, of: number, doing: string} | null} */
  let making = null;

  const pool = new Pool({
    started: ({ id }) => {
      const row = byNumber.get(id);
      if (row?.state === "waiting") touch(row, { state: "measuring" });
    },
    told: hear,
    idle: later,
    failed: (error) => {
      stopRows();
      page.fail({ code: "engine", message: asFailure(error).message, line: null }, "");
    },
  });

  for (const { key, head, figures } of COLUMNS) {
    const button = make("button", { type: "button", class: "class-sort", "data-key": key }, make("span", {}, head), icon("shape-fold"));
    button.addEventListener("click", () => sortBy(key));
    byId("class-heads", HTMLElement).append(make("th", { role: "columnheader", scope: "col", class: `class-of-${key}${figures ? " is-figures" : ""}` }, button));
  }
  const filter = startFilter(arrange);
  const head = startHead({
    rule: (rule) => {
      memory.set({ rule });
      assign();
    },
    names: (names) => {
      memory.set({ names });
      assign();
    },
    mark: (change) => (current ? mark(current, change) : undefined),
  });
  const earlier = startEarlier(kept, {
    isTaken: () => rows.length > 0 || gathering !== "",
    gather: (picked) => gather(picked, zips, false),
    async begin(found, back, isReload) {
      if (back && Object.keys(back.brief ?? {}).length > 0 && !store.state.awaited) await page.rebrief(back.brief);
      begin(found, back, isReload);
      look();
    },
  });
  byId("class-cancel", HTMLButtonElement).addEventListener("click", cancel);
  again.addEventListener("click", measure);
  table.addEventListener("click", () => tell(`Saved ${saveTable(shown.toSorted((a, b) => a.at - b.at), name)}, ${counted(shown.length, "row")}.`));
  reports.addEventListener("click", () => {
    const wanted = measured();
    void save("report", "Making reports", wanted, async (heard) => maker.saveReports(wanted, store.state.brief, name, (await page.pages()).written, heard));
  });
  pages.addEventListener("click", () => void offerPages());
  byId("class-offer-take", HTMLButtonElement).addEventListener("click", () => {
    const wanted = measured();
    void save("review page", "Making review pages", wanted, async (heard) => maker.savePages(wanted, name, (await page.pages()).make, heard));
  });
  byId("class-offer-leave", HTMLButtonElement).addEventListener("click", () => {
    offered.hidden = true;
    pages.focus();
  });
  byId("class-compare", HTMLButtonElement).addEventListener("click", () => {
    const [previous, newer] = two();
    if (previous && newer) page.compare(previous, newer);
  });
  byId("class-two-leave", HTMLButtonElement).addEventListener("click", () => {
    pair.hidden = true;
    title.focus();
  });
  byId("class-back", HTMLButtonElement).addEventListener("click", back);
  previous.addEventListener("click", () => step(-1));
  next.addEventListener("click", () => step(1));
  body.addEventListener("click", ({ target }) => {
    const row = target instanceof Element && target.closest(".class-counts") ? rowOf(target) : null;
    if (row) count(row);
  });
  body.addEventListener("click", (event) => {
    if (!(event.target instanceof Element) || event.target.closest(".class-counts") || event.target.closest("input") || getSelection()?.isCollapsed === false) return;
    const row = rowOf(event.target);
    if (row) void open(row);
  });
  body.addEventListener("input", ({ target }) => {
    if (!(target instanceof HTMLInputElement)) return;
    const row = rowOf(target);
    if (row) mark(row, { [target.dataset.mark ?? ""]: target.value });
  });
  body.addEventListener("keydown", walk);
  addEventListener("pagehide", () => memory.flush());
  addEventListener("popstate", ({ state }) => {
    if (rows.length === 0) return;
    if (state?.class === "table") show("table");
    else if (view === "table") show(current && store.state.model ? "file" : "none");
  });
  store.watch(["brief"], ({ brief }) => {
    clearTimeout(rebrief);
    if (!earlier.busy) look();
    if (rows.length > 0) rebrief = setTimeout(judgeAgain, BRIEF_MS, brief);
  });
  store.watch(["job"], (state) => {
    // Another file was opened, or this was stopped.
    if (gathering && state.job?.stage !== "opening") {
      gathering = "";
      zips.stop();
    }
    tellJob();
  });
  // What the page says beside the stage is said here while the table is shown.
  store.watch(["problem", "notice"], ({ problem, notice }) => {
    if (view === "table" && problem) tell(`${problem.title}: ${problem.place}. ${problem.message} ${problem.next}`);
    else if (view === "table" && notice) tell(notice);
  });
  store.watch(["model", "job"], (state) => {
    if (view === "file" && current && !state.job && state.model?.report) see(current, state.model.report.file.sha256);
    titleTab();
  });

  /** @param {Picked} picked */
  async function take(picked) {
    const what = picked.folders[0]?.name ?? picked.files[0]?.name ?? "";
    zips.stop();
    store.set({ job: { name: what, bytes: 0, total: 0, stage: "opening" }, problem: null, notice: "" });
    const mine = store.state.job;
    gathering = what;
    try {
      const found = await gather(picked, zips, store.state.model !== null);
      if (store.state.job !== mine) return;
      const [only] = found.sources;
      if (found.sources.length > 1) {
        gathering = "";
        begin(found);
        void kept.keep(found.name, found.given, found.alone, (await picked.dropped) ?? null);
        look();
        return;
      }
      if (only?.failure) throw only.failure;
      const file = only && (await fileFrom(only, zips));
      const companions = await Promise.all(found.companions.map((taken) => taken().catch(() => [])));
      if (store.state.job !== mine) return;
      gathering = "";
      if (file) page.openAlone(file, companions.flat());
      else {
        store.set({ job: null });
        page.give(companions.flat());
      }
    } catch (error) {
      if (store.state.job !== mine) return;
      gathering = "";
      page.fail(asFailure(error), what);
    }
  }

  /**
   * @param {import("./files.js").Class} found
   * @param {View | null} [back] how it was looked at, where it is brought back
   * @param {boolean} [isReload] whether the entry of the address is the one it was looked at in
   */
  function begin(found, back = null, isReload = false) {
    maker.stop();
    // Workers that were started for this class stay.
    if (pool.busy) pool.clear();
    told.clear();
    body.replaceChildren();
    ({ name, rest } = found);
    isKept = back !== null;
    memory.flush();
    // Files picked one by one have no name to be known by.
    memory = new ClassMemory(name, name !== "" && lasting);
    earlier.leave();
    byNumber = new Map();
    rows = found.sources.map((source) => newRow(source, false, source.upload ?? ""));
    shown = [];
    current = null;
    top = 0;
    map = mapOf(store.state.brief);
    judged = judging(store.state.brief);
    filter.clear();
    sort = { key: "verdict", down: false };
    if (back) {
      filter.set(back);
      if (COLUMNS.some(({ key }) => key === back.sort.key)) sort = { key: back.sort.key, down: back.sort.down };
    }
    store.set({ job: null });
    assign();
    tell("");
    const [previous, newer] = two();
    pair.hidden = !previous || !newer;
    byId("class-two-text", HTMLElement).textContent = `Are these two versions of one model? ${isolated(previous?.name ?? "")} is taken for the previous one, ${isolated(newer?.name ?? "")} for the new one.`;
    if (!isReload) history.pushState({ class: "table" }, "", location.pathname);
    else if (back?.place === "table") history.replaceState({ class: "table" }, "", location.pathname);
    const open = back?.place === "file" ? rows.find((row) => markKey(row.source, name) === back.row) : undefined;
    if (open) {
      void reopen(open);
      arrange();
      return;
    }
    // Measures them too: the table is seen.
    show("table");
    page.say(`${counted(rows.length, "file")}. They are being measured.`);
    spoken = performance.now();
    arrange();
  }

  /**
   * @param {ClassSource} source
   * @param {boolean} isWrong
   * @param {string} upload
   */
  function newRow(source, isWrong, upload) {
    /** @type {Row} */
    const row = {
      id: (numbers += 1), at: 0, rank: 0, source, student: "", several: 1, isWrong, upload, state: source.failure ? "unreadable" : "waiting", result: null, isWhole: false,
      failure: source.failure, picture: null, sha256: "", written: { notes: 0, decisions: 0 }, mark: memory.mark(markKey(source, name)), gradeRank: null, since: null, about: "", counts: null, points: null, element: null,
    };
    byNumber.set(row.id, row);
    return row;
  }

  /** Says of each row whose it is, and makes rows for those who gave no model: by the rule and the list as they are now. */
  function assign() {
    const models = rows.filter(({ isWrong }) => !isWrong);
    const students = studentsIn([...models.map(({ source }) => source), ...rest.filter(isFormat)].map(({ path }) => path));
    const rule = memory.rule ?? students.usual;
    /** @type {Map<string, Row[]>} */
    const given = new Map();
    for (const row of models) {
      row.student = students.of(row.source.path, rule);
      const key = keyOfName(row.student);
      given.set(key, [...(given.get(key) ?? []), row]);
    }
    for (const [key, own] of given) {
      const counting = own.length > 1 ? own.find(({ source }) => markKey(source, name) === memory.counting(key)) : undefined;
      for (const row of own) Object.assign(row, { several: own.length, counts: counting ? row === counting : null });
    }
    const listed = new Map(namesIn(memory.names).map((listedName) => [keyOfName(listedName), listedName]));
    const wrong = wrongUploads(rest, students, rule, new Set(given.keys()), new Set(listed.keys()));
    const known = new Set([...given.keys(), ...wrong.map(({ student }) => keyOfName(student))]);
    const missing = [...listed].filter(([key]) => !known.has(key)).map(([, student]) => ({ source: noFile(student), student, upload: "Missing" }));
    const former = new Map(rows.filter(({ isWrong }) => isWrong).map((row) => [row.source.path, row]));
    const others = [...wrong, ...missing].map(({ source, student, upload }) => Object.assign(former.get(source.path) ?? newRow(source, true, upload), { student }));
    for (const row of former.values()) {
      if (others.includes(row)) continue;
      byNumber.delete(row.id);
      row.element?.remove();
    }
    rows = [...models, ...others].sort((a, b) => Number(a.failure?.code === "missing") - Number(b.failure?.code === "missing") || comparePaths(a.source.path, b.source.path));
    for (const [at, row] of rows.entries()) row.at = at;
    for (const [rank, row] of rows.toSorted((a, b) => compareNames(a.student, b.student) || a.at - b.at).entries()) row.rank = rank;
    rankGrades();
    for (const row of rows) told.add(row);
    shown = shown.filter((row) => byNumber.get(row.id) === row);
    const files = counted(rows.length - missing.length, "file");
    title.textContent = name ? `${name}: ${files}` : files;
    caption.textContent = `${rows.length} models of a class: student, verdict, worst finding and key numbers of each`;
    head.show(rule, memory.names, { students: new Set(rows.map(({ student }) => keyOfName(student))).size, missing: missing.length, listed: listed.size }, memory.lasting);
    if (view !== "table") return;
    measure();
    showTold();
  }

  /** What the row that is open says of its student. */
  function tellCurrent() {
    const { student = "", since = null } = current ?? {};
    store.set({ student, since: since && { fixed: since.fixed, still: since.still, new: since.fresh } });
  }

  /** Keeps how the table is looked at. */
  function look() {
    if (rows.length > 0) kept.look({ brief: store.state.brief, sort, ...filter.asked, row: current && markKey(current.source, name), place: view });
  }

  /**
   * Opens the row that was open before a reload, in the entry that is there.
   * @param {Row} row
   */
  async function reopen(row) {
    view = "file";
    await open(row, false);
  }

  /** Two files that were given by themselves, the older first; none where it is anything else. @returns {File[]} */
  function two() {
    const files = rows.flatMap(({ source }) => ("file" in source && !source.failure ? [source.file] : []));
    return name === "" && rows.length === 2 && files.length === 2 ? files.sort((a, b) => a.lastModified - b.lastModified) : [];
  }

  /** @param {Element} element */
  function rowOf(element) {
    return byNumber.get(Number(element.closest("tr")?.dataset.row ?? NaN)) ?? null;
  }

  /**
   * @param {Row} row
   * @param {Partial<Row["mark"]>} change
   */
  function mark(row, change) {
    memory.setMark(markKey(row.source, name), change);
    if (memory.trouble) tell(memory.trouble);
    touch(row, { mark: memory.mark(markKey(row.source, name)) });
    if ("grade" in change) rankGrades();
  }

  /**
   * The teacher says which of a student's files counts, or takes it back.
   * @param {Row} row
   */
  function count(row) {
    memory.setCounting(keyOfName(row.student), row.counts ? null : markKey(row.source, name));
    if (memory.trouble) tell(memory.trouble);
    assign();
    for (const other of rows) if (keyOfName(other.student) === keyOfName(row.student)) void rounds.tell(other, memory, store.state.brief);
    page.say(row.counts ? `${row.source.path} counts for ${row.student}.` : `Which file of ${row.student} counts is open again.`);
  }

  function rankGrades() {
    const graded = rows.filter((row) => row.mark.grade !== "");
    for (const row of rows) row.gradeRank = null;
    for (const [rank, row] of graded.sort((a, b) => compareNames(a.mark.grade, b.mark.grade) || a.at - b.at).entries()) row.gradeRank = rank;
  }

  /**
   * The teacher looks at it.
   * @param {Row} row
   * @param {string} sha256
   */
  function see(row, sha256) {
    const { name: file } = row.source;
    if (store.state.model?.name !== file || sha256 === "") return;
    row.sha256 = sha256;
    if (row.mark.seen !== sha256) mark(row, { seen: sha256 });
  }

  /** Asks for whatever is not known yet by the active brief: the verdicts first. */
  function measure() {
    for (const row of rows) if (row.state === "stopped") touch(row, { state: "waiting" });
    order("row", rows.filter(({ state, picture }) => state === "waiting" || (state === "measured" && !picture)));
    order("seams", rows.filter(({ state, isWhole, picture }) => state === "measured" && !isWhole && picture));
  }

  /**
   * @param {"row" | "seams"} what
   * @param {Row[]} due
   */
  function order(what, due) {
    if (due.length === 0) return;
    const { brief } = store.state;
    const decided = page.decided();
    for (const row of due) row.about = aboutOf(decided.get(row.source.bytes));
    // The seams come last, take twice as long as all before, and only a limit in the brief makes a finding of them.
    const whole = what === "seams" || (brief.seams?.max_front_over_diagonal ?? null) !== null;
    pool.add(due.map(({ id, source, picture }) => ({ what, id, source, brief, whole, pictured: what === "row" && !picture, written: decided.get(source.bytes) ?? [] })));
    later();
  }

  /** @param {Brief} brief */
  function judgeAgain(brief) {
    const now = judging(brief);
    if (now === judged) {
      // Points alone are told anew.
      for (const row of rows) told.add(row);
      later();
      return;
    }
    judged = now;
    pool.clear();
    const { width, height } = mapOf(brief);
    const remapped = width !== map.width || height !== map.height;
    map = { width, height };
    for (const row of rows) {
      if (row.state === "unreadable") continue;
      if (remapped) row.picture = null;
      touch(row, { state: "waiting", isWhole: false });
    }
    // Who looks at one file needs the others later.
    if (view === "table") measure();
  }

  /** @param {Exclude<FromClass, {type: "done"}>} message */
  function hear(message) {
    const row = byNumber.get(message.id);
    if (!row) return;
    const wasKnown = outcomeOf(row) !== null;
    if ((message.type === "row" || message.type === "seams") && message.sha256) {
      touch(row, { sha256: message.sha256, written: page.written(message.sha256) });
    }
    if (message.type === "row") {
      // What can be read is an OBJ, whatever it is called.
      touch(row, { upload: "", state: "measured", result: message.result, isWhole: message.isWhole });
    } else if (message.type === "picture") {
      touch(row, { picture: pictureOf(message.image) });
    } else if (message.type === "seams" && row.result) {
      touch(row, { result: withSeams(row.result, message.result), isWhole: message.isWhole });
    } else if (message.type === "failed" && row.state !== "measured") {
      // Where only the picture or the seams failed, the rest stands.
      const { code } = message.failure;
      touch(row, { state: "unreadable", failure: message.failure, result: null, upload: row.upload || (code === "empty" ? "Empty file" : "") });
    }
    if (row.sha256 && (message.type === "row" || message.type === "seams")) void rounds.tell(row, memory, store.state.brief);
    // The picture comes after its row.
    if (message.type !== "failed" && row.picture && !row.isWhole) order("seams", [row]);
    const isLast = message.type === "picture" ? rows.every(({ picture, state }) => picture || state !== "measured") : !wasKnown;
    if (isLast && rows.every((other) => outcomeOf(other) !== null)) showTold();
  }

  /**
   * @param {Row} row
   * @param {Partial<Row>} change
   */
  function touch(row, change) {
    Object.assign(row, change);
    told.add(row);
    later();
  }

  /** Shows soon what has changed. */
  function later() {
    refresh ||= setTimeout(showTold, REFRESH_MS);
  }

  function showTold() {
    clearTimeout(refresh);
    refresh = 0;
    for (const row of told) if (byNumber.get(row.id) === row) fillRow(row, store.state.brief);
    told.clear();
    arrange();
    tellJob();
    speak();
  }

  function speak() {
    const known = rows.filter((row) => outcomeOf(row) !== null).length;
    const now = performance.now();
    if (known === rows.length && spoken > 0) {
      spoken = 0;
      const parts = OUTCOMES.map((entry) => ({ entry, of: rows.filter((row) => outcomeOf(row) === entry).length })).filter(({ of }) => of > 0);
      page.say(`All ${rows.length} files are measured: ${parts.map(({ entry, of }) => `${of} ${OUTCOME_SIGNS[entry].word.toLowerCase()}`).join(", ")}.`);
    } else if (known < rows.length && now - spoken > SPEAK_MS && pool.busy) {
      spoken = now;
      page.say(`${known} of ${rows.length} files are measured.`);
    }
  }

  function cancel() {
    if (making) maker.stop();
    else if (gathering) store.set({ job: null });
    else {
      pool.clear();
      stopRows();
      page.say("Measuring was stopped.");
    }
  }

  function stopRows() {
    for (const row of rows) if (row.state === "waiting" || row.state === "measuring") touch(row, { state: "stopped" });
  }

  function tellJob() {
    const measuring = rows.filter(({ state }) => state === "measuring");
    const open = store.state.job?.stage === "opening" ? store.state.job : null;
    job.hidden = !open && !making && !pool.busy;
    again.hidden = pool.busy || !rows.some((row) => row.state === "stopped" || (row.state === "measured" && !row.isWhole));
    table.disabled = pool.busy || making !== null || shown.length === 0;
    reports.disabled = pages.disabled = table.disabled || !shown.some(({ state }) => state === "measured");
    if (pages.disabled) offered.hidden = true;
    if (job.hidden) return;
    if (open) {
      jobText.textContent = `Opening ${open.name} …`;
      jobBar.removeAttribute("value");
    } else if (making) {
      jobText.textContent = `${making.doing}: ${whole(making.done)} of ${whole(making.of)}`;
      jobBar.value = making.done / making.of;
    } else {
      const known = rows.filter((row) => outcomeOf(row) !== null).length;
      const now = measuring.map(({ source }) => source.name).join(", ");
      const seen = rows.filter(({ state, isWhole }) => state !== "measured" || isWhole).length;
      const [done, doing] = known < rows.length ? [known, "Measured"] : [seen, "All measured. Seams:"];
      jobText.textContent = `${doing} ${whole(done)} of ${whole(rows.length)}${known < rows.length && now ? `: now ${now}` : ""}`;
      jobBar.value = done / rows.length;
    }
  }

  /** @param {string} text */
  function tell(text) {
    outcome.textContent = text;
    outcome.hidden = text === "";
  }

  /** Rows of which something can be made, in the order of their paths. */
  function measured() {
    return shown.filter(({ state }) => state === "measured").sort((a, b) => a.at - b.at);
  }

  /** Says how large the review pages would be before they are made. */
  async function offerPages() {
    const wanted = measured();
    tell("");
    try {
      const size = await (await page.pages()).bytes(wanted.map(({ source }) => source));
      byId("class-offer-text", HTMLElement).textContent = `${counted(wanted.length, "review page")}, about ${bytes(size)} in a zip. Each opens without this site: it holds the page itself, its model, and your notes and decisions on it.`;
      offered.hidden = false;
      byId("class-offer-take", HTMLButtonElement).focus();
    } catch (error) {
      tell(`The review pages cannot be made. ${asFailure(error).message}`);
    }
  }

  /**
   * @param {string} what is made, one of it
   * @param {string} doing
   * @param {Row[]} wanted
   * @param {(heard: import("./save.js").Heard) => Promise<import("./save.js").Outcome | null>} make
   */
  async function save(what, doing, wanted, make) {
    offered.hidden = true;
    making = { done: 0, of: wanted.length, doing };
    tell("");
    tellJob();
    try {
      const made = await make((done, of, doing) => {
        making = { done, of, doing };
        later();
      });
      tell(made ? `Saved ${made.file}, ${counted(made.made, what)}, ${bytes(made.bytes)}.${made.failed.length > 0 ? ` Not made: ${made.failed.join(" ")}` : ""}` : "Stopped. Nothing was saved.");
    } catch (error) {
      tell(`The ${what}s could not be made. ${asFailure(error).message}`);
    } finally {
      making = null;
      tellJob();
    }
  }

  /** @param {string} key */
  function sortBy(key) {
    const column = COLUMNS.find((entry) => entry.key === key);
    sort = { key, down: sort.key === key ? !sort.down : (column?.down ?? false) };
    arrange();
    page.say(`Sorted by ${column?.head ?? key}, ${sort.down ? "greatest" : "least"} first.`);
  }

  /** The rows that pass the filter, in their order. */
  function select() {
    const passes = rows.filter(filter.passing());
    const order = COLUMNS.find(({ key }) => key === sort.key)?.order ?? (({ at }) => at);
    const keyed = passes.map((row) => ({ row, value: order(row) }));
    keyed.sort((a, b) => {
      if (a.value === null || b.value === null) return Number(a.value === null) - Number(b.value === null) || a.row.at - b.row.at;
      return (sort.down ? b.value - a.value : a.value - b.value) || a.row.at - b.row.at;
    });
    return keyed.map(({ row }) => row);
  }

  /** Brings table, filter and counts in line with the rows; the table slice by slice. */
  function arrange() {
    const before = shown;
    shown = select();
    look();
    tellShown();
    tellWhere();
    // What is being laid goes on.
    if (before.length === shown.length && before.every((row, at) => row === shown[at])) return;
    arranged = false;
    const passing = new Set(shown);
    for (const row of before) if (!passing.has(row)) row.element?.remove();
    const turn = (arranging += 1);
    void layRows(body, shown, store.state.brief, () => turn === arranging).then((isDone) => (arranged ||= isDone));
  }

  function tellShown() {
    for (const head of byId("class-heads", HTMLElement).children) {
      const key = head.firstElementChild?.getAttribute("data-key");
      if (key === sort.key) head.setAttribute("aria-sort", sort.down ? "descending" : "ascending");
      else head.removeAttribute("aria-sort");
    }
    filter.tell(rows, shown.length);
    pointsRule.hidden = !rows.some(({ points }) => points);
    tellLead();
    const part = shown.length === rows.length ? "" : ` (${whole(shown.length)})`;
    table.textContent = `Save table${part}`;
    reports.textContent = `Save reports${part}`;
    pages.textContent = `Save review pages${part}`;
    offered.hidden = true;
    tellJob();
  }

  function tellLead() {
    const others = rest.length - rows.filter(({ isWrong, failure }) => isWrong && failure?.code !== "missing").length;
    lead.textContent = [others > 0 ? `${counted(others, "other file")} passed over` : "", isKept ? "kept in this browser for a reload" : ""].filter(Boolean).join(", ");
  }

  /** Rows that can be opened, in the order of the table; the open one is among them even if it passes no more. */
  function walkable() {
    const open = shown.filter(({ failure }) => failure === null);
    return current && !open.includes(current) ? rows.filter(({ failure }) => failure === null) : open;
  }

  function tellWhere() {
    where.hidden = rows.length === 0 || view === "table";
    if (where.hidden) return;
    const list = walkable();
    const at = current ? list.indexOf(current) : -1;
    const isOpen = view === "file" && at >= 0;
    position.textContent = isOpen ? `${whole(at + 1)} of ${whole(list.length)}` : counted(rows.length, "file");
    position.title = isOpen ? (current?.source.path ?? "") : "";
    head.tell(isOpen ? current : null);
    previous.disabled = !isOpen || at === 0;
    next.disabled = !isOpen || at === list.length - 1;
  }

  /** @param {1 | -1} by */
  function step(by) {
    if (view !== "file" || !current) return;
    const list = walkable();
    const row = list[list.indexOf(current) + by];
    if (row) void open(row);
  }

  /**
   * @param {Row} row
   * @param {boolean} [enters] whether it has an entry of its own
   */
  async function open(row, enters = true) {
    if (row.failure) return;
    const isFromTable = view === "table";
    const turn = (opening += 1);
    current = row;
    tellCurrent();
    if (enters) history[isFromTable ? "pushState" : "replaceState"]({ class: "file" }, "", location.pathname);
    show("file");
    page.say(`${row.student}: ${row.source.path}, ${position.textContent}.`);
    const { libraries = [], own = null } = row.source;
    if ("file" in row.source && libraries.length === 0) {
      page.open(row.source.file, [], own);
      return;
    }
    // What was being taken for another row is not waited for.
    zips.stop();
    const { name: file, bytes: total } = row.source;
    store.set({ job: { name: file, bytes: 0, total, stage: "unpacking" }, problem: null, notice: "" });
    const mine = store.state.job;
    try {
      const taken = await fileFrom(row.source, zips);
      // One that cannot be taken out of its zip is none, as for the row.
      const beside = await Promise.all(libraries.map((library) => fileFrom(library, zips).catch(() => [])));
      if (turn === opening && store.state.job === mine) page.open(taken, beside.flat(), own);
    } catch (error) {
      if (turn === opening && store.state.job === mine) page.fail(asFailure(error), file);
    }
  }

  function back() {
    if (rows.length === 0 || view === "table") return;
    history.pushState({ class: "table" }, "", location.pathname);
    show("table");
  }

  /** @param {typeof view} to */
  function show(to) {
    if (view === "table" && to !== "table") top = scroll.scrollTop;
    view = to;
    const isTable = to === "table";
    section.hidden = !isTable;
    look();
    document.body.classList.toggle("is-class", isTable);
    main.inert = reading.inert = isTable;
    tellWhere();
    titleTab();
    if (!isTable) return;
    if (current?.sha256) {
      touch(current, { written: page.written(current.sha256) });
      // What was decided meanwhile counts in the row too.
      if (current.state === "measured" && current.about !== aboutOf(page.decided().get(current.source.bytes))) {
        touch(current, { state: "waiting", isWhole: false });
        if (pool.busy) order("row", [current]);
      }
    }
    if (!pool.busy && rows.some(({ state }) => state === "waiting")) measure();
    scroll.scrollTop = top;
    const opener = current?.element?.querySelector("button");
    (opener ?? title).focus({ preventScroll: true });
    opener?.scrollIntoView({ block: "nearest" });
  }

  function titleTab() {
    const { model } = store.state;
    if (view === "table") document.title = `${title.textContent} · Gridproof`;
    else if (rows.length > 0) document.title = [view === "file" ? whose(current) : "", model?.name, "Gridproof"].filter(Boolean).join(" · ");
  }

  /** @param {KeyboardEvent} event */
  function walk(event) {
    const buttons = [...body.querySelectorAll("button.class-file")];
    const at = event.target instanceof Element ? buttons.indexOf(event.target) : -1;
    const to = { ArrowDown: at + 1, ArrowUp: at - 1, Home: 0, End: buttons.length - 1 }[event.key];
    const button = at >= 0 && to !== undefined ? buttons[to] : null;
    if (!(button instanceof HTMLElement)) return;
    event.preventDefault();
    button.focus();
  }

  return {
    /** Whether these go to the class rather than to the stage. */
    wants: mayBeClass,
    expect: () => void pool.expect(),
    rest: () => pool.rest(),
    take: (/** @type {Picked} */ picked) => void take(picked),
    restore: earlier.restore,
    step,
    back,
    /** A file that is no part of the class is opened on the stage. */
    leave: () => {
      if (view === "table") show("none");
      view = "none";
      current = null;
      tellCurrent();
      look();
      tellWhere();
    },
    /** Whether the table is what is seen. */
    get shown() {
      return view === "table";
    },
    get busy() {
      return gathering !== "" || earlier.busy || kept.busy || rounds.busy || head.busy || pool.busy || maker.busy || making !== null || refresh !== 0 || !arranged || store.state.job?.stage === "unpacking";
    },
  };
}

/**
 * What a row was judged with besides the brief, to be told from what is decided later.
 * @param {WrittenReview[] | undefined} decided
 */
function aboutOf(decided) {
  return JSON.stringify((decided ?? []).map(({ sha256, decisions }) => [sha256, decisions]));
}

/**
 * What a file is remembered by: its path below the folder, which is called otherwise when it is fetched again.
 * @param {ClassSource} source
 * @param {string} name of the class
 */
function markKey({ path, failure }, name) {
  if (failure?.code === "missing") return `missing: ${path}`;
  return name !== "" && path.startsWith(`${name}/`) ? path.slice(name.length + 1) : path;
}

/**
 * A row's file where a student gave none.
 * @param {string} student
 * @returns {ClassSource}
 */
function noFile(student) {
  return { path: student, name: "", bytes: 0, failure: { code: "missing", message: "On the list of students, and no file of theirs is here.", line: null }, file: new File([], "none") };
}

/**
 * @param {unknown} error
 * @returns {Failure}
 */
function asFailure(error) {
  if (error && typeof error === "object" && "code" in error && typeof error.code === "string") return /** @type {Failure} */ (error);
  return { code: "crashed", message: error instanceof Error ? error.message : String(error), line: null };
}
