//! Faces that are not on the sheet, what lies outside its tiles, and how much of it is used.

use super::words::{count_of, it, percent, plural_have, sampled_percent, significant};
use super::{Finding, FindingKind, Judge, Number, Place, Severity, Shell, Words};
use crate::brief::{SheetMap, Tiles};
use crate::measure::flat::triangles::state;
use crate::measure::sheet::outside::{NOTHING_PX, beyond_px};
use crate::model::DiagnosticKind;
use crate::util::isolate::isolated;
use glam::DVec2;

impl Judge<'_> {
    pub(super) fn unmapped(&self, findings: &mut Vec<Finding>) {
        let place = self.place(&|triangle| !self.measures.triangles.is(triangle, state::MAPPED));
        if place.triangles == 0 {
            return;
        }
        let faces = self.model.layout.unmapped_count();
        let all = faces == self.model.document.face_count();
        let share = self.share_of_surface(place.surface);
        let line = place.line(self.model).unwrap_or(0);
        // The faces refer to UVs that do not exist: the file is damaged; the model is not simply without UVs.
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
                    "Project or unwrap the model first, and export it with texture coordinates switched on.".into()
                } else {
                    "Map these faces too; a face counts as mapped only if every corner has a texture coordinate.".into()
                },
                harm: share,
            },
        ));
    }

    /// How far a shell reaches beyond the tiles, px; 0 for one without area on the sheet.
    pub(super) fn outside_px(&self, shell: usize) -> f64 {
        match &self.shells[shell] {
            Shell { uv, sheet, bounds_uv: Some([u0, v0, u1, v1]), .. } if *uv > 0.0 => {
                beyond_px(DVec2::new(*u0, *v0), DVec2::new(*u1, *v1), self.measures.map_of_sheet(*sheet as usize))
            }
            _ => 0.0,
        }
    }

    /// Of each sheet, a finding for shells that are outside by less than the border's padding, and one for those that
    /// are further out.
    fn outside(&self, findings: &mut Vec<Finding>) {
        let beyond: Vec<f64> = (0..self.shells.len()).map(|shell| self.outside_px(shell)).collect();
        let sheets = &self.measures.sheets.list;
        // Measuring seams alone: there are no sheets then.
        if sheets.is_empty() || beyond.iter().all(|&px| px < NOTHING_PX) {
            return;
        }
        let places = self.places(2 * sheets.len(), &|triangle| {
            let px = beyond[self.model.shell_of(triangle)? as usize];
            if px < NOTHING_PX || self.measures.triangles.is(triangle, state::COLLAPSED_UV) {
                return None;
            }
            let sheet = self.sheet_of(triangle);
            let (map, [a, b, c]) = (sheets[sheet].map, self.model.uvs(triangle)?);
            let is_out = beyond_px(a.min(b).min(c), a.max(b).max(c), map) >= NOTHING_PX;
            is_out.then(|| 2 * sheet + usize::from(px < self.brief.padding.border(map)))
        });
        for ((sheet, one), places) in sheets.iter().enumerate().zip(places.chunks(2)) {
            self.outside_of_sheet(sheet, one.map, places, &beyond, findings);
        }
    }

    /// `places`: what is further out than the border's padding, and what is not; `beyond`: how far, px, by shell.
    fn outside_of_sheet(
        &self,
        sheet: usize,
        map: SheetMap,
        places: &[Place],
        beyond: &[f64],
        findings: &mut Vec<Finding>,
    ) {
        let border = self.brief.padding.border(map);
        let px = |value: f64| Number { value, unit: "px", text: format!("{} px", significant(value)) };
        for (place, (severity, limit)) in places.iter().zip([(Severity::MustFix, border), (Severity::Look, NOTHING_PX)])
        {
            if place.triangles == 0 {
                continue;
            }
            let furthest = place.shells.iter().fold(0.0, |most: f64, &shell| most.max(beyond[shell as usize]));
            let one = place.shells.len() == 1;
            let tiles = if map.tiles == Tiles::Udim { "tiles" } else { "tile" };
            let share = percent(self.share_of_surface(place.surface)).text;
            let finding = self.finding(
                FindingKind::Outside,
                place,
                self.place_words(place, &format!("{share} of the surface")),
                Words {
                    severity,
                    title: format!("{} {} outside the {tiles}", self.who(place), if one { "lies" } else { "lie" }),
                    number: px(furthest),
                    limit: Some(Number { text: format!("up to {}", px(limit).text), ..px(limit) }),
                    advice: match severity {
                        Severity::Look => format!(
                            "Move {} into the {tiles} by that much: what is outside has no texture of its own.",
                            it(place)
                        ),
                        _ => format!(
                            "Move or scale {} into the 0 to 1 square, or ask for UDIM tiles in the brief.",
                            it(place)
                        ),
                    },
                    harm: self.share_of_surface(place.surface),
                },
            );
            findings.push(self.on_sheet(sheet, finding));
        }
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
                ["sheet ", &isolated(&one.name)].concat()
            } else {
                "the sheet".to_owned()
            };
            let mut finding = self.finding(
                FindingKind::Coverage,
                &Place::new(),
                "the whole sheet".into(),
                Words {
                    severity: Severity::Look,
                    title: ["Little of ", &which, " is used"].concat(),
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
}
