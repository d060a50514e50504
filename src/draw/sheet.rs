//! The layout as a picture: the template that people paint over.
//!
//! SVG 1.1 with presentation attributes only, so that any program reads it. One unit is one px of the map; the size is
//! the map's, or that of all tiles in use. Outlines, seams and inner edges are chains (`outline`), one path each;
//! lengths are written to 0.01 px. Overlapping and flipped shells have a pattern besides a colour. Numbers are drawn as
//! strokes, so that they look the same wherever there is no font.
//!
//! Degenerate: without uv the tile alone is drawn; what lies more than [`REACH_PX`] away is drawn at that distance.
//! Cost: n log n in border edges, and in the edges of what carries a pattern.
//!
//! It is the only drawing of the sheet: the command's PNG is this SVG drawn by `resvg`, and the page's worker draws it on a
//! canvas (`www/model/svg.worker.js`), so that the module needs no code to fill outlines and no encoder.

use super::outline::{Chain, Rings, inner_edges, region, seams};
use super::written::{HUNDREDTH, escape_into, figure, hexadecimal, push_place};
use crate::brief::Brief;
use crate::lens::{self, Texels, flag};
use crate::measure::Measures;
use crate::measure::sheet::padding::Gap;
use crate::model::Model;
use glam::DVec2;
use std::fmt::{self, Write as _};

/// Furthest place from the picture's origin, px.
pub const REACH_PX: f64 = 1e6;
/// Ink of outlines.
const INK: &str = "#17263B";
/// Ink of seams.
const SEAM: &str = "#0B6478";
/// Ink of gaps that are too narrow.
const ALARM: &str = "#A63A08";
/// Pattern cells along the tile's longer side: coarse enough to be seen when the whole sheet is a thumbnail.
const PATTERN_CELLS: f64 = 48.0;
/// Height of a tile's number over the tile's shorter side.
const NUMBER_HEIGHT: f64 = 0.03;

/// Gaps with a ring and a number: as many as can be distinguished on a sheet; the others are only lines. Own choice.
pub const GAPS_ROUNDED: usize = 200;

/// What lies below the shells.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Ground<'a> {
    /// Nothing: the picture is transparent.
    #[default]
    Transparent,
    /// Plain paper.
    Paper,
    /// The calibrated grid, as the URL of its picture at the map's size: usually a data URL. The caller encodes it, so
    /// that the page's module needs no encoder.
    Grid(&'a str),
}

/// What is written on a shell.
#[derive(Clone, Debug)]
pub struct ShellName {
    /// The name.
    pub text: String,
    /// The sheet that the shell is on.
    pub sheet: usize,
    /// u0, v0, u1, v1 of the shell on the sheet.
    pub bounds_uv: Option<[f64; 4]>,
}

/// What the picture shows besides outlines, seams and tiles.
#[derive(Clone, Copy, Debug, Default)]
pub struct SheetOptions<'a> {
    /// Below the shells.
    pub ground: Ground<'a>,
    /// Edges of faces inside the shells.
    pub inner_edges: bool,
    /// Patterns on flipped, folded, overlapping or stretched triangles.
    pub flags: bool,
    /// Names on the shells, one for each shell of the model; empty: none.
    pub names: &'a [ShellName],
    /// Gaps to mark, worst first; the first [`GAPS_ROUNDED`] with a ring and their width.
    pub gaps: &'a [Gap],
    /// One UDIM tile instead of all that are in use.
    pub tile: Option<u32>,
    /// Which sheet, where there are several: its place in [`Sheets::list`](crate::measure::sheet::sheets::Sheets::list).
    pub sheet: usize,
}

/// Why there is no picture of the sheet.
#[derive(Clone, Debug, PartialEq)]
pub enum SheetError {
    /// No such sheet.
    Sheet {
        /// How many there are.
        count: usize,
    },
    /// No such tile is in use.
    Tile {
        /// The requested number.
        tile: u32,
        /// Those in use.
        in_use: Vec<u32>,
    },
    /// Too many pixels for one picture.
    TooLarge {
        /// Width, px.
        width_px: u64,
        /// Height, px.
        height_px: u64,
    },
    /// The drawing could not be turned into pixels.
    Drawing {
        /// What the library said.
        reason: String,
    },
}

