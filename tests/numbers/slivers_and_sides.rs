//! Valid layouts that look wrong only by rounding, symmetry or triangulation, and similar real faults: corners in line,
//! mirrored halves welded where they meet, overlaps of any tessellation. All numbers by formula.

use crate::support::{close, measured, report, report_with};
use gridproof::brief::{Brief, Policy};
use gridproof::findings::{FindingKind, Severity};
use gridproof::measure::flat::triangles::state;
use gridproof::measure::sheet::sharing::ShareKind;
use gridproof::report::Report;
use std::fmt::Write as _;

type Uv = [f64; 2];
type Position = [f64; 3];

/// OBJ text of faces with so many decimals; equal corners are repeated, as some exporters do.
fn written(faces: &[Vec<(Position, Uv)>], decimals: usize) -> String {
    let mut text = String::new();
    let mut corners = 0;
    for face in faces {
        for ([x, y, z], [u, v]) in face {
            writeln!(text, "v {x:.decimals$} {y:.decimals$} {z:.decimals$}\nvt {u:.decimals$} {v:.decimals$}").unwrap();
        }
        text.push('f');
        (corners + 1..=corners + face.len()).for_each(|k| write!(text, " {k}/{k}").unwrap());
        text.push('\n');
        corners += face.len();
    }
    text
}

/// A grid of quads, or of triangles, where each corner is placed by its column and row.
fn grid(columns: usize, rows: usize, place: impl Fn(usize, usize) -> (Position, Uv)) -> Vec<Vec<(Position, Uv)>> {
    let quads = (0..rows).flat_map(|y| (0..columns).map(move |x| (x, y)));
    quads.map(|(x, y)| vec![place(x, y), place(x + 1, y), place(x + 1, y + 1), place(x, y + 1)]).collect()
}

fn has(report: &Report, kind: FindingKind) -> bool {
    report.findings.iter().any(|finding| finding.kind == kind)
}

fn number(report: &Report, kind: FindingKind) -> f64 {
    let of_kind: Vec<_> = report.findings.iter().filter(|finding| finding.kind == kind).collect();
    assert_eq!(of_kind.len(), 1, "{kind:?}: {:?}", report.findings);
    of_kind[0].number.value
}

/// Checks that there is no finding on orientation, overlap or collapsed triangles.
fn assert_sound(report: &Report, what: &str) {
    for kind in [
        FindingKind::Folded,
        FindingKind::Flipped,
        FindingKind::Mirrored,
        FindingKind::PartialOverlap,
        FindingKind::SelfOverlap,
        FindingKind::Stacked,
        FindingKind::Collapsed,
    ] {
        assert!(!has(report, kind), "{what}: {:?}", report.findings);
    }
    assert_eq!((report.handedness.folded_triangles, report.handedness.flipped_shells), (0, 0), "{what}");
    assert!(report.sharing.is_empty(), "{what}: {:?}", report.sharing);
}

/// The border of a plate whose sides have corners in line, on a tilted plane and under a similarity that turns it on the
/// sheet; more corners the larger `seed` is.
fn plate(seed: u32) -> Vec<(Position, Uv)> {
    let (width, height) = (2.0 + 0.37 * f64::from(seed), 1.0 + 0.11 * f64::from(seed));
    let corners = [[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]];
    let (s, c) = (0.3 + 0.41 * f64::from(seed)).sin_cos();
    let (t, d) = (0.7 * f64::from(seed)).sin_cos();
    let at = |[x, y]: [f64; 2]| {
        // A unit vector across and one along, at right angles.
        let position = [c * x - s * d * y, s * x + c * d * y, t * y];
        (position, [0.5 + 0.15 * (c * x - s * y), 0.4 + 0.15 * (s * x + c * y)])
    };
    let mut border = Vec::new();
    for (side, corner) in corners.iter().enumerate() {
        let next = corners[(side + 1) % 4];
        let in_line = (seed + side as u32) % 4;
        for step in 0..=in_line {
            let along = f64::from(step) / f64::from(in_line + 1);
            border.push(at([0, 1].map(|axis| corner[axis] + (next[axis] - corner[axis]) * along)));
        }
    }
    border
}

