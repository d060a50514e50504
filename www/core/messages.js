/**
 * Every shape that crosses a border of the page: what the wasm module offers, and what page and worker say to each
 * other. Types only; importing this file runs nothing.
 *
 * The module is compiled once, on the page, and instantiated there (`View`: cameras) and in workers: one that draws (`Painter`),
 * one that reads, measures and probes (`Session`), and now and then one that paints a grid to save (`GridStrips`). Numbers
 * travel as typed arrays, transferred, never copied: from the page on to the painter, too, so that a model's arrays are
 * empty on the page once they are drawn with WebGL2 (all but its outlines).
 *
 * One worker serves one model. The page stops a worker by terminating it, so no message means "cancel".
 *
 * The worker gives the model an id when it opens it, and each layout of it a revision, which rises with each step (apply, undo,
 * redo). Whatever is said about a model names both. The page drops answers that are about another model or an older layout, and
 * asks again; the worker refuses a step that was meant for another layout than there is.
 *
 *     page → worker    open         once: the compiled module, where the model comes from and what was changed on it, the brief
 *                      brief        any number, at any time after open: another brief to judge by
 *                      review       any number: what is decided and noted, for the report
 *                      step         any number: other uvs, or a step back or again
 *                      probe        any number: a ray through the stage or a spot on the sheet
 *                      ask          any number: where notes are, which points are hidden, what became of a previous
 *                                   version's findings
 *     worker → page    opened       first: the model's id
 *                      progress     while reading, at most every 50 ms
 *                      stage        the name of what is being done now
 *                      carried      once for a link, before mesh: its file, and the review that came with it
 *                      mesh         once: buffers to draw, counts and warnings
 *                      uvs          after each step: the uvs, and what is drawn of them; positions never come again
 *                      stepped      to each step, after uvs: whether it was taken
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
 * @property {Uint32Array} materials two a run of triangles: the first of them, and its material by `Summary.materials`, or 2³² − 1; before the first run there is none
 */

/**
 * Outlines of shells, as segments. A shell is the lower 24 bits. The byte above is 0 where the segment is no seam, or
 * nobody has looked at it yet; else its share in front in thirds (2 bits), and one more than its exposure in 62nds.
 * @typedef {object} LineBuffers
 * @property {Float32Array} stage x y z, x y z a segment, minus the mesh's centre
 * @property {Float32Array} sheet u v, u v a segment
 * @property {Uint32Array} sheet_shell shell of each sheet segment, and the byte
 * @property {[sheet: number, stage: number]} density length over the area that they lie on, uv and units of the model
 * @property {Uint32Array} stage_shell two a segment: the shells on either side, and the byte with the first
 */

/**
 * What lies under a spot.
 * @typedef {object} Probe
 * @property {number} triangle
 * @property {number} face from 0, in the file's order
 * @property {number} triangle_of_face from 0
 * @property {[number, number, number]} barycentric weights of that triangle's corners
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
 * @property {boolean} flipped
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
 * @property {string[]} names of objects, groups and materials, each once
 * @property {string[]} materials their names
 * @property {string[]} libraries that hold them, as the file names them
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
/** @typedef {"must-fix" | "look" | "info"} Severity */
/** @typedef {"grid" | "stretch" | "density" | "flipped" | "overlaps" | "seams" | "text" | "picture"} LensName */
/** @typedef {"ratio" | "share" | "px" | "px_per_unit" | "deg" | "count"} Unit */
/** @typedef {{value: number | null, unit: Unit, text: string}} Figure a number, and as a person reads it; null where it is none that JSON can hold */
/** @typedef {"+x" | "-x" | "+y" | "-y" | "+z" | "-z"} Axis */
/**
 * @typedef {"unmapped" | "flipped" | "folded" | "stretch" | "density" | "partial-overlap" | "self-overlap" | "mirrored" | "stacked" | "outside" | "collapsed" | "across-tiles" | "padding" | "border" | "coverage" | "inside-out" | "no-area" | "cut-short" | "left-out" | "tilt" | "seams" | "text" | "sheets"} FindingKind
 */

/**
 * @typedef {object} Finding
 * @property {string} id stable for the same model and brief: kind and lowest shell
 * @property {FindingKind} kind
 * @property {Severity} severity
 * @property {string} title
 * @property {string} where
 * @property {Figure} number
 * @property {Figure | null} limit
 * @property {string} advice
 * @property {number[]} shells
 * @property {number} triangles how many are concerned
 * @property {number | null} line of the first face concerned
 * @property {string} lens
 * @property {number | null} sheet the one it is about, by its place in `Report.sheets.list`
 * @property {Camera | null} camera
 * @property {[number, number, number, number] | null} region_uv
 * @property {number} harm share of the surface concerned, 0..1; the order within a severity
 * @property {boolean} follows_cause whether the report's cause speaks for it
 * @property {FindingPlace[]} places what each of many findings that are alike is about, worst first; empty for one by itself
 * @property {Decision | null} decision what a person decided about it
 */

