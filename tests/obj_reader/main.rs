//! Reader, scanner and writer: the reader against one-defect files, with any chunks of its input, against a peer's
//! parser suite, against real meshes with counts made by another program, and against the general-purpose loader
//! `tobj`.
#![allow(clippy::unwrap_used, clippy::type_complexity)]
#![cfg(not(target_arch = "wasm32"))]

use gridproof::model::{DiagnosticKind as Kind, Document, MAX_KEPT_DIAGNOSTICS, Run};
use gridproof::obj::{FailureCode, ReadFailure, Reader, read};

mod cuts;
mod failures;
mod hostile;
mod one_defect;
mod outside;
#[path = "../support/outside.rs"]
mod support;
mod well_formed;
mod write;
#[path = "../support/written.rs"]
mod written;

const TRIANGLE: &str = "v 0 0 0\nv 1 0 0\nv 0 1 0\n";

fn ok(text: impl AsRef<[u8]>) -> Document {
    let document = read(text.as_ref()).unwrap_or_else(|failure| panic!("{failure}"));
    check_invariants(&document);
    document
}

fn fails(text: impl AsRef<[u8]>) -> ReadFailure {
    read(text.as_ref()).expect_err("nothing here can be drawn")
}

type KindsAndLines = Vec<(Kind, u32)>;

/// Kinds and lines of the diagnostics.
fn raised(document: &Document) -> KindsAndLines {
    document.diagnostics.kept.iter().map(|d| (d.kind, d.line)).collect()
}

fn position_indices(document: &Document, face: usize) -> Vec<u32> {
    document.face(face).iter().map(|c| c.position.0).collect()
}

fn texcoord_indices(document: &Document, face: usize) -> Vec<Option<usize>> {
    document.face(face).iter().map(|c| c.texcoord.map(|id| id.index())).collect()
}

fn normal_indices(document: &Document, face: usize) -> Vec<Option<usize>> {
    document.face(face).iter().map(|c| c.normal.map(|id| id.index())).collect()
}

/// Invariants of every document.
fn check_invariants(document: &Document) {
    let faces = document.face_count();
    assert!(faces > 0);
    assert_eq!(document.face_starts.len(), faces + 1);
    assert_eq!(document.face_starts[0], 0);
    assert_eq!(document.face_starts[faces] as usize, document.corners.len());
    assert!(document.face_starts.windows(2).all(|w| w[0] + 3 <= w[1]));
    assert!(document.face_lines.windows(2).all(|w| w[0] <= w[1]));
    assert!(document.face_lines[0] >= 1);
    for corner in &document.corners {
        assert!(document.positions[corner.position.0 as usize].iter().all(|x| x.is_finite()));
        assert!(corner.texcoord.is_none_or(|id| document.texcoords[id.index()].iter().all(|x| x.is_finite())));
        assert!(corner.normal.is_none_or(|id| document.normals[id.index()].iter().all(|x| x.is_finite())));
    }
    for (runs, names) in [
        (&document.object_runs, &document.objects),
        (&document.group_runs, &document.groups),
        (&document.material_runs, &document.materials),
    ] {
        assert!(runs.windows(2).all(|w| w[0].face < w[1].face && w[0].name != w[1].name));
        assert!(runs.iter().all(|r| (r.face as usize) < faces && (r.name as usize) < names.len()));
        let distinct: std::collections::BTreeSet<_> = names.iter().collect();
        assert_eq!(distinct.len(), names.len());
    }
    let diagnostics = &document.diagnostics;
    assert!(diagnostics.kept.len() <= MAX_KEPT_DIAGNOSTICS);
    assert!(diagnostics.kept.is_sorted_by_key(|d| d.line));
    for (kind, count) in &diagnostics.counts {
        let kept = diagnostics.kept.iter().filter(|d| d.kind == *kind).count();
        assert!(kept >= 1 && kept <= *count as usize, "{kind:?}");
    }
    for diagnostic in &diagnostics.kept {
        assert!(diagnostics.counts.contains_key(&diagnostic.kind));
        assert!(diagnostic.message.len() > 20 && !diagnostic.message.contains('\n'), "{}", diagnostic.message);
    }
}

/// Byte-for-byte the same result, NaN included.
fn same(a: &Result<Document, ReadFailure>, b: &Result<Document, ReadFailure>) {
    assert_eq!(format!("{a:?}"), format!("{b:?}"));
}

fn read_in_pieces(bytes: &[u8], cuts: &[usize]) -> Result<Document, ReadFailure> {
    let mut reader = Reader::new(Some(bytes.len() as u64));
    let mut start = 0;
    for &cut in cuts.iter().chain([&bytes.len()]) {
        let end = cut.clamp(start, bytes.len());
        reader.feed(&bytes[start..end])?;
        start = end;
    }
    assert_eq!(reader.bytes_read(), bytes.len() as u64);
    reader.finish()
}
