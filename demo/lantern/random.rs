//! Lanterns with random faults: kind, place and size drawn from a seed, and told, so that a check can be held to naming
//! every one and nothing else.
//!
//! Starts from the revised sheet. No object gets two faults, so that each is one finding. Shells that change their
//! outline are taken off the sheet and set again where there is room; a fault without room is not planted.

use std::collections::BTreeMap;

use glam::{DVec2, dvec2};

use super::faults::fold_chimney;
use super::layout::{BORDER_PX, GAP_PX, SHEET_PX, Sheet};
use super::solid::{Part, Shell};
use super::{LIBRARY, NoRoom, laid_out, write};

/// One fault as a report should name it.
#[derive(Clone, Debug, PartialEq)]
pub struct Expected {
    /// The finding's kind, as in the report.
    pub kind: &'static str,
    /// The groups it concerns, ascending.
    pub groups: Vec<String>,
    /// Its number where it has one: px per cm, anisotropy, px between shells, triangles.
    pub size: Option<f64>,
}

/// A lantern with random faults.
pub struct Faulty {
    /// The OBJ text.
    pub obj: String,
    /// What is wrong with it.
    pub expected: Vec<Expected>,
    /// Texel density of what has no fault.
    pub px_per_cm: f64,
}

/// Faults tried on one lantern.
const FAULTS: usize = 6;
/// Pairs tried before a crossing is given up: most shells are too large for every face of the other.
const CROSSINGS_TRIED: usize = 30;
/// Shells smaller than this, px^2, get no fault: a person would not see it.
const AREA_MIN_PX2: f64 = 600.0;
/// How near sliding comes to the distance it is meant to stop at, px.
const SLIDE_END_PX: f64 = 0.005;

/// The lantern of this seed. `Err` if even the revised one finds no room.
pub fn random(seed: u64) -> Result<Faulty, NoRoom> {
    let (parts, px_per_cm) = laid_out()?;
    let mut planter = Planter { parts, px_per_cm, dice: Dice(seed), used: Vec::new(), expected: Vec::new() };
    for _ in 0..FAULTS {
        let plant = [
            Planter::turn_over,
            Planter::rescale,
            Planter::stretch,
            Planter::fold,
            Planter::cross,
            Planter::stack,
            Planter::mirror,
            Planter::narrow,
            Planter::outside,
            Planter::collapse,
            Planter::unmap,
        ][planter.dice.below(11)];
        // A fault that finds no shell or no room stays unplanted.
        let _: Option<()> = plant(&mut planter);
    }
    let title = format!("Signal lantern with random faults, seed {seed}");
    Ok(Faulty { obj: write::obj(&planter.parts, &title, LIBRARY), expected: planter.expected, px_per_cm })
}

/// A part's and its shell's place in the lists.
type Address = (usize, usize);

struct Planter {
    parts: Vec<Part>,
    px_per_cm: f64,
    dice: Dice,
    /// Parts that have a fault, or take part in one.
    used: Vec<usize>,
    expected: Vec<Expected>,
}

impl Planter {
    fn shell(&self, (part, shell): Address) -> &Shell {
        &self.parts[part].shells[shell]
    }

    fn name(&self, at: Address) -> String {
        self.shell(at).name.clone()
    }

    fn all(&self) -> Vec<Address> {
        let shells = |part: usize| (0..self.parts[part].shells.len()).map(move |shell| (part, shell));
        (0..self.parts.len()).flat_map(shells).collect()
    }

    /// A shell of an object without fault, large enough to be seen.
    fn pick(&mut self) -> Option<Address> {
        let free: Vec<_> = self
            .all()
            .into_iter()
            .filter(|&at| !self.used.contains(&at.0) && self.shell(at).area_uv() > AREA_MIN_PX2)
            .collect();
        (!free.is_empty()).then(|| free[self.dice.below(free.len())])
    }

    fn tell(&mut self, kind: &'static str, shells: &[Address], size: Option<f64>) {
        let mut groups: Vec<_> = shells.iter().map(|&at| self.name(at)).collect();
        groups.sort();
        self.used.extend(shells.iter().map(|at| at.0));
        self.expected.push(Expected { kind, groups, size });
    }

    /// Gives a shell new coordinates and sets it where there is room for it.
    fn place_anew(&mut self, at: Address, change: impl Fn(DVec2) -> DVec2) -> Option<()> {
        let uv: Vec<_> = self.shell(at).uv.iter().map(|&q| change(q)).collect();
        let mut sheet = Sheet::new();
        for other in self.all().into_iter().filter(|&other| other != at) {
            let outlines = self.shell(other).outlines();
            if outlines.iter().any(|outline| !outline.is_empty()) && self.is_inside(other) {
                sheet.keep(&outlines);
            }
        }
        let moved = Shell { uv: uv.clone(), ..self.shell(at).clone() };
        let offset = sheet.place(&moved.outlines(), 1.0)?;
        self.parts[at.0].shells[at.1].uv = uv.into_iter().map(|q| q + offset).collect();
        Some(())
    }

