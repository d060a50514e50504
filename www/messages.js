/**
 * Every shape that crosses a border of the page: what the wasm module offers, and what page and worker say to each
 * other. Types only; importing this file runs nothing.
 *
 * The module is compiled once, on the page, and instantiated there (`View`: drawing) and in workers: one that reads,
 * measures and probes (`Session`), and now and then one that paints a grid to save (`GridStrips`). Numbers travel as
 * typed arrays, transferred, never copied.
 *
 * One worker serves one model. The page stops a worker by terminating it, so no message means "cancel".
 *
 *     page → worker    open         once: the compiled module, the file, the brief
 *                      probe        any number: a ray through the stage or a spot on the sheet
 *     worker → page    progress     while reading, at most every 50 ms
 *                      stage        the name of what is being done now
 *                      mesh         once: buffers to draw, counts and warnings
 *                      measured     after each measuring stage: what the lenses show
 *                      report       once, last: findings, verdict, shells
 *                      probed       the answer to each probe, in order
 *                      failed       at most once, instead of all that would follow
 */

/**
 * The model's triangles as the view draws them, corners unshared.
 * @typedef {object} MeshBuffers
 * @property {number} triangle_count
 * @property {Float32Array} position 9 a triangle; file coordinates minus `centre`
 * @property {Float32Array} uv 6 a triangle; 0 where unmapped
 * @property {Int8Array} normal 12 a triangle: x, y, z, 0 per corner, times 127
 * @property {[number, number, number]} centre
 * @property {number} radius of the bounding sphere, model units
 * @property {[number, number, number, number]} bounds_uv u0, v0, u1, v1
 * @property {string} up
 */

/**
 * Outlines of shells, as segments.
 * @typedef {object} LineBuffers
 * @property {Float32Array} stage x y z, x y z a segment, minus the mesh's centre
 * @property {Float32Array} sheet u v, u v a segment
 * @property {Uint32Array} sheet_shell shell of each sheet segment
 * @property {Uint32Array} stage_shell two a segment: the shells on either side
 */

/**
 * What lies under a spot.
 * @typedef {object} Probe
 * @property {number} triangle
 * @property {number | null} shell null where the surface has no uv
 * @property {string | null} shell_label
 * @property {string} part_label
 * @property {number | null} u
 * @property {number | null} v
 * @property {[number, number, number]} point minus the mesh's centre
 * @property {number | null} anisotropy
 * @property {number | null} direction_deg of most stretch on the sheet, from texture-right, 0..180
 * @property {number | null} density px per unit
 * @property {boolean} reversed
 * @property {boolean} turned_over
 * @property {boolean} folded
 * @property {number | null} tilt_deg
 * @property {{shell: number, label: string, kind: string}[]} shares
 */

/** @typedef {{line: number, kind: string, message: string}} Warning `line` is 0 where it is about the whole file */

/**
 * @typedef {object} Counts
 * @property {number} positions
 * @property {number} texcoords
 * @property {number} normals
 * @property {number} faces
 * @property {number} triangles
 * @property {number} objects
 * @property {number} groups
 * @property {number} materials
 * @property {number} faces_without_uv
 * @property {number} shells
 */

/**
 * @typedef {object} Summary
 * @property {string} [file_name]
 * @property {Counts} counts
 * @property {Warning[]} warnings the first ones, in file order
 * @property {Record<string, number>} warning_counts all of them, by kind
 * @property {[number[], number[]]} bounds
 */

/**
 * How much surface has which value; shares are of the surface area.
 * @typedef {object} Histogram
 * @property {number} lo
 * @property {number} hi
 * @property {boolean} log whether bins are even in the logarithm
 * @property {ArrayLike<number>} counts
 * @property {ArrayLike<number>} limits the brief's, in the same unit as lo and hi
 */

/** @typedef {{eye: number[], target: number[], radius: number}} Camera in a finding: the file's coordinates; for the view: minus the mesh's centre */
/** @typedef {"stop" | "look" | "note"} Severity */
/** @typedef {"grid" | "stretch" | "size" | "handedness" | "sharing"} LensName */

