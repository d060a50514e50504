//! Area of what several convex pieces of one triangle cover together.
//!
//! By Green's theorem the area of a union is half the sum, over the edges p -> q of all pieces, of p x q times the
//! share of the edge that is the union's border. A convex piece hides one interval of an edge (Cyrus & Beck 1978); what
//! is left of 0..1 after all of them is border. No crossing of two edges is ever made a corner, so only time grows with
//! the crossings. Where edges coincide the first piece's counts.
//!
//! The pieces are put into the triangle's own frame, corners (0, 0), (1, 0), (0, 1), and there on a grid of [`GRID`] steps:
//! all signs are exact in integers then, and two pieces agree on where their edges meet to a double's last bits.
//! Cost: linear in the pairs of pieces whose boxes meet, n log n in pieces.
//!
//! An overlay of the pieces did not finish: 1,321 pieces have a million crossings, and it made a corner of each.

use super::box_tree::{BoxTree, Entry};
use super::convex::{Piece, cross_of_whole};
use crate::util::packed;
use glam::DVec2;

/// Steps of the grid along a side: as fine as doubles near 1 are, nearly, and still whole numbers in a double.
const GRID: f64 = (1u64 << 50) as f64;
/// Effort of comparing two boxes, and of clipping one edge with one piece, in the units of `sharing`.
const EFFORT_BOXES: u64 = 10;
const EFFORT_EDGE: u64 = 20;

/// Share of a counter-clockwise triangle, 0..1, that its pieces cover; `None` where that takes more effort than is `left`.
pub(super) fn share_covered(own: [DVec2; 3], pieces: &[Piece], left: &mut u64) -> Option<f64> {
    let (right, up) = (own[1] - own[0], own[2] - own[0]);
    let whole = right.perp_dot(up);
    let on_grid = |p: DVec2| {
        let at = DVec2::new((p - own[0]).perp_dot(up), right.perp_dot(p - own[0])) / whole;
        (at.clamp(DVec2::ZERO, DVec2::ONE) * GRID).round()
    };
    let hulls = pieces.iter().map(|piece| piece.hull(on_grid)).filter(|hull| hull.corners().len() > 2).collect();
    // Large ones hide most edges at once.
    let hulls = packed::ordered(hulls, |a, b| b.area().total_cmp(&a.area()));
    let entry = |(hull, id): (&Piece, u32)| {
        let (low, high) = hull.bounds();
        Entry { low, high, id }
    };
    let tree = BoxTree::new(hulls.iter().zip(0..).map(entry).collect());
    let (mut twice_area, mut near) = (0.0, Vec::new());
    let mut border = Border::default();
    for (hull, id) in hulls.iter().zip(0u32..) {
        near.clear();
        tree.for_each_meeting(&entry((hull, id)), |other| near.extend((other != id).then_some(u64::from(other))));
        near.sort_unstable();
        *left = left.checked_sub(EFFORT_BOXES * near.len() as u64)?;
        for (index, &p) in hull.corners().iter().enumerate() {
            let q = hull.corners()[(index + 1) % hull.corners().len()];
            border.reset();
            for &other in &near {
                *left = left.checked_sub(EFFORT_EDGE + border.free.len() as u64)?;
                if let Some((from, to)) = hidden(p, q, &hulls[other as usize], other < u64::from(id)) {
                    border.hide(from, to);
                    if border.free.is_empty() {
                        break;
                    }
                }
            }
            twice_area += p.perp_dot(q) * border.share();
        }
    }
    Some((twice_area / (GRID * GRID)).clamp(0.0, 1.0))
}

/// What is left of an edge, as intervals of 0..1, ascending.
#[derive(Default)]
struct Border {
    free: Vec<(f64, f64)>,
    before: Vec<(f64, f64)>,
}

impl Border {
    fn reset(&mut self) {
        self.free.clear();
        self.free.push((0.0, 1.0));
    }

    fn hide(&mut self, from: f64, to: f64) {
        std::mem::swap(&mut self.free, &mut self.before);
        self.free.clear();
        for &(start, end) in &self.before {
            self.free
                .extend([(start, end.min(from)), (start.max(to), end)].into_iter().filter(|(start, end)| start < end));
        }
    }

