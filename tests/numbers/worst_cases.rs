//! Worst-case layouts: each is measured at a size and at four times that, and may not cost ten times as much. Only
//! limited or sampled results are reported as such.
//!
//! Only ratios of one run count.

use crate::processor::spent;
use crate::support::report;
use glam::DVec2;
use gridproof::brief::SheetMap;
use gridproof::measure::sheet::input::SheetInput;
use gridproof::measure::sheet::sharing::{Sharing, measure_sharing};
use gridproof::measure::sheet::usage::{Sheet, measure_sheet};
use std::f64::consts::{PI, TAU};
use std::fmt::Write as _;
use std::time::Duration;

/// Four times as much may take so many times as long: n log n takes five times, a square sixteen.
const GROWTH: u32 = 10;
/// Below this a time is noise.
const NOISE: Duration = Duration::from_millis(150);

/// Results at a size and at four times that.
#[track_caller]
fn grown<T>(size: u32, make: impl Fn(u32) -> T) -> [T; 2] {
    let timed = |size| {
        let start = spent();
        let made = make(size);
        (made, spent() - start)
    };
    let ((small, short), (large, long)) = (timed(size), timed(4 * size));
    println!("{size}: {short:?}, {}: {long:?}", 4 * size);
    assert!(long <= GROWTH * short + NOISE, "{size} take {short:?}, {} take {long:?}", 4 * size);
    [small, large]
}

/// Triangles as they are, with the shell of each.
fn measured(triangles: &[[DVec2; 3]], shell: impl Fn(u32) -> u32) -> (Sheet, Sharing) {
    let uv = triangles.concat();
    // Equal values have one number.
    let mut order: Vec<u32> = (0..uv.len() as u32).collect();
    let key = |i: u32| (uv[i as usize].x.to_bits(), uv[i as usize].y.to_bits());
    order.sort_unstable_by_key(|&i| key(i));
    let mut number = vec![0; uv.len()];
    for same in order.chunk_by(|&a, &b| key(a) == key(b)) {
        same.iter().for_each(|&i| number[i as usize] = same[0]);
    }
    let reversed: Vec<bool> = triangles.iter().map(|[a, b, c]| (b - a).perp_dot(c - a) < 0.0).collect();
    let shell: Vec<u32> = (0..triangles.len() as u32).map(shell).collect();
    let input = SheetInput {
        uv: &uv,
        triangles: number.as_chunks::<3>().0,
        shell: &shell,
        shell_count: shell.iter().max().unwrap() + 1,
        reversed: &reversed,
        sliver: &[],
        surface: &vec![1.0; triangles.len()],
        map: SheetMap::default(),
    };
    let sheet = measure_sheet(&input);
    let sharing = measure_sharing(&input, &sheet);
    (sheet, sharing)
}

fn spot(shift: f64) -> [DVec2; 3] {
    [DVec2::new(0.2, 0.2), DVec2::new(0.8, 0.3), DVec2::new(0.4, 0.9)].map(|p| p + shift)
}

fn random() -> impl FnMut() -> f64 {
    let mut state = 1u64;
    move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as f64 / f64::from(1u32 << 31)
    }
}

/// Thin triangles through the middle, evenly turned.
fn slivers(count: u32) -> Vec<[DVec2; 3]> {
    let sliver = |i: u32| {
        let along = DVec2::from_angle(PI * f64::from(i) / f64::from(count)) * 0.45;
        [-along, along, along.perp() * 1e-3 - along].map(|p| p + 0.5)
    };
    (0..count).map(sliver).collect()
}

#[test]
fn the_same_triangle_as_one_shell_is_exact() {
    for (sheet, sharing) in grown(50_000, |size| measured(&vec![spot(0.0); size as usize], |_| 0)) {
        assert!(sheet.sampling_errors.is_none() && !sharing.at_least);
        assert!((sheet.overlap_share.unwrap() - 1.0).abs() < 1e-9);
        assert_eq!(sharing.pairs.len(), 1);
    }
}

#[test]
fn the_same_triangle_as_many_shells_is_one_group() {
    for (sheet, sharing) in grown(50_000, |size| measured(&vec![spot(0.0); size as usize], |shell| shell)) {
        assert!(sheet.sampling_errors.is_none() && !sharing.at_least);
        assert_eq!((sharing.pairs.len(), sharing.equal.len()), (1, 1));
    }
}

#[test]
fn pairs_of_many_different_overlapping_shells_are_limited() {
    // Each also has its own triangle.
    let shells = |size: u32| -> Vec<[DVec2; 3]> {
        (0..size)
            .map(|i| if i % 2 == 0 { spot(0.0) } else { spot(0.0).map(|p| p / 2.0 + 1.0 + f64::from(i)) })
            .collect()
    };
    let (_, few) = measured(&shells(400), |triangle| triangle / 2);
    assert!(!few.at_least && few.pairs.len() == 200 * 199 / 2 && few.equal.is_empty());
    for (sheet, sharing) in grown(20_000, |size| measured(&shells(size), |triangle| triangle / 2)) {
        assert!(sheet.sampling_errors.is_none() && sharing.at_least);
    }
}

