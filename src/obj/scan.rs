//! From chunks of bytes, cut anywhere, to statements: where each begins and ends in the file, of what kind it is, and its text
//! without comment, line ends and backslashes.
//!
//! Between the statements' ranges are line ends, and before the first there may be a byte-order mark; so a file is
//! reproduced byte for byte by copying ranges and what is between them. Holds no more of the file than one unfinished
//! statement, and of a statement that is longer than [`MAX_LINE_BYTES`] nothing.
//!
//! Cost: one pass over the bytes.

use std::ops::Range;

/// Longest line that is read, in bytes: a face of some four million corners. A longer one is left out, because it would
/// have to be held whole.
pub const MAX_LINE_BYTES: usize = 64 << 20;

/// Byte-order mark of UTF-8.
pub(super) const UTF8_MARK: &[u8] = b"\xEF\xBB\xBF";

/// Room that is kept for an unfinished line from one chunk to the next.
const KEPT_ROOM: usize = 1024;

/// What a statement is about, by its keyword.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum StatementKind {
    /// A blank line or a comment.
    Nothing,
    /// `v`
    Position,
    /// `vt`
    Texcoord,
    /// `vn`
    Normal,
    /// `f`, and `fo`, which is what version 2.11 of the format called it.
    Face,
    /// `l`
    Line,
    /// `surf`
    Surface,
    /// `o`
    Object,
    /// `g`
    Group,
    /// `usemtl`
    Material,
    /// `mtllib`
    Library,
    /// `s`
    Smoothing,
    /// `call` and `csh`, which reach outside the file.
    Outside,
    /// Any other keyword.
    Other,
    /// Longer than [`MAX_LINE_BYTES`]; its text is not there.
    TooLong,
}

impl StatementKind {
    fn of(keyword: &[u8]) -> Self {
        match keyword {
            b"" => Self::Nothing,
            b"v" => Self::Position,
            b"vt" => Self::Texcoord,
            b"vn" => Self::Normal,
            b"f" | b"fo" => Self::Face,
            b"l" => Self::Line,
            b"surf" => Self::Surface,
            b"o" => Self::Object,
            b"g" => Self::Group,
            b"usemtl" => Self::Material,
            b"mtllib" => Self::Library,
            b"s" => Self::Smoothing,
            b"call" | b"csh" => Self::Outside,
            _ => Self::Other,
        }
    }
}

/// One statement, blank line or comment.
#[derive(Clone, Debug)]
pub struct Statement<'a> {
    /// Its kind.
    pub kind: StatementKind,
    /// Line on which it starts, from 1.
    pub line: u32,
    /// Its bytes in the file, continued lines and comments included, without the line end behind it.
    pub range: Range<u64>,
    /// Without comments and line ends, continued lines joined by a blank.
    pub text: &'a [u8],
    /// Whether a comment at its end ends in a backslash. Here that is the comment's; others take the next line for its
    /// continuation.
    pub comment_goes_on: bool,
    /// Where its lines begin: in the text, and in the file. Empty where there is one.
    pieces: &'a [(usize, u64)],
}

impl<'a> Statement<'a> {
    /// Keyword and the rest.
    pub fn split(&self) -> (&'a [u8], &'a [u8]) {
        split_keyword(self.text)
    }

    /// The words behind the keyword, each with its place in the file.
    pub fn words(&self) -> impl Iterator<Item = (&'a [u8], u64)> + use<'a> {
        let (text, start, pieces) = (self.text, self.range.start, self.pieces);
        words(self.split().1).map(move |word| {
            // A word lies in the text, so its place there is the distance between both; no word reaches over two lines.
            let at = word.as_ptr() as usize - text.as_ptr() as usize;
            let piece = pieces[..pieces.partition_point(|piece| piece.0 <= at)].last().copied();
            let (from, place) = piece.unwrap_or((0, start));
            (word, place + (at - from) as u64)
        })
    }
}

/// Takes what a [`Scanner`] finds.
pub trait Sink {
    /// Whether it needs the places of words; for statements of very many lines they take room.
    const ASKS_PLACES: bool = true;

