//! Faces that are not on the sheet, what lies outside its tiles, and how much of it is used.

use super::words::{count_of, percent, plural_have, sampled_percent};
use super::{Finding, FindingKind, Judge, Number, Place, Severity, Words};
use crate::isolate::isolated;
use crate::measure::triangles::state;
use crate::obj::DiagnosticKind;

/// UV area outside the tile up to this share of all is rounding of the file's decimals, not a place to fix.
const OUTSIDE_TOLERANCE: f64 = 1e-6;
/// A corner this far outside the tile counts as outside, uv: a hundredth of a pixel at 2048.
const OUTSIDE_CORNER_UV: f64 = 5e-6;

impl Judge<'_> {
    pub(super) fn unmapped(&self, findings: &mut Vec<Finding>) {
        let mut place = Place::new();
        for triangle in 0..self.model.triangle_count() {
            if !self.measures.triangles.is(triangle, state::MAPPED) {
                place.add(self.model, self.measures, triangle);
            }
        }
        if place.triangles == 0 {
            return;
        }
        let faces = self.model.face_has_uv.iter().filter(|has| !**has).count();
        let all = faces == self.model.face_has_uv.len();
        let share = self.share_of_surface(place.surface);
        let line = place.line(self.model).unwrap_or(0);
        // The faces ask for UVs, and those cannot be had: what is wrong is the file, not that nobody unfolded the model.
        let diagnostics = &self.model.document.diagnostics;
        let refused = diagnostics.count(DiagnosticKind::BadTexcoordIndex) as usize;
        let first_refused =
            diagnostics.kept.iter().find(|d| d.kind == DiagnosticKind::BadTexcoordIndex).map(|d| d.line);
        findings.push(self.finding(
            FindingKind::Unmapped,
            &place,
            if let Some(line) = first_refused {
                format!(
                    "{}, {refused} of them with UVs that lead nowhere, the first on line {line}",
                    count_of(faces, "face")
                )
            } else if all {
                "the whole model".into()
            } else {
                format!("{}, the first on line {line}", count_of(faces, "face"))
            },
            Words {
                severity: Severity::MustFix,
                title: if all && refused > 0 {
                    "The faces ask for UVs the file does not have".into()
                } else if all {
                    "The model has no UVs".into()
                } else {
                    format!("{} no UVs", plural_have(faces, "face"))
                },
                number: percent(share),
                limit: None,
                advice: if refused > 0 {
                    "These faces name texture coordinates that are missing from the file or cannot be read: it is damaged, or \
                     was edited by hand. Export it again."
                        .into()
                } else if all {
                    "Project or unfold the model first, and export it with texture coordinates switched on.".into()
                } else {
                    "Map these faces too; a face counts as mapped only if every corner has a texture coordinate.".into()
                },
                harm: share,
            },
        ));
    }

    pub(super) fn sheet(&self, findings: &mut Vec<Finding>) {
        if !self.brief.map.tiles.is_layout() {
            return;
        }
        self.outside(findings);
        let min_share = self.brief.coverage.min_share;
        for (number, one) in self.measures.sheets.list.iter().enumerate() {
            let (sheet, _) = self.measures.of_sheet(number);
            if sheet.uv_area <= 0.0 || sheet.coverage >= min_share {
                continue;
            }
            let which = if self.measures.sheets.are_several() {
                format!("sheet {}", isolated(&one.name))
            } else {
                "the sheet".to_owned()
            };
            let mut finding = self.finding(
                FindingKind::Coverage,
                &Place::new(),
                "the whole sheet".into(),
                Words {
                    severity: Severity::Look,
                    title: format!("Little of {which} is used"),
                    number: sampled_percent(sheet.coverage, sheet.sampling_errors.map(|errors| errors.coverage)),
                    limit: Some(Number { text: format!("at least {}", percent(min_share).text), ..percent(min_share) }),
                    advice: "Lay the shells out closer and larger; empty texture is resolution nobody sees.".into(),
                    harm: min_share - sheet.coverage,
                },
            );
            finding.region_uv = Some([0.0, 0.0, 1.0, 1.0]);
            findings.push(self.on_sheet(number, finding));
        }
    }

    fn outside(&self, findings: &mut Vec<Finding>) {
        let udim = self.brief.map.tiles == crate::brief::Tiles::Udim;
        let (u_end, v_end) = if udim { (10.0, f64::INFINITY) } else { (1.0, 1.0) };
        let beyond = |value: f64, end: f64| value < -OUTSIDE_CORNER_UV || value > end + OUTSIDE_CORNER_UV;
        let shares: Vec<Option<f64>> = (0..self.measures.sheets.list.len())
            .map(|sheet| self.measures.of_sheet(sheet).0.outside_share.filter(|share| *share > OUTSIDE_TOLERANCE))
            .collect();
        let mut places = vec![Place::new(); shares.len()];
        for triangle in 0..self.model.triangle_count() {
            let uvs = self.model.uvs(triangle);
            if uvs.is_some_and(|uvs| uvs.iter().any(|uv| beyond(uv.x, u_end) || beyond(uv.y, v_end))) {
                places[self.sheet_of(triangle)].add(self.model, self.measures, triangle);
            }
        }
        for (sheet, (share, place)) in shares.iter().zip(&places).enumerate() {
            let Some(outside) = *share else { continue };
            let finding = self.finding(
                FindingKind::Outside,
                place,
                self.place_words(place, "outside"),
                Words {
                    severity: Severity::MustFix,
                    title: if udim { "UVs lie outside the tiles".into() } else { "UVs lie outside the tile".into() },
                    number: percent(outside),
                    limit: None,
                    advice: "Move or scale these shells into the 0 to 1 square, or ask for UDIM tiles in the brief."
                        .into(),
                    harm: outside,
                },
            );
            findings.push(self.on_sheet(sheet, finding));
        }
    }
}
