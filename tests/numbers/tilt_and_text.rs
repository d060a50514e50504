//! Tilt and text safety: closed forms, and what must not change them.

use crate::support::{Sketch, close, measured, report, report_with};
use gridproof::brief::{Axis, Brief};
use gridproof::findings::{FindingKind, Severity};
use gridproof::report::Report;
use std::f64::consts::{PI, TAU};

const SQUARE: [[f64; 2]; 4] = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];

/// The unit square placed by `place` with uv by `map`.
fn square(sketch: &mut Sketch, place: impl Fn([f64; 2]) -> [f64; 3], map: impl Fn([f64; 2]) -> [f64; 2]) {
    sketch.face(&SQUARE.map(|p| (place(p), map(p))));
}

fn one(place: impl Fn([f64; 2]) -> [f64; 3], map: impl Fn([f64; 2]) -> [f64; 2]) -> Sketch {
    let mut sketch = Sketch::default();
    square(&mut sketch, place, map);
    sketch
}

fn front([x, y]: [f64; 2]) -> [f64; 3] {
    [x, y, 0.0]
}

/// Turned about the middle by `degrees`, and a little smaller so that it stays in the tile.
fn turned(degrees: f64) -> impl Fn([f64; 2]) -> [f64; 2] {
    let (s, c) = degrees.to_radians().sin_cos();
    move |[x, y]| [0.5 + 0.5 * (c * (x - 0.5) - s * (y - 0.5)), 0.5 + 0.5 * (s * (x - 0.5) + c * (y - 0.5))]
}

fn tilt(report: &Report) -> f64 {
    report.shells[0].tilt_deg.unwrap()
}

/// The difference of two angles, degrees, whole turns aside.
fn apart(a: f64, b: f64) -> f64 {
    ((a - b + 180.0).rem_euclid(360.0) - 180.0).abs()
}

#[test]
fn uvs_turned_one_way_tilt_the_texture_the_other_way() {
    // Turning uv by +a on the sheet rotates the texture by -a on the wall; computed by hand.
    for degrees in [0.0, 1.0, 14.9, 30.0, 90.0, 135.0, 180.0, 250.0, 345.1] {
        let report = report(&one(front, turned(degrees)).text());
        assert!(apart(tilt(&report), -degrees) < 1e-9, "{degrees}: {}", tilt(&report));
        assert!(tilt(&report) > -180.0 && tilt(&report) <= 180.0);
    }
}

#[test]
fn positive_is_counter_clockwise_seen_from_the_front_and_the_back_wall_agrees() {
    // The wall's front is +z; seen from there v grows to the left: a quarter turn counter-clockwise.
    let left = report(&one(front, |[x, y]| [y, 1.0 - x]).text());
    assert!(close(tilt(&left), 90.0, 1e-9), "{}", tilt(&left));
    // The same wall turned to face -z: nothing changes as seen from its front.
    let behind = report(&one(|[x, y]| [-x, y, 0.0], |[x, y]| [y, 1.0 - x]).text());
    assert!(close(tilt(&behind), 90.0, 1e-9), "{}", tilt(&behind));
    assert_eq!(behind.handedness.reversed_triangles, 0);
}

#[test]
fn a_flipped_wall_is_tilted_like_its_texture() {
    // Mirrored in u, upright: flipped, with a tilt of 0.
    let upright = report(&one(front, |[x, y]| [1.0 - x, y]).text());
    assert_eq!(upright.handedness.reversed_triangles, 2);
    assert!(tilt(&upright).abs() < 1e-9);
    // Mirrored, and v grows to the left: counter-clockwise as on a wall that is not mirrored.
    let left = report(&one(front, |[x, y]| [1.0 - y, 1.0 - x]).text());
    assert_eq!(left.handedness.reversed_triangles, 2);
    assert!(close(tilt(&left), 90.0, 1e-9), "{}", tilt(&left));
}

#[test]
fn a_part_that_is_inside_out_is_seen_from_its_normals_side() {
    let text = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0 1\nvt 0 0\nvt 1 0\nvt 1 1\nvn 0 0 -1\n\
                f 1/1/1 2/2/1 3/3/1 4/4/1\n";
    // By its winding v grows to the left: +90; from behind, to the right.
    let report = report(text);
    assert_eq!(report.handedness.inside_out_parts, 1);
    assert!(close(tilt(&report), -90.0, 1e-9), "{}", tilt(&report));
}

