//! Stands where the core will: the same names and signatures, so that the command can be built and tested before it.
//! Reads only which statements there are and whether faces are mapped.

use std::collections::BTreeMap;
use std::io::{self, Read};

use gridproof::brief::Brief;
use gridproof::obj::Diagnostics;
use serde::Serialize;
use sha2::{Digest as _, Sha256};

/// How far a check has come.
#[derive(Clone, Copy)]
pub enum Progress {
    /// Bytes read so far.
    Read {
        /// Since the beginning.
        bytes: u64,
    },
    /// Faces are being joined.
    Model,
    /// Now measuring.
    Measure {
        /// What.
        stage: Stage,
    },
}

/// What is measured.
#[derive(Clone, Copy)]
pub struct Stage;

impl Stage {
    /// For people.
    pub fn title(self) -> &'static str {
        "Measuring"
    }
}

/// Stable codes.
#[derive(Clone, Copy, Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum FailureCode {
    /// Not text.
    Binary,
    /// Nothing that can be drawn.
    NoFaces,
}

/// Why nothing could be read.
#[derive(Debug)]
pub struct ReadFailure {
    /// Stable.
    pub code: FailureCode,
    /// From 1; 0 where it is about the whole file.
    pub line: u32,
    /// One sentence.
    pub message: String,
    /// What was found on the way.
    pub diagnostics: Diagnostics,
}

/// Why there is no report.
pub enum CheckError {
    /// The bytes could not be had.
    Io(io::Error),
    /// They hold nothing that can be measured.
    Unreadable(ReadFailure),
}

/// Whether the model can be painted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum Verdict {
    /// No stop, no look.
    #[serde(rename = "ready")]
    Ready,
    /// A look.
    #[serde(rename = "look")]
    Look,
    /// A stop.
    #[serde(rename = "not ready")]
    NotReady,
}

/// The file that was read.
#[derive(Debug, Serialize)]
pub struct File {
    /// As given.
    pub name: String,
    /// Size.
    pub bytes: u64,
    /// Of the bytes.
    pub sha256: String,
}

/// The report.
#[derive(Debug, Serialize)]
pub struct Report {
    /// `gridproof-report/1`.
    pub schema: &'static str,
    /// The file.
    pub file: File,
    /// Counts.
    pub counts: BTreeMap<&'static str, u64>,
    /// Verdict.
    pub verdict: Verdict,
}

/// Version of the report's shape.
pub const SCHEMA: &str = "gridproof-report/1";

/// Reads and measures.
pub fn check(
    reader: &mut dyn Read,
    name: &str,
    _total_bytes: Option<u64>,
    _brief: &Brief,
    progress: &mut dyn FnMut(Progress),
) -> Result<Report, CheckError> {
    let fail = |code, message: &str| {
        let diagnostics = Diagnostics::default();
        CheckError::Unreadable(ReadFailure { code, line: 0, message: message.to_owned(), diagnostics })
    };
    let (mut hash, mut bytes, mut line) = (Sha256::new(), 0, Vec::new());
    let (mut positions, mut texcoords, mut faces, mut unmapped) = (0, 0, 0, 0);
    let mut end_line = |line: &mut Vec<u8>| {
        match line.as_slice() {
            [b'v', b' ', ..] => positions += 1,
            [b'v', b't', ..] => texcoords += 1,
            [b'f', b' ', ..] => {
                faces += 1;
                unmapped += u64::from(!line.contains(&b'/'));
            }
            _ => {}
        }
        line.clear();
    };
    let mut chunk = vec![0; 1 << 16];
    loop {
        let n = match reader.read(&mut chunk) {
            Ok(0) => break,
            Ok(n) => n,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(CheckError::Io(error)),
        };
        bytes += n as u64;
        hash.update(&chunk[..n]);
        for &byte in &chunk[..n] {
            match byte {
                0 => return Err(fail(FailureCode::Binary, "this is a binary file, not the text of an OBJ")),
                b'\n' => end_line(&mut line),
                _ => line.push(byte),
            }
        }
        progress(Progress::Read { bytes });
    }
    end_line(&mut line);
    progress(Progress::Model);
    progress(Progress::Measure { stage: Stage });
    if faces == 0 {
        return Err(fail(FailureCode::NoFaces, "it holds no faces"));
    }
    let sha256 = hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect();
    let verdict = match unmapped {
        0 => Verdict::Ready,
        n if n == faces => Verdict::NotReady,
        _ => Verdict::Look,
    };
    Ok(Report {
        schema: SCHEMA,
        file: File { name: name.into(), bytes, sha256 },
        counts: [("positions", positions), ("texcoords", texcoords), ("faces", faces), ("faces_without_uv", unmapped)]
            .into(),
        verdict,
    })
}

/// The report for people.
pub fn text(report: &Report) -> String {
    let verdict = match report.verdict {
        Verdict::Ready => "ready",
        Verdict::Look => "look",
        Verdict::NotReady => "not ready",
    };
    let counts = report.counts.iter().map(|(name, count)| format!("{count:>9}  {name}\n")).collect::<String>();
    format!("{}: {verdict}\n{counts}", report.file.name)
}

/// The grid.
pub mod grid {
    use std::io;

    /// The usual cell, px.
    pub const DEFAULT_CELL_PX: u32 = 64;

    /// The person's own words.
    pub struct Words {
        /// Text.
        pub text: String,
        /// px to the em.
        pub size_px: f32,
    }

    /// What to draw.
    pub struct GridOptions {
        /// px.
        pub map_width_px: u32,
        /// px.
        pub map_height_px: u32,
        /// px.
        pub cell_px: u32,
        /// Or none.
        pub words: Option<Words>,
    }

    /// The picture.
    pub fn png(options: &GridOptions) -> Result<Vec<u8>, String> {
        let GridOptions { map_width_px: width, map_height_px: height, cell_px: cell, words } = options;
        let sizes = [*width, *height, *cell];
        if sizes.contains(&0) || sizes.iter().any(|size| *size > 8192) {
            return Err(format!("A grid of {width} x {height} px with cells of {cell} px cannot be drawn."));
        }
        let words = words.as_ref().filter(|words| !words.text.is_empty()).map_or(0, |words| words.size_px as u32);
        let sheet = image::RgbImage::from_fn(*width, *height, |x, y| {
            let ink = x % cell == 0 || y % cell == 0 || y < words;
            image::Rgb(if ink { [47, 93, 115] } else { [251, 247, 236] })
        });
        let mut bytes = Vec::new();
        sheet.write_to(&mut io::Cursor::new(&mut bytes), image::ImageFormat::Png).map_err(|error| error.to_string())?;
        Ok(bytes)
    }
}
