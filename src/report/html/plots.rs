//! Histograms as inline drawings: share of the surface by value, the brief's limits as lines. What lies beyond a limit is
//! outlined as well as coloured.

use super::{Page, Pictures};
use crate::findings::words::{percent, significant};
use crate::lens::histogram::Histogram;
use crate::report::Report;
use std::fmt::Write as _;

/// Units of a drawing.
const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 210.0;
/// Left, right, top and bottom of the bars.
const LEFT: f64 = 58.0;
const RIGHT: f64 = 548.0;
const TOP: f64 = 30.0;
const BOTTOM: f64 = 176.0;

impl Page {
    pub(super) fn plots(&mut self, report: &Report, pictures: &Pictures) {
        if pictures.stretch.is_none() && pictures.size.is_none() {
            return;
        }
        self.out.push_str(
            "<section aria-labelledby=\"plots\">\n<h2 id=\"plots\">How it is spread over the surface</h2>\n\
             <div class=\"pair\">\n",
        );
        if let Some(histogram) = &pictures.stretch {
            let over = report.stretch.share_over.map_or_else(String::new, |share| {
                format!(" {} of the surface is over the limit.", percent(share).text)
            });
            let caption = format!("Anisotropy: 1 keeps a square a square, 2 makes it a rectangle of 2 to 1.{over}");
            let ticks = [(1.0, "1"), (1.5, "1.5"), (2.0, "2"), (3.0, "3"), (4.0, "4 and more")];
            let words = ["limit", "must fix"];
            let limits: Vec<String> =
                histogram.limits.iter().zip(words).map(|(limit, word)| format!("{word} {limit:.2}")).collect();
            self.plot("Anisotropy", histogram, &ticks, &limits, &caption);
        }
        if let Some(histogram) = &pictures.size {
            let reference = report.density.reference.map_or_else(String::new, |density| {
                format!(" 1 is the reference, {} px per unit.", significant(density))
            });
            let caption = format!("Texel density against the reference.{reference}");
            let ticks = [(-3.0, "1/8"), (-2.0, "1/4"), (-1.0, "1/2"), (0.0, "1"), (1.0, "2"), (2.0, "4"), (3.0, "8")];
            let limits: Vec<String> = histogram.limits.iter().map(|limit| format!("{:.2}", limit.exp2())).collect();
            self.plot("Texel density", histogram, &ticks, &limits, &caption);
        }
        self.out.push_str("</div>\n</section>\n");
    }

    fn plot(&mut self, name: &str, histogram: &Histogram, ticks: &[(f64, &str)], limits: &[String], caption: &str) {
        let highest = histogram.counts.iter().copied().fold(0.0, f64::max);
        let top = round_up(highest);
        let x = |part: f64| LEFT + part * (RIGHT - LEFT);
        let y = |share: f64| BOTTOM - share / top * (BOTTOM - TOP);
        let _ =
            write!(self.out, "<figure><svg class=\"plot\" role=\"img\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" aria-label=\"");
        self.text(&format!("Histogram. {name}, share of the surface by value. {caption}"));
        self.out.push_str("\">\n");
        let (mut within, mut beyond) = (String::new(), String::new());
        let at: Vec<f64> = histogram.limits.iter().map(|&limit| histogram.position(limit)).collect();
        let (lowest, most) = histogram.allowed();
        let bars = histogram.counts.len() as f64;
        for (bar, &share) in (0u32..).zip(&histogram.counts) {
            if share <= 0.0 {
                continue;
            }
            // A bar over a limit is split there: its share is spread evenly within it.
            let (left, right) = (f64::from(bar) / bars, f64::from(bar + 1) / bars);
            // Limits rise, so these do.
            let mut cuts = vec![left];
            cuts.extend(at.iter().copied().filter(|&cut| cut > left && cut < right));
            cuts.push(right);
            for ends in cuts.windows(2) {
                let middle = (ends[0] + ends[1]) / 2.0;
                let path = if middle >= lowest && middle <= most { &mut within } else { &mut beyond };
                let _ = write!(path, "M{:.1} {BOTTOM}V{:.1}H{:.1}V{BOTTOM}Z", x(ends[0]), y(share), x(ends[1]));
            }
        }
        let _ = writeln!(self.out, "<path class=\"within\" d=\"{within}\"/><path class=\"beyond\" d=\"{beyond}\"/>");
        let _ = writeln!(
            self.out,
            "<path class=\"axis\" d=\"M{LEFT} {TOP}V{BOTTOM}H{RIGHT}M{0} {TOP}H{LEFT}\"/>",
            LEFT - 5.0
        );
        let _ = write!(self.out, "<text x=\"{}\" y=\"{}\" text-anchor=\"end\">", LEFT - 8.0, TOP + 4.0);
        self.text(&format!("{:.0} %", top * 100.0));
        let _ =
            writeln!(self.out, "</text><text x=\"{}\" y=\"{}\" text-anchor=\"end\">0</text>", LEFT - 8.0, BOTTOM + 4.0);
        for &(value, label) in ticks {
            let at = x(histogram.position(value));
            let anchor = if at > RIGHT - 20.0 { "end" } else { "middle" };
            let _ = write!(
                self.out,
                "<path class=\"axis\" d=\"M{at:.1} {BOTTOM}v5\"/><text x=\"{at:.1}\" y=\"{}\" text-anchor=\"{anchor}\">",
                BOTTOM + 20.0
            );
            self.text(label);
            self.out.push_str("</text>\n");
        }
        for (index, (&at, label)) in at.iter().zip(limits).enumerate() {
            let at = x(at);
            // Two limits are near one another: their words lie to either side.
            let (anchor, aside) = if limits.len() == 2 && index == 0 { ("end", -5.0) } else { ("start", 5.0) };
            let _ = write!(
                self.out,
                "<path class=\"limit\" d=\"M{at:.1} {}V{BOTTOM}\"/><text class=\"limit-text\" x=\"{:.1}\" y=\"{}\" \
                 text-anchor=\"{anchor}\">",
                TOP - 18.0,
                at + aside,
                TOP - 9.0
            );
            self.text(label);
            self.out.push_str("</text>\n");
        }
        self.out.push_str("</svg>");
        self.element("figcaption", caption);
        self.out.push_str("</figure>\n");
    }
}

/// The next of 1, 2, 5 times a power of ten per cent, at most the whole.
fn round_up(share: f64) -> f64 {
    [0.01, 0.02, 0.05, 0.1, 0.2, 0.5].into_iter().find(|&top| share <= top).unwrap_or(1.0)
}
