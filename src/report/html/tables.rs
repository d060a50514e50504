//! The numbers: key figures, counts, brief, shells, warnings.

use super::Page;
use crate::brief::{Axis, Brief, Policy, SheetsAsked, Tiles};
use crate::findings::words::{percent, sampled_percent, significant};
use crate::findings::{Finding, Shell, shell_label};
use crate::report::Report;
use crate::report::text::key_numbers;
use crate::util::isolate::isolated;
use crate::util::packed;
use std::fmt::Write as _;

/// Rows of a table that may have thousands, the worst first; the JSON report has all.
const MOST_ROWS: usize = 200;
/// Where there is no value.
const NONE: &str = "none";

impl Page {
    pub(super) fn tables(&mut self, report: &Report, brief: &Brief) {
        self.section("numbers", "Numbers");
        self.out.push_str("<div class=\"pair\">\n");
        let figures = key_numbers(report).into_iter().map(|(name, value)| (name, value.parse().map_or(value, grouped)));
        self.rows("Measured, over the whole model", "Measure", "Value", figures.collect());
        self.rows("Counted in the file", "Element", "Count", counts(report));
        self.out.push_str("</div>\n</section>\n");
        self.sheets(report);
        self.parts(report);
        self.section("brief", "The brief it was checked against");
        self.rows("Defaults are common practice", "Asked", "Value", brief_rows(brief));
        self.out.push_str("</section>\n");
        self.shells(report);
        self.warnings(report);
    }

    fn section(&mut self, id: &str, title: &str) {
        let _ = writeln!(self.out, "<section aria-labelledby=\"{id}\">\n<h2 id=\"{id}\">{title}</h2>");
    }

    fn rows<N: AsRef<str>>(&mut self, caption: &str, name: &str, value: &str, rows: Vec<(N, String)>) {
        self.out.push_str("<table>\n");
        self.element("caption", caption);
        let _ = writeln!(
            self.out,
            "<thead><tr><th scope=\"col\">{name}</th><th scope=\"col\" class=\"n\">{value}</th></tr></thead>\n<tbody>"
        );
        for (name, value) in rows {
            self.out.push_str("<tr>");
            self.element("th scope=\"row\"", name.as_ref());
            self.element("td class=\"n\"", &value);
            self.out.push_str("</tr>\n");
        }
        self.out.push_str("</tbody>\n</table>\n");
    }

    fn shells(&mut self, report: &Report) {
        if report.shells.is_empty() {
            return;
        }
        self.section("shells", "Shells");
        let titles = [
            "Faces",
            "Surface, square units",
            "Density, px per unit",
            "Scale by",
            "Anisotropy, median",
            "Over the limit",
            "Handedness",
            "Tilt",
        ];
        self.begin_wide("shells", "Shell", &titles, report.shells.len());
        let or_none = |value: Option<String>| value.unwrap_or_else(|| NONE.to_owned());
        for shell in worst_first(report).into_iter().take(MOST_ROWS) {
            self.out.push_str("<tr>");
            self.element("th scope=\"row\"", &shell_label(shell));
            let handedness = match (shell.flipped, shell.folded) {
                (true, 0) => "flipped".to_owned(),
                (true, folded) => format!("flipped, {folded} folded"),
                (false, 0) => "right way".to_owned(),
                (false, folded) => format!("{folded} folded"),
            };
            for value in [
                grouped(shell.faces as u64),
                significant(shell.surface),
                or_none(shell.density.map(significant)),
                or_none(shell.density_ratio.map(scale_by)),
                or_none(shell.anisotropy_median.map(|ratio| format!("{ratio:.2}"))),
                or_none(shell.share_over.map(|share| percent(share).text)),
                handedness,
                or_none(shell.tilt_deg.map(|tilt| format!("{tilt:.0}°"))),
            ] {
                self.element("td class=\"n\"", &value);
            }
            self.out.push_str("</tr>\n");
        }
        self.end_wide();
        self.out.push_str("</section>\n");
    }

    /// Findings beyond those with cards.
    pub(super) fn further_findings(&mut self, findings: &[Finding]) {
        if findings.is_empty() {
            return;
        }
        self.element("h3 class=\"further\"", "Further findings");
        self.begin_wide("further findings", "What", &["Severity", "Measured", "Limit", "Where"], findings.len());
        for finding in findings.iter().take(MOST_ROWS) {
            self.out.push_str("<tr>");
            self.element("th scope=\"row\"", &finding.title);
            let limit = finding.limit.as_ref().map_or(NONE, |limit| &limit.text);
            for value in [finding.severity.text(), &finding.number.text, limit, &finding.place] {
                self.element("td class=\"n\"", value);
            }
            self.out.push_str("</tr>\n");
        }
        self.end_wide();
    }

