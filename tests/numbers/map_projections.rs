//! A fine sphere whose UVs are a map projection must measure that projection's Tissot factors: anisotropy, area scale and
//! the greatest angular deformation.
//!
//! Formulas: J. P. Snyder, *Map Projections: A Working Manual*, USGS Professional Paper 1395, 1987 (equations beside
//! each row; the angular deformation is equation 4-9). `tests/reference/tissot.json` (PROJ 9.5.1 through pyproj 3.7.2)
//! and the printed tables 7, 14 and 21 in `tests/reference/snyder_tables.json` are checked against the measures.

use crate::support;
use glam::{DVec2, DVec3};
use gridproof::measure::flat::jacobian::Jacobian;
use serde_json::Value;
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};

struct Projection {
    /// As in the tables.
    proj: &'static str,
    /// Longitude and latitude to the plane.
    map: fn(f64, f64) -> DVec2,
    /// Scale along meridian and parallel at a latitude.
    factors: fn(f64) -> (f64, f64),
    conformal: bool,
}

fn polar(radius: f64, longitude: f64) -> DVec2 {
    DVec2::new(radius * longitude.sin(), -radius * longitude.cos())
}

const PROJECTIONS: [Projection; 7] = [
    // (12-1, 12-2), (12-3, 12-4)
    Projection { proj: "+proj=eqc", map: |l, p| DVec2::new(l, p), factors: |p| (1.0, 1.0 / p.cos()), conformal: false },
    // (7-1, 7-2), (7-3)
    Projection {
        proj: "+proj=merc",
        map: |l, p| DVec2::new(l, (FRAC_PI_4 + p / 2.0).tan().ln()),
        factors: |p| (1.0 / p.cos(), 1.0 / p.cos()),
        conformal: true,
    },
    // (10-1), (10-2)
    Projection {
        proj: "+proj=cea",
        map: |l, p| DVec2::new(l, p.sin()),
        factors: |p| (p.cos(), 1.0 / p.cos()),
        conformal: false,
    },
    // (21-5, 21-6), (21-7)
    Projection {
        proj: "+proj=stere",
        map: |l, p| polar(2.0 * (FRAC_PI_4 - p / 2.0).tan(), l),
        factors: |p| (2.0 / (1.0 + p.sin()), 2.0 / (1.0 + p.sin())),
        conformal: true,
    },
    // (20-3, 20-4), (20-5, 20-7)
    Projection { proj: "+proj=ortho", map: |l, p| polar(p.cos(), l), factors: |p| (p.sin(), 1.0), conformal: false },
    // (24-3, 24-4), (24-5, 24-6)
    Projection {
        proj: "+proj=laea",
        map: |l, p| polar(2.0 * (FRAC_PI_4 - p / 2.0).sin(), l),
        factors: |p| ((FRAC_PI_4 - p / 2.0).cos(), 1.0 / (FRAC_PI_4 - p / 2.0).cos()),
        conformal: false,
    },
    // (25-1, 25-2), (25-5)
    Projection {
        proj: "+proj=aeqd",
        map: |l, p| polar(FRAC_PI_2 - p, l),
        factors: |p| (1.0, (FRAC_PI_2 - p) / p.cos()),
        conformal: false,
    },
];

/// In the printed tables only: Miller's cylindrical (chapter 11) and the polar gnomonic (chapter 22).
const PRINTED_TOO: [Projection; 2] = [
    Projection {
        proj: "+proj=mill",
        map: |l, p| DVec2::new(l, (FRAC_PI_4 + 0.4 * p).tan().ln() / 0.8),
        factors: |p| (1.0 / (0.8 * p).cos(), 1.0 / p.cos()),
        conformal: false,
    },
    Projection {
        proj: "+proj=gnom",
        map: |l, p| polar(1.0 / p.tan(), l),
        factors: |p| (1.0 / p.sin().powi(2), 1.0 / p.sin()),
        conformal: false,
    },
];

/// The distortion at a place of a map.
#[derive(Clone, Copy, Debug)]
struct Tissot {
    anisotropy: f64,
    area: f64,
    /// Greatest angular deformation, degrees: sin(omega / 2) = (a - b) / (a + b), equation 4-9.
    omega: f64,
}

impl Tissot {
    fn new(s1: f64, s2: f64) -> Self {
        Self { anisotropy: s1 / s2, area: s1 * s2, omega: 2.0 * ((s1 - s2) / (s1 + s2)).asin().to_degrees() }
    }

    fn expected(projection: &Projection, latitude: f64) -> Self {
        let (h, k) = (projection.factors)(latitude);
        Self::new(h.max(k), h.min(k))
    }

    /// Share of the factors, difference of the angle in radians: all three of one size.
    fn errors(self, right: Self) -> [f64; 3] {
        [
            self.anisotropy / right.anisotropy - 1.0,
            self.area / right.area - 1.0,
            (self.omega - right.omega).to_radians(),
        ]
    }
}

const NAMES: [&str; 3] = ["anisotropy", "area scale", "angular deformation"];

