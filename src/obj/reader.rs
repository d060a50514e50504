//! From chunks of bytes to lines, and from lines to statements.

use super::DiagnosticKind as Kind;
use super::elements::Elements;
use super::sniff::{self, SNIFF_BYTES};
use super::statement::{holds_name, is_blank, trim, without_comment};
use super::{Document, FailureCode, ReadFailure};

/// Longest line that is read, in bytes: a face of some four million corners. A longer one is left out, because it would
/// have to be held whole.
pub const MAX_LINE_BYTES: usize = 64 << 20;

/// Byte-order mark of UTF-8.
const UTF8_MARK: &[u8] = b"\xEF\xBB\xBF";

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
    elements: Elements,
    total_bytes: Option<u64>,
    bytes_read: u64,
    /// The file's first bytes, until there are enough to tell what it is.
    head: Option<Vec<u8>>,
    /// Start of a line whose end has not come yet.
    unfinished: Vec<u8>,
    /// Whether `unfinished` has been given up because it grew beyond [`MAX_LINE_BYTES`].
    overlong: bool,
    /// Whether the last chunk ended in CR, so that a LF at the start of the next belongs to it.
    after_cr: bool,
    /// Whether anything but blanks has been read.
    substance: bool,
    /// Complete lines so far.
    lines: u32,
    continued: Option<Continued>,
    /// Whether lines may take the short way; off only in tests that compare both.
    short_way: bool,
}

/// A statement that a backslash carries over to the next line.
struct Continued {
    text: Vec<u8>,
    line: u32,
    in_name: bool,
    overlong: bool,
}

impl Reader {
    /// A reader for a file of `total_bytes_hint` bytes, if that is known; it only guides how lists grow.
    pub fn new(total_bytes_hint: Option<u64>) -> Self {
        Self {
            elements: Elements::new(total_bytes_hint),
            total_bytes: total_bytes_hint,
            bytes_read: 0,
            head: Some(Vec::new()),
            unfinished: Vec::new(),
            overlong: false,
            after_cr: false,
            substance: false,
            lines: 0,
            continued: None,
            short_way: true,
        }
    }

    /// Bytes fed so far.
    pub fn bytes_read(&self) -> u64 {
        self.bytes_read
    }

