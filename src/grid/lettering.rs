//! The sheet's lettering: letters as coverage masks, the cells' addresses, and the user's words.
//!
//! Letters are rasterised once each (exact area coverage) at a few sub-pixel places and then only copied. A character
//! the face has no drawing for becomes an outlined box, and [`missing_glyphs`] names it.

use super::face::{Drawn, FACE, Glyph};
use super::layout::Lattice;
use super::{MAX_WORDS_CHARS, MAX_WORDS_PX, MIN_WORDS_PX, Words};

/// Em of the addresses, cells: 13 px at 64, where a figure is 7 px wide and 9 px high.
const ADDRESS_EM: f64 = 13.0 / 64.0;
/// Advance of a figure, em, as the face has it; tested.
const FIGURE_ADVANCE: f64 = 0.538;
/// Advance of the dot between column and row, em; tested.
const DOT_ADVANCE: f64 = 0.226;
/// Height of figures and capitals, em.
const CAP_HEIGHT: f64 = 0.7;
/// Baseline of the address above the cell's foot, cells.
const ADDRESS_BASELINE: f64 = 12.0 / 64.0;
/// Most that an address may be wide, cells: longer ones are set smaller so that they stay inside the circle.
const ADDRESS_WIDTH: f64 = 36.0 / 64.0;
/// How far an address is right of the middle, cells: a quarter of a pixel at 64, where the figures' upright strokes
/// then fall on whole pixels (sharpest of the eight places, by the mean square of coverage).
const ADDRESS_NUDGE: f64 = 0.25 / 64.0;
/// Sub-pixel places of figures along each axis: at 1/8 px the rounding is not visible.
const ADDRESS_PHASES: i32 = 8;
/// Sub-pixel places of the letters of words along x.
const WORD_PHASES: f64 = 4.0;
/// Boxes of pennant and address in a cell, (left, bottom, right, top), cells; words clear what they touch of them.
const PENNANT_BOX: [f64; 4] = [0.4, 0.37, 0.71, 0.86];
const ADDRESS_BOX: [f64; 4] = [0.2, 0.17, 0.8, 0.35];
/// The box in place of a missing letter, em: side bearing, width, line.
const BOX: (f64, f64, f64) = (0.07, 0.46, 0.06);

/// How much of each pixel a letter covers, 0..=255, around its pen.
pub(super) struct Mask {
    /// Pixels from the pen's whole pixel to the first column.
    pub left: i32,
    /// Pixels from the baseline's whole pixel down to the first row (above the baseline: negative).
    pub top: i32,
    width: usize,
    coverage: Vec<u8>,
}

impl Mask {
    fn height(&self) -> usize {
        self.coverage.len().checked_div(self.width).unwrap_or(0)
    }

    /// One row, counted from the baseline's pixel downwards; empty where the letter is not.
    fn row(&self, down: i32) -> &[u8] {
        match usize::try_from(down - self.top) {
            Ok(row) if row < self.height() => &self.coverage[row * self.width..][..self.width],
            _ => &[],
        }
    }

    /// Lays the row on a line of pixels, keeping what is darker.
    pub fn lay(&self, down: i32, pen: i64, line: &mut [u8]) {
        let start = pen + i64::from(self.left);
        for (x, &value) in (start..).zip(self.row(down)) {
            if let Some(pixel) = usize::try_from(x).ok().and_then(|x| line.get_mut(x)) {
                *pixel = value.max(*pixel);
            }
        }
    }
}

/// A letter of the face, or the box for one it lacks.
#[derive(Clone, Copy, PartialEq)]
enum Letter {
    Drawn(Glyph),
    Boxed,
}

fn letter(character: char) -> Letter {
    FACE.glyph(character).map_or(Letter::Boxed, Letter::Drawn)
}

/// Em of a pen's step.
fn advance_em(letter: Letter) -> f64 {
    match letter {
        Letter::Drawn(glyph) => FACE.advance_em(glyph),
        Letter::Boxed => BOX.1 + 2.0 * BOX.0,
    }
}

