//! Writes the same file with other texture coordinates: only the bytes of numbers of `vt` and of indices to them
//! change, and lines are added where corners split.
//!
//! * A `vt` all of whose corners get the same is rewritten in place; a number of it that stays, and its third, keep
//!   their spelling.
//! * A `vt` that is also used by corners that keep it, by `l`, `surf`, or by faces that the reader left out keeps its value, and so
//!   does one whose corners get different ones. What its corners get is a new line, one for each [`NewTexcoord`].
//! * New lines follow the last `vt`, if no face that needs them comes earlier; otherwise they precede that face. They
//!   never follow a line that ends in a backslash, which others would take for its continuation.
//! * Where there are new lines, whatever names a `vt` behind them, or counts back over them, is renumbered to name what it
//!   named, valid or not, absolute or relative as it was.
//!
//! Nothing is held for each statement: the source is streamed once, or up to three times where something is edited (who else
//! uses a `vt`, where new lines go, writing).
//!
//! Cost: linear in bytes. Memory: a number for each `vt` and for each corner, and the longest statement.
//!
//! So a document stores nothing for each statement either; a face is identified by the line on which it begins.

mod edits;
mod place;
mod splice;
mod uses;

pub use edits::{Edits, MAX_DECIMALS, NewTexcoord, decimals};

use super::elements::MOST_ELEMENTS;
use super::scan::{Scanner, Sink, Statement, StatementKind};
use crate::model::Document;
use edits::Value;
use place::Place;
use sha2::{Digest as _, Sha256};
use splice::Splice;
use std::collections::BTreeMap;
use uses::Uses;

/// Stable codes of failures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum WriteFailureCode {
    /// The source is not the file that was read.
    Changed,
    /// `call` or `csh` may name texture coordinates elsewhere, by numbers that would change.
    ReachesOutside,
    /// A line too long to be held may name what is edited.
    LineTooLong,
    /// More texture coordinates than can be counted.
    TooMany,
}

/// Why nothing may be saved, and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WriteFailure {
    /// Stable code.
    pub code: WriteFailureCode,
    /// Sentences for the user.
    pub message: String,
}

impl WriteFailure {
    fn new(code: WriteFailureCode, message: impl Into<String>) -> Self {
        Self { code, message: message.into() }
    }

    fn changed() -> Self {
        Self::new(
            WriteFailureCode::Changed,
            "The file is not the one that was opened: it was changed or replaced since. Nothing was saved. Open it again.",
        )
    }
}

impl std::fmt::Display for WriteFailure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for WriteFailure {}

/// What [`Writer::end`] needs next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[must_use]
pub enum Next {
    /// The same bytes once more, from their start.
    Again,
    /// Nothing: all is written.
    Done,
}

/// The current face and `vt` of a walk over the statements.
#[derive(Default)]
struct Walk {
    /// `vt` so far.
    texcoords: u32,
    /// Faces of the document so far.
    faces: usize,
}

impl Walk {
    /// The statement is this `vt`, from 0.
    fn texcoord(&mut self, statement: &Statement<'_>) -> Option<usize> {
        if statement.kind != StatementKind::Texcoord {
            return None;
        }
        self.texcoords = self.texcoords.saturating_add(1);
        Some(self.texcoords as usize - 1)
    }

    /// The statement is this face of the document; no two begin on one line.
    fn face(&mut self, statement: &Statement<'_>, document: &Document) -> Option<usize> {
        let is_next = statement.kind == StatementKind::Face
            && document.face_lines.get(self.faces).is_some_and(|&line| line == statement.line);
        self.faces += usize::from(is_next);
        is_next.then(|| self.faces - 1)
    }

    fn is_of(&self, document: &Document) -> bool {
        self.texcoords as usize == document.texcoords.len() && self.faces == document.face_count()
    }
}

/// The second part of a corner, where it has one.
fn texcoord_part(word: &[u8]) -> Option<(&[u8], usize)> {
    let start = memchr::memchr(b'/', word)? + 1;
    let end = memchr::memchr(b'/', &word[start..]).map_or(word.len(), |end| start + end);
    Some((&word[start..end], start))
}

