//! The whole report, from the file's bytes to the verdict: the cost of a triangle in a large model over that in a small
//! one.
//!
//! Prints the cost of a triangle at a hundred thousand, a million and four million triangles, and of a million in ten
//! thousand shells, each over the first; the time of every stage; and the whole report over what the general-purpose
//! loader `tobj` takes to read the same bytes. Time is the thread's processor time. Runs alternate, the best of each
//! counts. The goal is a growth of at most a fifth; past twice that it fails. A number on the command line is the
//! number of runs.

#[path = "../tests/support/big_obj.rs"]
mod big_obj;
#[path = "../tests/support/processor.rs"]
mod processor;

use big_obj::Shape;
use gridproof::brief::Brief;
use gridproof::measure::{Measures, Stage};
use gridproof::model::Model;
use gridproof::{check, obj};
use processor::spent;
use std::fmt::Write as _;
use std::hint::black_box;
use std::time::Duration;

/// Growth that is aimed at, and the one that fails.
const GOAL: f64 = 1.2;
const LIMIT: f64 = 1.4;

struct File {
    name: &'static str,
    triangles: usize,
    bytes: Vec<u8>,
    best: Duration,
}

impl File {
    fn new(name: &'static str, triangles: usize, bytes: Vec<u8>) -> Self {
        Self { name, triangles, bytes, best: Duration::MAX }
    }

    fn rings(name: &'static str, shape: Shape) -> Self {
        let mut bytes = Vec::new();
        big_obj::write(&mut bytes, shape).expect("a Vec takes any write");
        Self::new(name, shape.triangles(), bytes)
    }

    /// A hundred by a hundred shells of fifty quads, 4 px apart, as two triangles each.
    fn shells(name: &'static str) -> Self {
        let (across, up) = (10, 5);
        let mut text = String::new();
        let corner = |i: usize, j: usize| (i as f64 / across as f64, j as f64 / up as f64);
        for shell in 0..10_000 {
            let (column, row) = ((shell % 100) as f64, (shell / 100) as f64);
            for (x, y) in (0..=up).flat_map(|j| (0..=across).map(move |i| (i, j))).map(|(i, j)| corner(i, j)) {
                // Writing to a String cannot fail.
                let _ = writeln!(text, "v {:.4} {:.4} {:.4}", column + 0.8 * x, row + 0.8 * y, (3.0 * x).sin() * 0.1);
                let _ =
                    writeln!(text, "vt {:.6} {:.6}", (column + 0.1 + 0.8 * x) / 100.0, (row + 0.1 + 0.8 * y) / 100.0);
            }
            let first = shell * (across + 1) * (up + 1) + 1;
            for (i, j) in (0..up).flat_map(|j| (0..across).map(move |i| (i, j))) {
                let a = first + j * (across + 1) + i;
                let (b, c, d) = (a + 1, a + across + 2, a + across + 1);
                let _ = writeln!(text, "f {a}/{a} {b}/{b} {c}/{c}\nf {a}/{a} {c}/{c} {d}/{d}");
            }
        }
        Self::new(name, 10_000 * across * up * 2, text.into_bytes())
    }

    fn report(&mut self) {
        let start = spent();
        let report =
            check(&mut self.bytes.as_slice(), "", Some(self.bytes.len() as u64), &Brief::default(), &mut |_| ())
                .expect("the generated file is an OBJ");
        self.best = self.best.min(spent() - start);
        assert_eq!(black_box(report).counts.triangles, self.triangles);
    }

    fn ns_per_triangle(&self) -> f64 {
        self.best.as_secs_f64() * 1e9 / self.triangles as f64
    }

    fn stages(&self) {
        let start = spent();
        let document = obj::read(&self.bytes).expect("the generated file is an OBJ");
        print!("  reading {:.2} s", (spent() - start).as_secs_f64());
        let start = spent();
        let model = Model::new(document);
        print!(", model {:.2}", (spent() - start).as_secs_f64());
        let mut measures = Measures::default();
        for stage in Stage::ALL {
            let start = spent();
            measures.take(stage, &model, &Brief::default());
            print!(", {} {:.2}", format!("{stage:?}").to_lowercase(), (spent() - start).as_secs_f64());
        }
        println!();
    }

    fn tobj(&self) -> Duration {
        let start = spent();
        let mut reader = self.bytes.as_slice();
        let options = tobj::LoadOptions::default();
        let read = tobj::load_obj_buf(&mut reader, &options, |_| Err(tobj::LoadError::OpenFileFailed));
        let (models, _) = read.expect("the generated file is an OBJ");
        black_box(models);
        spent() - start
    }
}

fn main() {
    let runs = std::env::args().skip(1).find_map(|word| word.parse().ok()).unwrap_or(3);
    let mut files = [
        File::rings("a hundred thousand", Shape { rings: 10, around: 125, across: 40 }),
        File::rings("a million", Shape::MILLION),
        File::rings("four million", Shape { rings: 10, around: 800, across: 250 }),
        File::shells("a million in 10,000 shells"),
    ];
    let mut tobj = Duration::MAX;
    for _ in 0..runs {
        files.iter_mut().for_each(File::report);
        tobj = tobj.min(files[1].tobj());
    }
    let first = files[0].ns_per_triangle();
    let mut steepest = 0.0f64;
    for file in &files {
        let growth = file.ns_per_triangle() / first;
        steepest = steepest.max(growth);
        println!(
            "{:<28} {:>8} triangles  {:7.2} s  {:6.0} ns a triangle  {growth:5.2} times the first",
            file.name,
            file.triangles,
            file.best.as_secs_f64(),
            file.ns_per_triangle(),
        );
        file.stages();
    }
    let ratio = files[1].best.as_secs_f64() / tobj.as_secs_f64();
    println!(
        "a million: the whole report takes {ratio:.2} of the {:.2} s that tobj takes to read it",
        tobj.as_secs_f64()
    );
    println!("steepest growth {steepest:.2}, goal {GOAL}, limit {LIMIT}; best of {runs} alternating runs");
    assert!(steepest <= LIMIT, "a triangle costs {steepest:.2} times as much in a large model");
}
