/**
 * Types of everything that crosses a boundary of the page: the wasm module's API, and the messages between page and
 * workers. Types only; importing this file runs nothing.
 *
 * The module is compiled once, on the page, and instantiated there (`View`: cameras) and in workers: one that draws (`Painter`),
 * one that reads, measures and probes (`Session`), and one that paints a grid to save (`GridStrips`). Numbers
 * travel as typed arrays, transferred, never copied: from the page on to the painter, too, so that a model's arrays are
 * empty on the page once they are drawn with WebGL2 (all but its outlines).
 *
 * One worker serves one model. The page stops a worker by terminating it, so no message means "cancel".
 *
 * The worker gives the model an id when it opens it, and each layout of it a revision, which rises with each step (apply, undo,
 * redo). Every message about a model names both. The page drops answers about another model or an older layout, and
 * asks again; the worker refuses a step for another layout than the current one.
 *
 *     page → worker    open         once: the compiled module, where the model comes from and what was changed on it, the brief
 *                      brief        any number, at any time after open: another brief to judge by
 *                     review       any number: decisions and notes, for the report
 *                     step         any number: other uvs, undo or redo
 *                      probe        any number: a ray in the 3D view or a place on the sheet
 *                     ask          any number: where notes are, which points are hidden, a comparison with a previous
 *                                   version's findings
 *     worker → page    opened       first: the model's id
 *                      progress     while reading, at most every 50 ms
 *                     stage        the name of the current stage
 *                      carried      once for a link, before mesh: its file, and the review that came with it
 *                      mesh         once: buffers to draw, counts and warnings
 *                     uvs          after each step: the uvs and what is drawn of them; positions are not sent again
 *                     stepped      to each step, after uvs: whether it was applied
 *                      measured     after each measuring stage, and under another brief: what the lenses show
 *                      report       last, once for the file and after each brief, review or step, or after the last of several:
 *                                   findings, verdict, shells
 *                      probed       the answer to each probe, in order
 *                      answer       to each ask
 *                      failed       at most once, instead of all that would follow
 *
 * Ending a worker stops it at once and frees its memory. Large arrays go straight into GPU buffers and never pass the
 * page's own wasm memory.
 */

// The module's API; its types are generated from its sources when it is built (`gridproof site`).
/** @import * as module from "../../wasm/gridproof.js" */
/** @typedef {typeof module} Engine the wasm module's JavaScript side */
/** @typedef {module.Session} Session one model in the worker; where the file cannot be read, methods throw a {@link Failure} */
/** @typedef {module.Digest} Digest */
/** @typedef {module.MeshBuffers} MeshBuffers */
/** @typedef {module.LineBuffers} LineBuffers */
/** @typedef {module.Look} Look */
/** @typedef {module.PatternInks} PatternInks */
/** @typedef {module.UvBuffers} UvBuffers */
/** @typedef {module.Followed} Followed */
/** @typedef {module.Summary} Summary */
/** @typedef {module.Diagnostic} Warning */
/** @typedef {module.Probe} Probe */
/** @typedef {module.Areas} Areas share of the surface, 0..1, of each kind */
/** @typedef {module.Histogram} Histogram */
/** @typedef {module.AboutFile} AboutFile */
/** @typedef {module.LensName} LensName */
/** @typedef {module.Report} Report `gridproof-report/2` */
/** @typedef {module.Cause} Cause */
/** @typedef {module.ToReady} ToReady */
/** @typedef {module.Finding} Finding */
/** @typedef {module.FindingKind} FindingKind */
/** @typedef {module.FailureCode | module.LinkFailureCode} ModuleFailure why the module refuses a file or a link */
/** @typedef {module.FindingPlace} FindingPlace */
/** @typedef {module.Severity} Severity */
/** @typedef {module.Figure} Figure */
/** @typedef {module.GapRow} Gap */
/** @typedef {module.Spot} Spot the compared parts of a finding */
/** @typedef {module.Version} Version */
/** @typedef {module.Comparison} Comparison places in the reports' lists of findings */
/** @typedef {module.Brief} Brief as a plain object; whatever is absent has its default */
/** @typedef {{[S in keyof Brief]-?: Required<NonNullable<Brief[S]>>}} WholeBrief */

