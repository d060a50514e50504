//! Invariants of every file that is read and written again, with any edits.

#![allow(clippy::unwrap_used)]

use gridproof::model::Document;
use gridproof::obj::write::{Edits, Next, WriteFailure, WriteFailureCode, Writer, decimals, write};
use gridproof::obj::{FailureCode, Scanner, Statement, StatementKind, read};

/// Written from the source in chunks of one size.
pub fn write_in_chunks(
    source: &[u8],
    document: &Document,
    edits: &Edits,
    size: usize,
) -> Result<Vec<u8>, WriteFailure> {
    let (mut writer, mut out) = (Writer::new(document, edits, None), Vec::new());
    loop {
        source.chunks(size).for_each(|chunk| writer.feed(chunk, &mut out));
        if writer.end(&mut out)? == Next::Done {
            return Ok(out);
        }
    }
}

/// Ranges of all statements, from chunks of one size.
pub fn ranges(source: &[u8], size: usize) -> Vec<std::ops::Range<u64>> {
    let (mut scanner, mut ranges) = (Scanner::default(), Vec::new());
    let mut sink = |statement: &Statement<'_>| {
        for (word, at) in statement.words() {
            assert_eq!(&source[at as usize..][..word.len()], word);
            assert!(statement.range.start < at && at + word.len() as u64 <= statement.range.end);
        }
        ranges.push(statement.range.clone());
    };
    source.chunks(size).for_each(|chunk| scanner.feed(chunk, &mut sink));
    scanner.finish(&mut sink);
    ranges
}

/// Statements follow one another with nothing but line ends between them; without edits the bytes are the same, also
/// when every corner gets its own value; random edits change the uvs of their corners and nothing else.
pub fn assert_written_again(source: &[u8], document: &Document, chance: u64) {
    assert_scanned(source);
    let none = Edits::new(document);
    assert!(write(source, document, &none).unwrap() == source);
    let mut same = Edits::new(document);
    let own: Vec<_> = (0..document.texcoords.len())
        .map(|index| same.same_as(gridproof::model::TexcoordId::new(index as u32).unwrap()))
        .collect();
    for (index, corner) in document.corners.iter().enumerate() {
        if let Some(id) = corner.texcoord {
            same.set(document, index, own[id.index()]);
        }
    }
    assert!(write(source, document, &same).unwrap() == source);
    assert_edited(source, document, chance);
}

fn assert_scanned(source: &[u8]) {
    let mut at = if source.starts_with(b"\xEF\xBB\xBF") { 3 } else { 0 };
    for range in ranges(source, usize::MAX) {
        let between = &source[at as usize..range.start as usize];
        assert!(matches!(between, b"" | b"\n" | b"\r" | b"\r\n"), "{between:?} before {range:?}");
        at = range.end;
    }
    assert!(matches!(&source[at as usize..], b"" | b"\n" | b"\r" | b"\r\n"));
}

