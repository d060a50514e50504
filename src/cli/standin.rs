//! Stands where the core will: the same signatures, so that the command can be built and tested before it. Reads only
//! which statements there are and whether faces are mapped; replaced by `gridproof::check`, `findings` and `grid::png`.

use std::collections::BTreeMap;
use std::io::{self, Read};

use gridproof::brief::Brief;
use serde::Serialize;
use sha2::{Digest as _, Sha256};

/// How far a check has come.
pub enum Progress {
    /// Bytes read so far.
    Read {
        /// Since the beginning.
        bytes: u64,
    },
    /// Now measuring.
    Measure {
        /// What.
        stage: &'static str,
    },
}

/// Why nothing could be read.
#[derive(Debug, Serialize)]
pub struct ReadFailure {
    /// Stable.
    pub code: &'static str,
    /// From 1; 0 where it is about the whole file.
    pub line: u32,
    /// One sentence.
    pub message: String,
}

/// Whether the model can be painted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum Verdict {
    /// No stop, no look.
    #[serde(rename = "ready")]
    Ready,
    /// A stop.
    #[serde(rename = "not ready")]
    NotReady,
}

/// The file that was read.
#[derive(Debug, Serialize)]
pub struct FileInfo {
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
    pub file: FileInfo,
    /// Counts.
    pub counts: BTreeMap<&'static str, u64>,
    /// Verdict.
    pub verdict: Verdict,
}

/// Reads and measures.
pub fn check(
    reader: &mut dyn Read,
    name: &str,
    _total_bytes: Option<u64>,
    _brief: &Brief,
    progress: &mut dyn FnMut(Progress),
) -> Result<Report, ReadFailure> {
    let fail = |code, message: String| ReadFailure { code, line: 0, message };
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
            Err(error) => return Err(fail("io", format!("it could not be read: {error}"))),
        };
        bytes += n as u64;
        hash.update(&chunk[..n]);
        for &byte in &chunk[..n] {
            match byte {
                0 => return Err(fail("binary", "this is a binary file, not the text of an OBJ".into())),
                b'\n' => end_line(&mut line),
                _ => line.push(byte),
            }
        }
        progress(Progress::Read { bytes });
    }
    end_line(&mut line);
    progress(Progress::Measure { stage: "sheet" });
    if faces == 0 {
        return Err(fail("no-faces", "it holds no faces".into()));
    }
    let sha256 = hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect();
    Ok(Report {
        schema: "gridproof-report/1",
        file: FileInfo { name: name.into(), bytes, sha256 },
        counts: [("positions", positions), ("texcoords", texcoords), ("faces", faces), ("faces_without_uv", unmapped)]
            .into(),
        verdict: if unmapped == 0 { Verdict::Ready } else { Verdict::NotReady },
    })
}

/// The report for people.
pub fn text(report: &Report) -> String {
    let verdict = if report.verdict == Verdict::Ready { "ready" } else { "not ready" };
    let counts = report.counts.iter().map(|(name, count)| format!("{count:>9}  {name}\n")).collect::<String>();
    format!("{}: {verdict}\n{counts}", report.file.name)
}

/// The grid.
pub fn png(width: u32, height: u32, cell_px: u32, _words: &str) -> Result<Vec<u8>, String> {
    let sheet = image::RgbImage::from_fn(width, height, |x, y| {
        image::Rgb(if x % cell_px == 0 || y % cell_px == 0 { [47, 93, 115] } else { [251, 247, 236] })
    });
    let mut bytes = Vec::new();
    sheet
        .write_to(&mut io::Cursor::new(&mut bytes), image::ImageFormat::Png)
        .map_err(|error| format!("the picture could not be made: {error}"))?;
    Ok(bytes)
}