fn on_sphere(longitude: f64, latitude: f64) -> DVec3 {
    let ((sl, cl), (sp, cp)) = (longitude.sin_cos(), latitude.sin_cos());
    DVec3::new(cp * cl, cp * sl, sp)
}

/// The lower and the upper triangle of the cell of `size` radians around a latitude.
fn cell(projection: &Projection, latitude: f64, size: f64) -> [Tissot; 2] {
    let longitude = 10f64.to_radians();
    let corner = |i: f64, j: f64| (longitude + i * size, latitude + j * size);
    let corners = [corner(-0.5, -0.5), corner(0.5, -0.5), corner(0.5, 0.5), corner(-0.5, 0.5)];
    [[0, 1, 2], [0, 2, 3]].map(|triangle: [usize; 3]| {
        let p = triangle.map(|i| on_sphere(corners[i].0, corners[i].1));
        let q = triangle.map(|i| (projection.map)(corners[i].0, corners[i].1));
        let (s1, s2) = Jacobian::try_new(p, q, DVec2::ONE).expect("cells have area").singular_values();
        Tissot::new(s1, s2)
    })
}

fn mean([a, b]: [Tissot; 2]) -> Tissot {
    Tissot {
        anisotropy: (a.anisotropy + b.anisotropy) / 2.0,
        area: (a.area + b.area) / 2.0,
        omega: (a.omega + b.omega) / 2.0,
    }
}

/// 0 to 75 degrees. At 0 the orthographic polar aspect degenerates (s2 = 0) and has no anisotropy.
fn latitudes(projection: &Projection) -> impl Iterator<Item = f64> + use<> {
    let first = if projection.proj == "+proj=ortho" { 15 } else { 0 };
    (first..=75).step_by(15).map(f64::from)
}

#[test]
fn the_factors_are_snyders_at_every_tabulated_latitude() {
    for projection in &PROJECTIONS {
        for degrees in latitudes(projection) {
            let latitude = degrees.to_radians();
            let right = Tissot::expected(projection, latitude);
            let errors = mean(cell(projection, latitude, 0.01f64.to_radians())).errors(right);
            for (index, error) in errors.into_iter().enumerate() {
                // Where both factors are one, what is measured is never below it: an error of first order stays.
                let limit = if projection.conformal && index != 1 { 5e-4 } else { 1e-6 };
                assert!(error.abs() < limit, "{} at {degrees}, {}: {error:e}", projection.proj, NAMES[index]);
            }
        }
    }
}

/// Halving the cells. One triangle has its side along a parallel half a cell off the middle, where the scale along the
/// parallel is another: an error of first order, of opposite sign in the other triangle, so that of their mean the
/// second order is left. Exceptions, by the same argument: where the scale along the parallel does not change with
/// latitude one triangle is of second order too; and on a conformal map anisotropy and angle, being at their least
/// possible value, err to the same side in both triangles, so that their mean stays of first order.
#[test]
fn halving_the_cells_reduces_the_error_at_its_order() {
    let mut judged = [0; 3];
    for projection in &PROJECTIONS {
        for degrees in latitudes(projection) {
            let latitude = degrees.to_radians();
            let right = Tissot::expected(projection, latitude);
            let sizes = [0.5f64, 0.25].map(f64::to_radians);
            let one = sizes.map(|size| cell(projection, latitude, size)[0].errors(right));
            let both = sizes.map(|size| mean(cell(projection, latitude, size)).errors(right));
            let k = |p: f64| (projection.factors)(p).1;
            let changes = (k(latitude + 1e-4) - k(latitude - 1e-4)).abs() > 1e-6;
            for index in 0..3 {
                let touches_least = projection.conformal && index != 1;
                let first = if changes || (touches_least && degrees > 0.0) { 1.0 } else { 2.0 };
                let second = if touches_least { first } else { 2.0 };
                for (what, errors, order) in [("one triangle", one, first), ("both", both, second)] {
                    let [coarse, fine] = errors.map(|errors| errors[index].abs());
                    // An area that every cell keeps exactly, or an error near the doubles' own, has no order.
                    if coarse < 1e-9 {
                        continue;
                    }
                    let measured = (coarse / fine).log2();
                    let name = format!("{} at {degrees}, {}, {what}", projection.proj, NAMES[index]);
                    assert!((measured - order).abs() < 0.1, "{name}: order {measured} instead of {order}");
                    judged[index] += 1;
                }
            }
        }
    }
    println!("orders judged: {judged:?}");
    assert!(judged.iter().all(|&count| count > 70), "{judged:?}");
}

fn find<'a>(all: impl IntoIterator<Item = &'a Projection>, name: &str) -> &'a Projection {
    let first = name.split_whitespace().next();
    all.into_iter().find(|one| first == Some(one.proj)).unwrap_or_else(|| panic!("{name} is not among ours"))
}