    fn sheets(&mut self, report: &Report) {
        let [_, _, ..] = report.sheets.list[..] else { return };
        self.section("sheets", "Sheets");
        let titles = ["Map, px", "Coverage", "Overlap", "Padding, px", "Padding to the border, px"];
        self.begin_table("sheets", "Sheet", &titles, "In the order of the file.");
        for sheet in &report.sheets.list {
            self.out.push_str("<tr>");
            self.element("th scope=\"row\"", &isolated(&sheet.name));
            let or_none = |value: Option<String>| value.unwrap_or_else(|| NONE.to_owned());
            for value in [
                format!("{} x {}", sheet.width_px, sheet.height_px),
                sampled_percent(sheet.coverage, sheet.coverage_sampling_error).text,
                or_none(
                    sheet.overlap_share.map(|share| sampled_percent(share, sheet.overlap_share_sampling_error).text),
                ),
                or_none(sheet.padding_between_px.map(significant)),
                or_none(sheet.padding_border_px.map(significant)),
            ] {
                self.element("td class=\"n\"", &value);
            }
            self.out.push_str("</tr>\n");
        }
        self.end_wide();
        self.out.push_str("</section>\n");
    }

    fn parts(&mut self, report: &Report) {
        let parts = &report.density.parts;
        if parts.is_empty() {
            return;
        }
        self.section("parts", "Texel density by part");
        let titles = ["Surface, square units", "Density, px per unit", "Density factor", "Scale by"];
        self.begin_wide("parts", "Part", &titles, parts.len());
        for part in parts.iter().take(MOST_ROWS) {
            self.out.push_str("<tr>");
            self.element("th scope=\"row\"", &part.name);
            for value in [
                significant(part.surface),
                significant(part.density_px_per_unit),
                plain(part.density_factor),
                scale_by(part.factor),
            ] {
                self.element("td class=\"n\"", &value);
            }
            self.out.push_str("</tr>\n");
        }
        self.end_wide();
        self.out.push_str("</section>\n");
    }

    /// A table that may be wider than its page and longer than anyone reads: up to its first row.
    fn begin_wide(&mut self, of: &str, first: &str, titles: &[&str], all: usize) {
        let caption = match all.checked_sub(MOST_ROWS) {
            Some(more @ 1..) => format!(
                "The worst {MOST_ROWS} of {}; the JSON report has the other {} too.",
                grouped(all as u64),
                grouped(more as u64)
            ),
            _ => "Worst first.".to_owned(),
        };
        self.begin_table(of, first, titles, &caption);
    }

    /// A table that may be wider than its page: up to its first row.
    fn begin_table(&mut self, of: &str, first: &str, titles: &[&str], caption: &str) {
        self.out.push_str("<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-label=\"Table of ");
        self.text(of);
        self.out.push_str("\">\n<table>\n");
        self.element("caption", caption);
        self.out.push_str("<thead><tr>");
        self.element("th scope=\"col\"", first);
        for title in titles {
            self.element("th scope=\"col\" class=\"n\"", title);
        }
        self.out.push_str("</tr></thead>\n<tbody>\n");
    }

    fn end_wide(&mut self) {
        self.out.push_str("</tbody>\n</table>\n</div>\n");
    }

    fn warnings(&mut self, report: &Report) {
        let all: u32 = report.warning_counts.values().sum();
        if all == 0 {
            return;
        }
        self.section("warnings", "Warnings about the file");
        self.out.push_str("<table>\n");
        let shown = report.warnings.len();
        self.element("caption", &format!("{shown} of {all}, in the order of the file."));
        self.out.push_str(
            "<thead><tr><th scope=\"col\" class=\"n\">Line</th><th scope=\"col\">What is wrong</th></tr></thead>\n<tbody>\n",
        );
        for warning in &report.warnings {
            let _ = write!(self.out, "<tr><td class=\"n\">{}</td>", warning.line);
            self.element("td", &warning.message);
            self.out.push_str("</tr>\n");
        }
        self.out.push_str("</tbody>\n</table>\n</section>\n");
    }
}

/// Shells by the first finding that names them, then by how far their density is off.
fn worst_first(report: &Report) -> Vec<&Shell> {
    let mut first = vec![usize::MAX; report.shells.len()];
    for (index, finding) in report.findings.iter().enumerate() {
        for &shell in &finding.shells {
            if let Some(first) = first.get_mut(shell as usize) {
                *first = (*first).min(index);
            }
        }
    }
    let off = |shell: &Shell| shell.density_ratio.map_or(0.0, |factor| factor.log2().abs());
    let shells = first.into_iter().zip(&report.shells).collect();
    let compare = |a: &(usize, &Shell), b: &(usize, &Shell)| {
        a.0.cmp(&b.0).then_with(|| off(b.1).total_cmp(&off(a.1))).then_with(|| a.1.id.cmp(&b.1.id))
    };
    packed::ordered(shells, compare).into_iter().map(|(_, shell)| shell).collect()
}

/// What corrects a density, with one of `factor` times the target.
fn scale_by(factor: f64) -> String {
    significant(1.0 / factor)
}

