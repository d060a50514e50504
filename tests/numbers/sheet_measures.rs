//! Use of the sheet and overlaps: by formula, against an independent exact reference, and invariants.

use crate::support;
use glam::DVec2;
use gridproof::brief::{SheetMap, Tiles};
use gridproof::measure::sheet::input::{REACH, SheetInput};
use gridproof::measure::sheet::sharing::{ShareKind, Sharing, measure_sharing};
use gridproof::measure::sheet::usage::{Sheet, measure_sheet};
use proptest::prelude::*;
use std::collections::HashMap;

/// Triangles with their shell, as input of the measures.
#[derive(Clone, Debug, Default)]
struct Layout {
    triangles: Vec<([DVec2; 3], u32)>,
    map: SheetMap,
}

impl Layout {
    fn triangle(&mut self, q: [[f64; 2]; 3], shell: u32) {
        self.triangles.push((q.map(DVec2::from_array), shell));
    }

    /// An axis-parallel rectangle as two triangles; mirrored where `width` is negative.
    fn rectangle(&mut self, [u, v]: [f64; 2], [width, height]: [f64; 2], shell: u32) {
        let at = |x: f64, y: f64| [u + x * width, v + y * height];
        self.triangle([at(0., 0.), at(1., 0.), at(1., 1.)], shell);
        self.triangle([at(0., 0.), at(1., 1.), at(0., 1.)], shell);
    }

    fn mapped(&self, map: impl Fn(DVec2) -> DVec2) -> Self {
        Self { triangles: self.triangles.iter().map(|&(q, shell)| (q.map(&map), shell)).collect(), ..self.clone() }
    }

    /// Every triangle has one unit of surface.
    fn measure(&self) -> (Sheet, Sharing) {
        let (mut uv, mut numbers) = (Vec::new(), HashMap::new());
        let mut number = |p: DVec2| {
            *numbers.entry((p.x.to_bits(), p.y.to_bits())).or_insert_with(|| {
                uv.push(p);
                uv.len() as u32 - 1
            })
        };
        let triangles: Vec<[u32; 3]> = self.triangles.iter().map(|(q, _)| q.map(&mut number)).collect();
        let shell: Vec<u32> = self.triangles.iter().map(|(_, shell)| *shell).collect();
        let reversed: Vec<bool> = self.triangles.iter().map(|(q, _)| cross(*q) < 0.0).collect();
        let input = SheetInput {
            uv: &uv,
            triangles: &triangles,
            shell: &shell,
            shell_count: shell.iter().max().map_or(0, |most| most + 1),
            reversed: &reversed,
            sliver: &[],
            surface: &vec![1.0; triangles.len()],
            map: self.map,
        };
        let sheet = measure_sheet(&input);
        let sharing = measure_sharing(&input, &sheet);
        (sheet, sharing)
    }
}

fn cross([a, b, c]: [DVec2; 3]) -> f64 {
    (b - a).perp_dot(c - a)
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * a.abs().max(b.abs()).max(1e-6)
}

#[track_caller]
fn assert_near(a: f64, b: f64) {
    assert!(near(a, b), "{a} instead of {b}");
}

/// Area covered at least once and at least twice, by slabs: between two neighbouring heights at which anything begins,
/// ends or crosses, every triangle is a trapezium and all keep their order, so that lengths at the middle are exact.
fn by_slabs(triangles: &[[DVec2; 3]]) -> (f64, f64) {
    let edges: Vec<[DVec2; 2]> = triangles.iter().flat_map(|&[a, b, c]| [[a, b], [b, c], [c, a]]).collect();
    let mut heights: Vec<f64> = edges.iter().map(|edge| edge[0].y).collect();
    for (index, &[a, b]) in edges.iter().enumerate() {
        for &[c, d] in &edges[index + 1..] {
            let turn = (b - a).perp_dot(d - c);
            if turn != 0.0 {
                let (t, s) = ((c - a).perp_dot(d - c) / turn, (c - a).perp_dot(b - a) / turn);
                if (0.0..=1.0).contains(&t) && (0.0..=1.0).contains(&s) {
                    heights.push(a.y + (b.y - a.y) * t);
                }
            }
        }
    }
    heights.sort_by(f64::total_cmp);
    let (mut once, mut twice) = (0.0, 0.0);
    for slab in heights.windows(2) {
        let middle = (slab[0] + slab[1]) / 2.0;
        let mut ends = Vec::new();
        for q in triangles {
            let mut hits: Vec<f64> = (0..3)
                .map(|i| (q[i], q[(i + 1) % 3]))
                .filter(|(a, b)| (a.y > middle) != (b.y > middle))
                .map(|(a, b)| a.x + (b.x - a.x) * (middle - a.y) / (b.y - a.y))
                .collect();
            hits.sort_by(f64::total_cmp);
            if let [from, to] = hits[..] {
                ends.extend([(from, 1), (to, -1)]);
            }
        }
        ends.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut depth = 0;
        for pair in ends.windows(2) {
            depth += pair[0].1;
            let length = (pair[1].0 - pair[0].0) * (slab[1] - slab[0]);
            once += if depth >= 1 { length } else { 0.0 };
            twice += if depth >= 2 { length } else { 0.0 };
        }
    }
    (once, twice)
}

