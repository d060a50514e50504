//! Padding and borders, and the areas of coverage and overlap, against shapely; what must not change them; what is
//! reported.
//!
//! Reference values: `reference/padding.json`, made by `reference/padding.py` beside it (versions are named inside).

use crate::support::{self, Sketch, close, measured, report_with};
use gridproof::brief::{Brief, Map, Tiles};
use gridproof::findings::{Finding, FindingKind, Severity};
use gridproof::report::Report;
use proptest::prelude::*;
use serde_json::Value;

/// As in the script.
const RING_HOLE: f64 = 0.7;
const L_BAR: f64 = 0.4;
/// Agreement of px with the reference, which is rounded to 12 digits.
const TOLERANCE_PX: f64 = 1e-7;

type Corners = Vec<[f64; 2]>;

/// A shell: corners and triangles over them.
#[derive(Clone, Debug)]
struct Shape {
    corners: Corners,
    triangles: Vec<[usize; 3]>,
}

impl Shape {
    fn new(kind: &str, [u, v, width, height, turn]: [f64; 5]) -> Self {
        let (w, h) = (width / 2.0, height / 2.0);
        let around = |s: f64| vec![[-w * s, -h * s], [w * s, -h * s], [w * s, h * s], [-w * s, h * s]];
        let (mut corners, triangles) = match kind {
            "rectangle" => (around(1.0), vec![[0, 1, 2], [0, 2, 3]]),
            "ring" => (
                [around(1.0), around(RING_HOLE)].concat(),
                (0..4).flat_map(|i| [[i, (i + 1) % 4, 4 + i], [(i + 1) % 4, 4 + (i + 1) % 4, 4 + i]]).collect(),
            ),
            _ => {
                let (x, y) = (-w + L_BAR * width, -h + L_BAR * height);
                // A fan from the corner that points inwards.
                (
                    vec![[-w, -h], [w, -h], [w, y], [x, y], [x, h], [-w, h]],
                    vec![[3, 0, 1], [3, 1, 2], [3, 4, 5], [3, 5, 0]],
                )
            }
        };
        let (s, c) = turn.to_radians().sin_cos();
        corners.iter_mut().for_each(|p| *p = [u + c * p[0] - s * p[1], v + s * p[0] + c * p[1]]);
        Self { corners, triangles }
    }

    fn of(row: &Value) -> Self {
        Self::new(row[0].as_str().unwrap(), std::array::from_fn(|i| row[i + 1].as_f64().unwrap()))
    }

    /// Shapes as one model, each in its own plane, with the same area on the surface.
    fn sketch(shapes: &[Self]) -> Sketch {
        let mut sketch = Sketch::default();
        for (shape, height) in shapes.iter().zip(0u32..) {
            let first = sketch.uvs.len();
            sketch.positions.extend(shape.corners.iter().map(|&[u, v]| [u, v, f64::from(height)]));
            sketch.uvs.extend(&shape.corners);
            sketch.faces.extend(shape.triangles.iter().map(|t| t.iter().map(|&c| (first + c, first + c)).collect()));
        }
        sketch
    }
}

fn reference() -> Value {
    serde_json::from_str(include_str!("../reference/padding.json")).unwrap()
}

fn brief(layout: &Value) -> Brief {
    let size = |key: &str| u32::try_from(layout[key].as_u64().unwrap()).unwrap();
    let tiles = if layout["tiles"] == "udim" { Tiles::Udim } else { Tiles::Single };
    let map = Map { width_px: size("width_px"), height_px: size("height_px"), tiles, ..Map::default() };
    let mut brief = Brief { map, ..Brief::default() };
    (brief.padding.between_px, brief.padding.border_px) = (Some(16.0), Some(8.0));
    brief
}

