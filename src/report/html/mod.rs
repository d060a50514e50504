//! The report as one HTML page: to read, to send, to print. It loads nothing and runs no scripts.
//!
//! Every finding's title, place, number, limit and advice are the report's own texts, as the plain text and the JSON
//! have them. All names are untrusted: everything written into the page passes [`escape_into`].
//!
//! To keep it small: outlines are written once, with no more corners than can be seen, and referred to; findings beyond
//! the first two dozen have no picture, beyond the first forty they are rows; every table ends after the worst 200 and
//! gives the number of the others. No font is embedded: that is 48 kB for a page that reads as well in the system's
//! own.

mod inset;
mod plots;
mod tables;

use super::text::follow_words;
use super::{Report, Verdict};
use crate::brief::Brief;
use crate::draw::View;
use crate::draw::written::escape_into;
use crate::findings::words::count_of;
use crate::findings::{Finding, Severity};
use crate::lens::Lens;
use crate::lens::histogram::Histogram;
use crate::measure::Measures;
use crate::model::Model;
use crate::review::Decision;
use crate::util::isolate::isolated;
use inset::Inset;
use std::fmt::Write as _;
use tables::grouped;

/// Findings that get a picture of their view, from the worst on: as many as are looked at, and a page of few MB.
pub const MOST_VIEWS: usize = 24;
/// Findings that get a card, from the worst on: some fourteen printed pages. Those beyond are rows.
pub const MOST_CARDS: usize = 40;
/// Places that a card lists of a finding about many; the JSON report has all.
pub const MOST_PLACES: usize = 60;
/// Width of a view, px: sharp in print at a page's half width.
pub const VIEW_WIDTH_PX: u32 = 640;
/// Height of a view, px.
pub const VIEW_HEIGHT_PX: u32 = 400;

/// The pictures the page needs, in the order [`Pictures::new`] takes them: the whole model, then the findings' views.
pub fn shots(report: &Report) -> Vec<View<'_>> {
    let whole = View {
        camera: None,
        width_px: VIEW_WIDTH_PX,
        height_px: VIEW_HEIGHT_PX,
        lens: Lens::Grid,
        flags: true,
        lit: &[],
    };
    let views = seen(report).map(|(_, finding)| View {
        camera: finding.camera,
        lens: Lens::named(finding.lens).unwrap_or(Lens::Grid),
        lit: &finding.shells,
        ..whole
    });
    std::iter::once(whole).chain(views).collect()
}

/// Findings that have a card.
fn cards(report: &Report) -> &[Finding] {
    &report.findings[..report.findings.len().min(MOST_CARDS)]
}

/// Findings with a view, and their place in the report.
fn seen(report: &Report) -> impl Iterator<Item = (usize, &Finding)> {
    cards(report).iter().enumerate().filter(|(_, finding)| finding.camera.is_some()).take(MOST_VIEWS)
}

/// Everything the page shows that is not in the report itself.
#[derive(Clone, Debug)]
pub struct Pictures {
    whole: Option<String>,
    /// Per finding.
    views: Vec<Option<String>>,
    inset: Inset,
    stretch: Option<Histogram>,
    size: Option<Histogram>,
}

impl Pictures {
    /// `images` are the data URLs of [`shots`], in that order; where some are missing or empty, the page omits them.
    /// Anything but a PNG's data URL counts as missing.
    pub fn new(model: &Model, measures: &Measures, brief: &Brief, report: &Report, images: Vec<String>) -> Self {
        let mut images = images.into_iter().map(|url| Some(url).filter(|url| is_png_url(url)));
        let whole = images.next().flatten();
        let mut views = vec![None; report.findings.len()];
        for ((index, _), image) in seen(report).zip(images) {
            views[index] = image;
        }
        Self {
            whole,
            views,
            inset: Inset::new(model, measures, brief, cards(report)),
            stretch: Histogram::new(model, measures, brief, Lens::Stretch),
            size: Histogram::new(model, measures, brief, Lens::Density),
        }
    }
}

fn is_png_url(url: &str) -> bool {
    url.strip_prefix("data:image/png;base64,").is_some_and(|base64| {
        base64.bytes().all(|byte| byte.is_ascii_alphanumeric() || matches!(byte, b'+' | b'/' | b'='))
    })
}

/// The page.
pub fn html(report: &Report, pictures: &Pictures, brief: &Brief) -> String {
    let mut page = Page { out: String::with_capacity(64 << 10) };
    page.head(report);
    page.header(report);
    page.out.push_str("<main>\n");
    pictures.inset.define(&mut page);
    page.findings(report, pictures);
    page.notes(report);
    page.overview(pictures);
    page.plots(report, pictures);
    page.tables(report, brief);
    page.out.push_str("</main>\n<footer><p>Made by Gridproof ");
    page.out.push_str(env!("CARGO_PKG_VERSION"));
    page.out.push_str(", schema ");
    page.out.push_str(report.schema);
    page.out.push_str(
        ". The page holds everything it shows; it loads nothing and runs nothing.</p></footer>\n</body>\n</html>\n",
    );
    page.out
}

