//! Lays shells out on one square sheet, upright as they are, at one scale.
//!
//! The sheet is a raster of small cells. A shell covers every cell it comes near; the cells round it, as far as the gap
//! asks, are then closed to others. Shells are set one after another at the lowest, then leftmost, free place, so small
//! ones land inside rings and beside sectors. The scale all shells share is the largest that still lets every one in,
//! found by bisection in steps of 1/16 px per cm, for the best of a few orders.
//!
//! Rasters only ever enlarge a shell, so the gaps hold exactly. Cost: rows of the sheet x rows of the shell x words in a
//! row, for each shell and each step.

use glam::{DVec2, dvec2};

/// Width and height of the sheet, px.
pub const SHEET_PX: f64 = 2048.0;
/// Least distance between shells, px. Common practice, no source: 16 px at 2048.
pub const GAP_PX: f64 = 16.0;
/// Least distance to the sheet's border, px. Common practice, no source: half the gap.
pub const BORDER_PX: f64 = 8.0;

/// Side of a raster cell, px: small against the gap, and a divisor of the border.
const CELL_PX: f64 = 4.0;
/// Cells along the sheet.
const CELLS: usize = (SHEET_PX / CELL_PX) as usize;
/// Words of a row of cells.
const WORDS: usize = CELLS / 64;
/// Cells kept free at the border.
const BORDER_CELLS: usize = (BORDER_PX / CELL_PX) as usize;
/// What a shell is enlarged by before it meets the raster, px: more than the rounding of the written file.
const SLACK_PX: f64 = 0.05;
/// Steps of scale per px per cm.
const SCALE_STEPS: f64 = 16.0;
/// Scales tried, in steps: 8 to 64 px per cm.
const SCALE_RANGE: (usize, usize) = (8 * 16, 64 * 16);

type Row = [u64; WORDS];

/// Polygons that move together.
pub type Island = Vec<Vec<DVec2>>;

/// The cells an island covers, as runs (first, length) by row, about its lower left corner.
struct Mask {
    low: DVec2,
    rows: Vec<Vec<(usize, usize)>>,
    width: usize,
}

impl Mask {
    fn new(island: &Island, scale: f64) -> Self {
        let points = || island.iter().flatten().map(|&p| p * scale);
        let low = points().fold(DVec2::INFINITY, DVec2::min) - DVec2::splat(SLACK_PX);
        let high = points().fold(DVec2::NEG_INFINITY, DVec2::max) + DVec2::splat(SLACK_PX);
        let cells = ((high - low) / CELL_PX).ceil();
        let (width, height) = (cells.x as usize, cells.y as usize);
        let mut filled = vec![vec![false; width]; height];
        for polygon in island {
            let outline: Vec<DVec2> = polygon.iter().map(|&p| p * scale - low).collect();
            let bottom = outline.iter().map(|p| p.y).fold(f64::INFINITY, f64::min) - SLACK_PX;
            let top = outline.iter().map(|p| p.y).fold(f64::NEG_INFINITY, f64::max) + SLACK_PX;
            for (row, cells) in filled.iter_mut().enumerate() {
                let band = (row as f64 * CELL_PX - SLACK_PX, (row + 1) as f64 * CELL_PX + SLACK_PX);
                if band.0 > top || band.1 < bottom {
                    continue;
                }
                if let Some((from, to)) = reach_in_band(&outline, band) {
                    let first = ((from - SLACK_PX) / CELL_PX).floor().max(0.0) as usize;
                    let last = (((to + SLACK_PX) / CELL_PX).floor() as usize).min(width - 1);
                    cells[first..=last].fill(true);
                }
            }
        }
        Self { low, rows: filled.iter().map(|row| runs(row)).collect(), width }
    }
}