impl fmt::Display for SheetError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Sheet { count } => write!(f, "There is no such sheet: the model has {count}."),
            Self::Tile { tile, in_use } => {
                let in_use: Vec<String> = in_use.iter().map(u32::to_string).collect();
                write!(f, "Tile {tile} is not in use. In use: {}.", in_use.join(", "))
            }
            Self::TooLarge { width_px, height_px } => write!(
                f,
                "A picture of {width_px} x {height_px} px is too large to make. Choose one tile, or write it as SVG."
            ),
            Self::Drawing { reason } => {
                write!(f, "The sheet was drawn but could not be turned into pixels ({reason}). Please report this.")
            }
        }
    }
}

impl std::error::Error for SheetError {}

/// Which part of the uv plane a picture shows, and how large.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Lowest u and v.
    pub low: DVec2,
    /// Highest u and v.
    pub high: DVec2,
    /// Units of the picture per unit of u and of v.
    pub scale: DVec2,
}

impl Frame {
    /// Width and height of the picture.
    pub fn size(&self) -> DVec2 {
        (self.high - self.low) * self.scale
    }

    /// Where a uv lies, y down from the top.
    pub fn place(&self, uv: DVec2) -> DVec2 {
        let at = (uv - self.low) * self.scale;
        DVec2::new(at.x, self.size().y - at.y).clamp(DVec2::splat(-REACH_PX), DVec2::splat(REACH_PX))
    }
}

/// Column and row of a UDIM tile.
pub fn tile_origin(tile: u32) -> DVec2 {
    let index = tile.saturating_sub(crate::brief::FIRST_TILE);
    DVec2::new(f64::from(index % 10), f64::from(index / 10))
}

/// The frame of the requested tiles; numbers of the tiles in it.
pub(super) fn frame(
    measures: &Measures,
    brief: &Brief,
    options: &SheetOptions,
) -> Result<(Frame, Vec<u32>), SheetError> {
    let count = measures.sheets.list.len();
    let map = match measures.sheets.list.get(options.sheet) {
        Some(one) => one.map,
        None if options.sheet == 0 => brief.map.of_sheet(),
        None => return Err(SheetError::Sheet { count }),
    };
    let (sheet, _) = measures.of_sheet(options.sheet);
    let in_use = if sheet.tiles.is_empty() { vec![crate::brief::FIRST_TILE] } else { sheet.tiles.clone() };
    let tiles = match options.tile {
        Some(tile) if in_use.contains(&tile) => vec![tile],
        Some(tile) => return Err(SheetError::Tile { tile, in_use }),
        None => in_use,
    };
    let (low, high) = tiles
        .iter()
        .map(|&tile| tile_origin(tile))
        .fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at + DVec2::ONE)));
    let scale = DVec2::new(f64::from(map.width_px.max(1)), f64::from(map.height_px.max(1)));
    Ok((Frame { low, high, scale }, tiles))
}

