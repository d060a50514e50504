//! Makes the report from the measures.

use super::{
    Area, Counts, DensityReport, File, GAPS_REPORTED, GapRow, HandednessReport, OneSheetReport, Report, SCHEMA,
    SeamsReport, SharedShells, SheetReport, SheetsReport, TextReport, ToReady, Verdict,
};
use crate::brief::Brief;
use crate::findings::{Judged, Names, density_parts, judged, not_judged, shells};
use crate::measure::Measures;
use crate::measure::flat::stretch::Stretch;
use crate::measure::sheet::padding::Gap;
use crate::model::{EdgeKind, Model};
use glam::DVec3;

impl Report {
    /// Puts together what was measured.
    pub fn new(model: &Model, measures: &Measures, brief: &Brief, file: File) -> Self {
        let document = &model.document;
        let diagnostics = model.diagnostics();
        let names = Names::new(model);
        let shells = shells(model, measures, &names);
        let Judged { findings, cause, at_fault } = judged(model, measures, brief, &shells);
        let state = |bits: u8| measures.triangles.state.iter().filter(|&&state| state & bits != 0).count();
        let seam_length = seam_length(model);
        let diagonal = model.bounds().map(|(low, high)| (high - low).length());
        let mut report = Self {
            schema: SCHEMA,
            file,
            counts: Counts {
                positions: document.positions.len(),
                texcoords: document.texcoords.len(),
                normals: document.normals.len(),
                faces: document.face_count(),
                triangles: model.triangle_count(),
                objects: document.objects.len(),
                groups: document.groups.len(),
                materials: document.materials.len(),
                parts: model.part_count,
                shells: model.layout.shell_count,
                seam_edges: model.layout.count(EdgeKind::Seam),
                open_edges: model.layout.count(EdgeKind::Open),
                nonmanifold_edges: model.layout.count(EdgeKind::NonManifold),
                faces_without_uv: model.layout.unmapped_count(),
                degenerate_3d: state(crate::measure::flat::triangles::state::DEGENERATE_3D),
                collapsed_uv: state(crate::measure::flat::triangles::state::COLLAPSED_UV),
            },
            area: Area {
                surface: measures.triangles.surface.iter().sum(),
                uv: measures.triangles.area_uv.iter().sum(),
            },
            stretch: finite(measures.stretch),
            density: DensityReport {
                mean_px_per_unit: measures.density.mean_px_per_unit,
                min_shell: measures.density.min_shell,
                max_shell: measures.density.max_shell,
                max_over_min: measures.density.max_over_min,
                reference: measures.density.reference,
                parts: density_parts(measures, brief, &shells),
            },
            handedness: HandednessReport {
                reversed_triangles: measures.handedness.reversed_triangles,
                reversed_share: measures.handedness.reversed_share,
                flipped_shells: measures.handedness.flipped.iter().filter(|over| **over).count(),
                folded_triangles: measures.handedness.folded_triangles,
                inside_out_parts: measures.handedness.inside_out.iter().filter(|out| **out).count(),
                mirrored_share: measures.sharing.mirrored_share,
            },
            sheet: SheetReport {
                coverage: measures.sheet.coverage,
                overlap_share: measures.sheet.overlap_share,
                overlap_excess: measures.sheet.overlap_excess,
                coverage_sampling_error: measures.sheet.sampling_errors.map(|errors| errors.coverage),
                overlap_share_sampling_error: measures.sheet.sampling_errors.map(|errors| errors.overlap_share),
                overlap_excess_sampling_error: measures.sheet.sampling_errors.map(|errors| errors.overlap_excess),
                outside_share: measures.sheet.outside_share,
                padding_between_px: measures.padding.between.map(|gap| gap.px),
                padding_border_px: measures.padding.border.map(|gap| gap.px),
                gaps: measures.padding.gaps.iter().take(GAPS_REPORTED).map(gap_row).collect(),
                gap_count: measures.padding.gap_count,
                padding_at_least: measures.padding.at_least,
                across_tiles: measures.padding.across.clone(),
                tiles: measures.sheet.tiles.clone(),
            },
            sheets: sheets(measures),
            seams: SeamsReport {
                length: seam_length,
                length_over_diagonal: diagonal.filter(|d| *d > 0.0).map(|d| seam_length / d),
                front: brief.seams.front,
                share_in_front: measures.seams.share_in_front,
                front_over_diagonal: measures.seams.front_over_diagonal,
                exposure: measures.seams.exposure,
                sampling_error: measures.seams.sampling_error,
                rays: measures.seams.rays,
            },
            text: TextReport { text_share: measures.text.text_share },
            sharing: measures
                .sharing
                .pairs
                .iter()
                .map(|pair| SharedShells {
                    a: pair.a,
                    b: pair.b,
                    kind: pair.kind,
                    area_share_a: pair.area_share_a,
                    area_share_b: pair.area_share_b,
                })
                .collect(),
            equal_shells: measures.sharing.equal.clone(),
            sharing_at_least: measures.sharing.at_least,
            shells,
            verdict: Verdict::Ready,
            to_ready: ToReady::default(),
            at_fault,
            cause,
            findings,
            not_judged: not_judged(model, measures, brief),
            intended: 0,
            notes: Vec::new(),
            warnings: diagnostics.kept,
            warning_counts: diagnostics.counts,
        };
        report.judge();
        report
    }
}

