//! Density factor: what a shell's density is checked against, by object, group or material; closed forms.

use crate::support::{close, report_with};
use gridproof::brief::Brief;
use gridproof::findings::{Finding, FindingKind, Severity};
use gridproof::report::Report;

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
fn a_part_with_its_intended_density_factor_changes_nothing() {
    let text = squares(&[("o plate\n", 0.25), ("o body\n", 0.125), ("o handle\n", 0.125)]);
    let report = report_with(&text, &with(&[("plate", 2.0)], None));
    // Without density_factor the plate would have the body's density: that is the reference, the mean stays what it is.
    assert!(close(report.density.reference.unwrap(), 256.0, 1e-12));
    assert!(close(report.density.mean_px_per_unit.unwrap(), 256.0 * 2f64.sqrt(), 1e-12));
    assert!(report.shells.iter().all(|shell| close(shell.density_ratio.unwrap(), 1.0, 1e-12)));
    assert!(density(&report).is_empty());
    // Without such a brief, it is the odd one.
    let report = report_with(&text, &Brief::default());
    let found = density(&report);
    assert_eq!((found.len(), found[0].id.as_str(), found[0].severity), (1, "high-0", Severity::MustFix));
    assert_eq!(found[0].title, "plate: texel density too high, 2 times what it should have");
    assert_eq!(found[0].number.text, "512 px/unit");
}

#[test]
fn parts_are_listed_by_deviation_from_their_target_density() {
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
fn only_the_one_dense_part_is_a_finding() {
    let rows = ["o a\n", "o b\n", "o c\n", "o d\n", "o e\n"].map(|name| (name, 0.0625));
    let text = squares(&[&rows[..], &[("o screw\n", 0.25)]].concat());
    let report = report_with(&text, &Brief::default());
    assert!(close(report.density.reference.unwrap(), 128.0, 1e-12));
    let found = density(&report);
    assert_eq!(found.iter().map(|finding| finding.id.as_str()).collect::<Vec<_>>(), ["high-5"]);
    assert_eq!(found[0].title, "screw: texel density too high, 4 times what it should have");
}

#[test]
fn the_reference_is_the_lower_median_by_surface_without_collapsed_shells() {
    let reference = |rows: &[(&str, f64)], more: &str| {
        report_with(&(squares(rows) + more), &Brief::default()).density.reference.unwrap()
    };
    let collapsed = "v 0 0 9\nv 9 0 9\nv 9 9 9\nvt .9 .9\nf -3/-1 -2/-1 -1/-1\n";
    // Half of the surface is reached with the first of two; shells without area on the sheet are not counted.
    assert!(close(reference(&[("", 0.25), ("", 0.125)], ""), 256.0, 1e-12));
    assert!(close(reference(&[("", 0.25), ("", 0.125), ("", 0.0625)], collapsed), 256.0, 1e-12));
    assert!(close(reference(&[("", 0.25), ("", 0.25), ("", 0.0625)], collapsed), 512.0, 1e-12));
}

#[test]
fn card_and_table_agree_on_the_density() {
    // Two shells of the handle are off, in two ways, and one is not.
    let text =
        squares(&[("o body\n", 0.125), ("", 0.125), ("", 0.125), ("o handle\n", 0.0625), ("", 0.125), ("", 0.25)]);
    let report = report_with(&text, &Brief::default());
    let rows: Vec<_> = report.density.parts.iter().map(|p| (p.name.as_str(), p.factor, &p.shells[..])).collect();
    assert_eq!(
        rows,
        [
            ("handle", 0.5, &[3][..]),
            ("handle", 2.0, &[5][..]),
            ("body", 1.0, &[0, 1, 2][..]),
            ("handle", 1.0, &[4][..])
        ]
    );
    for finding in density(&report) {
        let row = report.density.parts.iter().find(|part| part.shells == finding.shells).unwrap();
        assert_eq!(finding.number.value, row.density_px_per_unit);
        assert_eq!(finding.number.value / finding.limit.as_ref().unwrap().value, row.factor);
    }
    assert_eq!(density(&report).len(), 2);
}

#[test]
fn surface_not_judged_for_stretch_is_reported() {
    // Twice as wide as high on the sheet: at sqrt 2 of the density of the others.
    let mut text = squares(&[("o body\n", 0.125), ("o drum\n", 0.125), ("o lid\n", 0.125)]);
    let (at, end) = (0.5, 0.75);
    text += "o dial\nv 0 0 3\nv 1 0 3\nv 1 1 3\nv 0 1 3\n";
    text += &format!("vt {at} 0\nvt {end} 0\nvt {end} .125\nvt {at} .125\nf -4/-4 -3/-3 -2/-2 -1/-1\n");
    let report = report_with(&text, &Brief::default());
    let found = density(&report);
    assert_eq!(found.len(), 1);
    assert_eq!((found[0].severity, found[0].id.as_str()), (Severity::Info, "density-not-judged"));
    assert_eq!(found[0].title, "dial: texel density not checked, because of the stretch");
    assert_eq!((found[0].number.text.as_str(), &found[0].shells[..]), ("1.41 of the reference", &[3][..]));
    // A given target is checked in any case.
    let found_with_target = report_with(&text, &with(&[], Some(256.0)));
    assert_eq!(density(&found_with_target)[0].severity, Severity::MustFix);
}

#[test]
fn one_name_with_two_density_factors_is_two_rows_and_two_findings() {
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
fn an_unknown_name_is_an_info_that_lists_the_files_names() {
    let text = squares(&[("o plate\ng front\nusemtl brass\n", 0.25)]);
    let report = report_with(&text, &with(&[("plaque", 2.0), ("front", 1.0)], None));
    let found = density(&report);
    assert_eq!(found.len(), 1);
    assert_eq!((found[0].severity, found[0].id.as_str()), (Severity::Info, "density_factor"));
    assert_eq!(found[0].title, "Nothing in the file is called plaque");
    assert_eq!(found[0].advice, "Correct the names in the brief. The file has brass, front, plate.");
}
