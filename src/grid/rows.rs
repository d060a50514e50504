//! Paints the sheet one row of pixels at a time, any row at any time.
//!
//! Layers from below: paper, circle, ink (rules, ticks, pennant, lettering). Each is a coverage; they are mixed in linear
//! light and only then turned into codes.

use super::GridOptions;
use super::layout::{
    BLOCK_CELLS, FINE_HALF, FINE_STRENGTH, HALF_TICK, HEAVY_HALF, HEAVY_STRENGTH, INK, Lattice, PAPER_TINTS,
    QUARTER_TICK, RING, TICK_HALF,
};
use super::lettering::{Addresses, WordSheet};
use super::light::LIGHT;
use super::shapes::{FULL, SUBLINES, Spans, UNITS, add_span, band, bands, pennant, ring};

/// Weight of the circle in a cell that words run through, of 256: still readable, but weaker.
const RING_BEHIND_WORDS: i32 = 84;

/// The sheet for a texture of a given size.
pub(super) struct RowPainter {
    lattice: Lattice,
    width: u32,
    height: u32,
    /// Texture px of a cell, across and up.
    cell: [f64; 2],
    columns: Vec<Along>,
    addresses: Addresses,
    words: Option<WordSheet>,
    paper: [[f32; 3]; 4],
    ring_colour: [f32; 3],
    ink_colour: [f32; 3],
    /// What the words leave of a row of cells, and its number.
    kept: (Option<u32>, Vec<(bool, bool)>),
    ring_edges: Vec<i32>,
    pennant_edges: Vec<i32>,
    letters: Vec<u8>,
}

/// What one column or row of pixels has of the things that do not change along it.
#[derive(Clone, Copy)]
struct Along {
    /// Ink of its rules.
    rules: f32,
    /// Share in blocks of odd number.
    odd_block: f32,
    /// Share on the lines of quarter ticks, and of half ticks.
    on_quarter: f32,
    on_half: f32,
    /// Share within the reach of quarter ticks from a block's rule, and of half ticks.
    by_quarter: f32,
    by_half: f32,
}

impl Along {
    /// For the stretch from `a` to `b`, cells from the sheet's origin, on a sheet `extent` cells long.
    fn new(a: f64, b: f64, extent: f64) -> Self {
        let block = f64::from(BLOCK_CELLS);
        let heavy = bands(a, b, block, -HEAVY_HALF, 2.0 * HEAVY_HALF).max(band(a, b, extent - HEAVY_HALF, extent));
        let fine = bands(a, b, 1.0, -FINE_HALF, 2.0 * FINE_HALF) * FINE_STRENGTH;
        let tick = 2.0 * TICK_HALF;
        Self {
            rules: over(fine, heavy * HEAVY_STRENGTH),
            odd_block: bands(a, b, 2.0 * block, block, block),
            on_quarter: bands(a, b, 0.5, 0.25 - TICK_HALF, tick),
            on_half: bands(a, b, 1.0, 0.5 - TICK_HALF, tick),
            by_quarter: bands(a, b, block, 0.0, QUARTER_TICK),
            by_half: bands(a, b, block, 0.0, HALF_TICK),
        }
    }

    fn has_ticks(self) -> bool {
        self.on_quarter > 0.0 || self.on_half > 0.0 || self.by_quarter > 0.0
    }
}

/// Two inks, one over the other.
#[inline]
fn over(a: f32, b: f32) -> f32 {
    a + b - a * b
}

fn mix(from: [f32; 3], to: [f32; 3], share: f32) -> [f32; 3] {
    std::array::from_fn(|channel| from[channel] + (to[channel] - from[channel]) * share)
}

impl RowPainter {
    pub fn new(options: &GridOptions, width: u32, height: u32) -> Self {
        let (width, height) = (width.max(1), height.max(1));
        let lattice = Lattice::new(options);
        let extent = lattice.extent();
        let cell = [f64::from(width) / extent[0], f64::from(height) / extent[1]];
        let columns =
            (0..width).map(|x| Along::new(f64::from(x) / cell[0], f64::from(x + 1) / cell[0], extent[0])).collect();
        let words = options.words.as_ref().and_then(|words| WordSheet::new(words, &lattice, cell));
        Self {
            lattice,
            width,
            height,
            cell,
            columns,
            addresses: Addresses::new(&lattice, cell),
            words,
            paper: PAPER_TINTS.map(|tint| LIGHT.decode_all(tint)),
            ring_colour: LIGHT.decode_all(RING),
            ink_colour: LIGHT.decode_all(INK),
            kept: (None, vec![(true, true); lattice.cells()[0] as usize]),
            ring_edges: vec![0; width as usize + 1],
            pennant_edges: vec![0; width as usize + 1],
            letters: vec![0; width as usize],
        }
    }

    /// Rasterises one more letter of the words and gives its height, px; `None` when all are there. Rows painted before
    /// that lack the letters that are not.
    pub fn prepare_letter(&mut self) -> Option<u32> {
        self.words.as_mut().and_then(WordSheet::prepare)
    }