/// Rasterises a letter of `em` px (across, up) whose pen is `phase` px (right, down) from a whole pixel.
fn rasterise(letter: Letter, em: [f64; 2], phase: [f64; 2]) -> Mask {
    match letter {
        Letter::Drawn(glyph) => match FACE.draw(glyph, em, phase) {
            Some(Drawn { left, top, width, coverage }) => Mask { left, top, width, coverage },
            None => Mask { left: 0, top: 0, width: 0, coverage: Vec::new() },
        },
        Letter::Boxed => {
            let (bearing, side, line) = BOX;
            let x = [phase[0] + bearing * em[0], phase[0] + (bearing + side) * em[0]];
            let y = [phase[1] - CAP_HEIGHT * em[1], phase[1]];
            let (left, top) = (x[0].floor(), y[0].floor());
            let (width, height) = ((x[1].ceil() - left) as usize, (y[1].ceil() - top) as usize);
            let share = |from: [f64; 2], inset: f64, at: f64| {
                super::shapes::band(at, at + 1.0, from[0] + inset, from[1] - inset)
            };
            let coverage = (0..height)
                .flat_map(|row| (0..width).map(move |column| (row, column)))
                .map(|(row, column)| {
                    let (px, py) = (left + column as f64, top + row as f64);
                    let outer = share(x, 0.0, px) * share(y, 0.0, py);
                    let inner = share(x, line * em[0], px) * share(y, line * em[1], py);
                    ((outer - inner).clamp(0.0, 1.0) * 255.0 + 0.5) as u8
                })
                .collect();
            Mask { left: left as i32, top: top as i32, width, coverage }
        }
    }
}

/// A control character sets as a space: words are one running text.
fn as_set(character: char) -> char {
    if character.is_control() || character.is_whitespace() { ' ' } else { character }
}

/// The characters of `text` that the sheet's face cannot draw, each once, in the order they come; each is an outlined
/// box on the sheet. Spaces and line breaks are never missing.
pub fn missing_glyphs(text: &str) -> Vec<char> {
    let mut missing = Vec::new();
    for character in text.chars().map(as_set) {
        if character != ' ' && letter(character) == Letter::Boxed && !missing.contains(&character) {
            missing.push(character);
        }
    }
    missing
}

/// The addresses of the cells.
pub(super) struct Addresses {
    /// Texture px of a cell, across and up.
    cell: [f64; 2],
    em: [f64; 2],
    figures: [usize; 2],
    /// Pen places from the cell's left edge, cells; the dot's between the two numbers' figures.
    pens: Vec<f64>,
    /// Masks by figure (10 is the dot) and sub-pixel place.
    masks: Vec<Option<Mask>>,
}

impl Addresses {
    pub fn new(lattice: &Lattice, cell: [f64; 2]) -> Self {
        let figures = lattice.figures();
        let count = figures[0] + figures[1];
        let ems = count as f64 * FIGURE_ADVANCE + DOT_ADVANCE;
        let em = ADDRESS_EM.min(ADDRESS_WIDTH / ems);
        let mut pen = 0.5 + ADDRESS_NUDGE - ems * em / 2.0;
        let mut pens = Vec::with_capacity(count + 1);
        for slot in 0..=count {
            pens.push(pen);
            pen += em * if slot == figures[0] { DOT_ADVANCE } else { FIGURE_ADVANCE };
        }
        let places = (ADDRESS_PHASES * ADDRESS_PHASES) as usize;
        Self { cell, em: cell.map(|px| px * em), figures, pens, masks: (0..11 * places).map(|_| None).collect() }
    }

    /// Pixel rows below the top of the texture, of `height` px, that the addresses of a row of cells can touch.
    pub fn reach(&self, row: u32, height: f64) -> std::ops::Range<i64> {
        let baseline = height - (f64::from(row) + ADDRESS_BASELINE) * self.cell[1];
        // A figure overshoots its height and its baseline by a hundredth of an em.
        let (top, bottom) = (baseline - (CAP_HEIGHT + 0.05) * self.em[1], baseline + 0.05 * self.em[1]);
        top.floor() as i64 - 1..bottom.ceil() as i64 + 1
    }

