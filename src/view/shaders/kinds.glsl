// What a triangle carries: one pattern, and what it lacks. Shared by both shaders of a surface.

const uint NOTHING = 0u;
const uint STROKES = 1u;
const uint BARS = 2u;
const uint HATCH = 3u;
const uint CHEVRONS = 4u;
const uint DOTS = 5u;
const uint BRICKS = 6u;
const uint MINUS = 7u;
const uint PLUS = 8u;
const uint STEMS = 9u;
// The bits of a kind that say which.
const uint SHAPE = 15u;
// Not measured, or without area.
const uint SILENT = 16u;
// No area on the sheet.
const uint FLATTENED = 32u;
// No uv.
const uint UNMAPPED = 64u;
// Outside the limits, of the one kind and of the other.
const uint OUTSIDE = 128u;
const uint OUTSIDE_OTHERWISE = 256u;
// The grid is nearly hidden.
const uint VEILED = 512u;