/** @typedef {{name: string, number: Figure, share: number, shells: number[], camera: Camera | null, region_uv: [number, number, number, number] | null}} FindingPlace */

/**
 * What is the matter with the whole model, where it is one thing.
 * @typedef {{kind: "no-uvs" | "not-unwrapped" | "tiny-layout" | "all-flipped" | "repeating" | "palette" | "wrong-unit" | "projected", severity: Severity, sentence: string, share: number}} Cause
 */

/**
 * How far from ready, by surface; words as a person reads them: "layout only" where there is no surface at fault.
 * @typedef {{must_fix_share: number, look_share: number, must_fix_text: string, look_text: string, text: string}} ToReady
 */

/** @typedef {{kind: "intended", reason: string} | {kind: "to-fix"}} Decision a finding that is intended does not count in the verdict */
/** @typedef {{text: string, shell: string | null, face: number, point: number[], uv: number[] | null}} ReportedNote */

/** @typedef {{a: number, b: number, kind: "mirrored" | "stacked" | "partial-overlap" | "self-overlap", area_share_a: number, area_share_b: number}} SharingEntry */

/**
 * One shell; a number is null where there is none (no area, nothing regular).
 * @typedef {object} Shell
 * @property {number} id
 * @property {number} key its lowest face, from 0: what findings, decisions and notes call it by
 * @property {number} part
 * @property {number} sheet of its first face, by its place in `Report.sheets.list`
 * @property {string | null} object
 * @property {string | null} group
 * @property {string | null} material
 * @property {number} faces
 * @property {number} surface square units
 * @property {number} uv sum of |uv area|
 * @property {number | null} density px per unit
 * @property {number | null} density_ratio density over (reference times density_factor)
 * @property {number | null} anisotropy_median
 * @property {number | null} share_over surface over the brief's anisotropy
 * @property {boolean} flipped
 * @property {number} folded triangles
 * @property {number | null} tilt_deg (-180, 180], counter-clockwise seen from the front
 * @property {number | null} text_share of its surface
 * @property {[number, number, number, number] | null} bounds_uv
 */

/** @typedef {{name: string, surface: number, density_px_per_unit: number, density_factor: number, factor: number, grade: "low" | "high" | "within" | "not-judged", shells: number[]}} DensityPart */

/**
 * A place where two shells, or a shell and its tile's border (`b` null), are nearer than the brief asks.
 * @typedef {object} Gap
 * @property {number} a shell
 * @property {number | null} b
 * @property {number} sheet by its place in `Report.sheets.list`
 * @property {number | null} tile UDIM number; null outside the tiles
 * @property {number} px
 * @property {[number, number]} at_a u, v
 * @property {[number, number]} at_b
 * @property {number | null} mip_level the last that keeps them apart; null where none does
 */

/**
 * @typedef {object} SheetReport
 * @property {number} coverage
 * @property {number | null} overlap_share
 * @property {number | null} overlap_excess
 * @property {number | null} coverage_sampling_error standard errors of the figures above; null where they are exact
 * @property {number | null} overlap_share_sampling_error
 * @property {number | null} overlap_excess_sampling_error
 * @property {number | null} outside_share
 * @property {number | null} padding_between_px
 * @property {number | null} padding_border_px
 * @property {Gap[]} gaps worst first; the first of them
 * @property {number} gap_count all of them
 * @property {boolean} padding_at_least whether the search was cut off
 * @property {number[]} across_tiles shells over a tile's border
 * @property {number[]} tiles UDIM numbers
 */

/**
 * One texture set. Figures as in {@link SheetReport}.
 * @typedef {object} OneSheet
 * @property {string} name
 * @property {string[]} materials an empty one stands for faces without a material
 * @property {number} width_px of its map
 * @property {number} height_px
 * @property {number} coverage
 * @property {number | null} overlap_share
 * @property {number | null} overlap_excess
 * @property {number | null} coverage_sampling_error
 * @property {number | null} overlap_share_sampling_error
 * @property {number | null} overlap_excess_sampling_error
 * @property {number | null} outside_share
 * @property {number | null} padding_between_px
 * @property {number | null} padding_border_px
 * @property {number} gap_count
 * @property {number[]} tiles
 */

/**
 * Which materials have a sheet in common: `auto`, `one`, `by-material`, or groups.
 * @typedef {string | {name: string, materials: string[], width_px?: number, height_px?: number}[]} SheetsAsked
 */

