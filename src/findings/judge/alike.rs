//! Findings of one kind on many parts, as one finding with a list of places.
//!
//! From the fourth on. The id of the one finding says so (`stretch-on-many-12`), so that a decision on a single finding
//! never becomes a decision on all.

use super::words::{count_of, percent};
use super::{Finding, FindingKind, Judge, Subject, packed};
use crate::findings::{FindingPlace, badness};

/// Up to this many similar findings stay single; more are grouped. Own choice.
const ALIKE_MAX: usize = 3;
/// Names that are written into a sentence.
const NAMED: usize = 3;

impl Judge<'_> {
    /// Makes one finding of those of one kind, severity and direction where there are more than [`ALIKE_MAX`].
    pub(super) fn alike(&self, findings: Vec<Finding>) -> Vec<Finding> {
        let order = |a: &Finding, b: &Finding| {
            let kind =
                a.severity.cmp(&b.severity).then(a.follows_cause.cmp(&b.follows_cause)).then(a.kind.cmp(&b.kind));
            kind.then_with(|| stem(a).cmp(stem(b)))
        };
        let mut worst_first =
            packed::ordered(findings, |a, b| order(a, b).then(b.harm.total_cmp(&a.harm))).into_iter().peekable();
        let mut out = Vec::new();
        while let Some(worst) = worst_first.next() {
            let mut same = vec![worst];
            while let Some(next) = worst_first.next_if(|next| order(next, &same[0]).is_eq()) {
                same.push(next);
            }
            match words(same[0].kind, stem(&same[0])) {
                Some(words) if same.len() > ALIKE_MAX => out.push(self.one_of(same, words)),
                _ => out.extend(same),
            }
        }
        out
    }

    fn one_of(&self, mut same: Vec<Finding>, (what, advice): (&str, &str)) -> Finding {
        let mut names: Vec<String> = Vec::new();
        let (mut sum, mut harm, mut triangles) = (0.0, 0.0, 0);
        let (mut shells, mut runs, mut places) = (Vec::new(), Vec::new(), Vec::new());
        let (mut line, mut baddest, mut bad_at) = (same[0].line, f64::NEG_INFINITY, 0);
        for (at, finding) in same.iter().enumerate() {
            let name = self.name_of(finding);
            let limit = finding.limit.as_ref().map(|limit| limit.value);
            let bad = badness(finding.kind, finding.number.unit, finding.number.value, limit).unwrap_or(0.0);
            if bad > baddest {
                (baddest, bad_at) = (bad, at);
            }
            sum += finding.number.value;
            harm += finding.harm;
            triangles += finding.triangles;
            line = line.min(finding.line).or(line);
            shells.extend_from_slice(&finding.shells);
            runs.extend_from_slice(&finding.runs.0);
            places.push(FindingPlace {
                name: name.clone(),
                number: finding.number.clone(),
                share: finding.harm,
                shells: finding.shells.clone(),
                camera: finding.camera,
                region_uv: finding.region_uv,
            });
            names.push(name);
        }
        shells.sort_unstable();
        shells.dedup();
        let (mut number, limit) = (same[bad_at].number.clone(), same[bad_at].limit.clone());
        if number.unit == "share" {
            number = percent(sum.min(1.0));
        }
        let what = [what, &count_of(same.len(), if what.ends_with("in ") { "place" } else { "part" })].concat();
        let mut one = same.swap_remove(0);
        // No single finding has such an id: a decision on one of them does not become one on all.
        one.id = self.id(&[stem(&one), "-on-many"].concat(), shells.first().copied().unwrap_or(0));
        if !advice.is_empty() {
            one.advice = advice.to_owned();
        }
        (one.title, one.place, one.number, one.limit, one.line) = (what, named(&names), number, limit, line);
        (one.shells, one.triangles, one.harm, one.runs.0, one.places) =
            (shells, triangles, harm.min(1.0), runs, places);
        one
    }

    /// What a finding is about, in a list.
    fn name_of(&self, finding: &Finding) -> String {
        let mut subjects: Vec<&Subject> = finding.shells.iter().map(|&shell| &self.subjects[shell as usize]).collect();
        subjects = packed::ordered(subjects, |a, b| a.cmp(b));
        subjects.dedup();
        let mut names = Vec::new();
        for subject in subjects {
            names.push(match subject {
                Subject::Named(name) => name.clone(),
                Subject::Part(part) => format!("part {part}"),
            });
        }
        if names.is_empty() { finding.place.clone() } else { named(&names) }
    }
}

/// An id without its last number: kind and direction.
fn stem(finding: &Finding) -> &str {
    finding.id.rsplit_once('-').map_or(&finding.id, |(stem, _)| stem)
}

