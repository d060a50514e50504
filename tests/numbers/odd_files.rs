//! Files in which something is missing: the verdict must never be better than what is known.

use crate::support::{self, report};
use gridproof::findings::{Finding, FindingKind, Severity};
use gridproof::report::{Report, Verdict};

const SQUARE: &str =
    "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0.1 0.1\nvt 0.9 0.1\nvt 0.9 0.9\nvt 0.1 0.9\nf 1/1 2/2 3/3 4/4\n";

fn of_kind(report: &Report, kind: FindingKind) -> &Finding {
    let found: Vec<_> = report.findings.iter().filter(|finding| finding.kind == kind).collect();
    assert_eq!(found.len(), 1, "{kind:?}: {:#?}", report.findings);
    found[0]
}

fn kinds(report: &Report) -> Vec<FindingKind> {
    report.findings.iter().map(|finding| finding.kind).collect()
}

#[test]
fn a_model_without_surface_is_not_ready() {
    let line = "v 0 0 0\nv 1 0 0\nv 2 0 0\nvt 0 0\nvt 1 0\nvt 1 1\nf 1/1 2/2 3/3\n";
    let report = report(line);
    assert_eq!(report.verdict, Verdict::NotReady);
    let finding = of_kind(&report, FindingKind::NoArea);
    assert_eq!((finding.severity, finding.triangles, finding.line), (Severity::MustFix, 1, Some(7)));
    assert!(finding.title.contains("surface"), "{}", finding.title);
    assert!(finding.number.value.is_finite() && finding.harm.is_finite());
}

#[test]
fn a_model_whose_uvs_have_no_area_is_not_ready_and_reported_once() {
    for uvs in ["vt 0 0\nvt .5 .5\nvt 1 1\n", "vt .3 .3\nvt .3 .3\nvt .3 .3\n"] {
        let report = report(&format!("v 0 0 0\nv 1 0 0\nv 1 1 0\n{uvs}f 1/1 2/2 3/3\n"));
        assert_eq!(report.verdict, Verdict::NotReady, "{uvs}");
        assert_eq!(kinds(&report), [FindingKind::NoArea], "one cause is one finding");
        assert!(report.findings[0].title.contains("UVs"), "{}", report.findings[0].title);
    }
}

#[test]
fn a_model_with_triangles_flat_here_and_collapsed_there_is_not_ready() {
    let text = "v 0 0 0\nv 1 0 0\nv 2 0 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 1 1\nf 1/1 2/2 3/3\nf 1/1 2/1 4/1\n";
    let report = report(text);
    assert_eq!(report.verdict, Verdict::NotReady);
    assert_eq!(of_kind(&report, FindingKind::NoArea).triangles, 2);
}

#[test]
fn one_valid_triangle_is_measured() {
    let report = report(&format!("{SQUARE}f 1/1 2/1 3/1\n"));
    assert!(!kinds(&report).contains(&FindingKind::NoArea), "{:?}", kinds(&report));
    assert!(kinds(&report).contains(&FindingKind::Collapsed));
}

#[test]
fn a_file_cut_within_a_statement_needs_a_look() {
    for (tail, line) in [("f 1/1 2/2 3", 10), ("v 0 0", 10), ("usemt", 10), ("f 1/1 2/2 \\\n", 11)] {
        let report = report(&format!("{SQUARE}{tail}"));
        assert!(report.verdict != Verdict::Ready, "{tail}");
        let finding = of_kind(&report, FindingKind::CutShort);
        assert_eq!(finding.severity, Severity::Look);
        assert!(finding.line.is_some_and(|found| (10..=line).contains(&found)), "{tail}: {:?}", finding.line);
        assert!(finding.advice.contains("Export or copy it again"), "{}", finding.advice);
        assert!(!kinds(&report).contains(&FindingKind::LeftOut), "{tail}: the cut is the one cause");
    }
    assert_eq!(report(SQUARE).verdict, Verdict::Ready, "complete, it is ready");
}

#[test]
fn faces_left_out_need_a_look_even_where_the_rest_is_ready() {
    let report = report(&format!("{SQUARE}f 1/1 2/2 9/3\nf 1/1 2/2\nf 1/1 2/2 3/"));
    assert_eq!(report.verdict, Verdict::NotReady, "the last face lost its UVs");
    let finding = of_kind(&report, FindingKind::LeftOut);
    assert_eq!((finding.severity, finding.number.value, finding.line), (Severity::Look, 2.0, Some(10)));
    let report = support::report(&format!("{SQUARE}f 1/1 2/2 9/3\n"));
    assert_eq!((report.verdict, kinds(&report)), (Verdict::Look, vec![FindingKind::LeftOut]));
}

#[test]
fn invalid_uv_indices_are_not_reported_as_no_uvs() {
    let report = report("v 0 0 0\nv 1 0 0\nv 1 1 0\nvt 0 0\nf 1/7 2/8 3/9\n");
    let finding = of_kind(&report, FindingKind::Unmapped);
    assert_eq!((report.verdict, finding.line), (Verdict::NotReady, Some(5)));
    assert!(!finding.title.contains("has no UVs"), "{}", finding.title);
    assert!(finding.place.contains("line 5") && finding.advice.contains("Export"), "{finding:#?}");
    let plain = support::report("v 0 0 0\nv 1 0 0\nv 1 1 0\nf 1 2 3\n");
    assert_eq!(of_kind(&plain, FindingKind::Unmapped).title, "The model has no UVs");
}

/// With no face left there is no model at all; the failure names the line of the first reason.
#[test]
fn a_file_with_no_valid_face_is_refused_with_reason_and_line() {
    let failure = gridproof::obj::read(b"v 0 0 0\nv 1 0 0\nf 1 2 7\nf 1 2 8\n").unwrap_err();
    assert_eq!(failure.line, 3);
    assert!(failure.message.contains("None of the 2 faces") && failure.message.contains("line 3"), "{failure}");
}