/**
 * @typedef {object} SeamsReport
 * @property {number} length units
 * @property {number | null} length_over_diagonal
 * @property {Axis} front the side the model is looked at from
 * @property {number | null} share_in_front of the length, 0..1
 * @property {number | null} front_over_diagonal length of soft seams seen from the front, over the diagonal of the model's box
 * @property {number | null} exposure mean share of the hemisphere above a seam from which it is seen, 0..1
 * @property {number | null} sampling_error standard error of the exposure
 * @property {number} rays
 */

/**
 * @typedef {object} DensityReport
 * @property {number | null} mean_px_per_unit
 * @property {number | null} min_shell
 * @property {number | null} max_shell
 * @property {number | null} max_over_min
 * @property {number | null} reference
 * @property {DensityPart[]} parts worst first
 */

/**
 * `gridproof-report/2`; only the keys the page reads are spelled out.
 * @typedef {object} Report
 * @property {{name: string, bytes: number, sha256: string}} file
 * @property {string} schema
 * @property {"ready" | "look" | "not ready"} verdict judged without what is intended
 * @property {number} intended how many findings are
 * @property {ReportedNote[]} notes
 * @property {Cause | null} cause
 * @property {ToReady} to_ready without what is intended
 * @property {Finding[]} findings
 * @property {Record<string, number | null>} counts
 * @property {Record<string, number | null>} stretch
 * @property {DensityReport} density
 * @property {Record<string, number | null>} handedness
 * @property {SheetReport} sheet all sheets together
 * @property {{by: "one" | "pictures" | "materials" | "brief", list: OneSheet[]}} sheets `by`: what the split goes by
 * @property {FindingKind[]} not_judged kinds that could not be judged, or were not to be
 * @property {SeamsReport} seams
 * @property {{text_share: number | null}} text
 * @property {SharingEntry[]} sharing of equal shells the first stands for all
 * @property {number[][]} equal_shells three and more that are the same on the sheet
 * @property {boolean} sharing_at_least whether the search was cut off
 * @property {Shell[]} shells
 */

/**
 * The brief as a plain object; whatever is absent has its default.
 * @typedef {object} Brief
 * @property {{width_px?: number, height_px?: number, tiles?: string, sheets?: SheetsAsked, unit?: string}} [map]
 * @property {{target_px_per_unit?: number | null, tolerance_percent?: number}} [density]
 * @property {{max_anisotropy?: number, max_share_over?: number}} [stretch]
 * @property {{mirrored?: string, stacked?: string, partial_overlap?: string}} [sharing]
 * @property {{between_px?: number | null, border_px?: number | null}} [padding]
 * @property {{min_share?: number}} [coverage]
 * @property {{front?: Axis, max_front_over_diagonal?: number | null}} [seams]
 * @property {{up?: Axis}} [tilt]
 * @property {{groups?: string[]}} [text]
 * @property {Record<string, number>} [density_factor] by name of an object, group or material
 * @property {Record<string, number>} [rubric] points by kind of finding, and `maximum`
 */

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
 * @property {number} [of_larger_side] what applies where it is left out, as a share of the map's larger side
 * @property {[string, string][]} [choices] value and words
 */

/**
 * `brief.json`, which stands beside the page. A section without keys has names of the model for keys.
 * @typedef {object} BriefForm
 * @property {{section: string, text: string, keys: BriefKey[]}[]} sections
 * @property {Brief} defaults
 * @property {{name: string, title: string, brief: Brief}[]} presets
 */

