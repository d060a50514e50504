//! How much of each triangle overlaps others, by the kind of overlap.
//!
//! share = area(triangle and union of all that share with it in this way) / area(triangle), on the sheet, for all triangles of
//! a class at once. Where partners do not lie over one another their pieces add up; where they may, the pieces are united
//! (`union`).
//! Cost: linear in the pairs found, and in the pairs of pieces of one triangle whose boxes meet; bounded by `left`. A
//! triangle that is too much work counts with its largest piece alone.
//!
//! All triangles of a class have one share, and only triangles that share are kept: 8 bytes each.

use super::convex::{self, Piece};
use super::distinct::{Class, Distinct};
use super::input::{SheetInput, corners};
use super::union;
use glam::DVec2;

/// Work on one kind of overlap before shares are "at least", in the units of the search for overlaps: a third of what
/// that may take.
pub(super) const EFFORT_MAX: u64 = 500_000_000;
/// Effort of comparing the orientation of two classes, and how they overlap.
const EFFORT_HANDS: u64 = 10;
const EFFORT_KIND: u64 = 50;
/// A triangle of which no more than this share is free of others is taken to be covered: rounding of doubles.
const COVERED: f64 = 1.0 - 1e-12;
/// Partners of a triangle up to which each two are looked up among the hits.
const PARTNERS_FEW: usize = 32;

/// How two shells (or one and itself) overlap.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(rename_all = "kebab-case")]
pub enum ShareKind {
    /// Opposite orientation; also a shell with itself.
    Mirrored,
    /// Same orientation, at least 95 % of both.
    Stacked,
    /// Same orientation, partly.
    PartialOverlap,
    /// One shell over itself, same orientation.
    SelfOverlap,
}

impl ShareKind {
    /// All, in order.
    pub const ALL: [Self; 4] = [Self::Mirrored, Self::Stacked, Self::PartialOverlap, Self::SelfOverlap];
}

/// Two distinct triangles that have an area in common.
#[derive(Clone, Copy)]
pub(super) struct Hit {
    pub a: u32,
    /// The other, and in the lowest bit whether the area counts alone.
    b: u32,
}

impl Hit {
    pub(super) fn new(a: u32, b: u32, counts_alone: bool) -> Self {
        Self { a, b: b << 1 | u32::from(counts_alone) }
    }

    pub(super) fn b(self) -> u32 {
        self.b >> 1
    }

    pub(super) fn counts_alone(self) -> bool {
        self.b & 1 == 1
    }
}

/// Partners of each distinct triangle, ascending.
pub(super) struct Partners {
    starts: Vec<u32>,
    partners: Vec<u32>,
    /// Whether the hits are all there are.
    all_hits: bool,
}

impl Partners {
    pub(super) fn new(distinct: &Distinct, hits: &[Hit], all_hits: bool) -> Self {
        let mut starts = vec![0u32; distinct.len() + 2];
        for hit in hits {
            starts[hit.a as usize + 2] += 1;
            starts[hit.b() as usize + 2] += 1;
        }
        (2..starts.len()).for_each(|i| starts[i] += starts[i - 1]);
        let mut any_order = starts.clone();
        let mut partners = vec![0u32; 2 * hits.len()];
        for hit in hits {
            place(&mut any_order, &mut partners, hit.a, hit.b());
            place(&mut any_order, &mut partners, hit.b(), hit.a);
        }
        // In order of their partners: so each list is in order.
        let mut ascending = vec![0u32; partners.len()];
        for id in 0..distinct.len() {
            for &partner in &partners[any_order[id] as usize..any_order[id + 1] as usize] {
                place(&mut starts, &mut ascending, partner, id as u32);
            }
        }
        Self { starts, partners: ascending, all_hits }
    }

    fn of(&self, id: u32) -> &[u32] {
        &self.partners[self.starts[id as usize] as usize..self.starts[id as usize + 1] as usize]
    }

    /// May any two of these overlap?
    fn may_meet(&self, ids: &[u32]) -> bool {
        !self.all_hits
            || ids.len() > PARTNERS_FEW
            || ids.iter().enumerate().any(|(at, &a)| {
                ids[at + 1..].iter().any(|&b| {
                    let (few, other) = if self.of(a).len() < self.of(b).len() { (a, b) } else { (b, a) };
                    self.of(few).binary_search(&other).is_ok()
                })
            })
    }
}