#[test]
fn a_flat_plate_with_collinear_corners_has_no_finding_however_exported() {
    let (mut reversed, mut collapsed) = (0, 0);
    for decimals in [4, 5, 6] {
        for seed in 0..12 {
            let mut border = plate(seed);
            for start in 0..border.len() {
                let fan = (1..border.len() - 1).map(|k| vec![border[0], border[k], border[k + 1]]).collect::<Vec<_>>();
                for (style, faces) in [("one face", vec![border.clone()]), ("a fan", fan)] {
                    let report = report(&written(&faces, decimals));
                    assert_sound(&report, &format!("{style}, {decimals} decimals, plate {seed} from corner {start}"));
                    reversed += report.handedness.reversed_triangles;
                    collapsed += report.counts.collapsed_uv;
                }
                border.rotate_left(1);
            }
        }
    }
    // The fans do have triangles that rounding flipped or flattened; they are counted, and not judged.
    assert!(reversed > 20 && collapsed > 0, "{reversed} {collapsed}");
}

#[test]
fn a_quad_with_a_collinear_corner_has_no_finding() {
    for decimals in [4, 5, 6] {
        for start in 0..4 {
            let mut quad: Vec<(Position, Uv)> = [[0.0, 0.0], [0.37, 0.21], [1.11, 0.63], [0.2, 0.9]]
                .map(|[x, y]| ([x, 0.8 * y, 0.6 * y], [0.1 + 0.5 * x, 0.1 + 0.5 * y]))
                .to_vec();
            quad.rotate_left(start);
            let report = report(&written(&[quad], decimals));
            assert_sound(&report, &format!("{decimals} decimals, from corner {start}"));
            assert_eq!(report.counts.degenerate_3d, 0);
        }
    }
}

/// A sheet of 4 x 4 cells of `size` units, 10 steps wide on the sheet; one corner is pulled over the next: two triangles fold.
fn pulled(size: f64, step: f64) -> Vec<Vec<(Position, Uv)>> {
    grid(4, 4, |x, y| {
        let u = if (x, y) == (1, 1) { 22.0 } else { 10.0 * x as f64 };
        ([x as f64 * size, y as f64 * size, 0.0], [step * u, step * 10.0 * y as f64])
    })
}

#[test]
fn faults_are_found_in_whole_numbers_and_in_small_units() {
    // Whole numbers all through, uvs too; then a ring of 2 cm, and of 2 mm, in metres.
    for (size, step, decimals) in [(1.0, 1.0, 0), (0.005, 0.02, 6), (0.0005, 0.02, 6)] {
        let found = report(&written(&pulled(size, step), decimals));
        assert_eq!(found.handedness.folded_triangles, 2, "{size}");
        assert!(has(&found, FindingKind::Folded), "{size}: {:?}", found.findings);
    }
    let square = |z: f64, [u, v]: Uv| {
        let corners = [[0.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0]];
        corners.map(|[x, y]| ([x, y, z], [u + x, v + y])).to_vec()
    };
    let found = report(&written(&[square(0.0, [0.0, 0.0]), square(5.0, [1.0, 1.0])], 0));
    assert!(close(number(&found, FindingKind::PartialOverlap), 0.25, 1e-6));
}

