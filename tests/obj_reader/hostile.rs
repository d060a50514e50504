//! Files made to exhaust time or memory.

use super::written::write_in_chunks;
use super::*;
use gridproof::obj::write::{Edits, WriteFailureCode};
use std::time::{Duration, Instant};

/// Far above what linear reading needs even unoptimised and on a busy machine, far below what quadratic would.
const PATIENCE: Duration = Duration::from_secs(20);

fn in_time(file: &[u8]) -> Result<Document, ReadFailure> {
    let start = Instant::now();
    let mut reader = Reader::new(Some(file.len() as u64));
    for chunk in file.chunks(4096) {
        reader.feed(chunk)?;
    }
    let result = reader.finish();
    assert!(start.elapsed() < PATIENCE, "{:?}", start.elapsed());
    result
}

#[test]
fn one_line_of_fifty_megabytes() {
    let mut file = TRIANGLE.as_bytes().to_vec();
    file.extend(b"f 1 2 3\n# ");
    file.resize(50_000_000, b'x');
    assert_eq!(in_time(&file).unwrap().face_count(), 1);
}

#[test]
fn a_line_beyond_the_limit_is_left_out() {
    let mut file = format!("{TRIANGLE}f 1 2 3\nf").into_bytes();
    while file.len() <= gridproof::obj::MAX_LINE_BYTES + 200 {
        file.extend(b" 1 2 3 1 2 3 1 2 3 1 2 3 1 2 3 1 2 3 1 2 3 1 2 3 1 2 3 1 2 3 1 2 3 1 2 3");
    }
    file.extend(b"\nf 3 2 1\n");
    for document in [in_time(&file).unwrap(), read(&file).unwrap()] {
        assert_eq!(document.face_lines, [4, 6]);
        assert_eq!(raised(&document), [(Kind::LineTooLong, 5)]);
        // It cannot be written either, since it may refer to what is edited.
        let mut edits = Edits::new(&document);
        assert!(write_in_chunks(&file, &document, &edits, 1 << 20).unwrap() == file);
        let new = edits.texcoord([0.5, 0.5], 6).unwrap();
        edits.set(&document, 0, new);
        let failure = write_in_chunks(&file, &document, &edits, 1 << 20).unwrap_err();
        assert_eq!(failure.code, WriteFailureCode::LineTooLong);
    }
}

#[test]
fn a_face_of_a_million_corners() {
    let file = format!("{TRIANGLE}f{}\n", " 1 2 3".repeat(400_000));
    assert_eq!(in_time(file.as_bytes()).unwrap().face(0).len(), 1_200_000);
}

#[test]
fn millions_of_lines_of_one_character() {
    for line in ["v\n", "\n", "f\n", "\\\n", "#\n", "x\r"] {
        let file = format!("{TRIANGLE}f 1 2 3\n{}", line.repeat(3_000_000));
        assert_eq!(in_time(file.as_bytes()).unwrap().face_count(), 1, "{line:?}");
    }
}

#[test]
fn a_million_materials_and_a_million_keywords() {
    let mut file = TRIANGLE.to_owned();
    for i in 0..1_000_000 {
        file.push_str(&format!("usemtl m{i}\nf 1 2 3\nk{i} 1\n"));
    }
    let document = in_time(file.as_bytes()).unwrap();
    assert_eq!(document.materials.len(), 1_000_000);
    assert_eq!(document.material_runs.len(), 1_000_000);
    assert!(document.diagnostics.count(Kind::UnknownStatement) < 100);
    assert!(document.diagnostics.kept.iter().any(|d| d.message.starts_with("9999")), "the rest is counted");
}
