//! What no edit of the UVs changes: positions, faces, triangles, parts, and which faces meet along which edge.

use super::crease::Creases;
use super::half_edges::HalfEdges;
use super::normals::CornerNormals;
use super::triangulate;
use super::union_find::UnionFind;
use super::{Corner, DiagnosticKind, Diagnostics, Document};
use crate::util::{parallel, three};
use glam::DVec3;
use std::sync::OnceLock;

/// A resolved surface.
#[derive(Clone, Debug)]
pub struct Surface {
    /// The file's elements, names and diagnostics. Its texture coordinates are the file's: those of the model are the layout's.
    pub document: Document,
    /// Triangles of all faces, as indices into [`Document::corners`]; face by face, `n - 2` for a face of `n` corners.
    pub triangles: Vec<[u32; 3]>,
    /// Face of each triangle; empty when every face is one triangle, see [`Surface::face_of`].
    triangle_face: Vec<u32>,
    /// Distinct position of each `v`, by value.
    pub position_value: Vec<u32>,
    /// Part of each face, from 0 in order of its first face.
    pub face_part: Vec<u32>,
    /// How many parts.
    pub part_count: u32,
    /// The shading breaks along more than half of the edges between two faces for which the file specifies it: it is
    /// flat. Of large models some corners are sampled.
    pub mostly_split: bool,
    tangled: Vec<u32>,
    bounds: Option<(DVec3, DVec3)>,
    /// Kept once a layout was edited: a mere check does not need them.
    half_edges: OnceLock<HalfEdges>,
}

impl Surface {
    /// With the half-edges, which the first layout needs.
    pub(super) fn new(document: Document, position_value: Vec<u32>) -> (Self, HalfEdges) {
        let of_edges = || {
            let half_edges = HalfEdges::new(&document, &position_value);
            let mostly_split = half_edges.are_mostly_split(&document, &position_value, &Creases::new(&document));
            (half_edges, mostly_split, parts(&document, &position_value))
        };
        let ((half_edges, mostly_split, (face_part, part_count)), (cut, bounds)) =
            parallel::both(of_edges, || (triangulate::triangulate(&document), bounds(&document)));
        let surface = Self {
            document,
            triangles: cut.triangles,
            triangle_face: cut.faces,
            position_value,
            face_part,
            part_count,
            mostly_split,
            tangled: cut.tangled,
            bounds,
            half_edges: OnceLock::new(),
        };
        (surface, half_edges)
    }

    pub(super) fn half_edges(&self) -> &HalfEdges {
        self.half_edges.get_or_init(|| HalfEdges::new(&self.document, &self.position_value))
    }

    /// Warnings about the file: the reader's, and self-intersecting faces that were triangulated without checks.
    pub fn diagnostics(&self) -> Diagnostics {
        let mut diagnostics = self.document.diagnostics.clone();
        for &face in &self.tangled {
            let corners = self.document.face(face as usize).len();
            diagnostics.raise(self.document.face_lines[face as usize], DiagnosticKind::TangledFace, || {
                format!(
                    "this face of {corners} corners crosses itself too often to be cut into triangles with care; its area is a \
                     guess. Cut it into simple faces and export it again"
                )
            });
        }
        diagnostics.sort();
        diagnostics
    }

    /// Number of triangles.
    pub fn triangle_count(&self) -> usize {
        self.triangles.len()
    }

    /// The face that triangle `triangle` was cut from.
    pub fn face_of(&self, triangle: usize) -> usize {
        if self.triangle_face.is_empty() { triangle } else { self.triangle_face[triangle] as usize }
    }

    /// The triangles that a face was cut into.
    pub fn triangles_of(&self, face: usize) -> std::ops::Range<usize> {
        if self.triangle_face.is_empty() {
            return face..face + 1;
        }
        let first = self.triangle_face.partition_point(|&of| (of as usize) < face);
        first..first + (self.document.face(face).len() - 2)
    }

    /// The face that a corner belongs to.
    pub fn face_of_corner(&self, corner: u32) -> usize {
        self.document.face_starts.partition_point(|&start| start <= corner) - 1
    }

    /// The corner after `corner` in its face.
    pub fn next_corner(&self, corner: u32) -> u32 {
        let starts = &self.document.face_starts;
        let face = self.face_of_corner(corner);
        if corner + 1 == starts[face + 1] { starts[face] } else { corner + 1 }
    }

    /// Unit normal of a face by M. Newell's method, on the side from which it runs counter-clockwise; zero without area.
    pub fn face_normal(&self, face: usize) -> DVec3 {
        let corners = self.document.face(face);
        let position = |index: usize| DVec3::from_array(self.document.positions[corners[index].position.0 as usize]);
        let first = position(0);
        let pairs = (1..corners.len() - 1).map(|index| (position(index) - first).cross(position(index + 1) - first));
        pairs.sum::<DVec3>().normalize_or_zero()
    }

    /// The three corners of a triangle.
    pub fn corners(&self, triangle: usize) -> [Corner; 3] {
        let corners = self.document.corners.as_slice();
        three::each(self.triangles[triangle], |corner| corners[corner as usize])
    }

    /// Where the corners of a triangle are.
    pub fn positions(&self, triangle: usize) -> [DVec3; 3] {
        let positions = self.document.positions.as_slice();
        three::each(self.corners(triangle), |corner| DVec3::from_array(positions[corner.position.0 as usize]))
    }

    /// The part of a triangle.
    pub fn part_of(&self, triangle: usize) -> u32 {
        self.face_part[self.face_of(triangle)]
    }

    /// The lowest and highest coordinates of all faces; `None` without faces.
    pub fn bounds(&self) -> Option<(DVec3, DVec3)> {
        self.bounds
    }

    /// Unit normals at the corners of all triangles: the file's own, or else the mean over the faces around the
    /// position that do not turn away too far.
    pub fn corner_normals(&self) -> CornerNormals<'_> {
        CornerNormals::new(self)
    }
}

/// Of each face its part, the classes of faces under shared position values; and how many.
fn parts(document: &Document, position_value: &[u32]) -> (Vec<u32>, u32) {
    let mut parts = UnionFind::new(document.face_count());
    let mut first_face = vec![u32::MAX; position_value.len()];
    for face in 0..document.face_count() {
        for corner in document.face(face) {
            let first = &mut first_face[position_value[corner.position.0 as usize] as usize];
            if *first == u32::MAX {
                *first = face as u32;
            } else {
                parts.join(*first, face as u32);
            }
        }
    }
    parts.number(|_| true)
}

fn bounds(document: &Document) -> Option<(DVec3, DVec3)> {
    let at = |corner: &Corner| DVec3::from_array(document.positions[corner.position.0 as usize]);
    let first = at(document.corners.first()?);
    Some(document.corners.iter().map(at).fold((first, first), |(low, high), p| (low.min(p), high.max(p))))
}
