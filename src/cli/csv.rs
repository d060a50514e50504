//! A table of many files, a row each: RFC 4180, with a header, for any spreadsheet.
//!
//! Numbers stand under their names in the report. Names in a model's file are its author's: no cell begins with a
//! character that spreadsheets take for a formula.

use gridproof::findings::Report;
use serde_json::Value;

/// The columns before the numbers.
const WORDS: [&str; 4] = ["path", "verdict", "worst_finding", "error"];

/// The numbers, by their names in the report.
const NUMBERS: [&str; 32] = [
    "to_ready.must_fix_share",
    "to_ready.look_share",
    "counts.faces",
    "counts.triangles",
    "counts.parts",
    "counts.shells",
    "counts.faces_without_uv",
    "area.surface",
    "stretch.anisotropy_median",
    "stretch.anisotropy_p95",
    "stretch.share_over",
    "density.mean_px_per_unit",
    "density.max_over_min",
    "handedness.reversed_share",
    "handedness.flipped_shells",
    "handedness.folded_triangles",
    "handedness.mirrored_share",
    "sharing_at_least",
    "sheet.coverage",
    "sheet.coverage_sampling_error",
    "sheet.overlap_share",
    "sheet.overlap_share_sampling_error",
    "sheet.outside_share",
    "sheet.padding_between_px",
    "sheet.padding_border_px",
    "seams.length",
    "seams.length_over_diagonal",
    "seams.share_in_front",
    "seams.front_over_diagonal",
    "seams.exposure",
    "text.text_share",
    "intended",
];

/// What stands as the verdict of a file that could not be read.
const UNREADABLE: &str = "unreadable";

/// The first row.
pub fn header() -> String {
    row(WORDS.into_iter().chain(NUMBERS).map(str::to_owned))
}

/// The row of a file that was measured.
pub fn measured(path: &str, report: &Report) -> String {
    let words = [plain_path(path), report.verdict.text().to_owned(), report.worst_text(), String::new()];
    row(words.into_iter().chain(numbers(report).iter().map(|(_, value)| cell(value))))
}

/// The numbers of a report by their names; null for what is not known.
pub fn numbers(report: &Report) -> Vec<(&'static str, Value)> {
    // A report is plain data of finite depth with string keys, which JSON always holds.
    let values = serde_json::to_value(report).unwrap_or_default();
    NUMBERS.into_iter().map(|name| (name, values.pointer(&pointer(name)).cloned().unwrap_or_default())).collect()
}

/// The row of a file that could not be read; `reason` begins with a word of ours.
pub fn unreadable(path: &str, reason: &str) -> String {
    let words = [plain_path(path), UNREADABLE.to_owned(), String::new(), reason.to_owned()];
    row(words.into_iter().chain(NUMBERS.map(|_| String::new())))
}

/// A number's name as RFC 6901 writes its place.
fn pointer(name: &str) -> String {
    format!("/{}", name.replace('.', "/"))
}

/// Nothing for what is not known.
fn cell(value: &Value) -> String {
    if value.is_null() { String::new() } else { value.to_string() }
}

/// The same path, written so that it begins no formula.
fn plain_path(path: &str) -> String {
    let formula = path != "-" && path.starts_with(['=', '+', '-', '@', '\t', '\r']);
    if formula { format!("./{path}") } else { path.to_owned() }
}

fn row(cells: impl Iterator<Item = String>) -> String {
    let cells: Vec<String> = cells.map(|cell| if needs_quotes(&cell) { quoted(&cell) } else { cell }).collect();
    format!("{}\r\n", cells.join(","))
}

fn needs_quotes(cell: &str) -> bool {
    cell.contains([',', '"', '\r', '\n'])
}

fn quoted(cell: &str) -> String {
    format!("\"{}\"", cell.replace('"', "\"\""))
}

#[cfg(test)]
mod tests {
    use super::*;
    use gridproof::brief::Brief;

    #[test]
    fn every_number_is_one_of_the_report() {
        let square = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\nf 1/1 2/2 3/3 4/4\n";
        let report = gridproof::check(&mut square.as_bytes(), "", None, &Brief::default(), &mut |_| ());
        let values = serde_json::to_value(report.expect("a square is a model")).expect("plain data");
        for name in NUMBERS {
            let value = values.pointer(&pointer(name));
            assert!(
                value.is_some_and(|value| !value.is_string() && !value.is_array() && !value.is_object()),
                "{name}: {value:?}"
            );
        }
    }

    #[test]
    fn cells_are_quoted_where_the_format_asks_for_it_and_begin_no_formula() {
        assert_eq!(
            row(["a b", "a,b", "a\"b", "a\r\nb", ""].into_iter().map(str::to_owned)),
            "a b,\"a,b\",\"a\"\"b\",\"a\r\nb\",\r\n"
        );
        assert_eq!(plain_path("=1+2.obj"), "./=1+2.obj");
        assert_eq!((plain_path("-").as_str(), plain_path("a=b.obj").as_str()), ("-", "a=b.obj"));
        let commas = unreadable("x.obj", "empty: nothing").matches(',').count();
        assert_eq!(header().matches(',').count(), commas);
    }
}
