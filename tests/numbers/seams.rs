//! Visibility of seams: closed forms, and what must not change it.
//!
//! Convention: exposure is a share of the hemisphere above a seam, so a seam across an open plane has exposure 1; of the
//! whole sphere around it that is one half.

use crate::support::{Sketch, close, measured, report, report_with};
use gridproof::brief::{Axis, Brief, Seams};
use gridproof::findings::{FindingKind, Severity};
use gridproof::report::Report;
use std::f64::consts::{PI, TAU};

const AXES: [Axis; 6] = [Axis::PlusX, Axis::MinusX, Axis::PlusY, Axis::MinusY, Axis::PlusZ, Axis::MinusZ];

fn from(front: Axis) -> Brief {
    Brief { seams: Seams { front, max_front_over_diagonal: None }, ..Brief::default() }
}

fn in_front(text: &str, front: Axis) -> f64 {
    report_with(text, &from(front)).seams.share_in_front.unwrap()
}

/// A quad mapped to its own place, so that its edges to others are seams.
fn quad(sketch: &mut Sketch, corners: [[f64; 3]; 4]) {
    let at = sketch.faces.len() as f64;
    let uv = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]].map(|[u, v]| [2.0 * at + u, v]);
    sketch.face(&[0, 1, 2, 3].map(|i| (corners[i], uv[i])));
}

/// OBJ text with more faces, without uv: they stop rays and have no seams.
fn with_screens(sketch: &Sketch, screens: &[Vec<[f64; 3]>]) -> String {
    let mut text = sketch.text();
    for screen in screens {
        for [x, y, z] in screen {
            text += &format!("v {x:?} {y:?} {z:?}\n");
        }
        let corners: Vec<String> = (1..=screen.len()).rev().map(|back| format!("-{back}")).collect();
        text += &format!("f {}\n", corners.join(" "));
    }
    text
}

fn exposure_is(report: &Report, expected: f64, what: &str) {
    let (exposure, error) = (report.seams.exposure.unwrap(), report.seams.sampling_error.unwrap());
    // Four standard errors, and one more direction in a thousand for gaps below the rays' offset.
    assert!((exposure - expected).abs() <= 4.0 * error + 1e-3, "{what}: {exposure} ± {error}, not {expected}");
    assert!(error < 0.01, "{what}: {error}");
}

/// Two unit squares side by side in the plane z = 0, facing +z, cut along x = 0.
fn plane() -> Sketch {
    let mut sketch = Sketch::default();
    quad(&mut sketch, [[-1., 0., 0.], [0., 0., 0.], [0., 1., 0.], [-1., 1., 0.]]);
    quad(&mut sketch, [[0., 0., 0.], [1., 0., 0.], [1., 1., 0.], [0., 1., 0.]]);
    sketch
}

#[test]
fn a_seam_across_a_plane_has_the_whole_hemisphere_above_it() {
    let report = report(&plane().text());
    assert_eq!((report.counts.seam_edges, report.seams.length), (1, 1.0));
    assert_eq!((report.seams.exposure, report.seams.sampling_error), (Some(1.0), Some(0.0)));
    assert_eq!(report.seams.share_in_front, Some(1.0));
    for (axis, share) in AXES.into_iter().zip([0.0, 0.0, 0.0, 0.0, 1.0, 0.0]) {
        assert_eq!(in_front(&plane().text(), axis), share, "{axis:?}");
    }
}

#[test]
fn without_seams_no_ray_is_cast() {
    let mut sketch = Sketch::default();
    quad(&mut sketch, [[0., 0., 0.], [1., 0., 0.], [1., 1., 0.], [0., 1., 0.]]);
    let seams = report(&sketch.text()).seams;
    assert_eq!((seams.share_in_front, seams.exposure, seams.sampling_error, seams.rays), (None, None, None, 0));
    assert!(seams.length == 0.0 && seams.length.is_sign_positive());
}