#[test]
fn measured_cells_agree_with_another_library() {
    let table: Value = serde_json::from_str(include_str!("../reference/tissot.json")).unwrap();
    let (mut compared, mut measured) = (0, 0);
    for row in table["projections"].as_array().unwrap() {
        let name = row["proj"].as_str().unwrap();
        let projection = find(&PROJECTIONS, name);
        for line in row["rows"].as_array().unwrap() {
            let degrees = line["lat"].as_f64().unwrap();
            let (h, k) = (projection.factors)(degrees.to_radians());
            for (key, ours) in [("h", h), ("k", k)] {
                let Some(theirs) = line["proj"][key].as_f64() else { continue };
                assert!((ours - theirs).abs() < 1e-7 * theirs.max(1.0), "{name} {degrees} {key}: {ours} {theirs}");
                compared += 1;
            }
            if h.min(k) < 1e-9 {
                continue;
            }
            let both = mean(cell(projection, degrees.to_radians(), 0.01f64.to_radians()));
            let theirs = |key: &str| line["proj"][key].as_f64().unwrap();
            assert!((both.area / theirs("area_scale") - 1.0).abs() < 1e-6, "{name} at {degrees}: {both:?}");
            let slack = if projection.conformal { 0.03 } else { 1e-4 };
            assert!((both.omega - theirs("omega_deg")).abs() < slack, "{name} at {degrees}: {both:?}");
            // The same triangles, measured by numpy: their singular values themselves.
            for (size, values) in line["triangulated"].as_object().unwrap() {
                let size = size.trim_end_matches("deg").parse::<f64>().unwrap().to_radians();
                for (index, ours) in cell(projection, degrees.to_radians(), size).into_iter().enumerate() {
                    let [s1, s2] = ["sigma1", "sigma2"].map(|key| values[key][index].as_f64().unwrap().abs());
                    assert!(support::close(ours.anisotropy, s1 / s2, 1e-7), "{name} {degrees} {size}: {ours:?}");
                    assert!(support::close(ours.area, s1 * s2, 1e-7), "{name} {degrees} {size}: {ours:?}");
                    measured += 1;
                }
            }
        }
    }
    assert!(compared > 60 && measured > 200, "{compared}, {measured}");
}

/// Tables 7, 14 and 21 as printed: what is measured must round to them, to half a unit of the last digit.
#[test]
fn measured_cells_agree_with_the_printed_tables() {
    let table: Value = serde_json::from_str(include_str!("../reference/snyder_tables.json")).unwrap();
    let misprints = table["disagreements"].as_array().unwrap();
    let (mut compared, mut skipped) = (0, 0);
    for part in table["tables"].as_array().unwrap() {
        let projection = find(PROJECTIONS.iter().chain(&PRINTED_TOO), part["proj"].as_str().unwrap());
        for row in part["rows"].as_array().unwrap() {
            let degrees: f64 = row["lat"].as_str().unwrap().parse().unwrap();
            let latitude = degrees.to_radians();
            let both = mean(cell(projection, latitude, 0.01f64.to_radians()));
            let (h, k) = (projection.factors)(latitude);
            let (larger, smaller) = ((both.area * both.anisotropy).sqrt(), (both.area / both.anisotropy).sqrt());
            // A conformal map's one factor is the root of its area scale; of the others the formula decides which is
            // which.
            let scale = |is_larger: bool| match (projection.conformal, is_larger) {
                (true, _) => both.area.sqrt(),
                (false, true) => larger,
                (false, false) => smaller,
            };
            let plane = (projection.map)(0.0, latitude);
            for (column, printed) in row.as_object().unwrap() {
                let printed = printed.as_str().unwrap();
                let Ok(value) = printed.parse::<f64>() else { continue };
                let ours = match column.as_str() {
                    "lat" => continue,
                    "y" => plane.y,
                    "radius" => plane.length(),
                    // At the pole cells have no sides along a parallel; at the horizon of the orthographic they fold.
                    _ if degrees == 90.0 || h.min(k) < 1e-9 => {
                        skipped += 1;
                        continue;
                    }
                    "h" => scale(h >= k),
                    "k" => scale(k >= h),
                    "omega" => both.omega,
                    other => panic!("no such column: {other}"),
                };
                // Known misprints are checked against the formula.
                let misprint = misprints.iter().find(|known| {
                    known["projection"] == part["projection"]
                        && known["lat"].as_f64() == Some(degrees)
                        && known["column"] == column.as_str()
                });
                let decimals = printed.split_once('.').map_or(0, |(_, digits)| digits.len() as i32);
                let (value, half_unit) = match misprint {
                    Some(known) => (known["computed"].as_f64().unwrap(), 0.0),
                    None => (value, 0.5 * 0.1f64.powi(decimals)),
                };
                let allowed = half_unit + 2e-6 * value.abs();
                let place = format!("{} {} at {degrees}, {column}", part["table"], part["projection"]);
                // Where both factors are one (Miller at the equator), the angle is of first order.
                let allowed = if h == k && column == "omega" { allowed + 0.03 } else { allowed };
                assert!((ours - value).abs() <= allowed, "{place}: {ours} instead of {printed}");
                compared += 1;
            }
        }
    }
    println!("{compared} printed values compared, {skipped} at poles and horizons left out");
    assert!(compared > 300, "{compared}");
}