#[test]
fn a_slanted_wall_keeps_its_tilt_until_ten_degrees_from_level() {
    for (lean, says) in [(0.0, true), (45.0, true), (79.0, true), (81.0, false), (90.0, false), (-79.0, true)] {
        let (s, c) = f64::to_radians(lean).sin_cos();
        let report = report(&one(|[x, y]| [x, y * c, -y * s], turned(30.0)).text());
        match report.shells[0].tilt_deg {
            Some(tilt) => assert!(says && apart(tilt, -30.0) < 1e-9, "{lean}: {tilt}"),
            None => assert!(!says, "{lean}"),
        }
    }
}

/// A ring of `n` facets about y, unrolled upright, then mapped by `map`.
fn cylinder(n: usize, map: impl Fn([f64; 2]) -> [f64; 2]) -> Sketch {
    let mut sketch = Sketch::default();
    let rim = |i: usize| (TAU * i as f64 / n as f64).sin_cos();
    for i in 0..n {
        let corner = |i: usize, y: f64| {
            let (s, c) = rim(i);
            ([s, y, c], map([i as f64 / n as f64, y / TAU]))
        };
        sketch.face(&[corner(i, 0.0), corner(i + 1, 0.0), corner(i + 1, 1.0), corner(i, 1.0)]);
    }
    sketch
}

#[test]
fn an_unrolled_cylinder_is_upright_all_around_and_upside_down_when_turned() {
    let (model, measures) = measured(&cylinder(24, |q| q).text(), &Brief::default());
    assert!((0..model.triangle_count()).all(|triangle| measures.tilt.of(triangle).unwrap().abs() < 1e-4));
    let down = report(&cylinder(24, |[u, v]| [1.0 - u, 1.0 - v]).text());
    assert!(close(tilt(&down).abs(), 180.0, 1e-9));
    let note = down.findings.iter().find(|finding| finding.kind == FindingKind::Tilt).unwrap();
    assert_eq!(note.severity, Severity::Info);
    assert!(note.title.contains("upside down") && note.shells == [0], "{note:?}");
    let aside = report(&cylinder(24, |[u, v]| [v, 1.0 - u]).text());
    assert!(aside.findings.iter().any(|finding| finding.title.contains("sideways")));
}

/// Walls of these sizes that look to the front, each a shell with its UVs turned by so many degrees.
fn walls(rows: &[([f64; 2], f64)]) -> Report {
    let mut sketch = Sketch::default();
    for (index, &([width, height], degrees)) in (0u32..).zip(rows) {
        let (s, c) = f64::to_radians(degrees).sin_cos();
        let middle = [0.1 + 0.2 * f64::from(index % 5), 0.1 + 0.2 * f64::from(index / 5)];
        square(
            &mut sketch,
            |[x, y]| [width * x, height * y, f64::from(index)],
            |[x, y]| {
                let (x, y) = (0.05 * width * (x - 0.5), 0.05 * height * (y - 0.5));
                [middle[0] + c * x - s * y, middle[1] + s * x + c * y]
            },
        );
    }
    report(&sketch.text())
}

fn tilts(report: &Report, severity: Severity) -> Vec<&gridproof::findings::Finding> {
    report.findings.iter().filter(|f| f.kind == FindingKind::Tilt && f.severity == severity).collect()
}

#[test]
fn the_one_shell_turned_against_its_equals_is_a_look() {
    let post = [1.0, 2.0];
    let turned = walls(&[(post, 0.0), (post, 0.0), (post, 90.0), (post, 0.0)]);
    let [look] = tilts(&turned, Severity::Look)[..] else { panic!("{:?}", turned.findings) };
    assert_eq!(look.shells, [2]);
    assert_eq!(look.title, "Shell 2: turned against 3 equal shells");
    assert_eq!(look.place, "shell 2, sideways; the equal ones are upright");
    assert!(close(look.number.value, 90.0, 1e-9));
    // It is reported once.
    assert!(tilts(&turned, Severity::Info).is_empty());
    // The upright one among sideways ones is the odd one too; the others are only reported.
    let upright = walls(&[(post, 90.0), (post, 88.0), (post, 0.0), (post, -90.0), (post, 90.0)]);
    assert_eq!(tilts(&upright, Severity::Look)[0].shells, [2]);
    let [info] = tilts(&upright, Severity::Info)[..] else { panic!("{:?}", upright.findings) };
    assert_eq!((info.title.as_str(), &info.shells[..]), ("Shells not upright on 4 parts", &[0, 1, 3, 4][..]));
}