#[test]
fn an_occluder_over_a_quarter_of_a_seam_hides_a_quarter() {
    let screen = vec![[-2., 0.5, 1.], [2., 0.5, 1.], [2., 0.75, 1.], [-2., 0.75, 1.]];
    let text = with_screens(&plane(), &[screen]);
    assert!((in_front(&text, Axis::PlusZ) - 0.75).abs() <= 1.0 / 4096.0);
}

#[test]
fn at_the_foot_of_a_wall_half_the_hemisphere_is_open_and_in_a_groove_its_angle() {
    for degrees in [20.0f64, 60.0, 90.0, 135.0, 170.0, 200.0, 270.0, 340.0] {
        // Floor towards +z; the other side rises by `degrees` from it.
        let (s, c) = degrees.to_radians().sin_cos();
        let mut sketch = Sketch::default();
        quad(&mut sketch, [[0., 0., 0.], [0., 0., 1.], [1., 0., 1.], [1., 0., 0.]]);
        quad(&mut sketch, [[0., 0., 0.], [1., 0., 0.], [1., s, c], [0., s, c]]);
        // The open wedge over the half turn that a hemisphere spans around the edge; by hand.
        exposure_is(&report(&sketch.text()), (degrees / 180.0).min(1.0), &format!("{degrees} degrees"));
    }
}

#[test]
fn the_foot_of_a_wall_is_visible_from_its_two_open_sides_only() {
    let mut sketch = Sketch::default();
    quad(&mut sketch, [[0., 0., 0.], [0., 0., 1.], [1., 0., 1.], [1., 0., 0.]]);
    quad(&mut sketch, [[0., 0., 0.], [1., 0., 0.], [1., 1., 0.], [0., 1., 0.]]);
    for (axis, share) in AXES.into_iter().zip([0.0, 0.0, 1.0, 0.0, 1.0, 0.0]) {
        assert_eq!(in_front(&sketch.text(), axis), share, "{axis:?}");
    }
}

/// Solid angle of a rectangle with one corner at the foot of the perpendicular, sides a and b, at distance h (the classic
/// right-pyramid formula, from memory; A. Khadjavi 1968, J. Opt. Soc. Am. 58, 1417).
fn corner_angle(a: f64, b: f64, h: f64) -> f64 {
    (a * b / (h * (a * a + b * b + h * h).sqrt())).atan()
}

#[test]
fn between_two_plates_the_other_plate_s_solid_angle_is_missing() {
    for height in [0.25, 1.0, 3.0] {
        let mut sketch = Sketch::default();
        quad(&mut sketch, [[-1., -1., 0.], [0., -1., 0.], [0., 1., 0.], [-1., 1., 0.]]);
        quad(&mut sketch, [[0., -1., 0.], [1., -1., 0.], [1., 1., 0.], [0., 1., 0.]]);
        let plate = vec![[-1., -1., height], [-1., 1., height], [1., 1., height], [1., -1., height]];
        let text = with_screens(&sketch, &[plate]);
        let steps = 2000;
        let hidden = (0..steps)
            .map(|step| 2.0 * (f64::from(step) + 0.5) / f64::from(steps))
            .map(|y| 2.0 * corner_angle(1.0, y, height) + 2.0 * corner_angle(1.0, 2.0 - y, height))
            .sum::<f64>()
            / f64::from(steps);
        exposure_is(&report(&text), 1.0 - hidden / TAU, &format!("plates {height} apart"));
        assert_eq!(in_front(&text, Axis::PlusZ), 0.0);
    }
}

/// A closed sphere around the origin as quads and triangles.
fn sphere(radius: f64) -> Vec<Vec<[f64; 3]>> {
    let (around, down) = (24, 12);
    let at = |i: usize, j: usize| {
        // Poles and the closing meridian exactly, so that the sphere has no gap.
        let (s, c) = (TAU * (i % around) as f64 / around as f64).sin_cos();
        let (r, y) = match j {
            0 => (0.0, 1.0),
            _ if j == down => (0.0, -1.0),
            _ => (PI * j as f64 / down as f64).sin_cos(),
        };
        [radius * r * s, radius * y, radius * r * c]
    };
    let mut faces = Vec::new();
    for j in 0..down {
        for i in 0..around {
            faces.push(match j {
                0 => vec![at(0, 0), at(i, 1), at(i + 1, 1)],
                _ if j + 1 == down => vec![at(i, j), at(0, down), at(i + 1, j)],
                _ => vec![at(i, j), at(i, j + 1), at(i + 1, j + 1), at(i + 1, j)],
            });
        }
    }
    faces
}

