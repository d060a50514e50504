//! A report checked against the columns of a separate program. Tolerance 1e-5 relative; wider only by the slack that
//! the reference's own variants show (another diagonal, a plain fan, single precision).
#![allow(clippy::unwrap_used)]

use gridproof::Examined;
use gridproof::brief::{Brief, Map, SheetsAsked};
use gridproof::findings::Shell;
use gridproof::measure::sheet::padding::ROUNDING_PX;
use serde_json::Value;
use std::path::Path;

/// Padding counted as the reference counts it: a gap is one below 8 px, whatever the decimals' rounding.
const PADDING_PX: f64 = 8.0;

/// Distances up to here are none: doubles near 2048.
const TOUCHING_PX: f64 = 1e-9;

fn load(path: &Path, name: &str, brief: &Brief) -> Examined {
    let mut file = std::fs::File::open(path).unwrap();
    gridproof::examine(&mut file, name, None, brief, &mut |_| ()).expect("readable")
}

/// Smallest value at which the cumulative weight reaches a share of the whole.
fn quantile(values: &[(f64, f64)], share: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let whole: f64 = sorted.iter().map(|value| value.1).sum();
    let mut sum = 0.0;
    let reached = sorted.iter().find(|value| {
        sum += value.1;
        sum >= share * whole
    });
    reached.map_or(f64::NAN, |value| value.0)
}

/// Largest change of a number by any variant of the reference.
fn slack(reference: &Value, key: &str) -> f64 {
    let main = reference[key].as_f64().unwrap_or(f64::NAN);
    ["fan_variant", "diagonal_variant", "f32_variant"]
        .iter()
        .filter_map(|variant| reference[variant][key].as_f64())
        .map(|value| (value - main).abs())
        .fold(0.0, f64::max)
}

/// Largest change of the mean density by a variant's areas; the variants do not list it themselves.
fn density_slack(reference: &Value) -> f64 {
    let density =
        |figures: &Value| Some((figures["area_uv_abs"].as_f64()? / figures["area3d_total"].as_f64()?).sqrt() * 2048.0);
    ["fan_variant", "diagonal_variant", "f32_variant"]
        .iter()
        .filter_map(|variant| Some((density(&reference[variant])? - density(reference)?).abs()))
        .fold(0.0, f64::max)
}

/// Numbers checked against their references.
#[derive(Default)]
pub struct Held {
    pub compared: usize,
    pub wrong: Vec<String>,
}

impl Held {
    fn hold(&mut self, what: &str, ours: Option<f64>, theirs: f64, allowed: f64) {
        self.compared += 1;
        if ours.is_none_or(|ours| ours.is_nan() || (ours - theirs).abs() > allowed) {
            self.wrong.push(format!("{what}: {ours:?} instead of {theirs}, allowed {allowed:e}"));
        }
    }

