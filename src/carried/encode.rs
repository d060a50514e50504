//! Encoding, verified: the coarsest steps with which the report on the decoded model equals the report on the file.
//!
//! How fine coordinates must be depends on the model: a thin triangle, a seam that hides behind an edge, a shell very
//! close to another. So the encoder measures what it made and takes the coarsest step with which nothing in the report
//! changes; where there is none, it refuses.

use super::coder::Writer;
use super::connect::{CORNERS_MAX, NONE, Shape};
use super::step::{DIGITS, Step, TIMES};
use super::words::{NAME_BYTES_MAX, NAMES_MAX};
use super::{Given, Parcel, Steps, VERSION, code_model, decode, difference};
use crate::brief::Brief;
use crate::measure::Measures;
use crate::model::{Model, weld};
use crate::report::{File, Report};
use rustc_hash::FxHashSet;

/// The largest coordinate that is encoded: beyond it, 53 bits would leave less than a thousandth of a unit.
const COORDINATE_MAX: f64 = 1e12;
/// The coarsest step that is tried, as a share of the largest coordinate: no measure survives it.
const COARSEST_SHARE: f64 = 1e-3;

/// A model encoded.
#[derive(Clone, Debug, PartialEq)]
pub struct Encoded {
    /// For [`super::wrap`].
    pub model: Vec<u8>,
    /// The steps it took.
    pub steps: Steps,
    /// Largest distance of a coordinate from the file's: model units, uv.
    pub largest_error: [f64; 2],
    /// How often the model was measured for it.
    pub proofs: usize,
}

/// Why a model cannot be carried, in a sentence with advice.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refused(pub String);

impl std::fmt::Display for Refused {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for Refused {}

/// Encodes a model with its file's name and digest, as `report` has them.
///
/// `measures` and `report` must be of this model and brief. Cost: a dozen times measuring.
///
/// # Errors
/// More than a link can hold, coordinates out of range, or no step with which the reports are equal.
pub fn encode(model: &Model, measures: &Measures, report: &Report, brief: &Brief) -> Result<Encoded, Refused> {
    let document = &model.document;
    let lists = [&document.objects, &document.groups, &document.materials, &document.material_libraries];
    if document.corners.len() > CORNERS_MAX
        || [document.positions.len(), document.texcoords.len(), document.normals.len()].iter().any(|n| *n > CORNERS_MAX)
        || lists.iter().any(|list| list.len() > NAMES_MAX)
    {
        return Err(Refused("The model is too large for a link. Send the file.".into()));
    }
    if lists.into_iter().flatten().any(|name| name.len() > NAME_BYTES_MAX) || report.file.name.len() > NAME_BYTES_MAX {
        return Err(Refused(format!("A name is longer than {NAME_BYTES_MAX} bytes. Shorten it, or send the file.")));
    }
    let source = Source::new(model, measures, &report.file);
    let largest = |coordinates: &mut dyn Iterator<Item = f64>| coordinates.fold(0.0f64, |most, x| most.max(x.abs()));
    let most_position = largest(&mut source.positions.iter().flatten().copied());
    let most_uv = largest(&mut source.uvs.iter().flatten().copied());
    if most_position > COORDINATE_MAX || most_uv > COORDINATE_MAX {
        let message = "A coordinate is beyond a million million units, which a link cannot carry exactly enough. Bring the \
                       model nearer to its origin, or send the file.";
        return Err(Refused(message.into()));
    }
    let positions = ladder(&source.positions, most_position);
    let uvs = ladder(&source.uvs, most_uv);
    let mut search = Search { source: &source, report, brief, proofs: 0, best: None, reason: String::new() };
    let (Some(&finest_position), Some(&finest_uv)) = (positions.last(), uvs.last()) else {
        return Err(Refused("Its coordinates are too small or too large for a link. Send the file.".into()));
    };
    if !search.holds(Steps { position: finest_position, uv: finest_uv }) {
        return Err(Refused(format!(
            "The model cannot be carried by a link without changing its report: {}. Send the file.",
            search.reason
        )));
    }
    let uv = search.coarsest(&uvs, |uv| Steps { position: finest_position, uv });
    search.coarsest(&positions, |position| Steps { position, uv });
    let proofs = search.proofs;
    match search.best {
        Some((steps, model)) => Ok(Encoded { model, steps, largest_error: source.largest_error(steps), proofs }),
        None => Err(Refused(search.reason)),
    }
}

/// Steps to try, coarse to fine. The finest gives every coordinate exactly where that is possible.
fn ladder<const N: usize>(coordinates: &[[f64; N]], largest: f64) -> Vec<Step> {
    let fits = |step: &Step| coordinates.iter().flatten().all(|x| step.count(*x).is_some());
    let is_exact = |step: &Step| coordinates.iter().flatten().all(|x| step.count(*x).is_some_and(|n| step.of(n) == *x));
    let whole = DIGITS.map(|digits| Step { times: 1, digits });
    let exact = whole.clone().find(|step| is_exact(step));
    let finest = exact.or_else(|| whole.rev().find(fits));
    let coarsest = largest * COARSEST_SHARE;
    let all = DIGITS.flat_map(|digits| TIMES.map(|times| Step { times, digits }));
    let Some(finest) = finest else { return Vec::new() };
    all.filter(|step| step.size() >= finest.size() && (step.size() <= coarsest || *step == finest)).collect()
}

/// A model in order of first use.
pub(super) struct Source<'a> {
    model: &'a Model,
    file: &'a File,
    shape: Shape,
    /// Of each value.
    positions: Vec<[f64; 3]>,
    uvs: Vec<[f64; 2]>,
    inside_out: Vec<bool>,
    hard_seams: Vec<u32>,
}