#[test]
fn inside_a_closed_sphere_nothing_is_seen_from_outside() {
    let text = with_screens(&plane(), &sphere(3.0));
    let report = report(&text);
    assert_eq!((report.seams.exposure, report.seams.sampling_error), (Some(0.0), Some(0.0)));
    for axis in AXES {
        assert_eq!(in_front(&text, axis), 0.0, "{axis:?}");
    }
}

#[test]
fn a_hemisphere_overhead_leaves_the_angle_below_its_rim() {
    // The bowl of a sphere around the seam's middle, above a height of half its radius: from the centre it covers the
    // cap of that height, half the hemisphere (Archimedes). The seam is short, so that all of it is near the centre.
    let mut sketch = Sketch::default();
    let e = 1e-3;
    quad(&mut sketch, [[-e, 0., e], [0., 0., e], [0., 0., -e], [-e, 0., -e]]);
    quad(&mut sketch, [[0., 0., e], [e, 0., e], [e, 0., -e], [0., 0., -e]]);
    let (around, down) = (90, 30);
    let at = |i: usize, j: usize| {
        let (s, c) = (TAU * (i % around) as f64 / around as f64).sin_cos();
        let (r, y) = (PI / 3.0 * j as f64 / down as f64).sin_cos();
        [r * s, y, r * c]
    };
    let cells = (0..down).flat_map(|j| (0..around).map(move |i| (i, j)));
    let bowl: Vec<_> = cells
        .flat_map(|(i, j)| {
            [vec![at(i, j), at(i, j + 1), at(i + 1, j + 1)], vec![at(i, j), at(i + 1, j + 1), at(i + 1, j)]]
        })
        .collect();
    exposure_is(&report(&with_screens(&sketch, &bowl)), 0.5, "bowl");
}

const CUBE: [[f64; 3]; 8] =
    [[0., 0., 0.], [1., 0., 0.], [0., 1., 0.], [1., 1., 0.], [0., 0., 1.], [1., 0., 1.], [0., 1., 1.], [1., 1., 1.]];
/// front (+z), right, back, left, top, bottom, counter-clockwise from outside.
const CUBE_FACES: [[usize; 4]; 6] =
    [[4, 5, 7, 6], [5, 1, 3, 7], [1, 0, 2, 3], [0, 4, 6, 2], [6, 7, 3, 2], [0, 1, 5, 4]];

/// The cross net: front in the middle with right, left, top and bottom at its sides, back beside right.
fn cube_net() -> Sketch {
    let cell = [[1., 1.], [2., 1.], [3., 1.], [0., 1.], [1., 2.], [1., 0.]];
    let mut sketch = Sketch::default();
    for (face, cell) in CUBE_FACES.iter().zip(cell) {
        let uv =
            [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]].map(|[u, v]| [(cell[0] + u) / 4.0, (cell[1] + v) / 4.0]);
        sketch.face(&[0, 1, 2, 3].map(|i| (CUBE[face[i]], uv[i])));
    }
    sketch
}

#[test]
fn a_cube_s_net_shows_the_seams_of_its_front_face() {
    // Its seven seams: the four of the back but that to the right, and those of top and bottom but to the front; counted
    // by hand. Seen straight on, only the edges of the near face count.
    let text = cube_net().text();
    assert_eq!(report(&text).counts.seam_edges, 7);
    for (axis, seams) in AXES.into_iter().zip([2.0, 3.0, 3.0, 3.0, 0.0, 3.0]) {
        let share = in_front(&text, axis);
        assert!((share - seams / 7.0).abs() < 1e-12, "{axis:?}: {share}");
    }
    // Every edge of a convex body has its hemisphere free.
    assert_eq!(report(&text).seams.exposure, Some(1.0));
}