/**
 * @typedef {object} Finding
 * @property {string} id stable for the same model: kind and shell
 * @property {string} kind
 * @property {Severity} severity
 * @property {string} title
 * @property {string} where
 * @property {{value: number | null, unit: string, text: string}} number
 * @property {{value: number | null, text: string} | null} limit
 * @property {string} advice
 * @property {number[]} shells
 * @property {string} lens
 * @property {Camera | null} camera
 * @property {[number, number, number, number] | null} region_uv
 */

/** @typedef {{id: number, label: string, faces: number}} ShellInfo */
/** @typedef {{a: number, b: number, kind: string, area_share_a: number, area_share_b: number}} SharingEntry */

/**
 * `gridproof-report/1`; only the keys the page reads are spelled out.
 * @typedef {object} Report
 * @property {{name: string, bytes: number, sha256: string}} file
 * @property {string} schema
 * @property {"ready" | "look" | "not ready"} verdict
 * @property {Finding[]} findings
 * @property {Record<string, number | null>} counts
 * @property {Record<string, number | null>} stretch
 * @property {Record<string, number | null>} density
 * @property {Record<string, number | null>} handedness
 * @property {Record<string, any>} sheet
 * @property {SharingEntry[]} sharing
 * @property {Record<string, any>[]} shells
 */

/**
 * The brief as a plain object; whatever is absent has its default.
 * @typedef {object} Brief
 * @property {{width_px?: number, height_px?: number, tiles?: string, unit?: string}} [map]
 * @property {{target_px_per_unit?: number | null, tolerance_percent?: number}} [density]
 * @property {{max_anisotropy?: number, max_share_over?: number}} [stretch]
 * @property {{mirrored?: string, stacked?: string, crossing?: string}} [sharing]
 * @property {{min_share?: number}} [coverage]
 */

/**
 * One model in the worker. Methods throw a {@link Failure} where the file cannot be read.
 * @typedef {object} Session
 * @property {(chunk: Uint8Array) => void} feed
 * @property {() => void} finish
 * @property {() => Summary} summary
 * @property {() => MeshBuffers} mesh
 * @property {(stage: number) => string | undefined} measure runs one stage; names the next, undefined when done
 * @property {() => Uint32Array} triangles
 * @property {() => LineBuffers} lines
 * @property {(name: string, bytes: number, sha256: string) => void} set_file for the report
 * @property {() => Report} report
 * @property {() => ShellInfo[]} shells by id; once there is a report
 * @property {(lens: string) => Histogram | undefined} histogram
 * @property {(ox: number, oy: number, oz: number, dx: number, dy: number, dz: number) => Probe | undefined} probe_ray
 * @property {(u: number, v: number) => Probe | undefined} probe_uv
 * @property {(ground: string, inner_edges: boolean, flags: boolean, names: boolean, tile?: number) => string} sheet_svg `ground`: none, paper, or the grid's data URL
 * @property {(width: number, height: number, camera: Float64Array, lens: string, flags: boolean, lit: Uint32Array) => Uint8Array} stage_picture RGBA, drawn on the processor
 * @property {() => {width: number, height: number}[]} pictures_wanted by the report's page
 * @property {(index: number) => Uint8Array} wanted_picture RGBA
 * @property {(images: string[]) => string} report_html
 * @property {() => void} free
 */

/**
 * SHA-256 by pieces; `finish` uses it up.
 * @typedef {object} Digest
 * @property {(chunk: Uint8Array) => void} update
 * @property {() => string} finish
 */

/**
 * The grid's pixels from the top, RGBA, a strip of rows at a time; empty after the last.
 * @typedef {object} GridStrips
 * @property {(rows: number) => Uint8Array} next
 * @property {() => void} free
 */

