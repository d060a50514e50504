//! Codes positions and uvs: integers on a lattice, each coded by its distance from a prediction.
//!
//! Faces come as neighbours reach them, depth first, so that much is known around each value. Several rules guess at it
//! from all its faces there; the mean of the rule that has been best of late is taken, so that the choice need not be
//! coded. Positions: the parallelogram in the face and across an edge (Touma & Gotsman 1998, *Triangle mesh
//! compression*), a row of edges going on straight or with the same change. uvs: the face's own shape in space, laid on
//! an edge whose uvs are known (right where the map keeps angles), or as the map of the same face or the one beyond
//! that edge goes on (right where it is affine), else as positions. Arithmetic on doubles uses + - * / and square roots
//! only: the same natively and in the browser. Cost: linear, a bounded number of steps for each value.
//!
//! The code is compiled by the browser while a link is read, so there is one kind of coordinates and one copy of the code
//! for positions and uvs; neighbours are looked up in tables (`Beside`), and guesses are summed where they are made.

use super::Damage;
use super::coder::{Coder, Number, bit_length, unzigzag, zigzag};
use super::connect::{Connected, Face, NONE};
use crate::util::three;

/// Coordinates are whole numbers up to here either way, so that doubles hold them exactly.
pub(super) const COORDINATE_MAX: i64 = 1 << 53;
/// Levels of how long a distance is expected to be, in bits.
const LEVELS: usize = 56;
/// Fraction bits of the mean length of a rule's distances, and the share of a new one: one in 2^3.
const FRACTION: u32 = 6;
const SHARE: u32 = 3;

/// Coordinates of a value: a position's three; a uv's two, and 0.
type At = [i64; 3];

/// Rules, in the order in which they are trusted before anything is known.
mod rule {
    /// For uvs alone: as the face, as the one beyond the base, as the shape in space.
    pub const AS_THE_FACE: usize = 0;
    pub const AS_BEYOND: usize = 1;
    pub const WITH_ITS_ANGLES: usize = 2;
    /// For both.
    pub const TWISTED: usize = 3;
    pub const IN_FACE: usize = 4;
    pub const OVER_EDGE: usize = 5;
    pub const BENT: [usize; 2] = [6, 7];
    pub const STRAIGHT: [usize; 2] = [8, 9];
    pub const BESIDE: [usize; 2] = [10, 11];
    pub const LAST: usize = 12;
    pub const ALL: usize = 13;
}

/// Of each rule, the sum of its guesses at all corners of a fan, and how many there are.
struct Guessed([(At, i64); rule::ALL]);

impl Guessed {
    fn new() -> Self {
        Self([([0; 3], 0); rule::ALL])
    }

    #[inline(always)]
    fn add(&mut self, rule: usize, guess: At) {
        let (sum, count) = &mut self.0[rule];
        *sum = each_axis(|axis| sum[axis] + guess[axis]);
        *count += 1;
    }

    fn add_some(&mut self, rule: usize, guess: Option<At>) {
        if let Some(guess) = guess {
            self.add(rule, guess);
        }
    }

    /// Makes means of the sums.
    fn settle(&mut self) {
        for (sum, count) in self.0.iter_mut().filter(|(_, count)| *count > 1) {
            // By a power of two, a shift is the division that rounds down, and far quicker.
            *sum = if *count & (*count - 1) == 0 {
                let shift = count.trailing_zeros();
                each_axis(|axis| sum[axis] >> shift)
            } else {
                each_axis(|axis| sum[axis].div_euclid(*count))
            };
        }
    }
}

/// Distances from guesses.
struct Distances {
    /// How many coordinates are coded.
    axes: usize,
    /// Mean length in bits of each rule's distances.
    mean: [u32; rule::ALL],
    first: Vec<Number>,
    rest: Vec<Number>,
}

impl Distances {
    /// In so many coordinates, by the rules from `first` on.
    fn new(axes: usize, first: usize) -> Self {
        let mean = std::array::from_fn(|rule| (16 << FRACTION) + rule.saturating_sub(first) as u32);
        Self { axes, mean, first: vec![Number::NEW; LEVELS], rest: vec![Number::NEW; LEVELS] }
    }

