//! From chunks of bytes to a document.

use super::elements::Elements;
use super::scan::{End, Scanner, UTF8_MARK};
use super::sniff::{self, SNIFF_BYTES};
use super::{FailureCode, ReadFailure};
use crate::model::{DiagnosticKind as Kind, Document};

/// Reads an OBJ from chunks of bytes, cut anywhere.
///
/// ```
/// let mut reader = gridproof::obj::Reader::new(None);
/// reader.feed(b"v 0 0 0\nv 1 0 0\nv 0 1")?;
/// reader.feed(b" 0\nf 1 2 3\n")?;
/// let document = reader.finish()?;
/// assert_eq!(document.face_count(), 1);
/// # Ok::<(), gridproof::obj::ReadFailure>(())
/// ```
pub struct Reader {
    scanner: Scanner,
    elements: Elements,
    total_bytes: Option<u64>,
    bytes_read: u64,
    /// The file's first bytes, until there are enough to detect the format.
    head: Option<Vec<u8>>,
}

impl Reader {
    /// A reader for a file of `total_bytes_hint` bytes, if that is known; it only guides how lists grow.
    pub fn new(total_bytes_hint: Option<u64>) -> Self {
        Self {
            scanner: Scanner::default(),
            elements: Elements::new(total_bytes_hint),
            total_bytes: total_bytes_hint,
            bytes_read: 0,
            head: Some(Vec::new()),
        }
    }

    /// Bytes fed so far.
    pub fn bytes_read(&self) -> u64 {
        self.bytes_read
    }

    /// Takes the next bytes. After an error no more is read, and every later call gives the same error.
    pub fn feed(&mut self, chunk: &[u8]) -> Result<(), ReadFailure> {
        if let Some(failure) = &self.elements.failure {
            return Err(failure.clone());
        }
        self.bytes_read += chunk.len() as u64;
        let mut rest = chunk;
        if let Some(head) = &mut self.head {
            let (first, later) = chunk.split_at(chunk.len().min(SNIFF_BYTES - head.len()));
            head.extend_from_slice(first);
            rest = later;
            if head.len() == SNIFF_BYTES {
                self.open();
            }
        }
        if self.head.is_none() {
            self.scanner.feed(rest, &mut self.elements);
        }
        self.elements.failure.clone().map_or(Ok(()), Err)
    }

    /// The document, once all bytes have been fed.
    pub fn finish(mut self) -> Result<Document, ReadFailure> {
        self.open();
        if self.elements.failure.is_none() {
            let end = self.scanner.finish(&mut self.elements);
            self.tell_cut_short(end);
        }
        if let Some(failure) = self.elements.failure {
            return Err(failure);
        }
        if !self.scanner.has_substance() {
            let what = if self.bytes_read == 0 { "The file is empty." } else { "The file holds nothing but blanks." };
            return Err(ReadFailure::new(
                FailureCode::Empty,
                0,
                format!("{what} Export the model again, or copy the file once more."),
            ));
        }
        self.elements.settle(self.scanner.lines())
    }

    /// Checks the first bytes and reads them.
    fn open(&mut self) {
        let Some(head) = self.head.take() else { return };
        self.elements.failure = sniff::refuse(head.strip_prefix(UTF8_MARK).unwrap_or(&head), self.total_bytes);
        self.scanner.feed(&head, &mut self.elements);
    }

    /// Reports if the end looks cut off.
    fn tell_cut_short(&mut self, end: End) {
        if end.continued || (end.open && (end.overlong || self.elements.incomplete)) {
            self.elements.document.diagnostics.raise(self.scanner.lines(), Kind::CutShort, || {
                "The file ends in the middle of this statement: it was cut short while it was written, copied or fetched, and \
                 there may be more missing. Export or copy it again."
                    .to_owned()
            });
        }
    }
}

