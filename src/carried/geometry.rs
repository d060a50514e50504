//! Where positions and uvs are, coded: integers on a lattice, each told by its distance from a guess.
//!
//! Faces come as neighbours reach them, depth first, so that much is known around each value. Several rules guess at it
//! from all its faces there; the mean of the rule that has been best of late is taken, so that nothing has to be said about
//! the choice. Positions: the parallelogram in the face and across an edge (Touma & Gotsman 1998, *Triangle mesh
//! compression*), a row of edges going on straight or with the same change. uvs: the face's own shape in space, laid on an
//! edge whose uvs are known (right where the map keeps angles), or as the map of the same face or the one beyond that edge
//! goes on (right where it is affine), else as positions. Arithmetic on doubles uses + - * / and square roots only: the same
//! natively and in the browser.
//! Cost: linear, a bounded number of steps for each value.

use super::Damage;
use super::coder::{Coder, Number, bit_length, unzigzag, zigzag};
use super::connect::{Connected, Face, NONE};

/// Coordinates are whole numbers up to here either way, so that doubles hold them exactly.
pub(super) const COORDINATE_MAX: i64 = 1 << 53;
/// Levels of how long a distance is expected to be, in bits.
const LEVELS: usize = 56;
/// Fraction bits of the mean length of a rule's distances, and the share of a new one: one in 2^3.
const FRACTION: u32 = 6;
const SHARE: u32 = 3;

/// Rules for positions and uvs alike, and for uvs alone, which come before them.
const COMMON_RULES: usize = 10;
const LAID_RULES: usize = 3;

/// Guesses by their rules; `None` where a rule does not apply.
type Guesses<const N: usize, const RULES: usize> = [Option<[i64; N]>; RULES];

/// Distances from guesses, in `N` coordinates.
struct Distances<const N: usize, const RULES: usize> {
    /// Mean length in bits of each rule's distances.
    mean: [u32; RULES],
    first: Vec<Number>,
    rest: Vec<Number>,
}

impl<const N: usize, const RULES: usize> Distances<N, RULES> {
    fn new() -> Self {
        // Rules stand in the order in which they are trusted before anything is known.
        let mean = std::array::from_fn(|rule| (16 << FRACTION) + rule as u32);
        Self { mean, first: vec![Number::NEW; LEVELS], rest: vec![Number::NEW; LEVELS] }
    }

    fn code<C: Coder>(
        &mut self,
        coder: &mut C,
        guesses: &Guesses<N, RULES>,
        given: Option<&[i64; N]>,
    ) -> Result<[i64; N], Damage> {
        let best = (0..RULES).filter(|&rule| guesses[rule].is_some()).min_by_key(|&rule| self.mean[rule]);
        let guess = best.and_then(|rule| guesses[rule]).unwrap_or([0; N]);
        let expected = best.map_or(LEVELS as u32 - 1, |rule| self.mean[rule] >> FRACTION).min(LEVELS as u32 - 1);
        let mut value = [0; N];
        let mut longest = 0;
        for axis in 0..N {
            let models = match axis {
                0 => &mut self.first[expected as usize],
                _ => &mut self.rest[((longest + expected) / 2).min(LEVELS as u32 - 1) as usize],
            };
            let distance = given.map_or(0, |given| given[axis] - guess[axis]);
            let zigzagged = coder.number(models, zigzag(distance));
            longest = longest.max(bit_length(zigzagged));
            value[axis] = guess[axis].wrapping_add(unzigzag(zigzagged));
            if value[axis].unsigned_abs() > COORDINATE_MAX as u64 {
                return Err(Damage("a coordinate is beyond all range"));
            }
        }
        for (mean, guess) in self.mean.iter_mut().zip(guesses) {
            if let Some(guess) = guess {
                let furthest = (0..N).map(|axis| (value[axis] - guess[axis]).unsigned_abs()).max();
                let length = bit_length(furthest.unwrap_or(0) * 2) << FRACTION;
                *mean = *mean + (length >> SHARE) - (*mean >> SHARE);
            }
        }
        Ok(value)
    }
}

fn combined<const N: usize>(of: impl Fn(usize) -> i64) -> Option<[i64; N]> {
    Some(std::array::from_fn(|axis| of(axis).clamp(-COORDINATE_MAX, COORDINATE_MAX)))
}

/// Points one, two and, where there are, three steps away.
type Row<const N: usize> = ([i64; N], [i64; N], Option<[i64; N]>);

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

/// Values around a corner that are known already, for guesses of any number of coordinates.
struct Around<'a, const N: usize> {
    beside: &'a Beside<'a>,
    place: Face,
    corner: u32,
    known: &'a [Option<[i64; N]>],
    last: Option<[i64; N]>,
}

