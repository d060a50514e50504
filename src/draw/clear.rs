//! Which parts of the canvas are not covered by the page: cards, bars, a drawer.
//!
//! A clear area is an empty rectangle that cannot grow: each of its sides lies on the place's border or on a cover.
//! With n covers there are at most (2n + 2)^2 pairs of sides to try, each against all covers: negligible for the few
//! cards that a page has. Lengths are px of the canvas, y down. Covers that miss the place, or are not finite, cover
//! nothing.
//!
//! Cards cover corners of the stage, not whole sides. The view takes the clear area in which the model is seen
//! largest and moves the picture there. A view of the whole model stays one when cards change; one that the user has
//! moved stays.

use glam::DVec2;

/// Least side of an area that something is shown in, as a share of the place's same side; below, it is a slit between
/// two cards. Own choice.
const LEAST_SHARE: f64 = 0.2;
/// Most covers that are considered; a page has fewer.
const MOST_COVERS: usize = 16;

/// An empty rectangle of a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clear {
    /// Its middle, from the place's middle, y down.
    pub middle: DVec2,
    /// Width and height, > 0.
    pub size: DVec2,
}

impl Clear {
    /// All of a place of this size; at least 1 px a side.
    pub fn whole(place: DVec2) -> Self {
        Self { middle: DVec2::ZERO, size: place.max(DVec2::ONE) }
    }
}

/// The clear areas of a place of this size whose top left is the origin, under covers given as left, top, right,
/// bottom. Never empty: where everything is covered, the whole place is used.
pub fn clear_areas(place: DVec2, covers: &[[f64; 4]]) -> Vec<Clear> {
    let place = place.max(DVec2::ONE);
    let covers: Vec<[f64; 4]> = covers
        .iter()
        .filter(|cover| cover.iter().all(|side| side.is_finite()))
        .map(|&[left, top, right, bottom]| [left.max(0.0), top.max(0.0), right.min(place.x), bottom.min(place.y)])
        .filter(|[left, top, right, bottom]| left < right && top < bottom)
        .take(MOST_COVERS)
        .collect();
    let sides = |low: usize, high: usize, end: f64| {
        let from: Vec<f64> = std::iter::once(0.0).chain(covers.iter().map(|cover| cover[high])).collect();
        let to: Vec<f64> = std::iter::once(end).chain(covers.iter().map(|cover| cover[low])).collect();
        (from, to)
    };
    let (lefts, rights) = sides(0, 2, place.x);
    let (tops, bottoms) = sides(1, 3, place.y);
    let mut found: Vec<[f64; 4]> = Vec::new();
    for &left in &lefts {
        for &right in rights.iter().filter(|&&right| right - left >= place.x * LEAST_SHARE) {
            for &top in &tops {
                for &bottom in bottoms.iter().filter(|&&bottom| bottom - top >= place.y * LEAST_SHARE) {
                    let empty = covers
                        .iter()
                        .all(|cover| cover[2] <= left || cover[0] >= right || cover[3] <= top || cover[1] >= bottom);
                    if empty {
                        found.push([left, top, right, bottom]);
                    }
                }
            }
        }
    }
    let within = |a: &[f64; 4], b: &[f64; 4]| a[0] >= b[0] && a[1] >= b[1] && a[2] <= b[2] && a[3] <= b[3];
    let mut areas: Vec<[f64; 4]> = Vec::new();
    for (index, area) in found.iter().enumerate() {
        let larger = found.iter().enumerate().any(|(other, b)| other != index && within(area, b) && area != b);
        if !larger && !areas.contains(area) {
            areas.push(*area);
        }
    }
    if areas.is_empty() {
        return vec![Clear::whole(place)];
    }
    let clear = |[left, top, right, bottom]: [f64; 4]| Clear {
        middle: (DVec2::new(left + right, top + bottom) - place) / 2.0,
        size: DVec2::new(right - left, bottom - top),
    };
    areas.into_iter().map(clear).collect()
}

/// Of these areas the one in which something `size` large in proportion is seen largest; of equals, the one whose middle
/// is nearest to the place's. The whole of a 1 px place for no areas.
pub fn roomiest(areas: &[Clear], size: DVec2) -> Clear {
    let size = size.max(DVec2::splat(f64::MIN_POSITIVE));
    let scale = |area: &Clear| (area.size / size).min_element();
    let better = |a: Clear, b: &Clear| {
        let (was, is) = (scale(&a), scale(b));
        let nearer = b.middle.length() < a.middle.length();
        if is > was * (1.0 + 1e-9) || (is > was * (1.0 - 1e-9) && nearer) { *b } else { a }
    };
    areas.iter().skip(1).fold(areas.first().copied().unwrap_or(Clear::whole(DVec2::ONE)), better)
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLACE: DVec2 = DVec2::new(900.0, 600.0);
    const BAR: [f64; 4] = [10.0, 10.0, 400.0, 50.0];
    const LEGEND: [f64; 4] = [10.0, 400.0, 310.0, 590.0];
    const SHEET: [f64; 4] = [640.0, 310.0, 890.0, 590.0];

    fn sides(clear: Clear) -> [f64; 4] {
        let low = clear.middle + (PLACE - clear.size) / 2.0;
        [low.x, low.y, low.x + clear.size.x, low.y + clear.size.y]
    }

    #[test]
    fn without_covers_the_whole_area_is_clear() {
        assert_eq!(clear_areas(PLACE, &[]), [Clear::whole(PLACE)]);
        assert_eq!(clear_areas(PLACE, &[[-90.0, 0.0, -10.0, 600.0], [f64::NAN; 4]]), [Clear::whole(PLACE)]);
    }

    #[test]
    fn fully_covered_the_whole_area_is_used() {
        assert_eq!(clear_areas(PLACE, &[[0.0, 0.0, 900.0, 600.0]]), [Clear::whole(PLACE)]);
    }

    #[test]
    fn clear_areas_touch_no_cover_and_are_maximal() {
        let covers = [BAR, LEGEND, SHEET];
        let areas = clear_areas(PLACE, &covers);
        assert!(areas.len() >= 3);
        let meets = |[a, b, c, d]: [f64; 4]| covers.iter().any(|s| s[2] > a && s[0] < c && s[3] > b && s[1] < d);
        for area in areas.into_iter().map(sides) {
            assert!(!meets(area), "{area:?}");
            for (side, end) in [(0, 0.0), (1, 0.0), (2, PLACE.x), (3, PLACE.y)] {
                let mut grown = area;
                grown[side] += if side < 2 { -1.0 } else { 1.0 };
                assert!(area[side] == end || meets(grown), "{area:?} can grow at {side}");
            }
        }
    }

    #[test]
    fn a_tall_shape_goes_between_the_cards_and_a_flat_one_above() {
        let areas = clear_areas(PLACE, &[BAR, LEGEND, SHEET]);
        assert_eq!(sides(roomiest(&areas, DVec2::new(1.0, 2.0))), [310.0, 50.0, 640.0, 600.0]);
        assert_eq!(sides(roomiest(&areas, DVec2::new(4.0, 1.0))), [0.0, 50.0, 900.0, 310.0]);
    }
}
