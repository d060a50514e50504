//! What is a look and what must be fixed: stretch and what lies outside, by formula and on flattenings by another library.

use crate::support::{Sketch, close, outside, report, report_with};
use gridproof::brief::Brief;
use gridproof::findings::{Finding, FindingKind, Severity};
use gridproof::report::Report;

fn of_kind(report: &Report, kind: FindingKind) -> Vec<&Finding> {
    report.findings.iter().filter(|finding| finding.kind == kind).collect()
}

/// Strips of an object, one shell each: width and height on the surface, and how much longer than wide a square comes out.
fn strips(rows: &[(&str, f64, f64, f64)]) -> String {
    let mut text = String::new();
    let mut v = 0.01;
    for (index, (name, width, height, stretch)) in rows.iter().enumerate() {
        if !name.is_empty() {
            text += &format!("o {name}\n");
        }
        let (w, h) = (0.01 * width * stretch, 0.01 * height);
        for (x, y) in [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)] {
            text += &format!("v {} {} {index}\nvt {} {}\n", width * x, height * y, 0.1 + w * x, v + h * y);
        }
        text += "f -4/-4 -3/-3 -2/-2 -1/-1\n";
        v += h + 0.02;
    }
    text
}

#[test]
fn stretch_is_a_look_up_to_the_second_limit_and_must_be_fixed_beyond() {
    for (stretch, severity, limit) in [
        (1.24, None, 0.0),
        (1.26, Some(Severity::Look), 1.25),
        (1.99, Some(Severity::Look), 1.25),
        (2.01, Some(Severity::MustFix), 2.0),
    ] {
        let report = report(&strips(&[("drum", 4.0, 4.0, stretch)]));
        let found = of_kind(&report, FindingKind::Stretch);
        assert_eq!(found.first().map(|finding| finding.severity), severity, "{stretch}");
        if let [finding] = &found[..] {
            assert!(close(finding.number.value, stretch, 1e-9));
            assert_eq!(finding.limit.as_ref().unwrap().value, limit);
            assert_eq!(finding.title, "drum is stretched");
            assert_eq!(finding.place, "shell 0, 100.0 % of its surface over 1.25");
        }
    }
    let mut brief = Brief::default();
    brief.stretch.must_fix_anisotropy = 1.5;
    let text = strips(&[("drum", 4.0, 4.0, 1.6)]);
    assert_eq!(of_kind(&report_with(&text, &brief), FindingKind::Stretch)[0].severity, Severity::MustFix);
    // The second limit never lies below the first.
    brief.stretch.max_anisotropy = 1.7;
    assert!(of_kind(&report_with(&text, &brief), FindingKind::Stretch).is_empty());
}

/// One shell of quads side by side: width on the surface and stretch of each.
fn one_shell(quads: &[(f64, f64)]) -> String {
    let mut sketch = Sketch::default();
    let (mut x, mut u) = (0.0, 0.1);
    for &(width, stretch) in quads {
        let (right, end) = (x + width, u + 0.1 * width * stretch);
        sketch.face(&[
            ([x, 0.0, 0.0], [u, 0.1]),
            ([right, 0.0, 0.0], [end, 0.1]),
            ([right, 1.0, 0.0], [end, 0.2]),
            ([x, 1.0, 0.0], [u, 0.2]),
        ]);
        (x, u) = (right, end);
    }
    sketch.text()
}

#[test]
fn each_limit_may_be_passed_on_a_twentieth_of_a_part() {
    let severity = |quads: &[(f64, f64)]| {
        let report = report(&one_shell(quads));
        of_kind(&report, FindingKind::Stretch).first().map(|finding| finding.severity)
    };
    assert_eq!(severity(&[(0.96, 1.0), (0.04, 3.0)]), None);
    assert_eq!(severity(&[(0.94, 1.0), (0.06, 3.0)]), Some(Severity::MustFix));
    assert_eq!(severity(&[(0.90, 1.0), (0.06, 1.5), (0.04, 3.0)]), Some(Severity::Look));
    assert_eq!(severity(&[(0.92, 1.0), (0.04, 1.5), (0.04, 3.0)]), Some(Severity::Look));
}

