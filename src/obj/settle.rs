//! The end of the file: forward references are checked, faces that cannot be drawn are dropped, skipped statements are
//! reported.

use super::elements::{Elements, quoted_bytes};
use super::statement::OTHER_KEYWORDS;
use super::{FailureCode, ReadFailure};
use crate::model::{DiagnosticKind as Kind, Document, Run};

/// A list keeps its spare room if that is at most this fraction of it (one part in so many); giving it back may copy.
const SPARE_ROOM: usize = 8;

/// Statements of the format that do not concern textured faces, and what they are.
const KNOWN: &[(&str, &[&str])] = &[
    ("lines", &["l"]),
    ("points", &["p"]),
    (
        "free-form curves and surfaces",
        &[
            "vp", "deg", "bmat", "step", "cstype", "curv", "curv2", "surf", "parm", "trim", "hole", "scrv", "sp",
            "end", "con",
        ],
    ),
    ("merging groups", &["mg"]),
    (
        "display settings",
        &["bevel", "c_interp", "d_interp", "lod", "usemap", "maplib", "shadow_obj", "trace_obj", "ctech", "stech"],
    ),
    ("superseded patches", &["bsp", "bzp", "cdc", "cdp", "res"]),
];

impl Elements {
    /// The finished document. `last_line` is the line on which the file ends.
    pub fn settle(mut self, last_line: u32) -> Result<Document, ReadFailure> {
        if let Some(failure) = self.failure {
            return Err(failure);
        }
        let document = &self.document;
        let counts = [document.positions.len(), document.texcoords.len(), document.normals.len()];
        if (0..3).any(|i| self.unreadable[i] || self.highest[i] as usize > counts[i]) {
            self.drop_what_leads_nowhere();
        }
        if self.with_texcoords && self.without_texcoords {
            self.tell_unmapped_faces();
        }
        self.tell_passed_over();
        let mut document = self.document;
        document.diagnostics.sort();
        let faces = document.face_count() as u32;
        for runs in [
            &mut document.object_runs,
            &mut document.group_runs,
            &mut document.material_runs,
            &mut document.smoothing_runs,
        ] {
            while runs.pop_if(|run| run.face >= faces).is_some() {}
        }
        if faces == 0 {
            return Err(no_faces(document, self.face_statements, last_line));
        }
        give_back(&mut document.positions);
        give_back(&mut document.texcoords);
        give_back(&mut document.normals);
        give_back(&mut document.corners);
        give_back(&mut document.face_starts);
        give_back(&mut document.face_lines);
        Ok(document)
    }

    /// One pass over all faces, in place: out go those with a position that does not exist or could not be read, and
    /// texture coordinates and normals of that sort.
    fn drop_what_leads_nowhere(&mut self) {
        let document = &mut self.document;
        let faces = document.face_lines.len();
        let (mut kept_faces, mut kept_corners) = (0, 0);
        let mut runs = [
            Renumbering::new(std::mem::take(&mut document.object_runs)),
            Renumbering::new(std::mem::take(&mut document.group_runs)),
            Renumbering::new(std::mem::take(&mut document.material_runs)),
            Renumbering::new(std::mem::take(&mut document.smoothing_runs)),
        ];
        let mut start = 0;
        for face in 0..faces {
            for run in &mut runs {
                run.reach(face as u32, kept_faces as u32);
            }
            let end = document.face_starts[face + 1] as usize;
            let line = document.face_lines[face];
            let bad = (start..end).find_map(|at| {
                let index = document.corners[at].position.0 as usize;
                document.positions.get(index).is_none_or(|p| p[0].is_nan()).then_some((at - start + 1, index))
            });
            if let Some((place, index)) = bad {
                let count = document.positions.len();
                let number = index + 1;
                if index >= count {
                    document.diagnostics.raise(line, Kind::PositionOutOfRange, || {
                        format!(
                            "Corner {place} of this face asks for position {number}, but the file has {count}; the face was \
                             left out. Export the model again."
                        )
                    });
                } else {
                    document.diagnostics.raise(line, Kind::UnreadablePosition, || {
                        format!(
                            "Corner {place} of this face uses position {number}, which could not be read; the face was left \
                             out. Repair that line or export the model again."
                        )
                    });
                }
            } else {
                let (mut lost_texcoord, mut lost_normal) = (None, None);
                for at in start..end {
                    let mut corner = document.corners[at];
                    if let Some(id) = corner.texcoord
                        && document.texcoords.get(id.index()).is_none_or(|t| t[0].is_nan())
                    {
                        corner.texcoord = None;
                        lost_texcoord = lost_texcoord.or(Some((at - start + 1, id.index() + 1)));
                    }
                    if let Some(id) = corner.normal
                        && document.normals.get(id.index()).is_none_or(|n| n[0].is_nan())
                    {
                        corner.normal = None;
                        lost_normal = lost_normal.or(Some((at - start + 1, id.index() + 1)));
                    }
                    document.corners[kept_corners] = corner;
                    kept_corners += 1;
                }
                if let Some((place, number)) = lost_texcoord {
                    let count = document.texcoords.len();
                    document
                        .diagnostics
                        .raise(line, Kind::BadTexcoordIndex, || nowhere(place, "texture coordinate", number, count));
                }
                if let Some((place, number)) = lost_normal {
                    let count = document.normals.len();
                    document.diagnostics.raise(line, Kind::BadNormalIndex, || nowhere(place, "normal", number, count));
                }
                kept_faces += 1;
                document.face_starts[kept_faces] = kept_corners as u32;
                document.face_lines[kept_faces - 1] = line;
            }
            start = end;
        }
        document.corners.truncate(kept_corners);
        document.face_lines.truncate(kept_faces);
        document.face_starts.truncate(kept_faces + 1);
        [document.object_runs, document.group_runs, document.material_runs, document.smoothing_runs] =
            runs.map(|run| run.renumbered);
    }