/// The words of a statement that may name a `vt`: of `surf` not the four numbers before its points.
fn corners_of<'a>(statement: &Statement<'a>) -> impl Iterator<Item = (&'a [u8], u64)> + use<'a> {
    const RANGE_OF_SURFACE: usize = 4;
    statement.words().skip(if statement.kind == StatementKind::Surface { RANGE_OF_SURFACE } else { 0 })
}

enum Pass<'a> {
    Uses(Uses<'a>),
    Place(Place<'a>),
    Splice(Splice<'a>),
    Ended,
}

impl Sink for Pass<'_> {
    fn statement(&mut self, statement: &Statement<'_>) {
        match self {
            Pass::Uses(pass) => pass.statement(statement),
            Pass::Place(pass) => pass.statement(statement),
            Pass::Splice(pass) => pass.statement(statement),
            Pass::Ended => {}
        }
    }
}

/// The edits once all uses are known.
pub(super) struct Plan<'a> {
    document: &'a Document,
    edits: &'a Edits,
    /// Of each `vt` of the file.
    fates: Vec<Fate>,
    /// Of each new texture coordinate: which of the new lines it is.
    line_of: Vec<Option<u32>>,
    /// The new lines.
    lines: Vec<NewLine>,
    /// The first face that needs a new line.
    first_face: usize,
    /// Spelling of the `vt` that are copied.
    spellings: BTreeMap<usize, [Vec<u8>; 2]>,
    /// Where the new lines go: a place in the file, and how many `vt` are before it.
    place: (u64, u32),
}

/// What happens to a `vt`.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Fate {
    /// No corner uses it.
    Unused,
    /// Unchanged: others use it, or its corners get different ones.
    Stays,
    /// All its corners get this.
    Moves(u32),
}

struct NewLine {
    value: u32,
    /// The `vt` that its first corner had, whose third number it takes over.
    instead_of: Option<usize>,
    third: Option<Vec<u8>>,
}

impl<'a> Plan<'a> {
    /// Nothing is edited.
    fn unchanged(document: &'a Document, edits: &'a Edits) -> Self {
        Self {
            document,
            edits,
            fates: Vec::new(),
            line_of: Vec::new(),
            lines: Vec::new(),
            first_face: 0,
            spellings: BTreeMap::new(),
            place: (0, 0),
        }
    }

    /// `kept`: which `vt` others than the document's corners use.
    fn new(
        document: &'a Document,
        edits: &'a Edits,
        kept: &[bool],
        spellings: BTreeMap<usize, [Vec<u8>; 2]>,
    ) -> Result<Self, WriteFailure> {
        let mut fates = vec![Fate::Unused; document.texcoords.len()];
        for (corner, new) in edits.corners() {
            let Some(id) = document.corners[corner].texcoord else { continue };
            let fate = &mut fates[id.index()];
            let wanted = new.map_or(Fate::Stays, Fate::Moves);
            *fate = match *fate {
                Fate::Unused => wanted,
                same if same == wanted => same,
                _ => Fate::Stays,
            };
        }
        for (texcoord, fate) in fates.iter_mut().enumerate().filter(|(texcoord, _)| kept[*texcoord]) {
            // If all its corners get its own value, nothing changes.
            let is_own =
                |value: u32| matches!(edits.values()[value as usize], Value::Same(id) if id.index() == texcoord);
            *fate = match *fate {
                Fate::Moves(value) if is_own(value) => Fate::Moves(value),
                _ => Fate::Stays,
            };
        }
        let line_of = vec![None; edits.values().len()];
        let mut plan = Self { fates, line_of, spellings, ..Self::unchanged(document, edits) };
        for (corner, new) in edits.corners() {
            let Some(value) = new.filter(|&value| !plan.is_in_place(corner, value)) else { continue };
            if plan.lines.is_empty() {
                plan.first_face = document.face_starts.partition_point(|&start| start as usize <= corner) - 1;
            }
            if plan.line_of[value as usize].is_none() {
                plan.line_of[value as usize] = Some(plan.lines.len() as u32);
                let instead_of = document.corners[corner].texcoord.map(|id| id.index());
                plan.lines.push(NewLine { value, instead_of, third: None });
            }
        }
        if document.texcoords.len() + plan.lines.len() > MOST_ELEMENTS as usize {
            return Err(WriteFailure::new(
                WriteFailureCode::TooMany,
                "The file would have more texture coordinates (vt) than can be counted. Nothing was saved. Split the model into \
                 several files.",
            ));
        }
        Ok(plan)
    }