#[test]
fn the_number_is_the_95th_percentile_of_the_finding_and_the_harm_its_share() {
    // A tenth of both together has the greater stretch, then a hundredth.
    for (small, expected) in [(1.0, 1.8), (0.09, 1.3)] {
        let report = report(&strips(&[("drum", 9.0, 1.0, 1.3), ("drum", small, 1.0, 1.8)]));
        let found = of_kind(&report, FindingKind::Stretch);
        assert_eq!(found.len(), 1);
        assert!(close(found[0].number.value, expected, 1e-9), "{:?}", found[0].number);
        assert!(close(found[0].harm, 1.0, 1e-9));
    }
    // However large it is, it does not move a small strip before a large one, and is not written in full.
    let report = report(&strips(&[("lid", 0.05, 1.0, 200.0), ("drum", 4.0, 4.0, 3.0)]));
    let found = of_kind(&report, FindingKind::Stretch);
    assert_eq!((found[0].title.as_str(), found[1].title.as_str()), ("drum is stretched", "lid is stretched"));
    assert_eq!(found[1].number.text, ">100");
    assert!(close(found[1].number.value, 200.0, 1e-6));
}

#[test]
fn a_part_with_shells_of_both_grades_has_a_card_for_each() {
    let report = report(&strips(&[("drum", 4.0, 4.0, 1.5), ("drum", 4.0, 4.0, 3.0), ("drum", 4.0, 4.0, 1.0)]));
    let found = of_kind(&report, FindingKind::Stretch);
    let cards: Vec<_> = found.iter().map(|finding| (finding.severity, &finding.shells[..])).collect();
    assert_eq!(cards, [(Severity::MustFix, &[1][..]), (Severity::Look, &[0][..])]);
    assert!(found.iter().all(|finding| close(finding.harm, 1.0 / 3.0, 1e-9)));
}

#[test]
fn least_distortion_flattenings_of_a_hemisphere_are_no_must_fix() {
    for method in ["arap", "slim"] {
        let Some(path) = outside(&format!("reference/parameterisation/hemisphere_{method}.obj")) else { continue };
        let report = report(&std::fs::read_to_string(path).unwrap());
        let found = of_kind(&report, FindingKind::Stretch);
        assert_eq!(found.len(), 1, "{method}");
        assert_eq!(found[0].severity, Severity::Look, "{method}");
        // As computed by libigl 2.6.3.
        assert!((1.36..1.40).contains(&found[0].number.value), "{method}: {}", found[0].number.value);
    }
}

/// A box with edges cut at 45 degrees, `cut` deep on sides of 2. Each of its six shells is the projection of a side along its
/// normal, with those bevels and corners of which it is the first side.
fn chamfered_box(cut: f64) -> Sketch {
    let side = |axis: usize, sign: f64| (axis, sign);
    let sides = [0, 1, 2].map(|axis| [side(axis, 1.0), side(axis, -1.0)]).concat();
    // A vertex belongs to one side: at its distance, and at one of four places on it.
    let vertex = |(axis, sign): (usize, f64), at: [f64; 3]| {
        let mut p = at;
        p[axis] = sign * (1.0 + cut);
        p
    };
    let mut sketch = Sketch::default();
    let mut face = |of: usize, mut corners: Vec<[f64; 3]>| {
        let sub = |a: [f64; 3], b: [f64; 3]| [0, 1, 2].map(|i| a[i] - b[i]);
        let (s, t) = (sub(corners[1], corners[0]), sub(corners[2], corners[0]));
        let normal = [s[1] * t[2] - s[2] * t[1], s[2] * t[0] - s[0] * t[2], s[0] * t[1] - s[1] * t[0]];
        if (0..3).map(|i| normal[i] * corners[0][i]).sum::<f64>() < 0.0 {
            corners.reverse();
        }
        let (axis, sign) = sides[of];
        let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
        let cell = [of % 3, of / 3].map(|cell| cell as f64 / 3.0 + 1.0 / 6.0);
        let uv = |p: [f64; 3]| [cell[0] + sign * p[u] / 10.0, cell[1] + p[v] / 10.0];
        sketch.face(&corners.iter().map(|&p| (p, uv(p))).collect::<Vec<_>>());
    };
    for (i, &a) in sides.iter().enumerate() {
        let (u, v) = ((a.0 + 1) % 3, (a.0 + 2) % 3);
        let place = |x: f64, y: f64| {
            let mut p = [0.0; 3];
            (p[u], p[v]) = (x, y);
            vertex(a, p)
        };
        face(i, vec![place(-1., -1.), place(1., -1.), place(1., 1.), place(-1., 1.)]);
        for &b in sides.iter().skip(i + 1).filter(|b| b.0 != a.0) {
            let rest = 3 - a.0 - b.0;
            let ends = [-1.0, 1.0].map(|end| {
                let mut p = [0.0; 3];
                (p[a.0], p[b.0], p[rest]) = (a.1, b.1, end);
                p
            });
            face(i, vec![vertex(a, ends[0]), vertex(a, ends[1]), vertex(b, ends[1]), vertex(b, ends[0])]);
            for &c in sides.iter().filter(|c| c.0 == rest && a.0 < b.0 && b.0 < rest) {
                let mut p = [0.0; 3];
                (p[a.0], p[b.0], p[c.0]) = (a.1, b.1, c.1);
                face(i, vec![vertex(a, p), vertex(b, p), vertex(c, p)]);
            }
        }
    }
    sketch
}

