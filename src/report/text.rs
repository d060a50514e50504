//! The report as plain text, for a terminal or a message.
//!
//! First the main results: which file, ready or not, the cause where there is one, how far from ready, and the worst
//! findings with what to do about them; then the other findings, a line each; those that follow from the cause; those
//! that are intended, and why; then notes; then the key numbers, those of each sheet where there are several, and what
//! was not judged; then what was wrong with the file's text.

use super::Report;
use crate::findings::words::percent;
use crate::findings::{Finding, Severity};
use crate::review::Decision;
use crate::util::isolate::{isolated, printable};

/// Findings in full: as many as are read at once.
const AT_LENGTH: usize = 3;
/// Warnings about the file's text that are shown.
const WARNINGS_SHOWN: usize = 3;

/// Verdict, findings worst first, key numbers. `path` is the file's name. Lines end in `\n`.
pub fn text(path: &str, report: &Report) -> String {
    let mut out = String::new();
    line(&mut out, &format!("{}: {}{}", isolated(path), report.verdict_text(), tally(&report.findings)));
    if let Some(cause) = &report.cause {
        line(&mut out, &format!("  {}", cause.sentence));
    }
    let to_ready = &report.to_ready.text;
    if !to_ready.is_empty() {
        line(&mut out, &format!("  how far from ready: {to_ready}"));
    }
    let (counting, meant): (Vec<&Finding>, Vec<&Finding>) = report.findings.iter().partition(|f| f.counts());
    let (following, counting): (Vec<&Finding>, Vec<&Finding>) = counting.into_iter().partition(|f| f.follows_cause);
    let (worst, others) = counting.split_at(counting.len().min(AT_LENGTH));
    for finding in worst {
        line(&mut out, &format!("  {}", headline(finding)));
        line(&mut out, &format!("        {}", place(finding)));
        line(&mut out, &format!("        {}", finding.advice));
    }
    for finding in others {
        line(&mut out, &format!("  {}; {}", headline(finding), place(finding)));
    }
    if !following.is_empty() {
        line(&mut out, &format!("  {}:", follow_words(following.len())));
    }
    for finding in following {
        line(&mut out, &format!("    {}; {}", headline(finding), place(finding)));
    }
    for finding in meant {
        line(&mut out, &format!("  intended  {}; {}", measured(finding), place(finding)));
        if let Some(Decision::Intended { reason }) = &finding.decision {
            write_quoted(&mut out, reason);
        }
    }
    for (number, note) in (1..).zip(&report.notes) {
        let shell = note.shell.as_ref().map_or_else(String::new, |shell| format!(" on {shell}"));
        line(&mut out, &format!("  note {number}{shell}"));
        write_quoted(&mut out, &note.text);
    }
    for (name, value) in key_numbers(report) {
        line(&mut out, &format!("  {name:<26}{value:>10}"));
    }
    if let [_, _, ..] = report.sheets.list[..] {
        for sheet in &report.sheets.list {
            let overlap =
                sheet.overlap_share.map_or_else(String::new, |share| format!(", overlap {}", percent(share).text));
            let name = isolated(&sheet.name);
            line(&mut out, &format!("  sheet {name}: coverage {}{overlap}", percent(sheet.coverage).text));
        }
    }
    if !report.not_judged.is_empty() {
        let kinds: Vec<&str> = report.not_judged.iter().map(|kind| kind.code()).collect();
        line(&mut out, &format!("  not judged: {}", kinds.join(", ")));
    }
    let warnings: u32 = report.warning_counts.values().sum();
    if warnings > 0 {
        let noun = if warnings == 1 { "warning" } else { "warnings" };
        let first = if warnings as usize > WARNINGS_SHOWN { "; the first:" } else { ":" };
        line(&mut out, &format!("  {warnings} {noun} about the file{first}"));
        for warning in report.warnings.iter().take(WARNINGS_SHOWN) {
            line(&mut out, &format!("    {warning}"));
        }
    }
    out
}

/// Adds a line; names, paths and notes in it have no control characters.
fn line(out: &mut String, text: &str) {
    out.push_str(&printable(text));
    out.push('\n');
}

