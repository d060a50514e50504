/**
 * What page and core both have to know, and the page before the module is there. Written from the core's sources:
 * `GRIDPROOF_BLESS=1 cargo test known`.
 */

/** Lenses, in the order they are offered. */
export const LENS_NAMES = /** @type {const} */ ([
  "grid",
  "stretch",
  "density",
  "flipped",
  "overlaps",
  "seams",
  "text",
  "picture",
]);

/** Numbers of the table of many files, by their places in the report. */
export const NUMBERS = /** @type {const} */ ([
  "to_ready.must_fix_share",
  "to_ready.look_share",
  "counts.faces",
  "counts.triangles",
  "counts.parts",
  "counts.shells",
  "counts.faces_without_uv",
  "area.surface",
  "stretch.anisotropy_median",
  "stretch.anisotropy_p95",
  "stretch.share_over",
  "density.mean_px_per_unit",
  "density.max_over_min",
  "handedness.reversed_share",
  "handedness.flipped_shells",
  "handedness.folded_triangles",
  "handedness.mirrored_share",
  "sharing_at_least",
  "sheet.coverage",
  "sheet.coverage_sampling_error",
  "sheet.overlap_share",
  "sheet.overlap_share_sampling_error",
  "sheet.outside_share",
  "sheet.padding_between_px",
  "sheet.padding_border_px",
  "seams.length",
  "seams.length_over_diagonal",
  "seams.share_in_front",
  "seams.front_over_diagonal",
  "seams.exposure",
  "text.text_share",
  "intended",
]);

/** The map of a brief that says nothing of it, px. */
export const MAP = /** @type {const} */ ({
  width: 2048,
  height: 2048,
});

/** UDIM tiles: the first one's number, and columns. */
export const UDIM = /** @type {const} */ ({
  first: 1001,
  columns: 10,
});

/** Side of a cell and size of the words where nobody chose, map px. */
export const GRID_DEFAULTS = /** @type {const} */ ({
  cell: 64,
  words: "",
  wordsPx: 96,
});

/** Most of what a review holds: entries, or characters (code points) of a text; `json`: of all of it, bytes. */
export const REVIEW_MOST = /** @type {const} */ ({
  notes: 200,
  text: 2000,
  decisions: 2000,
  reason: 500,
  name: 1000,
  words: 120,
  sender: 80,
  json: 4000000,
});

/** Least and most of its numbers; `weightsOff`: how far a spot's weights may be off 1 together. */
export const REVIEW_RANGES = /** @type {const} */ ({
  cell: [16,256],
  wordsPx: [8,512],
  weightsOff: 0.001,
});

/** Words of a review's first version, and what the second says instead. */
export const SECOND_WORDS = /** @type {const} */ ({
  size: "density",
  handedness: "flipped",
  sharing: "overlaps",
  lettering: "text",
  "turned-over": "flipped",
  crossing: "partial-overlap",
  "self-crossing": "self-overlap",
  coarse: "low",
  fine: "high",
  emphasis: "density_factor",
  meant: "intended",
  todo: "to-fix",
  stop: "must-fix",
});

/** A shell's part of a triangle's third word, and of a segment's; all of it for none. */
export const NO_SHELL = 16777215;
