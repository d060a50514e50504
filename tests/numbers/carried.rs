//! The report on a model read from a carried link against the report on its file: every number of the JSON to 1e-4, and
//! the same findings and verdict. The encoder checks the same with its own arithmetic (`carried::difference`); here it
//! is checked number by number on the JSON.

use crate::lantern;
use crate::support;
use gridproof::Examined;
use gridproof::brief::Brief;
use gridproof::carried::{SAME, decode, encode, obj_text, to_base64url, unwrap, wrap};
use gridproof::measure::Measures;
use gridproof::model::Model;
use gridproof::report::Report;
use serde_json::Value;
use std::io::Read;

/// Texts, which repeat rounded numbers, and which of equally near places a gap is reported at.
const NOT_COMPARED: [&str; 6] = ["title", "advice", "text", "where", "at_a", "at_b"];

/// Where numbers are smaller than this, they are compared as if they were this: a hundredth of a whole, a texel, ten degrees,
/// a tenth of the sheet.
fn least(key: &str) -> f64 {
    match key {
        "harm" | "coverage" | "front_over_diagonal" | "exposure" | "sampling_error" | "overlap_excess" => 0.01,
        key if key.contains("share") => 0.01,
        "px" | "padding_between_px" | "padding_border_px" => 1.0,
        "tilt_deg" => 10.0,
        "bounds_uv" | "region_uv" => 0.1,
        _ => 0.0,
    }
}

#[derive(Default)]
struct Held {
    compared: usize,
    wrong: Vec<String>,
}

impl Held {
    /// `least_here`: of the list or object that holds both.
    fn hold(&mut self, path: &str, a: &Value, b: &Value, least_here: f64) {
        match (a, b) {
            (Value::Object(a), Value::Object(b)) => {
                if a.keys().ne(b.keys()) {
                    self.wrong.push(format!("{path}: other keys"));
                }
                let radius = a.get("radius").and_then(Value::as_f64);
                for (key, value) in a.iter().filter(|(key, _)| !NOT_COMPARED.contains(&key.as_str())) {
                    let unit = a.get("unit").and_then(Value::as_str).map_or("", |unit| unit);
                    let unit = match unit {
                        "share" => 0.01,
                        "px" => 1.0,
                        "deg" => 10.0,
                        _ => 0.0,
                    };
                    let least = radius.filter(|_| key != "radius").unwrap_or(least(key).max(unit));
                    self.hold(&format!("{path}.{key}"), value, &b[key], least);
                }
            }
            (Value::Array(a), Value::Array(b)) => {
                if a.len() != b.len() {
                    self.wrong.push(format!("{path}: {} entries instead of {}", b.len(), a.len()));
                }
                a.iter()
                    .zip(b)
                    .enumerate()
                    .for_each(|(i, (a, b))| self.hold(&format!("{path}[{i}]"), a, b, least_here));
            }
            (Value::Number(a), Value::Number(b)) => {
                self.compared += 1;
                let (a, mut b) = (a.as_f64().unwrap(), b.as_f64().unwrap());
                if path.ends_with("tilt_deg") && (a - b).abs() > 180.0 {
                    b += 360f64.copysign(a - b);
                }
                let off = (a - b).abs();
                if off > SAME * a.abs().max(b.abs()).max(least_here) || off.is_nan() {
                    self.wrong.push(format!("{path}: {b} instead of {a}"));
                }
            }
            _ if a == b => {}
            _ => self.wrong.push(format!("{path}: {b} instead of {a}")),
        }
    }
}

/// Sends a model by link and compares the reports on both sides. Returns bytes per triangle.
fn sent(name: &str, source: &mut dyn Read) -> f64 {
    let brief = Brief::default();
    let Examined { model, measures, report } = gridproof::examine(source, name, None, &brief, &mut |_| ()).unwrap();
    let encoded = encode(&model, &measures, &report, &brief).unwrap_or_else(|refused| panic!("{name}: {refused}"));
    let bytes = wrap(&encoded.model, b"{}").unwrap();
    let parcel = unwrap(&to_base64url(&bytes)).unwrap();
    assert_eq!(parcel.review, b"{}");
    let carried = decode(&parcel).unwrap();
    assert_eq!(carried.steps, encoded.steps);
    let file = obj_text(&carried.document);
    let there = Model::new(carried.document);
    let other = Report::new(&there, &Measures::new(&there, &brief), &brief, carried.file);
    let mut held = Held::default();
    let [mut a, mut b] = [&report, &other].map(|report| serde_json::to_value(report).unwrap());
    // Of several warnings of a kind only the first is carried.
    for value in [&mut a, &mut b] {
        value.as_object_mut().unwrap().remove("warnings");
    }
    held.hold("report", &a, &b, 0.0);
    assert!(held.wrong.is_empty(), "{name}: {} differ\n{}", held.wrong.len(), held.wrong.join("\n"));
    assert!(held.compared > 50, "{name}: only {} numbers", held.compared);
    let first_warnings = |report: &Report| {
        let mut kinds: Vec<_> = report.warnings.iter().map(|warning| (warning.kind, warning.line)).collect();
        kinds.dedup_by_key(|warning| warning.0);
        kinds
    };
    assert!(first_warnings(&other).iter().all(|warning| first_warnings(&report).contains(warning)));
    assert_eq!(gridproof::carried::difference(&report, &other), None);

    // Saved as a file it has the same report again, but for what only the first file had.
    let again = gridproof::check(&mut file.as_bytes(), name, None, &brief, &mut |_| ()).unwrap();
    assert_eq!(again.verdict, report.verdict);
    assert_eq!((again.counts.shells, again.counts.triangles), (report.counts.shells, report.counts.triangles));

    let triangles = model.triangle_count();
    let each = bytes.len() as f64 / triangles as f64;
    let quads = (0..model.document.face_count()).filter(|face| model.document.face(*face).len() == 4).count();
    println!(
        "{name:<26} {triangles:>6} triangles, {:>3.0} % of faces quads, {each:>5.2} bytes a triangle, link of {:>7} characters, steps {} \
         and {}, {} numbers",
        100.0 * quads as f64 / model.document.face_count() as f64,
        to_base64url(&bytes).len(),
        encoded.steps.position.size(),
        encoded.steps.uv.size(),
        held.compared
    );
    each
}

#[test]
fn the_demo_round_trips_in_less_than_three_bytes_a_triangle() {
    for (name, model) in [("draft.obj", lantern::draft()), ("revised.obj", lantern::revised())] {
        let each = sent(name, &mut model.unwrap().obj.as_bytes());
        assert!(each < 3.0, "{each}");
    }
}

#[test]
fn lanterns_with_random_faults_round_trip() {
    for seed in [1, 2, 3, 5, 8] {
        let lantern = lantern::random(seed).unwrap();
        sent(&format!("random-{seed}.obj"), &mut lantern.obj.as_bytes());
    }
}

#[test]
fn real_meshes_round_trip() {
    for (name, path, _) in support::outside_meshes() {
        let each = sent(&name, &mut std::fs::File::open(path).unwrap());
        if name == "spot_quadrangulated.obj" {
            assert!(each < 5.0, "a mesh of quads takes {each} bytes a triangle");
        }
    }
}

#[test]
fn a_file_with_warnings_keeps_its_findings() {
    let text = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv nan 0 0\nvt .1 .1\nvt .9 .1\nvt .9 .9\nvt .1 .9\nf 1/1 2/2 3/3 4/4\n\
                f 1 2 9\nf 1 2 5\nf 1 2\nl 1 2\nf 1/1 2/2 3/";
    sent("warnings.obj", &mut text.as_bytes());
}