#[test]
fn an_inside_out_cube_is_seen_from_its_normals_side() {
    let mut text = String::new();
    for line in cube_net().text().lines() {
        let Some(corners) = line.strip_prefix("f ") else {
            text += &format!("{line}\n");
            continue;
        };
        // The faces run the other way round, the normals still point outwards.
        let index: usize = corners.split('/').next().unwrap().parse().unwrap();
        let normal = [[0, 0, 1], [1, 0, 0], [0, 0, -1], [-1, 0, 0], [0, 1, 0], [0, -1, 0]][(index - 1) / 4];
        text += &format!("vn {} {} {}\n", normal[0], normal[1], normal[2]);
        let reversed: Vec<String> = corners.split(' ').rev().map(|corner| format!("{corner}/-1")).collect();
        text += &format!("f {}\n", reversed.join(" "));
    }
    let report = report_with(&text, &from(Axis::MinusZ));
    assert_eq!(report.handedness.inside_out_parts, 1);
    assert!((report.seams.share_in_front.unwrap() - 3.0 / 7.0).abs() < 1e-12);
    assert_eq!(report.seams.exposure, Some(1.0));
}

#[test]
fn a_folded_sheet_is_seen_along_its_fold() {
    // Two faces back to back: the normals cancel, and the hemisphere opens away from both.
    let mut sketch = Sketch::default();
    quad(&mut sketch, [[0., 0., 0.], [1., 0., 0.], [1., 1., 0.], [0., 1., 0.]]);
    quad(&mut sketch, [[0., 0., 0.], [0., 2., 0.], [1., 2., 0.], [1., 0., 0.]]);
    let report = report(&sketch.text());
    assert_eq!(report.counts.seam_edges, 1);
    assert_eq!(report.seams.exposure, Some(1.0));
}

/// A scene in which some seams are hidden: a cube in a corner between floor and wall, under a lintel.
fn scene() -> Sketch {
    let mut sketch = cube_net();
    quad(&mut sketch, [[-1., -0.1, -0.2], [-1., -0.1, 3.], [3., -0.1, 3.], [3., -0.1, -0.2]]);
    quad(&mut sketch, [[-1., -0.1, -0.2], [3., -0.1, -0.2], [3., 2.1, -0.2], [-1., 2.1, -0.2]]);
    quad(&mut sketch, [[-1., 1.4, 1.2], [3., 1.4, 1.2], [3., 1.6, 0.7], [-1., 1.6, 0.7]]);
    sketch
}

#[test]
fn rigid_motion_with_the_front_axis_and_scale_change_nothing() {
    type Turn = fn([f64; 3]) -> [f64; 3];
    let turns: [(Axis, Turn); 4] = [
        (Axis::PlusX, |[x, y, z]| [z, x, y]),
        (Axis::PlusY, |[x, y, z]| [y, z, x]),
        (Axis::MinusZ, |[x, y, z]| [-x, y, -z]),
        (Axis::MinusX, |[x, y, z]| [-z, y, x]),
    ];
    let still = report_with(&scene().text(), &from(Axis::PlusZ)).seams;
    assert!((0.05..0.95).contains(&still.share_in_front.unwrap()), "{still:?}");
    assert!((0.05..0.95).contains(&still.exposure.unwrap()), "{still:?}");
    for (front, turn) in turns {
        for (scale, shift) in [(1.0, 0.0), (1.0, 5.3), (0.01, 0.0), (300.0, -70.0)] {
            let mut moved = scene();
            moved.positions.iter_mut().for_each(|p| *p = turn(*p).map(|x| scale * x + shift));
            let seams = report_with(&moved.text(), &from(front)).seams;
            // Only grazing rays may differ.
            assert!(
                (seams.exposure.unwrap() - still.exposure.unwrap()).abs() < 2e-4,
                "{front:?} {scale} {shift}: {seams:?}"
            );
            assert!(
                (seams.share_in_front.unwrap() - still.share_in_front.unwrap()).abs() < 1e-3,
                "{front:?}: {seams:?}"
            );
        }
    }
}

