//! Codes the connectivity of faces: the position and uv of each corner, exactly, in the file's order of faces and
//! corners.
//!
//! Points (statements `v`, `vt`) and their distinct values are numbered in order of first use by corners; *value* and
//! *point* are coded separately, so that a file that repeats its values at every corner costs no more than one that
//! does not. A corner's position value is looked for among guesses, best first, each answered by a bit: what follows on
//! an edge that an earlier face left open, the same place of the face before; else it is new, or coded by number. Its
//! uv value likewise: the uv of the neighbours' corners at the same position, then what followed the last uv before.
//! Cost: linear in corners, a bounded number of steps each.

use super::Damage;
use super::coder::{Bit, Coder, Number, bit_length, unzigzag, zigzag};

/// No corner, no uv.
pub(super) const NONE: u32 = u32::MAX;
/// Most corners of all faces, and most points of one kind: 700,000 triangles or more, over twice what the longest link holds
/// at five bytes each. A reader then takes some 200 MB at most, whatever it is given.
pub(super) const CORNERS_MAX: usize = 1 << 21;
/// Open edges looked through at a position: more than meet there in any surface, and few enough for a hostile one.
const LOOKED_THROUGH: usize = 12;
/// Guesses for one corner.
const GUESSES_MAX: usize = 20;
/// Corners at the same position looked back through for their uvs.
const LOOKED_BACK: usize = 6;
/// Corners of the face before, and of the one that is coded, that are compared.
const COMPARED: usize = 8;

/// Faces, corners and points.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Shape {
    /// Face i's corners are `starts[i]..starts[i + 1]`.
    pub starts: Vec<u32>,
    /// Of each corner, its position's point.
    pub positions: Vec<u32>,
    /// Of each corner, its uv's point, or [`NONE`].
    pub uvs: Vec<u32>,
    /// Of each position point, its value.
    pub position_value: Vec<u32>,
    /// Of each uv point, its value.
    pub uv_value: Vec<u32>,
}

impl Shape {
    /// Position value of a corner.
    pub fn value(&self, corner: u32) -> u32 {
        self.position_value[self.positions[corner as usize] as usize]
    }

    /// uv value of a corner, or [`NONE`].
    pub fn uv(&self, corner: u32) -> u32 {
        match self.uvs[corner as usize] {
            NONE => NONE,
            point => self.uv_value[point as usize],
        }
    }
}

/// State of the walk through a face.
#[derive(Clone, Copy)]
pub(super) struct Face {
    pub start: u32,
    pub end: u32,
}

impl Face {
    pub fn next(self, corner: u32) -> u32 {
        if corner + 1 == self.end { self.start } else { corner + 1 }
    }
    pub fn previous(self, corner: u32) -> u32 {
        if corner == self.start { self.end - 1 } else { corner - 1 }
    }
}

/// What is coded, and its neighbours across edges.
pub(super) struct Connected {
    pub shape: Shape,
    /// Corner at which the same edge starts in another face, the other way round; or [`NONE`].
    pub twin: Vec<u32>,
    /// Face of each corner.
    pub face_of: Vec<u32>,
    /// The corner after each one in its face, and the one before.
    next: Vec<u32>,
    previous: Vec<u32>,
}

impl Connected {
    fn new(shape: Shape, twin: Vec<u32>, face_of: Vec<u32>) -> Self {
        let (mut next, mut previous) = (Vec::with_capacity(twin.len()), Vec::with_capacity(twin.len()));
        for ends in shape.starts.windows(2) {
            let face = Face { start: ends[0], end: ends[1] };
            for corner in face.start..face.end {
                next.push(face.next(corner));
                previous.push(face.previous(corner));
            }
        }
        Self { shape, twin, face_of, next, previous }
    }

    pub fn face(&self, face: u32) -> Face {
        Face { start: self.shape.starts[face as usize], end: self.shape.starts[face as usize + 1] }
    }
    pub fn face_at(&self, corner: u32) -> Face {
        self.face(self.face_of[corner as usize])
    }
    pub fn next(&self, corner: u32) -> u32 {
        self.next[corner as usize]
    }
    pub fn previous(&self, corner: u32) -> u32 {
        self.previous[corner as usize]
    }
}