    fn code<C: Coder>(&mut self, coder: &mut C, mut guessed: Guessed, given: Option<At>) -> Result<At, Damage> {
        guessed.settle();
        let mut best = None;
        for (rule, (guess, count)) in guessed.0.iter().enumerate() {
            let mean = self.mean[rule];
            if *count > 0 && best.is_none_or(|(least, _)| mean < least) {
                best = Some((mean, guess));
            }
        }
        let highest = LEVELS as u32 - 1;
        let (expected, guess) =
            best.map_or((highest, &[0; 3]), |(mean, guess)| ((mean >> FRACTION).min(highest), guess));
        let mut value = [0; 3];
        let mut longest = 0;
        for axis in 0..self.axes {
            let models = match axis {
                0 => &mut self.first[expected as usize],
                _ => &mut self.rest[((longest + expected) / 2).min(highest) as usize],
            };
            let distance = given.map_or(0, |given| given[axis] - guess[axis]);
            let zigzagged = coder.number(models, zigzag(distance));
            longest = longest.max(bit_length(zigzagged));
            value[axis] = guess[axis].wrapping_add(unzigzag(zigzagged));
            if value[axis].unsigned_abs() > COORDINATE_MAX as u64 {
                return Err(Damage("a coordinate is beyond all range"));
            }
        }
        for (mean, (guess, count)) in self.mean.iter_mut().zip(&guessed.0) {
            if *count > 0 {
                let [x, y, z] = each_axis(|axis| (value[axis] - guess[axis]).abs());
                let furthest = x.max(y).max(z) as u64;
                let length = bit_length(furthest * 2) << FRACTION;
                *mean = *mean + (length >> SHARE) - (*mean >> SHARE);
            }
        }
        Ok(value)
    }
}

#[inline(always)]
fn each_axis(of: impl Fn(usize) -> i64) -> At {
    three::each([0, 1, 2], of)
}

/// A guess, kept in range.
#[inline(always)]
fn combined(of: impl Fn(usize) -> i64) -> At {
    each_axis(|axis| of(axis).clamp(-COORDINATE_MAX, COORDINATE_MAX))
}

/// Points one, two and, where there are, three steps away.
type Row<'a> = (&'a At, &'a At, Option<&'a At>);

/// Which neighbour of a corner a row comes from.
#[derive(Clone, Copy)]
enum Direction {
    Before,
    After,
}

/// What is at corners and beside them, for one kind of values.
struct Beside<'a> {
    connected: &'a Connected,
    /// Value of each corner.
    value: Vec<u32>,
    /// Of each edge, the corner of the face beyond it at which it starts the other way round, if both agree in the values at
    /// its ends, else [`NONE`]: across a seam the sheet goes on elsewhere.
    across: Vec<u32>,
}

impl<'a> Beside<'a> {
    fn new(connected: &'a Connected, value_of: impl Fn(u32) -> u32) -> Self {
        let corners = connected.twin.len() as u32;
        let value: Vec<u32> = (0..corners).map(value_of).collect();
        let at = |corner: u32| value[corner as usize];
        let agree = |edge: u32, twin: u32| {
            twin != NONE && at(twin) == at(connected.next(edge)) && at(connected.next(twin)) == at(edge)
        };
        let across =
            (0..).zip(&connected.twin).map(|(edge, &twin)| if agree(edge, twin) { twin } else { NONE }).collect();
        Self { connected, value, across }
    }

    fn value(&self, corner: u32) -> u32 {
        self.value[corner as usize]
    }

    fn across(&self, edge: u32) -> Option<u32> {
        Some(self.across[edge as usize]).filter(|twin| *twin != NONE)
    }

    fn next(&self, corner: u32) -> u32 {
        self.connected.next(corner)
    }

    fn previous(&self, corner: u32) -> u32 {
        self.connected.previous(corner)
    }
}

/// Values around a corner that are known already.
struct Around<'a> {
    beside: &'a Beside<'a>,
    place: Face,
    corner: u32,
    known: &'a [Option<At>],
}

