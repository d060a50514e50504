//! Shells of one shape and pose, by a signature instead of a match of their points.
//!
//! Two shells are *equals* when they have as many faces and corners, and these six lengths agree within [`ALIKE`] of
//! the shell's radius: the square root of the surface, mean and root mean square of the edges, root mean square of the
//! corners' distance from their middle, height along world-up, and how high their middle is in it. Congruent shells in
//! the same pose agree in all of them, mirror images too; others hardly ever do. Cost: two passes over the corners
//! where enough shells are of one size, n log n in shells, and at most [`COMPARED_MAX`] comparisons a shell.

use crate::model::Model;
use crate::util::packed;
use glam::DVec3;

/// Shapes this near are one, as a share of their radius. By definition.
const ALIKE: f64 = 0.01;
/// Shapes of nearly one surface that a shell is compared with; where there are more, some equals stay apart.
const COMPARED_MAX: usize = 64;

#[derive(Clone, Copy)]
struct Shape {
    faces: u32,
    corners: u32,
    surface: f64,
    edges: f64,
    edges_squared: f64,
    middle: DVec3,
    radius_squared: f64,
    low: f64,
    high: f64,
}

impl Shape {
    const NONE: Self = Self {
        faces: 0,
        corners: 0,
        surface: 0.0,
        edges: 0.0,
        edges_squared: 0.0,
        middle: DVec3::ZERO,
        radius_squared: 0.0,
        low: f64::INFINITY,
        high: f64::NEG_INFINITY,
    };

    fn size(&self) -> u64 {
        packed::two(self.faces, self.corners)
    }

    /// Lengths to compare, the first of them also to sort by; and the radius.
    fn lengths(&self, up: DVec3) -> ([f64; 6], f64) {
        let count = f64::from(self.corners);
        let radius = (self.radius_squared / count).sqrt();
        let lengths = [
            self.surface.sqrt(),
            self.edges / count,
            (self.edges_squared / count).sqrt(),
            radius,
            self.high - self.low,
            self.middle.dot(up) - self.low,
        ];
        (lengths, radius)
    }
}

/// Shells in groups of equals, those of two and more. `surface` is that of the triangles; `is_worth` is asked of shells with as
/// many faces and corners whether they are worth comparing.
pub(super) fn equals(model: &Model, surface: &[f64], up: DVec3, is_worth: &dyn Fn(&[u32]) -> bool) -> Vec<Vec<u32>> {
    let mut shapes = counted(model);
    let alike = worth_comparing(&shapes, is_worth);
    if alike.is_empty() {
        return Vec::new();
    }
    measure(&mut shapes, model, surface, up);
    let lengths: Vec<([f64; 6], f64)> = shapes.iter().map(|shape| shape.lengths(up)).collect();
    let size = |shell: u32| shapes[shell as usize].size();
    let order = packed::ordered(alike, |&a, &b| {
        size(a).cmp(&size(b)).then(lengths[a as usize].0[0].total_cmp(&lengths[b as usize].0[0]))
    });
    let mut groups: Vec<Vec<u32>> = Vec::new();
    for shell in order {
        let (own, radius) = lengths[shell as usize];
        let alike = |a: f64, b: f64| (a - b).abs() <= ALIKE * radius;
        let known = groups.iter().rev().take(COMPARED_MAX).position(|group| {
            let other = lengths[group[0] as usize].0;
            size(group[0]) == size(shell) && own.iter().zip(other).all(|(&a, b)| alike(a, b))
        });
        match known {
            Some(back) => {
                let place = groups.len() - 1 - back;
                groups[place].push(shell);
            }
            None => groups.push(vec![shell]),
        }
    }
    groups.retain(|group| group.len() > 1);
    groups
}

/// Faces and corners of each shell.
fn counted(model: &Model) -> Vec<Shape> {
    let mut shapes = vec![Shape::NONE; model.layout.shell_count as usize];
    for (face, shell) in model.layout.face_shells().enumerate() {
        if let Some(shell) = shell {
            let shape = &mut shapes[shell as usize];
            shape.faces += 1;
            shape.corners += model.document.face(face).len() as u32;
        }
    }
    shapes
}

/// Shells of each size, where these are worth comparing: mostly none are, and nothing has to be measured.
fn worth_comparing(shapes: &[Shape], is_worth: &dyn Fn(&[u32]) -> bool) -> Vec<u32> {
    let size = |shell: u32| shapes[shell as usize].size();
    let shells = packed::ordered((0..shapes.len() as u32).collect(), |&a, &b| size(a).cmp(&size(b)));
    let mut kept = Vec::new();
    for same in shells.chunk_by(|&a, &b| size(a) == size(b)) {
        if is_worth(same) {
            kept.extend_from_slice(same);
        }
    }
    kept
}

fn measure(shapes: &mut [Shape], model: &Model, surface: &[f64], up: DVec3) {
    let document = &model.document;
    let at = |corner: &crate::model::Corner| DVec3::from_array(document.positions[corner.position.0 as usize]);
    let faces = || model.layout.face_shells().enumerate().filter_map(|(face, shell)| Some((face, shell? as usize)));
    for (face, shell) in faces() {
        let (shape, corners) = (&mut shapes[shell], document.face(face));
        let mut before = at(&corners[corners.len() - 1]);
        for here in corners.iter().map(at) {
            let squared = (here - before).length_squared();
            shape.edges += squared.sqrt();
            shape.edges_squared += squared;
            shape.middle += here;
            let height = here.dot(up);
            (shape.low, shape.high) = (shape.low.min(height), shape.high.max(height));
            before = here;
        }
    }
    shapes.iter_mut().for_each(|shape| shape.middle /= f64::from(shape.corners.max(1)));
    for (face, shell) in faces() {
        let shape = &mut shapes[shell];
        for here in document.face(face).iter().map(at) {
            shape.radius_squared += (here - shape.middle).length_squared();
        }
    }
    for (triangle, area) in surface.iter().enumerate() {
        if let Some(shell) = model.shell_of(triangle) {
            shapes[shell as usize].surface += area;
        }
    }
}
