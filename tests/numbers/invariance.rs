//! What must not change a measure, and how the rest changes: rigid motion, face order, scale, mirroring.

use crate::support::{Sketch, close, report, report_with};
use gridproof::brief::{Axis, Brief};
use gridproof::report::Report;
use proptest::prelude::*;

/// A bent sheet of quads whose uv is bent otherwise; corners that would fold are possible, as in real files.
fn sheet(columns: usize, rows: usize, wobble: &[f64]) -> Sketch {
    let mut sketch = Sketch::default();
    let at = |i: usize| wobble[i % wobble.len()];
    for y in 0..=rows {
        for x in 0..=columns {
            let index = y * (columns + 1) + x;
            sketch.positions.push([x as f64 + 0.3 * at(index), y as f64, 0.5 * at(index + 1)]);
            sketch.uvs.push([
                (x as f64 + 0.4 * at(index + 2)) / (columns + 1) as f64,
                (y as f64 + 0.4 * at(index + 3)) / (rows + 1) as f64,
            ]);
        }
    }
    for y in 0..rows {
        for x in 0..columns {
            let a = y * (columns + 1) + x;
            let (b, c, d) = (a + 1, a + columns + 2, a + columns + 1);
            sketch.faces.push(vec![(a, a), (b, b), (c, c)]);
            sketch.faces.push(vec![(a, a), (c, c), (d, d)]);
        }
    }
    sketch
}

/// The numbers that rigid motion and order may not change.
fn figures(report: &Report) -> Vec<(&'static str, f64)> {
    let number = |value: Option<f64>| value.unwrap_or(-1.0);
    vec![
        ("anisotropy_median", number(report.stretch.anisotropy_median)),
        ("anisotropy_p95", number(report.stretch.anisotropy_p95)),
        ("share_over", number(report.stretch.share_over)),
        ("sander_l2", number(report.stretch.sander_l2)),
        ("sander_linf", number(report.stretch.sander_linf)),
        ("symmetric_dirichlet_mean", number(report.stretch.symmetric_dirichlet_mean)),
        ("mips_mean", number(report.stretch.mips_mean)),
        ("mean_px_per_unit", number(report.density.mean_px_per_unit)),
        ("reversed_share", number(report.handedness.reversed_share)),
        ("mirrored_share", number(report.handedness.mirrored_share)),
        ("coverage", report.sheet.coverage),
        ("overlap_share", number(report.sheet.overlap_share)),
        ("overlap_excess", number(report.sheet.overlap_excess)),
        ("outside_share", number(report.sheet.outside_share)),
        ("surface", report.area.surface),
        ("uv", report.area.uv),
        ("shells", f64::from(report.counts.shells)),
        ("folded", f64::from(report.handedness.folded_triangles)),
    ]
}

fn same(a: &Report, b: &Report, tolerance: f64) -> Result<(), TestCaseError> {
    for ((name, ours), (_, theirs)) in figures(a).into_iter().zip(figures(b)) {
        // Areas of overlaps are differences of larger areas.
        prop_assert!(close(ours, theirs, tolerance) || (ours - theirs).abs() < 1e-9, "{name}: {ours} and {theirs}");
    }
    Ok(())
}