/**
 * One model in the worker. Methods throw a {@link Failure} where the file cannot be read.
 * @typedef {object} Session
 * @property {(chunk: Uint8Array) => void} feed
 * @property {() => void} finish
 * @property {(link: string) => Uint8Array} open_link instead of both: reads a carried link, gives the bytes of its review
 * @property {() => AboutFile} file
 * @property {() => Summary} summary
 * @property {() => MeshBuffers} mesh
 * @property {(stage: number) => string | undefined} measure runs one stage; names the next, undefined when done
 * @property {(brief: object) => Uint32Array} set_brief gives the stages to run before the next report, in order
 * @property {(names: (string | null)[]) => void} set_pictures of each material, as its library writes it; before measuring
 * @property {(sheet: number) => void} set_sheet shows another sheet, by its place in the report's list
 * @property {() => SheetsAsked | undefined} fixed_sheets the split into sheets as a brief says it; undefined before it is known
 * @property {(corners: Uint32Array, uvs: Float64Array) => boolean} edit whether it changed anything; fails where it cannot be
 * @property {() => boolean} undo whether there was a layout to put there again
 * @property {() => boolean} redo
 * @property {() => number} revision how many steps were taken
 * @property {() => UvBuffers & {shells: number, faces_without_uv: number}} uvs what the last step changed
 * @property {() => Followed | undefined} followed what the last report took over, where its layout is not the one the review was about
 * @property {() => Uint32Array} triangles
 * @property {() => LineBuffers} lines
 * @property {(masks: Uint32Array) => Float64Array} area_shares of each mask: share of the surface with any of its bits
 * @property {(name: string, bytes: number, sha256: string) => void} set_file for the report
 * @property {(notes: GivenReview["notes"], places: GivenReview["places"], decisions: GivenReview["decisions"], revision?: number) => void} set_review for the next report; `revision`: of the layout it is about, if not the present one
 * @property {() => Report} report
 * @property {() => Report & {names: string[][], bounds: [number[], number[]] | null}} report_in_short the same without its shells, shares and warnings; with names of the shells of each finding, and the model's box
 * @property {(width: number, height: number) => Uint8Array} row_picture RGBA of the whole model with grid and flags
 * @property {() => string[]} shells labels by id; once there is a report
 * @property {(lens: string) => Histogram | undefined} histogram
 * @property {(ox: number, oy: number, oz: number, dx: number, dy: number, dz: number) => Probe | undefined} probe_ray
 * @property {(u: number, v: number) => Probe | undefined} probe_uv
 * @property {(face: number, triangle: number, a: number, b: number, c: number) => Probe | undefined} place what is at a spot of a face
 * @property {(x: number, y: number, z: number, points: Float64Array) => Uint8Array} hidden of each point (minus the mesh's centre, as the eye): 1 where something lies before it
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
 * From where stage and sheet are seen: the wasm module's cameras, or the plain drawn sheet where there is no WebGL2. Lengths
 * are device px of the canvas, from its top left.
 * @typedef {object} View
 * @property {(map_width: number, map_height: number) => void} set_map
 * @property {(mesh: MeshBuffers | null) => void} set_extent another model, or none
 * @property {(u0: number, v0: number, u1: number, v1: number) => void} set_bounds_uv the same model has other uvs; the cameras stay
 * @property {(x: number, y: number, z: number) => void} set_under where on the surface the pointer is; NaN for nowhere
 * @property {(width: number, height: number, ratio: number, stage: Float64Array, sheet: Float64Array | null) => void} set_layout `ratio`: px of the canvas a CSS px
 * @property {(sides: Float64Array, milliseconds: number, now: number) => void} set_covers left, top, right, bottom of each thing that lies over the canvas
 * @property {(dx: number, dy: number) => void} orbit
 * @property {(dx: number, dy: number) => void} pan
 * @property {(factor: number, x: number, y: number) => void} zoom above 1 comes closer
 * @property {() => void} fit
 * @property {(milliseconds: number, now: number) => void} fly_fit
 * @property {(axis: string) => void} set_up
 * @property {(camera: object, milliseconds: number, now: number) => void} fly_to
 * @property {() => object} camera
 * @property {(camera: object) => void} set_camera what `camera` gave
 * @property {() => number} seen_radius of the sphere around the camera's target that is seen whole
 * @property {() => Float64Array} seen_across width and height of what is seen at the target's depth
 * @property {(points: Float64Array) => ArrayLike<number>} seen_at x and y of each point of the model (minus the mesh's centre) on the canvas; NaN where it is not before the eye
 * @property {(dx: number, dy: number) => void} sheet_pan
 * @property {(factor: number, x: number, y: number) => void} sheet_zoom
 * @property {(u0: number, v0: number, u1: number, v1: number) => void} set_region what the sheet is fitted to
 * @property {() => void} sheet_fit
 * @property {(u0: number, v0: number, u1: number, v1: number, milliseconds: number, now: number) => void} sheet_show
 * @property {(x: number, y: number) => ArrayLike<number>} ray_at
 * @property {(x: number, y: number) => Float64Array | number[]} uv_at
 * @property {() => number} units_per_pixel
 * @property {(now: number) => Float64Array} sight what a painter has to know, if that has changed; empty if not
 * @property {() => boolean} is_flying whether a camera is
 */