impl<'a> Around<'a> {
    fn at(&self, corner: u32) -> Option<&'a At> {
        self.known.get(self.beside.value(corner) as usize)?.as_ref()
    }

    /// What the rules say that positions and uvs have in common, but for the last value.
    fn guess(&self, guessed: &mut Guessed) {
        let (before, after) = (self.place.previous(self.corner), self.place.next(self.corner));
        let beside = [self.at(before), self.at(after)];
        if let [Some(b), Some(a)] = beside {
            if let Some(in_face) = self.in_face(b, a, after) {
                guessed.add(rule::IN_FACE, in_face);
                guessed.add_some(rule::TWISTED, self.twisted(in_face));
            }
            guessed.add_some(rule::OVER_EDGE, self.over_edge(b, a, after));
        }
        for (side, forward) in [Direction::Before, Direction::After].into_iter().enumerate() {
            let Some(&near) = beside[side] else { continue };
            guessed.add(rule::BESIDE[side], near);
            let Some((first, second, third)) = self.row(forward) else { continue };
            guessed.add(rule::STRAIGHT[side], combined(|axis| 2 * first[axis] - second[axis]));
            if let Some(third) = third {
                guessed.add(rule::BENT[side], combined(|axis| 3 * (first[axis] - second[axis]) + third[axis]));
            }
        }
    }

    /// The parallelogram with both neighbours and the corner after the next.
    fn in_face(&self, b: &At, a: &At, after: u32) -> Option<At> {
        let o = self.at(self.place.next(after))?;
        (self.place.end - self.place.start >= 4).then(|| combined(|axis| b[axis] + a[axis] - o[axis]))
    }

    /// Over the edge opposite the corner of a triangle.
    fn over_edge(&self, b: &At, a: &At, after: u32) -> Option<At> {
        (self.place.end - self.place.start == 3).then_some(())?;
        let twin = self.beside.across(after)?;
        let (left, right) = (self.beside.previous(twin), self.beside.next(self.beside.next(twin)));
        let (l, r) = (self.at(left)?, self.at(right)?);
        Some(combined(|axis| b[axis] + a[axis] - (l[axis] + r[axis]) / 2))
    }

    /// A row of edges that goes on: neighbours 1, 2 and, where there are, 3 steps away.
    fn row(&self, forward: Direction) -> Option<Row<'a>> {
        let place = self.place;
        let (near, edge) = match forward {
            // The edge from the one before the neighbour to it; or from the neighbour to the one after it.
            Direction::Before => {
                let near = place.previous(self.corner);
                (near, place.previous(near))
            }
            Direction::After => {
                let near = place.next(self.corner);
                (near, near)
            }
        };
        let step = |edge: u32| {
            let twin = self.beside.across(edge)?;
            Some(match forward {
                Direction::Before => (self.beside.previous(twin), self.beside.next(self.beside.next(twin))),
                Direction::After => {
                    let far = self.beside.next(self.beside.next(twin));
                    (far, far)
                }
            })
        };
        let first = self.at(near)?;
        let (far, onward) = step(edge)?;
        let second = self.at(far)?;
        let third = step(onward).and_then(|(far, _)| self.at(far));
        Some((first, second, third))
    }

    /// The parallelogram in the face, and off by as much as the same would have been in the face before it in the row.
    fn twisted(&self, in_face: At) -> Option<At> {
        let before = self.place.previous(self.corner);
        let beyond = self.beside.across(self.place.previous(before))?;
        let (p, o) = (self.at(before)?, self.at(self.place.previous(before))?);
        let (far, far_off) = (self.beside.previous(beyond), self.beside.next(self.beside.next(beyond)));
        let (f, d) = (self.at(far)?, self.at(far_off)?);
        Some(combined(|axis| in_face[axis] + p[axis] - f[axis] - o[axis] + d[axis]))
    }
}

/// Most corners of connected faces around one value.
const FAN_MAX: usize = 16;

/// The corners at a corner's value, from face to face across edges.
struct Fan {
    corners: [u32; FAN_MAX],
    count: usize,
}

impl Fan {
    fn new(beside: &Beside, corner: u32) -> Self {
        let mut fan = Self { corners: [corner; FAN_MAX], count: 1 };
        fan.go(corner, |at| beside.across(beside.previous(at)));
        fan.go(corner, |at| beside.across(at).map(|twin| beside.next(twin)));
        fan
    }

    fn go(&mut self, mut at: u32, step: impl Fn(u32) -> Option<u32>) {
        while let Some(next) = step(at).filter(|next| self.count < FAN_MAX && !self.corners().contains(next)) {
            self.corners[self.count] = next;
            self.count += 1;
            at = next;
        }
    }

    fn corners(&self) -> &[u32] {
        &self.corners[..self.count]
    }
}

