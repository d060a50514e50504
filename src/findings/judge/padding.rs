//! Shells too near to one another, to their tile's border, or over it. Connected gaps are one finding: those whose
//! shells belong to the same things.

use super::sharing::subjects_words;
use super::words::{count_of, significant};
use super::{Finding, FindingKind, Judge, Number, Place, Severity, Subject, Words};
use crate::measure::sheet::outside::NOTHING_PX;
use crate::measure::sheet::padding::{Gap, Limits};
use crate::util::packed;

/// Shells whose numbers are listed.
const SHELLS_NAMED: usize = 8;

impl Judge<'_> {
    pub(super) fn padding(&self, findings: &mut Vec<Finding>) {
        if !self.brief.map.tiles.is_layout() {
            return;
        }
        for (sheet, one) in self.measures.sheets.list.iter().enumerate() {
            let gaps = self.measures.padding.gaps.iter().filter(|gap| gap.sheet as usize == sheet);
            let (between, mut border): (Vec<&Gap>, Vec<&Gap>) = gaps.partition(|gap| gap.b.is_some());
            // What is outside has its own finding.
            border.retain(|gap| self.outside_px(gap.a as usize) < NOTHING_PX);
            let limits = Limits::new(self.brief, one.map);
            for gaps in self.hanging_together(&between) {
                let asked = self.brief.padding.between_px.is_some();
                let finding = self.too_near(FindingKind::Padding, &gaps, limits.between, asked);
                findings.push(self.on_sheet(sheet, finding));
            }
            if !border.is_empty() {
                let asked = self.brief.padding.border_px.is_some();
                let finding = self.too_near(FindingKind::Border, &border, limits.border, asked);
                findings.push(self.on_sheet(sheet, finding));
            }
        }
        self.across(findings);
    }

    /// `gaps`: at least one, worst first.
    fn too_near(&self, kind: FindingKind, gaps: &[&Gap], limit: f64, asked: bool) -> Finding {
        let worst = gaps[0];
        let at_worst = self.place_of(&[worst]);
        let place = self.place_of(gaps);
        let shells: Vec<usize> = place.shells.iter().map(|&shell| shell as usize).collect();
        let surface = shells.iter().map(|&shell| self.shells[shell].surface).sum();
        let who = self.who(&place);
        let is_border = kind == FindingKind::Border;
        let lie = if shells.len() == 1 { "lies" } else { "lie" };
        let mixes = match worst.mip_level() {
            None => "already at full size".to_owned(),
            Some(level) => format!("from mip level {} on", level + 1),
        };
        let advice = if is_border {
            format!(
                "Move {} inwards by {} px: {mixes} the colour runs over the border into what lies beyond it.",
                if shells.len() == 1 { "it" } else { "them" },
                significant(limit - worst.px)
            )
        } else {
            format!(
                "Move them apart by {} px: {mixes} their colours run into each other.",
                significant(limit - worst.px)
            )
        };
        let px = |value: f64, text: String| Number { value, unit: "px", text };
        // Where not all are kept, those that are missing may belong to any cause.
        let is_cut = self.measures.padding.gap_count > self.measures.padding.gaps.len();
        let places = format!("{}{}", if is_cut { "at least " } else { "" }, count_of(gaps.len(), "place"));
        let mut finding = self.finding(
            kind,
            &place,
            format!("{}; nearest at u {:.4}, v {:.4}", self.place_words(&place, &places), worst.at_a.x, worst.at_a.y),
            Words {
                severity: if asked { Severity::MustFix } else { Severity::Look },
                title: if is_border {
                    format!("{who} {lie} too near to the tile's border")
                } else {
                    format!("{who} {lie} too close together")
                },
                number: px(worst.px, format!("{} px", significant(worst.px))),
                limit: Some(px(limit, format!("at least {} px", significant(limit)))),
                advice,
                harm: self.share_of_surface(surface) * (1.0 - worst.px / limit),
            },
        );
        // A finding may extend over the whole sheet: it is shown where it is worst.
        finding.camera = at_worst.camera(self.radius);
        let map = crate::measure::flat::map_sizes::map_scale(self.measures.map_of_sheet(worst.sheet as usize));
        let (low, high) = (worst.at_a.min(worst.at_b) - limit / map, worst.at_a.max(worst.at_b) + limit / map);
        finding.region_uv = Some([low.x, low.y, high.x, high.y]);
        finding
    }

    /// The shells of a place by what they belong to, to begin a sentence with.
    pub(super) fn who(&self, place: &Place) -> String {
        let mut subjects: Vec<&Subject> = place.shells.iter().map(|&shell| &self.subjects[shell as usize]).collect();
        subjects = packed::ordered(subjects, |a, b| a.cmp(b));
        subjects.dedup();
        match subjects[..] {
            [one] if place.shells.len() == 1 => self.name(one, place),
            _ => subjects_words(&subjects, place.shells.len()),
        }
    }

    /// The triangles at these gaps.
    fn place_of(&self, gaps: &[&Gap]) -> Place {
        let mut triangles: Vec<u32> = gaps
            .iter()
            .flat_map(|gap| [Some(gap.triangle_a), gap.triangle_b])
            .flatten()
            .map(|triangle| self.measures.mapped_triangle(triangle))
            .collect();
        triangles.sort_unstable();
        triangles.dedup();
        let mut place = Place::new();
        triangles.iter().for_each(|&triangle| place.add(self.model, self.measures, triangle as usize));
        place
    }

    /// Gaps in groups whose subjects are joined by gaps, in the order of their worst.
    fn hanging_together<'g>(&self, gaps: &[&'g Gap]) -> Vec<Vec<&'g Gap>> {
        // Of subjects, at their first shells.
        let mut numbers: Vec<Option<usize>> = vec![None; self.shells.len()];
        let mut root: Vec<usize> = Vec::new();
        let mut number_of = |shell: u32, root: &mut Vec<usize>| {
            let next = root.len();
            let number = *numbers[self.first_shell[shell as usize]].get_or_insert(next);
            if number == next {
                root.push(next);
            }
            number
        };
        fn find(root: &mut [usize], mut at: usize) -> usize {
            while root[at] != at {
                root[at] = root[root[at]];
                at = root[at];
            }
            at
        }
        let mut first = Vec::with_capacity(gaps.len());
        for gap in gaps {
            let a = number_of(gap.a, &mut root);
            let b = number_of(gap.b.unwrap_or(gap.a), &mut root);
            let (a, b) = (find(&mut root, a), find(&mut root, b));
            root[a.max(b)] = a.min(b);
            first.push(a);
        }
        // Numbers follow the gaps, and each group keeps its lowest: so do the groups.
        let mut groups: Vec<Vec<&Gap>> = vec![Vec::new(); root.len()];
        for (gap, number) in gaps.iter().zip(first) {
            groups[find(&mut root, number)].push(gap);
        }
        groups.retain(|group| !group.is_empty());
        groups
    }

    /// Of each sheet, a finding for the shells across the border of a tile.
    fn across(&self, findings: &mut Vec<Finding>) {
        if self.measures.padding.across.is_empty() {
            return;
        }
        let count = self.measures.sheets.list.len();
        let across_of = |sheet: usize| &self.measures.of_sheet(sheet).1.across;
        let places = self.places(count, &|triangle| {
            let (shell, sheet) = (self.model.shell_of(triangle)?, self.sheet_of(triangle));
            across_of(sheet).binary_search(&shell).is_ok().then_some(sheet)
        });
        for (sheet, place) in places.iter().enumerate().filter(|(_, place)| place.triangles > 0) {
            findings.push(self.on_sheet(sheet, self.across_of_sheet(across_of(sheet), place)));
        }
    }

    fn across_of_sheet(&self, across: &[u32], place: &Place) -> Finding {
        let one = across.len() == 1;
        let mut numbers: Vec<String> = across.iter().take(SHELLS_NAMED).map(u32::to_string).collect();
        if across.len() > SHELLS_NAMED {
            numbers.push(format!("{} more", across.len() - SHELLS_NAMED));
        }
        let share = self.share_of_surface(place.surface);
        self.finding(
            FindingKind::AcrossTiles,
            place,
            format!("shell{} {}", if one { "" } else { "s" }, numbers.join(", ")),
            Words {
                severity: Severity::Look,
                title: format!("{} {} across the border of a tile", self.who(place), if one { "lies" } else { "lie" }),
                number: super::words::count_number(across.len(), "shell"),
                limit: None,
                advice:
                    "Each tile is a picture of its own: a stroke over the border has to be painted twice, and a line \
                         may show there. Move each shell into one tile, or cut it at the border."
                        .into(),
                harm: share,
            },
        )
    }
}
