//! Lanterns with random planted faults: the report must have exactly these. Prints precision and recall.

use crate::lantern::{self, Expected, Faulty};
use crate::support;
use gridproof::brief::Brief;
use gridproof::findings::{Finding, Severity};
use gridproof::report::Report;

/// Lanterns in one run.
const LANTERNS: u64 = 60;

/// The brief these lanterns were made for: their own density, and no limit on coverage.
fn brief(faulty: &Faulty) -> Brief {
    let mut brief = Brief::default();
    brief.density.target_px_per_unit = Some(faulty.px_per_cm);
    brief.coverage.min_share = 0.0;
    brief
}

fn groups(report: &Report, finding: &Finding) -> Vec<String> {
    let mut groups: Vec<_> = finding.shells.iter().filter_map(|&id| report.shells[id as usize].group.clone()).collect();
    groups.sort();
    groups.dedup();
    groups
}

/// The number of a fault of this kind, and the tolerance of the report's, as a share.
fn size(finding: &Finding, kind: &str) -> (f64, f64) {
    match kind {
        // What unrolling a torus or a bulge stretches by itself adds to what was planted.
        "stretch" => (finding.number.value, 0.25),
        "density" => (finding.number.value, 0.01),
        "folded" | "unmapped" => (finding.triangles as f64, 0.0),
        _ => (finding.number.value, 0.005),
    }
}

fn names(finding: &Finding, report: &Report, fault: &Expected) -> bool {
    let sized = fault.size.is_none_or(|size_planted| {
        let (found, tolerance) = size(finding, fault.kind);
        (found - size_planted).abs() <= tolerance * size_planted
    });
    finding.kind.code() == fault.kind && groups(report, finding) == fault.groups && sized
}

#[test]
fn exactly_the_random_faults_are_found() {
    let (mut planted, mut found, mut said) = (0, 0, 0);
    let mut wrong = Vec::new();
    let mut kinds = std::collections::BTreeMap::new();
    for seed in 0..LANTERNS {
        let faulty = lantern::random(seed).unwrap();
        let report = support::report_with(&faulty.obj, &brief(&faulty));
        let mut findings: Vec<_> =
            report.findings.iter().filter(|finding| finding.severity != Severity::Info).collect();
        planted += faulty.expected.len();
        said += findings.len();
        for fault in &faulty.expected {
            *kinds.entry(fault.kind).or_insert(0) += 1;
            match findings.iter().position(|finding| names(finding, &report, fault)) {
                Some(at) => {
                    findings.swap_remove(at);
                    found += 1;
                }
                None => wrong.push(format!("seed {seed}: not named: {fault:?}")),
            }
        }
        wrong.extend(findings.iter().map(|finding| {
            format!(
                "seed {seed}: not planted: {} {:?} {} of {:?}",
                finding.id,
                groups(&report, finding),
                finding.number.text,
                faulty.expected
            )
        }));
    }
    println!(
        "{planted} faults in {LANTERNS} lanterns ({kinds:?}): precision {:.4}, recall {:.4}",
        f64::from(found) / said as f64,
        f64::from(found) / planted as f64
    );
    assert!(kinds.len() >= 11, "some kind was never planted: {kinds:?}");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
