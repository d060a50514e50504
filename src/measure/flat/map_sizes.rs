//! The size in px that each face's map has; which sheet a face is on is decided in `sheets`.

use crate::brief::SheetMap;
use crate::model::Model;
use glam::DVec2;

/// The size of every face's map, as far as the brief alone decides it.
#[derive(Clone, Debug, PartialEq)]
pub struct MapSizes {
    pub(in crate::measure) usual: DVec2,
    /// Of each face; empty where all have the usual one.
    pub(in crate::measure) of_face: Vec<u16>,
    /// Of each sheet, px.
    pub(in crate::measure) sizes: Vec<DVec2>,
}

impl Default for MapSizes {
    fn default() -> Self {
        Self { usual: map_scale(SheetMap::default()), of_face: Vec::new(), sizes: Vec::new() }
    }
}

impl MapSizes {
    /// px for a uv of 1, of a triangle's map.
    #[inline]
    pub fn scale(&self, model: &Model, triangle: usize) -> DVec2 {
        if self.of_face.is_empty() {
            return self.usual;
        }
        self.sizes[usize::from(self.of_face[model.face_of(triangle)])]
    }

    /// The size that all faces' maps have, px; `None` where they differ.
    pub fn all(&self) -> Option<DVec2> {
        self.of_face.is_empty().then_some(self.usual)
    }
}

/// The map's size as a scale from uv to px.
pub fn map_scale(map: SheetMap) -> DVec2 {
    DVec2::new(f64::from(map.width_px), f64::from(map.height_px))
}