    /// The line that starts at `at` in `text`, and at `position` in the file, may be taken here: then the place after
    /// its end is returned, and it is no statement any more. `text` ends with a line end.
    #[inline(always)]
    fn plain_line(&mut self, _text: &[u8], _at: usize, _line: u32, _position: u64) -> Option<usize> {
        None
    }

    /// The next statement.
    fn statement(&mut self, statement: &Statement<'_>);

    /// Whether nothing more is wanted.
    fn is_full(&self) -> bool {
        false
    }
}

impl<F: FnMut(&Statement<'_>)> Sink for F {
    fn statement(&mut self, statement: &Statement<'_>) {
        self(statement);
    }
}

/// Finds the statements of a file.
///
/// ```
/// let mut scanner = gridproof::obj::Scanner::default();
/// let mut found = Vec::new();
/// let mut sink = |statement: &gridproof::obj::Statement<'_>| found.push(statement.range.clone());
/// scanner.feed(b"v 0 0 0\nf 1 \\", &mut sink);
/// scanner.feed(b"\r\n 2 3 # a face", &mut sink);
/// scanner.finish(&mut sink);
/// assert_eq!(found, [0..7, 8..28]);
/// ```
#[derive(Default)]
pub struct Scanner {
    /// Bytes taken.
    position: u64,
    /// The first bytes of the file until there are enough of them to be a mark.
    first: Vec<u8>,
    /// Whether they have been looked at.
    begun: bool,
    /// Start of a line whose end has not come yet, and its place in the file.
    unfinished: Vec<u8>,
    unfinished_at: u64,
    /// Whether `unfinished` has been dropped because it grew beyond [`MAX_LINE_BYTES`].
    overlong: bool,
    /// Whether the last chunk ended in CR, so that a LF at the start of the next belongs to it.
    after_cr: bool,
    /// Whether anything but blanks has been found.
    substance: bool,
    /// Complete lines so far.
    lines: u32,
    continued: Option<Continued>,
}

/// A statement that a backslash carries over to the next line.
struct Continued {
    text: Vec<u8>,
    pieces: Vec<(usize, u64)>,
    line: u32,
    range: Range<u64>,
    in_name: bool,
    overlong: bool,
}

/// How a file ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct End {
    /// Whether the last line has no line end.
    pub open: bool,
    /// Whether the last line is continued.
    pub continued: bool,
    /// Whether the last line was too long.
    pub overlong: bool,
}

impl Scanner {
    /// Complete lines so far.
    pub fn lines(&self) -> u32 {
        self.lines
    }

    /// Whether anything but blanks was found.
    pub fn has_substance(&self) -> bool {
        self.substance
    }

    /// Whether the present statement is too long, so that nothing of it is held.
    pub(super) fn has_given_up(&self) -> bool {
        self.overlong || self.continued.as_ref().is_some_and(|continued| continued.overlong)
    }

    /// Takes the next bytes and gives the statements that end in them.
    pub fn feed(&mut self, chunk: &[u8], sink: &mut impl Sink) {
        if self.begun {
            return self.take_chunk(chunk, sink);
        }
        if self.first.is_empty() && chunk.len() >= UTF8_MARK.len() {
            return self.begin(chunk, sink);
        }
        let (first, rest) = chunk.split_at(chunk.len().min(UTF8_MARK.len() - self.first.len()));
        self.first.extend_from_slice(first);
        if self.first.len() == UTF8_MARK.len() {
            let first = std::mem::take(&mut self.first);
            self.begin(&first, sink);
            self.take_chunk(rest, sink);
        }
    }

    /// Gives what follows the last line end.
    pub fn finish(&mut self, sink: &mut impl Sink) -> End {
        if !self.begun {
            let first = std::mem::take(&mut self.first);
            self.begin(&first, sink);
        }
        let mut end =
            End { open: !self.unfinished.is_empty() || self.overlong, continued: false, overlong: self.overlong };
        if end.open {
            let line = std::mem::take(&mut self.unfinished);
            let range = self.unfinished_at..self.position;
            self.line(&line, range, self.overlong, sink);
        }
        end.continued = self.continued.is_some();
        self.end_continued(false, sink);
        end
    }

