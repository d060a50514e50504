//! The layout: one uv for each corner, and what follows from them on a surface: shells, their borders, seams.
//!
//! *Shared*: two faces on an edge of the surface whose uv values agree at both ends. Shells are the classes of mapped
//! faces under shared edges. Values are numbered in the order of the corners that have them first, so that a layout
//! depends only on the surface and the uvs of its corners: an edited one equals the one read from the written file.
//! Cost: linear in corners; see [`super::half_edges`].
//!
//! Edges of no length join shells like any others: a shared edge is defined by the values at its ends, and files with
//! collapsed poles have such edges. Leaving them out would split shells.
//!
//! Values are numbered by corners, not by the `vt` of the file, so that the report of an edited model equals the report
//! of the written file exactly. Shells follow exact values, not indices: exporters repeat uvs.

use super::Document;
use super::crease::Creases;
use super::document::{flat_height, measured};
use super::half_edges::HalfEdges;
use super::union_find::{NONE, UnionFind};
use super::{Surface, weld};
use crate::util::packed;
use glam::DVec2;

/// What an edge is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EdgeKind {
    /// Two mapped faces whose uv values differ at either end.
    Seam,
    /// One face.
    Open,
    /// More than two faces.
    NonManifold,
}

/// An edge that is kept: those between two faces of one shell are not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Edge {
    /// What it is.
    pub kind: EdgeKind,
    /// The corner the edge starts at in its first face (index into [`Document::corners`]); it ends at that face's next.
    pub corner: u32,
    /// The same in its second face, if it has one.
    pub other: Option<u32>,
    /// Of a seam, whether the shading breaks along it: split normals, or another smoothing group; `None` where the file does
    /// not say.
    pub split: Option<bool>,
}

/// A layout of one surface.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    /// The distinct uvs.
    pub uv_values: Vec<DVec2>,
    /// How many shells.
    pub shell_count: u32,
    /// Seam, open and non-manifold edges, in the order of the corners they start at.
    pub edges: Vec<Edge>,
    /// Edges inside shells that are cut: shells follow uvs, so a cut changes nothing until one of its sides is moved
    /// away, and then it is a seam. By the corners they start at in their first face, rising.
    pub open_cuts: Vec<u32>,
    /// Most decimals that a uv is written with.
    decimals: u32,
    /// Index into [`Layout::uv_values`] of each corner; [`NONE`] without one.
    corner_uv: Vec<u32>,
    /// Shell of each face, from 0 in order of its first face; [`NONE`] where it is not mapped.
    face_shell: Vec<u32>,
    /// A bit for each corner: whether the boundary of its shell runs from it to the face's next corner.
    border: Vec<u64>,
}

/// New uvs for some corners, and new cuts.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Edit {
    /// Corner and uv; of one that is named twice the last counts. A face that was not mapped is once all its corners have one.
    pub uvs: Vec<(u32, DVec2)>,
    /// Edges to cut, by a corner they start at.
    pub cuts: Vec<u32>,
    /// New maximum of decimals of uvs, of the file's and of these; `None` if unchanged. What counts as flat on the
    /// sheet follows from it.
    pub decimals: Option<u32>,
}

/// What another layout changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// No uv, and not how finely they are written.
    Nothing,
    /// UVs; no shell splits, merges or appears: moving, turning, scaling, flipping, relaxing.
    Uvs,
    /// Which faces make a shell, or where seams run.
    Connectivity,
}

impl Layout {
    /// That of the file. Which faces are mapped: those with a valid uv at every corner.
    pub(super) fn of_file(surface: &Surface, half_edges: &HalfEdges, uvs: CornerUvs) -> Self {
        let shells = Shells::new(surface, half_edges, &uvs.corner_uv);
        Self::put_together(uvs, shells, surface.document.decimals[1])
    }

    fn put_together(uvs: CornerUvs, shells: Shells, decimals: u32) -> Self {
        let CornerUvs { corner_uv, uv_values } = uvs;
        let Shells { face_shell, shell_count, edges, border } = shells;
        let open_cuts = Vec::new();
        Self { uv_values, shell_count, edges, open_cuts, decimals, corner_uv, face_shell, border }
    }