#[test]
fn squares_that_touch_do_not_overlap() {
    let mut layout = Layout::default();
    layout.rectangle([0.1, 0.1], [0.4, 0.4], 0);
    layout.rectangle([0.5, 0.1], [0.4, 0.4], 1);
    layout.rectangle([0.1, 0.5], [0.3, 0.3], 2);
    let (sheet, sharing) = layout.measure();
    assert!(sharing.pairs.is_empty() && !sharing.at_least);
    assert!(sharing.triangles.iter().all(|shares| *shares == Default::default()));
    assert_near(sheet.union_area, 0.41);
    assert!(sheet.overlap_share.unwrap() < 1e-12 && sheet.overlap_excess.unwrap() < 1e-12);
}

#[test]
fn two_squares_overlap_in_a_rectangle() {
    let mut layout = Layout::default();
    layout.rectangle([0.1, 0.1], [0.4, 0.4], 0);
    layout.rectangle([0.4, 0.3], [0.4, 0.4], 1);
    let (sheet, sharing) = layout.measure();
    assert_near(sheet.union_area, 0.30);
    assert_near(sheet.overlap_share.unwrap(), 0.02 / 0.30);
    assert_near(sheet.coverage, 0.30);
    let [pair] = &sharing.pairs[..] else { panic!("{:?}", sharing.pairs) };
    assert_eq!((pair.a, pair.b, pair.kind), (0, 1, ShareKind::PartialOverlap));
    assert_near(pair.area_uv, 0.02);
    assert_near(pair.area_share_a, 0.125);
    assert_near(pair.area_share_b, 0.125);
    assert_eq!(sharing.mirrored_share, Some(0.0));
}

#[test]
fn six_layers_are_stacked_and_orientations_distinguished() {
    let mut layout = Layout::default();
    (0..6).for_each(|shell| layout.rectangle([0.0, 0.0], [1.0, 1.0], shell));
    let (sheet, sharing) = layout.measure();
    assert_near(sheet.overlap_share.unwrap(), 1.0);
    assert_near(sheet.overlap_excess.unwrap(), 5.0);
    assert_eq!(sharing.equal, [(0..6).collect::<Vec<u32>>()]);
    let [pair] = &sharing.pairs[..] else { panic!("{:?}", sharing.pairs) };
    assert_eq!((pair.a, pair.b, pair.kind), (0, 1, ShareKind::Stacked));
    assert_eq!((pair.area_uv, pair.area_share_a, pair.area_share_b), (1.0, 1.0, 1.0));
    assert_eq!(sharing.partners(3, 9).iter().map(|(shell, _)| *shell).collect::<Vec<_>>(), [0, 1, 2, 4, 5]);
    assert!(sharing.triangles.iter().all(|shares| shares.stacked && !shares.partial_overlap && !shares.mirrored));
    layout.rectangle([1.0, 0.0], [-1.0, 1.0], 6);
    let (_, sharing) = layout.measure();
    let kinds: Vec<_> = sharing.pairs.iter().map(|pair| (pair.a, pair.b, pair.kind)).collect();
    assert_eq!(kinds, [(0, 1, ShareKind::Stacked), (0, 6, ShareKind::Mirrored)]);
    assert_near(sharing.mirrored_share.unwrap(), 1.0);
    assert!(sharing.triangles.iter().all(|shares| shares.mirrored));
    for (shell, count) in [(2, 6), (6, 6)] {
        let partners = sharing.partners(shell, 99);
        assert_eq!(partners.len(), count, "{partners:?}");
        assert_eq!(
            partners.iter().filter(|(_, kind)| *kind == ShareKind::Mirrored).count(),
            if shell == 6 { 6 } else { 1 }
        );
    }
    assert_eq!(sharing.partners(6, 2).len(), 2);
}