    /// Lays pixel row `y` of the address of one cell on `line`.
    pub fn lay(&mut self, column: u32, row: u32, y: u32, height: f64, line: &mut [u8]) {
        let (baseline, phase_y) = place(height - (f64::from(row) + ADDRESS_BASELINE) * self.cell[1]);
        let down = i64::from(y) - baseline;
        let Ok(down) = i32::try_from(down) else { return };
        for slot in 0..self.pens.len() {
            let shape = match slot.cmp(&self.figures[0]) {
                std::cmp::Ordering::Less => figure(column, self.figures[0] - 1 - slot),
                std::cmp::Ordering::Equal => 10,
                std::cmp::Ordering::Greater => figure(row, self.figures[0] + self.figures[1] - slot),
            };
            let (pen, phase_x) = place((f64::from(column) + self.pens[slot]) * self.cell[0]);
            let index = (shape as i32 * ADDRESS_PHASES + phase_y) * ADDRESS_PHASES + phase_x;
            let em = self.em;
            let mask = self.masks[index as usize].get_or_insert_with(|| {
                let character = if shape == 10 { '·' } else { char::from(b'0' + shape) };
                let phase = [phase_x, phase_y].map(|phase| f64::from(phase) / f64::from(ADDRESS_PHASES));
                rasterise(letter(character), em, phase)
            });
            mask.lay(down, pen, line);
        }
    }
}

/// Whole pixel and sub-pixel place of a coordinate.
fn place(px: f64) -> (i64, i32) {
    let steps = (px * f64::from(ADDRESS_PHASES) + 0.5).floor() as i64;
    (steps.div_euclid(i64::from(ADDRESS_PHASES)), steps.rem_euclid(i64::from(ADDRESS_PHASES)) as i32)
}

/// The figure of `number` that has `after` figures after it.
fn figure(number: u32, after: usize) -> u8 {
    let power = u32::try_from(after).ok().and_then(|after| 10_u32.checked_pow(after));
    power.map_or(0, |power| (number / power % 10) as u8)
}

/// The user's words, set in lines that repeat across and up the sheet.
///
/// Baselines are on the cell lattice, on every second, fourth, ... rule counted so that a block's heavy rule is never
/// one of them; repeats start a whole number of cells apart, every other line half a repeat further left. Between lines
/// as much plain grid is left as the words take.
pub(super) struct WordSheet {
    lines: Vec<WordLine>,
    /// Repeat upwards, cells.
    rise: u32,
    letters: Vec<(Letter, i32)>,
    masks: Vec<Mask>,
    em: [f64; 2],
    cell: [f64; 2],
    columns: u32,
}

struct WordLine {
    /// Which mask, and whole pixels from the line's start to its pen.
    letters: Vec<(usize, i64)>,
    /// Cells from the start of a repeat to the first letter's pen.
    inset: f64,
    width: f64,
    /// Repeat across, cells.
    run: u32,
    /// Ink above and below the baseline, cells.
    above: f64,
    below: f64,
}

impl WordSheet {
    /// `None` when there is nothing but space to set.
    pub fn new(words: &Words, lattice: &Lattice, cell: [f64; 2]) -> Option<Self> {
        let size = if words.size_px.is_nan() { MIN_WORDS_PX } else { words.size_px.clamp(MIN_WORDS_PX, MAX_WORDS_PX) };
        let em_cells = f64::from(size) / f64::from(lattice.cell_px);
        let text: String = words.text.chars().take(MAX_WORDS_CHARS).map(as_set).collect();
        let room = lattice.extent()[0] / em_cells;
        let mut sheet = Self {
            lines: Vec::new(),
            rise: 2,
            letters: Vec::new(),
            masks: Vec::new(),
            em: cell.map(|px| px * em_cells),
            cell,
            columns: lattice.cells()[0],
        };
        for line in broken(&text, room) {
            let set = sheet.set(&line, em_cells);
            sheet.lines.push(set);
        }
        let tallest = sheet.lines.iter().map(|line| line.above).fold(0.0, f64::max);
        sheet.rise = 2 * (tallest.ceil() as u32).max(1);
        (!sheet.lines.is_empty()).then_some(sheet)
    }