    fn share(&self) -> f64 {
        self.free.iter().map(|(start, end)| end - start).sum()
    }
}

/// The interval of the edge p -> q whose right side lies in a counter-clockwise piece, or on whose left side that piece
/// counts first.
fn hidden(p: DVec2, q: DVec2, piece: &Piece, first: bool) -> Option<(f64, f64)> {
    let (mut from, mut to) = (0.0f64, 1.0f64);
    let corners = piece.corners();
    for (index, &r) in corners.iter().enumerate() {
        let along = corners[(index + 1) % corners.len()] - r;
        let (a, b) = (cross_of_whole(along, p - r), cross_of_whole(along, q - r));
        if a == 0.0 && b == 0.0 {
            if along.dot(q - p) > 0.0 && !first {
                return None;
            }
        } else if a <= 0.0 && b <= 0.0 {
            return None;
        } else if a < 0.0 {
            from = from.max(a / (a - b));
        } else if b < 0.0 {
            to = to.min(a / (a - b));
        }
    }
    (from < to).then_some((from, to))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::sheet::{contours, convex};

    const OWN: [DVec2; 3] = [DVec2::new(0.2, 0.1), DVec2::new(0.9, 0.3), DVec2::new(0.4, 0.8)];

    fn share(pieces: &[Piece]) -> Option<f64> {
        share_covered(OWN, pieces, &mut u64::MAX.clone())
    }

    #[test]
    fn union_of_equal_touching_and_nested_pieces() {
        let whole = Piece::from(OWN);
        let middle = |i: usize| (OWN[i] + OWN[(i + 1) % 3]) / 2.0;
        let corner = |i: usize| Piece::from([OWN[i], middle(i), middle((i + 2) % 3)]);
        let close = |pieces: &[Piece], expected: f64| {
            let share = share(pieces).unwrap();
            assert!((share - expected).abs() < 1e-12, "{share} instead of {expected}");
        };
        close(&[], 0.0);
        close(&[whole], 1.0);
        close(&[whole, whole, corner(0)], 1.0);
        close(&[corner(0), corner(0), corner(0)], 0.25);
        close(&[corner(0), corner(1), corner(2)], 0.75);
        close(&[corner(0), corner(1), corner(2), Piece::from([middle(0), middle(1), middle(2)])], 1.0);
        // Two halves along two medians: all but the third between the centre and a side's half.
        close(&[Piece::from([OWN[0], OWN[1], middle(1)]), Piece::from([OWN[0], OWN[1], middle(2)])], 2.0 / 3.0);
    }

    #[test]
    fn union_of_random_pieces_matches_the_overlay() {
        let mut state = 3u64;
        let mut random = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) as f64 / f64::from(1u32 << 31)
        };
        for size in [0.05, 0.2, 1.0] {
            let pieces: Vec<Piece> = (0..120)
                .filter_map(|_| {
                    let centre = DVec2::new(random(), random());
                    let mut corner = || centre + (DVec2::new(random(), random()) - 0.5) * size;
                    let [a, b, c] = [corner(), corner(), corner()];
                    let q = if (b - a).perp_dot(c - a) > 0.0 { [a, b, c] } else { [a, c, b] };
                    convex::common(OWN, q)
                })
                .collect();
            let chain = pieces.iter().map(|piece| piece.corners().iter().map(|p| p.to_array()).collect()).collect();
            let expected = contours::area(&contours::covered(&chain)) / Piece::from(OWN).area();
            let share = share(&pieces).unwrap();
            assert!((share - expected).abs() < 1e-9, "{size}: {share} instead of {expected}");
        }
    }

    #[test]
    fn effort_is_bounded() {
        let pieces: Vec<Piece> = (0..1000)
            .map(|i| {
                let at = OWN[1].lerp(OWN[2], f64::from(i) / 1000.0);
                Piece::from([OWN[0], at, at.lerp(OWN[2], 1e-3)])
            })
            .collect();
        let mut left = 1_000_000;
        assert_eq!(share_covered(OWN, &pieces, &mut left), None);
        assert!(left < 1_000_000);
    }
}