    fn begin(&mut self, first: &[u8], sink: &mut impl Sink) {
        self.begun = true;
        match first.strip_prefix(UTF8_MARK) {
            Some(rest) => {
                self.position = UTF8_MARK.len() as u64;
                self.take_chunk(rest, sink);
            }
            None => self.take_chunk(first, sink),
        }
    }

    fn take_chunk(&mut self, chunk: &[u8], sink: &mut impl Sink) {
        if chunk.is_empty() || sink.is_full() {
            return;
        }
        let base = self.position;
        self.position += chunk.len() as u64;
        let mut at = usize::from(std::mem::take(&mut self.after_cr) && chunk[0] == b'\n');
        let Some(complete) = memchr::memrchr2(b'\n', b'\r', &chunk[at..]).map(|end| at + end + 1) else {
            return self.keep(&chunk[at..], base + at as u64);
        };
        if !self.unfinished.is_empty() || self.overlong {
            // There is a line end, so there is a first one.
            let end = memchr::memchr2(b'\n', b'\r', &chunk[at..]).map_or(complete - 1, |end| at + end);
            self.keep(&chunk[at..end], base + at as u64);
            let line = std::mem::take(&mut self.unfinished);
            let overlong = std::mem::take(&mut self.overlong);
            self.line(&line, self.unfinished_at..base + end as u64, overlong, sink);
            // The room is kept for the next chunk's unfinished line, unless it is far beyond any usual one.
            if line.capacity() <= KEPT_ROOM {
                self.unfinished = line;
                self.unfinished.clear();
            }
            at = after_line_end(chunk, end);
        }
        if at < complete {
            self.take_lines(&chunk[at..complete], base + at as u64, sink);
        }
        self.after_cr = chunk.last() == Some(&b'\r');
        self.keep(&chunk[complete..], base + complete as u64);
    }

    /// Takes whole lines; `text` ends with a line end.
    fn take_lines(&mut self, text: &[u8], position: u64, sink: &mut impl Sink) {
        let mut at = 0;
        while at < text.len() {
            let line = self.lines.saturating_add(1);
            if self.continued.is_none()
                && let Some(end) = sink.plain_line(text, at, line, position + at as u64)
            {
                self.lines = line;
                self.substance = true;
                at = end;
                continue;
            }
            let rest = &text[at..];
            let end = memchr::memchr2(b'\n', b'\r', rest).unwrap_or(rest.len());
            let start = position + at as u64;
            self.line(&rest[..end], start..start + end as u64, false, sink);
            if sink.is_full() {
                return;
            }
            at += after_line_end(rest, end);
        }
    }

    /// Keeps the start of a line for when the rest of it comes.
    fn keep(&mut self, text: &[u8], position: u64) {
        if self.unfinished.is_empty() && !self.overlong {
            self.unfinished_at = position;
        }
        if self.overlong || self.unfinished.len() + text.len() > MAX_LINE_BYTES {
            self.overlong = true;
            self.unfinished = Vec::new();
        } else {
            self.unfinished.extend_from_slice(text);
        }
    }