fn named(names: &[String]) -> String {
    let (first, rest) = names.split_at(names.len().min(NAMED));
    let first = first.join(", ");
    if rest.is_empty() { first } else { [&first, " and ", &rest.len().to_string(), " more"].concat() }
}

/// Title and advice of findings that are put together; no advice: that of the worst, which fits all. `None` for kinds
/// that are never put together.
fn words(kind: FindingKind, stem: &str) -> Option<(&'static str, &'static str)> {
    Some(match kind {
        FindingKind::Flipped => ("Flipped UVs on ", "Turn each shell over on the sheet (mirror in u)."),
        FindingKind::Folded => ("Folded UVs on ", ""),
        FindingKind::Stretch => ("Stretch on ", ""),
        FindingKind::Density => {
            let (what, by) = if stem == "low" {
                (
                    "Texel density too low on ",
                    "Scale each up on the sheet to its limit, unless less detail is intended there.",
                )
            } else {
                (
                    "Texel density too high on ",
                    "Scale each down on the sheet to its limit, unless more detail is intended there.",
                )
            };
            (what, by)
        }
        FindingKind::PartialOverlap => ("Partial overlap in ", ""),
        FindingKind::SelfOverlap => ("Self-overlap on ", ""),
        FindingKind::Mirrored => ("Mirrored overlap in ", ""),
        FindingKind::Stacked => ("Stacked shells in ", ""),
        FindingKind::Collapsed => ("No texture area on ", ""),
        FindingKind::Padding => {
            ("Too little padding in ", "Move the shells apart until the padding is at its limit everywhere.")
        }
        FindingKind::InsideOut => ("Normals inside out on ", ""),
        FindingKind::Tilt => ("Shells not upright on ", ""),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use crate::brief::Brief;
    use crate::findings::Finding;
    use crate::report::Report;

    /// Named strips, as many times too long on the sheet as said.
    fn strips(lengths: &[f64]) -> Report {
        let mut obj = String::new();
        for (number, length) in lengths.iter().enumerate() {
            let (x, at, v) = (2 * number, 4 * number, 0.02 + 0.04 * number as f64);
            obj += &format!("o strip{number}\nv {x} 0 0\nv {} 0 0\nv {} 1 0\nv {x} 1 0\n", x + 1, x + 1);
            let (end, top) = (0.02 + 0.02 * length, v + 0.02);
            obj += &format!("vt 0.02 {v}\nvt {end} {v}\nvt {end} {top}\nvt 0.02 {top}\n");
            let [a, b, c, d] = [1, 2, 3, 4].map(|corner| at + corner);
            obj += &format!("f {a}/{a} {b}/{b} {c}/{c} {d}/{d}\n");
        }
        let report = crate::check(&mut obj.as_bytes(), "x.obj", None, &Brief::default(), &mut |_| ());
        report.expect("the test's own model")
    }

    fn stretched(report: &Report) -> Vec<&Finding> {
        report.findings.iter().filter(|finding| finding.kind.code() == "stretch").collect()
    }

    #[test]
    fn a_few_findings_stay_single_and_many_are_grouped() {
        let few = strips(&[3.0, 4.0, 5.0, 1.0, 1.0]);
        assert_eq!(stretched(&few).len(), 3);
        assert!(few.findings.iter().all(|finding| finding.places.is_empty()));

        let many = strips(&[1.0, 3.0, 4.0, 5.0, 3.5]);
        let [one] = stretched(&many)[..] else { panic!("{:?}", many.findings) };
        assert_eq!((&*one.id, &*one.title), ("stretch-on-many-1", "Stretch on 4 parts"));
        assert_eq!((&*one.number.text, one.shells.as_slice(), one.triangles), ("5.00", [1, 2, 3, 4].as_slice(), 8));
        let names: Vec<(&str, &str)> =
            one.places.iter().map(|place| (place.name.as_str(), place.number.text.as_str())).collect();
        assert_eq!(names, [("strip1", "3.00"), ("strip2", "4.00"), ("strip3", "5.00"), ("strip4", "3.50")]);
        assert!(one.places.iter().all(|place| place.camera.is_some() && (place.share - 0.2).abs() < 1e-9));
        assert!((one.harm - 0.8).abs() < 1e-9 && one.place == "strip1, strip2, strip3 and 1 more", "{}", one.place);
        assert!((many.to_ready.must_fix_share - 0.8).abs() < 1e-9);
    }

    #[test]
    fn ids_are_unique() {
        let report = strips(&[1.0, 3.0, 4.0, 5.0, 3.5, 9.0, 20.0, 1.0, 1.0]);
        let mut ids: Vec<&str> = report.findings.iter().map(|finding| finding.id.as_str()).collect();
        ids.sort_unstable();
        let all = ids.len();
        ids.dedup();
        assert_eq!(ids.len(), all);
    }
}
