//! The model: a [`Document`] resolved into triangles, distinct values, shells and parts.
//!
//! After this there is one strict mesh; it remembers the source line and the original face.
//! Cost: linear in corners, but for sorting the few edges around each position.

mod crease;
mod normals;
mod topology;
mod triangulate;
mod weld;

pub use normals::CornerNormals;
pub(crate) use topology::UnionFind;
pub use topology::{Edge, EdgeKind, Topology};

use crate::obj::{Corner, DiagnosticKind, Diagnostics, Document};
use crate::{parallel, three};
use glam::{DVec2, DVec3};

/// A resolved model.
#[derive(Clone, Debug)]
pub struct Model {
    /// The file's elements, names and diagnostics.
    pub document: Document,
    /// Triangles of all faces, as indices into [`Document::corners`]; face by face, `n - 2` for a face of `n` corners.
    pub triangles: Vec<[u32; 3]>,
    /// Face of each triangle; empty when every face is one triangle, see [`Model::face_of`].
    triangle_face: Vec<u32>,
    /// Which faces have a valid uv at every corner.
    pub face_has_uv: Vec<bool>,
    /// Distinct position of each `v`, by value.
    pub position_value: Vec<u32>,
    /// Distinct uv of each `vt`, by value.
    pub uv_value: Vec<u32>,
    /// The distinct uv values.
    pub uv_values: Vec<DVec2>,
    /// Shells, parts and edges.
    pub topology: Topology,
    /// Of each of [`Document::materials`], the picture that its library names, as written there; empty where no library was
    /// read. What is measured looks only at which are the same.
    pub pictures: Vec<Option<String>>,
    tangled: Vec<u32>,
    bounds: Option<(DVec3, DVec3)>,
}

impl Model {
    /// Resolves a document. Never fails: whatever the reader let through has a shape.
    pub fn new(document: Document) -> Self {
        let (position_value, uv) =
            parallel::both(|| weld::values(&document.positions).value_of, || weld::values(&document.texcoords));
        let uv_values: Vec<DVec2> =
            uv.first_of.iter().map(|&index| DVec2::from_array(document.texcoords[index as usize])).collect();
        let face_has_uv: Vec<bool> = (0..document.face_count())
            .map(|face| document.face(face).iter().all(|corner| corner.texcoord.is_some()))
            .collect();
        let (topology, (cut, bounds)) = parallel::both(
            || Topology::new(&document, &face_has_uv, &position_value, &uv.value_of),
            || (triangulate::triangulate(&document), bounds(&document)),
        );
        Self {
            document,
            triangles: cut.triangles,
            triangle_face: cut.faces,
            tangled: cut.tangled,
            face_has_uv,
            position_value,
            uv_value: uv.value_of,
            uv_values,
            topology,
            pictures: Vec::new(),
            bounds,
        }
    }

    /// What is to be said of the file: what the reader found, and faces that cross themselves so often that they were not cut
    /// into triangles with care.
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

    /// The corner after `corner` in its face.
    pub fn next_corner(&self, corner: u32) -> u32 {
        let starts = &self.document.face_starts;
        let face = self.face_of_corner(corner);
        if corner + 1 == starts[face + 1] { starts[face] } else { corner + 1 }
    }

    /// Where the corners of a triangle are.
    pub fn positions(&self, triangle: usize) -> [DVec3; 3] {
        let positions = self.document.positions.as_slice();
        three::each(self.corners(triangle), |corner| DVec3::from_array(positions[corner.position.0 as usize]))
    }

    /// The uv of a triangle's corners; `None` where its face is not mapped.
    pub fn uvs(&self, triangle: usize) -> Option<[DVec2; 3]> {
        let uv_values = self.uv_values.as_slice();
        Some(three::each(self.uv_value_indices(triangle)?, |index| uv_values[index as usize]))
    }

    /// As [`Model::uvs`], by index into [`Model::uv_values`].
    pub fn uv_value_indices(&self, triangle: usize) -> Option<[u32; 3]> {
        if !self.face_has_uv[self.face_of(triangle)] {
            return None;
        }
        let [a, b, c] = three::each(self.corners(triangle), |corner| corner.texcoord);
        let uv_value = self.uv_value.as_slice();
        Some([uv_value[a?.index()], uv_value[b?.index()], uv_value[c?.index()]])
    }

    /// The shell of a triangle; `None` where its face is not mapped.
    pub fn shell_of(&self, triangle: usize) -> Option<u32> {
        self.topology.face_shell[self.face_of(triangle)].map(|shell| shell.0)
    }

    /// The part of a triangle.
    pub fn part_of(&self, triangle: usize) -> u32 {
        self.topology.face_part[self.face_of(triangle)]
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

fn bounds(document: &Document) -> Option<(DVec3, DVec3)> {
    let at = |corner: &Corner| DVec3::from_array(document.positions[corner.position.0 as usize]);
    let first = at(document.corners.first()?);
    Some(document.corners.iter().map(at).fold((first, first), |(low, high), p| (low.min(p), high.max(p))))
}