#[test]
fn bevels_of_45_degrees_projected_with_their_side_are_no_must_fix() {
    for cut in [0.05, 0.3] {
        let sketch = chamfered_box(cut);
        assert_eq!(sketch.faces.len(), 6 + 12 + 8);
        let report = report(&sketch.text());
        assert_eq!((report.counts.shells, report.counts.parts, report.counts.open_edges), (6, 1, 0));
        assert_eq!(report.handedness.reversed_triangles, 0);
        assert_eq!(report.verdict.text(), "look", "{:?}", report.findings);
        let found = of_kind(&report, FindingKind::Stretch);
        assert!(found.iter().all(|finding| finding.severity == Severity::Look) && !found.is_empty());
        // 1 / cos 45 on the bevels.
        assert!(found.iter().all(|finding| close(finding.number.value, 2f64.sqrt(), 1e-9)), "{found:?}");
    }
}

/// A square of a quarter of the tile that ends so many px beyond its right border, and one in the middle.
fn reaching_out(px: f64) -> String {
    let end = 1.0 + px / 2048.0;
    let square = |name: &str, u: f64, z: f64| {
        format!(
            "o {name}\nv 0 0 {z}\nv 1 0 {z}\nv 1 1 {z}\nv 0 1 {z}\n\
             vt {u} .3\nvt {right} .3\nvt {right} .55\nvt {u} .55\nf -4/-4 -3/-3 -2/-2 -1/-1\n",
            right = u + 0.25
        )
    };
    square("lid", end - 0.25, 0.0) + &square("pot", 0.25, 1.0)
}

#[test]
fn what_is_outside_is_judged_in_px_against_the_border_s_padding() {
    for (px, severity, limit) in [
        (0.4, None, 0.0),
        (0.6, Some(Severity::Look), 0.5),
        (1.2, Some(Severity::Look), 0.5),
        (7.9, Some(Severity::Look), 0.5),
        (8.1, Some(Severity::MustFix), 8.0),
        (900.0, Some(Severity::MustFix), 8.0),
    ] {
        let report = report(&reaching_out(px));
        let found = of_kind(&report, FindingKind::Outside);
        assert_eq!(found.first().map(|finding| finding.severity), severity, "{px}");
        // Nothing is left to the border; that it is outside is one finding.
        assert_eq!(report.sheet.padding_border_px, Some(0.0));
        let border = of_kind(&report, FindingKind::Border);
        assert_eq!(border.len(), usize::from(severity.is_none()), "{px}");
        if let [finding] = &found[..] {
            assert!(close(finding.number.value, px, 1e-6) && finding.number.unit == "px", "{:?}", finding.number);
            assert_eq!(finding.limit.as_ref().unwrap().value, limit);
            assert_eq!((finding.title.as_str(), &finding.shells[..]), ("lid lies outside the tile", &[0][..]));
            assert!(close(finding.harm, 0.5, 1e-9));
        } else {
            assert_eq!((border[0].number.value, &border[0].shells[..]), (0.0, &[0][..]));
        }
    }
    let mut brief = Brief::default();
    brief.padding.border_px = Some(1.0);
    let report = report_with(&reaching_out(1.2), &brief);
    assert_eq!(of_kind(&report, FindingKind::Outside)[0].severity, Severity::MustFix);
}

#[test]
fn a_fold_below_sixteen_px_is_a_look() {
    // A flap of half of 0.004 x 0.004 uv, folded back over the square it is attached to: 33.6 px² of a map of 2048, 8.4
    // of 1024.
    let text = "v 0 0 0\nv 1 0 0\nv 1 .005 0\nv 1 1 0\nv 0 1 0\nv 1.005 .0025 0\n\
                vt .1 .1\nvt .9 .1\nvt .9 .104\nvt .9 .9\nvt .1 .9\nvt .896 .102\n\
                f 1/1 2/2 3/3 4/4 5/5\nf 2/2 6/6 3/3\n";
    for (side, severity) in [(2048, Severity::MustFix), (1024, Severity::Look)] {
        let mut brief = Brief::default();
        (brief.map.width_px, brief.map.height_px) = (side, side);
        let report = report_with(text, &brief);
        let [folded] = of_kind(&report, FindingKind::Folded)[..] else { panic!("{:?}", report.findings) };
        assert_eq!((folded.triangles, folded.severity), (1, severity), "{side}");
    }
}
