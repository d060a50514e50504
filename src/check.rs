//! The entry point for whole files: read, measure, judge.

use crate::brief::Brief;
use crate::measure::{Measures, Stage};
use crate::model::{Document, Model};
use crate::obj::{ReadFailure, Reader};
use crate::report::{File, Report};
use sha2::{Digest as _, Sha256};
use std::io::Read;

/// How far a check has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Progress {
    /// Bytes read so far.
    Read {
        /// Since the beginning.
        bytes: u64,
    },
    /// Faces are being joined into shells and parts.
    Model,
    /// A stage of measuring begins.
    Measure {
        /// Which.
        stage: Stage,
    },
}

/// Why there is no report.
#[derive(Debug)]
pub enum CheckError {
    /// The bytes could not be read.
    Io(std::io::Error),
    /// They contain nothing that can be measured.
    Unreadable(ReadFailure),
}

impl std::fmt::Display for CheckError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            CheckError::Io(error) => write!(f, "{error}"),
            CheckError::Unreadable(failure) => f.write_str(&failure.message),
        }
    }
}

impl std::error::Error for CheckError {}

/// Bytes asked for at once: large enough that calls cost nothing, small beside any model.
const CHUNK_BYTES: usize = 1 << 18;

/// Reads an OBJ to its end and reports on it. `total_bytes` only helps to plan memory.
///
/// ```
/// let square = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0.1 0.1\nvt 0.9 0.1\nvt 0.9 0.9\nvt 0.1 0.9\nf 1/1 2/2 3/3 4/4\n";
/// let brief = gridproof::brief::Brief::default();
/// let report = gridproof::check(&mut square.as_bytes(), "square.obj", None, &brief, &mut |_| ())?;
/// assert_eq!(report.verdict.text(), "ready");
/// assert_eq!(report.density.mean_px_per_unit, Some(0.8 * 2048.0));
/// # Ok::<(), gridproof::CheckError>(())
/// ```
pub fn check(
    source: &mut dyn Read,
    name: &str,
    total_bytes: Option<u64>,
    brief: &Brief,
    progress: &mut dyn FnMut(Progress),
) -> Result<Report, CheckError> {
    examine(source, name, total_bytes, brief, progress).map(|examined| examined.report)
}

/// A report with what it was made from: what pictures need.
#[derive(Clone, Debug)]
pub struct Examined {
    /// The mesh.
    pub model: Model,
    /// Everything that was measured.
    pub measures: Measures,
    /// What it means.
    pub report: Report,
}

/// As [`check`], and keeps model and measures.
///
/// # Errors
/// As [`check`].
pub fn examine(
    source: &mut dyn Read,
    name: &str,
    total_bytes: Option<u64>,
    brief: &Brief,
    progress: &mut dyn FnMut(Progress),
) -> Result<Examined, CheckError> {
    examine_with(source, name, total_bytes, brief, &mut |_| Vec::new(), progress)
}

/// As [`examine`]; `pictures` gives those of the materials, see [`Model::pictures`].
///
/// # Errors
/// As [`check`].
pub fn examine_with(
    source: &mut dyn Read,
    name: &str,
    total_bytes: Option<u64>,
    brief: &Brief,
    pictures: &mut dyn FnMut(&Document) -> Vec<Option<String>>,
    progress: &mut dyn FnMut(Progress),
) -> Result<Examined, CheckError> {
    let mut reader = Reader::new(total_bytes);
    let mut digest = Sha256::new();
    let mut chunk = vec![0; CHUNK_BYTES];
    let mut bytes = 0;
    loop {
        let length = match source.read(&mut chunk) {
            Ok(0) => break,
            Ok(length) => length,
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(CheckError::Io(error)),
        };
        digest.update(&chunk[..length]);
        reader.feed(&chunk[..length]).map_err(CheckError::Unreadable)?;
        bytes += length as u64;
        progress(Progress::Read { bytes });
    }
    let document = reader.finish().map_err(CheckError::Unreadable)?;
    progress(Progress::Model);
    let mut model = Model::new(document);
    model.pictures = pictures(&model.document);
    let measures = Measures::told(&model, brief, &mut |stage| progress(Progress::Measure { stage }));
    let file = File { name: name.to_owned(), bytes, sha256: hexadecimal(&digest.finalize()) };
    let report = Report::new(&model, &measures, brief, file);
    Ok(Examined { model, measures, report })
}

/// Lower-case hexadecimal digits.
pub fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}
