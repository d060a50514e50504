//! Regions of the sheet as closed polygons: union, intersection and area by the overlay crate `i_overlay` on its 64-bit
//! integer grid.

use glam::DVec2;
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::float::overlay::FloatOverlay;

/// Closed polygons; their winding numbers add up.
pub(super) type Contours = Vec<Vec<[f64; 2]>>;

/// Region covered at least once.
pub(super) fn covered(chain: &Contours) -> Contours {
    overlay(chain, &Contours::new(), OverlayRule::Subject, FillRule::NonZero)
}

/// Region covered at least twice.
pub(super) fn covered_twice(chain: &Contours) -> Contours {
    let Some((low, high)) = bounds(chain) else { return Contours::new() };
    let margin = (high - low).max_element().max(f64::MIN_POSITIVE) * 0.25;
    let (low, high) = (low - margin, high + margin);
    let mut contours = chain.clone();
    contours.push(vec![[low.x, low.y], [low.x, high.y], [high.x, high.y], [high.x, low.y]]);
    overlay(&contours, &Contours::new(), OverlayRule::Subject, FillRule::Positive)
}

/// Union of two that have been resolved.
pub(super) fn both(a: &Contours, b: &Contours) -> Contours {
    overlay(a, b, OverlayRule::Union, FillRule::NonZero)
}

/// Common region of two that have been resolved.
pub(super) fn common(a: &Contours, b: &Contours) -> Contours {
    overlay(a, b, OverlayRule::Intersect, FillRule::NonZero)
}

fn overlay(subject: &Contours, clip: &Contours, rule: OverlayRule, fill: FillRule) -> Contours {
    if subject.is_empty() {
        return Contours::new();
    }
    FloatOverlay::<[f64; 2], i64>::from_subj_and_clip(subject, clip).overlay(rule, fill).into_iter().flatten().collect()
}

/// Area of a resolved region: outer contours run one way, holes the other.
pub(super) fn area(region: &Contours) -> f64 {
    region
        .iter()
        .map(|contour| {
            // About its own first corner, so that a small contour far from the origin keeps its digits.
            let origin = contour.first().map_or(DVec2::ZERO, |&p| DVec2::from_array(p));
            let corners = contour.iter().map(|&p| DVec2::from_array(p) - origin);
            corners.clone().zip(corners.cycle().skip(1)).map(|(p, q)| p.perp_dot(q)).sum::<f64>() / 2.0
        })
        .sum::<f64>()
        .abs()
}

pub(super) fn bounds(contours: &Contours) -> Option<(DVec2, DVec2)> {
    contours.iter().flatten().map(|&p| DVec2::from_array(p)).fold(None, |bounds, p| match bounds {
        None => Some((p, p)),
        Some((low, high)) => Some((low.min(p), high.max(p))),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: f64, y: f64, size: f64) -> Vec<[f64; 2]> {
        vec![[x, y], [x + size, y], [x + size, y + size], [x, y + size]]
    }

    #[test]
    fn winding_numbers_1_2_and_3_are_distinguished() {
        let chain = vec![square(0.0, 0.0, 2.0), square(1.0, 1.0, 2.0), square(1.5, 1.5, 1.0)];
        assert!((area(&covered(&chain)) - 7.0).abs() < 1e-9);
        assert!((area(&covered_twice(&chain)) - 1.75).abs() < 1e-9);
        assert!(area(&covered_twice(&vec![square(0.0, 0.0, 1.0), square(1.0, 0.0, 1.0)])) < 1e-12);
    }

    #[test]
    fn a_hole_is_not_covered() {
        let mut hole = square(0.25, 0.25, 0.5);
        hole.reverse();
        let region = covered(&vec![square(0.0, 0.0, 1.0), hole]);
        assert!((area(&region) - 0.75).abs() < 1e-12);
        assert!((area(&common(&region, &vec![square(0.0, 0.0, 0.5)])) - 0.1875).abs() < 1e-12);
    }
}