    /// Takes one line without its end. `overlong` if it has already been dropped.
    fn line<P: Sink>(&mut self, line: &[u8], range: Range<u64>, overlong: bool, sink: &mut P) {
        self.lines = self.lines.saturating_add(1);
        let overlong = overlong || line.len() > MAX_LINE_BYTES;
        self.substance = self.substance || overlong || line.iter().any(|&b| !is_blank(b));
        let in_name = self.continued.as_ref().map_or_else(|| holds_name(line), |continued| continued.in_name);
        let (text, commented) = if overlong { (&[][..], false) } else { without_comment(line, in_name) };
        let carried = match trim(text) {
            [start @ .., b'\\'] if !commented => Some(start),
            _ => None,
        };
        let comment_goes_on = commented && trim(line).ends_with(b"\\");
        match (&mut self.continued, carried) {
            (None, None) => {
                let kind = if overlong { StatementKind::TooLong } else { StatementKind::of(split_keyword(text).0) };
                sink.statement(&Statement { kind, line: self.lines, range, text, comment_goes_on, pieces: &[] });
            }
            (None, Some(start)) => {
                let place = (0, range.start + distance(line, start));
                let pieces = if P::ASKS_PLACES { vec![place] } else { Vec::new() };
                let text = [start, b" "].concat();
                self.continued = Some(Continued { text, pieces, line: self.lines, range, in_name, overlong });
            }
            (Some(continued), _) => {
                let more = carried.unwrap_or(text);
                continued.range.end = range.end;
                continued.overlong |= overlong || continued.text.len() + more.len() > MAX_LINE_BYTES;
                if continued.overlong {
                    continued.text = Vec::new();
                    continued.pieces = Vec::new();
                } else {
                    if P::ASKS_PLACES && !more.is_empty() {
                        continued.pieces.push((continued.text.len(), range.start + distance(line, more)));
                    }
                    continued.text.extend_from_slice(more);
                    continued.text.push(b' ');
                }
                if carried.is_none() {
                    self.end_continued(comment_goes_on, sink);
                }
            }
        }
    }

    fn end_continued(&mut self, comment_goes_on: bool, sink: &mut impl Sink) {
        let Some(Continued { text, pieces, line, range, overlong, .. }) = self.continued.take() else { return };
        let kind = if overlong { StatementKind::TooLong } else { StatementKind::of(split_keyword(&text).0) };
        sink.statement(&Statement { kind, line, range, text: &text, comment_goes_on, pieces: &pieces });
    }
}

/// Bytes from the start of `line` to that of a piece of it.
fn distance(line: &[u8], piece: &[u8]) -> u64 {
    (piece.as_ptr() as usize).saturating_sub(line.as_ptr() as usize) as u64
}

/// The place after the line end at `end`; a CR and the LF after it are one.
fn after_line_end(text: &[u8], end: usize) -> usize {
    match text.get(end..) {
        Some([b'\r', b'\n', ..]) => end + 2,
        Some([_, ..]) => end + 1,
        _ => text.len(),
    }
}

/// What separates words. NUL is no blank by the format; it is where bytes were lost.
pub(super) fn is_blank(byte: u8) -> bool {
    matches!(byte, b' ' | b'\t' | 0x0B | 0x0C | 0)
}

pub(super) fn words(text: &[u8]) -> impl Iterator<Item = &[u8]> {
    text.split(|&byte| is_blank(byte)).filter(|word| !word.is_empty())
}

pub(super) fn trim(text: &[u8]) -> &[u8] {
    let start = text.iter().position(|&b| !is_blank(b)).unwrap_or(text.len());
    let end = text.iter().rposition(|&b| !is_blank(b)).map_or(start, |last| last + 1);
    &text[start..end]
}

/// Keyword and the rest of a statement.
pub(super) fn split_keyword(text: &[u8]) -> (&[u8], &[u8]) {
    let text = trim(text);
    let end = text.iter().position(|&b| is_blank(b)).unwrap_or(text.len());
    text.split_at(end)
}

/// Whether a statement's words are a name, in which a `#` may occur.
fn holds_name(text: &[u8]) -> bool {
    matches!(split_keyword(text).0, b"o" | b"g" | b"usemtl" | b"mtllib")
}

/// Removes a comment. In a name, `#` starts one only between blanks (`wall # inner` but not `wall #2`); elsewhere it
/// always does, except in what some runtimes print for no number (`1.#IND`).
fn without_comment(text: &[u8], in_name: bool) -> (&[u8], bool) {
    for at in memchr::memchr_iter(b'#', text) {
        let before = at.checked_sub(1).map(|i| text[i]);
        let after = text.get(at + 1).copied();
        let starts = match (before, in_name) {
            (None, _) => true,
            (Some(b), true) => is_blank(b) && after.is_none_or(is_blank),
            (Some(b'.'), false) => !after.is_some_and(|b| matches!(b.to_ascii_uppercase(), b'I' | b'N' | b'Q' | b'S')),
            (Some(_), false) => true,
        };
        if starts {
            return (&text[..at], true);
        }
    }
    (text, false)
}
