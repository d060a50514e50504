//! The sheet's face: a TrueType file compiled in, read table by table.
//!
//! Only the tables that the sheet needs are looked at (`cmap`, `head`, `hmtx`, `kern`, `loca`, `glyf`, by the crate
//! `ttf-parser`), so that a browser loads no reader of the formats this file is not in. Letters are filled by the crate
//! `ab_glyph_rasterizer` with exact area coverage.

use std::sync::LazyLock;

use ab_glyph_rasterizer::{Point, Rasterizer, point};
use ttf_parser::{GlyphId, OutlineBuilder, RawFace, Rect, Tag, cmap, glyf, head, hhea, hmtx, kern, loca, maxp};

/// The compiled-in face.
pub(super) static FACE: LazyLock<Face> = LazyLock::new(|| {
    // The file is compiled in and the tests of the lettering parse it, so this cannot fail.
    Face::parse(include_bytes!("barlow-600-grid.ttf")).expect("the compiled-in face is whole")
});

/// A drawing of the face.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Glyph(GlyphId);

/// The tables in use.
pub(super) struct Face {
    characters: cmap::Subtable<'static>,
    advances: hmtx::Table<'static>,
    kerning: Option<kern::Subtable<'static>>,
    outlines: glyf::Table<'static>,
    units_per_em: f64,
}

/// Coverage of a drawn letter; rows from the top.
pub(super) struct Drawn {
    /// Pixels from the pen's whole pixel to the first column.
    pub left: i32,
    /// Pixels from the baseline's whole pixel down to the first row.
    pub top: i32,
    /// Columns.
    pub width: usize,
    /// 0..=255 a pixel.
    pub coverage: Vec<u8>,
}

impl Face {
    fn parse(bytes: &'static [u8]) -> Option<Self> {
        let file = RawFace::parse(bytes, 0).ok()?;
        let table = |name: &[u8; 4]| file.table(Tag::from_bytes(name));
        let head = head::Table::parse(table(b"head")?)?;
        let glyphs = maxp::Table::parse(table(b"maxp")?)?.number_of_glyphs;
        let metrics = hhea::Table::parse(table(b"hhea")?)?.number_of_metrics;
        let places = loca::Table::parse(glyphs, head.index_to_location_format, table(b"loca")?)?;
        Some(Self {
            characters: cmap::Table::parse(table(b"cmap")?)?.subtables.into_iter().find(|table| table.is_unicode())?,
            advances: hmtx::Table::parse(metrics, glyphs, table(b"hmtx")?)?,
            kerning: table(b"kern")
                .and_then(kern::Table::parse)
                .and_then(|kern| kern.subtables.into_iter().find(|table| table.horizontal && !table.variable)),
            outlines: glyf::Table::parse(places, table(b"glyf")?)?,
            units_per_em: f64::from(head.units_per_em),
        })
    }

    /// The drawing of a character; `None` where the face has none.
    pub(super) fn glyph(&self, character: char) -> Option<Glyph> {
        self.characters.glyph_index(character.into()).filter(|glyph| glyph.0 != 0).map(Glyph)
    }

    /// Em of the pen's step.
    pub(super) fn advance_em(&self, glyph: Glyph) -> f64 {
        f64::from(self.advances.advance(glyph.0).unwrap_or(0)) / self.units_per_em
    }

    /// Kerning, em: how much further right the second of two neighbours is; mostly negative.
    pub(super) fn kern_em(&self, a: Glyph, b: Glyph) -> f64 {
        let units = self.kerning.as_ref().and_then(|pairs| pairs.glyphs_kerning(a.0, b.0)).unwrap_or(0);
        f64::from(units) / self.units_per_em
    }

    /// Ink below and above the baseline, em; neither negative for a letter on it.
    pub(super) fn reach_em(&self, glyph: Glyph) -> (f64, f64) {
        let bounds = self.outlines.bbox(glyph.0).filter(has_area);
        bounds.map_or((0.0, 0.0), |bounds| {
            (-f64::from(bounds.y_min) / self.units_per_em, f64::from(bounds.y_max) / self.units_per_em)
        })
    }

    /// A letter of `em` px (across, up) whose pen is `phase` px (right, down) from a whole pixel; `None` for one
    /// without ink.
    pub(super) fn draw(&self, glyph: Glyph, em: [f64; 2], phase: [f64; 2]) -> Option<Drawn> {
        let factor = [em[0] / self.units_per_em, -em[1] / self.units_per_em].map(|factor| factor as f32);
        let phase = phase.map(|phase| phase as f32);
        let bounds = self.outlines.bbox(glyph.0).filter(has_area)?;
        let across = [bounds.x_min, bounds.x_max].map(|x| f32::from(x) * factor[0] + phase[0]);
        let down = [bounds.y_max, bounds.y_min].map(|y| f32::from(y) * factor[1] + phase[1]);
        let (left, top) = (across[0].floor(), down[0].floor());
        let (width, height) = ((across[1].ceil() - left) as usize, (down[1].ceil() - top) as usize);
        let mut pen = Pen {
            rasterizer: Rasterizer::new(width, height),
            factor,
            offset: [phase[0] - left, phase[1] - top],
            first: point(0.0, 0.0),
            last: point(0.0, 0.0),
        };
        self.outlines.outline(glyph.0, &mut pen)?;
        let mut coverage = vec![0; width * height];
        pen.rasterizer.for_each_pixel(|at, share| {
            if let Some(pixel) = coverage.get_mut(at) {
                *pixel = (share.clamp(0.0, 1.0) * 255.0 + 0.5) as u8;
            }
        });
        Some(Drawn { left: left as i32, top: top as i32, width, coverage })
    }
}

fn has_area(bounds: &Rect) -> bool {
    bounds.x_min < bounds.x_max && bounds.y_min < bounds.y_max
}

/// Carries an outline from the face's units to pixels.
struct Pen {
    rasterizer: Rasterizer,
    factor: [f32; 2],
    offset: [f32; 2],
    first: Point,
    last: Point,
}

impl Pen {
    fn place(&self, x: f32, y: f32) -> Point {
        point(x * self.factor[0] + self.offset[0], y * self.factor[1] + self.offset[1])
    }
}

impl OutlineBuilder for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.first = self.place(x, y);
        self.last = self.first;
    }

    fn line_to(&mut self, x: f32, y: f32) {
        let end = self.place(x, y);
        self.rasterizer.draw_line(self.last, end);
        self.last = end;
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let (control, end) = (self.place(x1, y1), self.place(x, y));
        self.rasterizer.draw_quad(self.last, control, end);
        self.last = end;
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let (a, b, end) = (self.place(x1, y1), self.place(x2, y2), self.place(x, y));
        self.rasterizer.draw_cubic(self.last, a, b, end);
        self.last = end;
    }

    fn close(&mut self) {
        self.rasterizer.draw_line(self.last, self.first);
        self.last = self.first;
    }
}
