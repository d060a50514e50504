//! The numbers: key figures, counts, brief, shells, warnings.

use super::Page;
use crate::brief::{Axis, Brief, Policy, Tiles};
use crate::findings::judge::words::{percent, significant};
use crate::findings::text::key_numbers;
use crate::findings::{Report, shell_label};
use std::fmt::Write as _;

/// Shells listed; the JSON report has all.
const MOST_SHELLS: usize = 200;
/// Where there is no value.
const NONE: &str = "none";

impl Page {
    pub(super) fn tables(&mut self, report: &Report, brief: &Brief) {
        self.section("numbers", "Numbers");
        self.out.push_str("<div class=\"pair\">\n");
        self.rows("Measured, over the whole model", "Measure", "Value", key_numbers(report));
        self.rows("Counted in the file", "Element", "Count", counts(report));
        self.out.push_str("</div>\n</section>\n");
        self.section("brief", "The brief it was held to");
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
        self.out.push_str(
            "<div class=\"scroll\" role=\"region\" aria-label=\"Table of shells\" tabindex=\"0\">\n<table>\n",
        );
        let all = report.shells.len();
        let caption = if all > MOST_SHELLS {
            format!("The first {MOST_SHELLS} of {all} shells; the JSON report has all.")
        } else {
            format!("All shells: {all}.")
        };
        self.element("caption", &caption);
        self.out.push_str("<thead><tr><th scope=\"col\">Shell</th>");
        for title in [
            "Faces",
            "Surface, square units",
            "Density, px per unit",
            "Anisotropy, median",
            "Over the limit",
            "Handedness",
            "Tilt",
        ] {
            self.element("th scope=\"col\" class=\"n\"", title);
        }
        self.out.push_str("</tr></thead>\n<tbody>\n");
        let or_none = |value: Option<String>| value.unwrap_or_else(|| NONE.to_owned());
        for shell in report.shells.iter().take(MOST_SHELLS) {
            self.out.push_str("<tr>");
            self.element("th scope=\"row\"", &shell_label(shell));
            let handedness = match (shell.turned_over, shell.folded) {
                (true, 0) => "turned over".to_owned(),
                (true, folded) => format!("turned over, {folded} folded"),
                (false, 0) => "right way".to_owned(),
                (false, folded) => format!("{folded} folded"),
            };
            for value in [
                grouped(shell.faces as u64),
                significant(shell.surface),
                or_none(shell.density.map(significant)),
                or_none(shell.anisotropy_median.map(|ratio| format!("{ratio:.2}"))),
                or_none(shell.share_over.map(|share| percent(share).text)),
                handedness,
                or_none(shell.tilt_deg.map(|tilt| format!("{tilt:.0}°"))),
            ] {
                self.element("td class=\"n\"", &value);
            }
            self.out.push_str("</tr>\n");
        }
        self.out.push_str("</tbody>\n</table>\n</div>\n</section>\n");
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
    let map = brief.map;
    let unit = map.unit.symbol();
    let policy = |policy: Policy| match policy {
        Policy::Allow => "allowed",
        Policy::Look => "to be looked at",
        Policy::Stop => "not allowed",
    };
    let usual = |own: Option<f64>, held: f64| match own {
        Some(_) => format!("{} px", plain(held)),
        None => format!("{} px, usual for this map", plain(held)),
    };
    let tiles = match map.tiles {
        Tiles::Single => "one tile",
        Tiles::Udim => "UDIM tiles",
    };
    let groups = if brief.lettering.groups.is_empty() { NONE.to_owned() } else { brief.lettering.groups.join(", ") };
    let mut rows = vec![
        ("Map", format!("{} x {} px, {tiles}", map.width_px, map.height_px)),
        ("Unit", unit.to_owned()),
        (
            "Texel density",
            match brief.density.target_px_per_unit {
                Some(target) => format!("{} px per {unit}", plain(target)),
                None => "the model's own mean".to_owned(),
            },
        ),
        ("Density may be off by", format!("{} %", plain(brief.density.tolerance_percent))),
        ("Anisotropy at most", plain(brief.stretch.max_anisotropy)),
        ("on all but", format!("{} % of a part", plain(brief.stretch.max_share_over * 100.0))),
        ("Mirrored sharing", policy(brief.sharing.mirrored).to_owned()),
        ("Stacked sharing", policy(brief.sharing.stacked).to_owned()),
        ("Crossing", policy(brief.sharing.crossing).to_owned()),
        ("Padding between shells", usual(brief.padding.between_px, brief.padding.between(map))),
        ("Padding to the border", usual(brief.padding.border_px, brief.padding.border(map))),
        ("Coverage at least", format!("{} %", plain(brief.coverage.min_share * 100.0))),
        ("Front", axis(brief.seams.front).to_owned()),
        (
            "Seams seen from there, at most",
            match brief.seams.max_share_in_front {
                Some(share) => format!("{} %", plain(share * 100.0)),
                None => "any".to_owned(),
            },
        ),
        ("World-up", axis(brief.tilt.up).to_owned()),
        ("Must be safe for lettering", groups),
    ]
    .into_iter()
    .map(|(name, value)| (name.to_owned(), value))
    .collect::<Vec<_>>();
    rows.extend(
        brief
            .emphasis
            .iter()
            .map(|(name, factor)| (format!("Emphasis of {name}"), format!("{} times", plain(*factor)))),
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
    fn numbers_are_short_and_counts_in_groups() {
        assert_eq!(
            [0, 999, 1000, 728_319, 1_048_576].map(grouped),
            ["0", "999", "1\u{A0}000", "728\u{A0}319", "1\u{A0}048\u{A0}576"]
        );
        assert_eq!([1.25, 5.0, 0.05 * 100.0, 1e-9, 1024.0].map(plain), ["1.25", "5", "5", "0", "1024"]);
    }
}