/// Least and greatest x of an outline between two heights; `None` if it does not come there.
fn reach_in_band(outline: &[DVec2], (low, high): (f64, f64)) -> Option<(f64, f64)> {
    let mut reach: Option<(f64, f64)> = None;
    let mut meet = |x: f64| {
        let (from, to) = reach.unwrap_or((x, x));
        reach = Some((from.min(x), to.max(x)));
    };
    for (i, &a) in outline.iter().enumerate() {
        let b = outline[(i + 1) % outline.len()];
        if (low..=high).contains(&a.y) {
            meet(a.x);
        }
        for level in [low, high] {
            if (a.y - level) * (b.y - level) < 0.0 {
                meet(a.x + (b.x - a.x) * (level - a.y) / (b.y - a.y));
            }
        }
    }
    reach
}

fn runs(row: &[bool]) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (x, _) in row.iter().enumerate().filter(|(_, filled)| **filled) {
        match runs.last_mut() {
            Some((first, length)) if *first + *length == x => *length += 1,
            _ => runs.push((x, 1)),
        }
    }
    runs
}

/// Moves all cells of a row towards the origin.
fn shifted(row: &Row, by: usize) -> Row {
    let (words, bits) = (by / 64, by % 64);
    std::array::from_fn(|i| {
        let word = |at: usize| row.get(at).copied().unwrap_or(0);
        let low = word(i + words) >> bits;
        if bits == 0 { low } else { low | word(i + words + 1) << (64 - bits) }
    })
}

fn join(a: &Row, b: &Row) -> Row {
    std::array::from_fn(|i| a[i] | b[i])
}

/// The sheet, with the cells that are closed.
pub struct Sheet {
    closed: Vec<Row>,
    gap: Vec<usize>,
}

impl Sheet {
    /// An empty sheet, closed at its border.
    pub fn new() -> Self {
        let mut sheet = Self { closed: vec![[0; WORDS]; CELLS], gap: gap_reach() };
        for y in 0..CELLS {
            if (BORDER_CELLS..CELLS - BORDER_CELLS).contains(&y) {
                sheet.close(y, 0, BORDER_CELLS);
                sheet.close(y, CELLS - BORDER_CELLS, CELLS);
            } else {
                sheet.closed[y] = [u64::MAX; WORDS];
            }
        }
        sheet
    }

    fn close(&mut self, y: usize, from: usize, to: usize) {
        for x in from..to {
            self.closed[y][x / 64] |= 1 << (x % 64);
        }
    }

    /// Closes the cells of an island that stays where it is (px), with the gap round it.
    pub fn keep(&mut self, island: &Island) {
        let low = island.iter().flatten().copied().fold(DVec2::INFINITY, DVec2::min);
        let cell = (low / CELL_PX).floor() * CELL_PX;
        // Raster about the sheet's own cells, not about the island: one more point pins the mask's corner there.
        let mut pinned = island.clone();
        pinned.push(vec![cell + DVec2::splat(SLACK_PX)]);
        let mask = Mask::new(&pinned, 1.0);
        self.occupy(&mask, (cell.x / CELL_PX) as usize, (cell.y / CELL_PX) as usize);
    }

    /// Finds room for an island scaled by `scale` and closes it. Returns what to add to its scaled points, px;
    /// `None` when there is no room.
    pub fn place(&mut self, island: &Island, scale: f64) -> Option<DVec2> {
        let mask = Mask::new(island, scale);
        let (x, y) = self.find(&mask)?;
        self.occupy(&mask, x, y);
        Some(dvec2(x as f64, y as f64) * CELL_PX - mask.low)
    }

