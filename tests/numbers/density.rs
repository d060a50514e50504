//! Density factor: what a shell's density is held against, by object, group or material; closed forms.

use crate::support::{close, report_with};
use gridproof::brief::Brief;
use gridproof::findings::{Finding, FindingKind, Report, Severity};

/// Unit squares in a row, each with its names and the side of its square on the sheet.
fn squares(rows: &[(&str, f64)]) -> String {
    let (mut text, mut u) = (String::new(), 0.0);
    for (index, (names, side)) in rows.iter().enumerate() {
        text += names;
        for (x, y) in [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)] {
            text += &format!("v {x} {y} {index}\nvt {} {}\n", u + side * x, side * y);
        }
        text += "f -4/-4 -3/-3 -2/-2 -1/-1\n";
        u += side * 1.25;
    }
    text
}

fn with(density_factor: &[(&str, f64)], target: Option<f64>) -> Brief {
    let mut brief = Brief::default();
    brief.density_factor.extend(density_factor.iter().map(|&(name, factor)| (name.to_owned(), factor)));
    brief.density.target_px_per_unit = target;
    brief
}

fn density(report: &Report) -> Vec<&Finding> {
    report.findings.iter().filter(|finding| finding.kind == FindingKind::Density).collect()
}

#[test]
fn a_part_with_the_emphasis_it_was_meant_to_have_moves_nothing() {
    let text = squares(&[("o plate\n", 0.25), ("o body\n", 0.125), ("o handle\n", 0.125)]);
    let report = report_with(&text, &with(&[("plate", 2.0)], None));
    // Without density_factor the plate would have the body's density: that is the reference, the mean stays what it is.
    assert!(close(report.density.reference.unwrap(), 256.0, 1e-12));
    assert!(close(report.density.mean_px_per_unit.unwrap(), 256.0 * 2f64.sqrt(), 1e-12));
    assert!(report.shells.iter().all(|shell| close(shell.density_ratio.unwrap(), 1.0, 1e-12)));
    assert!(density(&report).is_empty());
    // Without a brief that says so, all three are off.
    assert_eq!(density(&report_with(&text, &Brief::default())).len(), 3);
}

#[test]
fn parts_are_listed_the_furthest_from_what_they_should_have_first() {
    let text = squares(&[("o plate\n", 0.125), ("o body\n", 0.125), ("o handle\n", 0.03125), ("o body\n", 0.125)]);
    let report = report_with(&text, &with(&[("plate", 2.0)], Some(256.0)));
    let parts: Vec<_> = report.density.parts.iter().map(|part| (part.name.as_str(), part.factor)).collect();
    assert_eq!(parts, [("handle", 0.25), ("plate", 0.5), ("body", 1.0)]);
    let plate = &report.density.parts[1];
    assert_eq!((plate.surface, plate.density_px_per_unit, plate.density_factor), (1.0, 256.0, 2.0));
    assert_eq!(report.density.parts[2].surface, 2.0);
    let found = density(&report);
    assert_eq!(found.len(), 2);
    let plate = found.iter().find(|finding| finding.shells == [0]).unwrap();
    assert_eq!((plate.number.value, plate.limit.as_ref().unwrap().value), (256.0, 512.0));
    assert_eq!(plate.severity, Severity::MustFix);
    assert_eq!(plate.advice, "Scale the shell on the sheet by 2.00.");
    let handle = found.iter().find(|finding| finding.shells == [2]).unwrap();
    assert!(handle.advice.starts_with("Scale the shell on the sheet by 4.00, unless"), "{}", handle.advice);
}

#[test]
fn one_name_with_two_emphases_is_two_rows_and_two_findings() {
    let text = squares(&[("o lamp\nusemtl brass\n", 0.125), ("usemtl glass\n", 0.125)]);
    let report = report_with(&text, &with(&[("glass", 4.0)], Some(512.0)));
    let rows: Vec<_> =
        report.density.parts.iter().map(|part| (part.name.as_str(), part.density_factor, part.factor)).collect();
    assert_eq!(rows, [("lamp", 4.0, 0.125), ("lamp", 1.0, 0.5)]);
    let mut limits: Vec<_> = density(&report).iter().map(|finding| finding.limit.as_ref().unwrap().value).collect();
    limits.sort_by(f64::total_cmp);
    assert_eq!(limits, [512.0, 2048.0]);
}

#[test]
fn a_name_that_the_file_does_not_have_is_a_note_that_lists_what_it_has() {
    let text = squares(&[("o plate\ng front\nusemtl brass\n", 0.25)]);
    let report = report_with(&text, &with(&[("plaque", 2.0), ("front", 1.0)], None));
    let found = density(&report);
    assert_eq!(found.len(), 1);
    assert_eq!((found[0].severity, found[0].id.as_str()), (Severity::Info, "density_factor"));
    assert_eq!(found[0].title, "Nothing in the file is called plaque");
    assert_eq!(found[0].advice, "Correct the names in the brief. The file has brass, front, plate.");
}
