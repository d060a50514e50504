//! Coordinates and limits at the ends of what a double holds: every number of a report is finite, in every format. What
//! is beyond the reader's range is a warning about the file.

use gridproof::brief::{Brief, Density, Padding, Seams, Stretch, TextSafety};
use gridproof::compare::{Version, compare};
use gridproof::draw::{SheetOptions, data_url, sheet_svg};
use gridproof::model::DiagnosticKind;
use gridproof::report::{Pictures, html, shots, text};
use gridproof::{CheckError, Examined};
use std::fmt::Write as _;

const ENDS: [f64; 12] = [0.0, 5e-324, 1e-300, 1e-200, 1e-160, 1e-80, 1e-30, 1.0, 1e15, 1e30, 1e200, 1e308];

/// The nearest number that a file can hold.
fn finite(value: f64) -> f64 {
    value.clamp(f64::MIN, f64::MAX)
}

/// Four strips of two quads each on one sheet: one flat, one bent, one flipped, and one that lies on the first; each
/// its own object and material. `position` and `uv` change a coordinate, given its object, its corner and its axis.
fn strips(position: impl Fn(usize, usize, usize, f64) -> f64, uv: impl Fn(usize, usize, usize, f64) -> f64) -> String {
    let mut obj = String::new();
    for object in 0..4 {
        let (flat, left) = (object != 1, object as f64 * 3.0);
        writeln!(obj, "o part{object}\nusemtl paint{object}").unwrap();
        for corner in 0..6 {
            let (along, across) = ((corner / 2) as f64, (corner % 2) as f64);
            let bend = if flat || along < 2.0 { 0.0 } else { 0.7 };
            let [x, y, z] = [left + along, across, bend];
            let v = 0.1 + 0.2 * (object % 3) as f64 + 0.1 * across;
            let u = if object == 2 { 0.8 - 0.3 * along } else { 0.1 + 0.3 * along };
            let p = |axis, value| finite(position(object, corner, axis, value));
            let q = |axis, value| finite(uv(object, corner, axis, value));
            writeln!(obj, "v {:e} {:e} {:e}", p(0, x), p(1, y), p(2, z)).unwrap();
            writeln!(obj, "vt {:e} {:e}", q(0, u), q(1, v)).unwrap();
        }
        for quad in 0..2 {
            let first = object * 6 + quad * 2 + 1;
            let corners = [first, first + 2, first + 3, first + 1].map(|corner| format!("{corner}/{corner}"));
            writeln!(obj, "f {}", corners.join(" ")).unwrap();
        }
    }
    obj
}

/// Fails if a word is the name of a non-finite number.
fn assert_finite(what: &str, told: &str) {
    let none = ["nan", "inf", "infinity"];
    let mut lines = told.lines().filter(|line| {
        line.split(|letter: char| !letter.is_alphanumeric())
            .any(|word| none.contains(&word.to_ascii_lowercase().as_str()))
    });
    if let Some(line) = lines.next() {
        panic!("{what}: {}", line.chars().take(600).collect::<String>());
    }
}

/// Checks every format of the report on a model; returns the results if anything can be measured.
fn told(what: &str, obj: &str, brief: &Brief) -> Option<Examined> {
    let examined = match gridproof::examine(&mut obj.as_bytes(), "test.obj", None, brief, &mut |_| ()) {
        Ok(examined) => examined,
        Err(CheckError::Unreadable(failure)) => {
            assert!(failure.diagnostics.count(DiagnosticKind::BadNumber) > 0, "{what}: {failure:?}");
            return None;
        }
        Err(error) => panic!("{what}: {error}"),
    };
    let Examined { model, measures, report } = &examined;
    assert_finite(&format!("{what}, the report"), &format!("{report:#?}"));
    assert_finite(&format!("{what}, text"), &text("test.obj", report));
    assert_finite(&format!("{what}, worst"), &report.worst_text());
    let images = shots(report).iter().map(|_| data_url("image/png", b"png")).collect();
    let page = html(report, &Pictures::new(model, measures, brief, report, images), brief);
    assert_finite(&format!("{what}, page"), &page.replace('>', ">\n"));
    if let Ok(svg) =
        sheet_svg(model, measures, brief, &SheetOptions { inner_edges: true, flags: true, ..SheetOptions::default() })
    {
        assert_finite(&format!("{what}, sheet"), &svg.replace('>', ">\n"));
    }
    Some(examined)
}

#[test]
fn models_and_sheets_of_any_size_give_finite_numbers() {
    let brief = Brief::default();
    for p in ENDS {
        for q in ENDS {
            let beyond = [p, q].iter().any(|scale| *scale > 1e30);
            let examined = told(&format!("{p:e}, {q:e}"), &strips(|_, _, _, x| x * p, |_, _, _, x| x * q), &brief);
            if let (Some(examined), true) = (examined, beyond) {
                let warnings = examined.report.warning_counts.get(&DiagnosticKind::BadNumber);
                assert!(warnings.is_some_and(|count| *count > 0), "{p:e}, {q:e} is said to be out of range");
            }
        }
    }
}

#[test]
fn single_corners_objects_and_axes_of_any_size_give_finite_numbers() {
    let brief = Brief::default();
    for p in ENDS {
        for q in ENDS {
            let what = |kind: &str| format!("{kind} {p:e}, {q:e}");
            let corner =
                |scale: f64| move |object, corner, _, x: f64| if (object, corner) == (0, 3) { scale } else { x };
            told(&what("corners"), &strips(corner(p), corner(q)), &brief);
            let object = |scale: f64| move |object, _, _, x: f64| if object < 2 { x * scale } else { x };
            told(&what("objects"), &strips(object(p), object(q)), &brief);
            let axis = |scale: f64| move |_, _, axis, x: f64| if axis == 1 { x * scale } else { x };
            told(&what("axes"), &strips(axis(p), axis(q)), &brief);
            let far = |scale: f64| move |_, _, _, x: f64| x + scale;
            told(&what("far"), &strips(far(p), far(q)), &brief);
        }
    }
}

#[test]
fn limits_of_any_size_give_finite_numbers() {
    for end in ENDS {
        for small in [end, 1.0 / end] {
            let mut brief = Brief {
                density: Density { target_px_per_unit: Some(small), tolerance_percent: small },
                padding: Padding { between_px: Some(end), border_px: Some(small) },
                seams: Seams { max_front_over_diagonal: Some(small), ..Seams::default() },
                stretch: Stretch { max_anisotropy: 1.0 + small, must_fix_anisotropy: 1.0 + end, ..Stretch::default() },
                text: TextSafety { groups: vec!["part0".to_owned(), "part2".to_owned()] },
                ..Brief::default()
            };
            brief.density_factor = [("part0".to_owned(), end), ("part1".to_owned(), 1.0 / end)].into();
            if brief.validate().is_ok() {
                for scale in [1e-30, 1.0, 1e30] {
                    told(
                        &format!("limits {end:e}, {scale:e}"),
                        &strips(|_, _, _, x| x * scale / 11.0, |_, _, _, x| x),
                        &brief,
                    );
                }
            }
        }
    }
}

#[test]
fn versions_of_any_size_are_compared() {
    let brief = Brief::default();
    let versions: Vec<Version> = ENDS
        .iter()
        .filter_map(|scale| told("version", &strips(|_, _, _, x| x * scale, |_, _, _, x| x), &brief))
        .map(|Examined { model, report, .. }| Version::new(&report, model.bounds()))
        .collect();
    for old in &versions {
        for new in &versions {
            assert_finite("comparison", &format!("{:?}", compare(old, new)));
        }
    }
}
