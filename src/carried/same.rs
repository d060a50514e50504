//! When two reports are equal.

use crate::findings::{Finding, Shell};
use crate::measure::sheet::sharing::ShareKind;
use crate::report::Report;

/// Largest difference of two numbers, over the larger of them (or over the least amount of their unit that is
/// distinguished from none, see `Least`).
pub const SAME: f64 = 1e-4;

/// Amounts below which numbers are compared as if they were these.
struct Least;

impl Least {
    /// Shares of a whole: a hundredth, so that 1e-6 of the whole is none.
    const SHARE: f64 = 0.01;
    /// Distances on the map: a texel.
    const PX: f64 = 1.0;
    /// Angles: ten degrees.
    const DEG: f64 = 10.0;
    /// Places on the sheet: a tenth of it.
    const UV: f64 = 0.1;
    /// Everything else is compared as it is.
    const NONE: f64 = 0.0;
}

/// What differs first, as a part of a sentence; `None` where both say the same: the same counts, findings (kind,
/// severity, shells, triangles, line, in the same order), sharing, narrow places and verdict, and all numbers equal
/// within [`SAME`]. Texts are not compared: they repeat numbers, rounded. Neither is which of equally near places a gap
/// is reported at.
pub fn difference(a: &Report, b: &Report) -> Option<String> {
    let mut held = Held { difference: None };
    held.report(a, b);
    held.difference
}

struct Held {
    difference: Option<String>,
}

impl Held {
    fn equal<T: PartialEq + std::fmt::Debug>(&mut self, what: &str, a: T, b: T) {
        if self.difference.is_none() && a != b {
            self.difference = Some(format!("{what} would be {b:?} instead of {a:?}"));
        }
    }

    fn number(&mut self, what: &str, a: f64, b: f64, least: f64) {
        let allowed = SAME * a.abs().max(b.abs()).max(least);
        let is_close = (a - b).abs() <= allowed;
        if self.difference.is_none() && !is_close {
            self.difference = Some(format!("{what} would be {b} instead of {a}"));
        }
    }

    fn maybe(&mut self, what: &str, a: Option<f64>, b: Option<f64>, least: f64) {
        match (a, b) {
            (Some(a), Some(b)) => self.number(what, a, b, least),
            _ => self.equal(what, a, b),
        }
    }

    fn list(&mut self, what: &str, a: &[f64], b: &[f64], least: f64) {
        self.equal(what, a.len(), b.len());
        a.iter().zip(b).for_each(|(a, b)| self.number(what, *a, *b, least));
    }

