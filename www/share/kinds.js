/**
 * The kinds of sharing: a link to the view, to a hosted model, with the model inside; a frame for a course's page; the review
 * as a page or as data; the report.
 *
 * @import {Engine, Which} from "../core/messages.js"
 * @import {Reader} from "../model/reader.js"
 * @import {Review} from "../core/review.js"
 * @import {Page} from "./page.js"
 * @import {Store} from "../core/state.js"
 */

import { Carrier, NO_PLAN } from "./carrier.js";
import { bytes, counted, fixed, three } from "../base/format.js";
import { CARRIED, packReview, writeReview } from "../core/review.js";
import { packPage, reviewPage } from "./page.js";
import { stemWith } from "../save/save.js";

/** Where a model was fetched, as the address had it, and the digest its link gave. @typedef {{src: string, sha256: string | null}} Fetched */

/** What a kind comes to: a link to copy and open, a file to save, or only how to get there; `facts` beside length, place and contents. @typedef {({link: string} | {code: string} | {file: Blob, name: string} | {how: string}) & {facts?: [string, string][]}} Made */

/**
 * Slow preparation of a kind. `run` reports progress and rejects with a sentence for the user, or an empty one if
 * `stop` ended it.
 * @typedef {object} Work
 * @property {string} ask label of the button
 * @property {string} takes
 * @property {() => boolean} done for what is on screen
 * @property {(tell: (text: string) => void) => Promise<void>} run
 * @property {() => void} stop
 */

/** Recipient: someone without the file, someone who has it, a course's page, or paper. @typedef {"student" | "owner" | "course" | "print"} Whom */

/**
 * @typedef {object} Kind
 * @property {string} id
 * @property {Whom} whom it fits best
 * @property {string} title
 * @property {string} text what it is, in one sentence
 * @property {string} [save] what the button says that saves it
 * @property {() => boolean} offered
 * @property {Work} [work]
 * @property {(review: Review) => Promise<Made>} make
 * @property {(review: Review) => string} works where it does
 * @property {(review: Review) => string} reveals
 */

/** @type {Kind} */
const viewLink = {
  id: "view",
  whom: "owner",
  title: "Link to this view",
  text: "Opens the page on this view. It says which file it is about; whoever opens it drops that file.",
  offered: isPlaced,
  async make(review) {
    return { link: `${location.origin}${location.pathname}${location.search}#r=${await packReview(review)}` };
  },
  works: whereServed,
  reveals: (review) => `${contents(review)} Not the model${new URLSearchParams(location.search).has("demo") ? "; the demo comes with the page" : ""}.`,
};

/**
 * A review as a file.
 * @param {Review} review
 * @param {string} [student] whose model it is
 */
export function fileOf(review, student = "") {
  const file = new Blob([`${JSON.stringify(writeReview(review), null, 2)}\n`], { type: "application/json" });
  return { file, name: `${stemWith(student, review.file.name)} review.json` };
}

/**
 * @param {Store} store
 * @returns {Kind}
 */
const reviewFile = (store) => ({
  id: "file",
  whom: "owner",
  title: "Review file",
  text: "The review as JSON, to be kept beside the model. Drop it on the page to open it; gridproof check --review reads it.",
  save: "Save review",
  offered: () => true,
  make: async (review) => fileOf(review, store.state.student),
  works: () => "Wherever files can be sent.",
  reveals: (review) => `${contents(review)} Not the model.`,
});

/**
 * @param {Store} store
 * @param {Reader} reader
 * @returns {Kind}
 */