fn wobbles() -> impl Strategy<Value = Vec<f64>> {
    prop::collection::vec(-1.0f64..1.0, 7..23)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn rigid_motion_changes_nothing(wobble in wobbles(), angle in 0.0f64..6.3, shift in -9.0f64..9.0) {
        let still = sheet(6, 4, &wobble);
        let mut moved = still.clone();
        let (s, c) = angle.sin_cos();
        for p in &mut moved.positions {
            let [x, y, z] = *p;
            *p = [c * x - s * y + shift, s * x + c * y - shift, z + 2.0 * shift];
        }
        same(&report(&still.text()), &report(&moved.text()), 1e-8)?;
    }

    #[test]
    fn the_order_of_faces_changes_nothing(wobble in wobbles(), turn in 1usize..40) {
        let still = sheet(6, 4, &wobble);
        let mut turned = still.clone();
        let count = turned.faces.len();
        turned.faces.rotate_left(turn % count);
        turned.faces.swap(0, count / 2);
        same(&report(&still.text()), &report(&turned.text()), 1e-9)?;
    }

    #[test]
    fn scale_follows_its_power(wobble in wobbles(), power in -3i32..4) {
        let still = sheet(5, 5, &wobble);
        let scale = 2f64.powi(power);
        let mut larger = still.clone();
        larger.positions.iter_mut().flatten().for_each(|x| *x *= scale);
        let (a, b) = (report(&still.text()), report(&larger.text()));
        prop_assert_eq!(a.stretch.anisotropy_median, b.stretch.anisotropy_median);
        prop_assert_eq!(a.sheet.coverage, b.sheet.coverage);
        prop_assert!(close(b.area.surface, a.area.surface * scale * scale, 1e-12));
        let (a_density, b_density) = (a.density.mean_px_per_unit.unwrap(), b.density.mean_px_per_unit.unwrap());
        prop_assert!(close(b_density, a_density / scale, 1e-12));
        prop_assert!(close(a.stretch.sander_l2.unwrap(), b.stretch.sander_l2.unwrap(), 1e-9));
    }

    #[test]
    fn mirroring_u_flips_every_shell(wobble in wobbles()) {
        let still = sheet(6, 4, &wobble);
        let mut mirrored = still.clone();
        mirrored.uvs.iter_mut().for_each(|uv| uv[0] = 1.0 - uv[0]);
        let (a, b) = (report(&still.text()), report(&mirrored.text()));
        let regular = a.counts.triangles as u32 - a.counts.collapsed_uv as u32;
        prop_assert_eq!(a.handedness.reversed_triangles + b.handedness.reversed_triangles, regular);
        prop_assert_eq!(a.handedness.folded_triangles, b.handedness.folded_triangles);
        prop_assert!(close(a.stretch.sander_l2.unwrap(), b.stretch.sander_l2.unwrap(), 1e-9));
        prop_assert!((a.sheet.coverage - b.sheet.coverage).abs() < 1e-9);
    }

    #[test]
    fn every_number_is_finite_whatever_the_shape(points in prop::collection::vec(-2i32..3, 60)) {
        // Small whole numbers: many coincident corners, zero areas and stacks.
        let mut sketch = Sketch::default();
        for corner in points.chunks_exact(5) {
            sketch.positions.push([f64::from(corner[0]), f64::from(corner[1]), f64::from(corner[2])]);
            sketch.uvs.push([f64::from(corner[3]) / 4.0, f64::from(corner[4]) / 4.0]);
        }
        for face in 0..8 {
            sketch.faces.push((0..3 + face % 3).map(|i| ((face + i * 5) % 12, (face * 7 + i) % 12)).collect());
        }
        let report = report(&sketch.text());
        for (name, value) in figures(&report) {
            prop_assert!(value.is_finite(), "{name}: {value}");
        }
        prop_assert!(report.sheet.coverage <= 1.0 + 1e-9);
        prop_assert!(!serde_json::to_string(&report).unwrap().contains("NaN"));
    }
}

/// A wavy wall cut into patches, one object and one shell each, laid out turned and at different sizes.
#[derive(Clone, Debug)]
struct Wall {
    sketch: Sketch,
    /// Patch of each face.
    patch: Vec<usize>,
}

/// Patches across the wall; as many cells of the sheet.
const PATCHES: usize = 4;
/// Quads along a side of a patch.
const CELLS: usize = 2;

impl Wall {
    /// `place` has for each patch turn (radians), size (of its cell of the sheet) and shift (of what is free there), 0..1.
    fn new(waves: &[f64], place: &[(f64, f64, f64)]) -> Self {
        let mut sketch = Sketch::default();
        let mut patch_of = Vec::new();
        let columns = PATCHES * CELLS;
        for y in 0..=CELLS {
            for x in 0..=columns {
                let wave = waves[(y * (columns + 1) + x) % waves.len()];
                sketch.positions.push([x as f64 + 0.1 * wave, y as f64, 0.3 * wave]);
            }
        }
        for (patch, &(turn, size, shift)) in place.iter().enumerate().take(PATCHES) {
            let first = sketch.uvs.len();
            let (s, c) = turn.sin_cos();
            // Half a diagonal is never more than half a cell; three quarters of that keep some shells apart, not all.
            let side = 0.5 / PATCHES as f64 * (0.5 + size);
            let middle = [(patch as f64 + 0.4 + 0.2 * shift) / PATCHES as f64, 0.3 + 0.3 * shift];
            for y in 0..=CELLS {
                for x in 0..=CELLS {
                    let (u, v) = (x as f64 / CELLS as f64 - 0.5, y as f64 / CELLS as f64 - 0.5);
                    sketch.uvs.push([middle[0] + side * (c * u - s * v), middle[1] + side * (s * u + c * v)]);
                }
            }
            for y in 0..CELLS {
                for x in 0..CELLS {
                    let corner = |dx: usize, dy: usize| {
                        let position = (y + dy) * (columns + 1) + patch * CELLS + x + dx;
                        (position, first + (y + dy) * (CELLS + 1) + x + dx)
                    };
                    sketch.faces.push(vec![corner(0, 0), corner(1, 0), corner(1, 1), corner(0, 1)]);
                    patch_of.push(patch);
                }
            }
        }
        Self { sketch, patch: patch_of }
    }