#[test]
fn without_an_odd_shell_or_with_different_shapes_there_is_no_look() {
    let (post, rail, other) = ([1.0, 2.0], [2.0, 1.0], [1.0, 2.05]);
    for rows in [
        // Two and two.
        &[(post, 0.0), (post, 0.0), (post, 90.0), (post, 90.0)][..],
        &[(post, 0.0), (post, 90.0)],
        // All ways.
        &[(post, 90.0), (post, -90.0), (post, 180.0)],
        // A rail has the shape of a post, but is horizontal.
        &[(post, 0.0), (post, 0.0), (post, 0.0), (rail, 90.0)],
        // Two per cent longer.
        &[(post, 0.0), (post, 0.0), (post, 0.0), (other, 90.0)],
        // Mirror images tilt the other way.
        &[(post, 30.0), (post, 30.0), (post, -30.0)],
    ] {
        let report = walls(rows);
        assert!(tilts(&report, Severity::Look).is_empty(), "{rows:?}: {:?}", report.findings);
    }
}

#[test]
fn a_cylinder_along_the_view_axis_has_no_mean_tilt() {
    // Texture-up runs along the axis: to one side of world-up on one half, to the other on the other half.
    let mut lying = cylinder(24, |q| q);
    lying.positions.iter_mut().for_each(|p| *p = [p[0], -p[2], p[1]]);
    let (model, measures) = measured(&lying.text(), &Brief::default());
    assert!((0..model.triangle_count()).filter_map(|triangle| measures.tilt.of(triangle)).count() > 20);
    assert_eq!(measures.tilt.shells, [None]);
    assert!(report(&lying.text()).findings.iter().all(|finding| finding.kind != FindingKind::Tilt));
}

#[test]
fn the_mean_is_weighted_by_surface() {
    // Two walls of one shell, 1 and 3 wide; uv of the second is sheared so that texture-up is tilted by atan(1) = 45
    // degrees.
    let mut sketch = Sketch::default();
    sketch.face(&[
        ([0., 0., 0.], [0.0, 0.0]),
        ([1., 0., 0.], [0.1, 0.0]),
        ([1., 1., 0.], [0.1, 0.1]),
        ([0., 1., 0.], [0.0, 0.1]),
    ]);
    // dX/dv there: x = 10 u - 10 v + 1, hence (-1, 1) / sqrt 2, to the left.
    sketch.face(&[
        ([1., 0., 0.], [0.1, 0.0]),
        ([4., 0., 0.], [0.4, 0.0]),
        ([3., 1., 0.], [0.4, 0.1]),
        ([1., 1., 0.], [0.1, 0.1]),
    ]);
    let (model, measures) = measured(&sketch.text(), &Brief::default());
    assert_eq!(model.layout.shell_count, 1);
    let (mut sum, mut weight) = ([0.0, 0.0], 0.0);
    for triangle in 0..model.triangle_count() {
        let [a, b, c] = model.positions(triangle);
        let area = (b - a).cross(c - a).length() / 2.0;
        // By hand: x as a function of v at constant u, from each triangle's corners.
        let lean: f64 = [0.0, 0.0, 45.0, 0.0][triangle];
        sum = [sum[0] + area * lean.to_radians().cos(), sum[1] + area * lean.to_radians().sin()];
        weight += area;
        assert!(apart(measures.tilt.of(triangle).unwrap(), lean) < 1e-4, "{triangle}");
    }
    assert!(weight > 0.0);
    assert!(close(measures.tilt.shells[0].unwrap(), sum[1].atan2(sum[0]).to_degrees(), 1e-9));
}