#[test]
fn a_shell_with_two_layers_overlaps_a_third_with_both() {
    let mut layout = Layout::default();
    layout.rectangle([0.0, 0.0], [0.5, 0.5], 0);
    layout.rectangle([0.0, 0.0], [0.5, 0.5], 0);
    layout.rectangle([0.0, 0.0], [0.5, 0.5], 1);
    let (_, sharing) = layout.measure();
    let kinds: Vec<_> = sharing.pairs.iter().map(|pair| (pair.a, pair.b, pair.kind)).collect();
    assert_eq!(kinds, [(0, 0, ShareKind::SelfOverlap), (0, 1, ShareKind::Stacked)]);
    assert!(sharing.pairs.iter().all(|pair| near(pair.area_uv, 0.25)));
    assert_near(sharing.pairs[0].area_share_a, 0.5);
    assert_near(sharing.pairs[1].area_share_a, 1.0);
}

#[test]
fn halves_mirrored_onto_each_other_in_the_same_and_in_other_triangles() {
    for shift in [0.0, 0.125] {
        let mut layout = Layout::default();
        layout.rectangle([0.0, 0.0], [0.5, 1.0], 0);
        layout.rectangle([0.5 + shift, 0.0], [-0.5, 1.0], 1);
        let (_, sharing) = layout.measure();
        let [pair] = &sharing.pairs[..] else { panic!("{:?}", sharing.pairs) };
        assert_eq!(pair.kind, ShareKind::Mirrored);
        assert_near(pair.area_uv, 0.5 - shift);
        assert_near(sharing.mirrored_share.unwrap(), 1.0 - 2.0 * shift);
        assert!(sharing.triangles.iter().all(|shares| shares.mirrored && !shares.stacked));
    }
}

#[test]
fn overlapping_mirrored_pieces_count_once() {
    let mut layout = Layout::default();
    layout.triangle([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]], 0);
    // 0.1..0.4 and 0.2..0.5, both flipped: together 0.1..0.5 of a strip 0.1 high, inside the triangle.
    layout.rectangle([0.4, 0.1], [-0.3, 0.1], 1);
    layout.rectangle([0.5, 0.1], [-0.3, 0.1], 2);
    let (_, sharing) = layout.measure();
    // The strips' four triangles lie wholly on the large one.
    assert_near(sharing.mirrored_share.unwrap(), (0.04 / 0.5 + 4.0) / 5.0);
}

#[test]
fn a_fold_overlaps_its_own_shell_flipped() {
    let mut layout = Layout::default();
    let at = |x: u32, y: u32| {
        if (x, y) == (1, 1) { [0.85, 0.5] } else { [0.25 + 0.25 * f64::from(x), 0.25 + 0.25 * f64::from(y)] }
    };
    for (x, y) in [(0, 0), (1, 0), (0, 1), (1, 1)] {
        layout.triangle([at(x, y), at(x + 1, y), at(x + 1, y + 1)], 0);
        layout.triangle([at(x, y), at(x + 1, y + 1), at(x, y + 1)], 0);
    }
    let folded = layout.triangles.iter().filter(|(q, _)| cross(*q) < 0.0).count();
    assert_eq!(folded, 2);
    let (sheet, sharing) = layout.measure();
    let kinds: Vec<_> = sharing.pairs.iter().map(|pair| (pair.a, pair.b, pair.kind)).collect();
    assert_eq!(kinds, [(0, 0, ShareKind::Mirrored), (0, 0, ShareKind::SelfOverlap)]);
    assert!(sharing.mirrored_share.unwrap() > 0.0);
    let (once, twice) = by_slabs(&layout.triangles.iter().map(|(q, _)| *q).collect::<Vec<_>>());
    assert_near(sheet.union_area, once);
    assert_near(sheet.overlap_share.unwrap() * sheet.union_area, twice);
}

#[test]
fn overlaps_below_a_hundredth_of_a_px_do_not_count() {
    let px = 1.0 / 2048.0;
    // A stack of triangles that are too small to count.
    let mut layout = Layout::default();
    (0..3).for_each(|shell| layout.triangle([[0.5, 0.5], [0.5 + 0.1 * px, 0.5], [0.5, 0.5 + 0.1 * px]], shell));
    let (_, sharing) = layout.measure();
    assert!(sharing.pairs.is_empty() && sharing.triangles == [Default::default(); 3]);
    for (height, shares) in [(0.0099, false), (0.0201, true)] {
        let mut layout = Layout::default();
        layout.rectangle([0.0, 0.0], [px, px], 0);
        layout.triangle([[0.0, px - height * px], [px, px - height * px], [0.0, 2.0 * px]], 1);
        let (_, sharing) = layout.measure();
        assert_eq!(!sharing.pairs.is_empty(), shares, "{height}");
    }
}