function carriedLink(store, reader) {
  const carrier = new Carrier();
  const carried = () => {
    const [{ subject }, about] = [reader, store.state.model?.report?.file];
    return subject && about ? { subject, about, brief: store.state.brief } : null;
  };
  const encoded = () => {
    const now = carried();
    return now && carrier.encoded(now);
  };
  return {
    id: "carried",
    whom: "student",
    title: "Link with the model inside",
    text: "Holds the model itself, as small as it can be without changing its report: whoever opens it needs no file.",
    offered: isPlaced,
    work: {
      ask: "Make the link",
      takes: "Takes a dozen times as long as measuring the model did: coordinates are rounded as far as the report stays the same.",
      done: () => encoded() !== null,
      async run(tell) {
        const now = carried();
        if (!now) throw new Error("There is no measured model.");
        tell("Reading and measuring the model …");
        await carrier.encode(now, (ms) => tell(`Measuring took ${three(ms / 1000)} s; looking for the coarsest coordinates takes a dozen times that …`));
      },
      stop: () => carrier.leave(),
    },
    async make(review) {
      const [now, triangles] = [encoded(), store.state.model?.summary.counts.triangles ?? 0];
      if (!now) throw new Error("The model has changed; make the link again.");
      const { bytes: size, steps } = now;
      return {
        link: `${location.origin}${location.pathname}${CARRIED}${await carrier.link(writeReview(review))}`,
        facts: [
          ["Model", `${bytes(size)}, ${fixed(size / triangles)} bytes a triangle`],
          [
            "Exact to",
            steps
              ? `${steps.position.toPrecision(1)} units, uvs ${steps.uv.toPrecision(1)}: with these steps the report is the file’s, measured ${counted(steps.proofs, "time")}`
              : "what it was in the link it came with",
          ],
        ],
      };
    },
    works: whereServed,
    reveals: (review) => `The whole model, with the names in it. ${contents(review)}`,
  };
}

/**
 * @param {() => Fetched | null} fetched location of the model on screen
 * @returns {Kind}
 */
function placedLink(fetched) {
  return {
    id: "placed",
    whom: "course",
    title: "Link to a hosted model",
    text: "Names the place from which the page fetches the model: whoever opens it needs no file, and the link stays short.",
    offered: isPlaced,
    async make(review) {
      const from = fetched();
      return from
        ? { link: await placedAddress(from, review) }
        : { how: "Put the file beside the page on its server and open it there by ?src=its-name.obj; this dialog then has the link." };
    },
    works: () => (fetched() ? whereServed() : ""),
    reveals: (review) => `Where the model lies, also to the server, and so the model to whoever may fetch it. ${contents(review)}`,
  };
}

/**
 * @param {Fetched} from
 * @param {Review} review
 */
async function placedAddress({ src }, review) {
  const search = new URLSearchParams({ src, sha256: review.file.sha256 });
  return `${location.origin}${location.pathname}?${search.toString().replaceAll("%2F", "/")}#r=${await packReview(review)}`;
}

/**
 * @param {() => Fetched | null} fetched location of the model on screen
 * @returns {Kind}
 */
function frame(fetched) {
  const quoted = (/** @type {string} */ text) => text.replaceAll("&", "&amp;").replaceAll('"', "&quot;");
  return {
    id: "frame",
    whom: "course",
    title: "Frame in a page",
    text: "HTML to put into a page of the course: the hosted model with its review is shown there, inside a frame.",
    offered: isPlaced,
    async make(review) {
      const from = fetched();
      if (!from) return { how: "This needs the model on a server, too, and opened from there." };
      return {
        code: `<iframe src="${quoted(await placedAddress(from, review))}" title="${quoted(review.file.name)}" width="100%" height="640" loading="lazy" allow="clipboard-write"></iframe>`,
      };
    },
    works: () => (fetched() ? whereServed() || "Pages in which frames of this site are allowed." : ""),
    reveals: (review) => `What the link to a hosted model does. ${contents(review)}`,
  };
}

/**
 * The report, as in the save dialog.
 * @param {Store} store
 * @param {Reader} reader
 * @returns {Kind}
 */
function printedReport(store, reader) {
  /** @type {{report: object, file: Blob} | null} */
  let made = null;
  const blob = () => (made && made.report === store.state.model?.report ? made.file : null);
  return {
    id: "report",
    whom: "print",
    title: "Report",
    text: "One HTML page with the verdict, all findings, notes and pictures. Open it and print it.",
    save: "Save report",
    offered: () => true,
    work: {
      ask: "Make the report",
      takes: "Reads the model again and draws its pictures, in this tab.",
      done: () => blob() !== null,
      async run(tell) {
        const report = store.state.model?.report;
        if (!report) throw new Error("There is no measured model.");
        tell("Making the report …");
        made = { report, file: await reader.save({ what: "report" }, (done, of) => tell(`Making the report: ${counted(done, "picture")} of ${of}`)) };
      },
      stop: () => reader.leaveSaving(),
    },
    async make(review) {
      const file = blob();
      if (!file) throw new Error("The model has changed; make the report again.");
      return { file, name: `${stemWith(store.state.student, review.file.name)} report.html` };
    },
    works: () => "Every browser; prints on A4 and Letter.",
    reveals: () => "The file’s name, what was measured of it, pictures of it, all notes and decisions. Not the model.",
  };
}