#[test]
fn tilts_do_not_depend_on_rotation_with_the_up_axis_order_or_scale() {
    let mut sketch = cylinder(12, |[u, v]| [0.9 * u, v + 0.1 * u]);
    square(&mut sketch, |[x, y]| [x + 3.0, y, 0.2 * x], turned(100.0));
    let tilts = |sketch: &Sketch, up: Axis| {
        let brief = Brief { tilt: gridproof::brief::Tilt { up }, ..Brief::default() };
        report_with(&sketch.text(), &brief).shells.iter().map(|shell| shell.tilt_deg.unwrap()).collect::<Vec<_>>()
    };
    let still = tilts(&sketch, Axis::PlusY);
    type Turn = fn([f64; 3]) -> [f64; 3];
    let turns: [(Axis, Turn); 5] = [
        (Axis::PlusZ, |[x, y, z]| [z, x, y]),
        (Axis::PlusX, |[x, y, z]| [y, z, x]),
        (Axis::MinusY, |[x, y, z]| [x, -y, -z]),
        (Axis::MinusZ, |[x, y, z]| [x, z, -y]),
        (Axis::MinusX, |[x, y, z]| [-y, x, z]),
    ];
    for (up, turn) in turns {
        let mut moved = sketch.clone();
        moved.positions.iter_mut().for_each(|p| *p = turn(*p).map(|x| 7.0 * x + 3.0));
        for (a, b) in still.iter().zip(tilts(&moved, up)) {
            assert!(apart(*a, b) < 1e-9, "{up:?}: {a} and {b}");
        }
    }
    let mut reordered = sketch.clone();
    reordered.faces[..12].reverse();
    for (a, b) in still.iter().zip(tilts(&reordered, Axis::PlusY)) {
        assert!(apart(*a, b) < 1e-9);
    }
}

/// Five walls of surface 1, each with its own fault but the first: reversed, stretched, tilted, unmapped; then two that
/// overlap. `g` lines name them.
fn faults() -> String {
    let mut text = String::new();
    let cell = |column: f64, row: f64, [x, y]: [f64; 2]| [0.02 + 0.25 * column + 0.2 * x, 0.02 + 0.25 * row + 0.2 * y];
    type Map = Box<dyn Fn([f64; 2]) -> Option<[f64; 2]>>;
    let walls: [(&str, Map); 7] = [
        ("good", Box::new(move |p| Some(cell(0.0, 0.0, p)))),
        ("reversed", Box::new(move |[x, y]| Some(cell(1.0, 0.0, [1.0 - x, y])))),
        ("stretched", Box::new(move |[x, y]| Some(cell(2.0, 0.0, [x, y * 0.5])))),
        ("tilted", Box::new(move |[x, y]| Some(cell(0.0, 1.0, [1.0 - y, x])))),
        ("unmapped", Box::new(|_| None)),
        ("shared_a", Box::new(move |p| Some(cell(1.0, 1.0, p)))),
        ("shared_b shared", Box::new(move |p| Some(cell(1.0, 1.0, p)))),
    ];
    let (mut v, mut vt) = (0, 0);
    for (index, (name, map)) in walls.iter().enumerate() {
        text += &format!("g {name}\n");
        let mut face = String::from("f");
        for [x, y] in SQUARE {
            v += 1;
            text += &format!("v {} {y} 0\n", x + 2.0 * index as f64);
            face += &match map([x, y]) {
                Some([u, w]) => {
                    vt += 1;
                    text += &format!("vt {u:?} {w:?}\n");
                    format!(" {v}/{vt}")
                }
                None => format!(" {v}"),
            };
        }
        text += &format!("{face}\n");
    }
    text
}

fn lettered(groups: &[&str]) -> Report {
    let mut brief = Brief::default();
    brief.text.groups = groups.iter().map(|&name| name.to_owned()).collect();
    report_with(&faults(), &brief)
}

#[test]
fn one_wall_in_seven_is_safe_for_text() {
    let report = lettered(&[]);
    assert!(close(report.text.text_share.unwrap(), 1.0 / 7.0, 1e-12));
    let shares: Vec<f64> = report.shells.iter().map(|shell| shell.text_share.unwrap()).collect();
    assert_eq!(shares, [1.0, 0.0, 0.0, 0.0, 0.0, 0.0]);
    // No text required: numbers, no finding.
    assert!(report.findings.iter().all(|finding| finding.kind != FindingKind::Text));
}