/**
 * A key of the brief, as a form shows it.
 * @typedef {object} BriefKey
 * @property {string} key
 * @property {string} text what it means
 * @property {"whole" | "number" | "share" | "choice" | "names" | "factors"} kind
 * @property {number} [min]
 * @property {boolean} [over] whether `min` itself is too little
 * @property {number} [max]
 * @property {boolean} [absent] whether it may be left out
 * @property {number} [of_larger_side] default if it is left out, as a share of the map's larger side
 * @property {[string, string][]} [choices] value and words
 */

/**
 * `brief.json`, which is served beside the page. In a section without keys the keys are names of the model.
 * @typedef {object} BriefForm
 * @property {{section: string, text: string, keys: BriefKey[]}[]} sections
 * @property {WholeBrief} defaults
 * @property {{name: string, title: string, brief: Brief}[]} presets
 */

/** @typedef {"free" | typeof Symbol.dispose} Owned what a class of the module has besides */

/**
 * The cameras of 3D view and sheet: the module's, or the drawn sheet's without WebGL2, which has no 3D camera.
 * @typedef {Omit<module.View, Owned | "camera"> & {camera: () => Partial<module.ViewCamera>}} View
 */

/**
 * The setters of the view: the module's, drawn with WebGL2, or the drawn sheet's, which takes pictures as bitmaps.
 * @typedef {Pick<module.Painter, "set_theme" | "set_grid" | "set_tiles" | "set_measuring" | "set_lens" | "set_flags" | "set_leaning"
 *   | "set_isolate" | "set_selected" | "set_partner" | "set_hover" | "set_looks" | "lose_context" | "restore_context">
 *   & {set_picture: (number: number, width: number, height: number, pixels: Uint8Array | ImageBitmap) => void}} Shown
 */

/** What draws it. @typedef {Pick<module.Painter, "set_model" | "set_uvs" | "set_triangles" | "set_lines" | "clear_model" | "frame" | "frames_drawn">} Drawn */

/** The module's, on a canvas with WebGL2. @typedef {module.Painter} Painter */

/**
 * Orders to the painter: bring (parts of) a model with this id, show it (or none), keep these models and release the
 * others, or call a setter.
 * @typedef {{to: "bring", id: number, mesh?: MeshBuffers, uv?: Float32Array, triangles?: Uint32Array, lines?: LineBuffers}
 *   | {to: "show", id: number | null}
 *   | {to: "keep", ids: number[]}
 *   | {[name in keyof Shown]: {to: name, values: Parameters<Shown[name]>}}[keyof Shown]} Order
 */

/** Orders, and from where everything is seen since them; `turn` counts them. @typedef {{type: "sight", turn: number, orders: Order[], sight: Float64Array}} SightMessage */
/** @typedef {{type: "canvas", canvas: OffscreenCanvas, attributes: WebGLContextAttributes} | {type: "engine", module: WebAssembly.Module} | SightMessage} ToPainting */
/**
 * `context`: whether there is WebGL2, first of all, and the longest side of a texture, px. `drawn`: which orders
 * are done; busy while there is more to bring or to draw.
 * @typedef {{type: "context", has: boolean, mostTexturePx: number} | {type: "drawn", turn: number, frames: number, isBusy: boolean, hasGrid: boolean}
 *   | {type: "lost"} | {type: "restored"} | {type: "failed", message: string}} FromPainting
 */

/** What was made of a picture's file. @typedef {{width: number, height: number, from: [number, number], pixels: Uint8Array | ImageBitmap}} Decoded */

/**
 * Why a file could not be read or measured. `code` is stable; `message` is a sentence for the user.
 * `line` is 0 or null where it is about the whole file; `warnings` came before it.
 * @typedef {{code: string, message: string, line: number | null, warnings?: Warning[]}} Failure
 */

