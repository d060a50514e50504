//! Shared by several tests: models written as text, reports of them, and data from elsewhere.
#![allow(clippy::unwrap_used)]
#![allow(dead_code)]

use gridproof::brief::{Brief, SheetsAsked};
use gridproof::measure::Measures;
use gridproof::model::Model;
use gridproof::report::Report;
use std::fmt::Write as _;

mod outside;
pub use outside::{outside, outside_files, outside_meshes};

/// Report on OBJ text.
pub fn report(text: &str) -> Report {
    report_with(text, &Brief::default())
}

/// Report on OBJ text under a brief.
pub fn report_with(text: &str, brief: &Brief) -> Report {
    gridproof::check(&mut text.as_bytes(), "test.obj", None, brief, &mut |_| ()).expect("the text is a readable OBJ")
}

/// The default brief with one sheet for all materials, as other programs measure it.
pub fn one_sheet() -> Brief {
    let mut brief = Brief::default();
    brief.map.sheets = SheetsAsked::One;
    brief
}

/// Model and measures of OBJ text.
pub fn measured(text: &str, brief: &Brief) -> (Model, Measures) {
    let model = Model::new(gridproof::obj::read(text.as_bytes()).expect("the text is a readable OBJ"));
    let measures = Measures::new(&model, brief);
    (model, measures)
}

/// OBJ text under construction: every corner has its own position and uv number.
#[derive(Clone, Debug, Default)]
pub struct Sketch {
    pub positions: Vec<[f64; 3]>,
    pub uvs: Vec<[f64; 2]>,
    /// Faces as (position, uv) from 0.
    pub faces: Vec<Vec<(usize, usize)>>,
}

impl Sketch {
    /// A face whose corners are new.
    pub fn face(&mut self, corners: &[([f64; 3], [f64; 2])]) {
        let (p, q) = (self.positions.len(), self.uvs.len());
        self.positions.extend(corners.iter().map(|corner| corner.0));
        self.uvs.extend(corners.iter().map(|corner| corner.1));
        self.faces.push((0..corners.len()).map(|i| (p + i, q + i)).collect());
    }

    /// As OBJ; numbers are written so that they read back exactly.
    pub fn text(&self) -> String {
        let mut text = String::new();
        for [x, y, z] in &self.positions {
            writeln!(text, "v {x:?} {y:?} {z:?}").unwrap();
        }
        for [u, v] in &self.uvs {
            writeln!(text, "vt {u:?} {v:?}").unwrap();
        }
        for face in &self.faces {
            text.push('f');
            for (p, q) in face {
                write!(text, " {}/{}", p + 1, q + 1).unwrap();
            }
            text.push('\n');
        }
        text
    }
}

/// |a - b| <= tolerance * |b|, or both nearly 0.
pub fn close(a: f64, b: f64, tolerance: f64) -> bool {
    (a - b).abs() <= tolerance * b.abs().max(1e-9)
}
