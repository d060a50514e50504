//! Overlaps that the brief does not allow. Connected pairs of one kind are one finding; its number is the surface that
//! is shared, whatever triangles it is cut into.

use super::words::{count_of, least_percent};
use super::{Finding, FindingKind, Judge, Place, Severity, Subject, Words};
use crate::brief::Policy;
use crate::measure::sheet::sharing::ShareKind;
use crate::model::UnionFind;
use crate::util::packed;

/// Connected shells that overlap in one way, whose subjects are one finding.
struct Cause<'a> {
    /// In order, each once.
    subjects: Vec<&'a Subject>,
    shells: usize,
    place: Place,
    /// Surface that is shared, square units.
    shared: f64,
}

impl Judge<'_> {
    pub(super) fn sharing(&self, findings: &mut Vec<Finding>) {
        for (share, kind, policy) in [
            (ShareKind::PartialOverlap, FindingKind::PartialOverlap, self.brief.sharing.partial_overlap),
            (ShareKind::SelfOverlap, FindingKind::SelfOverlap, self.brief.sharing.partial_overlap),
            (ShareKind::Mirrored, FindingKind::Mirrored, self.brief.sharing.mirrored),
            (ShareKind::Stacked, FindingKind::Stacked, self.brief.sharing.stacked),
        ] {
            for cause in self.causes(share).iter().filter(|cause| cause.place.triangles > 0) {
                let (severity, allowed) = match policy {
                    Policy::Allow => (Severity::Info, "Allowed by the brief. "),
                    Policy::Look => (Severity::Look, ""),
                    Policy::MustFix => (Severity::MustFix, ""),
                };
                let shared_share = self.share_of_surface(cause.shared);
                let who = subjects_words(&cause.subjects, cause.shells);
                let (title, advice) = sharing_words(share, &who);
                findings.push(self.finding(
                    kind,
                    &cause.place,
                    self.place_words(&cause.place, share_word(share)),
                    Words {
                        severity,
                        title,
                        number: least_percent(shared_share, self.measures.sharing.at_least),
                        limit: None,
                        advice: format!("{allowed}{advice}"),
                        harm: shared_share,
                    },
                ));
            }
        }
    }

    /// Connected groups of subjects that share in one way: their shells that do, and the triangles and surface they share.
    fn causes(&self, kind: ShareKind) -> Vec<Cause<'_>> {
        let pairs = || self.measures.sharing.pairs.iter().filter(|pair| pair.kind == kind);
        if pairs().next().is_none() {
            return Vec::new();
        }
        let subject = |shell: u32| self.first_shell[shell as usize] as u32;
        let mut together = UnionFind::new(self.shells.len());
        let mut shares = vec![false; self.shells.len()];
        for pair in pairs() {
            together.join(subject(pair.a), subject(pair.b));
            (shares[pair.a as usize], shares[pair.b as usize]) = (true, true);
        }
        // Equal shells overlap like the first of them.
        for group in &self.measures.sharing.equal {
            for &shell in if shares[group[0] as usize] { &group[1..] } else { &[] } {
                together.join(subject(group[0]), subject(shell));
                shares[shell as usize] = true;
            }
        }
        // Of each shell that shares the number of its cause.
        let mut cause_of = vec![None; self.shells.len()];
        let mut number_of_root = vec![None; self.shells.len()];
        let mut is_named = vec![false; self.shells.len()];
        let mut causes: Vec<Cause<'_>> = Vec::new();
        for shell in (0..self.shells.len()).filter(|&shell| shares[shell]) {
            let subject = subject(shell as u32);
            let number = *number_of_root[together.root(subject) as usize].get_or_insert(causes.len());
            if number == causes.len() {
                causes.push(Cause { subjects: Vec::new(), shells: 0, place: Place::new(), shared: 0.0 });
            }
            causes[number].shells += 1;
            cause_of[shell] = Some(number);
            if !std::mem::replace(&mut is_named[subject as usize], true) {
                causes[number].subjects.push(&self.subjects[shell]);
            }
        }
        for cause in &mut causes {
            cause.subjects = packed::ordered(std::mem::take(&mut cause.subjects), |a, b| a.cmp(b));
        }
        for triangle in 0..self.model.triangle_count() {
            let Some(shell) = self.model.shell_of(triangle) else { continue };
            let Some(number) = cause_of[shell as usize] else { continue };
            let cause = &mut causes[number];
            if self.measures.shares(triangle).has(kind) {
                cause.place.add(self.model, self.measures, triangle);
            }
            cause.shared += self.measures.triangles.surface[triangle] * self.measures.shared_share(triangle, kind);
        }
        causes
    }
}

fn sharing_words(kind: ShareKind, who: &str) -> (String, String) {
    match kind {
        ShareKind::Mirrored => (
            format!("{who} overlap, mirrored"),
            "Fine for plain surfaces; text, or anything else that is not symmetric, comes out twice, mirrored on one side. \
             Give it a place of its own if it carries any."
                .into(),
        ),
        ShareKind::Stacked => (
            format!("{who} lie exactly on one another"),
            "Whatever is painted on one appears on the other. Move one aside unless that is intended.".into(),
        ),
        ShareKind::PartialOverlap => (
            format!("{who} overlap"),
            "Paint on one would show on the other. Move them apart on the sheet.".into(),
        ),
        ShareKind::SelfOverlap => (
            format!("{who} overlap within a shell"),
            "The shell overlaps itself. Cut it where it meets itself, or relax it until it lies flat.".into(),
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

/// The subjects concerned and how many of their shells, to begin a sentence with.
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