/// Codes a shape: writes `given`, or reads one, for which `given` is empty.
pub(super) fn code<C: Coder>(coder: &mut C, given: &Shape) -> Result<Connected, Damage> {
    let mut faces = Number::NEW;
    let count = coder.number(&mut faces, given.starts.len().saturating_sub(1) as u64);
    if count == 0 || count > (CORNERS_MAX / 3) as u64 {
        return Err(Damage("its number of faces cannot be"));
    }
    let mut walk = Walk::new();
    for face in 0..count as usize {
        walk.face(coder, given, face)?;
    }
    walk.shape.position_value = walk.points.value_of;
    let mut connected = Connected::new(walk.shape, walk.twin, walk.face_of);
    code_uvs(coder, given, &mut connected)?;
    Ok(connected)
}

/// Points of one kind: which of those with the same value a corner has.
struct Points {
    value_of: Vec<u32>,
    /// Of each value, its point that was used last.
    last: Vec<u32>,
    same: Bit,
    fresh: Bit,
    number: Number,
}

impl Points {
    fn new() -> Self {
        Self { value_of: Vec::new(), last: Vec::new(), same: Bit::NEW, fresh: Bit::NEW, number: Number::NEW }
    }

    fn add(&mut self, value: u32) -> u32 {
        let point = self.value_of.len() as u32;
        self.value_of.push(value);
        point
    }

    /// The point of a corner that has `value`, which may be the first new one.
    fn code<C: Coder>(&mut self, coder: &mut C, value: u32, given: u32) -> Result<u32, Damage> {
        if value as usize == self.last.len() {
            let point = self.add(value);
            self.last.push(point);
            return Ok(point);
        }
        let last = self.last[value as usize];
        if coder.bit(&mut self.same, given == last) {
            return Ok(last);
        }
        let count = self.value_of.len() as u64;
        let point = if coder.bit(&mut self.fresh, u64::from(given) == count) {
            self.add(value)
        } else {
            let point = coder.number(&mut self.number, u64::from(given));
            if point >= count || self.value_of[point as usize] != value {
                return Err(Damage("a corner refers to what is not there"));
            }
            point as u32
        };
        self.last[value as usize] = point;
        Ok(point)
    }
}

/// Values that a distance may be measured from.
const BASES: usize = 4;

/// Values that are neither guessed nor new, coded by their distance from the base that has been nearest lately.
struct Told {
    /// The last value that was coded.
    last: u32,
    /// Mean length in bits of the distances from each base, in 1/256.
    mean: [u32; BASES],
    number: [Number; BASES],
}

impl Told {
    fn new() -> Self {
        Self { last: 0, mean: [0; BASES], number: [Number::NEW; BASES] }
    }

    /// One of `count` values; `near`: two that may be near it.
    fn code<C: Coder>(&mut self, coder: &mut C, given: u32, count: usize, near: [u32; 2]) -> Result<u32, Damage> {
        let bases = [self.last, near[0], near[1], (count as u32).saturating_sub(1)];
        let best = (0..BASES).min_by_key(|&base| self.mean[base]).unwrap_or(0);
        let distance = zigzag(i64::from(given) - i64::from(bases[best]));
        let distance = unzigzag(coder.number(&mut self.number[best], distance));
        let value = distance.wrapping_add(i64::from(bases[best]));
        if value < 0 || value >= count as i64 {
            return Err(Damage("a corner refers to what is not there"));
        }
        for (mean, base) in self.mean.iter_mut().zip(bases) {
            let length = bit_length(zigzag(value - i64::from(base))) << 8;
            *mean = *mean + (length >> 4) - (*mean >> 4);
        }
        self.last = value as u32;
        Ok(self.last)
    }
}

/// Guesses at a value, best first, none twice.
struct Guesses {
    list: [(u32, u8); GUESSES_MAX],
    count: usize,
}