    fn is_inside(&self, at: Address) -> bool {
        let sheet = DVec2::splat(SHEET_PX);
        self.shell(at).uv.iter().all(|q| q.cmpge(DVec2::ZERO).all() && q.cmple(sheet).all())
    }

    fn turn_over(&mut self) -> Option<()> {
        let at = self.pick()?;
        self.place_anew(at, |q| dvec2(-q.x, q.y))?;
        self.tell("flipped", &[at], None);
        Some(())
    }

    fn rescale(&mut self) -> Option<()> {
        let at = self.pick()?;
        let factor = if self.dice.below(4) == 0 { self.dice.within(1.3, 1.7) } else { self.dice.within(0.3, 0.75) };
        self.place_anew(at, |q| q * factor)?;
        self.tell("density", &[at], Some(self.px_per_cm * factor));
        Some(())
    }

    fn stretch(&mut self) -> Option<()> {
        let at = self.pick()?;
        let anisotropy = self.dice.within(1.7, 4.0);
        let (long, short) = (anisotropy.sqrt(), anisotropy.sqrt().recip());
        let factor = if self.dice.below(2) == 0 { dvec2(long, short) } else { dvec2(short, long) };
        self.place_anew(at, |q| q * factor)?;
        self.tell("stretch", &[at], Some(anisotropy));
        Some(())
    }

    fn fold(&mut self) -> Option<()> {
        let part = self.parts.iter().position(|part| part.name == "chimney")?;
        let shell = self.parts[part].shells.iter().position(|shell| shell.name == "chimney_outside")?;
        if self.used.contains(&part) {
            return None;
        }
        let cells = 1 + self.dice.below(6);
        fold_chimney(&mut self.parts, cells)?;
        self.tell("folded", &[(part, shell)], Some((cells * cells) as f64));
        Some(())
    }

    fn cross(&mut self) -> Option<()> {
        (0..CROSSINGS_TRIED).find_map(|_| self.cross_two())
    }

    /// A small shell in the middle of a face of a large one.
    fn cross_two(&mut self) -> Option<()> {
        let (small, large) = (self.pick()?, self.pick()?);
        if small.0 == large.0 {
            return None;
        }
        let (low, high) = bounds(&self.shell(small).uv);
        let reach = (high - low).length() / 2.0;
        let border = border(self.shell(large));
        let outlines = self.shell(large).outlines();
        let room = |middle: DVec2| border.iter().map(|&edge| to_segment(middle, edge)).fold(f64::INFINITY, f64::min);
        let middle = outlines
            .iter()
            .map(|outline| outline.iter().sum::<DVec2>() / outline.len() as f64)
            .find(|&middle| room(middle) > reach)?;
        let offset = middle - (low + high) / 2.0;
        self.parts[small.0].shells[small.1].uv.iter_mut().for_each(|q| *q += offset);
        self.tell("partial-overlap", &[small, large], None);
        Some(())
    }

    /// Two shells of different objects without fault that are the same on the sheet, but for their place.
    fn twins(&mut self) -> Option<(Address, Address)> {
        let one = self.pick()?;
        let shape = |at: Address| {
            let uv = &self.shell(at).uv;
            let (low, _) = bounds(uv);
            uv.iter().map(|&q| q - low).collect::<Vec<_>>()
        };
        let own = shape(one);
        let others: Vec<_> = self
            .all()
            .into_iter()
            .filter(|&at| at.0 != one.0 && !self.used.contains(&at.0))
            .filter(|&at| {
                let other = shape(at);
                other.len() == own.len() && other.iter().zip(&own).all(|(a, b)| a.abs_diff_eq(*b, 1e-6))
            })
            .collect();
        (!others.is_empty()).then(|| (one, others[self.dice.below(others.len())]))
    }

    fn stack(&mut self) -> Option<()> {
        let (one, other) = self.twins()?;
        self.parts[other.0].shells[other.1].uv = self.shell(one).uv.clone();
        self.tell("stacked", &[one, other], None);
        Some(())
    }

    fn mirror(&mut self) -> Option<()> {
        let (one, other) = self.twins()?;
        let (low, high) = bounds(&self.shell(one).uv);
        let uv = self.shell(one).uv.iter().map(|q| dvec2(low.x + high.x - q.x, q.y)).collect();
        self.parts[other.0].shells[other.1].uv = uv;
        self.tell("mirrored", &[one, other], None);
        Some(())
    }