/// Codes the positions: writes `given`, or reads them.
pub(super) fn code_positions<C: Coder>(coder: &mut C, connected: &Connected, given: &[At]) -> Result<Vec<At>, Damage> {
    let mut known = vec![None; value_count(&connected.shape.position_value)];
    let mut last = None;
    let mut distances = Distances::new(3, rule::TWISTED);
    let beside = Beside::new(connected, |corner| connected.shape.value(corner));
    each_in_turn(&beside, known.len(), |corner| {
        if coder.is_spent() {
            return Err(Damage::END);
        }
        let mut guessed = Guessed::new();
        guessed.add_some(rule::LAST, last);
        for &corner in Fan::new(&beside, corner).corners() {
            let around = Around { beside: &beside, place: connected.face_at(corner), corner, known: &known };
            around.guess(&mut guessed);
        }
        let index = beside.value(corner) as usize;
        let value = distances.code(coder, guessed, given.get(index).copied())?;
        known[index] = Some(value);
        last = Some(value);
        Ok(())
    })?;
    Ok(known.into_iter().flatten().collect())
}

/// Codes the uvs: writes `given`, or reads them.
pub(super) fn code_uvs<C: Coder>(
    coder: &mut C,
    connected: &Connected,
    positions: &[At],
    given: &[[i64; 2]],
) -> Result<Vec<[i64; 2]>, Damage> {
    let mut known = vec![None; value_count(&connected.shape.uv_value)];
    let mut last = None;
    let mut distances = Distances::new(2, rule::AS_THE_FACE);
    let beside = Beside::new(connected, |corner| connected.shape.uv(corner));
    // 1 where uvs lie counter-clockwise as the face does, -1 where mirrored: as the last ones did.
    let mut turn = 1.0;
    each_in_turn(&beside, known.len(), |corner| {
        if coder.is_spent() {
            return Err(Damage::END);
        }
        let mut guessed = Guessed::new();
        guessed.add_some(rule::LAST, last);
        let mut own_base = None;
        for &at in Fan::new(&beside, corner).corners() {
            let around = Around { beside: &beside, place: connected.face_at(at), corner: at, known: &known };
            around.guess(&mut guessed);
            let laid = Laid { around: &around, positions };
            let base = laid.base();
            if at == corner {
                own_base = base;
            }
            if let Some(base) = base {
                laid.guess(base, turn, &mut guessed);
            }
        }
        let index = beside.value(corner) as usize;
        let value = distances.code(coder, guessed, given.get(index).map(|&[u, v]| [u, v, 0]))?;
        if let Some(Base { at, along, .. }) = own_base {
            let side = along[0] * (value[1] as f64 - at[1]) - along[1] * (value[0] as f64 - at[0]);
            if side != 0.0 {
                turn = side.signum();
            }
        }
        known[index] = Some(value);
        last = Some(value);
        Ok(())
    })?;
    Ok(known.into_iter().flatten().map(|[u, v, _]| [u, v]).collect())
}

/// Values there are: each was numbered when it was first used.
fn value_count(value_of: &[u32]) -> usize {
    value_of.iter().max().map_or(0, |most| *most as usize + 1)
}

/// Calls with one corner of each value, face by face as neighbours across edges reach them, depth first.
fn each_in_turn(beside: &Beside, values: usize, mut call: impl FnMut(u32) -> Result<(), Damage>) -> Result<(), Damage> {
    let connected = beside.connected;
    let faces = connected.shape.starts.len() - 1;
    let mut called = vec![false; values];
    let mut reached = vec![false; faces];
    let mut queue: Vec<u32> = Vec::with_capacity(faces);
    for seed in 0..faces as u32 {
        if !std::mem::replace(&mut reached[seed as usize], true) {
            queue.push(seed);
        }
        while let Some(face) = queue.pop() {
            let place = connected.face(face);
            for corner in place.start..place.end {
                if let Some(called) = called.get_mut(beside.value(corner) as usize)
                    && !std::mem::replace(called, true)
                {
                    call(corner)?;
                }
            }
            for corner in place.start..place.end {
                if let Some(twin) = beside.across(corner) {
                    let next = connected.face_of[twin as usize];
                    if !std::mem::replace(&mut reached[next as usize], true) {
                        queue.push(next);
                    }
                }
            }
        }
    }
    Ok(())
}

/// Two corners of a face whose uvs are known, the third lying to their left.
#[derive(Clone, Copy)]
struct Base {
    from: u32,
    to: u32,
    /// Whether an edge of the face runs from one to the other.
    is_edge: bool,
    at: [f64; 2],
    along: [f64; 2],
}