fn counts(report: &Report) -> Vec<(&'static str, String)> {
    let counts = &report.counts;
    [
        ("Positions", counts.positions),
        ("Texture coordinates", counts.texcoords),
        ("Normals", counts.normals),
        ("Faces", counts.faces),
        ("Triangles", counts.triangles),
        ("Objects", counts.objects),
        ("Groups", counts.groups),
        ("Materials", counts.materials),
        ("Parts", counts.parts as usize),
        ("Shells", counts.shells as usize),
        ("Seam edges", counts.seam_edges),
        ("Open edges", counts.open_edges),
        ("Edges of more than two faces", counts.nonmanifold_edges),
        ("Faces without UVs", counts.faces_without_uv),
        ("Triangles without surface", counts.degenerate_3d),
        ("Triangles without area on the sheet", counts.collapsed_uv),
    ]
    .map(|(name, count)| (name, grouped(count as u64)))
    .to_vec()
}

fn brief_rows(brief: &Brief) -> Vec<(String, String)> {
    let map = &brief.map;
    let unit = map.unit.symbol();
    let policy = |policy: Policy| match policy {
        Policy::Allow => "allowed",
        Policy::Look => "to be looked at",
        Policy::MustFix => "not allowed",
    };
    let usual = |own: Option<f64>, held: f64| match own {
        Some(_) => format!("{} px", plain(held)),
        None => format!("{} px, usual for this map", plain(held)),
    };
    let tiles = match map.tiles {
        Tiles::Single => "one tile",
        Tiles::Udim => "UDIM tiles",
        Tiles::Repeat => "a repeating texture",
        Tiles::Palette => "a palette of colours",
    };
    let sheets = match &map.sheets {
        SheetsAsked::Auto => "as the file suggests".to_owned(),
        SheetsAsked::One => "one for all materials".to_owned(),
        SheetsAsked::ByMaterial => "one for each material".to_owned(),
        SheetsAsked::Groups(groups) => {
            let names: Vec<_> = groups.iter().map(|group| isolated(&group.name)).collect();
            names.join(", ")
        }
    };
    let groups: Vec<_> = brief.text.groups.iter().map(|name| isolated(name)).collect();
    let groups = if brief.text.groups.is_empty() { NONE.to_owned() } else { groups.join(", ") };
    let mut rows = vec![
        ("Map", format!("{} x {} px, {tiles}", map.width_px, map.height_px)),
        ("Sheets", sheets),
        ("Unit", unit.to_owned()),
        (
            "Texel density",
            match brief.density.target_px_per_unit {
                Some(target) => format!("{} px per {unit}", plain(target)),
                None => "the model's own median".to_owned(),
            },
        ),
        ("Density may be off by", format!("{} %", plain(brief.density.tolerance_percent))),
        ("Anisotropy at most", plain(brief.stretch.max_anisotropy)),
        ("Must be fixed beyond", plain(brief.stretch.must_fix())),
        ("each on all but", format!("{} % of a part", plain(brief.stretch.max_share_over * 100.0))),
        ("Mirrored sharing", policy(brief.sharing.mirrored).to_owned()),
        ("Stacked sharing", policy(brief.sharing.stacked).to_owned()),
        ("Partial overlap", policy(brief.sharing.partial_overlap).to_owned()),
        ("Padding between shells", usual(brief.padding.between_px, brief.padding.between(map.of_sheet()))),
        ("Padding to the border", usual(brief.padding.border_px, brief.padding.border(map.of_sheet()))),
        ("Coverage at least", format!("{} %", plain(brief.coverage.min_share * 100.0))),
        ("Front", axis(brief.seams.front).to_owned()),
        (
            "Soft seams seen from there, at most",
            match brief.seams.max_front_over_diagonal {
                Some(length) => format!("{} of the diagonal", plain(length)),
                None => "any".to_owned(),
            },
        ),
        ("World-up", axis(brief.tilt.up).to_owned()),
        ("Must be safe for text", groups),
    ]
    .into_iter()
    .map(|(name, value)| (name.to_owned(), value))
    .collect::<Vec<_>>();
    rows.extend(
        brief.density_factor.iter().map(|(name, factor)| {
            (format!("Density factor of {}", isolated(name)), format!("{} times", plain(*factor)))
        }),
    );
    rows
}

/// A count in groups of three figures, parted by no-break spaces (ISO 80000-1, 7.3.1).
pub(super) fn grouped(count: u64) -> String {
    let digits = count.to_string();
    let mut out = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            out.push('\u{A0}');
        }
        out.push(digit);
    }
    out
}

/// Up to four decimals, no trailing zeros.
fn plain(value: f64) -> String {
    let text = format!("{value:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn axis(axis: Axis) -> &'static str {
    match axis {
        Axis::PlusX => "+x",
        Axis::MinusX => "-x",
        Axis::PlusY => "+y",
        Axis::MinusY => "-y",
        Axis::PlusZ => "+z",
        Axis::MinusZ => "-z",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_counts_have_digit_groups() {
        assert_eq!(
            [0, 999, 1000, 728_319, 1_048_576].map(grouped),
            ["0", "999", "1\u{A0}000", "728\u{A0}319", "1\u{A0}048\u{A0}576"]
        );
        assert_eq!([1.25, 5.0, 0.05 * 100.0, 1e-9, 1024.0].map(plain), ["1.25", "5", "5", "0", "1024"]);
    }
}
