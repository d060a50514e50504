//! Compares two versions of a model: what was fixed, what is still there and what is new, and the numbers side by side.

use std::fmt::Write as _;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use gridproof::compare::{Change, Comparison, Version, carried, compare};
use gridproof::findings::Finding;
use gridproof::report::{File, Report, Verdict};
use gridproof::review::Review;
use gridproof::{isolated, printable};
use serde::Serialize;
use serde_json::Value;

use super::{brief, check};
use crate::cli::output::{csv, paint};
use crate::cli::trouble::Trouble;
use crate::cli::{STATUS_FINE, STATUS_NOT_READY};

/// Version of the shape of a comparison.
const SCHEMA: &str = "gridproof-comparison/1";
/// Digits of a number.
const DIGITS: i32 = 4;
/// Most digits after the point.
const DIGITS_AFTER: i32 = 9;

/// What to compare, and how to print it.
pub struct Order {
    /// The previous version.
    pub old: PathBuf,
    /// The new version.
    pub new: PathBuf,
    /// The brief for both; the default one if `None`.
    pub brief: Option<PathBuf>,
    /// A review of one of them.
    pub review: Option<PathBuf>,
    /// One JSON object instead of text.
    pub json: bool,
}

#[derive(Serialize)]
struct Told<'a> {
    schema: &'static str,
    old: Side<'a>,
    new: Side<'a>,
    findings: Findings<'a>,
    /// Whether places were taken relative to each version's own box.
    by_box: bool,
    numbers: Vec<Row>,
}

/// One version.
#[derive(Serialize)]
struct Side<'a> {
    path: String,
    file: &'a File,
    verdict: Verdict,
    intended: usize,
}

#[derive(Serialize)]
struct Findings<'a> {
    fixed: Vec<&'a Finding>,
    still_there: Vec<StillThere<'a>>,
    new: Vec<&'a Finding>,
}

#[derive(Serialize)]
struct StillThere<'a> {
    change: Change,
    old: &'a Finding,
    new: &'a Finding,
}

/// A number of both reports; null where there is none.
#[derive(Serialize)]
struct Row {
    name: &'static str,
    old: Value,
    new: Value,
}

/// Compares, prints, and gives the exit status of the new version.
pub fn run(order: &Order) -> Result<u8, Trouble> {
    let (brief, review) = brief::with_review(order.brief.as_deref(), order.review.as_deref())?;
    let measured = |path: &Path| {
        let examined = check::examined(path, &brief)?;
        let version = Version::new(&examined.report, examined.model.bounds());
        let mut report = examined.report;
        if let Some(review) = &review {
            review.apply(&mut report);
        }
        Ok::<_, Trouble>((report, version))
    };
    let ((old_report, old_version), (mut new_report, new_version)) = (measured(&order.old)?, measured(&order.new)?);
    if let Some(review) = &review {
        review.met(&[order.old.clone(), order.new.clone()])?;
    }
    let comparison = compare(&old_version, &new_version);
    take_over(&comparison, &old_report, &mut new_report);
    let told = Told::new([&order.old, &order.new], [&old_report, &new_report], &comparison);
    let text = if order.json {
        // Plain data of finite depth with string keys always serialises to JSON.
        serde_json::to_string(&told).unwrap_or_default() + "\n"
    } else {
        let plain = told.text();
        if paint::wanted(&io::stdout()) { paint::report(&plain) } else { plain }
    };
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes()).and_then(|()| out.flush()).map_err(|error| Trouble::output(&error))?;
    Ok(if new_report.verdict == Verdict::Ready { STATUS_FINE } else { STATUS_NOT_READY })
}

/// Decisions on the previous version apply to remaining findings, unless the new version has its own.
fn take_over(comparison: &Comparison, old: &Report, new: &mut Report) {
    let decisions = carried(comparison, &old.findings, &new.findings);
    if decisions.is_empty() || new.findings.iter().any(|finding| finding.decision.is_some()) {
        return;
    }
    let notes = std::mem::take(&mut new.notes);
    new.decide(Review { notes, decisions });
}