/** @typedef {{stretch: Histogram | undefined, density: Histogram | undefined, seams: Histogram | undefined}} Histograms the last by length, the others by area */

/** Which model, and which layout of it. @typedef {{modelId: number, revision: number}} Which */
/** New uvs of some corners, u and v of each; a corner is counted as the file's faces name them. @typedef {{corners: Uint32Array, uvs: Float64Array}} Edit */
/** What was changed on a model since it was read: edits in the order in which they were applied; null for nothing. @typedef {readonly Edit[] | null} Plan */
/**
 * Subject of reports, links, review pages and versions: a model's source and its edits.
 * @typedef {{source: Source, plan: Plan}} Subject
 */
/** Source of a model: a file, or a link with the model inside (the text after `m=`). @typedef {{file: File, libraries?: readonly File[], own?: string | null} | {link: string}} Source `libraries`: those that came along; `own`: see `linkMaterials` */
/** `undone`: edits that can be taken again, the next first. @typedef {{type: "open", module: WebAssembly.Module, subject: Subject, undone: readonly Edit[], brief: Brief}} OpenMessage */
/** Warm-up, while there is nothing to open. @typedef {{type: "practise", module: WebAssembly.Module}} PractiseMessage */
/** @typedef {{type: "probe", ray: number[]} | {type: "probe", uv: number[]}} ProbeMessage */
/** @typedef {{type: "brief", brief: Brief}} BriefMessage */
/** @typedef {{type: "sheet", sheet: number}} SheetMessage by its place in the report's list */
/** @typedef {{do: "apply", edit: Edit} | {do: "undo"} | {do: "redo"}} Step */
/** @typedef {{type: "step", id: number, step: Step}} StepMessage */

/**
 * The parts of a review in a report, as `Session.set_review` takes them: text and shell of each note; face, x, y, z, u and
 * v of each, NaN for no u and v; finding and reason of each decision, null for one that is to fix.
 * @typedef {{notes: (string | null)[], places: Float64Array, decisions: (string | null)[]}} GivenReview
 */
/** Its revision is that of the report that it was written on. @typedef {{type: "review", review: GivenReview}} ReviewMessage */
/** @typedef {GivenReview & {sha256: string}} WrittenReview about the file of this SHA-256 */

/**
 * Places of notes on this model: exact in the file they were written on; otherwise the most likely ones. Or which
 * of some points are hidden from an eye. Or a comparison with the findings of a previous version.
 * @typedef {{what: "places", notes: import("./review.js").SavedNote[], exact: boolean} | {what: "hidden", eye: number[], points: Float64Array} | {what: "compare", previous: Version, newer: Version}} Ask
 */
/** @typedef {(Probe | null)[] | Uint8Array | Comparison | null} Answer in the order of what was asked about */

/** @typedef {{type: "ask", id: number, ask: Ask}} AskMessage */

/** @typedef {{width: number, height: number, cell: number, words: string, wordsPx: number}} GridAsked the map's size, the cells and the words of a grid */

/**
 * The sheet as SVG. `tile`: one of a UDIM map; null for all.
 * @typedef {object} SheetOrder
 * @property {"sheet"} what
 * @property {"svg" | "png"} as
 * @property {"none" | "grid" | "paper"} ground
 * @property {boolean} innerEdges
 * @property {boolean} flags
 * @property {boolean} names
 * @property {number | null} tile
 * @property {number} sheet by its place in the report's list
 * @property {GridAsked} grid
 * @property {number[][]} places where the grid goes on a PNG: left and top, px
 */

/**
 * The 3D view as PNG. `scene` is null without a 3D view: then it is the whole model, drawn on the CPU.
 * `ratio`: px of the picture per CSS px.
 * @typedef {object} StageOrder
 * @property {"stage"} what
 * @property {number} width
 * @property {number} height
 * @property {string} lens
 * @property {boolean} flags
 * @property {number[]} chosen
 * @property {number} ratio
 * @property {Scene | null} scene
 */

