//! Generated models of one to three sheets, in the ways exporters write them, with planted faults: for every shell the kinds
//! that were planted and no other; clean ones are ready. Prints precision and recall.

use gridproof::brief::{Brief, SheetsAsked};
use gridproof::findings::Severity;
use gridproof::report::Report;
use std::collections::{BTreeMap, BTreeSet};
use std::f64::consts::TAU;
use std::fmt::Write as _;

/// Models in one run, and how many of them have no fault.
const MODELS: u64 = 600;
const CLEAN: u64 = 150;
/// px of the map's side, of a cell of its layout, and per unit.
const MAP: f64 = 2048.0;
const CELL: f64 = 512.0;
const DENSITY: f64 = 40.0;

/// A generator of numbers: Knuth's linear congruential one (MMIX), its upper bits.
struct Random(u64);

impl Random {
    fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) % end as u64) as usize
    }

    fn unit(&mut self) -> f64 {
        self.below(1 << 24) as f64 / f64::from(1 << 24)
    }
}

/// How an exporter writes a grid.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Style {
    Quads,
    /// Each row is one face; its corners lie in line.
    NGons,
    /// The same, cut by the exporter from its first corner.
    Fans,
}

/// A flat part of `columns` x `rows` cells, and where its corners lie on the sheet, px.
#[derive(Clone, Debug)]
struct Part {
    columns: usize,
    rows: usize,
    /// Units.
    size: [f64; 2],
    /// The part is mapped by `origin + size * scale`, px; a negative scale mirrors.
    origin: [f64; 2],
    scale: [f64; 2],
    /// Columns from the middle on lie mirrored on those before it.
    is_mirrored_at_the_middle: bool,
    is_mapped: bool,
}

impl Part {
    fn px(&self) -> [f64; 2] {
        [0, 1].map(|axis| self.size[axis] * DENSITY)
    }

    fn uv(&self, x: f64, y: f64) -> [f64; 2] {
        let x = if self.is_mirrored_at_the_middle { x.min(1.0 - x) } else { x };
        [0, 1].map(|axis| (self.origin[axis] + [x, y][axis] * self.size[axis] * self.scale[axis]) / MAP)
    }

    /// Maps it about its own middle.
    fn rescale(&mut self, by: [f64; 2]) {
        for (axis, factor) in by.into_iter().enumerate() {
            let length = self.size[axis] * self.scale[axis];
            self.scale[axis] *= factor;
            self.origin[axis] += length * (1.0 - factor) / 2.0;
        }
    }

    fn area(&self) -> f64 {
        self.size[0] * self.size[1]
    }
}

/// Bounds of an area, square units.
#[derive(Clone, Copy, Debug, Default)]
struct Area {
    least: f64,
    most: f64,
}

impl Area {
    fn exactly(area: f64) -> Self {
        Self { least: area, most: area }
    }
}