#[test]
fn a_slanted_turn_keeps_the_exposure() {
    let still = report(&scene().text()).seams;
    let (s, c) = 0.7f64.sin_cos();
    let mut moved = scene();
    moved.positions.iter_mut().for_each(|p| {
        let [x, y, z] = *p;
        let [x, y] = [c * x - s * y, s * x + c * y];
        *p = [x, c * y - s * z, s * y + c * z];
    });
    let seams = report(&moved.text()).seams;
    assert!((seams.exposure.unwrap() - still.exposure.unwrap()).abs() < 2e-4, "{seams:?} {still:?}");
}

#[test]
fn the_order_of_faces_changes_no_more_than_the_sampling_error() {
    let still = report(&scene().text()).seams;
    let mut turned = scene();
    turned.faces.rotate_left(4);
    turned.faces.swap(0, 3);
    let seams = report(&turned.text()).seams;
    let apart = (seams.exposure.unwrap() - still.exposure.unwrap()).abs();
    assert!(apart <= 4.0 * still.sampling_error.unwrap(), "{apart}: {seams:?}");
    assert!(close(seams.length, still.length, 1e-12));
    assert!((seams.share_in_front.unwrap() - still.share_in_front.unwrap()).abs() < 2e-3);
}

#[test]
fn tens_of_thousands_of_seam_edges_are_sampled_and_each_gets_a_value() {
    // 130 x 130 loose cells: 33,540 seam edges. A screen hides the left half of the plane.
    let mut sketch = Sketch::default();
    for y in 0..130 {
        for x in 0..130 {
            let (x, y) = (f64::from(x), f64::from(y));
            quad(&mut sketch, [[x, y, 0.], [x + 1., y, 0.], [x + 1., y + 1., 0.], [x, y + 1., 0.]]);
        }
    }
    let screen = vec![[-1., -1., 1.], [65., -1., 1.], [65., 131., 1.], [-1., 131., 1.]];
    let (_, measures) = measured(&with_screens(&sketch, &[screen]), &Brief::default());
    let seams = &measures.seams;
    assert_eq!(seams.edges.len(), 2 * 130 * 129);
    assert!((seams.share_in_front.unwrap() - 0.5).abs() < 0.02, "{:?}", seams.share_in_front);
    assert!(seams.rays < 100_000);
    assert!(seams.edges.iter().all(|edge| (0.0..=1.0).contains(&edge.front) && (0.0..=1.0).contains(&edge.exposure)));
    let seen: f64 = seams.edges.iter().map(|edge| edge.length * f64::from(edge.front)).sum();
    let all: f64 = seams.edges.iter().map(|edge| edge.length).sum();
    assert!((seen / all - 0.5).abs() < 0.05, "{}", seen / all);
}

#[test]
fn when_rays_are_slow_fewer_are_cast_and_the_report_says_so() {
    // Needles through all of the space: every box reaches everywhere, so that a ray looks at all of them.
    let mut needles = Vec::new();
    for index in 0..16_000 {
        let turn = f64::from(index) * 2.399_963;
        let (s, c) = turn.sin_cos();
        let y = 4.0 + f64::from(index % 97) * 0.01;
        needles.push(vec![[s * 9.0, y, c * 9.0], [-s * 9.0, y + 1.0, -c * 9.0], [-s * 9.0 + 1e-3, y + 1.0, -c * 9.0]]);
    }
    let mut floor = Sketch::default();
    // A horizontal plane, whose hemisphere is filled by the needles.
    for cell in 0..1600 {
        let [x, z] = [cell % 40, cell / 40].map(|at| f64::from(at) / 20.0 - 1.0);
        let [right, near] = [x, z].map(|at| at + 0.05);
        quad(&mut floor, [[x, 0., near], [right, 0., near], [right, 0., z], [x, 0., z]]);
    }
    let report = report(&with_screens(&floor, &needles));
    // All would be 24,960, 4 at each half of an edge: no side faces the front.
    assert!((1000..24_960).contains(&report.seams.rays), "{:?}", report.seams);
    assert!((0.0..=1.0).contains(&report.seams.exposure.unwrap()));
    assert!(report.seams.sampling_error.unwrap() > 0.0);
}

