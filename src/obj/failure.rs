//! Why a file gives no document.

use crate::model::Diagnostics;
use std::fmt;

/// Stable codes of failures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum FailureCode {
    /// Text in UTF-16; OBJ is ASCII or UTF-8.
    Utf16,
    /// Not text.
    Binary,
    /// Text in another format.
    LooksLikeOtherText,
    /// No bytes, or nothing but blanks.
    Empty,
    /// Nothing that can be drawn.
    NoFaces,
    /// More elements than 32-bit indices can count.
    TooLarge,
}

/// The file holds nothing that can be used: why, where, and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReadFailure {
    /// Stable code.
    pub code: FailureCode,
    /// Line, from 1; 0 where it is about the whole file.
    pub line: u32,
    /// Sentences for the user.
    pub message: String,
    /// What was found on the way: for [`FailureCode::NoFaces`], why each face was left out.
    pub diagnostics: Diagnostics,
}

impl ReadFailure {
    pub(super) fn new(code: FailureCode, line: u32, message: impl Into<String>) -> Self {
        Self { code, line, message: message.into(), diagnostics: Diagnostics::default() }
    }
}

impl fmt::Display for ReadFailure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            0 => f.write_str(&self.message),
            line => write!(f, "line {line}: {}", self.message),
        }
    }
}

impl std::error::Error for ReadFailure {}