impl<const N: usize> Around<'_, N> {
    fn at(&self, corner: u32) -> Option<[i64; N]> {
        self.known.get(self.beside.value(corner) as usize).copied().flatten()
    }

    /// What the rules say that positions and uvs have in common, in the order in which they are trusted.
    fn guesses(&self) -> [Option<[i64; N]>; COMMON_RULES] {
        let (before, after) = (self.place.previous(self.corner), self.place.next(self.corner));
        let beside = [self.at(before), self.at(after)];
        if beside == [None, None] {
            let mut guesses = [None; COMMON_RULES];
            guesses[COMMON_RULES - 1] = self.last;
            return guesses;
        }
        let both = beside[0].zip(beside[1]);
        let in_face = both.and_then(|both| self.in_face(both, after));
        let rows = [Direction::Before, Direction::After].map(|forward| self.row(forward));
        let [bent_before, bent_after] = rows.map(|row| {
            let (first, second, third) = row?;
            let third = third?;
            combined(|axis| 3 * (first[axis] - second[axis]) + third[axis])
        });
        let [straight_before, straight_after] = rows.map(|row| {
            let (first, second, _) = row?;
            combined(|axis| 2 * first[axis] - second[axis])
        });
        [
            in_face.and_then(|in_face| self.twisted(in_face)),
            in_face,
            both.and_then(|both| self.over_edge(both, after)),
            bent_before,
            bent_after,
            straight_before,
            straight_after,
            beside[0],
            beside[1],
            self.last,
        ]
    }

    /// The parallelogram with both neighbours and the corner after the next.
    fn in_face(&self, (b, a): ([i64; N], [i64; N]), after: u32) -> Option<[i64; N]> {
        let o = self.at(self.place.next(after))?;
        (self.place.end - self.place.start >= 4).then_some(())?;
        combined(|axis| b[axis] + a[axis] - o[axis])
    }

    /// Over the edge opposite the corner of a triangle.
    fn over_edge(&self, (b, a): ([i64; N], [i64; N]), after: u32) -> Option<[i64; N]> {
        (self.place.end - self.place.start == 3).then_some(())?;
        let twin = self.beside.across(after)?;
        let (left, right) = (self.beside.previous(twin), self.beside.next(self.beside.next(twin)));
        let (l, r) = (self.at(left)?, self.at(right)?);
        combined(|axis| b[axis] + a[axis] - (l[axis] + r[axis]) / 2)
    }

    /// A row of edges that goes on: neighbours 1, 2 and, where there are, 3 steps away.
    fn row(&self, forward: Direction) -> Option<Row<N>> {
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
    fn twisted(&self, in_face: [i64; N]) -> Option<[i64; N]> {
        let before = self.place.previous(self.corner);
        let beyond = self.beside.across(self.place.previous(before))?;
        let (p, o) = (self.at(before)?, self.at(self.place.previous(before))?);
        let (far, far_off) = (self.beside.previous(beyond), self.beside.next(self.beside.next(beyond)));
        let (f, d) = (self.at(far)?, self.at(far_off)?);
        combined(|axis| in_face[axis] + p[axis] - f[axis] - o[axis] + d[axis])
    }
}

/// Corners at one value whose faces hang together around it, at most this many.
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

/// Of each rule, the mean of its guesses at all corners of a fan.
fn mean_guesses<const N: usize, const RULES: usize>(
    fan: &Fan,
    guesses_at: impl Fn(u32) -> Guesses<N, RULES>,
) -> Guesses<N, RULES> {
    let mut sums = [([0i64; N], 0); RULES];
    for &corner in fan.corners() {
        for ((sum, count), guess) in sums.iter_mut().zip(guesses_at(corner)) {
            if let Some(guess) = guess {
                (0..N).for_each(|axis| sum[axis] += guess[axis]);
                *count += 1;
            }
        }
    }
    sums.map(|(sum, count)| (count > 0).then(|| sum.map(|x| x.div_euclid(count.max(1)))))
}

