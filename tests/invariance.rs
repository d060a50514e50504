//! What must not change a measure, and how the rest changes: rigid motion, face order, scale, mirroring.
#![allow(clippy::unwrap_used)]

mod support;

use gridproof::findings::Report;
use proptest::prelude::*;
use support::{Sketch, close, report};

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
    fn mirroring_u_turns_every_handedness_over(wobble in wobbles()) {
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
