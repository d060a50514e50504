//! What the workers call, one [`Session`] a model, and the few grid functions that the page calls itself. Bytes go in,
//! typed arrays and plain objects come out.
//!
//! Large arrays are written straight into JavaScript's memory, a slice at a time, so that the peak of the module's own
//! stays with the model and its measures.

mod brief;
mod buffers;
#[cfg(feature = "pictures")]
mod carry;
#[cfg(feature = "pictures")]
mod compare;
mod grid;
mod layout;
mod lens;
mod link;
#[cfg(feature = "pictures")]
mod pictures;
mod probe;
mod review;
mod row_picture;
mod sheets;

pub use brief::brief_trouble;
#[cfg(feature = "pictures")]
pub use carry::{carried_link, model_in_link};

use crate::brief::Brief;
use crate::findings::{Names, part_label, shell_label};
use crate::lens::Lens;
use crate::lens::histogram::Histogram;
use crate::measure::{Measures, Stage};
use crate::model::{Change, Document, History, Layout, Model};
use crate::obj::{FailureCode, ReadFailure, Reader};
use crate::report::{File, Report};
use crate::review::{Followed, Said};
use glam::DVec3;
use probe::Prober;
use serde::Serialize;
use sha2::{Digest as _, Sha256};
use std::sync::Arc;
use tsify::Tsify;
use wasm_bindgen::prelude::*;

/// What [`Session::report_in_short`] adds to a report.
#[wasm_bindgen(typescript_custom_section)]
const REPORT_IN_SHORT: &str = r"
/** A report without its rows of shells, shares and warnings. */
export interface ReportInShort extends Report {
    /** Of the shells of each finding. */
    names: string[][];
    /** Low and high corner of the model's box. */
    bounds: [[number, number, number], [number, number, number]] | null;
}
";

/// One model, from its first byte to its report.
#[wasm_bindgen]
pub struct Session {
    brief: Brief,
    state: State,
    file: File,
    measures: Measures,
    /// Which stages the next report waits for.
    pending: [bool; Stage::ALL.len()],
    review: review::Given,
    /// What it became for the last report, where that was of another layout.
    followed: Option<Followed>,
    said: Said,
    report: Option<Report>,
    /// Which layout the model has: one more with each step.
    revision: u32,
    history: History,
    /// Former layouts by their revisions.
    recent: Vec<(u32, Arc<Layout>)>,
    /// What the last step changed.
    change: Change,
    /// The one that is shown, by its place in the report's list.
    sheet: usize,
}

enum State {
    Reading(Box<Reader>),
    Read(Box<Loaded>),
    Spent,
}

struct Loaded {
    model: Model,
    centre: DVec3,
    radius: f64,
    /// Of the triangles on the sheet and of the model.
    areas: [f64; 2],
    prober: Option<Prober>,
}

impl Loaded {
    fn new(document: Document) -> Self {
        let model = Model::new(document);
        let (low, high) = model.bounds().unwrap_or((DVec3::ZERO, DVec3::ZERO));
        let centre = (low + high) / 2.0;
        let radius = (high - low).length() / 2.0;
        let areas = buffers::areas(&model);
        Self { model, centre, radius, areas, prober: None }
    }
}

#[wasm_bindgen]
impl Session {
    /// `brief` is a plain object with the brief's keys; `{}` takes every default. Fails on keys and values a brief cannot have.
    #[wasm_bindgen(constructor)]
    pub fn new(
        total_bytes: f64,
        #[wasm_bindgen(unchecked_param_type = "Brief")] brief: JsValue,
    ) -> Result<Session, JsError> {
        Ok(Session {
            brief: brief::brief(brief).map_err(|refused| JsError::new(&refused))?,
            state: State::Reading(Box::new(Reader::new(Some(total_bytes as u64)))),
            file: File::default(),
            measures: Measures::default(),
            pending: [true; Stage::ALL.len()],
            review: review::Given::default(),
            followed: None,
            said: Said::default(),
            report: None,
            revision: 0,
            history: History::default(),
            recent: Vec::new(),
            change: Change::Nothing,
            sheet: 0,
        })
    }

    /// The next bytes of the file.
    pub fn feed(&mut self, chunk: &[u8]) -> Result<(), JsValue> {
        match &mut self.state {
            State::Reading(reader) => reader.feed(chunk).map_err(failure),
            _ => Err(JsError::new("The file was already read to its end.").into()),
        }
    }