/**
 * @typedef {object} Scene
 * @property {module.CameraAsked} camera as the view gave it
 * @property {string} up
 * @property {Record<string, number[]>} theme
 * @property {GridAsked} grid
 * @property {number[]} tiles
 * @property {boolean} leaning
 * @property {[number, number] | null} isolate
 * @property {number[]} partners
 * @property {{looks: Look[], ground: number, files: {number: number, file: File, most: number}[]}} pictures of the Picture lens
 */

/** @typedef {{what: "report"} | {what: "data"} | {what: "obj"} | SheetOrder | StageOrder} SaveOrder */
/** @typedef {{type: "save", id: number, order: SaveOrder} | {type: "leave", id: number}} SaveMessage `leave`: cancels it */
/** About the model that is open. @typedef {BriefMessage | SheetMessage | ReviewMessage | StepMessage | ProbeMessage | AskMessage | SaveMessage} AboutMessage */
/** @typedef {OpenMessage | PractiseMessage | (AboutMessage & Which)} ToWorker */

/** @typedef {{type: "opened"}} OpenedMessage */

/** @typedef {{type: "progress", bytes: number, total: number}} ProgressMessage */
/** @typedef {{type: "stage", name: string}} StageMessage */
/** @typedef {{type: "carried", file: AboutFile, review: Uint8Array}} CarriedMessage `review` is empty where none came */
/** @typedef {{type: "mesh", mesh: MeshBuffers, summary: Summary, triangles: Uint32Array, lines: LineBuffers, undo: number, redo: number}} MeshMessage `undo`, `redo`: as in `UvBuffers` */
/** @typedef {{type: "uvs", id: number, uvs: UvBuffers, counts: Pick<Summary["counts"], "shells" | "faces_without_uv">, triangles: Uint32Array, lines: LineBuffers} & Which} UvsMessage `id`: of the step */
/** @typedef {{type: "stepped", id: number, refusal: string}} SteppedMessage `refusal`: empty where the step was taken */
/** @typedef {{type: "measured", triangles: Uint32Array | null, histograms: Partial<Histograms>, lines: LineBuffers | null}} MeasuredMessage what changed of each; the histogram of seams comes with lines, the others with triangles */
/** @typedef {{type: "report", report: Report, shells: string[], areas: Areas, briefs: number, followed: Followed | null}} ReportMessage `briefs`: how many brief and review messages it takes account of; `followed`: the review, where it was about a former layout */
/** @typedef {{type: "probed", probe: Probe | null}} ProbedMessage */
/** @typedef {{type: "answer", id: number, answer: Answer}} AnswerMessage */
/** @typedef {{type: "saving", id: number, done: number, of: number} | {type: "saved", id: number, blob: Blob} | {type: "unsaved", id: number, message: string}} SavedMessage */
/** @typedef {{type: "failed", failure: Failure}} FailedMessage */
/** @typedef {(OpenedMessage | ProgressMessage | StageMessage | CarriedMessage | MeshMessage | UvsMessage | SteppedMessage | MeasuredMessage | ReportMessage | ProbedMessage | AnswerMessage | SavedMessage | FailedMessage) & Which} FromWorker */

/**
 * Another worker: it paints one grid at the map's full size and then ends.
 * @typedef {object} PaintMessage
 * @property {WebAssembly.Module} module
 * @property {GridAsked} grid
 */

/** @typedef {{type: "painted", rows: number, of: number} | {type: "picture", blob: Blob} | {type: "refused", message: string}} FromPainter */

/**
 * Another worker: it reads pictures, one after another. `most`: px of the longer side; `asBitmap`: not pixels.
 * @typedef {{id: number, file: File, most: number, asBitmap: boolean}} ToDecoder
 */
/** @typedef {{type: "decoded", id: number, decoded: Decoded} | {type: "failed", id: number}} FromDecoder */

/**
 * Another worker: links with the model inside. It encodes one model, and then adds reviews to it.
 * @typedef {{type: "encode", subject: Subject & Which, about: AboutFile, brief: Brief} | {type: "link", id: number, review: string}} ToCarrier
 */