/**
 * What is shown: the wasm module's, drawn with WebGL2, or the plain drawn sheet.
 * @typedef {object} Shown
 * @property {(theme: Record<string, number[]>) => void} set_theme
 * @property {(map_width: number, map_height: number, cell_px: number, words: string, words_px: number) => void} set_grid
 * @property {(numbers: Uint32Array) => void} set_tiles UDIM numbers of the map's tiles
 * @property {(on: boolean) => void} set_measuring whether a model is being read or measured, which drawing must not hold up
 * @property {(name: string) => void} set_lens
 * @property {(on: boolean) => void} set_flags
 * @property {(on: boolean) => void} set_leaning
 * @property {(lo: number, hi: number) => void} set_isolate
 * @property {(shells: Uint32Array) => void} set_selected
 * @property {(shells: Uint32Array) => void} set_partner
 * @property {(triangle: number, x: number, y: number, z: number, u: number, v: number) => void} set_hover
 * @property {(looks: Look[], ground: number) => void} set_looks what the Picture lens shows, and which look lies below the shells on the sheet, or -1
 * @property {(number: number, width: number, height: number, pixels: Uint8Array | ImageBitmap) => void} set_picture that looks show; without WebGL2 as a bitmap
 * @property {() => void} lose_context for tests
 * @property {() => void} restore_context for tests
 */

/**
 * What draws it.
 * @typedef {object} Drawn
 * @property {(mesh: MeshBuffers) => void} set_model
 * @property {(uv: Float32Array) => void} set_uvs others of the same model
 * @property {(data: Uint32Array) => void} set_triangles
 * @property {(lines: LineBuffers) => void} set_lines
 * @property {() => void} clear_model
 * @property {(now: number) => boolean} frame whether another one is wanted
 * @property {() => number} frames_drawn
 */

/**
 * The wasm module's, on a canvas with WebGL2.
 * @typedef {object} OnlyPainted
 * @property {(sight: Float64Array) => void} set_sight what `View.sight` said
 * @property {(now: number) => boolean} work brings more of what is on its way; whether there is still more
 * @property {() => boolean} shows_grid whether the whole model is drawn with a grid
 * @property {() => boolean} has_model whether all of its triangles are in the graphics system
 * @property {() => boolean} release_model lets go of what is at the model's corners, if it is in the graphics system; whether it is
 * @property {() => void} context_restored
 * @property {() => void} free
 */

/** @typedef {Shown & Drawn & OnlyPainted} Painter */

/**
 * What the painter has to do: bring (parts of) a model that is known by its id, show it (or none), keep these and let
 * others go, or what it has a function for.
 * @typedef {{to: "bring", id: number, mesh?: MeshBuffers, uv?: Float32Array, triangles?: Uint32Array, lines?: LineBuffers}
 *   | {to: "show", id: number | null}
 *   | {to: "keep", ids: number[]}
 *   | {[name in keyof Shown]: {to: name, values: Parameters<Shown[name]>}}[keyof Shown]} Order
 */

/** Orders, and from where everything is seen since them; `turn` counts them. @typedef {{type: "sight", turn: number, orders: Order[], sight: Float64Array}} SightMessage */
/** @typedef {{type: "canvas", canvas: OffscreenCanvas, attributes: WebGLContextAttributes} | {type: "engine", module: WebAssembly.Module} | SightMessage} ToPainting */
/**
 * `context`: whether there is WebGL2, first of all, and the longest side of a texture, px. `drawn`: how far it is
 * with what it was told; busy while there is more to bring or to draw.
 * @typedef {{type: "context", has: boolean, mostTexturePx: number} | {type: "drawn", turn: number, frames: number, isBusy: boolean, hasGrid: boolean}
 *   | {type: "lost"} | {type: "restored"} | {type: "failed", message: string}} FromPainting
 */

/**
 * What some triangles show: a picture by its number, or -1; a colour instead of it and until it is there (sRGB, 0..1; paper
 * where there is none). Runs: first triangle and count of each.
 * @typedef {{picture: number, colour: [number, number, number] | null, scale: [number, number], offset: [number, number], clamp: number, runs: Uint32Array}} Look
 */

/** What was made of a picture's file. @typedef {{width: number, height: number, from: [number, number], pixels: Uint8Array | ImageBitmap}} Decoded */

/** A pattern; of its kind the ground, the marks, and the marks where they are light, unless it lies on a scale. @typedef {{name: string, inks: [Rgb, Rgb, Rgb] | null}} PatternInks */
/** @typedef {[number, number, number]} Rgb 0..255 */