/// Draws the sheet as SVG.
///
/// # Errors
/// A tile that is not in use.
pub fn sheet_svg(
    model: &Model,
    measures: &Measures,
    brief: &Brief,
    options: &SheetOptions,
) -> Result<String, SheetError> {
    let (frame, tiles) = frame(measures, brief, options)?;
    let are_several = measures.sheets.are_several();
    let is_here = |triangle: usize| !are_several || measures.sheets.of_face(model.face_of(triangle)) == options.sheet;
    let begins_here =
        |corner: u32| !are_several || measures.sheets.of_face(model.face_of_corner(corner)) == options.sheet;
    let mut svg = Svg { out: String::new(), frame };
    svg.begin(!matches!(options.ground, Ground::Grid(_)));
    svg.definitions(options);
    svg.ground(options.ground, &tiles);
    if options.flags {
        svg.flags(model, measures, brief, is_here);
    }
    if options.inner_edges {
        svg.open("inner-edges", &stroke(INK, 0.5, " stroke-opacity=\".45\""));
        svg.path("", model, &inner_edges(model, begins_here));
        svg.out.push_str("</g>\n");
    }
    let rings = if are_several { Rings::of_some(model, is_here) } else { Rings::new(model) };
    if let Ground::Grid(_) = options.ground {
        // A margin of paper: without it the lines are lost among the grid's.
        svg.open("hem", &stroke(&hexadecimal(lens::PAPER), 9.0, ""));
        for shell in 0..rings.shell_count() {
            svg.path("", model, rings.of(shell));
        }
        svg.out.push_str("</g>\n");
    }
    svg.open("outlines", &stroke(INK, 1.5, ""));
    for shell in (0..rings.shell_count()).filter(|&shell| !are_several || !rings.of(shell).is_empty()) {
        let _ = write!(svg.out, "<path id=\"shell-{shell}\" d=\"");
        push_path(&mut svg.out, model, rings.of(shell), &frame, HUNDREDTH);
        svg.out.push_str("\"/>\n");
    }
    svg.out.push_str("</g>\n");
    svg.open("seams", &stroke(SEAM, 3.0, " stroke-opacity=\".7\""));
    svg.path("", model, &seams(model, begins_here));
    svg.out.push_str("</g>\n");
    svg.gaps(options.gaps, options.sheet);
    svg.tiles(&tiles);
    svg.names(model, options.names, options.sheet);
    svg.out.push_str("</svg>\n");
    Ok(svg.out)
}

fn stroke(colour: &str, width: f64, more: &str) -> String {
    format!(
        "fill=\"none\" stroke=\"{colour}\" stroke-width=\"{width}\" stroke-linejoin=\"round\" stroke-linecap=\"round\"{more}"
    )
}

struct Svg {
    out: String,
    frame: Frame,
}

// Writing to a String cannot fail: the results of `write!` are ignored below.
impl Svg {
    fn begin(&mut self, clean: bool) {
        let (width, height) = (self.frame.size().x, self.frame.size().y);
        let what = if clean { "outlines of its shells" } else { "outlines of its shells on the calibrated grid" };
        let _ = write!(
            self.out,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" xmlns:xlink=\"http://www.w3.org/1999/xlink\" width=\"{width}\" \
             height=\"{height}\" viewBox=\"0 0 {width} {height}\">\n<title>Sheet of {width} x {height} px: {what}</title>\n"
        );
    }

    fn definitions(&mut self, options: &SheetOptions) {
        self.out.push_str("<defs>\n");
        if options.flags {
            // Whole pixels: drawn as a picture that repeats, a cell would else be rounded, or show its edges.
            let cell = (self.frame.scale.max_element() / PATTERN_CELLS).round().max(1.0);
            let over_grid = matches!(options.ground, Ground::Grid(_));
            for flag in &FLAGS {
                flag.define(&mut self.out, cell, over_grid);
            }
        }
        if let Ground::Grid(url) = options.ground {
            let (width, height) = (self.frame.scale.x, self.frame.scale.y);
            let _ = write!(self.out, "<image id=\"grid\" width=\"{width}\" height=\"{height}\" xlink:href=\"");
            escape_into(&mut self.out, url);
            self.out.push_str("\"/>\n");
        }
        self.out.push_str("</defs>\n");
    }

    fn ground(&mut self, ground: Ground, tiles: &[u32]) {
        if ground == Ground::Transparent {
            return;
        }
        self.open("ground", "");
        let size = self.frame.scale;
        for &tile in tiles {
            let at = self.frame.place(tile_origin(tile) + DVec2::Y);
            let (x, y) = (at.x, at.y);
            let _ = match ground {
                Ground::Grid(_) => writeln!(self.out, "<use xlink:href=\"#grid\" x=\"{x}\" y=\"{y}\"/>"),
                _ => writeln!(
                    self.out,
                    "<rect x=\"{x}\" y=\"{y}\" width=\"{}\" height=\"{}\" fill=\"{}\"/>",
                    size.x,
                    size.y,
                    hexadecimal(lens::PAPER)
                ),
            };
        }
        self.out.push_str("</g>\n");
    }

