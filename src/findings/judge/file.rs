//! Losses of the file itself: its end, or faces that could not be read. Only a part of the model is measured then, so
//! it is not ready without a look.

use super::words::count_number;
use super::{Finding, FindingKind, Judge, Place, Severity, Words};
use crate::model::{Diagnostic, DiagnosticKind};

/// Findings about missing parts come after measured ones of the same severity: how much is missing is not known.
const HARM_UNKNOWN: f64 = 0.0;

/// Diagnostics that drop a whole statement: mostly faces, and lines that are too long.
fn loses_a_statement(kind: DiagnosticKind) -> bool {
    kind.is_about_a_face() || kind == DiagnosticKind::LineTooLong
}

impl Judge<'_> {
    pub(super) fn file(&self, findings: &mut Vec<Finding>) {
        let diagnostics = &self.model.document.diagnostics;
        let cut = diagnostics.kept.iter().find(|diagnostic| diagnostic.kind == DiagnosticKind::CutShort);
        if let Some(&Diagnostic { line, .. }) = cut {
            findings.push(self.of_the_file(
                FindingKind::CutShort,
                line,
                format!("the file's end, line {line}"),
                Words {
                    severity: Severity::Look,
                    title: "The file ends in the middle of a statement".into(),
                    number: count_number(1, "statement"),
                    limit: None,
                    advice: "It was cut short while it was written, copied or fetched, and more may be missing. Export or \
                             copy it again."
                        .into(),
                    harm: HARM_UNKNOWN,
                },
            ));
        }
        let all: u32 =
            diagnostics.counts.iter().filter(|(kind, _)| loses_a_statement(**kind)).map(|(_, count)| count).sum();
        let kept = || diagnostics.kept.iter().filter(|diagnostic| loses_a_statement(diagnostic.kind));
        // What the cut broke is reported by the finding above.
        let broken_by_cut = kept().filter(|diagnostic| cut.is_some_and(|cut| cut.line == diagnostic.line)).count();
        let left_out = all as usize - broken_by_cut;
        if let (1.., Some(&Diagnostic { line, .. })) = (left_out, kept().next()) {
            findings.push(self.of_the_file(
                FindingKind::LeftOut,
                line,
                format!("the first on line {line}"),
                Words {
                    severity: Severity::Look,
                    title: "Statements of the file were left out".into(),
                    number: count_number(left_out, "statement"),
                    limit: None,
                    advice: "What they describe, faces mostly, is missing from the model and from every number here; the warnings \
                             say what is wrong with each. Export the model again."
                        .into(),
                    harm: HARM_UNKNOWN,
                },
            ));
        }
    }

    fn of_the_file(&self, kind: FindingKind, line: u32, place: String, words: Words) -> Finding {
        Finding { line: Some(line), ..self.finding(kind, &Place::new(), place, words) }
    }
}