    fn set(&mut self, line: &str, em_cells: f64) -> WordLine {
        let mut set = WordLine { letters: Vec::new(), inset: 0.0, width: 0.0, run: 1, above: 0.0, below: 0.0 };
        let (pens, width) = pens_em(line);
        for (letter, pen) in pens {
            let steps = (pen * self.em[0] * WORD_PHASES + 0.5).floor();
            let whole = (steps / WORD_PHASES).floor();
            let key = (letter, (steps - whole * WORD_PHASES) as i32);
            let index = self.letters.iter().position(|known| *known == key).unwrap_or_else(|| {
                self.letters.push(key);
                self.letters.len() - 1
            });
            set.letters.push((index, whole as i64));
            let (below, above) = match letter {
                Letter::Drawn(glyph) => FACE.reach_em(glyph),
                Letter::Boxed => (0.0, CAP_HEIGHT),
            };
            set.above = set.above.max(above * em_cells);
            set.below = set.below.max(below * em_cells);
        }
        set.width = width * em_cells;
        // A word space and at least half a cell between one repeat and the next.
        set.run = (set.width + (em_cells * 0.4).max(0.5)).ceil() as u32;
        // In the middle of its repeat, to the quarter cell below: a whole pixel on the smaller textures too.
        set.inset = ((f64::from(set.run) - set.width) * 2.0).floor() / 4.0;
        set
    }

    /// Rasterises the next letter and gives its height, px; `None` when all are there.
    pub fn prepare(&mut self) -> Option<u32> {
        let &(letter, phase) = self.letters.get(self.masks.len())?;
        let mask = rasterise(letter, self.em, [f64::from(phase) / WORD_PHASES, 0.0]);
        let height = mask.height() as u32;
        self.masks.push(mask);
        Some(height)
    }

    /// First columns of a line's repeats, in cells from the sheet's left; the first may start outside it.
    fn starts(&self, line: u32) -> impl Iterator<Item = i64> + use<> {
        let run = i64::from(self.text_of(line).run);
        let shift = if line % 2 == 1 { run / 2 } else { 0 };
        let columns = i64::from(self.columns);
        (0..).map(move |repeat| repeat * run - shift).take_while(move |start| *start < columns)
    }

    fn text_of(&self, line: u32) -> &WordLine {
        &self.lines[line as usize % self.lines.len()]
    }

    /// Row of the lattice of a baseline.
    fn baseline(&self, line: u32) -> u32 {
        1 + line * self.rise
    }

    /// Lines whose ink may lie between two heights, cells.
    fn lines_between(&self, low: f64, high: f64) -> std::ops::Range<u32> {
        let below = self.lines.iter().map(|line| line.below).fold(0.0, f64::max);
        let above = self.lines.iter().map(|line| line.above).fold(0.0, f64::max);
        let rise = f64::from(self.rise);
        let first = ((low - above - 1.0) / rise).floor().max(0.0) as u32;
        let last = ((high + below - 1.0) / rise).ceil().max(-1.0) + 1.0;
        first..last as u32
    }

    /// What the words leave of the cells of one row: (pennant, address) each.
    pub fn kept(&self, row: u32, kept: &mut Vec<(bool, bool)>) {
        kept.clear();
        kept.resize(self.columns as usize, (true, true));
        let foot = f64::from(row);
        for line in self.lines_between(foot, foot + 1.0) {
            let text = self.text_of(line);
            let base = f64::from(self.baseline(line)) - foot;
            let (low, high) = (base - text.below, base + text.above);
            let rows = |part: [f64; 4]| low < part[3] && high > part[1];
            let (over_quill, over_address) = (rows(PENNANT_BOX), rows(ADDRESS_BOX));
            if !over_quill && !over_address {
                continue;
            }
            for start in self.starts(line) {
                let (left, right) = (start as f64 + text.inset, start as f64 + text.inset + text.width);
                for column in left.floor().max(0.0) as usize..(right.ceil().max(0.0) as usize).min(kept.len()) {
                    let at = column as f64;
                    let columns = |part: [f64; 4]| left < at + part[2] && right > at + part[0];
                    kept[column].0 &= !(over_quill && columns(PENNANT_BOX));
                    kept[column].1 &= !(over_address && columns(ADDRESS_BOX));
                }
            }
        }
    }