/// Reads a whole file.
pub fn read(bytes: &[u8]) -> Result<Document, ReadFailure> {
    let mut reader = Reader::new(Some(bytes.len() as u64));
    reader.feed(bytes)?;
    reader.finish()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn careful(bytes: &[u8]) -> Result<Document, ReadFailure> {
        let mut reader = Reader::new(None);
        reader.elements.short_way = false;
        reader.feed(bytes)?;
        reader.finish()
    }

    /// NaN included.
    fn same_both_ways(text: &str) {
        assert_eq!(format!("{:?}", read(text.as_bytes())), format!("{:?}", careful(text.as_bytes())), "{text:?}");
    }

    const ELEMENTS: &str = "v 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0\nvt 1 1\nvn 0 0 1\nf 1/1/1 2/2/1 3/1/1\n";

    #[test]
    fn both_parsers_agree() {
        for line in [
            "v 1 2 3",
            "v\t1 2  3 ",
            "v 1 2 3 4",
            "v 1 2 3 4 5",
            "v 1 2 3 4 5 6",
            "v 1 2 3 4 5 6 7",
            "v 1 2 3 e",
            "v 1 2",
            "v 1 2 3x",
            "v 1,0 2 3",
            "v +1 -.5 5.",
            "v -0 0.0 -0.0e1",
            "v 1e-31 -1e-31 -0",
            "vt -0.0 -1e-40",
            "v1 2 3",
            "vt 1",
            "vt 1 2",
            "vt 1 2 3",
            "vt 1 2 3 4",
            "vt1 2",
            "vn 1 2 3",
            "vn 1 2 3 4",
            "vn 1e-60 2 1e60",
            "f 1 2 3",
            "f 1 2 3 ",
            "f 1/1 2/2 3/1",
            "f 1//1 2//1 3//1",
            "f 1/1/ 2/2/ 3/1/",
            "f 1// 2// 3//",
            "f 1/ 2/ 3/",
            "f -1 -2 -3",
            "f -1/-1 -2/-2 -3/-1",
            "f -4 1 2",
            "f 1 2 4",
            "f 1/3 2/1 3/1",
            "f 1 2/1 3",
            "f 1 2",
            "f 0 1 2",
            "f 0000000001 2 3",
            "f 1 2 99999999999",
            "f 1 2 3#c",
            "f 1 2 3\\",
            "f +1 2 3",
            "f 1/1/1/1 2/2/1 3/1/1",
            "f 1/1/2 2/2/1 3/1/1",
            "fo 1 2 3",
            "f1 2 3",
            "f\u{b}1 2 3",
        ] {
            for end in ["\n", "\r\n", "\r"] {
                same_both_ways(&format!("{ELEMENTS}{line}{end}{line}{end}f 3 2 1{end}"));
            }
        }
    }

    #[test]
    fn too_many_elements_are_refused() {
        for (line, what) in
            [("v 1 2 3", "positions"), ("vt 1 2", "texture"), ("vn 0 0 1", "normals"), ("f 1 2 3", "faces")]
        {
            let mut reader = Reader::new(None);
            reader.elements.limit = 8;
            let text = format!("{ELEMENTS}{}", format!("{line}\n").repeat(8));
            let failure = reader.feed(text.as_bytes()).and_then(|()| reader.finish().map(drop)).unwrap_err();
            assert_eq!(failure.code, FailureCode::TooLarge);
            let corners = what == "faces" && failure.message.contains("corners");
            assert!(failure.message.contains(what) || corners, "{failure}");
            assert!(failure.line > 7);
        }
    }

    #[test]
    fn list_capacity_is_bounded_by_the_file_size() {
        let mut text = String::new();
        for i in 0..60_000 {
            text.push_str(&format!("v {}.5 0.25 0.125\n", i % 10));
        }
        for i in 0..100_000 {
            text.push_str(&format!("f {} {} {}\n", i % 50_000 + 1, i % 50_000 + 2, i % 50_000 + 3));
        }
        let mut reader = Reader::new(Some(text.len() as u64));
        let mut most = 0;
        for chunk in text.as_bytes().chunks(10_000) {
            reader.feed(chunk).unwrap();
            most = most.max(reader.elements.document.corners.capacity());
        }
        assert!(most < 300_000 * 11 / 10, "{most} corners were reserved for 300000");
        let document = reader.finish().unwrap();
        assert_eq!(document.corners.len(), 300_000);
        assert!(document.positions.capacity() <= 60_000 * 9 / 8);
    }

    #[cfg(not(target_arch = "wasm32"))]
    proptest::proptest! {
        #![proptest_config(proptest::prelude::ProptestConfig {
            cases: 2000, failure_persistence: None, ..Default::default()
        })]

        #[test]
        fn both_parsers_agree_on_any_lines(lines in "((f|v|vt|vn) ?[-123/. e#]{0,14}\n|f( [-12]?[12](/[12]?){0,2}){2,4}\n){1,8}") {
            same_both_ways(&format!("{ELEMENTS}{lines}"));
        }
    }
}