/// The page being written. Writing to a String cannot fail: the results of `write!` are ignored.
struct Page {
    out: String,
}

impl Page {
    fn text(&mut self, text: &str) {
        escape_into(&mut self.out, text);
    }

    /// A text of several lines.
    fn lines(&mut self, text: &str) {
        for (index, line) in text.lines().enumerate() {
            if index > 0 {
                self.out.push_str("<br>");
            }
            self.text(line);
        }
    }

    /// `<open>text</close>`, where `open` is a tag with its attributes.
    fn element(&mut self, open: &str, text: &str) {
        let close = open.split(' ').next().unwrap_or(open);
        self.out.push('<');
        self.out.push_str(open);
        self.out.push('>');
        self.text(text);
        self.out.push_str("</");
        self.out.push_str(close);
        self.out.push_str(">\n");
    }

    fn pair(&mut self, term: &str, value: &str) {
        self.element("dt", term);
        self.element("dd", value);
    }

    fn head(&mut self, report: &Report) {
        self.out.push_str(
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
             <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; \
             style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'\">\n\
             <meta name=\"color-scheme\" content=\"light dark\">\n<meta name=\"generator\" content=\"Gridproof\">\n",
        );
        self.element("title", &format!("{}: {}", isolated(&report.file.name), report.verdict_text()));
        self.out.push_str("<style>\n");
        self.out.push_str(include_str!("style.css"));
        self.out.push_str("</style>\n</head>\n<body>\n");
    }

    fn header(&mut self, report: &Report) {
        self.out.push_str("<header>\n<p class=\"eyebrow\">Gridproof report: are the UVs ready for painting?</p>\n");
        self.element("h1", &report.file.name);
        let (class, sentence) = match report.verdict {
            Verdict::Ready => ("ready", "Nothing in it stops painting."),
            Verdict::Look => ("look", "A person should decide about what is listed below."),
            Verdict::NotReady => ("stop", "It breaks the brief; what and where is listed below, worst first."),
        };
        self.out.push_str("<p class=\"verdict\">");
        self.element(&format!("strong class=\"{class}\""), &report.verdict_text());
        let count = |severity| {
            report.findings.iter().filter(|finding| finding.counts() && finding.severity == severity).count()
        };
        let parts: Vec<String> = [Severity::MustFix, Severity::Look, Severity::Info]
            .into_iter()
            .filter(|&severity| count(severity) > 0)
            .map(|severity| format!("{} {}", count(severity), severity.text()))
            .collect();
        let counted = if parts.is_empty() { String::new() } else { format!(" Findings: {}.", parts.join(", ")) };
        self.element("span", &format!("{sentence}{counted}"));
        self.out.push_str("</p>\n");
        if let Some(cause) = &report.cause {
            self.element("p class=\"cause\"", &cause.sentence);
        }
        self.out.push_str("<dl>\n");
        let to_ready = &report.to_ready.text;
        if !to_ready.is_empty() {
            self.pair("How far from ready", to_ready);
        }
        self.pair("Size", &format!("{} bytes", grouped(report.file.bytes)));
        self.out.push_str("<dt>SHA-256</dt>\n<dd>");
        self.element("code", &report.file.sha256);
        self.out.push_str("</dd>\n");
        let counts = &report.counts;
        let holds = [
            count_of(counts.triangles, "triangle"),
            count_of(counts.shells as usize, "shell"),
            count_of(counts.parts as usize, "part"),
        ];
        self.pair("Holds", &holds.join(", "));
        self.out.push_str("</dl>\n</header>\n");
    }

    fn findings(&mut self, report: &Report, pictures: &Pictures) {
        self.out.push_str("<section aria-labelledby=\"findings\">\n<h2 id=\"findings\">Findings</h2>\n");
        if report.findings.is_empty() {
            self.element("p", "None: everything measured is within the brief.");
        } else {
            // Those that follow from the cause come last.
            let own = report.findings.iter().position(|finding| finding.follows_cause);
            let own = own.unwrap_or(report.findings.len());
            let carded = cards(report).len();
            self.cards(report, pictures, 0..carded.min(own));
            if carded < own {
                self.further_findings(&report.findings[carded..own]);
            }
            if own < report.findings.len() {
                self.out.push_str("<details>\n");
                self.element("summary", &follow_words(report.findings.len() - own));
                self.cards(report, pictures, own.min(carded)..carded);
                self.further_findings(&report.findings[own.max(carded)..]);
                self.out.push_str("</details>\n");
            }
        }
        self.out.push_str("</section>\n");
    }