/// Distance from a place to the nearest edge of a shape's triangles, px.
fn off_edges(shape: &Shape, at: [f64; 2], [width, height]: [f64; 2]) -> f64 {
    let px = |[u, v]: [f64; 2]| glam::DVec2::new(u * width, v * height);
    let edges = shape.triangles.iter().flat_map(|&[a, b, c]| [(a, b), (b, c), (c, a)]);
    let to_edge = |(a, b): (usize, usize)| {
        let (from, to, p) = (px(shape.corners[a]), px(shape.corners[b]), px(at));
        let share = ((p - from).dot(to - from) / (to - from).length_squared()).clamp(0.0, 1.0);
        p.distance(from + (to - from) * share)
    };
    edges.map(to_edge).fold(f64::INFINITY, f64::min)
}

#[test]
fn gaps_and_borders_of_random_layouts_match_shapely() {
    let (mut gaps, mut borders, mut places) = (0, 0, 0);
    for layout in reference()["layouts"].as_array().unwrap() {
        let shapes: Vec<Shape> = layout["shells"].as_array().unwrap().iter().map(Shape::of).collect();
        let brief = brief(layout);
        let size = [brief.map.width_px, brief.map.height_px].map(f64::from);
        let (model, measures) = measured(&Shape::sketch(&shapes).text(), &brief);
        assert_eq!(model.layout.shell_count as usize, shapes.len());
        let padding = &measures.padding;
        assert!(!padding.at_least && padding.gap_count == padding.gaps.len());

        let least = layout["least"].as_array();
        assert_eq!(padding.between.is_some(), least.is_some());
        if let (Some(gap), Some(least)) = (padding.between, least) {
            assert!((gap.px - least[0].as_f64().unwrap()).abs() < TOLERANCE_PX, "{gap:?} {least:?}");
            if let Some(at) = least[3].as_array() {
                let at: Vec<f64> = at.iter().map(|x| x.as_f64().unwrap()).collect();
                let ours = [gap.at_a.x, gap.at_a.y, gap.at_b.x, gap.at_b.y];
                assert!(ours.iter().zip(&at).all(|(x, y)| (x - y).abs() < 1e-9), "{ours:?} {at:?}");
                places += 1;
            }
        }

        let mut expected: Vec<(u32, u32, f64)> = layout["below"]
            .as_array()
            .unwrap()
            .iter()
            .map(|row| (row[1].as_u64().unwrap() as u32, row[2].as_u64().unwrap() as u32, row[0].as_f64().unwrap()))
            .filter(|row| row.2 < 16.0 - 0.01)
            .collect();
        let mut found: Vec<_> = padding.gaps.iter().filter_map(|gap| Some((gap.a, gap.b?, gap.px))).collect();
        for rows in [&mut found, &mut expected] {
            rows.sort_by_key(|row| (row.0, row.1));
        }
        assert_eq!(found.len(), expected.len());
        for (ours, theirs) in found.iter().zip(&expected) {
            assert!(
                (ours.0, ours.1) == (theirs.0, theirs.1) && (ours.2 - theirs.2).abs() < TOLERANCE_PX,
                "{ours:?} {theirs:?}"
            );
        }
        gaps += found.len();

        let theirs = layout["borders"].as_array().unwrap();
        // What extends beyond the tiles has no distance there, and none left here.
        let is_outside = |shell: usize| {
            let end = if brief.map.tiles == Tiles::Udim { [10.0, 900.0] } else { [1.0, 1.0] };
            let corners = &shapes[shell].corners;
            let beyond = (0..2).any(|i| corners.iter().any(|p| p[i] < -1e-9 || p[i] > end[i] + 1e-9));
            beyond && !padding.across.contains(&(shell as u32))
        };
        let none_left = (0..shapes.len()).any(is_outside).then_some(0.0);
        let least = none_left.or(theirs.iter().filter_map(Value::as_f64).reduce(f64::min));
        assert_eq!(padding.border.is_some(), least.is_some());
        assert!(padding.border.is_none_or(|gap| (gap.px - least.unwrap()).abs() < TOLERANCE_PX));
        for (shell, px) in theirs.iter().enumerate() {
            let ours = padding.gaps.iter().find(|gap| gap.b.is_none() && gap.a as usize == shell);
            match (ours, px.as_f64().filter(|px| *px < 8.0 - 0.01)) {
                (Some(gap), Some(px)) => assert!((gap.px - px).abs() < TOLERANCE_PX, "{gap:?} {px}"),
                (Some(gap), None) => assert!(is_outside(shell) && gap.px == 0.0 && gap.tile.is_none(), "{gap:?}"),
                (None, None) => assert!(!is_outside(shell)),
                other => panic!("{shell}: {other:?}"),
            }
            borders += usize::from(ours.is_some());
        }

        for gap in &padding.gaps {
            let (a, b) = (gap.at_a.to_array(), gap.at_b.to_array());
            assert!(off_edges(&shapes[gap.a as usize], a, size) < 1e-9);
            assert!(gap.b.is_none_or(|other| off_edges(&shapes[other as usize], b, size) < 1e-9));
            let apart = ((a[0] - b[0]) * size[0]).hypot((a[1] - b[1]) * size[1]);
            assert!((apart - gap.px).abs() < 1e-9, "{gap:?}");
        }
    }
    assert!(gaps > 400 && borders >= 20 && places > 10, "{gaps} {borders} {places}");
}