    fn flags(&mut self, model: &Model, measures: &Measures, brief: &Brief, is_here: impl Fn(usize) -> bool) {
        let texels = Texels::new(model, measures, brief);
        let shown: Vec<u8> = (0..model.triangle_count())
            .map(|triangle| {
                let flags = texels.of(triangle).flags;
                FLAGS.iter().map(|flag| flag.bit).find(|bit| flags & bit != 0).unwrap_or(0)
            })
            .collect();
        self.open("flags", "");
        // The most severe last, on top of the others.
        for flag in FLAGS.iter().rev() {
            let outline = region(model, |triangle| shown[triangle] == flag.bit && is_here(triangle));
            if !outline.is_empty() {
                let attributes = format!(
                    "id=\"{0}\" fill=\"url(#pattern-{0})\" stroke=\"{1}\" stroke-width=\"2\"",
                    flag.name,
                    hexadecimal(flag.dark())
                );
                self.path(&attributes, model, &outline);
            }
        }
        self.out.push_str("</g>\n");
    }

    fn gaps(&mut self, gaps: &[Gap], sheet: usize) {
        if gaps.iter().all(|gap| gap.sheet as usize != sheet) {
            return;
        }
        self.open("narrow-gaps", &stroke(ALARM, 2.0, ""));
        let height = self.frame.scale.min_element() * NUMBER_HEIGHT / 2.0;
        let Frame { low, high, .. } = self.frame;
        let seen = |uv: DVec2| uv.cmpge(low).all() && uv.cmple(high).all();
        let gaps = gaps.iter().filter(|gap| gap.sheet as usize == sheet);
        for (rank, gap) in gaps.enumerate().filter(|(_, gap)| seen(gap.at_a) || seen(gap.at_b)) {
            let [a, b] = [gap.at_a, gap.at_b].map(|uv| self.frame.place(uv));
            let (middle, radius) = ((a + b) / 2.0, (b - a).length().max(height));
            self.out.push_str("<path d=\"M");
            push_place(&mut self.out, a, HUNDREDTH);
            self.out.push('L');
            push_place(&mut self.out, b, HUNDREDTH);
            self.out.push_str("\"/>\n");
            if rank >= GAPS_ROUNDED {
                continue;
            }
            let _ = writeln!(
                self.out,
                "<circle cx=\"{:.2}\" cy=\"{:.2}\" r=\"{radius:.2}\"><title>{:.1} px</title></circle>",
                middle.x, middle.y, gap.px
            );
            let text = format!("{:.1}", gap.px);
            self.figures(&text, middle + DVec2::new(radius * 1.3, height / 2.0), height);
        }
        self.out.push_str("</g>\n");
    }

    fn tiles(&mut self, tiles: &[u32]) {
        let size = self.frame.scale;
        self.open("tiles", &stroke(INK, 2.0, ""));
        let height = size.min_element() * NUMBER_HEIGHT;
        for &tile in tiles {
            let at = self.frame.place(tile_origin(tile) + DVec2::Y);
            // Half a line inwards, so that the border is whole where the picture ends.
            let _ = writeln!(
                self.out,
                "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"><title>Tile {tile}</title></rect>",
                at.x + 1.0,
                at.y + 1.0,
                size.x - 2.0,
                size.y - 2.0
            );
            let below = self.frame.place(tile_origin(tile));
            self.figures(&tile.to_string(), below + DVec2::new(height * 0.6, -height * 0.6), height);
        }
        self.out.push_str("</g>\n");
    }