impl Guesses {
    fn new() -> Self {
        Self { list: [(0, 0); GUESSES_MAX], count: 0 }
    }
    fn clear(&mut self) {
        self.count = 0;
    }
    fn add(&mut self, value: u32, kind: u8) {
        if self.count < GUESSES_MAX && self.list[..self.count].iter().all(|guess| guess.0 != value) {
            self.list[self.count] = (value, kind);
            self.count += 1;
        }
    }
    fn all(&self) -> &[(u32, u8)] {
        &self.list[..self.count]
    }
}

/// What open edges at a value lead to, newest first.
struct Open {
    list: [u32; LOOKED_THROUGH],
    count: usize,
}

impl Open {
    fn all(&self) -> &[u32] {
        &self.list[..self.count]
    }
    fn first(&self, most: usize) -> &[u32] {
        &self.list[..self.count.min(most)]
    }
}

/// Kinds of guesses at a position value.
mod kind {
    /// Both edges beside the corner are open.
    pub const BOTH: u8 = 0;
    /// The edge from the corner before is; the newest first.
    pub const ONWARD: u8 = 1;
    /// The edge to the face's first corner is; the newest first.
    pub const BACK: u8 = 4;
    /// In the face before, at this place and one before and after; or, for the first corner, at this place.
    pub const BEFORE: u8 = 7;
    /// At the other end of an open edge of the face before, for the first corner.
    pub const NEAR: u8 = BEFORE + super::COMPARED as u8;
    pub const ALL: usize = NEAR as usize + super::GUESSES_MAX;
}

/// How the last corner's value was coded.
const WAYS: usize = 4;

struct Walk {
    shape: Shape,
    twin: Vec<u32>,
    face_of: Vec<u32>,
    /// Of each value, the newest open edge that ends there and that starts there, named by the corner it starts at.
    ends: Vec<u32>,
    begins: Vec<u32>,
    /// Of each corner's edge, the next in those lists.
    next_end: Vec<u32>,
    next_begin: Vec<u32>,
    /// Of each corner, its value.
    values: Vec<u32>,
    points: Points,
    degree: u64,
    same_degree: [Bit; 2],
    was_same: bool,
    degrees: Number,
    guessed: [[[Bit; kind::ALL]; WAYS]; 3],
    fresh: [[Bit; WAYS]; 3],
    told: Told,
    way: usize,
}

impl Walk {
    fn new() -> Self {
        Self {
            shape: Shape { starts: vec![0], ..Shape::default() },
            twin: Vec::new(),
            face_of: Vec::new(),
            ends: Vec::new(),
            begins: Vec::new(),
            next_end: Vec::new(),
            next_begin: Vec::new(),
            values: Vec::new(),
            points: Points::new(),
            degree: 3,
            same_degree: [Bit::NEW; 2],
            was_same: true,
            degrees: Number::NEW,
            guessed: [[[Bit::NEW; kind::ALL]; WAYS]; 3],
            fresh: [[Bit::NEW; WAYS]; 3],
            told: Told::new(),
            way: 0,
        }
    }

    fn face<C: Coder>(&mut self, coder: &mut C, given: &Shape, face: usize) -> Result<(), Damage> {
        let given_degree = given.starts.get(face + 1).map_or(3, |end| u64::from(end - given.starts[face]));
        let same = coder.bit(&mut self.same_degree[usize::from(self.was_same)], given_degree == self.degree);
        self.was_same = same;
        if !same {
            self.degree = coder.number(&mut self.degrees, given_degree - 3).saturating_add(3);
        }
        let start = self.values.len();
        if self.degree > (CORNERS_MAX - start) as u64 {
            return Err(Damage("it has more corners than any that is made"));
        }
        if coder.is_spent() {
            return Err(Damage::END);
        }
        let place = Face { start: start as u32, end: start as u32 + self.degree as u32 };
        let before = match face {
            0 => Face { start: 0, end: 0 },
            _ => Face { start: self.shape.starts[face - 1], end: start as u32 },
        };
        let mut guesses = Guesses::new();
        for corner in place.start..place.end {
            if corner & 0xFF == 0 && coder.is_spent() {
                return Err(Damage::END);
            }
            guesses.clear();
            self.guess(place, before, corner, &mut guesses);
            let given_point = given.positions.get(corner as usize).copied();
            let given_value = given_point.map_or(0, |point| given.position_value[point as usize]);
            let value = self.value(coder, [before, place], corner, &guesses, given_value)?;
            let point = self.points.code(coder, value, given_point.unwrap_or(0))?;
            if value as usize == self.ends.len() {
                self.ends.push(NONE);
                self.begins.push(NONE);
            }
            self.values.push(value);
            self.shape.positions.push(point);
            self.face_of.push(face as u32);
        }
        (place.start..place.end).for_each(|_| {
            self.twin.push(NONE);
            self.next_end.push(NONE);
            self.next_begin.push(NONE);
        });
        self.shape.starts.push(place.end);
        for corner in place.start..place.end {
            self.close(corner, place.next(corner));
        }
        Ok(())
    }