fn assert_edited(source: &[u8], document: &Document, chance: u64) {
    let mut state = chance;
    let mut below = |most: u64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) % most
    };
    let mut edits = Edits::new(document);
    let decimals = decimals(document);
    let mut new: Vec<_> =
        [[0.25, 0.75], [1.0 / 3.0, -2.0 / 3.0], [0.0, 1e-9]].map(|uv| edits.texcoord(uv, decimals).unwrap()).into();
    let copied = document.corners.iter().filter_map(|corner| corner.texcoord).take(3);
    copied.for_each(|id| new.push(edits.same_as(id)));
    let moved = below(5);
    for corner in 0..document.corners.len() {
        if below(4) < moved {
            // Neighbours in the list are often of one vt: by its number, so that some move together.
            let by_texcoord = document.corners[corner].texcoord.map_or(0, |id| id.index() as u64);
            let which = if below(8) == 0 { below(new.len() as u64) } else { by_texcoord % new.len() as u64 };
            edits.set(document, corner, new[which as usize]);
        }
    }
    let written = match write(source, document, &edits) {
        Ok(written) => written,
        Err(failure) => return assert_ne!(failure.code, WriteFailureCode::Changed),
    };
    let again = match read(&written) {
        Ok(again) => again,
        Err(failure) => return assert_ne!(failure.code, FailureCode::NoFaces, "{failure}"),
    };
    let bits = |document: &Document| document.positions.iter().flatten().map(|x| x.to_bits()).collect::<Vec<_>>();
    assert!(bits(document) == bits(&again));
    let bits = |document: &Document| document.normals.iter().flatten().map(|x| x.to_bits()).collect::<Vec<_>>();
    assert!(bits(document) == bits(&again));
    assert!(document.face_starts == again.face_starts);
    assert_eq!((&document.objects, &document.object_runs), (&again.objects, &again.object_runs));
    assert_eq!((&document.groups, &document.group_runs), (&again.groups, &again.group_runs));
    assert_eq!((&document.materials, &document.material_runs), (&again.materials, &again.material_runs));
    assert_eq!(document.smoothing_runs, again.smoothing_runs);
    assert_eq!(document.material_libraries, again.material_libraries);
    for (index, (old, new)) in document.corners.iter().zip(&again.corners).enumerate() {
        assert_eq!((old.position, old.normal), (new.position, new.normal));
        let uv = new.texcoord.map(|id| again.texcoords[id.index()]);
        assert_eq!(uv, edits.uv(document, index), "corner {index}");
    }
    assert_others_stay((source, document), (&written, &again));
}

/// Bytes of a statement, and of each `vt` that it names the two coordinates as bits.
type Other = (Vec<u8>, Vec<Option<[u64; 2]>>);

/// The content of a file besides its `vt`: each statement's line, its bytes without those of indices to `vt`, and what
/// `vt` they name.
fn others(source: &[u8], document: &Document) -> Vec<Other> {
    let (mut scanner, mut others, mut before) = (Scanner::default(), Vec::new(), 0);
    let mut sink = |statement: &Statement<'_>| {
        if statement.kind == StatementKind::Texcoord {
            before += 1;
            return;
        }
        let range = statement.range.start as usize..statement.range.end as usize;
        let of_model = document.face_lines.binary_search(&statement.line).is_ok();
        let (mut bytes, mut named, mut from) = (Vec::new(), Vec::new(), range.start);
        let may_name = matches!(statement.kind, StatementKind::Face | StatementKind::Line | StatementKind::Surface);
        let skipped = if statement.kind == StatementKind::Surface { 4 } else { 0 };
        for (word, at) in statement.words().skip(skipped).filter(|_| may_name) {
            let mut parts = word.splitn(3, |&byte| byte == b'/');
            let (position, texcoord) = (parts.next().unwrap(), parts.next());
            let at = at as usize + position.len();
            bytes.extend_from_slice(&source[from..at]);
            // Corners of the model's faces are looked at where the edits are known.
            from = at + texcoord.map_or(0, |texcoord| 1 + texcoord.len());
            if !of_model {
                let number: Option<i128> = texcoord.and_then(|part| std::str::from_utf8(part).ok()?.parse().ok());
                let number = number.map(|number| if number < 0 { before + 1 + number } else { number });
                let named_value = number.and_then(|number| document.texcoords.get(usize::try_from(number - 1).ok()?));
                named.push(named_value.map(|uv| uv.map(f64::to_bits)));
            }
        }
        bytes.extend_from_slice(&source[from..range.end]);
        others.push((bytes, named));
    };
    scanner.feed(source, &mut sink);
    scanner.finish(&mut sink);
    others
}

/// All statements but `vt` have their bytes, and those that are no faces of the model name the `vt` that they named.
fn assert_others_stay((old, document): (&[u8], &Document), (new, again): (&[u8], &Document)) {
    let (old, new) = (others(old, document), others(new, again));
    assert_eq!(old.len(), new.len());
    for ((bytes, named), (bytes_again, named_again)) in old.into_iter().zip(new) {
        assert!(
            bytes == bytes_again,
            "{} became {}",
            String::from_utf8_lossy(&bytes),
            String::from_utf8_lossy(&bytes_again)
        );
        assert_eq!(named, named_again, "{}", String::from_utf8_lossy(&bytes));
    }
}
