//! A table of many files, a row each: RFC 4180, with a header, for any spreadsheet.
//!
//! Columns are named by paths in the report. File paths and names in a model are untrusted: cells have no control
//! characters, and none but numbers begin with a character that spreadsheets take for a formula.

use gridproof::printable;
use gridproof::report::Report;
use serde_json::{Value, json};

/// The columns before the numbers.
const WORDS: [&str; 4] = ["path", "verdict", "worst_finding", "error"];

/// Numbers of a report by their names in it, which are their paths too: a report as JSON may be a hundred times larger.
macro_rules! numbers {
    ($($first:ident $(. $rest:ident)*),* $(,)?) => {
        [$((concat!(stringify!($first) $(, ".", stringify!($rest))*), |report| json!(report.$first$(.$rest)*))),*]
    };
}

/// A number's name, and what it is of a report.
type Number = (&'static str, fn(&Report) -> Value);

/// The numbers, by their names in the report.
const NUMBERS: [Number; 32] = numbers![
    to_ready.must_fix_share,
    to_ready.look_share,
    counts.faces,
    counts.triangles,
    counts.parts,
    counts.shells,
    counts.faces_without_uv,
    area.surface,
    stretch.anisotropy_median,
    stretch.anisotropy_p95,
    stretch.share_over,
    density.mean_px_per_unit,
    density.max_over_min,
    handedness.reversed_share,
    handedness.flipped_shells,
    handedness.folded_triangles,
    handedness.mirrored_share,
    sharing_at_least,
    sheet.coverage,
    sheet.coverage_sampling_error,
    sheet.overlap_share,
    sheet.overlap_share_sampling_error,
    sheet.outside_share,
    sheet.padding_between_px,
    sheet.padding_border_px,
    seams.length,
    seams.length_over_diagonal,
    seams.share_in_front,
    seams.front_over_diagonal,
    seams.exposure,
    text.text_share,
    intended,
];

/// The verdict column of a file that could not be read.
const UNREADABLE: &str = "unreadable";

/// The names of the numbers, in order.
#[cfg(test)]
pub fn names() -> impl Iterator<Item = &'static str> {
    NUMBERS.into_iter().map(|(name, _)| name)
}

/// The first row.
pub fn header() -> String {
    row(WORDS.into_iter().chain(NUMBERS.map(|(name, _)| name)).map(str::to_owned))
}

/// The row of a file that was measured.
pub fn measured(path: &str, report: &Report) -> String {
    let words = [path.to_owned(), report.verdict.text().to_owned(), report.worst_text(), String::new()];
    row(words.into_iter().chain(numbers(report).iter().map(|(_, value)| cell(value))))
}

/// The numbers of a report by their names; null for what is not known.
pub fn numbers(report: &Report) -> Vec<(&'static str, Value)> {
    NUMBERS.into_iter().map(|(name, number)| (name, number(report))).collect()
}

/// The row of a file that could not be read; `reason` begins with a word of ours.
pub fn unreadable(path: &str, reason: &str) -> String {
    let words = [path.to_owned(), UNREADABLE.to_owned(), String::new(), reason.to_owned()];
    row(words.into_iter().chain(NUMBERS.map(|_| String::new())))
}

/// Empty if not known.
fn cell(value: &Value) -> String {
    if value.is_null() { String::new() } else { value.to_string() }
}

fn row(cells: impl Iterator<Item = String>) -> String {
    let cells: Vec<String> = cells.map(|cell| plain(&cell)).collect();
    format!("{}\r\n", cells.join(","))
}

/// A cell on one line that begins no formula, in quotes where the format asks for them. The sign of standard input stays.
fn plain(cell: &str) -> String {
    let mut cell = printable(cell).into_owned();
    let begins_formula = cell.trim_start().starts_with(['=', '+', '-', '@']);
    if begins_formula && cell != "-" && !is_number(&cell) {
        cell.insert(0, '\'');
    }
    if cell.contains([',', '"']) { format!("\"{}\"", cell.replace('"', "\"\"")) } else { cell }
}

/// Whether it is a number and nothing else: digits, a point, an exponent, and a sign before either.
fn is_number(cell: &str) -> bool {
    let letters = |byte: u8| byte.is_ascii_digit() || b"+-.eE".contains(&byte);
    cell.bytes().all(letters) && cell.parse::<f64>().is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use gridproof::brief::Brief;

    #[test]
    fn every_number_in_the_table_is_in_the_report() {
        let square = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\nf 1/1 2/2 3/3 4/4\n";
        let report = gridproof::check(&mut square.as_bytes(), "", None, &Brief::default(), &mut |_| ());
        let report = report.expect("a square is a model");
        let values = serde_json::to_value(&report).expect("plain data");
        for (name, value) in numbers(&report) {
            // As RFC 6901 writes a place.
            assert_eq!(values.pointer(&format!("/{}", name.replace('.', "/"))), Some(&value), "{name}");
            assert!(!value.is_string() && !value.is_array() && !value.is_object(), "{name}: {value}");
        }
    }

    #[test]
    fn cells_are_quoted_as_needed_and_never_start_a_formula() {
        let cells: Vec<[String; 2]> = serde_json::from_str(include_str!("../../../tests/cells.json")).expect("pairs");
        assert!(cells.len() > 20);
        for [cell, written] in cells {
            assert_eq!(row([cell.clone(), cell].into_iter()), format!("{written},{written}\r\n"));
        }
        let commas = unreadable("x.obj", "empty: nothing").matches(',').count();
        assert_eq!(header().matches(',').count(), commas);
    }
}