/**
 * @typedef {object} Engine the wasm module's JavaScript side
 * @property {(options: {module_or_path: WebAssembly.Module}) => Promise<{memory: WebAssembly.Memory}>} default
 * @property {{new (total_bytes: number, brief: object): Session, stage_name: (stage: number) => string | undefined, stage_shows: (stage: number) => number}} Session
 * @property {new () => Digest} Digest
 * @property {new () => View & {free: () => void}} View
 * @property {new (context: WebGL2RenderingContext) => Painter} Painter
 * @property {(lens: string, values: Float32Array) => Uint8Array} lens_colours red, green and blue of each value on the lens's scale
 * @property {() => PatternInks[]} lens_patterns by number, from 1; then `unmapped`
 * @property {() => number} light_tint how much of a kind's colour lies on what is below a light pattern, 0..1
 * @property {() => readonly [number, number, number]} lens_circles of the grid's cells, as Stretch shows them: radius, cells; width, CSS px; how much of the ink they take, 0..1
 * @property {(lens: string, flags: boolean, leaning: boolean, words: Uint32Array, count: number, from: number, to: number, shells: Uint32Array) => Uint32Array} drawn_looks numbers of the looks of triangles on the drawn sheet: 0 has no place there, 2 is faded
 * @property {(lens: string, look: number) => Float32Array} drawn_style red, green and blue of its ground; its pattern, 0 for none; red, green and blue of its ink, the first NaN for none; degrees, clockwise; 1 for a light pattern
 * @property {(width: number, height: number, covers: Float64Array, wide: number, high: number) => Float64Array} clear_area middle (from the place's) and size of the roomiest clear area
 * @property {(map_width: number, map_height: number, cell_px: number, u: number, v: number) => Uint32Array | undefined} cell_at column, row
 * @property {(brief: object) => string | undefined} brief_trouble why this brief would be refused
 * @property {(text: string) => string} missing_glyphs characters that the grid's face cannot set
 * @property {(map_width: number, map_height: number, cell_px: number, words: string, words_px: number) => string | undefined} grid_trouble why this grid cannot be made
 * @property {new (map_width: number, map_height: number, cell_px: number, words: string, words_px: number, texture?: Uint32Array) => GridStrips} GridStrips
 */

/**
 * Why a file could not be read or measured. `code` is stable; `message` is a sentence for the person.
 * `line` is 0 or null where it is about the whole file; `warnings` are what led there.
 * @typedef {{code: string, message: string, line: number | null, warnings?: Warning[]}} Failure
 */

/** @typedef {{stretch: Histogram | undefined, density: Histogram | undefined, seams: Histogram | undefined}} Histograms the last by length, the others by area */
/** @typedef {"mapped" | "reversed" | "flipped" | "folded" | "stretched" | "mirrored" | "stacked" | "partial_overlap" | "shared" | "tilted" | "unsafe"} Area kind of surface, see model/areas.js */
/** @typedef {Record<Area, number>} Areas share of the surface, 0..1, of each kind */

/** @typedef {{name: string, bytes: number, sha256: string}} AboutFile */
/** Which model, and which layout of it. @typedef {{modelId: number, revision: number}} Which */
/** New uvs of some corners, u and v of each; a corner is counted as the file's faces name them. @typedef {{corners: Uint32Array, uvs: Float64Array}} Edit */
/** What was changed on a model since it was read: edits in the order in which they were applied; null for nothing. @typedef {readonly Edit[] | null} Plan */
/**
 * What reports, links, review pages and versions are about: where a model comes from, and what was changed on it since.
 * @typedef {{source: Source, plan: Plan}} Subject
 */
/** Where a model comes from: a file, or a link that carries it (what stands behind `m=`). @typedef {{file: File, libraries?: readonly File[], own?: string | null} | {link: string}} Source `libraries`: those that came along; `own`: see `linkMaterials` */
/** `undone`: edits that can be taken again, the next first. @typedef {{type: "open", module: WebAssembly.Module, subject: Subject, undone: readonly Edit[], brief: Brief}} OpenMessage */
/** While there is nothing to open. @typedef {{type: "practise", module: WebAssembly.Module}} PractiseMessage */
/** @typedef {{type: "probe", ray: number[]} | {type: "probe", uv: number[]}} ProbeMessage */
/** @typedef {{type: "brief", brief: Brief}} BriefMessage */
/** @typedef {{type: "sheet", sheet: number}} SheetMessage by its place in the report's list */
/** @typedef {{do: "apply", edit: Edit} | {do: "undo"} | {do: "redo"}} Step */
/** @typedef {{type: "step", id: number, step: Step}} StepMessage */

/**
 * What a report takes over of a review, as `Session.set_review` takes it: text and shell of each note; face, x, y, z, u and
 * v of each, NaN for no u and v; finding and reason of each decision, null for one that is to fix.
 * @typedef {{notes: (string | null)[], places: Float64Array, decisions: (string | null)[]}} GivenReview
 */
/** Its revision is that of the report that it was written on. @typedef {{type: "review", review: GivenReview}} ReviewMessage */
/** A review under another layout; `lapsed`: findings on which decisions did not agree, and how many were decided on, of each. @typedef {GivenReview & {lapsed: (string | number)[]}} Followed */
/** @typedef {GivenReview & {sha256: string}} WrittenReview about the file of this SHA-256 */

