//! The surface at fault: each triangle once for any number of findings.
//!
//! Of an overlap only the shared part of a triangle is at fault. Where a triangle takes part in several kinds of overlap,
//! the smaller shared part is taken to lie within the larger one: the least that their union can be. So a triangle falls
//! into layers, and in each of them it is at fault in one set of findings. The areas of all layers are summed by that set:
//! few sets, from which the shares follow for whatever is intended. Cost: n log n in the runs of triangles that findings hold.
//!
//! Findings keep their triangles, as runs, only until this sum is made.

use super::{Finding, Severity};
use crate::measure::Measures;
use crate::measure::sheet::sharing::ShareKind;
use crate::util::packed;

/// Sets kept before equal ones are first summed up.
const SETS_MIN: usize = 1024;

/// Surface by the set of findings in which it is at fault, by their places in the report, rising.
#[derive(Clone, Debug, Default)]
pub(crate) struct AtFault(Vec<(Vec<u32>, f64)>);

/// Surface of the triangles of a finding, of an overlap the shared part.
pub(super) fn surface_at_fault(measures: &Measures, finding: &Finding) -> f64 {
    let mut sum = 0.0;
    for triangle in finding.runs.triangles() {
        let part = finding.kind.share_kind().map_or(1.0, |kind| measures.shared_share(triangle, kind));
        sum += measures.triangles.surface[triangle] * part;
    }
    sum
}

impl AtFault {
    /// The sets, each with its surface.
    pub(crate) fn sets(&self) -> impl Iterator<Item = (&[u32], f64)> {
        self.0.iter().map(|(set, sum)| (set.as_slice(), *sum))
    }

    /// Of findings in their final order, whose triangles it takes away.
    pub(super) fn new(measures: &Measures, findings: &mut [Finding]) -> Self {
        // First triangle, whether it begins or ends there, and the finding.
        let mut events: Vec<u64> = Vec::new();
        for (number, finding) in (0u32..).zip(findings.iter_mut()) {
            if finding.severity != Severity::Info {
                for &[first, end] in &finding.runs.0 {
                    events.extend([packed::two(first, number << 1 | 1), packed::two(end, number << 1)]);
                }
            }
            finding.runs.0 = Vec::new();
        }
        events.sort_unstable();
        let mut this = Self::default();
        let mut compact_at = SETS_MIN;
        let mut active: Vec<u32> = Vec::new();
        let mut from = 0;
        for event in events {
            let (at, what) = packed::split_two(event);
            if at > from && !active.is_empty() {
                this.add(measures, findings, &active, from as usize..at as usize);
                if this.0.len() > compact_at {
                    this.compact();
                    compact_at = SETS_MIN + 2 * this.0.len();
                }
            }
            from = at;
            match (active.binary_search(&(what >> 1)), what & 1 == 1) {
                (Err(place), true) => active.insert(place, what >> 1),
                (Ok(place), false) => drop(active.remove(place)),
                _ => {}
            }
        }
        this.compact();
        this
    }

    /// Triangles that are at fault in the same findings.
    fn add(&mut self, measures: &Measures, findings: &[Finding], active: &[u32], triangles: std::ops::Range<usize>) {
        let bit_of = |number: u32| {
            let kind = findings[number as usize].kind.share_kind();
            kind.map_or(0, |kind| 1 << ShareKind::ALL.iter().position(|known| *known == kind).unwrap_or(0))
        };
        let mut all = 0;
        for &number in active {
            all |= bit_of(number);
        }
        // By the kinds of overlap among their findings, a bit each.
        let mut sums = [0.0; 1 << ShareKind::ALL.len()];
        for triangle in triangles {
            let surface = measures.triangles.surface[triangle];
            let (mut above, mut mask) = (1.0, 0);
            while mask != all {
                let (mut most, mut bit) = (-1.0, 0);
                for (place, &kind) in ShareKind::ALL.iter().enumerate() {
                    if all & !mask & 1 << place != 0 {
                        let part = measures.shared_share(triangle, kind);
                        if part > most {
                            (most, bit) = (part, 1 << place);
                        }
                    }
                }
                sums[mask] += surface * (above - most);
                (above, mask) = (most, mask | bit);
            }
            sums[mask] += surface * above;
        }
        for (mask, sum) in sums.into_iter().enumerate() {
            let set: Vec<u32> = active.iter().copied().filter(|&number| bit_of(number) & !mask == 0).collect();
            if sum > 0.0 && !set.is_empty() {
                self.0.push((set, sum));
            }
        }
    }

    /// Each set once.
    fn compact(&mut self) {
        let rows = packed::ordered(std::mem::take(&mut self.0), |a, b| a.0.cmp(&b.0));
        for (set, sum) in rows {
            match self.0.last_mut() {
                Some(last) if last.0 == set => last.1 += sum,
                _ => self.0.push((set, sum)),
            }
        }
    }
}