/// A corner seen from a base: how far along it, in its lengths, and the way from there to the corner.
struct Seen {
    along: f64,
    off: [f64; 3],
    off_squared: f64,
    base_squared: f64,
}

/// uvs guessed from where the corners are in space.
struct Laid<'a> {
    around: &'a Around<'a>,
    positions: &'a [At],
}

impl Laid<'_> {
    /// What the rules for uvs alone say.
    fn guess(&self, base: Base, turn: f64, guessed: &mut Guessed) {
        let Some(seen) = self.seen(base, self.around.corner) else { return };
        guessed.add_some(rule::AS_THE_FACE, self.as_the_face(base, &seen));
        guessed.add_some(rule::AS_BEYOND, self.as_beyond(base, &seen));
        guessed.add(rule::WITH_ITS_ANGLES, self.with_its_angles(base, &seen, turn));
    }

    fn base(&self) -> Option<Base> {
        let Around { place, corner, .. } = *self.around;
        let (before, after) = (place.previous(corner), place.next(corner));
        let is_triangle = place.end - place.start == 3;
        let pairs =
            [(place.previous(before), before, true), (after, place.next(after), true), (after, before, is_triangle)];
        pairs.into_iter().find_map(|(from, to, is_edge)| {
            let (at, end) = (self.uv(from)?, self.uv(to)?);
            let along = [end[0] - at[0], end[1] - at[1]];
            (from != corner && to != corner).then_some(Base { from, to, is_edge, at, along })
        })
    }

    fn uv(&self, corner: u32) -> Option<[f64; 2]> {
        self.around.at(corner).map(|&[u, v, _]| [u as f64, v as f64])
    }

    fn position(&self, corner: u32) -> [f64; 3] {
        three::each(self.positions[self.around.beside.connected.shape.value(corner) as usize], |x| x as f64)
    }

    fn seen(&self, base: Base, corner: u32) -> Option<Seen> {
        let (from, to, at) = (self.position(base.from), self.position(base.to), self.position(corner));
        let (edge, way) = (minus(to, from), minus(at, from));
        let base_squared = dot(edge, edge);
        let along = dot(edge, way) / base_squared;
        let off = minus(way, three::each(edge, |x| x * along));
        (base_squared > 0.0).then(|| Seen { along, off, off_squared: dot(off, off), base_squared })
    }

    /// As the shape in space lies on the base.
    fn with_its_angles(&self, base: Base, seen: &Seen, turn: f64) -> At {
        let off = (seen.off_squared / seen.base_squared).sqrt() * turn;
        let [u, v] = base.along;
        rounded([base.at[0] + seen.along * u - off * v, base.at[1] + seen.along * v + off * u])
    }

    /// As the map of a third corner, `other`, goes on: `ratio` times as far off the base.
    fn as_mapped(&self, base: Base, seen: &Seen, other: u32, ratio: impl Fn(&Seen, &Seen) -> f64) -> Option<At> {
        let by = self.seen(base, other)?;
        let uv = self.uv(other)?;
        (by.off_squared > 0.0).then_some(())?;
        let ratio = ratio(seen, &by);
        let along = |axis: usize| {
            let off = uv[axis] - base.at[axis] - by.along * base.along[axis];
            base.at[axis] + seen.along * base.along[axis] + ratio * off
        };
        Some(rounded([along(0), along(1)]))
    }

    /// As another corner of the same face is mapped.
    fn as_the_face(&self, base: Base, seen: &Seen) -> Option<At> {
        let Around { place, corner, .. } = *self.around;
        let other = [place.next(corner), place.previous(base.from)]
            .into_iter()
            .find(|other| ![base.from, base.to, corner].contains(other) && self.around.at(*other).is_some())?;
        self.as_mapped(base, seen, other, |seen, by| dot(seen.off, by.off) / by.off_squared)
    }

    /// As the face beyond the base is mapped.
    fn as_beyond(&self, base: Base, seen: &Seen) -> Option<At> {
        let twin = self.around.beside.across(base.from).filter(|_| base.is_edge)?;
        let other = self.around.beside.previous(twin);
        self.as_mapped(base, seen, other, |seen, by| -(seen.off_squared / by.off_squared).sqrt())
    }
}

fn minus(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// The nearest whole numbers in range; 0 for no number.
fn rounded([u, v]: [f64; 2]) -> At {
    let whole = |x: f64| (x.round() as i64).clamp(-COORDINATE_MAX, COORDINATE_MAX);
    [whole(u), whole(v), 0]
}
