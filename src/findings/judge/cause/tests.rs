//! Small models by formula: for every cause a model that has it, and one that is just below the limit.

use crate::brief::{Brief, Unit};
use crate::findings::{CauseKind, Severity};
use crate::report::{Report, Verdict};
use std::fmt::Write as _;

/// An OBJ file being built.
#[derive(Default)]
struct Obj {
    text: String,
    corners: usize,
}

type Corner = ([f64; 3], Option<[f64; 2]>);

impl Obj {
    fn face(&mut self, corners: &[Corner]) {
        for (p, uv) in corners {
            let [u, v] = uv.unwrap_or_default();
            let _ = writeln!(self.text, "v {} {} {}\nvt {u} {v}", p[0], p[1], p[2]);
        }
        self.text.push('f');
        for (number, (_, uv)) in (self.corners + 1..).zip(corners) {
            let _ = if uv.is_some() { write!(self.text, " {number}/{number}") } else { write!(self.text, " {number}") };
        }
        self.text.push('\n');
        self.corners += corners.len();
    }

    /// A wall of unit squares, apart from the others by `z`.
    fn wall(&mut self, squares: usize, z: f64, uv: impl Fn(usize, [f64; 2]) -> Option<[f64; 2]>) {
        for square in 0..squares {
            let x = square as f64;
            let corners = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
            self.face(&corners.map(|[a, b]| ([x + a, b, z], uv(square, [a, b]))));
        }
    }

    /// A ball of radius 1 in 32 x 16 patches, from the south pole up to `top` of the way.
    fn ball(&mut self, top: f64, uv: impl Fn([f64; 3]) -> [f64; 2]) {
        let point = |i: usize, j: usize| {
            let (lon, lat) =
                (i as f64 / 32.0 * std::f64::consts::TAU, (j as f64 / 16.0 * top - 0.5) * std::f64::consts::PI);
            [lat.cos() * lon.cos(), lat.cos() * lon.sin(), lat.sin()]
        };
        for j in 0..16 {
            for i in 0..32 {
                // Patches at the poles have one side without length.
                let mut corners =
                    vec![point(i, j), point((i + 1) % 32, j), point((i + 1) % 32, j + 1), point(i, j + 1)];
                corners.dedup_by(|a, b| (0..3).all(|axis| (a[axis] - b[axis]).abs() < 1e-9));
                let corners: Vec<Corner> = corners.into_iter().map(|p| (p, Some(uv(p)))).collect();
                self.face(&corners);
            }
        }
    }

    fn report(&self, brief: &Brief) -> Report {
        let report = crate::check(&mut self.text.as_bytes(), "x.obj", None, brief, &mut |_| ());
        report.expect("the test's own model")
    }
}

fn cause_of(report: &Report) -> Option<(CauseKind, f64)> {
    let cause = report.cause.as_ref()?;
    assert!(cause.sentence.ends_with('.') && cause.share > 0.0 && cause.share <= 1.0 + 1e-12, "{cause:?}");
    Some((cause.kind, (cause.share * 1000.0).round() / 1000.0))
}

fn following(report: &Report) -> Vec<&str> {
    report.findings.iter().filter(|finding| finding.follows_cause).map(|finding| finding.kind.code()).collect()
}

/// Squares beside one another on the sheet, a column each.
fn columns(count: usize) -> impl Fn(usize, [f64; 2]) -> Option<[f64; 2]> {
    let width = 0.9 / count as f64;
    move |square, [a, b]| Some([0.05 + width * (square as f64 + 0.1 + 0.8 * a), 0.05 + 0.8 * width * b])
}

#[test]
fn a_model_without_most_of_its_uvs() {
    for (unmapped, expected) in [(5, None), (6, Some((CauseKind::NoUvs, 0.545)))] {
        let mut obj = Obj::default();
        obj.wall(5, 0.0, columns(5));
        obj.wall(unmapped, 1.0, |_, _| None);
        let report = obj.report(&Brief::default());
        let expected = if unmapped == 5 { Some((CauseKind::NoUvs, 0.5)) } else { expected };
        assert_eq!(cause_of(&report), expected);
        assert!(following(&report).contains(&"unmapped"));
    }
    let mut obj = Obj::default();
    obj.wall(5, 0.0, columns(5));
    obj.wall(4, 1.0, |_, _| None);
    let report = obj.report(&Brief::default());
    assert_eq!(cause_of(&report), None);
    assert_eq!((report.to_ready.must_fix_share * 9.0).round(), 4.0);
}