impl<'a> Told<'a> {
    fn new(paths: [&Path; 2], [old, new]: [&'a Report; 2], comparison: &Comparison) -> Self {
        let [old_path, new_path] = paths.map(|path| path.to_string_lossy().into_owned());
        let side = |path, report: &'a Report| Side {
            path,
            file: &report.file,
            verdict: report.verdict,
            intended: report.intended,
        };
        let pairs = comparison.still_there.iter();
        Self {
            schema: SCHEMA,
            old: side(old_path, old),
            new: side(new_path, new),
            findings: Findings {
                fixed: comparison.fixed.iter().map(|&at| &old.findings[at]).collect(),
                still_there: pairs
                    .map(|pair| StillThere {
                        change: pair.change,
                        old: &old.findings[pair.old],
                        new: &new.findings[pair.new],
                    })
                    .collect(),
                new: comparison.new.iter().map(|&at| &new.findings[at]).collect(),
            },
            by_box: comparison.by_box,
            numbers: csv::numbers(old)
                .into_iter()
                .zip(csv::numbers(new))
                .map(|((name, old), (_, new))| Row { name, old, new })
                .collect(),
        }
    }

    fn text(&self) -> String {
        let Findings { fixed, still_there, new } = &self.findings;
        let verdict = |side: &Side| match side.intended {
            0 => side.verdict.text().to_owned(),
            meant => format!("{}, {meant} intended", side.verdict.text()),
        };
        let (old_path, new_path) = (&self.old.path, &self.new.path);
        let head = format!(
            "{} ({}) -> {}: {}",
            isolated(old_path),
            verdict(&self.old),
            isolated(new_path),
            verdict(&self.new)
        );
        let mut out = printable(&head).into_owned() + "\n";
        // Writing to a String cannot fail.
        let _ = writeln!(out, "  {} fixed, {} still there, {} new", fixed.len(), still_there.len(), new.len());
        if self.by_box {
            out.push_str("  the boxes differ: places were taken relative to each one's own\n");
        }
        list(&mut out, "fixed", fixed, |finding| line(finding, &finding.number.text, ""));
        list(&mut out, "still there", still_there, |StillThere { change, old, new }| {
            let number = match old.number.text == new.number.text {
                true => new.number.text.clone(),
                false => format!("{} -> {}", old.number.text, new.number.text),
            };
            line(new, &number, &format!(", {}", change.text()))
        });
        list(&mut out, "new", new, |finding| line(finding, &finding.number.text, ""));
        let changed: Vec<[String; 3]> = self
            .numbers
            .iter()
            .map(|Row { name, old, new }| [(*name).to_owned(), figure(old), figure(new)])
            .filter(|[_, old, new]| old != new)
            .collect();
        list(&mut out, "numbers that changed", &changed, |[name, old, new]| {
            format!("{name:<30}{old:>12} -> {new:>12}")
        });
        out
    }
}

/// A heading and a line each; nothing without any.
fn list<T>(out: &mut String, head: &str, items: &[T], line: impl Fn(&T) -> String) {
    if items.is_empty() {
        return;
    }
    let _ = writeln!(out, "\n{head}");
    for item in items {
        let _ = writeln!(out, "  {}", printable(line(item).trim_end()));
    }
}

fn line(finding: &Finding, number: &str, change: &str) -> String {
    let meant = if finding.counts() { "" } else { ", intended" };
    let limit = finding.limit.as_ref().map_or_else(String::new, |limit| format!(" (limit {})", limit.text));
    format!("{}  {}: {number}{limit}{change}{meant}; {}", finding.severity.text(), finding.title, finding.place)
}

/// A number for people.
fn figure(value: &Value) -> String {
    match value.as_f64() {
        None => "none".to_owned(),
        Some(whole) if value.is_u64() || whole == 0.0 => whole.to_string(),
        Some(number) => {
            let digits = (DIGITS - 1 - number.abs().log10().floor() as i32).clamp(0, DIGITS_AFTER);
            format!("{number:.*}", digits as usize)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::figure;
    use serde_json::json;

    #[test]
    fn figures_have_four_digits() {
        for (value, text) in [
            (json!(null), "none"),
            (json!(12345), "12345"),
            (json!(0.0), "0"),
            (json!(1.25), "1.250"),
            (json!(123.456), "123.5"),
            (json!(98765.4), "98765"),
            (json!(0.000123456), "0.0001235"),
            (json!(-0.5), "-0.5000"),
        ] {
            assert_eq!(figure(&value), text);
        }
    }
}