struct Sample {
    obj: String,
    brief: Brief,
    /// Expected (kind, part).
    expected: BTreeSet<(&'static str, usize)>,
    /// Area at fault, and of all, square units; only of faults that have an area.
    at_fault: Area,
    surface: f64,
    /// Of each part.
    triangles: Vec<usize>,
}

fn sample(seed: u64) -> Sample {
    let mut random = Random(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x5851);
    let sheets = 1 + random.below(3);
    let style = [Style::Quads, Style::NGons, Style::Fans][random.below(3)];
    let decimals = 4 + random.below(3);
    let mut parts: Vec<Vec<Part>> = (0..sheets)
        .map(|_| {
            (0..16)
                .map(|cell| {
                    let size = [5.0 + 2.5 * random.unit(), 5.0 + 2.5 * random.unit()];
                    let centre = [(cell % 4) as f64 * CELL + CELL / 2.0, (cell / 4) as f64 * CELL + CELL / 2.0];
                    Part {
                        columns: 2 + 2 * random.below(4),
                        rows: 1 + random.below(4),
                        size,
                        origin: [0, 1].map(|axis| centre[axis] - size[axis] * DENSITY / 2.0),
                        scale: [DENSITY; 2],
                        is_mirrored_at_the_middle: false,
                        is_mapped: true,
                    }
                })
                .collect()
        })
        .collect();
    let (mut expected, mut at_fault) = (BTreeSet::new(), Area::default());
    if seed >= CLEAN {
        // Each fault in its own row of cells, so that none affects another.
        for (sheet, parts) in parts.iter_mut().enumerate() {
            for row in 0..4 {
                if random.below(3) == 0 {
                    continue;
                }
                let first = row * 4;
                let (kinds, area) = plant(&mut random, parts, first);
                expected.extend(kinds.into_iter().map(|(kind, part)| (kind, sheet * 16 + part)));
                at_fault = Area { least: at_fault.least + area.least, most: at_fault.most + area.most };
            }
        }
    }
    let mut brief = Brief::default();
    brief.coverage.min_share = 0.0;
    brief.map.sheets = if sheets > 1 { SheetsAsked::ByMaterial } else { SheetsAsked::Auto };
    let surface = parts.iter().flatten().map(Part::area).sum();
    let triangles = parts.iter().flatten().map(|part| 2 * part.columns * part.rows).collect();
    Sample { obj: text(&mut random, &parts, style, decimals), brief, expected, at_fault, surface, triangles }
}

/// Plants one fault in the row of cells that begins with part `first`: what is to be found, and the area at fault.
fn plant(random: &mut Random, parts: &mut [Part], first: usize) -> (Vec<(&'static str, usize)>, Area) {
    let (a, b) = (first, first + 1);
    let whole = |parts: &[Part]| Area::exactly(parts[a].area());
    let onto = |parts: &mut [Part]| {
        parts[b].size = parts[a].size;
        parts[b].origin = parts[a].origin;
        Area::exactly(2.0 * parts[a].area())
    };
    match random.below(11) {
        0 => {
            parts[a].rescale([-1.0, 1.0]);
            (vec![("flipped", a)], whole(parts))
        }
        1 => {
            let by = [1.5f64, 2.5][random.below(2)].sqrt();
            parts[a].rescale([by, 1.0 / by]);
            (vec![("stretch", a)], whole(parts))
        }
        2 => {
            let by = [0.5, 1.4][random.below(2)];
            parts[a].rescale([by; 2]);
            (vec![("density", a)], whole(parts))
        }
        3 => {
            let share = 0.025 + 0.3 * random.unit();
            // As high as its neighbour, and over it by a share of the narrower one.
            parts[b].size[1] = parts[a].size[1];
            parts[b].origin[1] = parts[a].origin[1];
            let over = share * parts[a].px()[0].min(parts[b].px()[0]);
            parts[b].origin[0] = parts[a].origin[0] + parts[a].px()[0] - over;
            (
                vec![("partial-overlap", a), ("partial-overlap", b)],
                Area::exactly(2.0 * over / DENSITY * parts[a].size[1]),
            )
        }
        4 => {
            let area = onto(parts);
            (vec![("stacked", a), ("stacked", b)], area)
        }
        5 => {
            let area = onto(parts);
            parts[b].rescale([-1.0, 1.0]);
            (vec![("mirrored", a), ("mirrored", b)], area)
        }
        6 => {
            parts[a].is_mirrored_at_the_middle = true;
            (vec![("mirrored", a)], whole(parts))
        }
        7 => {
            parts[a].origin[0] = -(12.0 + 60.0 * random.unit());
            let outside = -parts[a].origin[0] / DENSITY * parts[a].size[1];
            // Triangles that reach out count whole: what is in an n-gon that does.
            (vec![("outside", a)], Area { least: outside, most: parts[a].area() })
        }
        8 => {
            let gap = 1.0 + 12.0 * random.unit();
            parts[b].origin = [parts[a].origin[0] + parts[a].px()[0] + gap, parts[a].origin[1]];
            (vec![("padding", a), ("padding", b)], Area::default())
        }
        9 => {
            parts[a].origin[0] = 1.0 + 5.0 * random.unit();
            (vec![("border", a)], Area::default())
        }
        _ => {
            parts[a].is_mapped = false;
            (vec![("unmapped", a)], whole(parts))
        }
    }
}

/// As an exporter writes it: each part turned about the vertical and put beside the others.
fn text(random: &mut Random, parts: &[Vec<Part>], style: Style, decimals: usize) -> String {
    let mut text = String::new();
    let mut corners = 0;
    for (sheet, parts) in parts.iter().enumerate() {
        writeln!(text, "usemtl paint_{sheet}").unwrap();
        for (number, part) in parts.iter().enumerate() {
            writeln!(text, "o part_{}", sheet * 16 + number).unwrap();
            let angle = random.unit() * TAU;
            let (sine, cosine) = angle.sin_cos();
            let middle = [number as f64 * 20.0, sheet as f64 * 20.0];
            for row in 0..=part.rows {
                for column in 0..=part.columns {
                    let at = [column as f64 / part.columns as f64, row as f64 / part.rows as f64];
                    let (x, y) = ((at[0] - 0.5) * part.size[0], at[1] * part.size[1]);
                    let point = [middle[0] + x * cosine, middle[1] + y, -x * sine];
                    let [u, v] = part.uv(at[0], at[1]);
                    let [x, y, z] = point;
                    writeln!(text, "v {x:.decimals$} {y:.decimals$} {z:.decimals$}").unwrap();
                    writeln!(text, "vt {u:.decimals$} {v:.decimals$}").unwrap();
                }
            }
            let at = |column: usize, row: usize| corners + row * (part.columns + 1) + column + 1;
            let mut face = |corners: &[usize]| {
                text.push('f');
                for corner in corners {
                    let _ = if part.is_mapped { write!(text, " {corner}/{corner}") } else { write!(text, " {corner}") };
                }
                text.push('\n');
            };
            for row in 0..part.rows {
                if style == Style::Quads {
                    for column in 0..part.columns {
                        face(&[at(column, row), at(column + 1, row), at(column + 1, row + 1), at(column, row + 1)]);
                    }
                    continue;
                }
                // No face goes on beyond the line at which it is mirrored.
                let middle = if part.is_mirrored_at_the_middle { part.columns / 2 } else { part.columns };
                for (from, to) in [(0, middle), (middle, part.columns)].into_iter().filter(|(from, to)| from < to) {
                    let below = (from..=to).map(|column| at(column, row));
                    let above = (from..=to).rev().map(|column| at(column, row + 1));
                    let ring: Vec<usize> = below.chain(above).collect();
                    if style == Style::NGons {
                        face(&ring);
                    } else {
                        (1..ring.len() - 1).for_each(|k| face(&[ring[0], ring[k], ring[k + 1]]));
                    }
                }
            }
            corners += (part.columns + 1) * (part.rows + 1);
        }
    }
    text
}

/// (kind, part) of all that is more than an info.
fn found(report: &Report) -> BTreeSet<(&'static str, usize)> {
    let part = |name: &str| name.strip_prefix("part_").unwrap().parse::<usize>().unwrap();
    let mut found = BTreeSet::new();
    for finding in report.findings.iter().filter(|finding| finding.severity != Severity::Info) {
        let shells = finding.shells.iter().map(|&shell| part(report.shells[shell as usize].object.as_deref().unwrap()));
        found.extend(shells.map(|part| (finding.kind.code(), part)));
    }
    found
}

#[test]
fn every_planted_fault_is_found_by_kind_and_shell_and_clean_models_are_ready() {
    let (mut planted, mut said, mut right) = (0, 0, 0);
    let mut wrong = Vec::new();
    let mut kinds = BTreeMap::new();
    for seed in 0..MODELS {
        let sample = sample(seed);
        let report = crate::support::report_with(&sample.obj, &sample.brief);
        let mut found = found(&report);
        // What has no uvs has no shells: its faces are counted.
        let unmapped: Vec<_> = sample.expected.iter().filter(|(kind, _)| *kind == "unmapped").collect();
        let triangles: usize = unmapped.iter().map(|(_, part)| sample.triangles[*part]).sum();
        if report
            .findings
            .iter()
            .filter(|finding| finding.kind.code() == "unmapped")
            .map(|f| f.triangles)
            .sum::<usize>()
            == triangles
        {
            found.extend(unmapped);
        }
        planted += sample.expected.len();
        said += found.len();
        right += found.intersection(&sample.expected).count();
        for (kind, _) in &sample.expected {
            *kinds.entry(*kind).or_insert(0) += 1;
        }
        let missed: Vec<_> = sample.expected.difference(&found).collect();
        let invented: Vec<_> = found.difference(&sample.expected).collect();
        if !missed.is_empty() || !invented.is_empty() {
            wrong.push(format!("seed {seed}: missed {missed:?}, invented {invented:?}"));
        }
        if seed < CLEAN && report.verdict.text() != "ready" {
            wrong.push(format!("seed {seed}: clean, but {}", report.verdict.text()));
        }
        let area = (report.to_ready.must_fix_share + report.to_ready.look_share) * sample.surface;
        // The decimals of the file move borders by half a unit of their last place.
        let rounding = 2e-3 * sample.surface;
        if area < sample.at_fault.least - rounding || area > sample.at_fault.most + rounding {
            wrong.push(format!("seed {seed}: {area} square units at fault instead of {:?}", sample.at_fault));
        }
    }
    let share = |count: usize, of: usize| count as f64 / of as f64;
    println!("{planted} of {kinds:?}: precision {:.4}, recall {:.4}", share(right, said), share(right, planted));
    assert!(kinds.len() >= 10, "some kind was never planted: {kinds:?}");
    assert!(wrong.is_empty(), "{} of {MODELS}\n{}", wrong.len(), wrong.join("\n"));
}