/// A strip of unit squares in the plane z = 0 along x, cut at the places given; more lines before each face.
fn strip(cells: usize, cuts: &[usize], before: impl Fn(usize) -> String, normal: impl Fn(usize) -> usize) -> String {
    let mut text = String::from("vn 0 0 1\nvn 0.6 0 0.8\n");
    let mut shell = 0.0;
    for cell in 0..cells {
        if cuts.contains(&cell) {
            shell += 1.0;
        }
        for (x, y) in [(0, 0), (1, 0), (1, 1), (0, 1)] {
            let u = (cell + x) as f64 / 10.0;
            text += &format!("v {} {y} 0\nvt {u} {}\n", cell + x, 0.2 * shell + f64::from(y) / 10.0);
        }
        text += &before(cell);
        let n = normal(cell);
        text += &format!("f -4/-4/{n} -3/-3/{n} -2/-2/{n} -1/-1/{n}\n");
    }
    text
}

fn over_diagonal(text: &str) -> f64 {
    report(text).seams.front_over_diagonal.unwrap()
}

#[test]
fn only_soft_seams_count_by_normals_and_groups() {
    let diagonal = 17f64.sqrt();
    let none = |_: usize| String::new();
    // One normal all over: soft. Another from the cut on: hard, and only one of three edges is.
    assert!(close(over_diagonal(&strip(4, &[2], none, |_| 1)), 1.0 / diagonal, 1e-6));
    assert_eq!(over_diagonal(&strip(4, &[2], none, |cell| if cell < 2 { 1 } else { 2 })), 0.0);
    // A split elsewhere does not count here.
    assert!(close(over_diagonal(&strip(4, &[2], none, |cell| if cell < 1 { 1 } else { 2 })), 1.0 / diagonal, 1e-6));
    // Groups: another one, none at all, and the same.
    let group = |from: usize| move |cell: usize| if cell == from { "s 2\n" } else { "s 1\n" }.to_owned();
    assert_eq!(over_diagonal(&strip(4, &[3], group(3), |_| 1)), 0.0);
    assert!(close(over_diagonal(&strip(4, &[2], group(3), |_| 1)), 1.0 / diagonal, 1e-6));
    let without_normals =
        |text: String| text.replace("/1 ", " ").replace("/1\n", "\n").replace("vn 0 0 1\nvn 0.6 0 0.8\n", "");
    assert_eq!(over_diagonal(&without_normals(strip(4, &[3], group(3), |_| 1))), 0.0);
    assert!(close(over_diagonal(&without_normals(strip(4, &[2], group(3), |_| 1))), 1.0 / diagonal, 1e-6));
}

#[test]
fn without_normals_and_groups_or_in_flat_shading_the_angle_decides() {
    // Every face has its own normal: flat shading, which defines no edges.
    let diagonal = 17f64.sqrt();
    let flat = strip(4, &[2], |_| String::new(), |cell| 1 + cell % 2);
    assert!(close(over_diagonal(&flat), 1.0 / diagonal, 1e-6));
    let off = strip(4, &[2], |_| "s off\n".into(), |_| 1);
    assert!(close(over_diagonal(&off.replace("/1 ", " ").replace("/1\n", "\n")), 1.0 / diagonal, 1e-6));
    for (degrees, is_soft) in [(0.0, true), (29.0, true), (31.0, false), (90.0, false), (-29.0, true), (-31.0, false)] {
        let (s, c) = f64::to_radians(degrees).sin_cos();
        let mut sketch = Sketch::default();
        quad(&mut sketch, [[-1., 0., 0.], [0., 0., 0.], [0., 1., 0.], [-1., 1., 0.]]);
        quad(&mut sketch, [[0., 0., 0.], [c, 0., -s], [c, 1., -s], [0., 1., 0.]]);
        let soft = |sketch: &Sketch| measured(&sketch.text(), &Brief::default()).1.seams.edges[0].soft;
        assert_eq!(soft(&sketch), is_soft, "{degrees}");
        // If a face's winding is reversed, the surface has the same angle.
        sketch.faces[1].reverse();
        assert_eq!(soft(&sketch), is_soft, "{degrees}, reversed");
    }
    // The edges of a cube are hard.
    assert_eq!(over_diagonal(&cube_net().text()), 0.0);
}

