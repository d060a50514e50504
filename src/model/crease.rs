//! Hard edges, as the file shades them: split normals, or a change of smoothing group.

use super::{Document, NormalId};
use glam::DVec3;

/// Normals that differ by less are one, rounded: the cosine of one degree. Own choice, far above the rounding of three decimals.
const ONE_NORMAL_COS: f64 = 0.999_847_695_156_391_2;

/// What a file says of its edges.
pub(super) struct Creases<'a> {
    document: &'a Document,
    /// Smoothing group of each face, 0 for none; empty where the file has no groups.
    groups: Vec<u32>,
    has_normals: bool,
}

impl<'a> Creases<'a> {
    pub(super) fn new(document: &'a Document) -> Self {
        let runs = &document.smoothing_runs;
        let mut groups = vec![0; if runs.is_empty() { 0 } else { document.face_count() }];
        for (index, run) in runs.iter().enumerate() {
            let end = runs.get(index + 1).map_or(groups.len(), |next| next.face as usize);
            groups[run.face as usize..end].fill(run.name);
        }
        Self { document, groups, has_normals: !document.normals.is_empty() }
    }

    pub(super) fn is_known(&self) -> bool {
        self.has_normals || !self.groups.is_empty()
    }

    /// Whether the shading breaks along an edge; `None` where the file does not say. `faces` lie on both sides, `ends` are
    /// the corners of both at its one end and at its other.
    pub(super) fn is_split(&self, faces: [u32; 2], ends: [[u32; 2]; 2]) -> Option<bool> {
        let by_normals = if self.has_normals { self.differ(ends[0]).zip(self.differ(ends[1])) } else { None };
        let by_normals = by_normals.map(|(a, b)| a || b);
        if self.groups.is_empty() {
            return by_normals;
        }
        let [a, b] = faces.map(|face| self.groups[face as usize]);
        // Without normals, a face of no group is flat.
        Some(a != b || by_normals.unwrap_or(a == 0))
    }

    fn differ(&self, corners: [u32; 2]) -> Option<bool> {
        let [a, b] = corners.map(|corner| self.document.corners[corner as usize].normal);
        let (a, b) = (a?, b?);
        if a == b {
            return Some(false);
        }
        let normal = |id: NormalId| DVec3::from_array(self.document.normals[id.index()].map(f64::from));
        let (a, b) = (normal(a), normal(b));
        Some(a.dot(b) < ONE_NORMAL_COS * (a.length_squared() * b.length_squared()).sqrt())
    }
}