    fn find(&self, mask: &Mask) -> Option<(usize, usize)> {
        if mask.width > CELLS || mask.rows.len() > CELLS {
            return None;
        }
        // Places from which the mask would run off the right.
        let mut off = [0_u64; WORDS];
        for x in CELLS - mask.width + 1..CELLS {
            off[x / 64] |= 1 << (x % 64);
        }
        for y in 0..=CELLS - mask.rows.len() {
            let mut blocked = off;
            for (row, runs) in mask.rows.iter().enumerate() {
                for &(first, length) in runs {
                    let mut smear = self.closed[y + row];
                    let mut covered = 1;
                    while covered < length {
                        let step = covered.min(length - covered);
                        smear = join(&smear, &shifted(&smear, step));
                        covered += step;
                    }
                    blocked = join(&blocked, &shifted(&smear, first));
                }
                if blocked == [u64::MAX; WORDS] {
                    break;
                }
            }
            if let Some(word) = blocked.iter().position(|&word| word != u64::MAX) {
                return Some((word * 64 + blocked[word].trailing_ones() as usize, y));
            }
        }
        None
    }

    fn occupy(&mut self, mask: &Mask, x: usize, y: usize) {
        let reach = self.gap.len() - 1;
        for (row, runs) in mask.rows.iter().enumerate() {
            for at in (y + row).saturating_sub(reach)..=(y + row + reach).min(CELLS - 1) {
                let side = self.gap[at.abs_diff(y + row)];
                for &(first, length) in runs {
                    self.close(at, (x + first).saturating_sub(side), (x + first + length + side).min(CELLS));
                }
            }
        }
    }
}

/// For each distance in rows, how many cells to either side lie nearer than the gap.
fn gap_reach() -> Vec<usize> {
    let between = |cells: usize| cells.saturating_sub(1) as f64 * CELL_PX;
    let limit = (GAP_PX / CELL_PX) as usize + 1;
    (0..limit)
        .map(|row| (0..limit).rev().find(|&side| between(row).hypot(between(side)) < GAP_PX).unwrap_or(0))
        .collect()
}

/// The common scale (px per cm) and, for each island, what to add to its scaled points.
pub struct Arrangement {
    /// Sheet px per cm.
    pub scale: f64,
    /// By island, px.
    pub offsets: Vec<DVec2>,
}

/// Arranges islands given in cm. `None` if they do not fit even at the smallest scale.
pub fn arrange(islands: &[Island]) -> Option<Arrangement> {
    orders(islands)
        .iter()
        .filter_map(|order| largest(islands, order))
        .reduce(|best, next| if next.scale > best.scale { next } else { best })
}

fn largest(islands: &[Island], order: &[usize]) -> Option<Arrangement> {
    let (mut low, mut high) = SCALE_RANGE;
    let mut best = attempt(islands, order, low as f64 / SCALE_STEPS)?;
    while high - low > 1 {
        let middle = low.midpoint(high);
        match attempt(islands, order, middle as f64 / SCALE_STEPS) {
            Some(found) => (low, best) = (middle, found),
            None => high = middle,
        }
    }
    Some(best)
}

fn attempt(islands: &[Island], order: &[usize], scale: f64) -> Option<Arrangement> {
    let mut sheet = Sheet::new();
    let mut offsets = vec![DVec2::ZERO; islands.len()];
    for &at in order {
        offsets[at] = sheet.place(&islands[at], scale)?;
    }
    Some(Arrangement { scale, offsets })
}

/// Orders worth trying: by height, by the longer side, by the box's area, by its half perimeter; largest first.
fn orders(islands: &[Island]) -> Vec<Vec<usize>> {
    let size: Vec<DVec2> = islands
        .iter()
        .map(|island| {
            let points = || island.iter().flatten().copied();
            points().fold(DVec2::NEG_INFINITY, DVec2::max) - points().fold(DVec2::INFINITY, DVec2::min)
        })
        .collect();
    let keys: [fn(DVec2) -> f64; 4] = [|s| s.y, |s| s.max_element(), |s| s.x * s.y, |s| s.x + s.y];
    keys.iter()
        .map(|key| {
            let mut order: Vec<usize> = (0..islands.len()).collect();
            order.sort_by(|&a, &b| key(size[b]).total_cmp(&key(size[a])).then(a.cmp(&b)));
            order
        })
        .collect()
}