    /// Another layout of the same surface, and what it changes; `None` where a corner does not exist or a uv is one that no
    /// file can hold.
    pub fn with(&self, surface: &Surface, edit: &Edit) -> Option<(Self, Change)> {
        let corners = self.corner_uv.len() as u32;
        let can_be =
            |&(corner, uv): &(u32, DVec2)| corner < corners && uv.to_array().into_iter().all(|x| measured(x).is_some());
        if !edit.uvs.iter().all(can_be) || edit.cuts.iter().any(|&corner| corner >= corners) {
            return None;
        }
        let uvs = self.edited(edit);
        let decimals = edit.decimals.unwrap_or(self.decimals);
        let is_same = uvs.corner_uv == self.corner_uv && uvs.uv_values == self.uv_values && decimals == self.decimals;
        let change = if is_same {
            Change::Nothing
        } else if self.hangs_together_as(surface, &uvs) {
            Change::Uvs
        } else {
            Change::Connectivity
        };
        let shells = if change == Change::Connectivity {
            Shells::new(surface, surface.half_edges(), &uvs.corner_uv)
        } else {
            let (face_shell, edges, border) = (self.face_shell.clone(), self.edges.clone(), self.border.clone());
            Shells { face_shell, shell_count: self.shell_count, edges, border }
        };
        let mut layout = Self::put_together(uvs, shells, decimals);
        let cuts = self.open_cuts.iter().chain(&edit.cuts);
        let mut cuts: Vec<u32> = cuts.filter_map(|&corner| layout.inner_edge(surface, corner)).collect();
        cuts.sort_unstable();
        cuts.dedup();
        layout.open_cuts = cuts;
        Some((layout, change))
    }

    fn edited(&self, edit: &Edit) -> CornerUvs {
        let new = edit.uvs.iter().map(|(_, uv)| uv.to_array().map(|x| measured(x).unwrap_or(x)));
        let points: Vec<[f64; 2]> = self.uv_values.iter().map(DVec2::to_array).chain(new).collect();
        let mut corner_uv = self.corner_uv.clone();
        for (&(corner, _), point) in edit.uvs.iter().zip(self.uv_values.len() as u32..) {
            corner_uv[corner as usize] = point;
        }
        CornerUvs::numbered(corner_uv, &points)
    }

    /// Whether corners at the same place on the surface agree under other uvs just where they agree under these, and the same
    /// ones have a uv: then shells are the same. Only places are looked at where something changes.
    fn hangs_together_as(&self, surface: &Surface, uvs: &CornerUvs) -> bool {
        let corner_uv = &uvs.corner_uv;
        let value = |corner: usize| surface.position_value[surface.document.corners[corner].position.0 as usize];
        let mut kept = vec![NONE; self.uv_values.len()];
        let mut touched = vec![false; surface.position_value.len()];
        // Numbers of values shift where one appears: the new number of a value at its first corner counts as no change.
        for (corner, (&old, &new)) in self.corner_uv.iter().zip(corner_uv).enumerate() {
            if (old == NONE) != (new == NONE) {
                return false;
            }
            if old != NONE {
                let kept = &mut kept[old as usize];
                if *kept == NONE {
                    *kept = new;
                } else if *kept != new {
                    touched[value(corner) as usize] = true;
                }
            }
        }
        // Two values that became one.
        let mut came_from = vec![NONE; uvs.uv_values.len()];
        for (corner, (&old, &new)) in
            self.corner_uv.iter().zip(corner_uv).enumerate().filter(|(_, (old, _))| **old != NONE)
        {
            let from = &mut came_from[new as usize];
            if *from == NONE {
                *from = old;
            } else if *from != old {
                touched[value(corner) as usize] = true;
            }
        }
        let mut at_touched: Vec<u128> = Vec::new();
        for (corner, (&old, &new)) in self.corner_uv.iter().zip(corner_uv).enumerate() {
            let value = value(corner);
            if touched[value as usize] && old != NONE {
                at_touched.push(packed::four([0, value, old, new]));
            }
        }
        at_touched.sort_unstable();
        at_touched.dedup();
        // Each old value has become one new one, and each new one comes from one old one.
        let mut back: Vec<u128> = at_touched
            .iter()
            .map(|pair| {
                let [_, value, old, new] = packed::split_four(*pair);
                packed::four([0, value, new, old])
            })
            .collect();
        back.sort_unstable();
        [at_touched, back].iter().all(|pairs| pairs.windows(2).all(|pair| pair[0] >> 32 != pair[1] >> 32))
    }