    fn value<C: Coder>(
        &mut self,
        coder: &mut C,
        [before, place]: [Face; 2],
        corner: u32,
        guesses: &Guesses,
        given: u32,
    ) -> Result<u32, Damage> {
        let class = class(place, corner);
        let guessed = &mut self.guessed[class][self.way];
        for &(guess, kind) in guesses.all() {
            if coder.bit(&mut guessed[usize::from(kind)], given == guess) {
                self.way = if kind < kind::BEFORE { 1 } else { 2 };
                return Ok(guess);
            }
        }
        let count = self.ends.len();
        if coder.bit(&mut self.fresh[class][self.way], given as usize == count) {
            self.way = 0;
            return Ok(count as u32);
        }
        self.way = 3;
        let last = self.values.last().copied().unwrap_or(0);
        let before = self.values.get(before.start as usize).copied().unwrap_or(0);
        self.told.code(coder, given, count, [before, last])
    }

    fn guess(&self, place: Face, before: Face, corner: u32, guesses: &mut Guesses) {
        let own = &self.values[place.start.max(corner.saturating_sub(COMPARED as u32)) as usize..corner as usize];
        let mut add = |value: u32, kind: u8| {
            if !own.contains(&value) {
                guesses.add(value, kind);
            }
        };
        let (Some(&last), Some(&first)) = (own.last(), self.values.get(place.start as usize)) else {
            (before.start..before.end)
                .zip(kind::BEFORE..)
                .take(COMPARED)
                .for_each(|(corner, kind)| add(self.values[corner as usize], kind));
            let mut kind = kind::NEAR;
            for corner in (before.start..before.end).take(COMPARED) {
                let value = self.values[corner as usize];
                let (into, out) = (self.into(value), self.out_of(value));
                for &value in into.all().iter().chain(out.all()).take(4) {
                    add(value, kind);
                    kind = (kind + 1).min(kind::ALL as u8 - 1);
                }
            }
            return;
        };
        let is_last = corner + 1 == place.end;
        let onward = self.into(last);
        let back = is_last.then(|| self.out_of(first));
        let back = back.as_ref().map_or(&[][..], Open::all);
        onward.all().iter().filter(|value| back.contains(value)).for_each(|&value| add(value, kind::BOTH));
        onward.all().iter().zip(kind::ONWARD..kind::BACK).for_each(|(&value, kind)| add(value, kind));
        back.iter().zip(kind::BACK..kind::BEFORE).for_each(|(&value, kind)| add(value, kind));
        let at = before.start + (corner - place.start);
        [at, at - 1, at + 1]
            .into_iter()
            .zip(kind::BEFORE..)
            .filter(|(corner, _)| *corner < before.end)
            .for_each(|(corner, kind)| add(self.values[corner as usize], kind));
        if !is_last {
            // Two open edges on from the corner before: the face fills the bend between them.
            let mut kind = kind::NEAR;
            for &step in self.out_of(last).first(2) {
                for &value in self.out_of(step).first(2) {
                    add(value, kind);
                    kind += 1;
                }
            }
            for &step in onward.first(2) {
                for &value in self.into(step).first(2) {
                    add(value, kind);
                    kind += 1;
                }
            }
        }
    }