    fn text(&self) -> String {
        let mut patches = self.patch.iter();
        let named = |line: &str| match line.strip_prefix("f ") {
            Some(_) => format!("o patch{}\n{line}\n", patches.next().unwrap()),
            None => format!("{line}\n"),
        };
        self.sketch.text().lines().map(named).collect()
    }
}

fn wall() -> impl Strategy<Value = Wall> {
    let place = prop::collection::vec((-0.6f64..0.6, 0.0f64..1.0, 0.0f64..1.0), PATCHES);
    (wobbles(), place).prop_map(|(waves, place)| Wall::new(&waves, &place))
}

/// One patch is meant to have more density, one less; padding of any width counts.
fn wall_brief(up: Axis, front: Axis) -> Brief {
    let mut brief = Brief::default();
    brief.tilt.up = up;
    brief.seams.front = front;
    brief.padding.between_px = Some(600.0);
    brief.padding.border_px = Some(600.0);
    brief.density_factor.extend([("patch1".to_owned(), 2.0), ("patch2".to_owned(), 0.5)]);
    brief
}

/// Padding, seams, tilt, text safety and density factor of two reports of one wall, `b` being `scale` times as large.
fn same_layout(a: &Report, b: &Report, scale: f64) -> Result<(), TestCaseError> {
    let near = |a: Option<f64>, b: Option<f64>, tolerance: f64| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= tolerance * a.abs().max(1.0),
        (a, b) => a == b,
    };
    prop_assert!(near(a.sheet.padding_between_px, b.sheet.padding_between_px, 1e-9));
    prop_assert!(near(a.sheet.padding_border_px, b.sheet.padding_border_px, 1e-9));
    prop_assert_eq!(a.sheet.gap_count, b.sheet.gap_count);
    let gaps = |report: &Report| report.sheet.gaps.iter().map(|gap| (gap.px, gap.mip_level)).collect::<Vec<_>>();
    for (a, b) in gaps(a).into_iter().zip(gaps(b)) {
        prop_assert!(near(Some(a.0), Some(b.0), 1e-9) && a.1 == b.1, "{a:?} and {b:?}");
    }
    prop_assert!(a.seams.length > 0.0 && close(b.seams.length, a.seams.length * scale, 1e-9));
    prop_assert!(near(a.seams.length_over_diagonal, b.seams.length_over_diagonal, 1e-9));
    // Visibility is sampled at points along each seam.
    let (ours, theirs) = (a.seams.share_in_front, b.seams.share_in_front);
    prop_assert!(near(ours, theirs, 2e-3), "in front: {ours:?} and {theirs:?}");
    let error = a.seams.sampling_error.unwrap().hypot(b.seams.sampling_error.unwrap());
    let (ours, theirs) = (a.seams.exposure.unwrap(), b.seams.exposure.unwrap());
    prop_assert!((ours - theirs).abs() <= 4.0 * error + 1e-3, "exposure: {ours} and {theirs}, {error}");
    prop_assert_eq!(a.density.parts.len(), PATCHES);
    prop_assert_eq!(b.density.parts.len(), PATCHES);
    for part in &a.density.parts {
        let same = b.density.parts.iter().find(|other| other.name == part.name).unwrap();
        prop_assert!(close(same.density_px_per_unit, part.density_px_per_unit / scale, 1e-9), "{}", part.name);
        prop_assert!(
            close(same.factor, part.factor, 1e-9) && same.density_factor == part.density_factor,
            "{}",
            part.name
        );
    }
    for shell in &a.shells {
        let same = b.shells.iter().find(|other| other.object == shell.object).unwrap();
        prop_assert!(near(shell.tilt_deg, same.tilt_deg, 1e-7), "{:?} and {:?}", shell.tilt_deg, same.tilt_deg);
        prop_assert!(near(shell.density_ratio, same.density_ratio, 1e-9));
    }
    Ok(())
}