#[test]
fn slivers_are_triangles_that_rounding_may_flip() {
    // Heights of the last triangle beside 2 units of the last decimal on the surface and on the sheet, at half a uv per unit.
    for (height, decimals_v, decimals_vt, is_sliver) in [
        (0.0001, 4, 6, true),
        (0.0003, 4, 6, false),
        (0.0003, 6, 4, true),
        (0.0005, 6, 4, false),
        (0.000003, 6, 6, true),
        (0.000005, 6, 6, false),
        // No fewer than 4 decimals are assumed.
        (0.01, 2, 2, false),
    ] {
        let points = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0], [0.5, 1.0 + height]];
        let mut text = String::new();
        for [x, y] in points {
            writeln!(text, "v {x:.decimals_v$} {y:.decimals_v$} 0\nvt {:.9} {:.9}", x / 2.0, y / 2.0).unwrap();
        }
        text += "f 1/1 2/2 3/3\nf 1/1 3/3 4/4\nf 4/4 3/3 5/5\n";
        let mut document = gridproof::obj::read(text.as_bytes()).unwrap();
        assert_eq!(document.decimals, [decimals_v as u32, 9]);
        document.decimals[1] = decimals_vt;
        let model = gridproof::model::Model::new(document);
        let measures = gridproof::measure::Measures::new(&model, &Brief::default());
        let slivers: Vec<bool> = (0..3).map(|triangle| measures.triangles.is(triangle, state::SLIVER)).collect();
        assert_eq!(slivers, [false, false, is_sliver], "{height} {decimals_v} {decimals_vt}");
    }
}

/// A bowl over x from -`left` to `right`, in cells of a tenth, both sides of x = 0 on the same place of the sheet and welded
/// there: the left one is mirrored. `flip` mirrors all of it.
fn welded(left: usize, right: usize, flip: bool) -> String {
    let faces = grid(left + right, 6, |column, row| {
        let (x, y) = (0.1 * (column as f64 - left as f64), 0.1 * row as f64);
        let u = 0.05 + 0.4 * x.abs();
        ([x, y, 0.0], [if flip { 1.0 - u } else { u }, 0.05 + 0.4 * y])
    });
    written(&faces, 6)
}

fn with_policy(policy: Policy) -> Brief {
    let mut brief = Brief::default();
    brief.sharing.mirrored = policy;
    brief
}

#[test]
fn mirrored_halves_welded_where_they_meet_are_mirrored_and_nothing_else() {
    for flip in [false, true] {
        for (policy, severity) in
            [(Policy::Allow, Severity::Info), (Policy::Look, Severity::Look), (Policy::MustFix, Severity::MustFix)]
        {
            let report = report_with(&welded(8, 8, flip), &with_policy(policy));
            assert_eq!(report.counts.shells, 1);
            assert_eq!(report.handedness.flipped_shells, 0, "flip {flip}");
            assert_eq!(report.handedness.folded_triangles, 0);
            assert!(!report.shells[0].flipped && report.shells[0].folded == 0);
            assert!(close(report.handedness.mirrored_share.unwrap(), 1.0, 1e-9));
            let [pair] = &report.sharing[..] else { panic!("{:?}", report.sharing) };
            assert_eq!((pair.a, pair.b, pair.kind), (0, 0, ShareKind::Mirrored));
            assert!(close(pair.area_share_a, 1.0, 1e-6) && pair.area_share_a == pair.area_share_b);
            assert!(close(number(&report, FindingKind::Mirrored), 1.0, 1e-6));
            let finding = report.findings.iter().find(|finding| finding.kind == FindingKind::Mirrored).unwrap();
            assert_eq!((finding.severity, finding.shells.as_slice()), (severity, &[0][..]));
            let others =
                [FindingKind::Folded, FindingKind::Flipped, FindingKind::SelfOverlap, FindingKind::PartialOverlap];
            assert!(others.iter().all(|&kind| !has(&report, kind)), "{:?}", report.findings);
            assert!(!finding.advice.contains("Turn") && !finding.advice.contains("lip"), "{}", finding.advice);
        }
    }
}

