//! A fine sphere whose UVs are a map projection must measure that projection's Tissot factors.
//!
//! Formulas: J. P. Snyder, *Map Projections: A Working Manual*, USGS Professional Paper 1395, 1987 (equations beside each
//! row). The table `../shared/reference/tissot.json` (PROJ 9.5.1 through pyproj 3.7.2) is held against the same numbers
//! where it is there.
#![allow(clippy::unwrap_used)]

mod support;

use glam::{DVec2, DVec3};
use gridproof::measure::jacobian::Jacobian;
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};

struct Projection {
    /// As in the table.
    proj: &'static str,
    /// Longitude and latitude to the plane.
    map: fn(f64, f64) -> DVec2,
    /// Scale along meridian and parallel at a latitude.
    factors: fn(f64) -> (f64, f64),
}

fn polar(radius: f64, longitude: f64) -> DVec2 {
    DVec2::new(radius * longitude.sin(), -radius * longitude.cos())
}

const PROJECTIONS: [Projection; 7] = [
    // (12-1, 12-2), (12-3, 12-4)
    Projection { proj: "+proj=eqc", map: |l, p| DVec2::new(l, p), factors: |p| (1.0, 1.0 / p.cos()) },
    // (7-1, 7-2), (7-3)
    Projection {
        proj: "+proj=merc",
        map: |l, p| DVec2::new(l, (FRAC_PI_4 + p / 2.0).tan().ln()),
        factors: |p| (1.0 / p.cos(), 1.0 / p.cos()),
    },
    // (10-1), (10-2)
    Projection { proj: "+proj=cea", map: |l, p| DVec2::new(l, p.sin()), factors: |p| (p.cos(), 1.0 / p.cos()) },
    // (21-5, 21-6), (21-7)
    Projection {
        proj: "+proj=stere",
        map: |l, p| polar(2.0 * (FRAC_PI_4 - p / 2.0).tan(), l),
        factors: |p| (2.0 / (1.0 + p.sin()), 2.0 / (1.0 + p.sin())),
    },
    // (20-3, 20-4), (20-5, 20-7)
    Projection { proj: "+proj=ortho", map: |l, p| polar(p.cos(), l), factors: |p| (p.sin(), 1.0) },
    // (24-3, 24-4), (24-5, 24-6)
    Projection {
        proj: "+proj=laea",
        map: |l, p| polar(2.0 * (FRAC_PI_4 - p / 2.0).sin(), l),
        factors: |p| ((FRAC_PI_4 - p / 2.0).cos(), 1.0 / (FRAC_PI_4 - p / 2.0).cos()),
    },
    // (25-1, 25-2), (25-5)
    Projection {
        proj: "+proj=aeqd",
        map: |l, p| polar(FRAC_PI_2 - p, l),
        factors: |p| (1.0, (FRAC_PI_2 - p) / p.cos()),
    },
];

fn on_sphere(longitude: f64, latitude: f64) -> DVec3 {
    let ((sl, cl), (sp, cp)) = (longitude.sin_cos(), latitude.sin_cos());
    DVec3::new(cp * cl, cp * sl, sp)
}

/// Mean over the two triangles of the cell of `size` radians around a latitude of anisotropy and area scale.
fn cell(projection: &Projection, latitude: f64, size: f64) -> (f64, f64) {
    let longitude = 10f64.to_radians();
    let corner = |i: f64, j: f64| (longitude + i * size, latitude + j * size);
    let corners = [corner(-0.5, -0.5), corner(0.5, -0.5), corner(0.5, 0.5), corner(-0.5, 0.5)];
    let measure = |[a, b, c]: [usize; 3]| {
        let p = [a, b, c].map(|i| on_sphere(corners[i].0, corners[i].1));
        let q = [a, b, c].map(|i| (projection.map)(corners[i].0, corners[i].1));
        let (s1, s2) = Jacobian::try_new(p, q, DVec2::ONE).expect("cells have area").singular_values();
        (s1 / s2, s1 * s2)
    };
    let (one, two) = (measure([0, 1, 2]), measure([0, 2, 3]));
    ((one.0 + two.0) / 2.0, (one.1 + two.1) / 2.0)
}

/// At 0 degrees the orthographic polar aspect degenerates (s2 = 0) and the table's values are limits.
fn latitudes(projection: &Projection) -> impl Iterator<Item = f64> + use<> {
    let first = if projection.proj == "+proj=ortho" { 15 } else { 0 };
    (first..=75).step_by(15).map(f64::from)
}

#[test]
fn anisotropy_and_area_scale_are_snyders_and_converge() {
    for projection in &PROJECTIONS {
        for degrees in latitudes(projection) {
            let latitude = degrees.to_radians();
            let (h, k) = (projection.factors)(latitude);
            let (ratio, area) = (h.max(k) / h.min(k), h * k);
            let error = |size: f64| {
                let (measured_ratio, measured_area) = cell(projection, latitude, size);
                ((measured_ratio / ratio - 1.0).abs(), (measured_area / area - 1.0).abs())
            };
            let fine = error(0.25f64.to_radians());
            assert!(fine.0 < 1e-2 && fine.1 < 1e-4, "{} at {degrees}: {fine:?}", projection.proj);
            let (coarse, half) = (error(1f64.to_radians()), error(0.5f64.to_radians()));
            // The two triangles straddle the value: their mean is of second order for the area scale; for anisotropy,
            // which is never below 1, of first order where the map is conformal.
            if coarse.0 > 1e-6 {
                let order = (coarse.0 / half.0).log2();
                assert!((0.9..2.2).contains(&order), "{} at {degrees}: order {order}", projection.proj);
            }
            if coarse.1 > 1e-7 {
                let order = (coarse.1 / half.1).log2();
                assert!((1.8..2.2).contains(&order), "{} at {degrees}: order {order}", projection.proj);
            }
        }
    }
}

#[test]
fn closed_forms_agree_with_the_published_table() {
    let Some(path) = support::outside("reference/tissot.json") else { return };
    let table: serde_json::Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    let mut compared = 0;
    for row in table["projections"].as_array().unwrap() {
        let name = row["proj"].as_str().unwrap();
        let projection = PROJECTIONS
            .iter()
            .find(|projection| name.split_whitespace().next() == Some(projection.proj))
            .unwrap_or_else(|| panic!("{name} is not among ours"));
        for line in row["rows"].as_array().unwrap() {
            let degrees = line["lat"].as_f64().unwrap();
            let (h, k) = (projection.factors)(degrees.to_radians());
            for (key, ours) in [("h", h), ("k", k)] {
                let Some(theirs) = line["proj"][key].as_f64() else { continue };
                assert!((ours - theirs).abs() < 1e-7 * theirs.max(1.0), "{name} {degrees} {key}: {ours} {theirs}");
                compared += 1;
            }
        }
    }
    assert!(compared > 60, "{compared}");
}