    fn report(&mut self, a: &Report, b: &Report) {
        self.equal("the counts", a.counts, b.counts);
        self.equal("the verdict", a.verdict, b.verdict);
        self.equal("the warnings", &a.warning_counts, &b.warning_counts);
        self.number("the surface", a.area.surface, b.area.surface, Least::NONE);
        self.number("the area on the sheet", a.area.uv, b.area.uv, Least::NONE);

        let (x, y) = (&a.stretch, &b.stretch);
        self.maybe("the median anisotropy", x.anisotropy_median, y.anisotropy_median, Least::NONE);
        self.maybe("the 95th percentile of anisotropy", x.anisotropy_p95, y.anisotropy_p95, Least::NONE);
        self.maybe("the share over the limit of anisotropy", x.share_over, y.share_over, Least::SHARE);
        self.maybe("Sander's L2 stretch", x.sander_l2, y.sander_l2, Least::NONE);
        self.maybe("Sander's greatest stretch", x.sander_linf, y.sander_linf, Least::NONE);
        self.maybe(
            "the symmetric Dirichlet energy",
            x.symmetric_dirichlet_mean,
            y.symmetric_dirichlet_mean,
            Least::NONE,
        );
        self.maybe("the MIPS energy", x.mips_mean, y.mips_mean, Least::NONE);

        let (x, y) = (&a.density, &b.density);
        self.maybe("the mean density", x.mean_px_per_unit, y.mean_px_per_unit, Least::NONE);
        self.maybe("the least density", x.min_shell, y.min_shell, Least::NONE);
        self.maybe("the greatest density", x.max_shell, y.max_shell, Least::NONE);
        self.maybe("the ratio of densities", x.max_over_min, y.max_over_min, Least::NONE);
        self.maybe("the reference density", x.reference, y.reference, Least::NONE);
        let parts = |parts: &[crate::findings::DensityPart]| {
            let mut names: Vec<_> = parts
                .iter()
                .map(|part| ((part.name.clone(), part.density_factor.to_bits(), part.grade), part))
                .collect();
            // Those with equal deviation have no defined order.
            names.sort_by(|a, b| a.0.cmp(&b.0));
            names.into_iter().map(|(key, part)| (key, part.surface, part.density_px_per_unit)).collect::<Vec<_>>()
        };
        let (x, y) = (parts(&x.parts), parts(&y.parts));
        self.equal("the number of parts with a density", x.len(), y.len());
        for (x, y) in x.iter().zip(&y) {
            self.equal("a part's name", &x.0, &y.0);
            self.number("a part's surface", x.1, y.1, Least::NONE);
            self.number("a part's density", x.2, y.2, Least::NONE);
        }

        let (x, y) = (&a.handedness, &b.handedness);
        self.equal("the number of reversed triangles", x.reversed_triangles, y.reversed_triangles);
        self.equal("the number of flipped shells", x.flipped_shells, y.flipped_shells);
        self.equal("the number of folded triangles", x.folded_triangles, y.folded_triangles);
        self.equal("the number of inside-out parts", x.inside_out_parts, y.inside_out_parts);
        self.maybe("the reversed share", x.reversed_share, y.reversed_share, Least::SHARE);
        self.maybe("the mirrored share", x.mirrored_share, y.mirrored_share, Least::SHARE);

        let (x, y) = (&a.sheet, &b.sheet);
        self.number("the coverage", x.coverage, y.coverage, Least::SHARE);
        self.maybe("the overlap", x.overlap_share, y.overlap_share, Least::SHARE);
        self.maybe("the excess of overlap", x.overlap_excess, y.overlap_excess, Least::SHARE);
        self.maybe("the share outside", x.outside_share, y.outside_share, Least::SHARE);
        self.maybe("the padding between shells", x.padding_between_px, y.padding_between_px, Least::PX);
        self.maybe("the padding to the border", x.padding_border_px, y.padding_border_px, Least::PX);
        self.equal("the number of narrow places", x.gap_count, y.gap_count);
        self.equal("the search for narrow places", x.padding_at_least, y.padding_at_least);
        self.equal("the shells across tiles", &x.across_tiles, &y.across_tiles);
        self.equal("the tiles", &x.tiles, &y.tiles);
        self.equal("the number of narrow places told", x.gaps.len(), y.gaps.len());
        for (x, y) in x.gaps.iter().zip(&y.gaps) {
            self.number("a narrow place", x.px, y.px, Least::PX);
        }

        self.equal("what the sheets go by", a.sheets.by, b.sheets.by);
        self.equal("the number of sheets", a.sheets.list.len(), b.sheets.list.len());
        for (x, y) in a.sheets.list.iter().zip(&b.sheets.list) {
            self.equal("a sheet", (&x.name, &x.materials, x.gap_count), (&y.name, &y.materials, y.gap_count));
            self.number("the coverage of a sheet", x.coverage, y.coverage, Least::SHARE);
            self.maybe("the overlap on a sheet", x.overlap_share, y.overlap_share, Least::SHARE);
            self.maybe("the share outside a sheet", x.outside_share, y.outside_share, Least::SHARE);
            self.maybe("the padding on a sheet", x.padding_between_px, y.padding_between_px, Least::PX);
            self.maybe("the padding on a sheet", x.padding_border_px, y.padding_border_px, Least::PX);
        }

        let (x, y) = (&a.seams, &b.seams);
        self.number("the length of seams", x.length, y.length, Least::NONE);
        self.maybe("the length of seams", x.length_over_diagonal, y.length_over_diagonal, Least::NONE);
        self.maybe("the share of seams in front", x.share_in_front, y.share_in_front, Least::SHARE);
        let (front, other) = (x.front_over_diagonal, y.front_over_diagonal);
        self.maybe("the length of soft seams in front", front, other, Least::SHARE);
        self.maybe("the exposure of seams", x.exposure, y.exposure, Least::SHARE);
        self.maybe("the sampling error of seams", x.sampling_error, y.sampling_error, Least::SHARE);
        self.equal("the number of rays", x.rays, y.rays);

        self.maybe("the share for lettering", a.text.text_share, b.text.text_share, Least::SHARE);
        self.equal("the number of shells", a.shells.len(), b.shells.len());
        a.shells.iter().zip(&b.shells).for_each(|(a, b)| self.shell(a, b));
        self.equal("the search for sharing", a.sharing_at_least, b.sharing_at_least);
        self.equal("the equal shells", &a.equal_shells, &b.equal_shells);
        self.equal("the number of pairs that share", a.sharing.len(), b.sharing.len());
        for (a, b) in a.sharing.iter().zip(&b.sharing) {
            let key = |pair: &crate::report::SharedShells| -> (u32, u32, ShareKind) { (pair.a, pair.b, pair.kind) };
            self.equal("a pair that shares", key(a), key(b));
            self.number("what a pair shares", a.area_share_a, b.area_share_a, Least::SHARE);
            self.number("what a pair shares", a.area_share_b, b.area_share_b, Least::SHARE);
        }
        self.equal("the number of findings", a.findings.len(), b.findings.len());
        a.findings.iter().zip(&b.findings).for_each(|(a, b)| self.finding(a, b));
    }