    /// The corner an edge starts at in its first face, where it is one between two faces of one shell.
    fn inner_edge(&self, surface: &Surface, corner: u32) -> Option<u32> {
        if self.is_border(corner) || self.shell_of_face(surface.face_of_corner(corner)).is_none() {
            return None;
        }
        surface.half_edges().first_of(&surface.document, &surface.position_value, corner)
    }

    /// Index into [`Layout::uv_values`]; `None` for a corner without uv.
    pub fn uv_value_of_corner(&self, corner: u32) -> Option<u32> {
        Some(self.corner_uv[corner as usize]).filter(|&value| value != NONE)
    }

    /// The uv of a corner.
    pub fn uv_of_corner(&self, corner: u32) -> Option<DVec2> {
        self.uv_value_of_corner(corner).map(|value| self.uv_values[value as usize])
    }

    /// The shell of a face; `None` where it is not mapped.
    pub fn shell_of_face(&self, face: usize) -> Option<u32> {
        Some(self.face_shell[face]).filter(|&shell| shell != NONE)
    }

    /// Each face's shell, in order.
    pub fn face_shells(&self) -> impl ExactSizeIterator<Item = Option<u32>> + '_ {
        self.face_shell.iter().map(|&shell| Some(shell).filter(|&shell| shell != NONE))
    }

    /// The key of each shell: its lowest face. Rising.
    pub fn shell_keys(&self) -> Vec<u32> {
        let mut keys = Vec::with_capacity(self.shell_count as usize);
        for (&shell, face) in self.face_shell.iter().zip(0u32..) {
            if shell as usize == keys.len() {
                keys.push(face);
            }
        }
        keys
    }

    /// How many faces are not mapped.
    pub fn unmapped_count(&self) -> usize {
        self.face_shell.iter().filter(|&&shell| shell == NONE).count()
    }

    /// Height of a triangle on the sheet that rounding alone gives corners in line, see [`Document::flat_heights`].
    pub fn flat_height(&self) -> f64 {
        flat_height(self.decimals)
    }

    /// Whether the boundary of a corner's shell runs from it to the face's next corner.
    pub fn is_border(&self, corner: u32) -> bool {
        self.border[corner as usize / 64] >> (corner % 64) & 1 == 1
    }

    /// About how much memory it takes.
    pub fn bytes(&self) -> usize {
        size_of_val(self.uv_values.as_slice())
            + size_of_val(self.edges.as_slice())
            + size_of_val(self.open_cuts.as_slice())
            + size_of_val(self.corner_uv.as_slice())
            + size_of_val(self.face_shell.as_slice())
            + size_of_val(self.border.as_slice())
    }

    /// Number of edges of a kind.
    pub fn count(&self, kind: EdgeKind) -> usize {
        self.edges.iter().filter(|edge| edge.kind == kind).count()
    }
}

/// One uv for each corner, numbered.
pub(super) struct CornerUvs {
    corner_uv: Vec<u32>,
    uv_values: Vec<DVec2>,
}

impl CornerUvs {
    pub(super) fn of_file(document: &Document) -> Self {
        let corner_uv = document.corners.iter().map(|corner| corner.texcoord.map_or(NONE, |id| id.index() as u32));
        Self::numbered(corner_uv.collect(), &document.texcoords)
    }

    /// `corner_uv`: an index into `points`, of which some may be the same.
    fn numbered(mut corner_uv: Vec<u32>, points: &[[f64; 2]]) -> Self {
        let welded = weld::values(points);
        let mut number = vec![NONE; welded.first_of.len()];
        let mut uv_values = Vec::with_capacity(welded.first_of.len());
        for corner in corner_uv.iter_mut().filter(|corner| **corner != NONE) {
            let value = welded.value_of[*corner as usize] as usize;
            if number[value] == NONE {
                number[value] = uv_values.len() as u32;
                // Of 0 and -0, which are one, it is 0.
                uv_values.push(DVec2::from_array(points[welded.first_of[value] as usize]) + DVec2::ZERO);
            }
            *corner = number[value];
        }
        Self { corner_uv, uv_values }
    }
}