    fn names(&mut self, model: &Model, shells: &[ShellName], sheet: usize) {
        if shells.is_empty() {
            return;
        }
        self.open(
            "names",
            "font-family=\"Barlow, system-ui, sans-serif\" font-weight=\"500\" text-anchor=\"middle\" fill=\"#17263B\" \
             stroke=\"#FBF7EC\" stroke-linejoin=\"round\" paint-order=\"stroke\"",
        );
        let places = name_places(model, shells.len());
        let least = self.frame.scale.max_element() * LEAST_NAME;
        for (shell, place) in shells.iter().zip(places).filter(|(shell, _)| shell.sheet == sheet) {
            let (Some((middle, room)), Some([u0, v0, u1, v1])) = (place, shell.bounds_uv) else { continue };
            let at = self.frame.place(middle);
            let extent = (DVec2::new(u1 - u0, v1 - v0) * self.frame.scale).min(self.frame.size());
            let letters = shell.text.chars().count().max(4) as f64;
            let by_area = room.sqrt() * self.frame.scale.min_element() * 0.16;
            let size = by_area.min(extent.x / (letters * 0.55)).min(extent.y * 0.8);
            if size < least {
                continue;
            }
            let _ =
                write!(self.out, "<text x=\"{:.2}\" y=\"{:.2}\" font-size=\"{size:.2}\">", at.x, at.y + size * 0.35);
            escape_into(&mut self.out, &shell.text);
            self.out.push_str("</text>\n");
        }
        self.out.push_str("</g>\n");
    }

    fn open(&mut self, id: &str, attributes: &str) {
        let space = if attributes.is_empty() { "" } else { " " };
        let _ = writeln!(self.out, "<g id=\"{id}\"{space}{attributes}>");
    }

    fn path(&mut self, attributes: &str, model: &Model, chains: &[Chain]) {
        if chains.is_empty() {
            return;
        }
        let space = if attributes.is_empty() { "" } else { " " };
        let _ = write!(self.out, "<path{space}{attributes} d=\"");
        push_path(&mut self.out, model, chains, &self.frame, HUNDREDTH);
        self.out.push_str("\"/>\n");
    }

    /// Figures drawn as strokes, from the left, with baseline at `at`.
    fn figures(&mut self, text: &str, at: DVec2, height: f64) {
        let unit = height / 6.0;
        let mut x = at.x;
        self.out.push_str("<path d=\"");
        for letter in text.chars() {
            for stroke in figure(letter) {
                for (index, &(dx, dy)) in stroke.iter().enumerate() {
                    self.out.push(if index == 0 { 'M' } else { 'L' });
                    let place = DVec2::new(x + f64::from(dx) * unit, at.y - f64::from(dy) * unit);
                    push_place(&mut self.out, place, HUNDREDTH);
                }
            }
            x += unit * if letter == '.' { 2.5 } else { 5.5 };
        }
        self.out.push_str("\"/>\n");
    }
}

/// Least size of a name over the tile's longer side; a smaller shell has none.
const LEAST_NAME: f64 = 0.006;

/// Per shell, a place inside it for its name and its area, uv: its centre of area, or where that lies outside, the middle
/// of its largest triangle.
fn name_places(model: &Model, shells: usize) -> Vec<Option<(DVec2, f64)>> {
    let shapes = || {
        (0..model.triangle_count())
            .filter_map(|triangle| Some((model.shell_of(triangle)? as usize, model.uvs(triangle)?)))
    };
    let area = |[a, b, c]: [DVec2; 3]| (b - a).perp_dot(c - a).abs() / 2.0;
    // Sum of middles by area, area, largest area and its middle.
    let mut sums = vec![(DVec2::ZERO, 0.0, 0.0, DVec2::ZERO); shells];
    for (shell, q) in shapes() {
        let Some(sum) = sums.get_mut(shell) else { continue };
        let (area, middle) = (area(q), (q[0] + q[1] + q[2]) / 3.0);
        (sum.0, sum.1) = (sum.0 + middle * area, sum.1 + area);
        if area > sum.2 {
            (sum.2, sum.3) = (area, middle);
        }
    }
    let mut inside = vec![false; shells];
    for (shell, q) in shapes() {
        let Some(&(sum, all, ..)) = sums.get(shell) else { continue };
        let turns = [0, 1, 2].map(|i| (q[(i + 1) % 3] - q[i]).perp_dot(sum / all - q[i]));
        inside[shell] |= turns.iter().all(|turn| *turn >= 0.0) || turns.iter().all(|turn| *turn <= 0.0);
    }
    let place = |((sum, all, _, middle), inside): (_, bool)| {
        (all > 0.0).then(|| (if inside { sum / all } else { middle }, all))
    };
    sums.into_iter().zip(inside).map(place).collect()
}