#[test]
fn coverage_and_overlap_of_random_triangles_match_shapely() {
    for soup in reference()["soups"].as_array().unwrap() {
        let mut sketch = Sketch::default();
        for (triangle, height) in soup["triangles"].as_array().unwrap().iter().zip(0u32..) {
            let corner = |c: &Value| [c[0].as_f64().unwrap(), c[1].as_f64().unwrap()];
            let corners: Vec<_> = triangle
                .as_array()
                .unwrap()
                .iter()
                .map(corner)
                .map(|[u, v]| ([u, v, f64::from(height)], [u, v]))
                .collect();
            sketch.face(&corners);
        }
        let sheet = support::report(&sketch.text()).sheet;
        for (key, ours) in [
            ("coverage", Some(sheet.coverage)),
            ("overlap_share", sheet.overlap_share),
            ("overlap_excess", sheet.overlap_excess),
            ("outside_share", sheet.outside_share),
        ] {
            let (ours, theirs) = (ours.unwrap(), soup[key].as_f64().unwrap());
            assert!((ours - theirs).abs() < 1e-9, "{key}: {ours} {theirs}");
        }
    }
}

/// Rectangles in random cells of the unit square, turned, none reaching its border.
fn layouts() -> impl Strategy<Value = Vec<Shape>> {
    prop::collection::vec((0.2f64..0.8, 0.2f64..0.8, 0.02f64..0.1, 0.02f64..0.1, 0.0f64..90.0), 2..9).prop_map(|rows| {
        rows.into_iter()
            .map(|(u, v, width, height, turn)| Shape::new("rectangle", [u, v, width, height, turn]))
            .collect()
    })
}

fn measure(shapes: &[Shape], brief: &Brief) -> (Vec<f64>, Vec<f64>) {
    let (_, measures) = measured(&Shape::sketch(shapes).text(), brief);
    let of = |gap: Option<gridproof::measure::sheet::padding::Gap>| gap.map(|gap| gap.px);
    let between: Vec<f64> = measures.padding.gaps.iter().filter(|gap| gap.b.is_some()).map(|gap| gap.px).collect();
    (
        of(measures.padding.between).into_iter().chain(between).collect(),
        of(measures.padding.border).into_iter().collect(),
    )
}