    /// Whether a corner needs no other index for `value`.
    fn is_in_place(&self, corner: usize, value: u32) -> bool {
        self.document.corners[corner].texcoord.is_some_and(|id| self.fates[id.index()] == Fate::Moves(value))
    }
}

/// Writes a model's file again, from the same bytes in chunks cut anywhere.
///
/// ```
/// use gridproof::obj::{read, write::{Edits, Next, Writer}};
/// let file = b"v 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0 # left\nvt 1 0\nvt 0 1\nf 1/1 2/2 3/3\n";
/// let document = read(file)?;
/// let mut edits = Edits::new(&document);
/// let new = edits.texcoord([0.25, 0.0], 6).unwrap();
/// edits.set(&document, 0, new);
/// let (mut writer, mut written) = (Writer::new(&document, &edits, None), Vec::new());
/// loop {
///     for chunk in file.chunks(10) {
///         writer.feed(chunk, &mut written);
///     }
///     if writer.end(&mut written)? == Next::Done {
///         break;
///     }
/// }
/// assert!(written.starts_with(b"v 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0.250000 0 # left\nvt 1 0\n"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub struct Writer<'a> {
    scanner: Scanner,
    pass: Pass<'a>,
    /// Of the file that was read, if it is known.
    sha256: Option<[u8; 32]>,
    hash: Sha256,
}

impl<'a> Writer<'a> {
    /// For the file that `document` was read from, with its digest where that is known.
    pub fn new(document: &'a Document, edits: &'a Edits, sha256: Option<[u8; 32]>) -> Self {
        let pass = if edits.is_empty() {
            Pass::Splice(Splice::new(Plan::unchanged(document, edits)))
        } else {
            Pass::Uses(Uses::new(document, edits))
        };
        Self { scanner: Scanner::default(), pass, sha256, hash: Sha256::new() }
    }

    /// Takes the next bytes of the source; what is ready is added to `out`.
    pub fn feed(&mut self, chunk: &[u8], out: &mut Vec<u8>) {
        if let Pass::Splice(splice) = &mut self.pass {
            splice.take(chunk);
            if self.sha256.is_some() {
                self.hash.update(chunk);
            }
        }
        self.scanner.feed(chunk, &mut self.pass);
        if let Pass::Splice(splice) = &mut self.pass {
            splice.give(self.scanner.has_given_up(), out);
        }
    }

    /// To be called at the source's end.
    ///
    /// # Errors
    /// Nothing that was written may be used.
    pub fn end(&mut self, out: &mut Vec<u8>) -> Result<Next, WriteFailure> {
        std::mem::take(&mut self.scanner).finish(&mut self.pass);
        let next = match std::mem::replace(&mut self.pass, Pass::Ended) {
            Pass::Ended => return Ok(Next::Done),
            Pass::Uses(uses) => {
                let plan = uses.plan()?;
                if plan.lines.is_empty() { Pass::Splice(Splice::new(plan)) } else { Pass::Place(Place::new(plan)) }
            }
            Pass::Place(place) => Pass::Splice(Splice::new(place.plan()?)),
            Pass::Splice(splice) => {
                let hash = std::mem::take(&mut self.hash).finalize();
                if self.sha256.is_some_and(|sha256| sha256[..] != hash[..]) {
                    return Err(WriteFailure::changed());
                }
                splice.end(out)?;
                return Ok(Next::Done);
            }
        };
        self.pass = next;
        Ok(Next::Again)
    }
}

/// Writes a whole file.
///
/// # Errors
/// [`WriteFailureCode`].
pub fn write(source: &[u8], document: &Document, edits: &Edits) -> Result<Vec<u8>, WriteFailure> {
    let mut writer = Writer::new(document, edits, None);
    let mut out = Vec::with_capacity(source.len());
    loop {
        writer.feed(source, &mut out);
        if writer.end(&mut out)? == Next::Done {
            return Ok(out);
        }
    }
}
