//! Use of the sheet, overlaps and padding on layouts of a million triangles, from the best case to the worst.
//!
//! Prints the best time of each measure and the most memory it held at once; fails where a layout breaks its limit, so
//! that no layout can bring a quadratic search back unnoticed. A word on the command line picks layouts by name.

use glam::DVec2;
use gridproof::brief::SheetMap;
use gridproof::measure::sheet::input::SheetInput;
use gridproof::measure::sheet::padding::{Limits, measure_padding};
use gridproof::measure::sheet::sharing::measure_sharing;
use gridproof::measure::sheet::usage::measure_sheet;
use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

/// Counts allocated memory.
struct Counting;
static HELD: AtomicUsize = AtomicUsize::new(0);
static MOST: AtomicUsize = AtomicUsize::new(0);

// SAFETY: every call goes to the system's allocator unchanged; only counters are kept beside it.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        let held = HELD.fetch_add(layout.size(), Ordering::Relaxed) + layout.size();
        MOST.fetch_max(held, Ordering::Relaxed);
        // SAFETY: the caller keeps the contract of `alloc`.
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, pointer: *mut u8, layout: Layout) {
        HELD.fetch_sub(layout.size(), Ordering::Relaxed);
        // SAFETY: the caller keeps the contract of `dealloc`.
        unsafe { System.dealloc(pointer, layout) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;

#[derive(Default)]
struct Layout2 {
    name: &'static str,
    uv: Vec<DVec2>,
    triangles: Vec<[u32; 3]>,
    shell: Vec<u32>,
}

impl Layout2 {
    fn new(name: &'static str) -> Self {
        Self { name, ..Self::default() }
    }

    /// A grid of quads as one shell; `place` maps the unit square.
    fn grid(mut self, across: u32, up: u32, flip: bool, place: impl Fn(DVec2) -> DVec2) -> Self {
        let first = self.uv.len() as u32;
        for y in 0..=up {
            for x in 0..=across {
                self.uv.push(place(DVec2::new(f64::from(x) / f64::from(across), f64::from(y) / f64::from(up))));
            }
        }
        self.faces(first, across, up, flip);
        self
    }

    /// The last grid's corners used once more by another shell.
    fn again(mut self, across: u32, up: u32, flip: bool) -> Self {
        let first = self.uv.len() as u32 - (across + 1) * (up + 1);
        self.faces(first, across, up, flip);
        self
    }

    fn faces(&mut self, first: u32, across: u32, up: u32, flip: bool) {
        let shell = self.shell.last().map_or(0, |last| last + 1);
        for y in 0..up {
            for x in 0..across {
                let a = first + y * (across + 1) + x;
                let (b, c, d) = (a + 1, a + across + 2, a + across + 1);
                let both = if flip { [[a, c, b], [a, d, c]] } else { [[a, b, c], [a, c, d]] };
                self.triangles.extend(both);
                self.shell.extend([shell; 2]);
            }
        }
    }

    /// `count` triangles without neighbours, each its own shell when `apart`.
    fn scattered(mut self, count: u32, apart: bool, place: impl Fn(u32) -> [DVec2; 3]) -> Self {
        for index in 0..count {
            let first = self.uv.len() as u32;
            self.uv.extend(place(index));
            self.triangles.push([first, first + 1, first + 2]);
            self.shell.push(if apart { index } else { 0 });
        }
        self
    }

    fn measure(&self, limit: Duration) {
        if std::env::args().skip(1).any(|word| !word.starts_with('-') && !self.name.contains(&word)) {
            return;
        }
        let reversed: Vec<bool> = self
            .triangles
            .iter()
            .map(|corners| {
                let [a, b, c] = corners.map(|index| self.uv[index as usize]);
                (b - a).perp_dot(c - a) < 0.0
            })
            .collect();
        let surface = vec![1.0; self.triangles.len()];
        let input = SheetInput {
            uv: &self.uv,
            triangles: &self.triangles,
            shell: &self.shell,
            shell_count: self.shell.last().map_or(0, |last| last + 1),
            reversed: &reversed,
            sliver: &[],
            surface: &surface,
            map: SheetMap::default(),
        };
        let (mut best_sheet, mut best_sharing, mut best_padding) = (Duration::MAX, Duration::MAX, Duration::MAX);
        let (mut most_sheet, mut most_sharing, mut most_padding) = (0, 0, 0);
        let mut said = String::new();
        for _ in 0..3 {
            let before = HELD.load(Ordering::Relaxed);
            MOST.store(before, Ordering::Relaxed);
            let start = Instant::now();
            let sheet = measure_sheet(&input);
            best_sheet = best_sheet.min(start.elapsed());
            most_sheet = MOST.load(Ordering::Relaxed) - before;
            let before = HELD.load(Ordering::Relaxed);
            MOST.store(before, Ordering::Relaxed);
            let start = Instant::now();
            let sharing = measure_sharing(&input, &sheet);
            best_sharing = best_sharing.min(start.elapsed());
            most_sharing = MOST.load(Ordering::Relaxed) - before;
            let limits = Limits { between: 16.0, border: 8.0 };
            let before = HELD.load(Ordering::Relaxed);
            MOST.store(before, Ordering::Relaxed);
            let start = Instant::now();
            let padding = measure_padding(&input, &sheet, &sharing, limits);
            best_padding = best_padding.min(start.elapsed());
            most_padding = MOST.load(Ordering::Relaxed) - before;
            said = format!(
                "overlap {:.3}, mirrored {:.3}, {} pairs{}; {} gaps{}, least {:.2} px",
                sheet.overlap_share.unwrap_or(f64::NAN),
                sharing.mirrored_share.unwrap_or(f64::NAN),
                sharing.pairs.len(),
                if sharing.at_least { " at least" } else { "" },
                padding.gap_count,
                if padding.at_least { " at least" } else { "" },
                padding.between.map_or(f64::NAN, |gap| gap.px)
            );
            if best_sheet + best_sharing + best_padding > limit {
                break;
            }
        }
        let ms = |time: Duration| time.as_secs_f64() * 1e3;
        println!(
            "{:<34} {:>8} triangles  sheet {:7.1} ms {:4} MB  sharing {:7.1} ms {:4} MB  \
             padding {:7.1} ms {:4} MB  {said}",
            self.name,
            self.triangles.len(),
            ms(best_sheet),
            most_sheet >> 20,
            ms(best_sharing),
            most_sharing >> 20,
            ms(best_padding),
            most_padding >> 20,
        );
        if best_sheet + best_sharing + best_padding > limit {
            println!("  SLOWER than {} ms", ms(limit));
            FAILED.store(1, Ordering::Relaxed);
        }
    }
}

static FAILED: AtomicUsize = AtomicUsize::new(0);

fn main() {
    let ms = Duration::from_millis;
    let half = |p: DVec2| p * DVec2::new(0.49, 0.98) + 0.005;
    Layout2::new("four shells, nothing shared")
        .grid(500, 250, false, |p| p * 0.49)
        .grid(500, 250, false, |p| p * 0.49 + DVec2::new(0.5, 0.0))
        .grid(500, 250, false, |p| p * 0.49 + DVec2::new(0.0, 0.5))
        .grid(500, 250, false, |p| p * 0.49 + DVec2::new(0.5, 0.5))
        .measure(ms(250));
    Layout2::new("half mirrored on half").grid(500, 500, false, half).again(500, 500, true).measure(ms(1000));
    Layout2::new("half mirrored, cut otherwise")
        .grid(500, 500, false, half)
        .grid(480, 520, true, half)
        .measure(ms(4000));
    Layout2::new("six exact layers")
        .grid(290, 287, false, half)
        .again(290, 287, false)
        .again(290, 287, true)
        .again(290, 287, false)
        .again(290, 287, true)
        .again(290, 287, false)
        .measure(ms(1500));
    Layout2::new("a border region in common")
        .grid(500, 500, false, |p| p * DVec2::new(0.5, 1.0))
        .grid(500, 500, false, |p| p * DVec2::new(0.5, 1.0) + DVec2::new(0.48, 0.0))
        .measure(ms(1000));
    Layout2::new("all in a clump, one far away")
        .grid(300, 300, false, |p| p * 1e-3)
        .grid(310, 290, true, |p| p * 1e-3)
        .scattered(2, true, |_| [DVec2::splat(1e9), DVec2::new(1e9 + 8.0, 1e9), DVec2::splat(1e9 + 8.0)])
        .measure(ms(2000));
    let spot = |_| [DVec2::new(0.2, 0.2), DVec2::new(0.8, 0.3), DVec2::new(0.4, 0.9)];
    let mut same = Layout2::new("all on one spot, one shell each");
    same.uv = spot(0).to_vec();
    same.triangles = vec![[0, 1, 2]; 100_000];
    same.shell = (0..100_000).collect();
    same.measure(ms(2000));
    let mut same = Layout2::new("all on one spot, one shell");
    same.uv = spot(0).to_vec();
    same.triangles = vec![[0, 1, 2]; 1_000_000];
    same.shell = vec![0; 1_000_000];
    same.measure(ms(2000));
    Layout2::new("nearly one spot, one shell each")
        .scattered(10_000, true, |i| spot(i).map(|q| q + DVec2::splat(f64::from(i) * 1e-7)))
        .measure(ms(4000));
    Layout2::new("loose triangles side by side")
        .scattered(250_000, true, |i| {
            let corner = DVec2::new(f64::from(i % 500), f64::from(i / 500)) / 500.0;
            [corner, corner + DVec2::new(0.0015, 0.0), corner + DVec2::new(0.0, 0.0015)]
        })
        .measure(ms(4000));
    Layout2::new("large and small mixed")
        .grid(450, 450, false, |p| p)
        .scattered(2000, false, |i| {
            let at = DVec2::new(f64::from(i % 50), f64::from(i / 50)) / DVec2::new(50.0, 40.0) * 0.5;
            [at, at + DVec2::new(0.5, 0.01), at + DVec2::new(0.01, 0.5)]
        })
        .measure(ms(6000));
    // A hundred by a hundred islands of fifty triangles, 4 px apart.
    let mut many = Layout2::new("ten thousand shells");
    for index in 0..10_000 {
        let corner = DVec2::new(f64::from(index % 100), f64::from(index / 100)) / 100.0;
        many = many.grid(5, 5, false, |p| corner + p * 0.008);
    }
    many.measure(ms(1000));
    let mut random = 7u64;
    let mut random = || {
        random = random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (random >> 33) as f64 / f64::from(1u32 << 31)
    };
    let places: Vec<DVec2> = (0..100_000).map(|_| DVec2::new(random(), random())).collect();
    // Each lies within 16 px of all others.
    Layout2::new("a hundred thousand in a crumb")
        .scattered(100_000, true, |i| {
            let cell = DVec2::new(f64::from(i % 316), f64::from(i / 316)) + places[i as usize] * 0.4;
            [DVec2::ZERO, DVec2::X * 0.5, DVec2::Y * 0.5].map(|q| (cell + q) * 1e-5 + 0.5)
        })
        .measure(ms(4000));
    let stripe = |i: u32| {
        let at = f64::from(i) / 2000.0;
        [DVec2::new(at, 0.0), DVec2::new(at + 5e-5, 0.0), DVec2::new(at + 0.5, 1.0)]
    };
    Layout2::new("a thousand slanted needles").scattered(1000, true, stripe).measure(ms(4000));
    assert_eq!(FAILED.load(Ordering::Relaxed), 0, "some layouts were slower than their limit");
}