fn same(a: &[f64], b: &[f64]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-6)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn moving_the_whole_layout_changes_no_gap(shapes in layouts(), by in -0.04f64..0.04, quarter in any::<bool>()) {
        let brief = Brief { padding: gridproof::brief::Padding { between_px: Some(200.0), border_px: None }, ..Brief::default() };
        let mut moved = shapes.clone();
        for [u, v] in moved.iter_mut().flat_map(|shape| &mut shape.corners) {
            (*u, *v) = if quarter { (1.0 - *v, *u) } else { (*u + by, *v - by / 2.0) };
        }
        let ((gaps, border), (moved_gaps, moved_border)) = (measure(&shapes, &brief), measure(&moved, &brief));
        prop_assert!(same(&gaps, &moved_gaps), "{gaps:?} {moved_gaps:?}");
        prop_assert!(!quarter || same(&border, &moved_border));
    }

    #[test]
    fn the_order_of_faces_and_shells_changes_nothing(shapes in layouts(), turn in 1usize..8) {
        let brief = Brief::default();
        let mut turned = shapes.clone();
        turned.rotate_left(turn % shapes.len());
        turned.iter_mut().for_each(|shape| shape.triangles.reverse());
        prop_assert_eq!(measure(&shapes, &brief), measure(&turned, &brief));
    }

    #[test]
    fn swapping_u_and_v_with_width_and_height_changes_nothing(shapes in layouts()) {
        let wide = Map { width_px: 3000, height_px: 500, ..Map::default() };
        let high = Map { width_px: 500, height_px: 3000, ..Map::default() };
        let mut swapped = shapes.clone();
        swapped.iter_mut().flat_map(|shape| &mut shape.corners).for_each(|corner| corner.swap(0, 1));
        let of = |shapes: &[Shape], map: Map| measure(shapes, &Brief { map, ..Brief::default() });
        let (a, b) = (of(&shapes, wide), of(&swapped, high));
        prop_assert!(same(&a.0, &b.0) && same(&a.1, &b.1));
    }
}

/// Objects of squares on the sheet: name, corner u, corner v; each 0.125 wide.
fn squares(rows: &[(&str, f64, f64)]) -> String {
    let mut text = String::new();
    for (index, (name, u, v)) in rows.iter().enumerate() {
        let corner = |i: usize| [[0.0, 0.0], [0.125, 0.0], [0.125, 0.125], [0.0, 0.125]][i];
        text += &format!("o {name}\n");
        for [x, y] in (0..4).map(corner) {
            text += &format!("v {x} {y} {index}\nvt {} {}\n", u + x, v + y);
        }
        text += "f -4/-4 -3/-3 -2/-2 -1/-1\n";
    }
    text
}

fn of_kind(report: &Report, kind: FindingKind) -> Vec<&Finding> {
    report.findings.iter().filter(|finding| finding.kind == kind).collect()
}

#[test]
fn connected_pairs_are_one_finding_and_others_another() {
    // lid - pot - pot in a chain 4 and 8 px apart; far from them lamp and foot 2 px apart.
    let px = |px: f64| px / 2048.0;
    let text = squares(&[
        ("lid", 0.1, 0.1),
        ("pot", 0.225 + px(4.0), 0.1),
        ("pot", 0.35 + px(12.0), 0.1),
        ("lamp", 0.1, 0.7),
        ("foot", 0.1, 0.825 + px(2.0)),
    ]);
    let report = report_with(&text, &Brief::default());
    let mut found = of_kind(&report, FindingKind::Padding);
    found.sort_by(|x, y| x.number.value.total_cmp(&y.number.value));
    assert_eq!(found.len(), 2, "{found:#?}");
    assert_eq!((&found[0].shells[..], &found[1].shells[..]), (&[3, 4][..], &[0, 1, 2][..]));
    for (finding, px) in found.iter().zip([2.0, 4.0]) {
        assert!(close(finding.number.value, px, 1e-9) && finding.number.unit == "px");
        assert_eq!(finding.limit.as_ref().unwrap().value, 16.0);
        assert_eq!(finding.severity, Severity::Look, "the brief has no limit");
        assert!(finding.camera.is_some());
    }
    assert!(found[0].advice.contains("mip level 2"), "{}", found[0].advice);
    assert!(found[1].advice.contains("mip level 3"), "{}", found[1].advice);
    // The region contains the worst place, not the whole finding.
    let [u0, v0, u1, v1] = found[1].region_uv.unwrap();
    assert!(u0 < 0.225 && u1 > 0.225 + px(4.0) && u1 < 0.3 && v0 < v1);
    assert_eq!(report.sheet.gap_count, 3);
    let row = &report.sheet.gaps[0];
    assert_eq!((row.a, row.b, row.tile, row.mip_level), (3, Some(4), Some(1001), Some(1)));
    assert_eq!(report.sheet.padding_between_px.map(f64::round), Some(2.0));
}