    /// From where open edges come to a value.
    fn into(&self, value: u32) -> Open {
        self.open(self.ends[value as usize], &self.next_end, |edge| self.values[edge as usize])
    }

    /// Where open edges from a value lead.
    fn out_of(&self, value: u32) -> Open {
        self.open(self.begins[value as usize], &self.next_begin, |edge| self.end_of(edge))
    }

    fn open(&self, first: u32, next: &[u32], other_end: impl Fn(u32) -> u32) -> Open {
        let mut open = Open { list: [NONE; LOOKED_THROUGH], count: 0 };
        let mut edge = first;
        for _ in 0..LOOKED_THROUGH {
            let Some(&after) = next.get(edge as usize) else { break };
            if self.twin[edge as usize] == NONE {
                open.list[open.count] = other_end(edge);
                open.count += 1;
            }
            edge = after;
        }
        open
    }

    fn end_of(&self, edge: u32) -> u32 {
        let face = self.face_of[edge as usize] as usize;
        let place = Face { start: self.shape.starts[face], end: self.shape.starts[face + 1] };
        self.values[place.next(edge) as usize]
    }

    /// Joins the edge from `corner` to `next` with an open one, or leaves it open.
    fn close(&mut self, corner: u32, next: u32) {
        let (from, to) = (self.values[corner as usize], self.values[next as usize]);
        let open = self.open(self.ends[from as usize], &self.next_end, |edge| edge);
        if let Some(&twin) = open.all().iter().find(|edge| self.values[**edge as usize] == to) {
            self.twin[corner as usize] = twin;
            self.twin[twin as usize] = corner;
            unlink(&mut self.ends[from as usize], &mut self.next_end, twin);
            unlink(&mut self.begins[to as usize], &mut self.next_begin, twin);
        } else {
            self.next_end[corner as usize] = std::mem::replace(&mut self.ends[to as usize], corner);
            self.next_begin[corner as usize] = std::mem::replace(&mut self.begins[from as usize], corner);
        }
    }
}

/// Takes an edge out of a list, if it is near its head.
fn unlink(first: &mut u32, next: &mut [u32], edge: u32) {
    let after = next[edge as usize];
    if *first == edge {
        *first = after;
        return;
    }
    let mut at = *first;
    for _ in 0..LOOKED_THROUGH {
        let Some(following) = next.get_mut(at as usize) else { return };
        if *following == edge {
            *following = after;
            return;
        }
        at = *following;
    }
}

/// First corner of a face, one in the middle, or the last.
fn class(place: Face, corner: u32) -> usize {
    if corner == place.start {
        0
    } else if corner + 1 < place.end {
        1
    } else {
        2
    }
}

/// Whether a face's corners have uvs.
mod mapped {
    pub const ALL: usize = 0;
    pub const NONE: usize = 1;
    pub const SOME: usize = 2;
}

/// Kinds of guesses at a uv value.
mod uv_kind {
    /// Both neighbours' at this corner; the one's across the edge onward; the one's across the edge before.
    pub const BOTH: u8 = 0;
    pub const ONWARD: u8 = 1;
    pub const BEFORE: u8 = 2;
    /// Used at the same position, the latest first.
    pub const HERE: u8 = 3;
    /// Followed the uv of the corner before, the last time.
    pub const FOLLOWS: u8 = 9;
    /// In the same place of the face before.
    pub const SAME_PLACE: u8 = 10;
    pub const ALL: usize = 11;
}