/// Puts a partner into the list of a triangle; `ends` has at the place after the triangle's where its list goes on.
fn place(ends: &mut [u32], lists: &mut [u32], of: u32, partner: u32) {
    let end = &mut ends[of as usize + 1];
    lists[*end as usize] = partner;
    *end += 1;
}

/// The results of one kind of overlap.
pub(super) struct SharesOfClasses {
    /// Of each class, 0..1.
    pub shares: Vec<f64>,
    /// A lower bound.
    pub at_least: bool,
}

/// `kind_of` says how two classes of different triangles share, if at all; those of the same triangle share all of it.
pub(super) fn shares_of_classes(
    input: &SheetInput,
    distinct: &Distinct,
    partners: &Partners,
    kind: ShareKind,
    kind_of: &dyn Fn(Class, Class) -> Option<ShareKind>,
    left: &mut u64,
) -> SharesOfClasses {
    let mut shares = vec![0.0; distinct.class_count()];
    let (mut unasked, mut cut_off) = (false, false);
    // If there are too many classes to compare, the two are skipped.
    let mut ask = |x: Class, y: Class, left: &mut u64| {
        let same_hand = x.reversed() == y.reversed();
        let effort = if same_hand == (kind == ShareKind::Mirrored) { EFFORT_HANDS } else { EFFORT_KIND };
        match left.checked_sub(effort) {
            Some(rest) => {
                *left = rest;
                effort == EFFORT_KIND && kind_of(x, y) == Some(kind)
            }
            None => {
                unasked = true;
                false
            }
        }
    };
    let mut chosen: Vec<u32> = Vec::new();
    let mut before: Vec<u32> = Vec::new();
    let mut pieces: Vec<Piece> = Vec::new();
    for id in 0..distinct.len() as u32 {
        let classes = distinct.class_ids(id);
        let hands = |reversed: bool| classes.clone().any(|number| distinct.class(number).reversed() == reversed);
        let both_hands = kind == ShareKind::Mirrored && hands(false) && hands(true);
        before.clear();
        let mut share_before = 0.0;
        for number in classes.clone() {
            let class = distinct.class(number);
            let with_itself = match kind {
                ShareKind::SelfOverlap => distinct.layers(number) > 1,
                ShareKind::Stacked => distinct.copies(number) > 1,
                _ => false,
            };
            let mut others = classes.clone().filter(|&other| other != number && kind != ShareKind::Mirrored);
            if both_hands || with_itself || others.any(|other| ask(class, distinct.class(other), left)) {
                shares[number] = 1.0;
                continue;
            }
            chosen.clear();
            chosen.extend(
                partners.of(id).iter().filter(|&&partner| {
                    distinct.class_ids(partner).any(|other| ask(class, distinct.class(other), left))
                }),
            );
            if chosen != before {
                let own = corners(input, distinct.example(id));
                let others = chosen.iter().map(|&partner| corners(input, distinct.example(partner)));
                share_before = covered_share(own, others, &mut pieces, || partners.may_meet(&chosen), left)
                    .unwrap_or_else(|largest| {
                        cut_off = true;
                        largest
                    });
                std::mem::swap(&mut chosen, &mut before);
            }
            shares[number] = share_before;
        }
    }
    SharesOfClasses { shares, at_least: unasked || cut_off || !partners.all_hits }
}

/// Share of a triangle, 0..1, that lies under others; the share of the largest piece where that takes more effort than is
/// left. `pieces` is room for them.
fn covered_share(
    own: [DVec2; 3],
    others: impl Iterator<Item = [DVec2; 3]>,
    pieces: &mut Vec<Piece>,
    may_meet: impl FnOnce() -> bool,
    left: &mut u64,
) -> Result<f64, f64> {
    let whole = Piece::from(own).area();
    let (mut sum, mut largest) = (0.0, 0.0f64);
    pieces.clear();
    for other in others {
        let Some(piece) = convex::common(own, other) else { continue };
        let share = piece.area() / whole;
        if share >= COVERED {
            return Ok(1.0);
        }
        sum += share;
        largest = largest.max(share);
        pieces.push(piece);
    }
    if pieces.len() < 2 || !may_meet() {
        return Ok(sum.min(1.0));
    }
    union::share_covered(own, pieces, left).ok_or(largest)
}