    /// The end of the file: resolves the model.
    pub fn finish(&mut self) -> Result<(), JsValue> {
        let reader = match std::mem::replace(&mut self.state, State::Spent) {
            State::Reading(reader) => reader,
            before => {
                self.state = before;
                return Err(JsError::new("The file was already read to its end.").into());
            }
        };
        self.state = State::Read(Box::new(Loaded::new(reader.finish().map_err(failure)?)));
        Ok(())
    }

    /// Name, bytes and sha256 of the file, as [`Session::set_file`] or a link gave them.
    #[wasm_bindgen(unchecked_return_type = "AboutFile")]
    pub fn file(&self) -> Result<JsValue, JsError> {
        to_js(&self.file)
    }

    /// Name, size and digest of the file, for the report.
    pub fn set_file(&mut self, name: String, bytes: f64, sha256: String) {
        self.file = File { name, bytes: bytes as u64, sha256 };
        if let Some(report) = &mut self.report {
            report.file = self.file.clone();
        }
    }

    /// Counts, names and warnings, before anything is measured; among the names those of materials in the order that
    /// [`Session::mesh`] counts them, and of the libraries that hold them.
    #[wasm_bindgen(unchecked_return_type = "Summary")]
    pub fn summary(&self) -> Result<JsValue, JsError> {
        let document = &self.loaded()?.model.document;
        let diagnostics = self.loaded()?.model.diagnostics();
        let (low, high) = self.loaded()?.model.bounds().unwrap_or_default();
        to_js(&Summary {
            counts: SummaryCounts {
                positions: document.positions.len(),
                texcoords: document.texcoords.len(),
                normals: document.normals.len(),
                faces: document.face_count(),
                triangles: self.loaded()?.model.triangle_count(),
                objects: document.objects.len(),
                groups: document.groups.len(),
                materials: document.materials.len(),
                faces_without_uv: self.loaded()?.model.layout.unmapped_count(),
                shells: self.loaded()?.model.layout.shell_count,
            },
            warnings: &diagnostics.kept,
            warning_counts: &diagnostics.counts,
            bounds: [low.to_array(), high.to_array()],
            names: Names::new(&self.loaded()?.model).all(),
            materials: &document.materials,
            libraries: &document.material_libraries,
        })
    }

    /// Positions, uvs and normals of all triangles, ready for the graphics card, and where materials begin among them.
    #[wasm_bindgen(unchecked_return_type = "MeshBuffers")]
    pub fn mesh(&self) -> Result<js_sys::Object, JsError> {
        let loaded = self.loaded()?;
        Ok(buffers::mesh(&loaded.model, loaded.centre, loaded.radius))
    }

    /// Shell borders on the sheet and edges on the stage, and the seams' visibility once that is measured.
    #[wasm_bindgen(unchecked_return_type = "LineBuffers")]
    pub fn lines(&self) -> Result<js_sys::Object, JsError> {
        let loaded = self.loaded()?;
        Ok(buffers::lines(&loaded.model, &self.measures, loaded.areas, loaded.centre, self.sheet))
    }

    /// What the lenses show of each triangle, as far as it is measured.
    pub fn triangles(&self) -> Result<js_sys::Uint32Array, JsError> {
        Ok(buffers::texels(&self.loaded()?.model, &self.measures, &self.brief, self.sheet))
    }

    /// How much of the surface is of which kind, as far as it is measured.
    #[wasm_bindgen(unchecked_return_type = "Areas")]
    pub fn areas(&self) -> Result<JsValue, JsError> {
        to_js(&buffers::areas_by_kind(&self.loaded()?.model, &self.measures, &self.brief))
    }

    /// Name of stage `stage`, from 0; nothing after the last.
    pub fn stage_name(stage: usize) -> Option<String> {
        Stage::ALL.get(stage).map(|stage| stage.title().to_owned())
    }

    /// Whether stage `stage` changes what the lenses show of triangles (bit 0) and of lines (bit 1).
    pub fn stage_shows(stage: usize) -> u32 {
        Stage::ALL.get(stage).map_or(0, |stage| {
            let [triangles, lines] = stage.shows();
            u32::from(triangles) | u32::from(lines) << 1
        })
    }