fn sheets(measures: &Measures) -> SheetsReport {
    let mut list = Vec::new();
    for (number, one) in measures.sheets.list.iter().enumerate() {
        let (sheet, padding) = measures.of_sheet(number);
        list.push(OneSheetReport {
            name: one.name.clone(),
            materials: one.materials.clone(),
            width_px: one.map.width_px,
            height_px: one.map.height_px,
            coverage: sheet.coverage,
            overlap_share: sheet.overlap_share,
            overlap_excess: sheet.overlap_excess,
            coverage_sampling_error: sheet.sampling_errors.map(|errors| errors.coverage),
            overlap_share_sampling_error: sheet.sampling_errors.map(|errors| errors.overlap_share),
            overlap_excess_sampling_error: sheet.sampling_errors.map(|errors| errors.overlap_excess),
            outside_share: sheet.outside_share,
            padding_between_px: padding.between.map(|gap| gap.px),
            padding_border_px: padding.border.map(|gap| gap.px),
            gap_count: padding.gap_count,
            tiles: sheet.tiles.clone(),
        });
    }
    SheetsReport { by: measures.sheets.by, list }
}

fn gap_row(gap: &Gap) -> GapRow {
    GapRow {
        a: gap.a,
        b: gap.b,
        sheet: gap.sheet,
        tile: gap.tile,
        px: gap.px,
        at_a: gap.at_a.to_array(),
        at_b: gap.at_b.to_array(),
        mip_level: gap.mip_level(),
    }
}

fn seam_length(model: &Model) -> f64 {
    let document = &model.document;
    let position =
        |corner: u32| DVec3::from_array(document.positions[document.corners[corner as usize].position.0 as usize]);
    model
        .layout
        .edges
        .iter()
        .filter(|edge| edge.kind == EdgeKind::Seam)
        .map(|edge| (position(model.next_corner(edge.corner)) - position(edge.corner)).length())
        // An empty sum is -0.
        .fold(0.0, |sum, length| sum + length)
}

/// `None` for infinity: distortion energies of a triangle nearly collapsed on the sheet are not finite.
fn finite(mut stretch: Stretch) -> Stretch {
    let energies = [
        &mut stretch.sander_l2,
        &mut stretch.sander_linf,
        &mut stretch.symmetric_dirichlet_mean,
        &mut stretch.mips_mean,
    ];
    energies.into_iter().for_each(|energy| *energy = energy.filter(|value| value.is_finite()));
    stretch
}