#[test]
fn a_palette_is_faces_on_spots_of_many_colours() {
    let spots = |colours: usize, on_spots: usize| {
        let mut obj = Obj::default();
        obj.wall(on_spots, 0.0, |square, _| Some([0.1 + 0.05 * (square % colours) as f64, 0.25]));
        obj.wall(20 - on_spots, 1.0, columns(20));
        obj.report(&Brief::default())
    };
    let report = spots(4, 20);
    assert_eq!(cause_of(&report), Some((CauseKind::Palette, 1.0)));
    assert_eq!((report.verdict, report.to_ready.must_fix_share, report.to_ready.look_share), (Verdict::Look, 0.0, 1.0));
    assert!(report.findings.iter().all(|finding| finding.follows_cause), "{:?}", report.findings);
    assert_eq!(cause_of(&spots(4, 18)), Some((CauseKind::Palette, 0.9)));
    assert_eq!(cause_of(&spots(4, 17)), None, "a part on spots is a finding of its own");
    assert_eq!(cause_of(&spots(2, 20)), Some((CauseKind::NotUnwrapped, 1.0)), "two colours are no palette");
}

#[test]
fn faces_in_lines_are_not_unwrapped() {
    for (lines, expected) in [(20, Some((CauseKind::NotUnwrapped, 1.0))), (17, None)] {
        let mut obj = Obj::default();
        obj.wall(lines, 0.0, |square, [a, _]| Some([0.04 * square as f64 + 0.03 * a, 0.04 * square as f64 + 0.03 * a]));
        obj.wall(20 - lines, 1.0, columns(20));
        let report = obj.report(&Brief::default());
        assert_eq!(cause_of(&report), expected, "{lines}");
        assert_eq!(report.verdict, if expected.is_some() { Verdict::NotReady } else { report.verdict });
    }
}

#[test]
fn every_face_on_the_whole_tile_is_not_unwrapped() {
    let stacked = |squares| {
        let mut obj = Obj::default();
        // Apart, so that every square is a shell.
        for square in 0..squares {
            obj.wall(1, square as f64, |_, [a, b]| Some([0.1 + 0.8 * a, 0.1 + 0.8 * b]));
        }
        obj.report(&Brief::default())
    };
    let report = stacked(13);
    assert_eq!(cause_of(&report), Some((CauseKind::NotUnwrapped, 1.0)));
    assert_eq!(following(&report), ["stacked"]);
    assert_eq!(cause_of(&stacked(12)), None, "the sides of a box may well share");
}

#[test]
fn a_layout_in_a_dot() {
    for (side, expected) in [(0.03, Some((CauseKind::TinyLayout, 1.0))), (0.033, None)] {
        let mut obj = Obj::default();
        obj.wall(4, 0.0, |square, [a, b]| Some([0.5 + side * (square as f64 + a) / 4.0, 0.5 + side * b]));
        let report = obj.report(&Brief::default());
        assert_eq!(cause_of(&report), expected, "{side}");
        assert_eq!(following(&report).contains(&"coverage"), expected.is_some());
    }
    let mut obj = Obj::default();
    obj.wall(1, 0.0, |_, [a, b]| Some([0.5 + 0.03 * a, 0.5 + 0.03 * b]));
    let sentence = obj.report(&Brief::default()).cause.expect("it is a dot").sentence;
    assert!(sentence.starts_with("The whole layout covers 0.09 % of the sheet, as much as 62 × 62 px."), "{sentence}");
}

#[test]
fn a_flat_projection_on_a_ball() {
    let flat = |p: [f64; 3]| [0.5 + 0.4 * p[0], 0.5 + 0.4 * p[1]];
    // Pulled towards the middle, at the rim by a 20th and by half.
    let pulled = |by: f64| {
        move |[x, y, _]: [f64; 3]| {
            let pull = 1.0 - by * (x * x + y * y);
            [0.5 + 0.4 * x * pull, 0.5 + 0.4 * y * pull]
        }
    };
    let report_of = |top: f64, uv: &dyn Fn([f64; 3]) -> [f64; 2], wall: usize| {
        let mut obj = Obj::default();
        obj.ball(top, uv);
        obj.wall(wall, 3.0, |square, [a, b]| Some([0.01 + 0.005 * square as f64 + 0.004 * a, 0.01 + 0.004 * b]));
        obj.report(&Brief::default())
    };
    let report = report_of(1.0, &flat, 0);
    assert_eq!(cause_of(&report), Some((CauseKind::Projected, 1.0)));
    let kinds = following(&report);
    assert!(kinds.contains(&"stretch") && kinds.len() >= 2, "{kinds:?}");
    assert_eq!(cause_of(&report_of(1.0, &pulled(0.05), 0)).map(|cause| cause.0), Some(CauseKind::Projected));
    assert_eq!(cause_of(&report_of(1.0, &pulled(0.5), 0)), None, "these uvs are no projection");
    // A cap of 60 degrees, seen from behind, is slanted little; a ball with much beside it is a part.
    assert_eq!(cause_of(&report_of(0.33, &flat, 0)), Some((CauseKind::AllFlipped, 1.0)));
    assert_eq!(cause_of(&report_of(1.0, &flat, 14)), None);
    let beside = report_of(1.0, &flat, 8);
    assert_eq!(cause_of(&beside).map(|cause| cause.0), Some(CauseKind::Projected));
    let rest =
        beside.findings.iter().find(|finding| finding.kind.code() == "density" && finding.id.starts_with("high"));
    assert!(rest.is_none_or(|finding| !finding.follows_cause), "the wall does not follow from the ball");
}