/// A flag with its colour and pattern.
struct Flag {
    bit: u8,
    name: &'static str,
    colour: [u8; 3],
    /// Pattern in a cell of 8 x 8.
    draw: &'static str,
}

/// The most severe first: a triangle has one.
const FLAGS: [Flag; 6] = [
    Flag {
        bit: flag::FOLDED,
        name: "folded",
        colour: lens::FOLDED,
        draw: "M0 0L8 8M0 8L8 0M4-4L12 4M-4 4L4 12M4 12L12 4M-4 4L4-4",
    },
    Flag { bit: flag::FLIPPED, name: "flipped", colour: lens::FLIPPED, draw: "M-2 2L2-2M-2 10L10-2M6 10L10 6" },
    Flag {
        bit: flag::PARTIAL_OVERLAP,
        name: "partial-overlap",
        colour: lens::PARTIAL_OVERLAP,
        draw: "M0 0H8M0 4H8M2 0V4M6 4V8",
    },
    Flag {
        bit: flag::MIRRORED,
        name: "mirrored",
        colour: lens::MIRRORED,
        draw: "M1.5 1.5L4 4L1.5 6.5M4 1.5L6.5 4L4 6.5",
    },
    Flag { bit: flag::STACKED, name: "stacked", colour: lens::STACKED, draw: "M2 2h.01M6 6h.01" },
    Flag { bit: flag::STRETCHED, name: "stretched", colour: lens::STRETCHED, draw: "M1 2H4.5M4.5 6H8" },
];

impl Flag {
    /// The colour of its pattern.
    fn dark(&self) -> [u8; 3] {
        self.colour.map(|code| (f64::from(code) * 0.62).round() as u8)
    }

    /// `over_grid`: thinner, so that the grid is read under it.
    fn define(&self, out: &mut String, cell: f64, over_grid: bool) {
        let width = match (self.bit, over_grid) {
            (flag::FLIPPED, false) => 2.6,
            (flag::STACKED, _) => 2.2,
            (flag::FOLDED, false) => 0.55,
            (flag::FOLDED, true) => 0.4,
            (_, false) => 0.8,
            (_, true) => 0.6,
        };
        let wash = if over_grid { lens::LIGHT.tint } else { 0.22 };
        let _ = writeln!(
            out,
            "<pattern id=\"pattern-{}\" patternUnits=\"userSpaceOnUse\" width=\"{cell}\" height=\"{cell}\" \
             viewBox=\"0 0 8 8\"><rect width=\"8\" height=\"8\" fill=\"{}\" fill-opacity=\"{wash}\"/><path d=\"{}\" \
             fill=\"none\" stroke=\"{}\" stroke-width=\"{width}\" stroke-linecap=\"{}\"/></pattern>",
            self.name,
            hexadecimal(self.colour),
            self.draw,
            hexadecimal(self.dark()),
            if self.bit == flag::FLIPPED || self.bit == flag::FOLDED { "square" } else { "round" },
        );
    }
}

/// Writes chains as path data, lengths to 1 / `steps` of a unit; points that fall together are written once.
fn push_path(out: &mut String, model: &Model, chains: &[Chain], frame: &Frame, steps: f64) {
    for chain in chains {
        let places = chain.points.iter().map(|&point| frame.place(model.layout.uv_values[point as usize]));
        push_places(out, places, chain.closed, steps);
    }
}

/// Writes one chain of places.
pub(crate) fn push_places(out: &mut String, places: impl Iterator<Item = DVec2>, closed: bool, steps: f64) {
    let mut last = None;
    for (index, place) in places.enumerate() {
        let at = (place * steps).round();
        if last == Some(at) {
            continue;
        }
        last = Some(at);
        out.push(match index {
            0 => 'M',
            1 => 'L',
            _ => ' ',
        });
        push_place(out, at / steps, steps);
    }
    if closed {
        out.push('Z');
    }
}
