//! Against other programs: connected components by scipy and networkx, singular values by numpy. The scripts and their
//! results are in `tests/reference/`; the shapes are built here by the same formulas.

use crate::support::{Sketch, close, report};
use glam::{DVec2, DVec3};
use gridproof::measure::flat::jacobian::Jacobian;
use serde_json::Value;

fn reference(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

fn noise(a: u64, b: u64, seed: u64) -> u64 {
    let mut x = ((a * 73_856_093) ^ (b * 19_349_663) ^ (seed * 83_492_791)) & 0xFFFF_FFFF;
    x ^= x >> 16;
    x = (x * 0x45D_9F3B) & 0xFFFF_FFFF;
    x ^ x >> 16
}

fn cut_grid([nx, ny, labels, missing, seed]: [u64; 5], triangles: bool) -> Sketch {
    let mut sketch = Sketch::default();
    for y in 0..=ny {
        for x in 0..=nx {
            // A slight bulge, so that the surface is no plane.
            sketch.positions.push([x as f64, y as f64, 0.1 * (x * y % 5) as f64]);
        }
    }
    for y in 0..ny {
        for x in 0..nx {
            let a = y * (nx + 1) + x;
            let quad = [a, a + 1, a + nx + 2, a + nx + 1];
            let cuts =
                if triangles { vec![quad[..3].to_vec(), vec![quad[0], quad[2], quad[3]]] } else { vec![quad.to_vec()] };
            for (cut, corners) in cuts.into_iter().enumerate() {
                let number = 2 * (y * nx + x) + cut as u64;
                if noise(number, 1, seed).is_multiple_of(missing) {
                    continue;
                }
                let label = noise(number, 2, seed) % labels;
                let face = corners.into_iter().map(|p| {
                    let moved = u64::from(noise(number, 100 + p, seed).is_multiple_of(40));
                    let u = 4 * (p % (nx + 1)) + label * 4 * (nx + 2) + moved;
                    sketch.uvs.push([u as f64 / 1024.0, (4 * (p / (nx + 1))) as f64 / 1024.0]);
                    (p as usize, sketch.uvs.len() - 1)
                });
                let face = face.collect();
                sketch.faces.push(face);
            }
        }
    }
    sketch
}

#[test]
fn shells_parts_and_edges_match_scipy_and_networkx() {
    let reference = reference(include_str!("../reference/shells.json"));
    let cases = reference["cases"].as_array().unwrap();
    assert!(cases.len() >= 8);
    for case in cases {
        let number = |key: &str| case[key].as_u64().unwrap();
        let triangles = case["triangles"].as_bool().unwrap();
        let sketch = cut_grid(["nx", "ny", "labels", "missing", "seed"].map(number), triangles);
        let report = report(&sketch.text());
        let name = format!("{} x {}, seed {}", number("nx"), number("ny"), number("seed"));
        assert_eq!(report.counts.faces as u64, number("faces"), "{name}");
        assert_eq!(u64::from(report.counts.shells), number("shells"), "{name}");
        assert_eq!(u64::from(report.counts.parts), number("parts"), "{name}");
        assert_eq!(report.counts.seam_edges as u64, number("seam_edges"), "{name}");
        assert_eq!(report.counts.open_edges as u64, number("open_edges"), "{name}");
        let sizes: Vec<u64> = report.shells.iter().map(|shell| shell.faces as u64).collect();
        let expected: Vec<u64> =
            case["shell_faces"].as_array().unwrap().iter().map(|size| size.as_u64().unwrap()).collect();
        assert_eq!(sizes, expected, "{name}");
    }
}

#[test]
fn singular_values_match_numpy() {
    let reference = reference(include_str!("../reference/svd.json"));
    let values = reference["values"].as_array().unwrap();
    assert_eq!(values.len(), 400);
    for (number, expected) in (0u64..).zip(values) {
        let unit = |index: u64| noise(number, index, 9) as f64 / 4_294_967_296.0;
        let mut p = [0, 3, 6].map(|k| DVec3::from_array([0, 1, 2].map(|i| unit(k + i) * 2.0 - 1.0)));
        let mut q = [20, 22, 24].map(|k| DVec2::new(unit(k), unit(k + 1)));
        let thin = 0.5f64.powi((number % 13) as i32);
        match number % 4 {
            1 => p[2] = p[0] + (p[1] - p[0]) * 0.5 + (p[2] - p[0]) * thin,
            3 => q[2] = q[0] + (q[1] - q[0]) * 0.5 + (q[2] - q[0]) * thin,
            _ => {}
        }
        let (s1, s2) = Jacobian::try_new(p, q, DVec2::new(2048.0, 1024.0)).unwrap().singular_values();
        let [e1, e2] = [0, 1].map(|index| expected[index].as_f64().unwrap());
        assert!(close(s1, e1, 1e-9), "{number}: s1 {s1} and {e1}");
        // The smaller is a difference of numbers as large as s1.
        assert!((s2 - e2).abs() <= 1e-9 * e2 + 1e-13 * e1, "{number}: s2 {s2} and {e2}");
    }
}