#[test]
fn the_length_in_front_does_not_rise_when_hidden_seams_are_removed() {
    // A second plane behind the first, with a cut that is not seen, or without.
    let behind = |cut: bool| {
        let mut sketch = plane();
        let uv = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
        for (index, left) in [(0.0, -1.0), (1.0, 0.0)] {
            let shift = if cut { 2.0 * index } else { index };
            let corners = [[left, 0., -1.], [left + 1.0, 0., -1.], [left + 1.0, 1., -1.], [left, 1., -1.]];
            let uv = uv.map(|[u, v]| [u + shift, v + 3.0]);
            sketch.face(&[0, 1, 2, 3].map(|i| (corners[i], uv[i])));
        }
        report(&sketch.text()).seams
    };
    let (with, without) = (behind(true), behind(false));
    assert!(with.share_in_front < without.share_in_front);
    assert_eq!(with.front_over_diagonal, without.front_over_diagonal);
    assert!(close(with.front_over_diagonal.unwrap(), 1.0 / 6f64.sqrt(), 1e-6));
}

#[test]
fn a_passed_limit_is_a_look_at_the_longest_soft_seam_and_no_limit_no_finding() {
    // Cuts of one piece on the left and two of one on the right, which are connected at (3, 1, 0).
    let mut sketch = Sketch::default();
    for y in [0., 1.] {
        for x in [0., 1.] {
            quad(&mut sketch, [[3. + x, y, 0.], [4. + x, y, 0.], [4. + x, y + 1., 0.], [3. + x, y + 1., 0.]]);
        }
    }
    quad(&mut sketch, [[-5., 0., 0.], [-4., 0., 0.], [-4., 1., 0.], [-5., 1., 0.]]);
    quad(&mut sketch, [[-4., 0., 0.], [-3., 0., 0.], [-3., 1., 0.], [-4., 1., 0.]]);
    let held_to = |limit: Option<f64>| {
        let brief = Brief { seams: Seams { front: Axis::PlusZ, max_front_over_diagonal: limit }, ..Brief::default() };
        let mut findings = report_with(&sketch.text(), &brief).findings;
        findings.retain(|finding| finding.kind == FindingKind::Seams);
        findings
    };
    let length = 5.0 / 104f64.sqrt();
    assert!(held_to(None).is_empty() && held_to(Some(length + 1e-6)).is_empty());
    let [finding] = &held_to(Some(0.25))[..] else { panic!("one finding") };
    assert_eq!((finding.severity, finding.lens, finding.id.as_str()), (Severity::Look, "seams", "seams"));
    assert!(close(finding.number.value, length, 1e-6));
    assert_eq!(finding.number.text, "0.49 of the diagonal");
    assert_eq!(finding.limit.as_ref().unwrap().text, "up to 0.25 of the diagonal");
    assert_eq!(finding.place, "the longest of 2 soft seams, 80.0 % of what is seen");
    assert_eq!(finding.shells, [0, 1, 2, 3]);
    // Looked at from the front, at the middle of the longest.
    let camera = finding.camera.unwrap();
    assert!(close(camera.target[0], 4.0, 1e-9) && close(camera.target[1], 1.0, 1e-9));
    assert!(camera.eye[2] > camera.target[2] && close(camera.eye[0], 4.0, 1e-9));
    assert!(finding.triangles > 0 && finding.line.is_some());
}
