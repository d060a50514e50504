//! Who shares texture space and should not. Pairs of one kind that hang together are one cause.

use super::words::{count_of, least_percent};
use super::{Finding, FindingKind, Judge, Place, Severity, Subject, Words};
use crate::brief::Policy;
use crate::measure::sharing::ShareKind;

impl Judge<'_> {
    /// Pairs of one kind that hang together are one cause.
    pub(super) fn sharing(&self, findings: &mut Vec<Finding>) {
        for (share, kind, policy) in [
            (ShareKind::PartialOverlap, FindingKind::PartialOverlap, self.brief.sharing.partial_overlap),
            (ShareKind::SelfOverlap, FindingKind::SelfOverlap, self.brief.sharing.partial_overlap),
            (ShareKind::Mirrored, FindingKind::Mirrored, self.brief.sharing.mirrored),
            (ShareKind::Stacked, FindingKind::Stacked, self.brief.sharing.stacked),
        ] {
            for (subjects, shells) in self.causes(share) {
                let mut place = Place::new();
                for triangle in 0..self.model.triangle_count() {
                    let Some(shell) = self.model.shell_of(triangle) else { continue };
                    let shares = self.measures.shares(triangle);
                    let here = match share {
                        ShareKind::Mirrored => shares.mirrored,
                        ShareKind::Stacked => shares.stacked,
                        ShareKind::PartialOverlap => shares.partial_overlap,
                        ShareKind::SelfOverlap => shares.self_overlap,
                    };
                    if here && shells.binary_search(&shell).is_ok() {
                        place.add(self.model, self.measures, triangle);
                    }
                }
                if place.triangles == 0 {
                    continue;
                }
                let share_of = self.share_of_surface(place.surface);
                let (severity, allowed) = match policy {
                    Policy::Allow => (Severity::Info, "Allowed by the brief. "),
                    Policy::Look => (Severity::Look, ""),
                    Policy::MustFix => (Severity::MustFix, ""),
                };
                let who = subjects_words(&subjects, shells.len());
                let (title, advice) = sharing_words(share, &who);
                findings.push(self.finding(
                    kind,
                    &place,
                    self.place_words(&place, share_word(share)),
                    Words {
                        severity,
                        title,
                        number: least_percent(share_of, self.measures.sharing.at_least),
                        limit: None,
                        advice: format!("{allowed}{advice}"),
                        harm: share_of,
                    },
                ));
            }
        }
    }

    /// Connected groups of subjects that share in one way, with the shells that do.
    fn causes(&self, kind: ShareKind) -> Vec<(Vec<&Subject>, Vec<u32>)> {
        let mut groups: Vec<(Vec<&Subject>, Vec<u32>)> = Vec::new();
        for pair in self.measures.sharing.pairs.iter().filter(|pair| pair.kind == kind) {
            let mut merged = (Vec::new(), vec![pair.a, pair.b]);
            for shell in [pair.a, pair.b] {
                insert_once(&mut merged.0, &self.subjects[shell as usize]);
            }
            groups.retain(|group| {
                let joins = merged.0.iter().any(|subject| group.0.contains(subject));
                if joins {
                    group.0.iter().for_each(|subject| insert_once(&mut merged.0, *subject));
                    merged.1.extend(&group.1);
                }
                !joins
            });
            merged.1.sort_unstable();
            merged.1.dedup();
            insert_once(&mut groups, merged);
        }
        groups
    }
}

/// Puts an item into a sorted list, unless it is there.
fn insert_once<T: Ord>(sorted: &mut Vec<T>, item: T) {
    let place = sorted.partition_point(|other| *other < item);
    if sorted.get(place) != Some(&item) {
        sorted.insert(place, item);
    }
}

fn sharing_words(kind: ShareKind, who: &str) -> (String, String) {
    match kind {
        ShareKind::Mirrored => (
            format!("{who} share space, mirrored"),
            "Fine for plain surfaces; anything lettered or lopsided would come out doubled, and backwards on one side. \
             Give it a place of its own if it carries any."
                .into(),
        ),
        ShareKind::Stacked => (
            format!("{who} lie exactly on one another"),
            "Whatever is painted on one appears on the other. Move one aside unless that is meant.".into(),
        ),
        ShareKind::PartialOverlap => (
            format!("{who} overlap"),
            "Paint on one would show on the other. Move them apart on the sheet.".into(),
        ),
        ShareKind::SelfOverlap => (
            format!("{who} overlap within a shell"),
            "The shell lies over itself. Cut it where it meets itself, or relax it until it lies flat.".into(),
        ),
    }
}

fn share_word(kind: ShareKind) -> &'static str {
    match kind {
        ShareKind::Mirrored => "mirrored",
        ShareKind::Stacked => "stacked",
        ShareKind::PartialOverlap => "partly overlapping",
        ShareKind::SelfOverlap => "overlapping themselves",
    }
}

/// Subjects that are concerned together, and how many shells of theirs, to begin a sentence with.
pub(super) fn subjects_words(subjects: &[&Subject], shells: usize) -> String {
    let names: Vec<&str> = subjects
        .iter()
        .filter_map(|subject| match subject {
            Subject::Named(name) => Some(name.as_str()),
            Subject::Part(_) => None,
        })
        .collect();
    match names[..] {
        [one] if shells == 1 => format!("Places of {one}"),
        [one] => format!("{shells} shells of {one}"),
        [a, b] => format!("{a} and {b}"),
        [a, b, c] => format!("{a}, {b} and {c}"),
        [a, ..] => format!("{a} and {} more", names.len() - 1),
        [] if shells == 1 => "Places".into(),
        [] => count_of(shells, "shell"),
    }
}