    /// Checks all columns that the reference has.
    pub fn hold_columns(&mut self, path: &Path, name: &str, reference: &Value) {
        let mut brief = Brief { map: Map { sheets: SheetsAsked::One, ..Map::default() }, ..Brief::default() };
        brief.padding.between_px = Some(PADDING_PX + ROUNDING_PX);
        brief.padding.border_px = Some(0.0);
        let Examined { model, mut measures, report } = load(path, name, &brief);
        let mut lenient = brief.clone();
        lenient.stretch.max_anisotropy = 2.0;
        assert!(measures.rebrief(&model, &brief, &lenient).is_empty());
        let over_two = measures.stretch.share_over;
        let mut check = |key: &str, ours: Option<f64>, tolerance: f64, absolute: f64| {
            let Some(theirs) = reference[key].as_f64() else { return };
            let allowed = tolerance * theirs.abs() + slack(reference, key) + absolute;
            self.hold(&format!("{name} {key}"), ours, theirs, allowed);
        };
        let counts = &report.counts;
        let (exact, close) = (0.0, 1e-5);
        // The reference cuts faces of many corners with flat ears, which are without area, flipped by rounding and
        // overlap their neighbours slightly. Here there are fewer, or none.
        let corners = reference["faces_by_corners"].as_object().into_iter().flat_map(|counts| counts.keys());
        let many_corners = corners.filter_map(|count| count.parse().ok()).any(|count: u32| count > 4);
        let flat_ears = |key: &str| if many_corners { reference[key].as_f64().unwrap_or(0.0) } else { 0.0 };
        check("v", Some(counts.positions as f64), exact, 0.0);
        check("vt", Some(counts.texcoords as f64), exact, 0.0);
        check("vn", Some(counts.normals as f64), exact, 0.0);
        check("faces", Some(counts.faces as f64), exact, 0.0);
        check("objects", Some(counts.objects as f64), exact, 0.0);
        check("groups", Some(counts.groups as f64), exact, 0.0);
        check("materials", Some(counts.materials as f64), exact, 0.0);
        check("triangles", Some(counts.triangles as f64), exact, 0.0);
        check("shells_welded_edge", Some(f64::from(counts.shells)), exact, 0.0);
        check("tri_3d_zero", Some(counts.degenerate_3d as f64), exact, flat_ears("tri_3d_zero"));
        check("tri_uv_zero", Some(counts.collapsed_uv as f64), exact, flat_ears("tri_uv_zero"));
        check("area3d_total", Some(report.area.surface), close, 0.0);
        check("area_uv_abs", Some(report.area.uv), close, 0.0);
        check("tri_uv_negative", Some(f64::from(report.handedness.reversed_triangles)), exact, 0.0);
        check("frac3d_uv_negative", report.handedness.reversed_share, close, 0.0);
        check("aniso_median", report.stretch.anisotropy_median, close, 0.0);
        check("aniso_frac_gt_1_25", report.stretch.share_over, close, 0.0);
        check("stretch_L2_norm", report.stretch.sander_l2, close, 0.0);
        check("stretch_Linf_norm", report.stretch.sander_linf, close, 0.0);
        check("td_global", report.density.mean_px_per_unit, close, density_slack(reference));
        check("td_shell_min", report.density.min_shell, close, 0.0);
        check("td_shell_max", report.density.max_shell, close, 0.0);
        check("coverage01", Some(report.sheet.coverage), close, 0.0);
        check("overlap_frac", report.sheet.overlap_excess, close, if many_corners { 1e-8 } else { 1e-9 });
        // From a raster of 4096 samples a unit: 0.2 %, and three times the deviation of that many samples.
        let samples = reference["union_area"].as_f64().unwrap_or(0.0) * 4096.0 * 4096.0;
        let share = reference["overlap2_frac"].as_f64().unwrap_or(0.0);
        check("overlap2_frac", report.sheet.overlap_share, 2e-3, 3.0 * (share / samples).sqrt() + 1.0 / samples);
        check("uv_outside_frac", report.sheet.outside_share, close, 1e-9);
        check("aniso_frac_gt_2", over_two, close, 0.0);
        let union = report.sheet.overlap_excess.map(|excess| report.area.uv / (1.0 + excess));
        check("union_area", union, close, 1e-12);
        // The following are not numbers of the report but of its rows, one per shell.
        let shells = &report.shells;
        let surface = |shells: &mut dyn Iterator<Item = &Shell>| shells.map(|shell| shell.surface).sum::<f64>();
        check("area3d_uv", Some(surface(&mut shells.iter())), close, slack(reference, "area3d_total"));
        // Shells one half of which is the other's mirror image are neither, and rounding decides their class.
        assert_eq!(report.handedness.inside_out_parts, 0, "the reference knows no part that is inside out");
        let mut signed = vec![0.0; shells.len()];
        let mut regular = vec![0; shells.len()];
        for triangle in 0..model.triangle_count() {
            let Some(shell) = model.shell_of(triangle) else { continue };
            let sign = if measures.triangles.is_reversed(triangle) { -1.0 } else { 1.0 };
            signed[shell as usize] += sign * measures.triangles.area_uv[triangle];
            regular[shell as usize] += 1;
        }
        let undecided =
            || shells.iter().filter(|shell| shell.uv > 0.0 && signed[shell.id as usize].abs() <= 1e-6 * shell.uv);
        let undecided_triangles: usize = undecided().map(|shell| regular[shell.id as usize]).sum();
        let negative = || shells.iter().filter(|shell| shell.flipped);
        check("shells_negative", Some(negative().count() as f64), exact, undecided().count() as f64);
        let folded = f64::from(report.handedness.folded_triangles);
        let allowed = undecided_triangles as f64 + flat_ears("tri_against_own_shell");
        check("tri_against_own_shell", Some(folded), exact, allowed);
        let whole = surface(&mut shells.iter());
        let share = surface(&mut negative()) / whole;
        check("frac3d_in_negative_shells", Some(share), close, surface(&mut undecided()) / whole);
        if undecided().next().is_some() {
            println!("{name}: {} shells are half and half, {undecided_triangles} triangles", undecided().count());
        }
        let flat = shells.iter().filter(|shell| shell.density.is_none_or(|density| density == 0.0)).count();
        check("shells_without_uv_area", Some(flat as f64), exact, 0.0);
        let dense: Vec<(f64, f64)> = shells
            .iter()
            .filter(|shell| shell.anisotropy_median.is_some())
            .filter_map(|shell| Some((shell.density?, shell.surface)))
            .collect();
        let whole: f64 = dense.iter().map(|value| value.1).sum();
        // Another diagonal moves a shell's density as it does its triangles'.
        let close = close + slack(reference, "td_mean_tri") / reference["td_mean_tri"].as_f64().unwrap();
        check("td_mean_shell", Some(dense.iter().map(|(d, a)| d * a).sum::<f64>() / whole), close, 0.0);
        for (key, share) in [("td_shell_p05", 0.05), ("td_shell_median", 0.5), ("td_shell_p95", 0.95)] {
            check(key, Some(quantile(&dense, share)), close, 0.0);
        }
        // The reference leaves out pairs that touch, and gives what is outside the tile a negative distance.
        let gaps: Vec<f64> = measures.padding.gaps.iter().map(|gap| gap.px).filter(|px| *px > TOUCHING_PX).collect();
        let least = if gaps.is_empty() { report.sheet.padding_between_px } else { gaps.first().copied() };
        check("padding_min_px", least, 1e-5, 1e-6);
        if report.sheet.padding_at_least {
            println!("{name}: the search for gaps was cut off");
        } else {
            // Of equal shells the first represents all in a gap between two; the reference counts each.
            let mut copies = vec![1; report.shells.len()];
            report.equal_shells.iter().for_each(|group| copies[group[0] as usize] = group.len());
            let not_listed = report.sheet.gap_count - measures.padding.gaps.len();
            let count = |below: f64| -> usize {
                let of_shells = |a: u32, b: Option<u32>| b.map_or(1, |b| copies[a as usize] * copies[b as usize]);
                let listed = measures.padding.gaps.iter().filter(|gap| gap.px > TOUCHING_PX && gap.px < below);
                listed.map(|gap| of_shells(gap.a, gap.b)).sum()
            };
            check("padding_pairs_under_8px", Some((count(f64::INFINITY) + not_listed) as f64), exact, 0.0);
            check("padding_pairs_under_4px", Some(count(PADDING_PX / 2.0) as f64), exact, 0.0);
        }
        // The reference's distance is that of the shells inside; where one is outside, ours is 0.
        let outside = report.sheet.outside_share.unwrap_or(0.0) > 0.0;
        if reference["border_min_px"].as_f64().is_some_and(|px| px >= 0.0) && !outside {
            check("border_min_px", report.sheet.padding_border_px, 1e-5, 1e-6);
        }
        let mut bounds = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
        for [u0, v0, u1, v1] in shells.iter().filter_map(|shell| shell.bounds_uv) {
            bounds = [bounds[0].min(u0), bounds[1].min(v0), bounds[2].max(u1), bounds[3].max(v1)];
        }
        for (index, ours) in bounds.into_iter().enumerate() {
            let theirs = reference[["uv_min", "uv_max"][index / 2]][index % 2].as_f64().unwrap();
            self.hold(&format!("{name} bounds of uv, {index}"), Some(ours), theirs, 1e-9 * theirs.abs());
        }
        let unmapped: u64 = ["faces_no_vt", "faces_part_vt"].iter().filter_map(|key| reference[key].as_u64()).sum();
        self.hold(&format!("{name} faces without uv"), Some(counts.faces_without_uv as f64), unmapped as f64, 0.0);
    }
}