/// Codes the positions: writes `given`, or reads them.
pub(super) fn code_positions<C: Coder>(
    coder: &mut C,
    connected: &Connected,
    given: &[[i64; 3]],
) -> Result<Vec<[i64; 3]>, Damage> {
    let mut known = vec![None; value_count(&connected.shape.position_value)];
    let mut last = None;
    let mut distances = Distances::<3, COMMON_RULES>::new();
    let beside = Beside::new(connected, |corner| connected.shape.value(corner));
    each_in_turn(&beside, known.len(), |corner| {
        if coder.is_spent() {
            return Err(Damage::END);
        }
        let guesses = mean_guesses(&Fan::new(&beside, corner), |corner| {
            let around = Around { beside: &beside, place: connected.face_at(corner), corner, known: &known, last };
            around.guesses()
        });
        let index = beside.value(corner) as usize;
        let value = distances.code(coder, &guesses, given.get(index))?;
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
    positions: &[[i64; 3]],
    given: &[[i64; 2]],
) -> Result<Vec<[i64; 2]>, Damage> {
    let mut known = vec![None; value_count(&connected.shape.uv_value)];
    let mut last = None;
    let mut distances = Distances::<2, { LAID_RULES + COMMON_RULES }>::new();
    let beside = Beside::new(connected, |corner| connected.shape.uv(corner));
    // 1 where uvs lie counter-clockwise as the face does, -1 where mirrored: as the last ones did.
    let mut turn = 1.0;
    each_in_turn(&beside, known.len(), |corner| {
        if coder.is_spent() {
            return Err(Damage::END);
        }
        let guesses = mean_guesses(&Fan::new(&beside, corner), |corner| {
            let around = Around { beside: &beside, place: connected.face_at(corner), corner, known: &known, last };
            let laid = Laid { around: &around, positions };
            let base = laid.base();
            let seen = base.and_then(|base| Some((base, laid.seen(base, corner)?)));
            let mut guesses = [None; LAID_RULES + COMMON_RULES];
            if let Some((base, seen)) = &seen {
                guesses[0] = laid.as_the_face(*base, seen);
                guesses[1] = laid.as_beyond(*base, seen);
                guesses[2] = laid.with_its_angles(*base, seen, turn);
            }
            guesses[LAID_RULES..].copy_from_slice(&around.guesses());
            guesses
        });
        let around = Around { beside: &beside, place: connected.face_at(corner), corner, known: &known, last };
        let base = Laid { around: &around, positions }.base();
        let index = beside.value(corner) as usize;
        let value = distances.code(coder, &guesses, given.get(index))?;
        if let Some(Base { at, along, .. }) = base {
            let side = along[0] * (value[1] as f64 - at[1]) - along[1] * (value[0] as f64 - at[0]);
            if side != 0.0 {
                turn = side.signum();
            }
        }
        known[index] = Some(value);
        last = Some(value);
        Ok(())
    })?;
    Ok(known.into_iter().flatten().collect())
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
    around: &'a Around<'a, 2>,
    positions: &'a [[i64; 3]],
}

impl Laid<'_> {
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
        self.around.at(corner).map(|uv| uv.map(|x| x as f64))
    }

    fn position(&self, corner: u32) -> [f64; 3] {
        self.positions[self.around.beside.connected.shape.value(corner) as usize].map(|x| x as f64)
    }

    fn seen(&self, base: Base, corner: u32) -> Option<Seen> {
        let (from, to, at) = (self.position(base.from), self.position(base.to), self.position(corner));
        let (edge, way) = (minus(to, from), minus(at, from));
        let base_squared = dot(edge, edge);
        let along = dot(edge, way) / base_squared;
        let off = minus(way, edge.map(|x| x * along));
        (base_squared > 0.0).then(|| Seen { along, off, off_squared: dot(off, off), base_squared })
    }

    /// As the shape in space lies on the base.
    fn with_its_angles(&self, base: Base, seen: &Seen, turn: f64) -> Option<[i64; 2]> {
        let off = (seen.off_squared / seen.base_squared).sqrt() * turn;
        let [u, v] = base.along;
        Some(rounded([base.at[0] + seen.along * u - off * v, base.at[1] + seen.along * v + off * u]))
    }

    /// As the map of a third corner, `other`, goes on: `ratio` times as far off the base.
    fn as_mapped(&self, base: Base, seen: &Seen, other: u32, ratio: impl Fn(&Seen, &Seen) -> f64) -> Option<[i64; 2]> {
        let by = self.seen(base, other)?;
        let uv = self.uv(other)?;
        (by.off_squared > 0.0).then_some(())?;
        let ratio = ratio(seen, &by);
        Some(rounded(std::array::from_fn(|axis| {
            let off = uv[axis] - base.at[axis] - by.along * base.along[axis];
            base.at[axis] + seen.along * base.along[axis] + ratio * off
        })))
    }

    /// As another corner of the same face is mapped.
    fn as_the_face(&self, base: Base, seen: &Seen) -> Option<[i64; 2]> {
        let Around { place, corner, .. } = *self.around;
        let other = [place.next(corner), place.previous(base.from)]
            .into_iter()
            .find(|other| ![base.from, base.to, corner].contains(other) && self.around.at(*other).is_some())?;
        self.as_mapped(base, seen, other, |seen, by| dot(seen.off, by.off) / by.off_squared)
    }

    /// As the face beyond the base is mapped.
    fn as_beyond(&self, base: Base, seen: &Seen) -> Option<[i64; 2]> {
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
fn rounded(uv: [f64; 2]) -> [i64; 2] {
    uv.map(|x| (x.round() as i64).clamp(-COORDINATE_MAX, COORDINATE_MAX))
}
