//! Which sheets are assumed: the evidence if it is only an overlap, and unknown names in the brief.

use super::text_safety::names_told;
use super::words::{count_number, percent};
use super::{Finding, FindingKind, Judge, Place, Severity, Words};
use crate::findings::Names;
use crate::util::isolate::isolated;

impl Judge<'_> {
    pub(super) fn sheets(&self, findings: &mut Vec<Finding>) {
        self.lying_on_one_another(findings);
        self.unknown_materials(findings);
    }

    fn lying_on_one_another(&self, findings: &mut Vec<Finding>) {
        let Some(evidence) = &self.measures.sheets.evidence else { return };
        let materials = &self.model.document.materials;
        let of = |face: usize| self.model.document.names_of(face)[2].unwrap_or_default();
        let names = evidence.materials.map(|material| materials.get(material as usize).map_or("", String::as_str));
        let is_of_them = |triangle| names.contains(&of(self.model.face_of(triangle)));
        let place = self.place(&|triangle| self.model.shell_of(triangle).is_some() && is_of_them(triangle));
        let [a, b] = names.map(|name| if name.is_empty() { "none".into() } else { isolated(name) });
        let finding = self.finding(
            FindingKind::Sheets,
            &place,
            "taken as one sheet each".into(),
            Words {
                severity: Severity::Look,
                title: ["Materials ", &a, " and ", &b, " lie on one another"].concat(),
                number: percent(evidence.share),
                limit: None,
                advice: "Each material was taken as a texture set of its own. If that is right, set sheets to by-material in the \
                         brief. If they have one texture in common, set it to one: the overlap is then judged."
                    .into(),
                harm: 0.0,
            },
        );
        findings.push(Finding { id: FindingKind::Sheets.code().into(), ..finding });
    }

    /// Names in groups of the brief that the file does not have.
    fn unknown_materials(&self, findings: &mut Vec<Finding>) {
        let unknown = &self.measures.sheets.unknown;
        if unknown.is_empty() {
            return;
        }
        let advice = match names_told(&Names::new(self.model)) {
            None => "The file names no materials, so all is on one sheet.".to_owned(),
            Some(known) => ["Correct the names in the brief. The file has ", &known, "."].concat(),
        };
        let names: Vec<_> = unknown.iter().map(|name| isolated(name)).collect();
        let finding = self.finding(
            FindingKind::Sheets,
            &Place::new(),
            "the brief, sheets".into(),
            Words {
                severity: Severity::Info,
                title: ["No material is called ", &names.join(" or ")].concat(),
                number: count_number(unknown.len(), "name"),
                limit: None,
                advice,
                harm: 0.0,
            },
        );
        findings.push(Finding { id: "sheets-names".into(), ..finding });
    }
}