#[test]
fn triangles_across_a_tile_border_are_cut_exactly() {
    let mut layout = Layout::default();
    layout.rectangle([0.75, 0.25], [0.5, 0.5], 0);
    layout.triangle([[-0.25, 0.0], [0.25, 0.0], [0.25, 1.0]], 1);
    let (sheet, _) = layout.measure();
    // Half of the rectangle; of the triangle a corner that is a quarter of it.
    assert_near(sheet.outside_share.unwrap(), (0.125 + 0.0625) / 0.5);
    assert_near(sheet.coverage, 0.125 + 0.1875);
    layout.map.tiles = Tiles::Udim;
    let (sheet, _) = layout.measure();
    assert_eq!(sheet.tiles, [1001, 1002]);
    assert_near(sheet.outside_share.unwrap(), 0.0625 / 0.5);
    assert_near(sheet.coverage, (0.25 + 0.1875) / 2.0);
}

#[test]
fn udim_tiles_are_listed_in_order_and_only_where_there_is_area() {
    let mut layout = Layout { map: SheetMap { tiles: Tiles::Udim, ..SheetMap::default() }, ..Layout::default() };
    for (shell, (i, j)) in [(9, 9), (0, 0), (1, 0), (9, 0), (0, 1), (2, 1)].into_iter().enumerate() {
        layout.rectangle([f64::from(i) + 0.25, f64::from(j) + 0.25], [0.75, 0.75], shell as u32);
    }
    let (sheet, _) = layout.measure();
    assert_eq!(sheet.tiles, [1001, 1002, 1010, 1011, 1013, 1100]);
    assert_eq!(sheet.outside_share, Some(0.0));
    assert_near(sheet.coverage, 0.5625);
}

#[test]
fn coordinates_of_any_size_are_measured_or_left_out() {
    let mut layout = Layout { map: SheetMap { tiles: Tiles::Udim, ..SheetMap::default() }, ..Layout::default() };
    layout.rectangle([0.25, 0.25], [0.5, 0.5], 0);
    for (shell, size) in (1u32..).zip([1e9, REACH * 4.0, 1e30, 1e150, 1e153, 1e200, f64::MAX]) {
        layout.triangle([[-size, -size], [size, -size], [0.0, size]], shell);
    }
    let (sheet, sharing) = layout.measure();
    assert!(sheet.tiles.len() <= 9000 && sheet.outside_share == Some(1.0));
    assert_near(sheet.coverage, 1.0);
    assert!(sheet.overlap_share.is_some_and(f64::is_finite) && sheet.overlap_excess.is_some_and(f64::is_finite));
    // Only the rectangle and the first of the large ones are on the sheet.
    assert_eq!(sharing.pairs.len(), 1);
    let mut far = Layout::default();
    far.rectangle([0.25, 0.25], [0.5, 0.5], 0);
    far.rectangle([1e9, 1e9], [0.5, 0.5], 1);
    let (sheet, _) = far.measure();
    assert!((sheet.coverage - 0.25).abs() < 1e-6 && (sheet.union_area - 0.5).abs() < 1e-6);
    assert_near(sheet.outside_share.unwrap(), 0.5);
}

#[test]
fn an_empty_sheet_gives_none_and_not_nan() {
    let mut layout = Layout::default();
    assert_eq!(layout.measure().0.outside_share, None);
    assert_eq!(layout.measure().1.mirrored_share, None);
    layout.triangle([[0.1, 0.1], [0.2, 0.2], [0.3, 0.3]], 0);
    let (sheet, sharing) = layout.measure();
    assert_eq!((sheet.overlap_share, sheet.overlap_excess, sheet.outside_share), (None, None, None));
    assert_eq!((sheet.coverage, sheet.union_area, sharing.mirrored_share), (0.0, 0.0, Some(0.0)));
}

