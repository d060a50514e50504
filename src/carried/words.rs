//! Codes everything but geometry: text, names and where they begin, lines, warnings, the file.
//!
//! Text is coded byte by byte. What followed the last three bytes when they were met before is the guess, and a bit says
//! whether it is right; else the byte goes through a tree that knows the byte before it.

use super::Damage;
use super::coder::{Bit, Coder, Number, unzigzag, zigzag};
use crate::model::{Diagnostic, DiagnosticKind, Diagnostics, Document, Run};
use crate::report::File;

/// Most bytes of one name, of the file's name and of a warning.
pub(super) const NAME_BYTES_MAX: usize = 4096;
/// Most names of one kind, and most bytes of all text.
pub(super) const NAMES_MAX: usize = 1 << 16;
pub(super) const TEXT_BYTES_MAX: usize = 1 << 22;

/// Most warnings of one kind that are counted.
const WARNINGS_MAX: u32 = 1 << 24;

/// Entries of the table of what followed three bytes.
const FOLLOWED: usize = 1 << 12;
/// How many guesses in a row were right, up to this.
const STREAK_MAX: usize = 15;

/// Codes text; all of a model's text shares what was learned.
pub(super) struct Text {
    history: Vec<u8>,
    /// By a hash of three bytes (Fibonacci hashing: Knuth, The Art of Computer Programming 3, 6.4), the place after them, plus one.
    followed: Vec<u32>,
    right: [Bit; STREAK_MAX + 1],
    streak: usize,
    trees: Vec<[Bit; 256]>,
    length: Number,
}

impl Text {
    pub(super) fn new() -> Self {
        Self {
            history: Vec::new(),
            followed: vec![0; FOLLOWED],
            right: [Bit::NEW; STREAK_MAX + 1],
            streak: 0,
            trees: vec![[Bit::NEW; 256]; 256],
            length: Number::NEW,
        }
    }

    /// Bytes, at most `most`.
    pub(super) fn bytes<C: Coder>(&mut self, coder: &mut C, given: &[u8], most: usize) -> Result<Vec<u8>, Damage> {
        let length = coder.number(&mut self.length, given.len() as u64);
        if length > most as u64 || self.history.len() as u64 + length > TEXT_BYTES_MAX as u64 {
            return Err(Damage("a text is longer than any that is made"));
        }
        let start = self.history.len();
        for place in 0..length as usize {
            if coder.is_spent() {
                return Err(Damage::END);
            }
            let byte = self.byte(coder, given.get(place).copied().unwrap_or(0));
            self.history.push(byte);
        }
        Ok(self.history[start..].to_vec())
    }

    fn byte<C: Coder>(&mut self, coder: &mut C, given: u8) -> u8 {
        let here = self.history.len();
        let last = self.history.last().copied().unwrap_or(0);
        let slot = match self.history[..] {
            [.., a, b, c] => {
                let three = u32::from(a) << 16 | u32::from(b) << 8 | u32::from(c);
                Some((three.wrapping_mul(2_654_435_761) >> 20) as usize)
            }
            _ => None,
        };
        if let Some(slot) = slot {
            let met = std::mem::replace(&mut self.followed[slot], here as u32 + 1);
            if let Some(&guess) = met.checked_sub(1).and_then(|place| self.history.get(place as usize)) {
                if coder.bit(&mut self.right[self.streak], given == guess) {
                    self.streak = (self.streak + 1).min(STREAK_MAX);
                    return guess;
                }
                self.streak = 0;
            }
        }
        coder.tree(&mut self.trees[usize::from(last)], u32::from(given)) as u8
    }

    fn string<C: Coder>(&mut self, coder: &mut C, given: &str) -> Result<String, Damage> {
        let bytes = self.bytes(coder, given.as_bytes(), NAME_BYTES_MAX)?;
        String::from_utf8(bytes).map_err(|_| Damage("a name is no text"))
    }
}

/// File name, size, digest.
pub(super) fn code_file<C: Coder>(coder: &mut C, text: &mut Text, given: &File) -> Result<File, Damage> {
    let name = text.string(coder, &given.name)?;
    let mut sizes = Number::NEW;
    let bytes = coder.number(&mut sizes, given.bytes);
    let known =
        given.sha256.len() == 64 && given.sha256.bytes().all(|digit| matches!(digit, b'0'..=b'9' | b'a'..=b'f'));
    let mut sha256 = String::new();
    if coder.plain(1, u64::from(known)) == 1 {
        for place in 0..64 {
            let digit =
                given.sha256.as_bytes().get(place).map_or(0, |digit| char::from(*digit).to_digit(16).unwrap_or(0));
            let digit = coder.plain(4, u64::from(digit)) as u32;
            sha256.extend(char::from_digit(digit, 16));
        }
    }
    Ok(File { name, bytes, sha256 })
}