/**
 * Where notes are on this model: exactly, in the file they were written on; otherwise where they most likely belong. Or which
 * of some points are hidden from an eye. Or what became of the findings of a previous version.
 * @typedef {{what: "places", notes: import("./review.js").SavedNote[], exact: boolean} | {what: "hidden", eye: number[], points: Float64Array} | {what: "compare", previous: Version, newer: Version}} Ask
 */
/** @typedef {(Probe | null)[] | Uint8Array | Comparison | null} Answer in the order of what was asked about */

/**
 * What of a finding is compared; the same as `Spot` in src/compare.rs, which defines how.
 * @typedef {{id: string, kind: FindingKind, severity: Severity, number: Figure, limit: number | null, place: {centre: number[], radius: number, eye?: number[]} | null, names: string[]}} Spot
 */
/** @typedef {{bounds: [number[], number[]], spots: Spot[]}} Version */

/**
 * Places in the reports' lists of findings. `by_box`: the versions differ in size or place, and findings were matched relative
 * to each one's own box.
 * @typedef {{fixed: number[], still_there: {old: number, new: number, change: "better" | "worse" | "same"}[], new: number[], by_box: boolean}} Comparison
 */
/** @typedef {{type: "ask", id: number, ask: Ask}} AskMessage */

/** @typedef {{width: number, height: number, cell: number, words: string, wordsPx: number}} GridAsked the map's size, the cells and the words of a grid */

/**
 * The sheet as SVG. `tile`: one of a map of many; null for all.
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
 * @property {boolean} leaning
 * @property {[number, number] | null} isolate
 * @property {number[]} partners
 * @property {{looks: Look[], ground: number, files: {number: number, file: File, most: number}[]}} pictures of the Picture lens
 */

/** @typedef {{what: "report"} | {what: "data"} | {what: "obj"} | SheetOrder | StageOrder} SaveOrder */
/** @typedef {{type: "save", id: number, order: SaveOrder} | {type: "leave", id: number}} SaveMessage `leave`: nobody waits for it any more */
/** About the model that is open. @typedef {BriefMessage | SheetMessage | ReviewMessage | StepMessage | ProbeMessage | AskMessage | SaveMessage} AboutMessage */
/** @typedef {OpenMessage | PractiseMessage | (AboutMessage & Which)} ToWorker */

/** @typedef {{type: "opened"}} OpenedMessage */

/** @typedef {{type: "progress", bytes: number, total: number}} ProgressMessage */
/** @typedef {{type: "stage", name: string}} StageMessage */
/** @typedef {{type: "carried", file: AboutFile, review: Uint8Array}} CarriedMessage `review` is empty where none came */
/** @typedef {{type: "mesh", mesh: MeshBuffers, summary: Summary, triangles: Uint32Array, lines: LineBuffers, undo: number, redo: number}} MeshMessage `undo`, `redo`: as in `UvBuffers` */
/** What a layout changes of `MeshBuffers`. `pieces`: a former shell and one that has faces of it, of each such pair; null where shells are the same. `undo`, `redo`: how many steps can be taken back, and again. @typedef {{uv: MeshBuffers["uv"], bounds_uv: MeshBuffers["bounds_uv"], pieces: Uint32Array | null, undo: number, redo: number}} UvBuffers */
/** @typedef {{type: "uvs", id: number, uvs: UvBuffers, counts: Pick<Counts, "shells" | "faces_without_uv">, triangles: Uint32Array, lines: LineBuffers} & Which} UvsMessage `id`: of the step */
/** @typedef {{type: "stepped", id: number, refusal: string}} SteppedMessage `refusal`: empty where the step was taken */
/** @typedef {{type: "measured", triangles: Uint32Array | null, histograms: Partial<Histograms>, lines: LineBuffers | null}} MeasuredMessage what changed of each; the histogram of seams comes with lines, the others with triangles */
/** @typedef {{type: "report", report: Report, shells: string[], areas: Areas, briefs: number, followed: Followed | null}} ReportMessage `briefs`: how many brief and review messages it takes account of; `followed`: the review, where it was about a former layout */
/** @typedef {{type: "probed", probe: Probe | null}} ProbedMessage */
/** @typedef {{type: "answer", id: number, answer: Answer}} AnswerMessage */
/** @typedef {{type: "saving", id: number, done: number, of: number} | {type: "saved", id: number, blob: Blob} | {type: "unsaved", id: number, message: string}} SavedMessage */
/** @typedef {{type: "failed", failure: Failure}} FailedMessage */
/** @typedef {(OpenedMessage | ProgressMessage | StageMessage | CarriedMessage | MeshMessage | UvsMessage | SteppedMessage | MeasuredMessage | ReportMessage | ProbedMessage | AnswerMessage | SavedMessage | FailedMessage) & Which} FromWorker */

