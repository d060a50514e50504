//! Reading a million triangles: this reader against the general-purpose loader `tobj`, in alternating runs.
//!
//! Both get the same bytes from memory, `tobj` with its lightest settings (no triangulation, no single index).
//! Prints the best time of each and their ratio; fails if this reader is not the faster one.

#[path = "../tests/support/big_obj.rs"]
mod big_obj;

use gridproof::obj;
use std::hint::black_box;
use std::time::{Duration, Instant};

/// Runs of each reader; the best counts, since everything that disturbs a run makes it slower.
const RUNS: usize = 7;

/// Bytes in a chunk, about what a browser's file stream gives.
const CHUNK: usize = 1 << 18;

fn ours(bytes: &[u8]) -> (Duration, usize) {
    let start = Instant::now();
    let mut reader = obj::Reader::new(Some(bytes.len() as u64));
    for chunk in bytes.chunks(CHUNK) {
        reader.feed(chunk).expect("the generated file is an OBJ");
    }
    let document = reader.finish().expect("the generated file has faces");
    let time = start.elapsed();
    (time, black_box(document).face_count())
}

fn theirs(bytes: &[u8]) -> (Duration, usize) {
    let start = Instant::now();
    let mut reader = bytes;
    let (models, _) =
        tobj::load_obj_buf(&mut reader, &tobj::LoadOptions::default(), |_| Err(tobj::LoadError::OpenFileFailed))
            .expect("the generated file is an OBJ");
    let time = start.elapsed();
    (time, black_box(models).iter().map(|model| model.mesh.indices.len() / 3).sum())
}

fn main() {
    let shape = big_obj::Shape::MILLION;
    let mut bytes = Vec::new();
    big_obj::write(&mut bytes, shape).expect("a Vec takes any write");
    let megabytes = bytes.len() as f64 / 1e6;
    println!("{} triangles, {megabytes:.1} MB", shape.triangles());
    let (mut best_ours, mut best_theirs) = (Duration::MAX, Duration::MAX);
    for _ in 0..RUNS {
        let (time, faces) = ours(&bytes);
        assert_eq!(faces, shape.triangles());
        best_ours = best_ours.min(time);
        let (time, faces) = theirs(&bytes);
        assert_eq!(faces, shape.triangles());
        best_theirs = best_theirs.min(time);
    }
    let show = |name: &str, time: Duration| {
        let seconds = time.as_secs_f64();
        println!("{name:<10} {:7.1} ms  {:6.0} MB/s", seconds * 1e3, megabytes / seconds);
    };
    show("gridproof", best_ours);
    show("tobj", best_theirs);
    let ratio = best_theirs.as_secs_f64() / best_ours.as_secs_f64();
    println!("ratio      {ratio:7.2}   (tobj's time over ours; best of {RUNS} alternating runs)");
    assert!(ratio > 1.0, "tobj was faster");
}