/**
 * What stage and sheet are drawn with: the WebGL2 view of the wasm module, or the plain drawn sheet where there is no
 * WebGL2. Lengths are device px of the canvas, from its top left.
 * @typedef {object} View
 * @property {(theme: Record<string, number[]>) => void} set_theme
 * @property {(map_width: number, map_height: number, cell_px: number, words: string, words_px: number) => void} set_grid
 * @property {(numbers: Uint32Array) => void} set_tiles UDIM numbers of the map's tiles
 * @property {(mesh: MeshBuffers) => void} set_model
 * @property {(data: Uint32Array) => void} set_triangles
 * @property {(lines: LineBuffers) => void} set_lines
 * @property {() => void} clear_model
 * @property {(name: string) => void} set_lens
 * @property {(limits: {max_anisotropy: number, octave_tolerance: number}) => void} set_limits
 * @property {(on: boolean) => void} set_flags
 * @property {(lo: number, hi: number) => void} set_isolate
 * @property {(shells: Uint32Array) => void} set_selected
 * @property {(shells: Uint32Array) => void} set_partner
 * @property {(triangle: number, x: number, y: number, z: number, u: number, v: number) => void} set_hover
 * @property {(width: number, height: number, stage: Float64Array, sheet: Float64Array | null) => void} set_layout
 * @property {(sides: Float64Array, milliseconds: number, now: number) => void} set_covers left, top, right, bottom of each thing that lies over the canvas
 * @property {(dx: number, dy: number) => void} orbit
 * @property {(dx: number, dy: number) => void} pan
 * @property {(factor: number, x: number, y: number) => void} zoom above 1 comes closer
 * @property {() => void} fit
 * @property {(axis: string) => void} set_up
 * @property {(camera: object, milliseconds: number, now: number) => void} fly_to
 * @property {() => object} camera
 * @property {(dx: number, dy: number) => void} sheet_pan
 * @property {(factor: number, x: number, y: number) => void} sheet_zoom
 * @property {() => void} sheet_fit
 * @property {(u0: number, v0: number, u1: number, v1: number, milliseconds: number, now: number) => void} sheet_show
 * @property {(x: number, y: number) => ArrayLike<number>} ray_at
 * @property {(x: number, y: number) => Float64Array | number[]} uv_at
 * @property {() => number} units_per_pixel
 * @property {(now: number) => boolean} frame
 * @property {() => boolean} is_busy whether another size of the canvas would have to wait
 * @property {() => boolean} shows_grid whether the whole model is drawn with its grid
 * @property {() => number} frames_drawn
 * @property {() => void} lose_context
 * @property {() => void} restore_context
 * @property {() => void} context_restored
 */

/** @typedef {View & {set_camera: (camera: object) => void, free: () => void}} RenderedView the module's own, which can also draw unseen */

/**
 * @typedef {object} Engine the wasm module's JavaScript side
 * @property {(options: {module_or_path: WebAssembly.Module}) => Promise<{memory: WebAssembly.Memory}>} default
 * @property {{new (total_bytes: number, brief: object): Session, first_stage: () => string}} Session
 * @property {new () => Digest} Digest
 * @property {new (canvas: HTMLCanvasElement | OffscreenCanvas) => RenderedView} View
 * @property {(lens: string) => Uint8Array} lens_scale 256 RGB triples
 * @property {(lens: string) => Float64Array | undefined} lens_range the lens's own values at the ends of its scale
 * @property {(lens: string, values: Float32Array) => Float32Array} lens_positions places on the scale, 0..1; NaN for none
 * @property {(width: number, height: number, covers: Float64Array, wide: number, high: number) => Float64Array} clear_area middle (from the place's) and size of the roomiest clear area
 * @property {(map_width: number, map_height: number, cell_px: number, u: number, v: number) => Uint32Array | undefined} cell_at column, row
 * @property {(text: string) => string} missing_glyphs characters that the grid's face cannot set
 * @property {(map_width: number, map_height: number, cell_px: number, words: string, words_px: number) => string | undefined} grid_trouble why this grid cannot be made
 * @property {new (map_width: number, map_height: number, cell_px: number, words: string, words_px: number, texture?: Uint32Array) => GridStrips} GridStrips
 */