    /// Slides a shell to the left until it is too near to another one or to the border.
    fn narrow(&mut self) -> Option<()> {
        let at = self.pick()?;
        let gap = self.dice.within(1.0, 6.0);
        let others: Vec<_> = self
            .all()
            .into_iter()
            .filter(|&other| other != at)
            .map(|other| (other, border(self.shell(other))))
            .filter(|(_, border)| !border.is_empty())
            .collect();
        let own = border(self.shell(at));
        let mut slid = 0.0;
        let distances = |slid: f64| -> Vec<(f64, Address)> {
            let moved: Vec<_> = own.iter().map(|edge| edge.map(|q| q - dvec2(slid, 0.0))).collect();
            others.iter().map(|(other, border)| (between(&moved, border), *other)).collect()
        };
        let to_left = own.iter().flatten().map(|q| q.x).fold(f64::INFINITY, f64::min);
        let mut near = distances(slid);
        loop {
            let least = near.iter().map(|&(px, _)| px).fold(to_left - slid, f64::min);
            if least < gap + SLIDE_END_PX {
                break;
            }
            slid += least - gap;
            near = distances(slid);
        }
        // What it has come too near to; a neighbour with a fault of its own would make two causes one.
        let close: Vec<_> = near.iter().filter(|(px, _)| *px < GAP_PX).collect();
        let at_border = to_left - slid < BORDER_PX;
        if at_border != close.is_empty() || close.iter().any(|(_, other)| self.used.contains(&other.0)) {
            return None;
        }
        self.parts[at.0].shells[at.1].uv.iter_mut().for_each(|q| q.x -= slid);
        if at_border {
            self.tell("border", &[at], Some(to_left - slid));
        } else {
            let least = close.iter().map(|(px, _)| *px).fold(f64::INFINITY, f64::min);
            let shells: Vec<_> = close.iter().map(|(_, other)| *other).chain([at]).collect();
            self.tell("padding", &shells, Some(least));
        }
        Some(())
    }

    fn outside(&mut self) -> Option<()> {
        let at = self.pick()?;
        if self.expected.iter().any(|fault| fault.kind == "outside") {
            return None;
        }
        self.parts[at.0].shells[at.1].uv.iter_mut().for_each(|q| q.x += SHEET_PX);
        self.tell("outside", &[at], None);
        Some(())
    }

    fn collapse(&mut self) -> Option<()> {
        let at = self.pick()?;
        self.place_anew(at, |q| q * dvec2(1.0, 0.0))?;
        self.tell("collapsed", &[at], None);
        Some(())
    }

    fn unmap(&mut self) -> Option<()> {
        let at = self.pick()?;
        if self.expected.iter().any(|fault| fault.kind == "unmapped") {
            return None;
        }
        let shell = &mut self.parts[at.0].shells[at.1];
        let triangles: usize = shell.faces.iter().map(|face| face.points.len() - 2).sum();
        shell.faces.iter_mut().for_each(|face| face.uvs.clear());
        // Faces without uv belong to no shell; the finding counts them.
        self.used.push(at.0);
        self.expected.push(Expected { kind: "unmapped", groups: Vec::new(), size: Some(triangles as f64) });
        Some(())
    }
}

type Edge = [DVec2; 2];

/// Edges that one face of the shell has alone.
fn border(shell: &Shell) -> Vec<Edge> {
    let mut faces: BTreeMap<[usize; 2], usize> = BTreeMap::new();
    for face in &shell.faces {
        for (i, &a) in face.uvs.iter().enumerate() {
            let b = face.uvs[(i + 1) % face.uvs.len()];
            *faces.entry([a.min(b), a.max(b)]).or_default() += 1;
        }
    }
    faces.into_iter().filter(|&(_, count)| count == 1).map(|(ends, _)| ends.map(|i| shell.uv[i])).collect()
}

fn bounds(points: &[DVec2]) -> (DVec2, DVec2) {
    let start = (DVec2::INFINITY, DVec2::NEG_INFINITY);
    points.iter().fold(start, |(low, high), &q| (low.min(q), high.max(q)))
}

fn to_segment(p: DVec2, [a, b]: Edge) -> f64 {
    let along = b - a;
    let t = ((p - a).dot(along) / along.length_squared().max(f64::MIN_POSITIVE)).clamp(0.0, 1.0);
    p.distance(a + along * t)
}

/// Least distance of two sets of edges that do not cross: some end of one is nearest.
fn between(one: &[Edge], other: &[Edge]) -> f64 {
    let (low, high) = bounds(one.as_flattened());
    let (other_low, other_high) = bounds(other.as_flattened());
    let apart = (other_low - high).max(low - other_high).max(DVec2::ZERO).length();
    // Farther than any gap that matters here, by their boxes alone: exact only where it may stop a slide.
    if apart > 4.0 * GAP_PX {
        return apart;
    }
    let ends = |a: &[Edge], b: &[Edge]| {
        a.iter()
            .flat_map(|edge| edge.iter().flat_map(|&p| b.iter().map(move |&e| to_segment(p, e))))
            .fold(f64::INFINITY, f64::min)
    };
    ends(one, other).min(ends(other, one))
}

/// SplitMix64 (Steele, Lea & Flood 2014): the same faults everywhere.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mixed = (self.0 ^ self.0 >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let mixed = (mixed ^ mixed >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ mixed >> 31
    }

    fn below(&mut self, end: usize) -> usize {
        (self.next() % end as u64) as usize
    }

    fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }
}