/**
 * `measured`: duration of measuring once, ms. `encoded`: steps in model units and uv, null if the model is unchanged from
 * a link.
 * @typedef {{type: "measured", ms: number} | {type: "encoded", bytes: number, steps: {position: number, uv: number, proofs: number} | null}
 *   | {type: "linked", id: number, link: string} | {type: "failed", id: number | null, message: string}} FromCarrier
 */

/**
 * A file inside a zip: its path there, bytes unpacked, place in the zip's directory; `failure` where it will not be inflated.
 * @typedef {{path: string, bytes: number, index: number, failure: Failure | null}} ZippedFile
 */
/** @typedef {{files: ZippedFile[], others: ZippedFile[]}} ZipListing `files`: models, and zips inside */
/** @typedef {{zip: File, key: number, index: number}} ZipPlace `key` identifies a zip, since a file sent to a worker is another object */

/**
 * Another worker: zips. Answers have the order's number.
 * @typedef {{type: "list", id: number, zip: File, key: number} | {type: "take", id: number} & ZipPlace | {type: "add", id: number, to: number, name: string, blob: Blob} | {type: "close", id: number, to: number}} ToZip `to` tells new zips apart
 */
/** @typedef {{type: "listed", id: number, listing: ZipListing} | {type: "blob", id: number, blob: Blob} | {type: "added", id: number} | {type: "failed", id: number, failure: Failure}} FromZip */

/**
 * A file of a class, by itself or in a zip. `path` begins with the dropped folder; `name` is its last part;
 * `upload` describes a file that is not a model. `libraries` are beside it; `own`: see `linkMaterials`.
 * @typedef {{path: string, name: string, bytes: number, failure: Failure | null, upload?: string, libraries?: ClassSource[], own?: string | null} & ({file: File} | ZipPlace)} ClassSource
 */

/**
 * The parts of a finding for a row: severity, data for matching two uploads, and title. `severity` is the cause's if the
 * finding follows from it.
 * @typedef {Spot & {title: string}} ClassFinding
 */

/**
 * The parts of a report in a row of the table.
 * @typedef {object} ClassResult
 * @property {Report["verdict"]} verdict
 * @property {ClassFinding[]} findings worst first, without those that are intended
 * @property {number} intended number of intended ones
 * @property {[number[], number[]] | null} bounds of the model
 * @property {{title: string, number: Figure, limit: Figure | null} | null} worst
 * @property {Cause | null} cause
 * @property {ToReady} toReady
 * @property {Report["sheets"] | null} sheets where pictures beside the model decided them
 * @property {(number | boolean | null)[]} numbers in the order of `NUMBERS` in findings/table.js
 */

/**
 * Workers of a class, one model at a time in each. An order is answered by what it asks for, or by `failed`. A `row` is sent
 * as soon as the verdict is final, which seldom needs the seams; `whole`: with them. `pictured`: a `picture` follows. Of
 * `seams` only their numbers are valid. A `report` needs the second module, and is `whole`. `heavy`: the worker uses so much
 * memory that it should be replaced. `written`: notes and decisions on files of this size; which file it is is only known
 * once it is read.
 * @typedef {{what: "row" | "seams" | "report", id: number, source: ClassSource, plan: Plan, brief: Brief, whole: boolean, pictured: boolean, written: WrittenReview[]}} ClassOrder
 */
/**
 * `early`: no order follows at once. `pixelRatio`: device px a CSS px, for pictures, 1 to 2.
 * @typedef {{type: "start", module: WebAssembly.Module, reports: boolean, early: boolean, pixelRatio: number} | {type: "order"} & ClassOrder} ToClass
 */
/**
 * `sha256`: of the file, if it was read completely; otherwise empty.
 * @typedef {{type: "row" | "seams", id: number, result: ClassResult, isWhole: boolean, sha256: string} | {type: "picture", id: number, image: ImageData}
 *   | {type: "report", id: number, blob: Blob} | {type: "failed", id: number, failure: Failure}
 *   | {type: "done", id: number, heavy: boolean}} FromClass
 */

export {};