    /// Takes the next bytes. After an error nothing more is taken in, and every later call gives the same error.
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
        self.take_chunk(rest);
        self.elements.failure.clone().map_or(Ok(()), Err)
    }

    /// The document, once all bytes have been fed.
    pub fn finish(mut self) -> Result<Document, ReadFailure> {
        self.open();
        if self.elements.failure.is_none() {
            self.take_last_line();
        }
        if let Some(failure) = self.elements.failure {
            return Err(failure);
        }
        if !self.substance {
            let what = if self.bytes_read == 0 { "The file is empty." } else { "The file holds nothing but blanks." };
            return Err(ReadFailure::new(
                FailureCode::Empty,
                0,
                format!("{what} Export the model again, or copy the file once more."),
            ));
        }
        self.elements.settle(self.lines)
    }

    /// Judges the first bytes and reads them.
    fn open(&mut self) {
        let Some(head) = self.head.take() else { return };
        let head = head.strip_prefix(UTF8_MARK).unwrap_or(&head);
        self.elements.failure = sniff::refuse(head, self.total_bytes);
        self.take_chunk(head);
    }

    fn take_chunk(&mut self, chunk: &[u8]) {
        if chunk.is_empty() || self.elements.failure.is_some() {
            return;
        }
        let mut text = chunk;
        if std::mem::take(&mut self.after_cr) && text[0] == b'\n' {
            text = &text[1..];
        }
        let Some(last_end) = memchr::memrchr2(b'\n', b'\r', text) else { return self.keep(text) };
        if !self.unfinished.is_empty() || self.overlong {
            // There is a line end, so there is a first one.
            let end = memchr::memchr2(b'\n', b'\r', text).unwrap_or(last_end);
            self.keep(&text[..end]);
            let line = std::mem::take(&mut self.unfinished);
            let overlong = std::mem::take(&mut self.overlong);
            self.line(&line, overlong);
            // The room is kept for the next chunk's unfinished line, unless it is far beyond any usual one.
            if line.capacity() <= SNIFF_BYTES {
                self.unfinished = line;
                self.unfinished.clear();
            }
            text = &text[after_line_end(text, end)..];
        }
        let complete = match memchr::memrchr2(b'\n', b'\r', text) {
            Some(end) => end + 1,
            None => 0,
        };
        self.take_lines(&text[..complete]);
        self.after_cr = chunk.last() == Some(&b'\r');
        self.keep(&text[complete..]);
    }

    /// Takes whole lines; `text` ends with a line end.
    fn take_lines(&mut self, text: &[u8]) {
        let base = self.bytes_read.saturating_sub(text.len() as u64);
        let mut at = 0;
        while at < text.len() {
            self.elements.offset = base + at as u64;
            if self.short_way
                && self.continued.is_none()
                && let Some(end) = self.elements.plain_line(text, at, self.lines.saturating_add(1))
            {
                self.lines = self.lines.saturating_add(1);
                self.substance = true;
                at = end;
                continue;
            }
            let rest = &text[at..];
            let end = memchr::memchr2(b'\n', b'\r', rest).unwrap_or(rest.len());
            self.line(&rest[..end], false);
            if self.elements.failure.is_some() {
                return;
            }
            at += after_line_end(rest, end);
        }
    }

    /// Keeps the start of a line for when the rest of it comes.
    fn keep(&mut self, text: &[u8]) {
        if self.overlong || self.unfinished.len() + text.len() > MAX_LINE_BYTES {
            self.overlong = true;
            self.unfinished = Vec::new();
        } else {
            self.unfinished.extend_from_slice(text);
        }
    }

    /// Takes one line the careful way, without its end. `overlong` where it has already been given up.
    fn line(&mut self, line: &[u8], overlong: bool) {
        self.lines = self.lines.saturating_add(1);
        let overlong = overlong || line.len() > MAX_LINE_BYTES;
        self.substance = self.substance || overlong || line.iter().any(|&b| !is_blank(b));
        let in_name = self.continued.as_ref().map_or_else(|| holds_name(line), |continued| continued.in_name);
        let (text, commented) = if overlong { (&[][..], false) } else { without_comment(line, in_name) };
        let carried = match trim(text) {
            [start @ .., b'\\'] if !commented => Some(start),
            _ => None,
        };
        match (&mut self.continued, carried) {
            (None, None) if overlong => self.leave_out(self.lines),
            (None, None) => self.elements.statement(text, self.lines),
            (None, Some(start)) => {
                let text = [start, b" "].concat();
                self.continued = Some(Continued { text, line: self.lines, in_name, overlong });
            }
            (Some(continued), _) => {
                let more = carried.unwrap_or(text);
                continued.overlong |= overlong || continued.text.len() + more.len() > MAX_LINE_BYTES;
                if continued.overlong {
                    continued.text = Vec::new();
                } else {
                    continued.text.extend_from_slice(more);
                    continued.text.push(b' ');
                }
                if carried.is_none() {
                    self.end_continued();
                }
            }
        }
    }

    fn end_continued(&mut self) {
        match self.continued.take() {
            Some(Continued { overlong: true, line, .. }) => self.leave_out(line),
            Some(Continued { text, line, .. }) => self.elements.statement(&text, line),
            None => {}
        }
    }

    fn leave_out(&mut self, line: u32) {
        self.elements.document.diagnostics.raise(line, Kind::LineTooLong, || {
            format!(
                "This line is longer than {} MiB and was left out. Is this an OBJ, and is it complete?",
                MAX_LINE_BYTES >> 20
            )
        });
    }

    /// Takes what stands after the last line end, and tells if it looks cut off.
    fn take_last_line(&mut self) {
        let open = !self.unfinished.is_empty() || self.overlong;
        if open {
            let line = std::mem::take(&mut self.unfinished);
            let overlong = self.overlong;
            self.line(&line, overlong);
        }
        let dangling = self.continued.is_some();
        self.end_continued();
        if dangling || (open && (self.overlong || self.elements.incomplete)) {
            self.elements.document.diagnostics.raise(self.lines, Kind::CutShort, || {
                "The file ends in the middle of this statement: it was cut short while it was written, copied or fetched, and \
                 there may be more missing. Export or copy it again."
                    .to_owned()
            });
        }
    }
}

/// The place after the line end at `end`; a CR and the LF after it are one.
fn after_line_end(text: &[u8], end: usize) -> usize {
    match text.get(end..) {
        Some([b'\r', b'\n', ..]) => end + 2,
        Some([_, ..]) => end + 1,
        _ => text.len(),
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
        reader.short_way = false;
        reader.feed(bytes)?;
        reader.finish()
    }

    /// NaN included.
    fn same_both_ways(text: &str) {
        assert_eq!(format!("{:?}", read(text.as_bytes())), format!("{:?}", careful(text.as_bytes())), "{text:?}");
    }

    const ELEMENTS: &str = "v 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0\nvt 1 1\nvn 0 0 1\nf 1/1/1 2/2/1 3/1/1\n";

    #[test]
    fn both_ways_give_the_same() {
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
    fn more_than_can_be_counted_is_refused() {
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
    fn lists_grow_without_reaching_beyond_the_file() {
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
        fn both_ways_give_the_same_for_any_lines(lines in "((f|v|vt|vn) ?[-123/. e#]{0,14}\n|f( [-12]?[12](/[12]?){0,2}){2,4}\n){1,8}") {
            same_both_ways(&format!("{ELEMENTS}{lines}"));
        }
    }
}
