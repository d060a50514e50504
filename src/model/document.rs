//! The reader's result: elements, faces and names as in the file, before shells are known.
//!
//! Coordinates beyond 1e30 have no value, and below 1e-30 they are 0 (the brief's numbers have the same range). So no
//! measure has to check for overflow.

use super::Diagnostics;

/// Index of a `v` statement, from 0, in file order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PositionId(pub u32);

/// Index of a `vt` statement, from 0; stored as one more, so that an `Option` of it takes no extra room.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TexcoordId(std::num::NonZeroU32);

/// Index of a `vn` statement, from 0; stored as one more, so that an `Option` of it takes no extra room.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NormalId(std::num::NonZeroU32);

macro_rules! index_plus_one {
    ($name:ident) => {
        impl $name {
            /// `None` only for `u32::MAX`, which no file this reader accepts can hold.
            pub fn new(index: u32) -> Option<Self> {
                index.checked_add(1).and_then(std::num::NonZeroU32::new).map(Self)
            }
            /// From the number as OBJ writes it, counted from 1; `None` for 0.
            pub(crate) fn from_one_based(number: u32) -> Option<Self> {
                std::num::NonZeroU32::new(number).map(Self)
            }
            /// The index from 0.
            pub fn index(self) -> usize {
                self.0.get() as usize - 1
            }
        }
    };
}
index_plus_one!(TexcoordId);
index_plus_one!(NormalId);

/// One corner of a face.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Corner {
    /// Always valid: a face with an invalid position is left out.
    pub position: PositionId,
    /// `None` where the file gives none, or none that exists.
    pub texcoord: Option<TexcoordId>,
    /// `None` where the file gives none, or none that exists.
    pub normal: Option<NormalId>,
}

/// From `face` on, and until the next of its kind, faces belong to `name` (an index into the kind's name list).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Run {
    /// First face it applies to.
    pub face: u32,
    /// Index into [`Document::objects`], [`Document::groups`] or [`Document::materials`].
    pub name: u32,
}

/// Largest number of a position, texture coordinate or normal either way, and the one below which they are 0: what is measured
/// multiplies and divides several of them, and stays within the range of `f64`.
const LARGEST: f64 = 1e30;
const SMALLEST: f64 = 1e-30;

/// Whether a number is measured as it is written.
#[inline(always)]
pub(crate) fn is_measured(value: f64) -> bool {
    let size = value.abs();
    size <= LARGEST && (size >= SMALLEST || size == 0.0)
}

/// The number that is measured; `None` where it is too large.
pub(crate) fn measured(value: f64) -> Option<f64> {
    let nearly_zero = value.abs() < SMALLEST;
    if is_measured(value) { Some(value) } else { nearly_zero.then_some(0.0) }
}

/// Decimals that coordinates are taken to be written with at least: of a file in whole numbers the precision is not
/// known. Most exporters write 4 to 6 (common practice, no source).
pub const DECIMALS_MIN: u32 = 4;

/// What a file holds, resolved: indices from 0, only faces that can be drawn.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Document {
    /// All `v`, in order. One that could not be read keeps its place and is NaN; no face uses it.
    pub positions: Vec<[f64; 3]>,
    /// All `vt` (u, v), in order; v is 0 where not given. One that could not be read is NaN; no corner uses it.
    pub texcoords: Vec<[f64; 2]>,
    /// Most decimals that a number of any `v`, and of any `vt` (u and v), is written with.
    pub decimals: [u32; 2],
    /// All `vn`, in order, of any length; clamped to the range of `f32`. One that could not be read is NaN; no corner
    /// uses it.
    pub normals: Vec<[f32; 3]>,
    /// Face i's corners are `corners[face_starts[i]..face_starts[i + 1]]`, at least 3.
    pub face_starts: Vec<u32>,
    /// Corners of all faces.
    pub corners: Vec<Corner>,
    /// Line (from 1) on which each face's statement starts.
    pub face_lines: Vec<u32>,
    /// Distinct object names in order of appearance.
    pub objects: Vec<String>,
    /// Distinct group names (a statement with several names is one entry, names joined by a space).
    pub groups: Vec<String>,
    /// Distinct material names.
    pub materials: Vec<String>,
    /// Where objects begin. In all lists of runs `face` rises strictly and is below [`Document::face_count`].
    pub object_runs: Vec<Run>,
    /// Where groups begin.
    pub group_runs: Vec<Run>,
    /// Where materials begin.
    pub material_runs: Vec<Run>,
    /// Where smoothing groups begin; `name` is the group's number, 0 for none. Empty where the file has no `s`.
    pub smoothing_runs: Vec<Run>,
    /// Of a model without its normals and groups: the corners at which seam edges start along which the shading breaks,
    /// rising.
    pub hard_seams: Option<Vec<u32>>,
    /// Names given to `mtllib`, in order.
    pub material_libraries: Vec<String>,
    /// What was wrong or skipped, with lines.
    pub diagnostics: Diagnostics,
}

impl Document {
    /// Heights of a triangle that rounding alone gives corners in line, on the surface (model units) and on the sheet (uv): 2
    /// units of the last decimal written. Each number is off by at most half of one, so a corner by at most √3/2 of one
    /// on the surface, and the middle one of three in line from the line through the others by at most twice that.
    pub fn flat_heights(&self) -> [f64; 2] {
        self.decimals.map(flat_height)
    }
    /// Number of faces.
    pub fn face_count(&self) -> usize {
        self.face_lines.len()
    }
    /// Corners of face `face`.
    pub fn face(&self, face: usize) -> &[Corner] {
        &self.corners[self.face_starts[face] as usize..self.face_starts[face + 1] as usize]
    }
    /// Object, group and material of face `face`; `None` where it has none, or one without a name.
    pub fn names_of(&self, face: usize) -> [Option<&str>; 3] {
        [
            name_at(&self.object_runs, &self.objects, face),
            name_at(&self.group_runs, &self.groups, face),
            name_at(&self.material_runs, &self.materials, face),
        ]
    }
}

/// The height of [`Document::flat_heights`], of numbers of so many decimals.
pub(crate) fn flat_height(decimals: u32) -> f64 {
    2.0 * 0.1f64.powi(decimals.max(DECIMALS_MIN) as i32)
}

fn name_at<'a>(runs: &[Run], names: &'a [String], face: usize) -> Option<&'a str> {
    let after = runs.partition_point(|run| run.face as usize <= face);
    let run = runs[..after].last()?;
    names.get(run.name as usize).map(String::as_str).filter(|name| !name.is_empty())
}