#[test]
fn a_hundred_thousand_triangles_on_one_spot_are_one_group() {
    let mut layout = Layout::default();
    for shell in 0..100_000 {
        layout.triangle([[0.1, 0.1], [0.9, 0.2], [0.3, 0.8]], shell);
    }
    let (sheet, sharing) = layout.measure();
    assert!(!sharing.at_least && sharing.pairs.len() == 1 && sharing.equal[0].len() == 100_000);
    assert!(sharing.triangles.iter().all(|shares| shares.stacked && !shares.partial_overlap));
    assert_near(sharing.shared_share(77_777, ShareKind::Stacked), 1.0);
    assert_near(sheet.overlap_share.unwrap(), 1.0);
    assert!((sheet.overlap_excess.unwrap() - 99_999.0).abs() < 1e-3);
}

#[test]
fn coverage_of_many_nearly_equal_triangles_is_exact() {
    let mut layout = Layout::default();
    for shell in 0..60 {
        let d = f64::from(shell) / 1024.0;
        layout.triangle([[0.1 + d, 0.1], [0.8, 0.2 + d], [0.3, 0.8 - d]], shell);
    }
    let (sheet, _) = layout.measure();
    let (once, twice) = by_slabs(&layout.triangles.iter().map(|(q, _)| *q).collect::<Vec<_>>());
    assert_near(sheet.union_area, once);
    assert_near(sheet.overlap_share.unwrap() * sheet.union_area, twice);
}

#[test]
fn areas_of_many_loose_triangles_add_up_and_the_few_overlaps_are_found() {
    let mut layout = Layout { map: SheetMap { tiles: Tiles::Udim, ..SheetMap::default() }, ..Layout::default() };
    let cell = 1.0 / 256.0;
    for shell in 0..40_000u32 {
        let (u, v) = (f64::from(shell % 256) * cell, f64::from(shell / 256) * cell);
        layout.triangle([[u, v], [u + 0.75 * cell, v], [u, v + 0.75 * cell]], shell);
    }
    let each = 0.75 * 0.75 * cell * cell / 2.0;
    let (sheet, sharing) = layout.measure();
    assert_near(sheet.union_area, 40_000.0 * each);
    assert_near(sheet.coverage, 40_000.0 * each);
    assert!(sharing.pairs.is_empty() && sheet.overlap_share == Some(0.0));
    // One more over the last, shifted by a third of it: a triangle of two thirds, 4/9 of the area, in common.
    let q = layout.triangles[39_999].0.map(|p| p + DVec2::new(0.25 * cell, 0.0));
    layout.triangles.push((q, 40_000));
    let (sheet, sharing) = layout.measure();
    assert!((sheet.overlap_share.unwrap() * sheet.union_area - each * 4.0 / 9.0).abs() < 1e-9 * each);
    assert_eq!(kinds(&sharing), [(39_999, 40_000, ShareKind::PartialOverlap)]);
}

#[test]
fn real_layouts_agree_with_the_reference() {
    let meshes = support::outside_meshes();
    let mut compared = 0;
    for (name, path, reference) in &meshes {
        let text = std::fs::read_to_string(path).unwrap();
        let (_, measures) = support::measured(&text, &support::one_sheet());
        let sheet = &measures.sheet;
        let number = |key: &str| reference[key].as_f64();
        let mut check = |key: &str, ours: f64, tolerance: f64, absolute: f64| {
            let Some(theirs) = number(key) else { return };
            compared += 1;
            // Another diagonal moves the cut of a quad that is not flat; the reference says how far for areas.
            let variants = ["fan_variant", "diagonal_variant", "f32_variant"];
            let slack = variants.iter().filter_map(|v| reference[v][key].as_f64()).map(|v| (v - theirs).abs());
            let allowed = tolerance * theirs.abs() + slack.fold(absolute, f64::max);
            assert!((ours - theirs).abs() <= allowed, "{name} {key}: {ours} instead of {theirs}, allowed {allowed:e}");
        };
        check("union_area", sheet.union_area, 1e-5, 0.0);
        check("coverage01", sheet.coverage, 1e-5, 0.0);
        // The reference cuts corners in line off as flat ears, which overlap their neighbours slightly.
        check("overlap_frac", sheet.overlap_excess.unwrap(), 1e-5, 1e-8);
        check("uv_outside_frac", sheet.outside_share.unwrap(), 1e-5, 1e-9);
        // A raster: 0.2 %, and three standard deviations of its count of samples.
        let samples = number("raster_union_area").unwrap_or(0.0) * number("raster_per_unit").unwrap_or(0.0).powi(2);
        let share = number("overlap2_frac").unwrap_or(0.0);
        check(
            "overlap2_frac",
            sheet.overlap_share.unwrap(),
            2e-3,
            3.0 * (share / samples.max(1.0)).sqrt() + 1.0 / samples,
        );
    }
    println!("{compared} figures compared");
    assert!(compared >= meshes.len() * 4);
}

