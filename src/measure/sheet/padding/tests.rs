//! Small layouts by formula; all pairs by brute force.

use super::*;
use crate::brief::SheetMap;
use crate::measure::sheet::sharing::measure_sharing;
use crate::measure::sheet::usage::measure_sheet;

const LIMITS: Limits = Limits { between: 16.0, border: 8.0 };

/// Polygons as fans, one shell each.
fn fans(polygons: &[Vec<DVec2>]) -> (Vec<DVec2>, Vec<[u32; 3]>, Vec<u32>) {
    let (mut uv, mut triangles, mut shell) = (Vec::new(), Vec::new(), Vec::new());
    for (polygon, index) in polygons.iter().zip(0..) {
        let first = uv.len() as u32;
        uv.extend(polygon);
        for corner in 2..polygon.len() as u32 {
            triangles.push([first, first + corner - 1, first + corner]);
            shell.push(index);
        }
    }
    (uv, triangles, shell)
}

fn measure(polygons: &[Vec<DVec2>], map: SheetMap, limits: Limits) -> (Padding, Sharing) {
    let (uv, triangles, shell) = fans(polygons);
    let input = SheetInput {
        uv: &uv,
        triangles: &triangles,
        shell: &shell,
        shell_count: polygons.len() as u32,
        reversed: &vec![false; triangles.len()],
        sliver: &[],
        surface: &vec![1.0; triangles.len()],
        map,
    };
    let sheet = measure_sheet(&input);
    let sharing = measure_sharing(&input, &sheet);
    (measure_padding(&input, &sheet, &sharing, limits), sharing)
}

fn rectangle(low: [f64; 2], size: [f64; 2]) -> Vec<DVec2> {
    let (low, size) = (DVec2::from_array(low), DVec2::from_array(size));
    vec![low, low + size.with_y(0.0), low + size, low + size.with_x(0.0)]
}

fn random() -> impl FnMut() -> f64 {
    let mut state = 7u64;
    move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as f64 / f64::from(1u32 << 31)
    }
}

#[test]
fn all_pairs_by_brute_force() {
    let mut random = random();
    let (mut gaps, mut none) = (0, 0);
    for round in 0..60 {
        let map =
            SheetMap { width_px: 1024, height_px: if round % 2 == 0 { 1024 } else { 300 }, ..SheetMap::default() };
        let size = 0.3 * 0.5f64.powi(round % 5);
        let polygons: Vec<Vec<DVec2>> = (0..3 + round)
            .map(|_| {
                let (middle, turn) = (DVec2::new(random(), random()), random() * 6.3);
                let corners = 3 + (random() * 4.0) as usize;
                let at = |i: usize| DVec2::from_angle(turn + std::f64::consts::TAU * i as f64 / corners as f64);
                let radius = size * (0.2 + random());
                (0..corners).map(|i| middle + at(i) * radius).collect()
            })
            .collect();
        let (padding, sharing) = measure(&polygons, map, LIMITS);
        let mut expected = Vec::new();
        let mut least = f64::INFINITY;
        for a in 0..polygons.len() {
            for b in a + 1..polygons.len() {
                if sharing.pairs.iter().any(|pair| (pair.a, pair.b) == (a as u32, b as u32)) {
                    continue;
                }
                let edges = |of: usize| {
                    let polygon = &polygons[of];
                    (0..polygon.len())
                        .map(move |i| [polygon[i], polygon[(i + 1) % polygon.len()]].map(|p| p * map_scale(map)))
                };
                let px = edges(a)
                    .flat_map(|p| edges(b).map(move |q| segment::nearest(p, q).0))
                    .fold(f64::INFINITY, f64::min)
                    .sqrt();
                least = least.min(px);
                if px < LIMITS.between - ROUNDING_PX {
                    expected.push((a as u32, b as u32, px));
                }
            }
        }
        // The same edges in another order of arithmetic.
        let same = |ours: f64, theirs: f64| ours == theirs || (ours - theirs).abs() < 1e-9;
        assert!(same(padding.between.map_or(f64::INFINITY, |gap| gap.px), least));
        let mut found: Vec<_> = padding.gaps.iter().filter_map(|gap| Some((gap.a, gap.b?, gap.px))).collect();
        found.sort_by_key(|gap| (gap.0, gap.1));
        assert_eq!(found.len(), expected.len());
        for (found, expected) in found.iter().zip(&expected) {
            assert!(
                (found.0, found.1) == (expected.0, expected.1) && same(found.2, expected.2),
                "{found:?} {expected:?}"
            );
        }
        assert!(padding.gaps.is_sorted_by_key(|gap| gap.px / if gap.b.is_some() { 16.0 } else { 8.0 }));
        assert!(padding.gap_count == padding.gaps.len() && !padding.at_least);
        for gap in &padding.gaps {
            assert!((((gap.at_a - gap.at_b) * map_scale(map)).length() - gap.px).abs() < 1e-9);
        }
        gaps += found.len();
        none += usize::from(least >= LIMITS.between);
    }
    assert!(gaps > 300 && none > 2, "{gaps} {none}");
}