#[test]
fn a_smaller_mirrored_side_is_measured_and_the_larger_side_decides() {
    for flip in [false, true] {
        let report = report(&welded(4, 10, flip));
        // The right side is not flipped unless all is mirrored.
        assert_eq!(report.handedness.flipped_shells, usize::from(flip));
        assert_eq!(has(&report, FindingKind::Flipped), flip);
        assert_eq!(report.handedness.folded_triangles, 0);
        assert!(close(number(&report, FindingKind::Mirrored), 8.0 / 14.0, 1e-6));
        assert!(close(report.handedness.mirrored_share.unwrap(), 8.0 / 14.0, 1e-9));
        let [pair] = &report.sharing[..] else { panic!("{:?}", report.sharing) };
        assert!(close(pair.area_share_a, 8.0 / 14.0, 1e-6));
    }
}

#[test]
fn a_side_that_is_small_or_lies_elsewhere_is_folded() {
    // One cell of sixteen columns, pulled back over its neighbour.
    let narrow = report(&welded(1, 15, false));
    assert_eq!((narrow.handedness.folded_triangles, narrow.sharing.len()), (12, 0), "{:?}", narrow.sharing);
    assert!(has(&narrow, FindingKind::Folded) && !has(&narrow, FindingKind::Mirrored));
    // Half of it is flipped and lies beside the other half, where nothing else is.
    let faces = grid(10, 4, |column, row| {
        let (x, y) = (column as f64, row as f64);
        let u = if column <= 5 { x } else { 5.0 - 0.2 * (x - 5.0) };
        let v = if column <= 5 { y } else { y + 6.0 * (x - 5.0) };
        ([x, y, 0.0], [0.1 + 0.02 * u, 0.1 + 0.02 * v])
    });
    let report = report(&written(&faces, 6));
    assert!(has(&report, FindingKind::Folded) && !has(&report, FindingKind::Mirrored), "{:?}", report.findings);
}

#[test]
fn a_fold_beside_a_mirrored_half_is_found() {
    let pulled_corner = |column: usize, row: usize| (column, row) == (12, 3);
    let faces = grid(16, 6, |column, row| {
        let (x, y) = (0.1 * (column as f64 - 8.0), 0.1 * row as f64);
        let u = if pulled_corner(column, row) { 0.05 + 0.4 * 0.55 } else { 0.05 + 0.4 * x.abs() };
        ([x, y, 0.0], [u, 0.05 + 0.4 * y])
    });
    let report = report(&written(&faces, 6));
    assert_eq!(report.handedness.flipped_shells, 0);
    assert!(report.handedness.folded_triangles > 0 && has(&report, FindingKind::Folded));
    assert!(number(&report, FindingKind::Mirrored) > 0.9);
}

#[test]
fn sides_are_connected_across_slivers() {
    // A mirrored half with a column of slivers in its middle, 1e-6 wide.
    let faces = grid(9, 4, |column, row| {
        let xs = [-0.8, -0.6, -0.4, -0.399999, -0.2, 0.0, 0.2, 0.4, 0.6, 0.8];
        let (x, y): (f64, f64) = (xs[column], 0.1 * row as f64);
        ([x, y, 0.0], [0.05 + 0.5 * x.abs(), 0.05 + 0.5 * y])
    });
    let (model, measures) = measured(&written(&faces, 6), &Brief::default());
    let slivers =
        (0..model.triangle_count()).filter(|&triangle| measures.triangles.is(triangle, state::SLIVER)).count();
    assert_eq!(slivers, 8);
    assert_eq!(measures.handedness.folded_triangles, 0);
    assert_eq!(measures.sharing.pairs.len(), 1);
}

/// Squares of one unit in so many cells along each side, each at a place of the sheet, 0.4 wide there.
fn squares(places: &[Uv], cells: usize) -> String {
    let faces = places.iter().zip(0..).flat_map(|(&[u, v], number)| {
        grid(cells, cells, move |column, row| {
            let (x, y) = (column as f64 / cells as f64, row as f64 / cells as f64);
            ([x + 2.0 * f64::from(number), y, 0.0], [u + 0.4 * x, v + 0.4 * y])
        })
    });
    written(&faces.collect::<Vec<_>>(), 9)
}