/**
 * @param {Store} store
 * @param {Reader} reader
 * @param {Engine} engine
 * @returns {Kind}
 */
function reviewPageFile(store, reader, engine) {
  /** @type {{which: Which, page: Page} | null} */
  let packed = null;
  let stop = () => {};
  const page = () => {
    const { subject } = reader;
    return packed && packed.which.modelId === subject?.modelId && packed.which.revision === subject.revision ? packed.page : null;
  };
  return {
    id: "page",
    whom: "student",
    title: "Review page",
    text: "One HTML file with this page, the model and the review in it: it opens by a double click, without server or connection.",
    save: "Save page",
    offered: () => true,
    work: {
      ask: "Make the page",
      takes: "Packs this page’s own files and the model into one, in this tab.",
      done: () => page() !== null,
      async run(tell) {
        const { subject } = reader;
        const name = store.state.model?.name;
        if (!subject || name === undefined) throw new Error("There is no measured model.");
        tell("Packing …");
        packed = await new Promise((done, failed) => {
          stop = () => failed(new Error());
          packPage(engine, subject, name).then((page) => done({ which: subject, page }), failed);
        });
      },
      stop: () => stop(),
    },
    async make(review) {
      const made = page();
      if (!made) throw new Error("The model has changed; make the page again.");
      return { file: reviewPage(made, writeReview(review)), name: `${stemWith(store.state.student, review.file.name)} review.html` };
    },
    works: () => "Current browsers on computers. Many mail programs and chats hold HTML files back: send it in a zip, or from a shared folder.",
    reveals: (review) => `The whole model, as it is in its file. ${contents(review)}`,
  };
}

/**
 * @param {Store} store
 * @param {Reader} reader
 * @param {Engine} engine
 * @param {() => Fetched | null} fetched
 */
export function shareKinds(store, reader, engine, fetched) {
  const ofFile = [viewLink, reviewPageFile(store, reader, engine), carriedLink(store, reader), placedLink(fetched), frame(fetched), reviewFile(store)];
  return [...ofFile.map((kind) => withoutPlan(kind, reader)), printedReport(store, reader)];
}

/**
 * A kind that names or contains the file, and so cannot include edits: it says so instead.
 * @param {Kind} kind
 * @param {Reader} reader
 * @returns {Kind}
 */
function withoutPlan(kind, reader) {
  const isEdited = () => (reader.subject?.plan ?? null) !== null;
  const { work } = kind;
  return {
    ...kind,
    ...(work && { work: { ...work, done: () => isEdited() || work.done() } }),
    make: async (review) => (isEdited() ? { how: NO_PLAN } : kind.make(review)),
    works: (review) => (isEdited() ? "" : kind.works(review)),
    reveals: (review) => (isEdited() ? "Nothing." : kind.reveals(review)),
  };
}

function whereServed() {
  return isLocal() ? "On this computer only: the page is served from it." : "";
}

/** Whether the page's address works for others. */
function isPlaced() {
  return location.protocol !== "file:";
}

/** Whether the page is served from localhost (RFC 6761 section 6.3). */
function isLocal() {
  return /^(localhost|.*\.localhost|127(\.\d+){3}|\[::1\])$/.test(location.hostname);
}

/**
 * What a review reveals to its recipient.
 * @param {Review} review
 */
function contents({ sender, since, camera, finding, note, brief, grid, notes, decisions }) {
  const parts = [
    "the file’s name, size and SHA-256",
    sender !== "" && "your name",
    since && "what was fixed since the upload before",
    "the lens",
    camera && "where the model is looked at from",
    finding !== null && "the chosen finding",
    note !== null && "the chosen note",
    Object.keys(brief).length > 0 && "the brief",
    grid.words !== "" && "your words across the sheet",
    notes.length > 0 && `${counted(notes.length, "note")} with ${notes.length === 1 ? "its place" : "their places"}`,
    decisions.length > 0 && counted(decisions.length, "decision"),
    decisions.some(({ kind }) => kind === "intended") && "why things are intended",
  ].filter(Boolean);
  return `${parts.slice(0, -1).join(", ")} and ${parts.at(-1)}.`.replace(/^t/, "T");
}