/// Names, their runs, lines of faces, warnings. `document` already has its faces.
pub(super) fn code_names<C: Coder>(
    coder: &mut C,
    text: &mut Text,
    given: &Document,
    document: &mut Document,
    faces: usize,
) -> Result<(), Damage> {
    let mut counts = Number::NEW;
    document.objects = code_list(coder, text, &mut counts, &given.objects)?;
    document.groups = code_list(coder, text, &mut counts, &given.groups)?;
    document.materials = code_list(coder, text, &mut counts, &given.materials)?;
    document.material_libraries = code_list(coder, text, &mut counts, &given.material_libraries)?;
    document.object_runs = code_runs(coder, &given.object_runs, document.objects.len(), faces)?;
    document.group_runs = code_runs(coder, &given.group_runs, document.groups.len(), faces)?;
    document.material_runs = code_runs(coder, &given.material_runs, document.materials.len(), faces)?;
    let mut lines = Number::NEW;
    let mut line = 0u32;
    for face in 0..faces {
        if coder.is_spent() {
            return Err(Damage::END);
        }
        let step = given.face_lines.get(face).map_or(1, |given| i64::from(*given) - i64::from(line));
        let step = unzigzag(coder.number(&mut lines, zigzag(step - 1))).wrapping_add(1);
        line = u32::try_from(i64::from(line).wrapping_add(step)).map_err(|_| Damage("a line has no number"))?;
        document.face_lines.push(line);
    }
    document.diagnostics = code_warnings(coder, text, &given.diagnostics)?;
    Ok(())
}

fn code_list<C: Coder>(
    coder: &mut C,
    text: &mut Text,
    counts: &mut Number,
    given: &[String],
) -> Result<Vec<String>, Damage> {
    let count = coder.number(counts, given.len() as u64);
    if count > NAMES_MAX as u64 {
        return Err(Damage("it has more names than any that is made"));
    }
    (0..count as usize).map(|place| text.string(coder, given.get(place).map_or("", String::as_str))).collect()
}

/// Runs: how many faces later each begins, and its name, which mostly is the next one.
fn code_runs<C: Coder>(coder: &mut C, given: &[Run], names: usize, faces: usize) -> Result<Vec<Run>, Damage> {
    let (mut counts, mut steps, mut numbers, mut is_next) = (Number::NEW, Number::NEW, Number::NEW, Bit::NEW);
    let count = coder.number(&mut counts, given.len() as u64);
    if count > faces as u64 {
        return Err(Damage("names begin more often than there are faces"));
    }
    let mut runs: Vec<Run> = Vec::new();
    let mut next = 0;
    for place in 0..count as usize {
        let given = given.get(place).copied().unwrap_or(Run { face: 0, name: 0 });
        // The first face at which this one can begin.
        let least = runs.last().map_or(0, |run| u64::from(run.face) + 1);
        let face = coder.number(&mut steps, u64::from(given.face).saturating_sub(least)).saturating_add(least);
        let name = if coder.bit(&mut is_next, given.name == next) {
            u64::from(next)
        } else {
            coder.number(&mut numbers, u64::from(given.name))
        };
        if face >= faces as u64 || name >= names as u64 || coder.is_spent() {
            return Err(Damage("a name begins where there is no face, or is none"));
        }
        next = next.max(name as u32 + 1);
        runs.push(Run { face: face as u32, name: name as u32 });
    }
    Ok(runs)
}

/// How many of each kind; in full the first of each kind, and the line on which the file was cut short.
fn code_warnings<C: Coder>(coder: &mut C, text: &mut Text, given: &Diagnostics) -> Result<Diagnostics, Damage> {
    let mut warnings = Diagnostics::default();
    let mut numbers = Number::NEW;
    for kind in DiagnosticKind::ALL {
        let count = coder.number(&mut numbers, u64::from(given.count(kind).min(WARNINGS_MAX)));
        match u32::try_from(count) {
            Ok(0) => {}
            Ok(count @ 1..=WARNINGS_MAX) => drop(warnings.counts.insert(kind, count)),
            _ => return Err(Damage("it has more warnings than can be counted")),
        }
    }
    let told = told(given);
    let count = coder.number(&mut numbers, told.len() as u64);
    if count > warnings.total().min(crate::model::MAX_KEPT_DIAGNOSTICS as u64) {
        return Err(Damage("it tells more warnings than it has"));
    }
    for place in 0..count as usize {
        let given = told.get(place).copied();
        let kind = coder.number(&mut numbers, given.map_or(0, |given| given.kind as u64));
        let kind = *DiagnosticKind::ALL.get(kind as usize).ok_or(Damage("a warning is of no known kind"))?;
        let line = coder.number(&mut numbers, given.map_or(0, |given| u64::from(given.line)));
        let line = u32::try_from(line).map_err(|_| Damage("a line has no number"))?;
        let message = text.string(coder, given.map_or("", |given| &given.message))?;
        let alike = warnings.kept.iter().filter(|kept| kept.kind == kind).count();
        if alike >= warnings.count(kind) as usize {
            return Err(Damage("it tells more warnings than it has"));
        }
        warnings.kept.push(Diagnostic { line, kind, message });
    }
    Ok(warnings)
}

fn told(given: &Diagnostics) -> Vec<&Diagnostic> {
    let cut = given.kept.iter().find(|warning| warning.kind == DiagnosticKind::CutShort).map(|warning| warning.line);
    let is_first = |place: usize| given.kept[..place].iter().all(|other| other.kind != given.kept[place].kind);
    let told = given.kept.iter().enumerate().filter(|(place, warning)| Some(warning.line) == cut || is_first(*place));
    told.map(|(_, warning)| warning).collect()
}