#[test]
fn two_stacks_of_many_shells_are_four_groups() {
    // Every shell of one stack meets every one of the other, and both orientations are in each.
    let stacks = |size: u32| -> Vec<[DVec2; 3]> {
        let [a, b, c] = spot(0.0);
        let [d, e, f] = spot(0.01);
        (0..size).map(|i| [[a, b, c], [a, c, b], [d, e, f], [d, f, e]][i as usize % 4]).collect()
    };
    let (_, few) = measured(&stacks(100), |shell| shell);
    assert!(!few.at_least && few.mirrored_share == Some(1.0));
    for (_, sharing) in grown(10_000, |size| measured(&stacks(size), |shell| shell)) {
        assert!(!sharing.at_least && sharing.mirrored_share == Some(1.0));
        // Four stacks, and all pairs of them.
        assert_eq!((sharing.equal.len(), sharing.pairs.len()), (4, 4 + 6));
    }
}

#[test]
fn many_nearly_equal_triangles() {
    let near = |size: u32| (0..size).map(|i| spot(f64::from(i) * 1e-7)).collect::<Vec<_>>();
    for (sheet, sharing) in grown(2_000, |size| measured(&near(size), |_| 0)) {
        assert!(sheet.sampling_errors.is_none());
        assert!(sheet.overlap_share.unwrap() > 0.99 && !sharing.pairs.is_empty());
    }
    // Too many to take exactly: the numbers have standard errors, and are within them.
    let (sheet, sharing) = measured(&near(40_000), |_| 0);
    let errors = sheet.sampling_errors.unwrap();
    assert!(sharing.at_least);
    // One triangle swept along the diagonal by d = 39,999e-7: its area, and d times its width across the diagonal.
    let [a, b, c] = spot(0.0);
    let diagonal = DVec2::ONE;
    let across = [a, b, c].map(|p| diagonal.perp_dot(p));
    let width = across.iter().fold(f64::MIN, |x, y| x.max(*y)) - across.iter().fold(f64::MAX, |x, y| x.min(*y));
    let swept = (b - a).perp_dot(c - a) / 2.0 + 39_999e-7 * width;
    assert!(
        (sheet.coverage - swept).abs() <= 4.0 * errors.coverage,
        "{} ± {}, {swept}",
        sheet.coverage,
        errors.coverage
    );
    assert!(errors.coverage < 0.01 && errors.overlap_share < 0.01, "{errors:?}");
}

#[test]
fn many_random_triangles_on_one_spot() {
    let mut random = random();
    let mut any = || DVec2::new(random(), random());
    let all: Vec<[DVec2; 3]> = (0..8_000).map(|_| [any(), any(), any()]).collect();
    for (sheet, sharing) in grown(2_000, |size| measured(&all[..size as usize], |_| 0)) {
        assert!(sheet.overlap_share.unwrap() > 0.9);
        assert!(sharing.at_least, "the pairs that meet are more than are kept");
        assert!((0.0..=1.0).contains(&sharing.mirrored_share.unwrap()));
    }
}

#[test]
fn slivers_through_one_point_are_exact_while_few_and_sampled_when_many() {
    let (exact, _) = measured(&slivers(250), |shell| shell);
    assert!(exact.sampling_errors.is_none());
    let [_, (sampled, _)] = grown(1_000, |size| measured(&slivers(size), |shell| shell));
    let errors = sampled.sampling_errors.unwrap();
    assert!(errors.coverage > 0.0 && errors.coverage < 0.01 * sampled.coverage, "{errors:?}");
    // Outside the middle, slivers lie apart or over a neighbour by a known wedge: the union is between one and all of them.
    let sum = sampled.uv_area;
    assert!(sampled.coverage < sum && sampled.coverage > 0.5 * sum, "{} of {sum}", sampled.coverage);
}

#[test]
fn textures_that_repeat_many_times() {
    // Walls of 2 x 4 quads that span many tiles, shifted a little, every other one flipped.
    let walls = |size: u32| -> Vec<[DVec2; 3]> {
        let wall = |wall: u32| {
            let (hand, size) = (if wall.is_multiple_of(2) { 1.0 } else { -1.0 }, 3.0 + f64::from(wall % 7));
            let shift = DVec2::new(f64::from(wall % 11), f64::from(wall % 13)) * 0.03;
            let at = move |x: u32, y: u32| DVec2::new(f64::from(x) * hand, f64::from(y)) * size / 2.0 + shift;
            let quads = (0..8).map(|quad| (quad % 2, quad / 2));
            quads.flat_map(move |(x, y)| {
                let [a, b, c, d] = [at(x, y), at(x + 1, y), at(x + 1, y + 1), at(x, y + 1)];
                [[a, b, c], [a, c, d]]
            })
        };
        (0..size).flat_map(wall).collect()
    };
    for (_, sharing) in grown(150, |size| measured(&walls(size), |triangle| triangle / 16)) {
        let share = sharing.mirrored_share.unwrap();
        assert!((0.0..=1.0).contains(&share) && !sharing.pairs.is_empty());
    }
    let (_, few) = measured(&walls(20), |triangle| triangle / 16);
    assert!(!few.at_least);
}

