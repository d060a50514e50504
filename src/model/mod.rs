//! The model: a [`Document`] resolved into triangles, distinct values, shells and parts.
//!
//! The result is one strict mesh with source lines and original faces. UVs are separate from the rest: a [`Surface`]
//! never changes, a [`Layout`] is replaced by another. No code behind this reads the texture coordinates of the
//! document, but what is about the file itself: its counts, its writer, and links that carry it. Cost: linear in
//! corners, but for sorting the few edges around each position.

mod crease;
mod diagnostics;
pub(crate) mod document;
mod half_edges;
mod history;
mod layout;
mod normals;
mod shell_keys;
mod surface;
mod triangulate;
mod union_find;
pub(crate) mod weld;

pub use diagnostics::{Diagnostic, DiagnosticKind, Diagnostics, MAX_KEPT_DIAGNOSTICS};
pub use document::{Corner, DECIMALS_MIN, Document, NormalId, PositionId, Run, TexcoordId};
pub use history::{History, Step};
pub use layout::{Change, Edge, EdgeKind, Edit, Layout};
pub use normals::CornerNormals;
pub use shell_keys::{CarriedOver, carried_over, pieces};
pub use surface::Surface;
pub(crate) use union_find::UnionFind;

use crate::util::{parallel, three};
use glam::DVec2;
use layout::CornerUvs;
use std::sync::Arc;

/// A resolved model: its surface, which it gives all the names of, and a layout of it.
#[derive(Clone, Debug)]
pub struct Model {
    /// What no edit changes.
    pub surface: Arc<Surface>,
    /// All that is known of its UVs; shared with results about the earlier model.
    pub layout: Arc<Layout>,
    /// Of each of [`Document::materials`], the picture that its library names, as written there; empty where no library
    /// was read. Measures only compare them.
    pub pictures: Vec<Option<String>>,
}

impl std::ops::Deref for Model {
    type Target = Surface;

    fn deref(&self) -> &Surface {
        &self.surface
    }
}

impl Model {
    /// Resolves a document. Never fails: every document that the reader accepts is valid.
    pub fn new(document: Document) -> Self {
        let (position_value, uvs) =
            parallel::both(|| weld::values(&document.positions).value_of, || CornerUvs::of_file(&document));
        let (surface, half_edges) = Surface::new(document, position_value);
        let layout = Arc::new(Layout::of_file(&surface, &half_edges, uvs));
        Self { surface: Arc::new(surface), layout, pictures: Vec::new() }
    }

    /// The same surface with another layout, and what it changes; see [`Layout::with`].
    pub fn with(&self, edit: &Edit) -> Option<(Self, Change)> {
        let (layout, change) = self.layout.with(&self.surface, edit)?;
        let layout = Arc::new(layout);
        Some((Self { surface: self.surface.clone(), layout, pictures: self.pictures.clone() }, change))
    }

    /// The uv of a triangle's corners; `None` where its face is not mapped.
    pub fn uvs(&self, triangle: usize) -> Option<[DVec2; 3]> {
        let uv_values = self.layout.uv_values.as_slice();
        Some(three::each(self.uv_value_indices(triangle)?, |index| uv_values[index as usize]))
    }

    /// As [`Model::uvs`], by index into [`Layout::uv_values`].
    pub fn uv_value_indices(&self, triangle: usize) -> Option<[u32; 3]> {
        self.shell_of(triangle)?;
        let [a, b, c] = three::each(self.triangles[triangle], |corner| self.layout.uv_value_of_corner(corner));
        Some([a?, b?, c?])
    }

    /// The uvs of a face's corners, of those that have one.
    pub fn uvs_of_face(&self, face: usize) -> impl Iterator<Item = DVec2> + '_ {
        let starts = &self.document.face_starts;
        (starts[face]..starts[face + 1]).filter_map(|corner| self.layout.uv_of_corner(corner))
    }

    /// The shell of a triangle; `None` where its face is not mapped.
    pub fn shell_of(&self, triangle: usize) -> Option<u32> {
        self.layout.shell_of_face(self.face_of(triangle))
    }
}