#[test]
fn an_overlap_is_the_shared_surface_for_any_triangulation() {
    // Three squares by their lower left corners, in shares of their side: (0, 0), (0.75, 0), (0.5, 0.5).
    let (first, second, third) = (0.25 + 0.25 - 0.125, 0.25 + 0.375 - 0.125, 0.25 + 0.375 - 0.125);
    let expected = (first + second + third) / 3.0;
    for cells in [1, 3, 10, 37] {
        // A strip of 1 part in 40 of each, and with a third one beside them of a third less.
        let two = report(&squares(&[[0.05, 0.1], [0.44, 0.1]], cells));
        assert!(close(number(&two, FindingKind::PartialOverlap), 0.025, 1e-5), "{cells}");
        let three = report(&squares(&[[0.05, 0.1], [0.44, 0.1], [0.05, 0.55]], cells));
        assert!(close(number(&three, FindingKind::PartialOverlap), 0.025 * 2.0 / 3.0, 1e-5), "{cells}");
        let finding = three.findings.iter().find(|finding| finding.kind == FindingKind::PartialOverlap).unwrap();
        assert!(close(finding.harm, finding.number.value, 1e-12));
        // Where a second and a third both lie over the first, what they cover there counts once.
        let layers = report(&squares(&[[0.05, 0.1], [0.35, 0.1], [0.25, 0.3]], cells));
        assert!(close(number(&layers, FindingKind::PartialOverlap), expected, 1e-5), "{cells}");
    }
}

/// A ring of eight cells, and half of a ninth over the first: one shell that overlaps itself.
fn ring(cells: usize) -> String {
    let path = [(0, 0), (1, 0), (2, 0), (2, 1), (2, 2), (1, 2), (0, 2), (0, 1)];
    let mut faces = Vec::new();
    let mut cell = |x0: f64, y0: f64, height: f64, z: fn(f64) -> f64| {
        faces.extend(grid(cells, cells, |column, row| {
            let (x, along) = (x0 + column as f64 / cells as f64, row as f64 / cells as f64);
            let y = y0 + height * along;
            ([x, y, z(along)], [0.1 + 0.2 * x, 0.1 + 0.2 * y])
        }));
    };
    for &(x, y) in &path {
        // The last one's lower edge rises, so that it is not the first one's upper edge.
        cell(f64::from(x), f64::from(y), 1.0, if (x, y) == (0, 1) { |along| 1.0 - along } else { |_| 0.0 });
    }
    cell(0.0, 0.5, 0.5, |_| 1.0);
    written(&faces, 9)
}

#[test]
fn a_self_overlap_is_the_area_covered_twice() {
    let expected = (0.5 + 0.5) / (7.5 + 2f64.sqrt());
    for cells in [1, 2, 8, 24] {
        let report = report(&ring(cells));
        assert_eq!(report.counts.shells, 1, "{cells}");
        let found = number(&report, FindingKind::SelfOverlap);
        assert!(close(found, expected, 1e-5), "{cells}: {found} instead of {expected}");
        assert!(!has(&report, FindingKind::Folded) && !has(&report, FindingKind::Mirrored));
    }
}

#[test]
fn mirrored_shares_of_triangles_add_up() {
    for text in
        [welded(4, 10, false), welded(8, 8, true), welded(1, 15, false), squares(&[[0.05, 0.1], [0.44, 0.1]], 5)]
    {
        let (model, measures) = measured(&text, &Brief::default());
        let sum: f64 = (0..model.triangle_count())
            .map(|t| measures.triangles.surface[t] * measures.shared_share(t, ShareKind::Mirrored))
            .sum();
        let share = sum / measures.triangles.surface.iter().sum::<f64>();
        assert!((share - measures.sharing.mirrored_share.unwrap()).abs() < 1e-6);
    }
}