    /// Takes stage `stage`; gives the name of the next one, or nothing after the last.
    pub fn measure(&mut self, stage: usize) -> Result<Option<String>, JsError> {
        let State::Read(loaded) = &self.state else {
            return Err(JsError::new("Nothing has been read yet."));
        };
        if let Some(&current) = Stage::ALL.get(stage) {
            self.measures.take(current, &loaded.model, &self.brief);
            self.pending[stage] = false;
        }
        Ok(Self::stage_name(stage + 1))
    }

    /// Sets another brief, passed as to the constructor. Gives the numbers of the stages to take again, in order,
    /// before the next report; none where the brief only judges differently. A brief that is refused changes nothing.
    pub fn set_brief(
        &mut self,
        #[wasm_bindgen(unchecked_param_type = "Brief")] brief: JsValue,
    ) -> Result<Vec<u32>, JsError> {
        let brief = brief::brief(brief).map_err(|refused| JsError::new(&refused))?;
        if let State::Read(loaded) = &self.state {
            let stale = self.measures.rebrief(&loaded.model, &self.brief, &brief);
            Stage::ALL.iter().zip(&mut self.pending).for_each(|(stage, pending)| *pending |= stale.contains(stage));
        }
        self.brief = brief;
        Ok((0..).zip(self.pending).filter(|(_, pending)| *pending).map(|(number, _)| number).collect())
    }

    /// The report, `gridproof-report/2`, as the command prints it.
    #[wasm_bindgen(unchecked_return_type = "Report")]
    pub fn report(&mut self) -> Result<JsValue, JsError> {
        let loaded = self.loaded()?;
        let mut report = Report::new(&loaded.model, &self.measures, &self.brief, self.file.clone());
        report.decide(self.review_for(&report));
        let value = to_js(&report)?;
        self.report = Some(report);
        Ok(value)
    }

    /// The report without its rows of shells, shares and warnings, for tables of many models; with what two versions are
    /// matched by besides: `names` of the shells of each finding, and `bounds`, the corners of the model's box.
    #[wasm_bindgen(unchecked_return_type = "ReportInShort")]
    pub fn report_in_short(&mut self) -> Result<JsValue, JsError> {
        let mut report = Report::new(&self.loaded()?.model, &self.measures, &self.brief, self.file.clone());
        report.decide(self.review.read());
        let names = js_sys::Array::new();
        for finding in &report.findings {
            let shells = finding.shells.iter().filter_map(|&shell| report.shells.get(shell as usize));
            let mut of_finding: Vec<&str> = shells.filter_map(part_label).collect();
            // Only neighbours are compared: matching makes a set of them.
            of_finding.dedup();
            names.push(&of_finding.into_iter().map(JsValue::from_str).collect::<js_sys::Array>());
        }
        let bounds = self.loaded()?.model.bounds().map(|(low, high)| [low.to_array(), high.to_array()]);
        (report.shells, report.sharing, report.equal_shells, report.warnings) = Default::default();
        let value = to_js(&report)?;
        // Setting a key of a fresh plain object cannot fail.
        let _ = js_sys::Reflect::set(&value, &"names".into(), &names);
        let _ = js_sys::Reflect::set(&value, &"bounds".into(), &to_js(&bounds)?);
        Ok(value)
    }

    /// Label of each shell.
    #[wasm_bindgen(unchecked_return_type = "string[]")]
    pub fn shells(&self) -> Result<js_sys::Array, JsError> {
        let report = self.report.as_ref().ok_or_else(|| JsError::new("There is no report yet."))?;
        Ok(report.shells.iter().map(|shell| JsValue::from_str(&shell_label(shell))).collect())
    }

    /// Area-weighted histogram of a lens's value; nothing for lenses without one and before it is measured.
    #[wasm_bindgen(unchecked_return_type = "Histogram | undefined")]
    pub fn histogram(&self, lens: &str) -> Result<JsValue, JsError> {
        let model = &self.loaded()?.model;
        match Lens::named(lens).and_then(|lens| Histogram::new(model, &self.measures, &self.brief, lens)) {
            Some(histogram) => to_js(&histogram),
            None => Ok(JsValue::UNDEFINED),
        }
    }