/**
 * Why a file could not be read or measured. `code` is stable; `message` is a sentence for the person.
 * `line` is 0 or null where it is about the whole file; `warnings` are what led there.
 * @typedef {{code: string, message: string, line: number | null, warnings?: Warning[]}} Failure
 */

/** @typedef {{stretch: Histogram | undefined, size: Histogram | undefined}} Histograms */

/** @typedef {{type: "open", module: WebAssembly.Module, file: File, brief: Brief}} OpenMessage */
/** @typedef {{type: "probe", ray: number[]} | {type: "probe", uv: number[]}} ProbeMessage */

/** @typedef {{width: number, height: number, cell: number, words: string, wordsPx: number}} GridAsked the map's size, the cells and the words of a grid */

/**
 * The sheet as SVG. `tile`: one of a map of many; null for all.
 * @typedef {object} SheetOrder
 * @property {"sheet"} what
 * @property {"none" | "grid" | "paper"} ground
 * @property {boolean} innerEdges
 * @property {boolean} flags
 * @property {boolean} names
 * @property {number | null} tile
 * @property {GridAsked} grid
 */

/**
 * The sheet as PNG: what the page drew of the SVG, from the top, and the grid that goes below it, at `places` (left, top).
 * @typedef {object} PixelsOrder
 * @property {"pixels"} what
 * @property {number} width
 * @property {number} height
 * @property {ImageBitmap[]} strips
 * @property {GridAsked | null} grid
 * @property {number[][]} places
 */

/**
 * The stage as PNG. `scene` is null where the page draws no stage: then it is the whole model, drawn on the processor.
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
 * @property {object} camera as the view gave it
 * @property {string} up
 * @property {Record<string, number[]>} theme
 * @property {GridAsked} grid
 * @property {number[]} tiles
 * @property {{max_anisotropy: number, octave_tolerance: number}} limits
 * @property {[number, number] | null} isolate
 * @property {number[]} partners
 */

/** @typedef {{what: "report"} | {what: "data"} | SheetOrder | PixelsOrder | StageOrder} SaveOrder */
/** @typedef {{type: "save", id: number, order: SaveOrder} | {type: "leave", id: number}} SaveMessage `leave`: nobody waits for it any more */
/** @typedef {OpenMessage | ProbeMessage | SaveMessage} ToWorker */

/** @typedef {{type: "progress", bytes: number, total: number}} ProgressMessage */
/** @typedef {{type: "stage", name: string}} StageMessage */
/** @typedef {{type: "mesh", mesh: MeshBuffers, summary: Summary, triangles: Uint32Array, lines: LineBuffers}} MeshMessage */
/** @typedef {{type: "measured", triangles: Uint32Array, histograms: Histograms}} MeasuredMessage */
/** @typedef {{type: "report", report: Report, shells: ShellInfo[]}} ReportMessage */
/** @typedef {{type: "probed", probe: Probe | null}} ProbedMessage */
/** @typedef {{type: "saving", id: number, done: number, of: number} | {type: "saved", id: number, blob: Blob} | {type: "unsaved", id: number, message: string}} SavedMessage */
/** @typedef {{type: "failed", failure: Failure}} FailedMessage */
/** @typedef {ProgressMessage | StageMessage | MeshMessage | MeasuredMessage | ReportMessage | ProbedMessage | SavedMessage | FailedMessage} FromWorker */

/**
 * Another worker, and other messages: it paints one grid at the map's full size and ends with it.
 * @typedef {object} PaintMessage
 * @property {WebAssembly.Module} module
 * @property {GridAsked} grid
 */

/** @typedef {{type: "painted", rows: number, of: number} | {type: "picture", blob: Blob} | {type: "refused", message: string}} FromPainter */

export {};