#[test]
fn everything_flipped() {
    for (flipped, expected) in
        [(20, Some((CauseKind::AllFlipped, 1.0))), (19, Some((CauseKind::AllFlipped, 0.95))), (18, None)]
    {
        let mut obj = Obj::default();
        let place = columns(20);
        obj.wall(20, 0.0, |square, [a, b]| place(square, [if square < flipped { 1.0 - a } else { a }, b]));
        let report = obj.report(&Brief::default());
        assert_eq!(cause_of(&report), expected, "{flipped}");
        assert_eq!(following(&report), if expected.is_some() { vec!["flipped"] } else { vec![] });
        let (share, verdict) = (report.to_ready.must_fix_share, report.verdict);
        assert_eq!((share, verdict), (if expected.is_some() { 1.0 } else { 0.9 }, Verdict::NotReady));
    }
}

#[test]
fn a_model_in_a_unit_other_than_the_briefs() {
    let wall = |unit: Unit, target: f64| {
        let mut brief = Brief::default();
        brief.map.unit = unit;
        brief.density.target_px_per_unit = Some(target);
        let mut obj = Obj::default();
        // 0.8 of a 20th of 0.9 of the map a unit: 73.728 px.
        obj.wall(20, 0.0, columns(20));
        obj.report(&brief)
    };
    let px = 0.8 * 0.9 / 20.0 * 2048.0;
    for (unit, factor, words) in [
        (Unit::Cm, 0.1, Some("mm")),
        (Unit::Cm, 0.11, Some("mm")),
        (Unit::Cm, 0.125, None),
        (Unit::Cm, 100.0, Some("m")),
        (Unit::Cm, 2.54, Some("in")),
        (Unit::Cm, 3.0, None),
        (Unit::M, 0.01, Some("cm")),
        (Unit::Cm, 1.0, None),
        (Unit::Unit, 0.1, None),
    ] {
        let report = wall(unit, px / factor);
        let found = cause_of(&report);
        assert_eq!(found, words.map(|_| (CauseKind::WrongUnit, 1.0)), "{unit:?} {factor}");
        if let (Some(cause), Some(words)) = (&report.cause, words) {
            assert!(cause.sentence.contains(&format!("seems to be in {words}.")), "{}", cause.sentence);
            assert_eq!(following(&report), ["density"]);
        }
    }
}

#[test]
fn a_texture_that_repeats() {
    let wall = |uv: &dyn Fn(usize, [f64; 2]) -> [f64; 2]| {
        let mut obj = Obj::default();
        for square in 0..6 {
            obj.wall(1, square as f64, |_, at| Some(uv(square, at)));
        }
        obj.report(&Brief::default())
    };
    let bricks = wall(&|_, [a, b]| [3.0 * a, 3.0 * b]);
    assert_eq!(cause_of(&bricks), Some((CauseKind::Repeating, 1.0)));
    assert_eq!((bricks.verdict, bricks.to_ready.must_fix_share, bricks.to_ready.look_share), (Verdict::Look, 0.0, 1.0));
    assert!(bricks.findings.iter().any(|finding| finding.severity == Severity::MustFix && finding.follows_cause));
    // A layout that was scaled to twice its size; one on six UDIM tiles.
    let scaled =
        wall(&|square, [a, b]| [2.0 * (square % 2) as f64 * 0.5 + 0.98 * a, 0.66 * (square / 2) as f64 + 0.6 * b]);
    assert_eq!(cause_of(&scaled), None);
    let udim = wall(&|square, [a, b]| [square as f64 + 0.05 + 0.9 * a, 0.05 + 0.9 * b]);
    assert_eq!(cause_of(&udim), None);
    let mut brief = Brief::default();
    brief.map.tiles = crate::brief::Tiles::Udim;
    let mut obj = Obj::default();
    obj.wall(1, 0.0, |_, [a, b]| Some([3.0 * a, 3.0 * b]));
    assert_eq!(cause_of(&obj.report(&brief)), None, "the brief asks for tiles");
}

#[test]
fn a_cause_counts_until_all_its_effects_are_intended() {
    let mut obj = Obj::default();
    let place = columns(20);
    obj.wall(20, 0.0, |square, [a, b]| place(square, [1.0 - a, b]));
    let mut report = obj.report(&Brief::default());
    let intended = |ids: &[&str]| crate::review::Review {
        notes: Vec::new(),
        decisions: ids
            .iter()
            .map(|id| ((*id).to_owned(), crate::review::Decision::Intended { reason: "so".to_owned() }))
            .collect(),
    };
    let id = report.findings.iter().find(|finding| finding.follows_cause).expect("one follows").id.clone();
    report.decide(intended(&[&id]));
    assert!(report.cause.is_some() && report.cause_that_counts().is_none());
    assert_eq!((report.to_ready.must_fix_share, report.verdict), (0.0, Verdict::Look));
    report.decide(intended(&[]));
    assert_eq!((report.to_ready.must_fix_share, report.verdict), (1.0, Verdict::NotReady));
}