fn code_uvs<C: Coder>(coder: &mut C, given: &Shape, connected: &mut Connected) -> Result<(), Damage> {
    let corners = connected.twin.len();
    let mut values = vec![NONE; corners];
    let mut points = Points::new();
    // Of each position value, the last corner there with a uv; of each corner, the one before.
    let mut last_here = vec![NONE; connected.shape.position_value.len()];
    let mut before_here = vec![NONE; corners];
    let mut after: Vec<u32> = Vec::new();
    let mut kinds = [[Bit::NEW; 2]; 3];
    let mut has = [Bit::NEW; 2];
    let mut guessed = [[Bit::NEW; uv_kind::ALL]; WAYS];
    let mut fresh = [[Bit::NEW; WAYS]; 2];
    let mut told = Told::new();
    let (mut way, mut face_kind, mut had) = (0, mapped::ALL, true);
    let mut face_before = Face { start: 0, end: 0 };
    let mut guesses = Guesses::new();
    for face in 0..connected.shape.starts.len() - 1 {
        if coder.is_spent() {
            return Err(Damage::END);
        }
        let place = connected.face(face as u32);
        let given_of = |corner: u32| given.uvs.get(corner as usize).copied();
        let with =
            (place.start..place.end).filter(|corner| given_of(*corner).is_some_and(|point| point != NONE)).count();
        let [all, none] = &mut kinds[face_kind];
        face_kind = if coder.bit(all, with == (place.end - place.start) as usize) {
            mapped::ALL
        } else if coder.bit(none, with == 0) {
            mapped::NONE
        } else {
            mapped::SOME
        };
        for corner in place.start..place.end {
            let given_point = given_of(corner);
            had = match face_kind {
                mapped::ALL => true,
                mapped::NONE => false,
                _ => coder.bit(&mut has[usize::from(had)], given_point.is_some_and(|point| point != NONE)),
            };
            if !had {
                connected.shape.uvs.push(NONE);
                continue;
            }
            let value_at = |corner: u32| values.get(corner as usize).copied().filter(|value| *value != NONE);
            let here = connected.shape.value(corner);
            guesses.clear();
            let onward = connected.twin[corner as usize];
            let onward = (onward < place.start).then(|| value_at(connected.next(onward))).flatten();
            let before = connected.twin[place.previous(corner) as usize];
            let before = (before < place.start).then(|| value_at(before)).flatten();
            if onward == before {
                onward.into_iter().for_each(|value| guesses.add(value, uv_kind::BOTH));
            }
            onward.into_iter().for_each(|value| guesses.add(value, uv_kind::ONWARD));
            before.into_iter().for_each(|value| guesses.add(value, uv_kind::BEFORE));
            let mut back = last_here[here as usize];
            for kind in (uv_kind::HERE..uv_kind::FOLLOWS).take(LOOKED_BACK) {
                let Some(value) = value_at(back) else { break };
                guesses.add(value, kind);
                back = before_here[back as usize];
            }
            let last = if corner == place.start { None } else { value_at(corner - 1) };
            let follows = last.map(|value| after[value as usize]).filter(|value| *value != NONE);
            follows.into_iter().for_each(|value| guesses.add(value, uv_kind::FOLLOWS));
            let same = face_before.start + (corner - place.start);
            let same = (same < face_before.end).then(|| value_at(same)).flatten();
            same.into_iter().for_each(|value| guesses.add(value, uv_kind::SAME_PLACE));

            let count = after.len();
            let given_value = given_point.map_or(0, |point| given.uv_value[point as usize]);
            let found = guesses
                .all()
                .iter()
                .find(|(guess, kind)| coder.bit(&mut guessed[way][usize::from(*kind)], given_value == *guess));
            let seen = last_here[here as usize] != NONE;
            let value = if let Some(&(guess, kind)) = found {
                way = if kind < uv_kind::HERE { 1 } else { 2 };
                guess
            } else if coder.bit(&mut fresh[usize::from(seen)][way], given_value as usize == count) {
                way = 0;
                after.push(NONE);
                count as u32
            } else {
                way = 3;
                let near = [last, values.get(face_before.start as usize).copied().filter(|value| *value != NONE)];
                told.code(coder, given_value, count, near.map(|value| value.unwrap_or(0)))?
            };
            let point = points.code(coder, value, given_point.unwrap_or(0))?;
            if let Some(last) = last {
                after[last as usize] = value;
            }
            values[corner as usize] = value;
            before_here[corner as usize] = std::mem::replace(&mut last_here[here as usize], corner);
            connected.shape.uvs.push(point);
        }
        face_before = place;
    }
    connected.shape.uv_value = points.value_of;
    Ok(())
}