    /// The first hit of the ray (relative to the mesh's centre).
    #[allow(clippy::too_many_arguments)]
    #[wasm_bindgen(unchecked_return_type = "Probe | undefined")]
    pub fn probe_ray(&mut self, ox: f64, oy: f64, oz: f64, dx: f64, dy: f64, dz: f64) -> Result<JsValue, JsError> {
        let (origin, direction) = (DVec3::new(ox, oy, oz), DVec3::new(dx, dy, dz));
        self.probe(|loaded, prober, _| Some(prober.ray(&loaded.model, origin + loaded.centre, direction)?.1))
    }

    /// What lies at a place on the sheet that is shown; the first shell where several do.
    #[wasm_bindgen(unchecked_return_type = "Probe | undefined")]
    pub fn probe_uv(&mut self, u: f64, v: f64) -> Result<JsValue, JsError> {
        let shown = self.sheet;
        self.probe(|loaded, prober, measures| {
            let is_shown = |triangle| measures.sheets.of_face(loaded.model.face_of(triangle)) == shown;
            prober.uv(&loaded.model, glam::DVec2::new(u, v), is_shown)
        })
    }

    fn probe(&mut self, find: impl Fn(&Loaded, &Prober, &Measures) -> Option<probe::Hit>) -> Result<JsValue, JsError> {
        let Some(hit) = self.probing(find).flatten() else { return Ok(JsValue::UNDEFINED) };
        let loaded = self.loaded()?;
        let context = probe::Context {
            model: &loaded.model,
            measures: &self.measures,
            names: &Names::new(&loaded.model),
            report: self.report.as_ref(),
            centre: loaded.centre,
        };
        to_js(&probe::describe(&context, hit))
    }

    /// `None` before anything is read.
    fn probing<T>(&mut self, ask: impl FnOnce(&Loaded, &Prober, &Measures) -> T) -> Option<T> {
        let State::Read(loaded) = &mut self.state else { return None };
        let prober = loaded.prober.take().unwrap_or_else(|| Prober::new(&loaded.model));
        let answer = ask(loaded, &prober, &self.measures);
        loaded.prober = Some(prober);
        Some(answer)
    }

    fn loaded(&self) -> Result<&Loaded, JsError> {
        match &self.state {
            State::Read(loaded) => Ok(loaded),
            _ => Err(JsError::new("Nothing has been read yet.")),
        }
    }
}

/// SHA-256 by pieces, where the browser offers none (pages that are not served securely).
#[wasm_bindgen]
#[derive(Default)]
pub struct Digest {
    state: Sha256,
}

#[wasm_bindgen]
impl Digest {
    /// Of nothing yet.
    #[wasm_bindgen(constructor)]
    pub fn new() -> Self {
        Self::default()
    }
    /// The next bytes.
    pub fn update(&mut self, chunk: &[u8]) {
        self.state.update(chunk);
    }
    /// Lower-case hexadecimal digits.
    pub fn finish(self) -> String {
        crate::hexadecimal(&self.state.finalize())
    }
}

#[derive(Serialize, Tsify)]
struct Summary<'a> {
    counts: SummaryCounts,
    warnings: &'a [crate::model::Diagnostic],
    #[tsify(type = "Partial<Record<DiagnosticKind, number>>")]
    warning_counts: &'a std::collections::BTreeMap<crate::model::DiagnosticKind, u32>,
    bounds: [[f64; 3]; 2],
    names: Vec<&'a str>,
    materials: &'a [String],
    libraries: &'a [String],
}

#[derive(Serialize, Tsify)]
struct SummaryCounts {
    positions: usize,
    texcoords: usize,
    normals: usize,
    faces: usize,
    triangles: usize,
    objects: usize,
    groups: usize,
    materials: usize,
    faces_without_uv: usize,
    shells: u32,
}

fn to_js(value: &impl Serialize) -> Result<JsValue, JsError> {
    value
        .serialize(&serde_wasm_bindgen::Serializer::json_compatible())
        .map_err(|error| JsError::new(&error.to_string()))
}

/// A reader's failure as a plain object.
#[derive(Serialize, Tsify)]
#[tsify(rename = "ReadFailure")]
struct Failure {
    code: FailureCode,
    line: u32,
    message: String,
    warnings: Vec<crate::model::Diagnostic>,
}

fn failure(failure: ReadFailure) -> JsValue {
    let ReadFailure { code, line, message, diagnostics } = failure;
    to_js(&Failure { code, line, message, warnings: diagnostics.kept }).unwrap_or_else(JsValue::from)
}