/// Corners on a fine grid of binary fractions: moving them by one is exact.
fn layouts() -> impl Strategy<Value = Layout> {
    let corner = (0u32..256, 0u32..256).prop_map(|(x, y)| DVec2::new(f64::from(x), f64::from(y)) / 256.0);
    let triangle = ([corner.clone(), corner.clone(), corner], 0u32..4);
    prop::collection::vec(triangle, 1..14).prop_map(|triangles| Layout { triangles, map: SheetMap::default() })
}

fn kinds(sharing: &Sharing) -> Vec<(u32, u32, ShareKind)> {
    sharing.pairs.iter().map(|pair| (pair.a, pair.b, pair.kind)).collect()
}

fn assert_same(a: &(Sheet, Sharing), b: &(Sheet, Sharing), scale: f64) {
    assert_near(a.0.union_area * scale, b.0.union_area);
    assert_near(a.0.uv_area * scale, b.0.uv_area);
    assert_near(a.0.overlap_share.unwrap_or(-1.0), b.0.overlap_share.unwrap_or(-1.0));
    assert_near(a.0.overlap_excess.unwrap_or(-1.0), b.0.overlap_excess.unwrap_or(-1.0));
    assert_near(a.1.mirrored_share.unwrap_or(-1.0), b.1.mirrored_share.unwrap_or(-1.0));
    assert_eq!(kinds(&a.1), kinds(&b.1));
    for (x, y) in a.1.pairs.iter().zip(&b.1.pairs) {
        assert_near(x.area_uv * scale, y.area_uv);
        assert_near(x.area_share_a, y.area_share_a);
        assert_near(x.area_share_b, y.area_share_b);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn random_triangles_agree_with_slabs(layout in layouts()) {
        let layout = Layout { triangles: layout.triangles.into_iter().filter(|(q, _)| cross(*q) != 0.0).collect(), ..layout };
        let (sheet, sharing) = layout.measure();
        let all: Vec<_> = layout.triangles.iter().map(|(q, _)| *q).collect();
        let (once, twice) = by_slabs(&all);
        assert_near(sheet.union_area, once);
        assert_near(sheet.overlap_share.unwrap_or(0.0) * sheet.union_area, twice);
        // Covered by both orientations = union of one + union of the other - union.
        let hand = |reversed: bool| all.iter().copied().filter(|q| (cross(*q) < 0.0) == reversed).collect::<Vec<_>>();
        let (forward, backward) = (hand(false), hand(true));
        let both = by_slabs(&forward).0 + by_slabs(&backward).0 - once;
        prop_assert_eq!(both > 1e-8, sharing.mirrored_share.unwrap_or(0.0) > 0.0);
        // Each triangle's part under the other orientation, likewise.
        let mut share = 0.0;
        for &q in &all {
            let mut others = if cross(q) < 0.0 { forward.clone() } else { backward.clone() };
            let without = by_slabs(&others).0;
            others.push(q);
            let own = cross(q).abs() / 2.0;
            share += (own + without - by_slabs(&others).0) / own;
        }
        let share = share / all.len().max(1) as f64;
        prop_assert!((share - sharing.mirrored_share.unwrap_or(0.0)).abs() < 1e-6, "{} {:?}", share, sharing.mirrored_share);
    }

    #[test]
    fn order_and_translation_change_nothing(layout in layouts(), turn in 0usize..14) {
        let measured = layout.measure();
        let mut other = layout.mapped(|q| q + DVec2::new(3.0, -2.0));
        other.triangles.reverse();
        let count = other.triangles.len();
        other.triangles.rotate_left(turn % count);
        other.triangles.iter_mut().for_each(|(q, _)| q.rotate_left(turn % 3));
        assert_same(&measured, &other.measure(), 1.0);
    }

    #[test]
    fn mirroring_the_sheet_flips_orientation_and_keeps_areas(layout in layouts()) {
        assert_same(&layout.measure(), &layout.mapped(|q| DVec2::new(1.0 - q.x, q.y)).measure(), 1.0);
    }

    #[test]
    fn doubling_uvs_on_half_the_map_quadruples_areas(layout in layouts()) {
        let mut large = layout.mapped(|q| q * 2.0);
        large.map = SheetMap { width_px: layout.map.width_px / 2, height_px: layout.map.height_px / 2, ..layout.map };
        assert_same(&layout.measure(), &large.measure(), 4.0);
    }
}