    fn cards(&mut self, report: &Report, pictures: &Pictures, range: std::ops::Range<usize>) {
        if range.is_empty() {
            return;
        }
        self.out.push_str("<ol class=\"findings\" role=\"list\">\n");
        for index in range {
            let view = pictures.views.get(index).and_then(Option::as_deref);
            self.finding(index, &report.findings[index], view, &pictures.inset);
        }
        self.out.push_str("</ol>\n");
    }

    fn finding(&mut self, index: usize, finding: &Finding, view: Option<&str>, inset: &Inset) {
        let class = match finding.severity {
            Severity::MustFix => "stop",
            Severity::Look => "look",
            Severity::Info => "info",
        };
        let meant = if finding.counts() { "" } else { " intended" };
        let _ = write!(self.out, "<li><article class=\"{class}{meant}\" aria-labelledby=\"finding-{index}\">\n<div>\n");
        self.element(&format!("p class=\"kind {class}\""), finding.severity.text());
        self.element(&format!("h3 id=\"finding-{index}\""), &finding.title);
        self.out.push_str("<p class=\"number\">");
        self.text(&finding.number.text);
        if let Some(limit) = &finding.limit {
            self.out.push_str(" <span>limit ");
            self.text(&limit.text);
            self.out.push_str("</span>");
        }
        self.out.push_str("</p>\n");
        self.element("p", &finding.advice);
        self.out.push_str("<p class=\"note\">");
        self.text(&finding.place);
        if let Some(line) = finding.line {
            let _ = write!(self.out, ", line {line}");
        }
        self.out.push_str("</p>\n");
        if !finding.places.is_empty() {
            self.places(finding);
        }
        match &finding.decision {
            Some(Decision::Intended { reason }) => {
                self.out.push_str("<p class=\"decision\"><b>Intended.</b> <bdi class=\"written\">");
                self.lines(reason);
                self.out.push_str("</bdi></p>\n");
            }
            Some(Decision::ToFix) => self.out.push_str("<p class=\"decision\"><b>To fix.</b></p>\n"),
            None => {}
        }
        self.out.push_str("</div>\n<div class=\"pictures\">\n");
        if let Some(url) = view {
            let alt = format!(
                "{}: {}. The model seen from there through the {} lens.",
                finding.title, finding.place, finding.lens
            );
            self.image(url, &alt, &format!("Lens: {}", finding.lens));
        }
        if let Some(region) = finding.region_uv {
            inset.of_finding(self, finding, region);
        }
        self.out.push_str("</div>\n</article></li>\n");
    }

    /// The first of the places of a finding that is about many.
    fn places(&mut self, finding: &Finding) {
        self.out.push_str("<details>\n");
        self.element("summary", &count_of(finding.places.len(), "place"));
        self.out.push_str("<ol>\n");
        for place in finding.places.iter().take(MOST_PLACES) {
            self.element("li", &[&place.name, ": ", &place.number.text].concat());
        }
        self.out.push_str("</ol>\n");
        if finding.places.len() > MOST_PLACES {
            self.element("p class=\"note\"", &format!("and {} more", finding.places.len() - MOST_PLACES));
        }
        self.out.push_str("</details>\n");
    }

    fn notes(&mut self, report: &Report) {
        if report.notes.is_empty() {
            return;
        }
        self.out.push_str("<section aria-labelledby=\"notes\">\n<h2 id=\"notes\">Notes</h2>\n<ol class=\"notes\">\n");
        for note in &report.notes {
            self.out.push_str("<li><p class=\"written\" dir=\"auto\">");
            self.lines(&note.text);
            self.out.push_str("</p>\n");
            let [x, y, z] = note.point;
            let place = note.shell.as_deref().unwrap_or("surface without UVs");
            self.element("p class=\"note\"", &format!("{place}, at {x:.3}, {y:.3}, {z:.3}"));
            self.out.push_str("</li>\n");
        }
        self.out.push_str("</ol>\n</section>\n");
    }

    fn image(&mut self, url: &str, alt: &str, caption: &str) {
        let _ =
            write!(self.out, "<figure><img width=\"{VIEW_WIDTH_PX}\" height=\"{VIEW_HEIGHT_PX}\" src=\"{url}\" alt=\"");
        self.text(alt);
        self.out.push_str("\">");
        self.element("figcaption", caption);
        self.out.push_str("</figure>\n");
    }

    fn overview(&mut self, pictures: &Pictures) {
        self.out.push_str(
            "<section aria-labelledby=\"overview\">\n<h2 id=\"overview\">Model and sheet</h2>\n<div class=\"pair\">\n",
        );
        if let Some(url) = &pictures.whole {
            self.image(
                url,
                "The whole model with the calibrated grid on it and problem patterns where something is wrong.",
                "The calibrated grid through the UVs, with problem patterns: strokes stretched, bars flipped, hatch folded, \
                 chevrons mirrored.",
            );
        }
        pictures.inset.whole(self);
        self.out.push_str("</div>\n</section>\n");
    }
}