    fn tell_unmapped_faces(&mut self) {
        let document = &mut self.document;
        let mut unmapped =
            (0..document.face_count()).filter(|&face| document.face(face).iter().all(|c| c.texcoord.is_none()));
        let Some(first) = unmapped.next() else { return };
        let count = 1 + unmapped.count();
        let all = document.face_count();
        if count == all {
            return;
        }
        document.diagnostics.raise(document.face_lines[first], Kind::MixedFaces, || {
            format!(
                "{count} of {all} faces have no texture coordinates while the others have them; this is the first. Unwrap \
                 them, or delete them if they are not meant to be seen."
            )
        });
    }

    fn tell_passed_over(&mut self) {
        // By line, then by word; few enough to be put in order one by one.
        let mut all: Vec<(Vec<u8>, (u32, u64))> = Vec::new();
        for found in std::mem::take(&mut self.passed_over) {
            let place = all.partition_point(|other| (other.1.0, &other.0) < (found.1.0, &found.0));
            all.insert(place, found);
        }
        for (keyword, (line, count)) in all {
            let times = if count == 1 { "once".to_owned() } else { format!("{count} times") };
            let name = quoted_bytes(&keyword);
            let known = KNOWN.iter().find(|(_, words)| words.iter().any(|word| word.as_bytes() == keyword));
            let (kind, message) = match (keyword.as_slice(), known) {
                (b"call" | b"csh", _) => (
                    Kind::NeverRun,
                    format!(
                        "{name} stands here ({times}): it asks to run or fetch something outside this file, which is never done."
                    ),
                ),
                (OTHER_KEYWORDS, _) => (
                    Kind::UnknownStatement,
                    format!("{count} more statements with further unknown keywords were passed over. Is this an OBJ?"),
                ),
                (_, Some((what, _))) => (
                    Kind::PassedOver,
                    format!("{name} ({what}) was passed over {times}; only faces are drawn and measured."),
                ),
                (_, None) => (
                    Kind::UnknownStatement,
                    format!(
                        "{name} is no statement of the format and was passed over {times}; nothing else is affected."
                    ),
                ),
            };
            self.document.diagnostics.raise(line, kind, || message);
        }
    }
}

fn nowhere(place: usize, what: &str, number: usize, count: usize) -> String {
    let why = if number > count { format!("the file has {count}") } else { "it could not be read".to_owned() };
    format!(
        "Corner {place} of this face asks for {what} {number}, but {why}, so the corner has none. Export the model again."
    )
}

fn give_back<T>(list: &mut Vec<T>) {
    if list.capacity() - list.len() > list.len() / SPARE_ROOM {
        list.shrink_to_fit();
    }
}

fn no_faces(document: Document, face_statements: u32, last_line: u32) -> ReadFailure {
    let counted = |count: usize, one: &str| format!("{count} {one}{}", if count == 1 { "" } else { "s" });
    let (positions, texcoords) = (document.positions.len(), document.texcoords.len());
    let found = format!("{} and {}", counted(positions, "position"), counted(texcoords, "texture coordinate"));
    let message = if face_statements > 0 {
        let first =
            document.diagnostics.kept.iter().find(|d| d.kind.is_about_a_face()).or(document.diagnostics.kept.first());
        let first = first.map_or(String::new(), |d| format!(" The first reason is on line {}: {}", d.line, d.message));
        let none = match face_statements {
            1 => "The only face cannot be drawn".to_owned(),
            many => format!("None of the {many} faces can be drawn"),
        };
        format!("{none} (found {found}).{first}")
    } else if document.diagnostics.count(Kind::PassedOver) > 0 {
        format!(
            "There are no faces (f) in this file (found {found}, and statements that are not faces, such as lines or points). \
             Export the surface as polygons."
        )
    } else {
        format!(
            "There are no faces (f) in this file of {} (found {found}). Make sure that it is an OBJ, that it is complete, and \
             that the surface was exported with its polygons.",
            counted(last_line as usize, "line")
        )
    };
    let line = document.diagnostics.kept.iter().find(|d| d.kind.is_about_a_face()).map_or(0, |d| d.line);
    ReadFailure { diagnostics: document.diagnostics, ..ReadFailure::new(FailureCode::NoFaces, line, message) }
}

/// Runs whose faces move up as others are dropped.
struct Renumbering {
    old: std::vec::IntoIter<Run>,
    renumbered: Vec<Run>,
}

impl Renumbering {
    fn new(runs: Vec<Run>) -> Self {
        Self { old: runs.into_iter(), renumbered: Vec::new() }
    }

    /// The run that starts at `face`, if any, starts at `new_face`.
    fn reach(&mut self, face: u32, new_face: u32) {
        if self.old.as_slice().first().is_none_or(|run| run.face != face) {
            return;
        }
        let Some(run) = self.old.next() else { return };
        if self.renumbered.last().is_some_and(|last| last.face == new_face) {
            self.renumbered.pop();
        }
        if self.renumbered.last().is_none_or(|last| last.name != run.name) {
            self.renumbered.push(Run { face: new_face, name: run.name });
        }
    }
}