#[test]
fn the_border_is_the_shells_tiles_border() {
    let udim = SheetMap { tiles: Tiles::Udim, ..SheetMap::default() };
    let left = rectangle([0.5, 0.25], [0.5, 0.5]);
    let (padding, _) = measure(std::slice::from_ref(&left), udim, LIMITS);
    let gap = padding.border.unwrap();
    assert_eq!((gap.px, gap.tile, gap.at_a.x, gap.at_b.x), (0.0, Some(1001), 1.0, 1.0));
    assert_eq!(padding.gaps, [gap]);
    // One that begins there lies in the next tile; the two are in different files.
    let right = rectangle([1.0, 0.25], [0.25, 0.5]);
    let (padding, _) = measure(&[left, right], udim, LIMITS);
    assert_eq!(padding.gaps.iter().map(|gap| gap.tile).collect::<Vec<_>>(), [Some(1001), Some(1002)]);
    assert!(padding.between.is_none() && padding.across.is_empty());
    // 12.5 % of the tile below is the least of four.
    let (padding, _) = measure(&[rectangle([3.25, 7.125], [0.5, 0.5])], udim, LIMITS);
    let gap = padding.border.unwrap();
    assert_eq!((gap.px, gap.tile, gap.at_b.y), (256.0, Some(1074), 7.0));
    assert!(padding.gaps.is_empty());
}

#[test]
fn a_shell_over_several_tiles_has_no_border() {
    let across = rectangle([0.5, 0.25], [1.0, 0.5]);
    let below = rectangle([1.6, 0.1], [0.2, 0.1]);
    let shells = [across, below];
    let (padding, _) = measure(&shells, SheetMap { tiles: Tiles::Udim, ..SheetMap::default() }, LIMITS);
    assert_eq!(padding.across, [0]);
    assert_eq!(padding.border.map(|gap| gap.a), Some(1));
    let expected = (0.1f64.hypot(0.05)) * 2048.0;
    assert!((padding.between.unwrap().px - expected).abs() < 1e-9);
    // Beyond all tiles it is outside, and has nothing left to the border.
    let (padding, _) =
        measure(&[rectangle([-0.5, 0.1], [1.0, 0.5])], SheetMap { tiles: Tiles::Udim, ..SheetMap::default() }, LIMITS);
    let place = |gap: Gap| (gap.px, gap.tile, gap.at_a, gap.at_b);
    assert!(padding.across.is_empty());
    assert_eq!(padding.border.map(place), Some((0.0, None, DVec2::new(-0.5, 0.1), DVec2::new(-0.5, 0.1))));
    let (padding, _) = measure(&shells, SheetMap::default(), LIMITS);
    assert!(padding.across.is_empty());
    assert_eq!(padding.border.map(|gap| (gap.px, gap.at_a.x)), Some((0.0, 1.5)));
}

#[test]
fn touching_shells_are_0_px_apart_and_overlapping_ones_have_no_gap() {
    let at = |x: f64| rectangle([x, 0.1], [0.25, 0.25]);
    let (padding, _) = measure(&[at(0.1), at(0.35)], SheetMap::default(), LIMITS);
    assert_eq!(padding.between.unwrap().px, 0.0);
    assert_eq!(padding.between.unwrap().mip_level(), None);
    let (padding, sharing) = measure(&[at(0.1), at(0.3)], SheetMap::default(), LIMITS);
    assert_eq!((padding.between, sharing.pairs.len()), (None, 1));
}

#[test]
fn a_gap_of_two_to_the_k_lasts_to_mip_level_k() {
    let (padding, _) = measure(
        &[rectangle([0.25, 0.25], [0.25, 0.25]), rectangle([0.5078125, 0.25], [0.25, 0.25])],
        SheetMap::default(),
        LIMITS,
    );
    let mut gap = padding.between.unwrap();
    assert_eq!((gap.px, gap.mip_level()), (16.0, Some(4)));
    assert!(padding.gaps.is_empty(), "a gap as wide as the limit is enough");
    for (px, level) in [(31.9, Some(4)), (15.995, Some(4)), (15.9, Some(3)), (1.0, Some(0)), (0.5, None)] {
        gap.px = px;
        assert_eq!(gap.mip_level(), level, "{px}");
    }
}

#[test]
fn with_too_many_gaps_the_worst_are_kept_and_the_count_is_a_lower_bound() {
    // All pairs nearer than the limit: five million pairs.
    let mut random = random();
    let polygons: Vec<_> = (0..3200)
        .map(|i| {
            let cell = DVec2::new(f64::from(i % 60), f64::from(i / 60)) * 1e-4;
            rectangle((cell + DVec2::new(random(), random()) * 4e-5 + 0.5).to_array(), [5e-5, 5e-5])
        })
        .collect();
    let (padding, _) = measure(&polygons, SheetMap::default(), LIMITS);
    assert!(padding.at_least && padding.gaps.len() == GAPS_MAX && padding.gap_count > GAPS_MAX);
    let least = padding.between.unwrap().px;
    assert_eq!(padding.gaps[0].px, least);
    // The kept ones are all that are no further apart than the last of them.
    let last = padding.gaps[GAPS_MAX - 1].px;
    let (closer, _) = measure(&polygons, SheetMap::default(), Limits { between: last + ROUNDING_PX, border: 0.0 });
    assert!(!closer.at_least && closer.gap_count.abs_diff(GAPS_MAX) < 2, "{}", closer.gap_count);
}