struct Shells {
    face_shell: Vec<u32>,
    shell_count: u32,
    edges: Vec<Edge>,
    border: Vec<u64>,
}

impl Shells {
    fn new(surface: &Surface, half_edges: &HalfEdges, corner_uv: &[u32]) -> Self {
        let (document, position_value) = (&surface.document, &surface.position_value);
        let is_mapped = |face: usize| {
            let corners = document.face_starts[face] as usize..document.face_starts[face + 1] as usize;
            corner_uv[corners].iter().all(|&uv| uv != NONE)
        };
        let mapped_faces: Vec<bool> = (0..document.face_count()).map(is_mapped).collect();
        let mut shells = UnionFind::new(document.face_count());
        let mut edges = Vec::new();
        let mut border = vec![u64::MAX; document.corners.len().div_ceil(64)];
        let mut within = |corner: u32| border[corner as usize / 64] &= !(1 << (corner % 64));
        let creases = Creases::new(document);
        let mapped = |corner: u32| mapped_faces[half_edges.face(corner) as usize];
        half_edges.for_each_edge(|(lower, upper), around| {
            // uv values at the end with the position value `lower`, and at the other.
            let uv_ends = |corner: u32| {
                let [from, to] = [corner, half_edges.next(document, corner)].map(|corner| corner_uv[corner as usize]);
                let starts_at = position_value[document.corners[corner as usize].position.0 as usize];
                if starts_at == lower { (from, to) } else { (to, from) }
            };
            match *around {
                // Collapsed to one position it is still an edge of its faces: where its ends agree they are joined, as
                // along any other; it is no edge to look at.
                _ if lower == upper => {
                    let ends = |corner: u32| {
                        let (a, b) = uv_ends(corner);
                        (a.min(b), a.max(b))
                    };
                    for_each_alike(around.iter().filter(|&&c| mapped(c)).map(|&c| (ends(c), c)), |a, b| {
                        shells.join(half_edges.face(a), half_edges.face(b));
                    });
                }
                [corner] => edges.push(Edge { kind: EdgeKind::Open, corner, other: None, split: None }),
                [a, b] => {
                    if mapped(a) && mapped(b) {
                        if uv_ends(a) == uv_ends(b) {
                            shells.join(half_edges.face(a), half_edges.face(b));
                            [a, b].into_iter().for_each(&mut within);
                        } else {
                            let is_known = creases.is_known();
                            let split = if is_known {
                                half_edges.is_split(document, position_value, &creases, [a, b])
                            } else {
                                None
                            };
                            edges.push(Edge { kind: EdgeKind::Seam, corner: a, other: Some(b), split });
                        }
                    }
                }
                _ => {
                    let (corner, other) = (around[0], Some(around[1]));
                    edges.push(Edge { kind: EdgeKind::NonManifold, corner, other, split: None });
                    for_each_alike(around.iter().filter(|&&c| mapped(c)).map(|&c| (uv_ends(c), c)), |a, b| {
                        shells.join(half_edges.face(a), half_edges.face(b));
                        [a, b].into_iter().for_each(&mut within);
                    });
                }
            }
        });
        let (face_shell, shell_count) = shells.number(|face| mapped_faces[face]);
        Self { face_shell, shell_count, edges: by_corner(&edges), border }
    }
}

/// In the order of their corners, each of which starts one edge: the order of faces is the file's, that of positions
/// does not matter.
fn by_corner(edges: &[Edge]) -> Vec<Edge> {
    let mut order: Vec<u64> = edges.iter().zip(0..).map(|(edge, place)| packed::two(edge.corner, place)).collect();
    order.sort_unstable();
    order.into_iter().map(|packed| edges[packed::split_two(packed).1 as usize]).collect()
}

/// Calls with every two neighbours among the corners, in order of their uv ends, whose ends agree.
fn for_each_alike(corners: impl Iterator<Item = ((u32, u32), u32)>, mut call: impl FnMut(u32, u32)) {
    let mut sorted: Vec<u128> =
        corners.map(|((lower, upper), corner)| packed::four([0, lower, upper, corner])).collect();
    sorted.sort_unstable();
    for pair in sorted.windows(2).filter(|pair| pair[0] >> 32 == pair[1] >> 32) {
        call(pair[0] as u32, pair[1] as u32);
    }
}