    /// Lays pixel row `y` of a texture `height` px high on `line`.
    pub fn lay(&self, y: u32, height: f64, pixels: &mut [u8]) {
        let top = (height - f64::from(y)) / self.cell[1];
        // Two pixels to both sides: baselines are on whole pixels.
        let slack = 2.0 / self.cell[1];
        for line in self.lines_between(top - slack, top + slack) {
            let text = self.text_of(line);
            let baseline = (height - f64::from(self.baseline(line)) * self.cell[1] + 0.5).floor() as i64;
            let Ok(down) = i32::try_from(i64::from(y) - baseline) else { continue };
            for start in self.starts(line) {
                let pen = ((start as f64 + text.inset) * self.cell[0] + 0.5).floor() as i64;
                for &(mask, offset) in &text.letters {
                    if let Some(mask) = self.masks.get(mask) {
                        mask.lay(down, pen + offset, pixels);
                    }
                }
            }
        }
    }
}

/// Each letter's pen position and the width of the line, em; kerned.
fn pens_em(line: &str) -> (Vec<(Letter, f64)>, f64) {
    let mut pen = 0.0;
    let mut last = None;
    let mut pens = Vec::new();
    for letter in line.chars().map(letter) {
        if let (Some(Letter::Drawn(a)), Letter::Drawn(b)) = (last, letter) {
            pen += FACE.kern_em(a, b);
        }
        pens.push((letter, pen));
        pen += advance_em(letter);
        last = Some(letter);
    }
    (pens, pen)
}

/// Breaks a text at spaces into lines no wider than `room` em; a wider word is broken inside.
fn broken(text: &str, room: f64) -> Vec<String> {
    let fits = |line: &str| pens_em(line).1 <= room;
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let joined = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
        if fits(&joined) {
            line = joined;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for character in word.chars() {
            line.push(character);
            if !fits(&line) && line.chars().count() > 1 {
                line.pop();
                lines.push(std::mem::replace(&mut line, character.to_string()));
            }
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_face_is_whole_and_its_figures_are_tabular() {
        for figure in '0'..='9' {
            assert!((advance_em(letter(figure)) - FIGURE_ADVANCE).abs() < 1e-9, "{figure}");
        }
        assert!((advance_em(letter('·')) - DOT_ADVANCE).abs() < 1e-9);
        assert!(pens_em("AV").1 < advance_em(letter('A')) + advance_em(letter('V')), "kerned");
    }

    #[test]
    fn missing_characters_are_named_once_in_order() {
        assert_eq!(missing_glyphs("Ærø 12\tß – Ω日\n日Ω"), ['Ω', '日']);
        assert_eq!(missing_glyphs(""), []);
    }

    #[test]
    fn a_missing_letter_is_an_outlined_box() {
        let mask = rasterise(Letter::Boxed, [100.0, 100.0], [0.0, 0.0]);
        assert_eq!((mask.left, mask.top, mask.width, mask.height()), (7, -70, 46, 70));
        assert_eq!(mask.row(-35)[0], 255);
        assert_eq!(mask.row(-35)[23], 0);
        assert!(mask.row(0).is_empty());
    }

    #[test]
    fn lines_break_at_spaces_and_long_words_inside() {
        assert_eq!(broken("one two three", 100.0), ["one two three"]);
        assert_eq!(broken("one two three", 4.0), ["one two", "three"]);
        let lines = broken("abcdefghijkl", 2.0);
        assert_eq!(lines.concat(), "abcdefghijkl");
        assert!(lines.len() > 2 && lines.iter().all(|line| pens_em(line).1 <= 2.0));
        assert_eq!(broken("  ", 4.0), Vec::<String>::new());
    }

    #[test]
    fn figures_are_read_off_a_number() {
        assert_eq!([3, 2, 1, 0].map(|after| figure(407, after)), [0, 4, 0, 7]);
        assert_eq!(figure(7, 40), 0);
    }
}