/// How many findings of each severity, in brackets.
fn tally(findings: &[Finding]) -> String {
    let words = [(Severity::MustFix, "must fix"), (Severity::Look, "look"), (Severity::Info, "info")];
    let parts: Vec<String> = words
        .iter()
        .map(|(severity, word)| {
            (findings.iter().filter(|finding| finding.counts() && finding.severity == *severity).count(), word)
        })
        .filter(|(count, _)| *count > 0)
        .map(|(count, word)| format!("{count} {word}"))
        .collect();
    if parts.is_empty() { String::new() } else { format!(" ({})", parts.join(", ")) }
}

/// How many findings follow from the cause.
pub(super) fn follow_words(count: usize) -> String {
    match count {
        1 => "1 finding follows from the cause".to_owned(),
        count => format!("{count} findings follow from the cause"),
    }
}

fn headline(finding: &Finding) -> String {
    let todo = if finding.decision == Some(Decision::ToFix) { ", to fix" } else { "" };
    format!("{}  {}{todo}", finding.severity.text(), measured(finding))
}

fn measured(finding: &Finding) -> String {
    let limit = finding.limit.as_ref().map_or_else(String::new, |limit| format!(" (limit {})", limit.text));
    format!("{}: {}{limit}", finding.title, finding.number.text)
}

/// A note, line by line behind a bar.
fn write_quoted(out: &mut String, text: &str) {
    for line in text.lines() {
        self::line(out, &format!("        | {line}"));
    }
}

/// Where, with the line to look up unless the text already names it.
fn place(finding: &Finding) -> String {
    match finding.line {
        Some(line) if !finding.place.contains("line ") => format!("{}, line {line}", finding.place),
        _ => finding.place.clone(),
    }
}

/// The main numbers, named and rounded for reading; what a model does not have is "none".
pub(super) fn key_numbers(report: &Report) -> Vec<(&'static str, String)> {
    let number = |value: Option<f64>| value.map_or_else(|| "none".to_owned(), |value| format!("{value:.3}"));
    let share = |value: Option<f64>| value.map_or_else(|| "none".to_owned(), |v| format!("{:.1} %", v * 100.0));
    let sampled = |value: Option<f64>, error: Option<f64>| {
        let error = error.filter(|_| value.is_some()).map(|error| format!(" ± {:.2} %", error * 100.0));
        share(value) + &error.unwrap_or_default()
    };
    let limited = |is_limited: bool, limit: &str, value: String| {
        if is_limited && value != "none" { format!("{limit} {value}") } else { value }
    };
    let (counts, sheet, sheets) = (&report.counts, &report.sheet, &report.sheets);
    vec![
        ("triangles", counts.triangles.to_string()),
        ("shells", counts.shells.to_string()),
        ("parts", counts.parts.to_string()),
        ("anisotropy, median", number(report.stretch.anisotropy_median)),
        ("anisotropy, 95 %", number(report.stretch.anisotropy_p95)),
        ("surface over the limit", share(report.stretch.share_over)),
        ("density, px/unit", number(report.density.mean_px_per_unit)),
        ("density, max/min shell", number(report.density.max_over_min)),
        ("density, worst part", number(report.density.parts.first().map(|part| part.factor))),
        ("reversed surface", share(report.handedness.reversed_share)),
        ("mirrored surface", limited(report.sharing_at_least, "at least", share(report.handedness.mirrored_share))),
        ("sheets", sheets.list.len().to_string()),
        ("coverage", sampled(Some(sheet.coverage), sheet.coverage_sampling_error)),
        ("overlap", sampled(sheet.overlap_share, sheet.overlap_share_sampling_error)),
        ("outside the tile", share(sheet.outside_share)),
        ("padding, px", limited(sheet.padding_at_least, "at most", number(sheet.padding_between_px))),
        ("padding to border, px", number(sheet.padding_border_px)),
        ("seams seen from the front", share(report.seams.share_in_front)),
        ("soft seams in front", number(report.seams.front_over_diagonal)),
        ("exposure of the seams", share(report.seams.exposure)),
        ("safe for text", share(report.text.text_share)),
    ]
}

#[cfg(test)]
mod tests {
    use super::text;
    use crate::brief::Brief;
    use crate::review::{Decision, Note, Review};

    fn told(obj: &str) -> String {
        let report = crate::check(&mut obj.as_bytes(), "x.obj", None, &Brief::default(), &mut |_| ());
        text("class/x.obj", &report.expect("the test's own model"))
    }