    /// Paints row `y`, counted from the top, into `line`: `4 * width` bytes of RGBA.
    pub fn paint(&mut self, y: u32, line: &mut [u8]) {
        self.draw_shapes(y);
        self.draw_letters(y);
        let height = f64::from(self.height);
        let across = Along::new(
            (height - f64::from(y) - 1.0) / self.cell[1],
            (height - f64::from(y)) / self.cell[1],
            self.lattice.extent()[1],
        );
        self.compose(across, line);
    }

    fn keep_up_with_words(&mut self, row: u32) {
        if let (Some(words), true) = (&self.words, self.kept.0 != Some(row)) {
            words.kept(row, &mut self.kept.1);
            self.kept.0 = Some(row);
        }
    }

    fn draw_shapes(&mut self, y: u32) {
        self.ring_edges.fill(0);
        self.pennant_edges.fill(0);
        let rows = self.lattice.cells()[1];
        for subline in 0..SUBLINES {
            let down = f64::from(y) + (f64::from(subline) + 0.5) / f64::from(SUBLINES);
            let up = (f64::from(self.height) - down) / self.cell[1];
            // Not negative: the line lies inside the texture.
            let row = (up.floor() as u32).min(rows - 1);
            let (ring, pennant) = (ring(up - f64::from(row)), pennant(up - f64::from(row)));
            if ring[0].is_none() && pennant[0].is_none() {
                continue;
            }
            self.keep_up_with_words(row);
            let cell = self.cell[0];
            let place = |edges: &mut [i32], spans: &Spans, left: f64, weight: i32| {
                for (from, to) in spans.iter().flatten() {
                    add_span(edges, left + from * cell, left + to * cell, weight);
                }
            };
            for (column, &(keeps_quill, keeps_address)) in self.kept.1.iter().enumerate() {
                let left = column as f64 * cell;
                let whole = keeps_quill && keeps_address;
                place(&mut self.ring_edges, &ring, left, if whole { UNITS } else { RING_BEHIND_WORDS });
                if keeps_quill {
                    place(&mut self.pennant_edges, &pennant, left, UNITS);
                }
            }
        }
    }

    fn draw_letters(&mut self, y: u32) {
        self.letters.fill(0);
        let height = f64::from(self.height);
        let cells = self.lattice.cells();
        let up = (height - f64::from(y)) / self.cell[1];
        // One cell to both sides is enough for any scale at which a row of pixels is no taller than a cell.
        let margin = (2.0 / self.cell[1]).ceil();
        let first = (up - margin).floor().max(0.0) as u32;
        let last = ((up + margin).floor().max(0.0) as u32).min(cells[1] - 1);
        for row in first..=last {
            if !self.addresses.reach(row, height).contains(&i64::from(y)) {
                continue;
            }
            self.keep_up_with_words(row);
            for column in 0..cells[0] {
                if self.kept.1[column as usize].1 {
                    self.addresses.lay(column, row, y, height, &mut self.letters);
                }
            }
        }
        if let Some(words) = &self.words {
            words.lay(y, height, &mut self.letters);
        }
    }

    fn compose(&self, across: Along, line: &mut [u8]) {
        let light = &*LIGHT;
        let odd_row = across.odd_block;
        let tints: [[f32; 3]; 2] = [0, 1].map(|odd| mix(self.paper[odd], self.paper[odd + 2], odd_row));
        let codes = tints.map(|tint| tint.map(|channel| light.encode(channel)));
        let ticks = across.has_ticks();
        let (mut ring, mut pennant) = (0, 0);
        for (x, pixel) in line.chunks_exact_mut(4).enumerate().take(self.width as usize) {
            ring += self.ring_edges[x];
            pennant += self.pennant_edges[x];
            let column = self.columns[x];
            let mut ink = over(column.rules, across.rules);
            if ticks {
                let tick = column.by_quarter * across.on_quarter
                    + column.by_half * across.on_half
                    + column.on_quarter * across.by_quarter
                    + column.on_half * across.by_half;
                ink = over(ink, tick.min(1.0) * HEAVY_STRENGTH);
            }
            if pennant > 0 {
                ink = over(ink, pennant as f32 / FULL as f32);
            }
            if self.letters[x] > 0 {
                ink = over(ink, f32::from(self.letters[x]) / 255.0);
            }
            let odd = column.odd_block;
            if ink <= 0.0 && ring <= 0 && (odd == 0.0 || odd == 1.0) {
                let code = codes[usize::from(odd == 1.0)];
                pixel.copy_from_slice(&[code[0], code[1], code[2], 255]);
                continue;
            }
            let mut colour = if odd == 0.0 { tints[0] } else { mix(tints[0], tints[1], odd) };
            if ring > 0 {
                colour = mix(colour, self.ring_colour, ring as f32 / FULL as f32);
            }
            let colour = mix(colour, self.ink_colour, ink.min(1.0)).map(|channel| light.encode(channel));
            pixel.copy_from_slice(&[colour[0], colour[1], colour[2], 255]);
        }
    }
}
