//! How far a model is from ready: the share of its surface at fault, without what is intended.
//!
//! Must fix goes before look: what has to be fixed does not count as a look again.

use crate::findings::{AtFault, Finding, Severity};
use serde::Serialize;

/// How far from ready, by surface.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct ToReady {
    /// Share of the surface with something to fix, 0..1.
    pub must_fix_share: f64,
    /// Share of the rest at which to look, 0..1; both together are at most 1.
    pub look_share: f64,
    /// The share as text; `layout only` where all that has to be fixed is in the layout and has no surface.
    pub must_fix_text: String,
    /// The same for what to look at.
    pub look_text: String,
    /// Both in a line: `31 % must fix, 12 % look`; empty where there is nothing to do.
    pub text: String,
}

impl ToReady {
    /// `surface` is that of the model; `cause` the severity of the cause that counts. A cause of the whole model counts
    /// whole, and replaces the findings that follow from it.
    pub(super) fn new(at_fault: &AtFault, surface: f64, findings: &[Finding], cause: Option<Severity>) -> Self {
        let counts = |finding: &&Finding| finding.counts() && !(finding.follows_cause && cause.is_some());
        let worst_of = |set: &[u32]| {
            set.iter().map(|&number| &findings[number as usize]).filter(counts).map(|finding| finding.severity).min()
        };
        let [mut must_fix, mut look] = [0.0; 2];
        for (set, sum) in at_fault.sets() {
            match worst_of(set) {
                Some(Severity::MustFix) => must_fix += sum,
                Some(Severity::Look) => look += sum,
                _ => {}
            }
        }
        let share = |sum: f64| if surface > 0.0 { (sum / surface).min(1.0) } else { 0.0 };
        let (mut must_fix, mut look) = (share(must_fix), share(look));
        match cause {
            Some(Severity::MustFix) => (must_fix, look) = (1.0, 0.0),
            Some(Severity::Look) => look = 1.0,
            _ => {}
        }
        let look = look.min(1.0 - must_fix);
        let is_layout = |severity| {
            let mut of = findings.iter().filter(counts).filter(|finding| finding.severity == severity);
            of.any(|finding| finding.kind.is_layout())
        };
        let text = |share: f64, severity| {
            if share == 0.0 && is_layout(severity) { LAYOUT_ONLY.to_owned() } else { share_text(share) }
        };
        let (must_fix_text, look_text) = (text(must_fix, Severity::MustFix), text(look, Severity::Look));
        let mut parts: Vec<String> = Vec::new();
        for (text, share, word) in [(&must_fix_text, must_fix, "must fix"), (&look_text, look, "look")] {
            if share > 0.0 {
                parts.push([text, " ", word].concat());
            } else if text == LAYOUT_ONLY {
                parts.push([word, ": ", text].concat());
            }
        }
        Self { must_fix_share: must_fix, look_share: look, must_fix_text, look_text, text: parts.join(", ") }
    }
}

/// If what has to be fixed has no surface.
const LAYOUT_ONLY: &str = "layout only";

/// Whole percents; never rounded to 0 or 100.
fn share_text(share: f64) -> String {
    if share > 0.0 && share < 0.005 {
        "under 1 %".to_owned()
    } else if share < 1.0 && share > 0.995 {
        "over 99 %".to_owned()
    } else {
        format!("{:.0} %", share * 100.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::brief::Brief;
    use crate::report::Report;
    use crate::review::{Decision, Review};

    /// Quads as wide as said, each with its uvs: u0, v0, u1, v1; flipped where u0 > u1.
    fn report(quads: &[(f64, [f64; 4])]) -> Report {
        let mut obj = String::new();
        for (number, (width, [u0, v0, u1, v1])) in quads.iter().enumerate() {
            let (y, at) = (2 * number, 4 * number);
            obj += &format!("o q{number}\nv 0 {y} 0\nv {width} {y} 0\nv {width} {} 0\nv 0 {} 0\n", y + 1, y + 1);
            obj += &format!("vt {u0} {v0}\nvt {u1} {v0}\nvt {u1} {v1}\nvt {u0} {v1}\n");
            let [a, b, c, d] = [1, 2, 3, 4].map(|corner| at + corner);
            obj += &format!("f {a}/{a} {b}/{b} {c}/{c} {d}/{d}\n");
        }
        let report = crate::check(&mut obj.as_bytes(), "x.obj", None, &Brief::default(), &mut |_| ());
        report.expect("the test's own model")
    }

    fn intend(report: &mut Report, ids: &[&str]) {
        let decided = |id: &&str| ((*id).to_owned(), Decision::Intended { reason: "so".to_owned() });
        report.decide(Review { notes: Vec::new(), decisions: ids.iter().map(decided).collect() });
    }

    fn shares(report: &Report) -> (f64, f64, String) {
        let round = |share: f64| (share * 1000.0).round() / 1000.0;
        (round(report.to_ready.must_fix_share), round(report.to_ready.look_share), report.to_ready.text.clone())
    }

    #[test]
    fn triangles_count_once_and_intended_findings_not_at_all() {
        // Flipped and stretched; stretched; and six that are neither, with room around them.
        let mut quads = vec![(1.0, [0.2, 0.05, 0.1, 0.35]), (1.0, [0.3, 0.05, 0.4, 0.35])];
        quads.extend((0..6).map(|at| (1.0, [0.05 + 0.15 * f64::from(at), 0.6, 0.15 + 0.15 * f64::from(at), 0.7])));
        let mut report = report(&quads);
        let ids: Vec<&str> = report.findings.iter().map(|finding| finding.id.as_str()).collect();
        assert!(ids.contains(&"flipped-0") && ids.contains(&"stretch-0") && ids.contains(&"stretch-1"), "{ids:?}");
        assert_eq!(shares(&report).0, 0.25);
        intend(&mut report, &["stretch-0", "stretch-1"]);
        assert_eq!(shares(&report).0, 0.125);
        intend(&mut report, &["stretch-0"]);
        assert_eq!(shares(&report).0, 0.25);
        intend(&mut report, &["stretch-0", "flipped-0"]);
        assert_eq!(shares(&report).0, 0.125);
        let all: Vec<String> = report.findings.iter().map(|finding| finding.id.clone()).collect();
        intend(&mut report, &all.iter().map(String::as_str).collect::<Vec<_>>());
        assert_eq!(shares(&report), (0.0, 0.0, String::new()));
    }

    #[test]
    fn a_must_fix_triangle_is_not_also_a_look() {
        // The first two are stacked, a look; the third is stretched beyond both limits.
        let report = report(&[(1.0, [0.1, 0.1, 0.4, 0.4]), (1.0, [0.1, 0.1, 0.4, 0.4]), (1.0, [0.5, 0.1, 0.8, 0.2])]);
        let (must_fix, look, _) = shares(&report);
        assert!((must_fix + look - 1.0).abs() < 1e-9 && look == 0.667, "{must_fix} {look}");
    }

    #[test]
    fn triangles_without_surface_count_in_the_layout_only() {
        let report = report(&[(1.0, [0.1, 0.1, 0.2, 0.2])]);
        assert_eq!(shares(&report), (0.0, 0.0, "look: layout only".to_owned()));
        assert_eq!((&*report.to_ready.must_fix_text, &*report.to_ready.look_text), ("0 %", "layout only"));
        assert_eq!([0.001, 0.31, 0.999, 1.0].map(share_text), ["under 1 %", "31 %", "over 99 %", "100 %"]);
    }
}