    #[test]
    fn a_ready_model_is_reported_in_one_line_and_its_numbers() {
        let told =
            told("v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt .1 .1\nvt .9 .1\nvt .9 .9\nvt .1 .9\nf 1/1 2/2 3/3 4/4\n");
        assert!(told.starts_with("class/x.obj: ready\n  triangles                          2\n"), "{told}");
        assert!(told.contains("\n  density, px/unit            1638.400\n"), "{told}");
        assert!(!told.contains("warning"), "{told}");
    }

    #[test]
    fn decisions_and_comments_are_reported() {
        let obj = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt .1 .1\nvt .2 .1\nvt .2 .9\nvt .1 .9\nf 1/1 2/2 3/3 4/4\n";
        let report = crate::check(&mut obj.as_bytes(), "x.obj", None, &Brief::default(), &mut |_| ());
        let mut report = report.expect("the test's own model");
        let meant = report.findings[0].id.clone();
        let note = Note {
            text: "first line\nsecond \u{1b}[31m".to_owned(),
            shell: Some("shell 0".to_owned()),
            face: 0,
            point: [0.5, 0.5, 0.0],
            uv: Some([0.15, 0.5]),
        };
        report.decide(Review {
            notes: vec![note],
            decisions: vec![(meant, Decision::Intended { reason: "a narrow strip".to_owned() })],
        });
        let told = text("x.obj", &report);
        let expected = format!("x.obj: {}, 1 intended", report.verdict.text());
        assert!(told.starts_with(&expected), "{told}");
        let title = &report.findings[0].title;
        assert!(told.contains(&format!("\n  intended  {title}: ")), "{told}");
        assert!(told.contains("\n        | a narrow strip\n"), "{told}");
        assert!(told.contains("\n  note 1 on shell 0\n        | first line\n        | second  [31m\n"), "{told}");
        assert_eq!(told.matches(title.as_str()).count(), 1, "it is not also a finding: {told}");
    }

    /// Strips of their own places on the sheet, each as many times too long there as said, and flipped where that is below 0.
    fn strips(lengths: &[f64]) -> String {
        let mut obj = String::new();
        for (number, length) in lengths.iter().enumerate() {
            let (x, at, v) = (2 * number, 4 * number, 0.05 + 0.06 * number as f64);
            let (from, to) = (0.5 - 0.01 * length, 0.5 + 0.01 * length);
            obj += &format!("o strip{number}\nv {x} 0 0\nv {} 0 0\nv {} 1 0\nv {x} 1 0\n", x + 1, x + 1);
            obj += &format!("vt {from} {v}\nvt {to} {v}\nvt {to} {}\nvt {from} {}\n", v + 0.02, v + 0.02);
            let [a, b, c, d] = [1, 2, 3, 4].map(|corner| at + corner);
            obj += &format!("f {a}/{a} {b}/{b} {c}/{c} {d}/{d}\n");
        }
        obj
    }

    #[test]
    fn the_first_three_findings_have_advice_and_the_others_one_line() {
        let told = told(&strips(&[-3.0, -4.0, 5.0, 1.0, 1.0]));
        let lines: Vec<&str> = told.lines().collect();
        assert!(lines[0].starts_with("class/x.obj: not ready (5 must fix, "), "{told}");
        assert!(lines[1].starts_with("  how far from ready: 60 % must fix"), "{told}");
        let severity = |line: &str| ["  must fix  ", "  look  ", "  info  "].iter().any(|sign| line.starts_with(sign));
        assert!((0..9).all(|index| severity(lines[index + 2]) == (index % 3 == 0)), "{told}");
        let others = lines[11..].iter().take_while(|line| severity(line)).count();
        assert!(others >= 2 && lines[11..11 + others].iter().all(|line| line.contains("; ")), "{told}");
        assert!(!lines[11 + others..].iter().any(|line| severity(line)), "{told}");
    }

    #[test]
    fn causes_come_first_and_their_effects_last() {
        let told = told(&strips(&[-1.0, -1.0, -1.0, -1.0]));
        let lines: Vec<&str> = told.lines().collect();
        assert!(lines[1].starts_with("  Everything is flipped: 100 % of the surface."), "{told}");
        assert!(lines[2].starts_with("  how far from ready: 100 % must fix"), "{told}");
        let at = lines.iter().position(|line| *line == "  1 finding follows from the cause:").expect("it follows");
        assert!(lines[at + 1].starts_with("    must fix  Flipped UVs on 4 parts: 100.0 %; strip0"), "{told}");
        assert!(lines[at + 2].starts_with("  triangles "), "{told}");
    }
}