#[test]
fn a_group_that_must_carry_text_is_a_must_fix_with_reasons() {
    for (name, reason) in [
        ("reversed", "100.0 % reversed"),
        ("stretched", "100.0 % stretched"),
        ("tilted", "100.0 % tilted"),
        ("unmapped", "100.0 % without UVs"),
        ("shared_a", "100.0 % shared"),
        ("shared", "100.0 % shared"),
        ("shared_b shared", "100.0 % shared"),
    ] {
        let report = lettered(&["good", name]);
        let found: Vec<_> = report.findings.iter().filter(|f| f.kind == FindingKind::Text).collect();
        assert_eq!(found.len(), 1, "{name}: {found:?}");
        assert_eq!((found[0].severity, found[0].place.as_str()), (Severity::MustFix, reason), "{name}");
        assert_eq!(found[0].number.value, 1.0);
        assert!(found[0].camera.is_some() && found[0].advice.ends_with('.'));
    }
    assert!(lettered(&["good"]).findings.iter().all(|finding| finding.kind != FindingKind::Text));
}

#[test]
fn a_flipped_group_that_must_carry_text_is_one_finding() {
    let backwards = |report: &Report| report.findings.iter().filter(|f| f.kind == FindingKind::Flipped).count();
    assert_eq!((backwards(&lettered(&["good"])), backwards(&lettered(&["reversed"]))), (1, 0));
}

/// Squares side by side on the surface, with these uvs at their corners; each has a name.
fn squares(uvs: &[[[f64; 2]; 4]]) -> String {
    let mut text = String::new();
    for (index, corners) in uvs.iter().enumerate() {
        text += &format!("g square_{index}\n");
        for ([x, y], [u, v]) in [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]].iter().zip(corners) {
            text += &format!("v {} {y} 0\nvt {u} {v}\n", x + 2.0 * index as f64);
        }
        let first = 4 * index + 1;
        text += &format!("f {0}/{0} {1}/{1} {2}/{2} {3}/{3}\n", first, first + 1, first + 2, first + 3);
    }
    text
}

#[test]
fn a_mirrored_half_is_one_finding_and_partial_overlaps_are_still_flipped() {
    let whole = |left: f64, right: f64| [[left, 0.1], [right, 0.1], [right, 0.5], [left, 0.5]];
    let turned = [[0.5, 0.1], [0.1, 0.1], [0.1, 0.5], [0.5, 0.5]];
    let kinds = |uvs: &[[[f64; 2]; 4]]| {
        let report = report_with(&squares(uvs), &Brief::default());
        let count = |kind| report.findings.iter().filter(|finding| finding.kind == kind).count();
        [count(FindingKind::Flipped), count(FindingKind::Mirrored)]
    };
    assert_eq!(kinds(&[turned, whole(0.1, 0.5)]), [0, 1]);
    // Two overlapping shells cover half of it, twice.
    assert_eq!(kinds(&[turned, whole(0.1, 0.3), whole(0.1, 0.3)]), [1, 1]);
    assert_eq!(kinds(&[turned]), [1, 0]);
}

#[test]
fn an_unknown_name_is_reported_with_the_files_names() {
    let report = lettered(&["nameplate"]);
    let finding = report.findings.iter().find(|finding| finding.kind == FindingKind::Text).unwrap();
    assert_eq!(finding.severity, Severity::MustFix);
    assert!(finding.title.contains("nameplate"), "{}", finding.title);
    for name in ["good", "reversed", "unmapped"] {
        assert!(finding.advice.contains(name), "{}", finding.advice);
    }
    assert_eq!(report.verdict.text(), "not ready");
}

#[test]
fn a_level_face_counts_as_upright_at_any_rotation() {
    for degrees in [0.0, 90.0, 180.0] {
        let report = report(&one(|[x, y]| [x, 0.0, -y], turned(degrees)).text());
        assert_eq!(report.text.text_share, Some(1.0), "{degrees}");
        assert_eq!(report.shells[0].tilt_deg, None);
    }
    let leaning = (PI / 2.0 - 0.3).sin_cos();
    let report = report(&one(|[x, y]| [x, y * leaning.1, -y * leaning.0], turned(90.0)).text());
    assert_eq!(report.text.text_share, Some(0.0));
}