/// Numbers in order of first use.
struct Renumbered {
    numbers: Vec<u32>,
    count: u32,
}

impl Renumbered {
    fn new(count: usize) -> Self {
        Self { numbers: vec![NONE; count], count: 0 }
    }

    /// The number, and whether it is new.
    fn of(&mut self, index: usize) -> (u32, bool) {
        let is_new = self.numbers[index] == NONE;
        if is_new {
            self.numbers[index] = self.count;
            self.count += 1;
        }
        (self.numbers[index], is_new)
    }
}

impl<'a> Source<'a> {
    pub(super) fn new(model: &'a Model, measures: &Measures, file: &'a File) -> Self {
        let document = &model.document;
        let mut shape = Shape { starts: document.face_starts.clone(), ..Shape::default() };
        let (mut positions, mut uvs) = (Vec::new(), Vec::new());
        // A link carries the file, with all its numbers.
        let uv_value = weld::values(&document.texcoords).value_of;
        let mut points = [Renumbered::new(document.positions.len()), Renumbered::new(document.texcoords.len())];
        let mut values = [Renumbered::new(document.positions.len()), Renumbered::new(document.texcoords.len())];
        for corner in &document.corners {
            let index = corner.position.0 as usize;
            let (point, is_new) = points[0].of(index);
            if is_new {
                let (value, is_new) = values[0].of(model.position_value[index] as usize);
                shape.position_value.push(value);
                if is_new {
                    positions.push(document.positions[index]);
                }
            }
            shape.positions.push(point);
            let uv = corner.texcoord.map(|id| {
                let (point, is_new) = points[1].of(id.index());
                if is_new {
                    let (value, is_new) = values[1].of(uv_value[id.index()] as usize);
                    shape.uv_value.push(value);
                    if is_new {
                        uvs.push(document.texcoords[id.index()]);
                    }
                }
                point
            });
            shape.uvs.push(uv.unwrap_or(NONE));
        }
        let out = &measures.handedness.inside_out;
        let inside_out = if out.contains(&true) {
            model.face_part.iter().map(|part| out[*part as usize]).collect()
        } else {
            Vec::new()
        };
        let hard = measures.seams.edges.iter().filter(|seam| !seam.soft);
        let hard_seams = hard.map(|seam| model.layout.edges[seam.edge as usize].corner).collect();
        Self { model, file, shape, positions, uvs, inside_out, hard_seams }
    }

    pub(super) fn encoded(&self, steps: Steps) -> Option<Vec<u8>> {
        let given = Given {
            document: Some(&self.model.document),
            file: Some(self.file),
            steps: Some(steps),
            shape: self.shape.clone(),
            positions: distinct(&self.positions, steps.position)?,
            uvs: distinct(&self.uvs, steps.uv)?,
            inside_out: self.inside_out.clone(),
            hard_seams: self.hard_seams.clone(),
        };
        let mut writer = Writer::new();
        code_model(&mut writer, &given).ok()?;
        Some(writer.finish())
    }

    fn largest_error(&self, steps: Steps) -> [f64; 2] {
        fn largest(coordinates: &mut dyn Iterator<Item = f64>, step: Step) -> f64 {
            let error = |x: f64| (step.of(step.count(x).unwrap_or(0)) - x).abs();
            coordinates.fold(0.0, |most, x| most.max(error(x)))
        }
        [
            largest(&mut self.positions.iter().flatten().copied(), steps.position),
            largest(&mut self.uvs.iter().flatten().copied(), steps.uv),
        ]
    }
}

/// In steps; `None` where two that differ would become one, or one is out of range.
fn distinct<const N: usize>(coordinates: &[[f64; N]], step: Step) -> Option<Vec<[i64; N]>> {
    let mut seen = FxHashSet::default();
    coordinates
        .iter()
        .map(|point| {
            let mut counts = [0; N];
            for (count, x) in counts.iter_mut().zip(point) {
                *count = step.count(*x)?;
            }
            seen.insert(counts).then_some(counts)
        })
        .collect()
}

struct Search<'a> {
    source: &'a Source<'a>,
    report: &'a Report,
    brief: &'a Brief,
    proofs: usize,
    /// The last one that passed.
    best: Option<(Steps, Vec<u8>)>,
    /// Why the last one failed.
    reason: String,
}

impl Search<'_> {
    /// Whether what is read back has the same report.
    fn holds(&mut self, steps: Steps) -> bool {
        let Some(model) = self.source.encoded(steps) else {
            self.reason = "coordinates that differ would become equal".into();
            return false;
        };
        self.proofs += 1;
        let parcel = Parcel { version: VERSION, model, review: Vec::new() };
        let carried = match decode(&parcel) {
            Ok(carried) => carried,
            Err(_) => {
                self.reason = "what was written does not read back".into();
                return false;
            }
        };
        let mut model = Model::new(carried.document);
        // A link does not hold them: its maker puts what they decide into the brief.
        model.pictures.clone_from(&self.source.model.pictures);
        let measures = Measures::new(&model, self.brief);
        let report = Report::new(&model, &measures, self.brief, carried.file);
        match difference(self.report, &report) {
            None => self.best = Some((steps, parcel.model)),
            Some(difference) => self.reason = difference,
        }
        self.best.as_ref().is_some_and(|best| best.0 == steps)
    }

    /// By halving: the coarsest step that passes, if all finer ones do. The finest is known to pass.
    fn coarsest(&mut self, ladder: &[Step], steps: impl Fn(Step) -> Steps) -> Step {
        let (mut low, mut high) = (0, ladder.len() - 1);
        while low < high {
            let middle = (low + high) / 2;
            if self.holds(steps(ladder[middle])) {
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        ladder[high]
    }
}