#[test]
fn a_padding_limit_passed_is_a_must_fix_and_one_kept_gives_no_finding() {
    let px = |px: f64| px / 2048.0;
    let text = squares(&[("lid", px(4.0), 0.1), ("pot", px(4.0) + 0.125 + px(10.0), 0.1)]);
    let severities = |between: Option<f64>, border: Option<f64>| {
        let padding = gridproof::brief::Padding { between_px: between, border_px: border };
        let report = report_with(&text, &Brief { padding, ..Brief::default() });
        [FindingKind::Padding, FindingKind::Border].map(|kind| of_kind(&report, kind).first().map(|f| f.severity))
    };
    assert_eq!(severities(None, None), [Some(Severity::Look); 2]);
    assert_eq!(severities(Some(16.0), Some(8.0)), [Some(Severity::MustFix); 2]);
    assert_eq!(severities(Some(10.0), Some(4.0)), [None; 2], "a gap as wide as the limit is enough");
    assert_eq!(severities(Some(0.0), Some(0.0)), [None; 2]);
}

#[test]
fn shells_across_tiles_are_named_once() {
    let text = squares(&[("lid", 0.95, 0.4), ("pot", 1.4, 1.95), ("lamp", 0.875, 0.6)]);
    let udim = Brief { map: Map { tiles: Tiles::Udim, ..Map::default() }, ..Brief::default() };
    let report = report_with(&text, &udim);
    let found = of_kind(&report, FindingKind::AcrossTiles);
    assert_eq!(found.len(), 1);
    assert_eq!((found[0].severity, found[0].number.value), (Severity::Look, 2.0));
    assert_eq!(found[0].shells, [0, 1]);
    assert_eq!(found[0].place, "shells 0, 1");
    assert_eq!(report.sheet.across_tiles, [0, 1]);
    // The lamp ends exactly on u = 1: it belongs to the left tile only.
    let border = of_kind(&report, FindingKind::Border);
    assert_eq!((border[0].number.value, &border[0].shells[..]), (0.0, &[2][..]));
    assert_eq!(report.sheet.gaps.iter().find(|gap| gap.b.is_none()).unwrap().tile, Some(1001));
    // On a single tile what extends beyond it is outside, and nothing else.
    let report = report_with(&text, &Brief::default());
    assert!(of_kind(&report, FindingKind::AcrossTiles).is_empty());
    assert_eq!(of_kind(&report, FindingKind::Outside).len(), 1);
}

#[test]
fn without_area_or_a_second_shell_there_is_no_padding() {
    let report = report_with(&squares(&[("lid", 0.4, 0.4)]), &Brief::default());
    assert_eq!(report.sheet.padding_between_px, None);
    assert!(close(report.sheet.padding_border_px.unwrap(), 0.4 * 2048.0, 1e-12));
    let collapsed = "v 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0.5 0.5\nf 1/1 2/1 3/1\n";
    let report = report_with(collapsed, &Brief::default());
    assert_eq!((report.sheet.padding_between_px, report.sheet.padding_border_px), (None, None));
    assert!(report.sheet.gaps.is_empty());
}
