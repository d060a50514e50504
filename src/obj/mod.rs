//! Wavefront OBJ: a streaming reader that continues after errors and reports their lines.
//!
//! Every quirk of the format is handled here. The result is a [`Document`](crate::model::Document): elements, faces,
//! names, counts and [`Diagnostics`](crate::model::Diagnostics), each with its line.
//!
//! Source: Wavefront Technologies, *B1. Object Files (.obj)*, version 3.0, and beyond it what exporters are known to write
//! (vertex colours, byte-order marks, any line end, any spelling of a number).
//!
//! [`Reader`] takes the file in chunks cut anywhere and holds no more of its text than one unfinished line. Lines as
//! exporters write them take a fast path (`plain`); a line with anything unusual takes the full parser (`statement`),
//! which knows the whole format and explains errors. Both give the same elements. What can only be judged when
//! everything has been read, such as an index that refers ahead, is checked at the end (`settle`).
//!
//! Cost: linear in bytes, whatever they are; names cost a search in a sorted map.
//!
//! Coordinates beyond 1e30 give a file warning.

mod elements;
mod failure;
mod index;
mod number;
mod plain;
mod reader;
mod scan;
mod settle;
mod sniff;
mod statement;
pub mod write;

pub use failure::{FailureCode, ReadFailure};
pub use reader::{Reader, read};
pub use scan::{End, MAX_LINE_BYTES, Scanner, Sink, Statement, StatementKind};