/**
 * Another worker, and other messages: it paints one grid at the map's full size and ends with it.
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
 * Another worker: carried links. It encodes one model, and then puts reviews beside it.
 * @typedef {{type: "encode", subject: Subject & Which, about: AboutFile, brief: Brief} | {type: "link", id: number, review: string}} ToCarrier
 */
/**
 * `measured`: how long measuring took once, ms. `encoded`: steps in model units and uv, null where the model is as it came
 * with a link.
 * @typedef {{type: "measured", ms: number} | {type: "encoded", bytes: number, steps: {position: number, uv: number, proofs: number} | null}
 *   | {type: "linked", id: number, link: string} | {type: "failed", id: number | null, message: string}} FromCarrier
 */

/**
 * A file inside a zip: its path there, bytes unpacked, place in the zip's directory; `failure` where it will not be inflated.
 * @typedef {{path: string, bytes: number, index: number, failure: Failure | null}} ZippedFile
 */
/** @typedef {{files: ZippedFile[], others: ZippedFile[]}} ZipListing `files`: models, and zips inside */
/** @typedef {{zip: File, key: number, index: number}} ZipPlace `key` tells zips apart, since a file that was sent is another one */

/**
 * Another worker: zips. It answers each order by its number.
 * @typedef {{type: "list", id: number, zip: File, key: number} | {type: "take", id: number} & ZipPlace | {type: "add", id: number, to: number, name: string, blob: Blob} | {type: "close", id: number, to: number}} ToZip `to` tells new zips apart
 */
/** @typedef {{type: "listed", id: number, listing: ZipListing} | {type: "blob", id: number, blob: Blob} | {type: "added", id: number} | {type: "failed", id: number, failure: Failure}} FromZip */

/**
 * What a class is made of: a file by itself or in a zip. `path` begins with the folder that was dropped; `name` is its end;
 * `upload` says what there is where that is no model. `libraries` lie beside it; `own`: see `linkMaterials`.
 * @typedef {{path: string, name: string, bytes: number, failure: Failure | null, upload?: string, libraries?: ClassSource[], own?: string | null} & ({file: File} | ZipPlace)} ClassSource
 */

/**
 * What of a finding a row needs: what it counts as, what two uploads are matched by, and its title. `severity` is that of the
 * cause where the finding follows from it.
 * @typedef {Spot & {title: string}} ClassFinding
 */

/**
 * What a row of the table tells of a report.
 * @typedef {object} ClassResult
 * @property {Report["verdict"]} verdict
 * @property {ClassFinding[]} findings worst first, without those that are intended
 * @property {number} intended how many are
 * @property {[number[], number[]] | null} bounds of the model
 * @property {{title: string, number: Figure, limit: Figure | null} | null} worst
 * @property {Cause | null} cause
 * @property {ToReady} toReady
 * @property {Report["sheets"] | null} sheets where pictures beside the model decided them
 * @property {(number | boolean | null)[]} numbers in the order of `NUMBERS` in findings/table.js
 */

/**
 * Other workers again: a class of files, one model at a time in each. An order is answered by what it asks for, or by
 * `failed`. A `row` is told as soon as the verdict stands, which seldom needs the seams; `whole`: with them. `pictured`: a
 * `picture` comes after it. Of `seams` only their numbers hold. A `report` takes the second module, and is `whole`. `heavy`: the
 * worker has grown so much that a new one should take its place. `written`: what is noted and decided about files of its size;
 * which of them it is only shows once it is read.
 * @typedef {{what: "row" | "seams" | "report", id: number, source: ClassSource, plan: Plan, brief: Brief, whole: boolean, pictured: boolean, written: WrittenReview[]}} ClassOrder
 */
/**
 * `early`: there will be time until the first order. `pixelRatio`: device px a CSS px, for pictures, 1 to 2.
 * @typedef {{type: "start", module: WebAssembly.Module, reports: boolean, early: boolean, pixelRatio: number} | {type: "order"} & ClassOrder} ToClass
 */
/**
 * `sha256`: of the file, once it was asked for as a whole; empty before.
 * @typedef {{type: "row" | "seams", id: number, result: ClassResult, isWhole: boolean, sha256: string} | {type: "picture", id: number, image: ImageData}
 *   | {type: "report", id: number, blob: Blob} | {type: "failed", id: number, failure: Failure}
 *   | {type: "done", id: number, heavy: boolean}} FromClass
 */

export {};
