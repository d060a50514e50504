//! How much of the surface lies where oppositely handed triangles lie too.
//!
//! sum over triangles of surface * area(triangle and union of all opposite ones) / area(triangle), on the sheet. Where the
//! opposite ones do not lie over one another their pieces add up; where they do, the pieces are united (`union`).
//! Cost: linear in the pairs found, and in the pairs of pieces of one triangle whose boxes meet; bounded by [`EFFORT_MAX`]. A
//! triangle that is too much work counts with its largest piece alone.

use super::convex::{self, Piece};
use super::cover::corners;
use super::distinct::{Class, Distinct};
use super::sharing::{Hit, PairKey, pair_key};
use super::sheet::SheetInput;
use super::union;

/// Work before the sum says "at least", in the units of the search for sharing: a third of what that may take.
const EFFORT_MAX: u64 = super::sharing::EFFORT_MAX / 3;
/// Effort of asking whether two classes share.
const EFFORT_CLASSES: u64 = 10;
/// A triangle of which no more than this share is free of opposite ones is taken to be covered: rounding of doubles.
const COVERED: f64 = 1.0 - 1e-12;

/// What was found of the surface.
pub(super) struct MirroredSurface {
    /// Its area.
    pub area: f64,
    /// There may be more.
    pub at_least: bool,
}

/// Only pairs of shells that `counts` agrees to are looked at; `all_hits` says whether the hits are all there are.
pub(super) fn mirrored_surface(
    input: &SheetInput,
    distinct: &Distinct,
    hits: &[Hit],
    all_hits: bool,
    counts: impl Fn(&PairKey) -> bool,
) -> MirroredSurface {
    let mut left = EFFORT_MAX;
    let mut at_least = !all_hits;
    let classes = |id: u32| distinct.class_ids(id).map(|number| distinct.class(number));
    let opposite = |x: Class, y: Class| x.reversed() != y.reversed() && counts(&pair_key(x, y));
    // Per distinct triangle, whether some are the right way round and some reversed.
    let hands = |id: u32| {
        classes(id).fold([false; 2], |mut hands, class| {
            hands[usize::from(class.reversed())] = true;
            hands
        })
    };
    let hands: Vec<[bool; 2]> = (0..distinct.len() as u32).map(hands).collect();
    let both_hands = |id: u32| hands[id as usize] == [true; 2];
    // Where there are too many classes to ask, nothing is said of the two.
    let mut any_opposite = |a: u32, b: u32| {
        let pairs = distinct.class_ids(a).len() as u64 * distinct.class_ids(b).len() as u64;
        match left.checked_sub(EFFORT_CLASSES * pairs) {
            Some(rest) => {
                left = rest;
                classes(a).any(|x| classes(b).any(|y| opposite(x, y)))
            }
            None => {
                at_least = true;
                false
            }
        }
    };
    // Partners of each distinct triangle that does not have both hands itself.
    let opposite_hits: Vec<&Hit> =
        hits.iter().filter(|hit| !(both_hands(hit.a) && both_hands(hit.b())) && any_opposite(hit.a, hit.b())).collect();
    let sides = |hit: &&Hit| [(hit.a, hit.b()), (hit.b(), hit.a)];
    let matters = |&(id, _): &(u32, u32)| !both_hands(id);
    let mut starts = vec![0u32; distinct.len() + 2];
    opposite_hits.iter().flat_map(sides).filter(matters).for_each(|(id, _)| starts[id as usize + 2] += 1);
    (2..starts.len()).for_each(|i| starts[i] += starts[i - 1]);
    let mut partners = vec![0u32; starts.last().map_or(0, |&total| total as usize)];
    for (id, other) in opposite_hits.iter().flat_map(sides).filter(matters) {
        let slot = &mut starts[id as usize + 1];
        partners[*slot as usize] = other;
        *slot += 1;
    }
    // Only these can lie over another partner of the same triangle: where both have a triangle of the same hand.
    let mut layered = vec![!all_hits; distinct.len()];
    for hit in hits.iter().filter(|_| all_hits) {
        let (of_a, of_b) = (hands[hit.a as usize], hands[hit.b() as usize]);
        if (0..2).any(|hand| of_a[hand] && of_b[hand]) {
            (layered[hit.a as usize], layered[hit.b() as usize]) = (true, true);
        }
    }
    let mut area = 0.0;
    for id in 0..distinct.len() as u32 {
        let of = &partners[starts[id as usize] as usize..starts[id as usize + 1] as usize];
        let share = if both_hands(id) {
            1.0
        } else {
            covered_share(input, distinct, id, of, &layered, &mut left).unwrap_or_else(|largest| {
                at_least = true;
                largest
            })
        };
        if share > 0.0 {
            let members = distinct.class_ids(id).flat_map(|number| distinct.members(number));
            area += share * members.map(|&triangle| input.surface[triangle as usize]).sum::<f64>();
        }
    }
    MirroredSurface { area, at_least }
}

/// Share of a distinct triangle, 0..1, that lies under its partners; the share of the largest piece where that takes more
/// effort than is left.
fn covered_share(
    input: &SheetInput,
    distinct: &Distinct,
    id: u32,
    partners: &[u32],
    layered: &[bool],
    left: &mut u64,
) -> Result<f64, f64> {
    let own = corners(input, distinct.example(id));
    let whole = Piece::from(own).area();
    let (mut sum, mut largest, mut some_layered) = (0.0, 0.0f64, 0);
    let mut pieces = Vec::with_capacity(partners.len());
    for &partner in partners {
        let Some(piece) = convex::common(own, corners(input, distinct.example(partner))) else { continue };
        let share = piece.area() / whole;
        if share >= COVERED {
            return Ok(1.0);
        }
        sum += share;
        largest = largest.max(share);
        some_layered += u32::from(layered[partner as usize]);
        pieces.push(piece);
    }
    if some_layered < 2 {
        return Ok(sum.min(1.0));
    }
    union::share_covered(own, &pieces, left).ok_or(largest)
}