/// Text safety.
fn same_lettering(a: &Report, b: &Report) -> Result<(), TestCaseError> {
    let share = |report: &Report| report.text.text_share.unwrap();
    prop_assert!((share(a) - share(b)).abs() < 1e-9, "{} and {}", share(a), share(b));
    for shell in &a.shells {
        let same = b.shells.iter().find(|other| other.object == shell.object).unwrap();
        let (ours, theirs) = (shell.text_share.unwrap(), same.text_share.unwrap());
        prop_assert!((ours - theirs).abs() < 1e-9, "{ours} and {theirs}");
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_wall_turned_with_its_axes_is_the_same_wall(still in wall(), shift in -9i32..9) {
        let shift = f64::from(shift);
        let mut moved = still.clone();
        // A third of a turn about the diagonal: x, y, z become y, z, x.
        for p in &mut moved.sketch.positions {
            *p = [p[2] + shift, p[0] - shift, p[1] + 2.0 * shift];
        }
        let a = report_with(&still.text(), &wall_brief(Axis::PlusY, Axis::PlusZ));
        let b = report_with(&moved.text(), &wall_brief(Axis::PlusZ, Axis::PlusX));
        same_layout(&a, &b, 1.0)?;
        same_lettering(&a, &b)?;
        // And a rotation alone is detected: what was upright is sideways, or level.
        let unturned = report_with(&moved.text(), &wall_brief(Axis::PlusY, Axis::PlusX));
        prop_assert!(unturned.shells.iter().zip(&a.shells).any(|(b, a)| b.tilt_deg != a.tilt_deg));
    }

    #[test]
    fn a_larger_wall_differs_by_the_power_of_its_scale(still in wall(), power in -8i32..9) {
        let scale = 2f64.powi(power);
        let mut larger = still.clone();
        larger.sketch.positions.iter_mut().flatten().for_each(|x| *x *= scale);
        let brief = wall_brief(Axis::PlusY, Axis::PlusZ);
        let (a, b) = (report_with(&still.text(), &brief), report_with(&larger.text(), &brief));
        same_layout(&a, &b, scale)?;
        same_lettering(&a, &b)?;
    }

    #[test]
    fn the_order_of_a_wall_s_faces_changes_nothing(still in wall(), turn in 1usize..15, back in any::<bool>()) {
        let mut turned = still.clone();
        turned.sketch.faces.rotate_left(turn);
        turned.patch.rotate_left(turn);
        if back {
            turned.sketch.faces.reverse();
            turned.patch.reverse();
        }
        let brief = wall_brief(Axis::PlusY, Axis::PlusZ);
        let (a, b) = (report_with(&still.text(), &brief), report_with(&turned.text(), &brief));
        same_layout(&a, &b, 1.0)?;
        same_lettering(&a, &b)?;
    }

    #[test]
    fn a_mirrored_sheet_keeps_all_but_text_safety(still in wall()) {
        let mut mirrored = still.clone();
        mirrored.sketch.uvs.iter_mut().for_each(|uv| uv[0] = 1.0 - uv[0]);
        let brief = wall_brief(Axis::PlusY, Axis::PlusZ);
        let (a, b) = (report_with(&still.text(), &brief), report_with(&mirrored.text(), &brief));
        same_layout(&a, &b, 1.0)?;
        // The narrowest gap lies where the mirror puts it.
        let (ours, theirs) = (&a.sheet.gaps[0], &b.sheet.gaps[0]);
        prop_assert!((ours.a, ours.b) == (theirs.a, theirs.b), "{ours:?} and {theirs:?}");
        for (p, q) in [(ours.at_a, theirs.at_a), (ours.at_b, theirs.at_b)] {
            prop_assert!((1.0 - p[0] - q[0]).abs() < 1e-9 && (p[1] - q[1]).abs() < 1e-9, "{p:?} and {q:?}");
        }
        // All text is flipped now.
        prop_assert_eq!(b.text.text_share, Some(0.0));
        prop_assert_eq!(b.handedness.reversed_share, Some(1.0));
    }
}
