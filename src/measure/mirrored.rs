//! How much of the surface lies where oppositely handed triangles lie too.
//!
//! sum over triangles of surface * area(triangle and union of all opposite ones) / area(triangle), on the sheet. Where the
//! opposite ones do not lie over one another their pieces add up; where they do, the pieces are united (`cover`).
//! Cost: linear in the pairs found, n log n where pieces of one triangle lie over one another.

use super::convex::{self, Piece};
use super::cover::{self, corners};
use super::distinct::{Class, Distinct};
use super::sharing::{Hit, PairKey, pair_key};
use super::sheet::SheetInput;

/// A triangle of which no more than this share is free of opposite ones is taken to be covered: rounding of doubles.
const COVERED: f64 = 1.0 - 1e-12;

/// Surface area; only pairs of shells that `counts` agrees to are looked at.
pub(super) fn mirrored_surface(
    input: &SheetInput,
    distinct: &Distinct,
    hits: &[Hit],
    counts: impl Fn(&PairKey) -> bool,
) -> f64 {
    let classes = |id: u32| distinct.class_ids(id).map(|number| distinct.class(number));
    let opposite = |x: Class, y: Class| x.reversed() != y.reversed() && counts(&pair_key(x, y));
    let both_hands = |id: u32| {
        let mut hands = classes(id).map(Class::reversed);
        let first = hands.next();
        hands.any(|hand| Some(hand) != first)
    };
    // Partners of each distinct triangle that does not have both hands itself.
    let mut starts = vec![0u32; distinct.len() + 2];
    let sides = |hit: &Hit| [(hit.a, hit.b()), (hit.b(), hit.a)];
    let matters =
        |&(id, other): &(u32, u32)| !both_hands(id) && classes(id).any(|x| classes(other).any(|y| opposite(x, y)));
    hits.iter().flat_map(sides).filter(matters).for_each(|(id, _)| starts[id as usize + 2] += 1);
    (2..starts.len()).for_each(|i| starts[i] += starts[i - 1]);
    let mut partners = vec![0u32; starts.last().map_or(0, |&total| total as usize)];
    for (id, other) in hits.iter().flat_map(sides).filter(matters) {
        let slot = &mut starts[id as usize + 1];
        partners[*slot as usize] = other;
        *slot += 1;
    }
    // Only these can lie over another partner of the same triangle.
    let mut layered = vec![false; distinct.len()];
    for hit in hits {
        if classes(hit.a).any(|x| classes(hit.b()).any(|y| x.reversed() == y.reversed())) {
            (layered[hit.a as usize], layered[hit.b() as usize]) = (true, true);
        }
    }
    let mut surface = 0.0;
    for id in 0..distinct.len() as u32 {
        let of = &partners[starts[id as usize] as usize..starts[id as usize + 1] as usize];
        let share = if both_hands(id) { 1.0 } else { covered_share(input, distinct, id, of, &layered) };
        if share > 0.0 {
            let members = distinct.class_ids(id).flat_map(|number| distinct.members(number));
            surface += share * members.map(|&triangle| input.surface[triangle as usize]).sum::<f64>();
        }
    }
    surface
}

/// Share of a distinct triangle, 0..1, that lies under its partners.
fn covered_share(input: &SheetInput, distinct: &Distinct, id: u32, partners: &[u32], layered: &[bool]) -> f64 {
    let own = corners(input, distinct.example(id));
    let whole = Piece::from(own).area();
    let of_partner = |&partner: &u32| corners(input, distinct.example(partner));
    let mut sum = 0.0;
    for partner in partners {
        let area = convex::common(own, of_partner(partner)).map_or(0.0, |piece| piece.area());
        if area >= whole * COVERED {
            return 1.0;
        }
        sum += area;
    }
    let layered: Vec<u32> = partners.iter().copied().filter(|&partner| layered[partner as usize]).collect();
    let apart = layered.iter().enumerate().all(|(index, partner)| {
        layered[index + 1..].iter().all(|other| !convex::meet(of_partner(partner), of_partner(other)))
    });
    if !apart {
        let pieces = partners.iter().filter_map(|partner| convex::common(own, of_partner(partner)));
        sum = cover::area(&cover::covered(
            &pieces.map(|piece| piece.corners().iter().map(|p| p.to_array()).collect()).collect(),
        ));
    }
    (sum / whole).min(1.0)
}
