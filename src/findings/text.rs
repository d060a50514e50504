//! The report as plain text, for a terminal or a message.

use super::{Report, Severity};
use std::fmt::Write as _;

/// Verdict, findings worst first, key numbers. Lines end in `\n`.
pub fn text(report: &Report) -> String {
    let mut out = String::new();
    let counts = &report.counts;
    // Writing to a String cannot fail.
    let _ = writeln!(
        out,
        "{}: {} ({} triangles, {} shells, {} parts)",
        report.file.name,
        report.verdict.text(),
        counts.triangles,
        counts.shells,
        counts.parts
    );
    for finding in &report.findings {
        let sign = match finding.severity {
            Severity::Stop => "stop",
            Severity::Look => "look",
            Severity::Note => "note",
        };
        let limit = finding.limit.as_ref().map_or_else(String::new, |limit| format!(" (limit {})", limit.text));
        let line = finding.line.map_or_else(String::new, |line| format!(", line {line}"));
        let _ = writeln!(out, "  {sign}  {}: {}{limit}", finding.title, finding.number.text);
        let _ = writeln!(out, "        {}{line}", finding.place);
        let _ = writeln!(out, "        {}", finding.advice);
    }
    let number = |value: Option<f64>| value.map_or_else(|| "none".to_owned(), |v| format!("{v:.3}"));
    let share = |value: Option<f64>| value.map_or_else(|| "none".to_owned(), |v| format!("{:.1} %", v * 100.0));
    let rows = [
        ("anisotropy, median", number(report.stretch.anisotropy_median)),
        ("anisotropy, 95 %", number(report.stretch.anisotropy_p95)),
        ("surface over the limit", share(report.stretch.share_over)),
        ("density, px/unit", number(report.density.mean_px_per_unit)),
        ("density, max/min shell", number(report.density.max_over_min)),
        ("density, worst part", number(report.density.parts.first().map(|part| part.factor))),
        ("reversed surface", share(report.handedness.reversed_share)),
        ("mirrored surface", share(report.handedness.mirrored_share)),
        ("coverage", share(Some(report.sheet.coverage))),
        ("overlap", share(report.sheet.overlap_share)),
        ("outside the tile", share(report.sheet.outside_share)),
        ("padding, px", number(report.sheet.padding_between_px)),
        ("padding to border, px", number(report.sheet.padding_border_px)),
        ("seams seen from the front", share(report.seams.share_in_front)),
        ("exposure of the seams", share(report.seams.exposure)),
        ("safe for lettering", share(report.lettering.lettering_share)),
    ];
    for (name, value) in rows {
        let _ = writeln!(out, "  {name:<26}{value:>10}");
    }
    let warnings: u32 = report.warning_counts.values().sum();
    if warnings > 0 {
        let _ = writeln!(out, "  {warnings} warnings about the file; the first:");
        for warning in report.warnings.iter().take(3) {
            let _ = writeln!(out, "    line {}: {}", warning.line, warning.message);
        }
    }
    out
}