#[test]
fn a_hundred_thousand_tiny_shells_are_exact() {
    let shells = |size: u32| {
        let mut text = String::new();
        let side = f64::from(size).sqrt().ceil() as u32;
        for shell in 0..size {
            let (x, y) = (f64::from(shell % side), f64::from(shell / side));
            for (dx, dy) in [(0.0, 0.0), (0.8, 0.0), (0.8, 0.8), (0.0, 0.8)] {
                let (x, y) = (x + dx, y + dy);
                writeln!(text, "v {x} {y} 0\nvt {:?} {:?}", x / f64::from(side), y / f64::from(side)).unwrap();
            }
            let k = 4 * shell;
            writeln!(text, "f {0}/{0} {1}/{1} {2}/{2} {3}/{3}", k + 1, k + 2, k + 3, k + 4).unwrap();
        }
        text
    };
    let reports = grown(25_000, |size| report(&shells(size)));
    for (report, size) in reports.iter().zip([25_000, 100_000]) {
        assert_eq!(report.counts.shells, size);
        assert!(!report.sharing_at_least && report.sharing.is_empty());
        assert_eq!(report.sheet.coverage_sampling_error, None);
        assert!(report.sheet.overlap_share.unwrap() < 1e-9);
    }
}

#[test]
fn faces_of_many_corners() {
    let polygon = |size: u32, radius: fn(u32) -> f64| {
        let mut text = String::new();
        let mut face = String::from("f");
        for corner in 0..size {
            let p = DVec2::from_angle(TAU * f64::from(corner) / f64::from(size)) * radius(corner) + 0.5;
            writeln!(text, "v {0} {1} 0\nvt {0} {1}", p.x, p.y).unwrap();
            write!(face, " {0}/{0}", corner + 1).unwrap();
        }
        text + &face
    };
    let round: fn(u32) -> f64 = |_| 0.4;
    let star: fn(u32) -> f64 = |corner| if corner % 2 == 0 { 0.4 } else { 0.2 };
    for (name, radius, size) in [("convex", round, 10_000), ("star", star, 4_000)] {
        println!("{name}");
        let reports = grown(size, |size| report(&polygon(size, radius)));
        for (report, size) in reports.iter().zip([size, 4 * size]) {
            let half = TAU / f64::from(size) / 2.0;
            let (inner, outer) = (radius(1), radius(0));
            let area = f64::from(size) * inner * outer * (2.0 * half).sin() / 2.0;
            assert_eq!(report.counts.triangles, size as usize - 2);
            // The rays of a large star are slivers towards one point.
            let error = report.sheet.coverage_sampling_error;
            assert!(error.is_none() || (name == "star" && size > 2_000), "{name} of {size}: {error:?}");
            let allowed = 4.0 * error.unwrap_or(0.0) + 1e-9;
            assert!((report.sheet.coverage - area).abs() < allowed, "{} instead of {area}", report.sheet.coverage);
            assert!(
                error.is_none_or(|error| error < 1e-3) && !report.sharing_at_least,
                "{error:?} {}",
                report.sharing_at_least
            );
        }
    }
}

#[test]
fn a_comb_of_one_face() {
    let comb = |teeth: u32| {
        let mut text = String::from("v 0 -1 0\nvt 0 0\n");
        let mut corner =
            |x: f64, y: f64| writeln!(text, "v {x} {y} 0\nvt {:?} {:?}", x / f64::from(teeth), (y + 1.0) / 2.0);
        corner(f64::from(teeth), -1.0).unwrap();
        for tooth in (0..teeth).rev() {
            corner(f64::from(tooth) + 1.0, 0.0).unwrap();
            corner(f64::from(tooth) + 0.5, 1.0).unwrap();
        }
        corner(0.0, 0.0).unwrap();
        text.push('f');
        (1..=2 * teeth + 3).for_each(|k| write!(text, " {k}/{k}").unwrap());
        text
    };
    for report in grown(1_000, |size| report(&comb(size))) {
        assert!((report.sheet.coverage - 0.75).abs() < 1e-9, "{}", report.sheet.coverage);
        assert_eq!(report.sheet.coverage_sampling_error, None);
    }
}