    fn shell(&mut self, a: &Shell, b: &Shell) {
        if self.difference.is_some() {
            return;
        }
        let key = |shell: &Shell| {
            let names = [&shell.object, &shell.group, &shell.material].map(Clone::clone);
            (shell.id, shell.part, names, shell.faces, shell.flipped, shell.folded)
        };
        self.equal("a shell", key(a), key(b));
        let name = |what: &str| format!("the {what} of shell {}", a.id);
        self.number(&name("surface"), a.surface, b.surface, Least::NONE);
        self.number(&name("area"), a.uv, b.uv, Least::NONE);
        self.maybe(&name("density"), a.density, b.density, Least::NONE);
        self.maybe(&name("density factor"), a.density_ratio, b.density_ratio, Least::NONE);
        self.maybe(&name("anisotropy"), a.anisotropy_median, b.anisotropy_median, Least::NONE);
        self.maybe(&name("share over the limit"), a.share_over, b.share_over, Least::SHARE);
        self.maybe(&name("share for lettering"), a.text_share, b.text_share, Least::SHARE);
        // 180 degrees and -180 are the same.
        let near = |tilt: f64| match a.tilt_deg {
            Some(other) if (other - tilt).abs() > 180.0 => tilt + 360f64.copysign(other - tilt),
            _ => tilt,
        };
        self.maybe(&name("tilt"), a.tilt_deg, b.tilt_deg.map(near), Least::DEG);
        self.equal(&name("bounds"), a.bounds_uv.is_some(), b.bounds_uv.is_some());
        let (x, y) = (a.bounds_uv.unwrap_or_default(), b.bounds_uv.unwrap_or_default());
        self.list(&name("bounds"), &x, &y, Least::UV);
    }

    fn finding(&mut self, a: &Finding, b: &Finding) {
        if self.difference.is_some() {
            return;
        }
        self.equal("a finding", (&a.id, a.kind, a.severity), (&b.id, b.kind, b.severity));
        let name = |what: &str| format!("{what} of finding {}", a.id);
        self.equal(&name("the shells"), &a.shells, &b.shells);
        self.equal(&name("the number of triangles"), a.triangles, b.triangles);
        self.equal(&name("the line"), a.line, b.line);
        let least = match a.number.unit {
            "share" => Least::SHARE,
            "px" => Least::PX,
            "deg" => Least::DEG,
            _ => Least::NONE,
        };
        self.number(&name("the number"), a.number.value, b.number.value, least);
        let limits = (a.limit.as_ref().map(|n| n.value), b.limit.as_ref().map(|n| n.value));
        self.maybe(&name("the limit"), limits.0, limits.1, least);
        self.number(&name("the harm"), a.harm, b.harm, Least::SHARE);
        self.equal(&name("the view"), a.camera.is_some(), b.camera.is_some());
        if let (Some(a), Some(b)) = (a.camera, b.camera) {
            self.list(&name("the view"), &a.eye, &b.eye, a.radius);
            self.list(&name("the view"), &a.target, &b.target, a.radius);
            self.number(&name("the view"), a.radius, b.radius, Least::NONE);
        }
        self.equal(&name("the region"), a.region_uv.is_some(), b.region_uv.is_some());
        self.list(&name("the region"), &a.region_uv.unwrap_or_default(), &b.region_uv.unwrap_or_default(), Least::UV);
    }
}
