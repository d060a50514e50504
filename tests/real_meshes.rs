//! Real models nobody here made, against values by a separate program (numpy, scipy, shapely; see SOURCES.md beside
//! them). Tolerance 1e-5 relative; wider only by the slack that the reference's own variants show (another diagonal, a
//! plain fan, single precision). Skips with a line where `../shared/meshes` is absent.
#![allow(clippy::unwrap_used)]

mod support;

use gridproof::brief::Brief;
use gridproof::findings::Report;
use serde_json::Value;

fn load(name: &str) -> Option<Report> {
    let path = support::outside(&format!("meshes/{name}"))?;
    let mut file = std::fs::File::open(path).unwrap();
    Some(gridproof::check(&mut file, name, None, &Brief::default(), &mut |_| ()).expect("readable"))
}

/// Furthest that any variant of the reference moves a figure.
fn slack(reference: &Value, key: &str) -> f64 {
    let main = reference[key].as_f64().unwrap_or(f64::NAN);
    ["fan_variant", "diagonal_variant", "f32_variant"]
        .iter()
        .filter_map(|variant| reference[variant][key].as_f64())
        .map(|value| (value - main).abs())
        .fold(0.0, f64::max)
}

/// Furthest that a variant's areas move the mean density; the variants do not list it themselves.
fn density_slack(reference: &Value) -> f64 {
    let density =
        |figures: &Value| Some((figures["area_uv_abs"].as_f64()? / figures["area3d_total"].as_f64()?).sqrt() * 2048.0);
    ["fan_variant", "diagonal_variant", "f32_variant"]
        .iter()
        .filter_map(|variant| Some((density(&reference[variant])? - density(reference)?).abs()))
        .fold(0.0, f64::max)
}

#[test]
fn all_reference_columns() {
    let Some(path) = support::outside("meshes/reference.json") else { return };
    let all: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    let mut wrong = Vec::new();
    let mut compared = 0;
    for (name, reference) in all.as_object().unwrap() {
        let Some(report) = load(name) else { continue };
        let mut check = |key: &str, ours: Option<f64>, tolerance: f64, absolute: f64| {
            let Some(theirs) = reference[key].as_f64() else { return };
            compared += 1;
            let ours = ours.unwrap_or(f64::NAN);
            let allowed = tolerance * theirs.abs() + slack(reference, key) + absolute;
            if ours.is_nan() || (ours - theirs).abs() > allowed {
                wrong.push(format!("{name} {key}: {ours} instead of {theirs}, allowed {allowed:e}"));
            }
        };
        let counts = &report.counts;
        let (exact, close) = (0.0, 1e-5);
        check("v", Some(counts.positions as f64), exact, 0.0);
        check("vt", Some(counts.texcoords as f64), exact, 0.0);
        check("vn", Some(counts.normals as f64), exact, 0.0);
        check("faces", Some(counts.faces as f64), exact, 0.0);
        check("objects", Some(counts.objects as f64), exact, 0.0);
        check("groups", Some(counts.groups as f64), exact, 0.0);
        check("materials", Some(counts.materials as f64), exact, 0.0);
        check("triangles", Some(counts.triangles as f64), exact, 0.0);
        check("shells_welded_edge", Some(f64::from(counts.shells)), exact, 0.0);
        check("tri_3d_zero", Some(counts.degenerate_3d as f64), exact, 0.0);
        check("tri_uv_zero", Some(counts.collapsed_uv as f64), exact, 0.0);
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
        check("overlap_frac", report.sheet.overlap_excess, close, 1e-9);
        // From a raster of 4096 samples a unit: 0.2 %, and three times the deviation of that many samples.
        let samples = reference["union_area"].as_f64().unwrap_or(0.0) * 4096.0 * 4096.0;
        let share = reference["overlap2_frac"].as_f64().unwrap_or(0.0);
        check("overlap2_frac", report.sheet.overlap_share, 2e-3, 3.0 * (share / samples).sqrt() + 1.0 / samples);
        check("uv_outside_frac", report.sheet.outside_share, close, 1e-9);
    }
    println!("{compared} figures compared");
    assert!(compared >= 12 * 20, "only {compared} figures were there to compare");
    assert!(wrong.is_empty(), "{} differ:\n{}", wrong.len(), wrong.join("\n"));
}
