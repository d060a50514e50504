//! Sheets: which ones a model has, what is measured on each, and textures that repeat or are palettes; closed forms.

use crate::support::close;
use gridproof::brief::{Brief, SheetGroup, SheetsAsked, Tiles};
use gridproof::findings::{FindingKind, Severity};
use gridproof::measure::Measures;
use gridproof::measure::sheet::sheets::SplitBy;
use gridproof::model::Model;
use gridproof::report::{File, Report, Verdict, text};
use proptest::prelude::*;
use serde_json::{Value, json};

/// A square of side 1 on the surface as u0, v0, u1, v1 on the sheet; mirrored where u1 < u0.
type Square<'a> = (&'a str, [f64; 4]);

/// Squares side by side on the surface, each with its own material.
fn squares(rows: &[Square]) -> String {
    let mut text = String::new();
    for (index, (material, [u0, v0, u1, v1])) in rows.iter().enumerate() {
        if !material.is_empty() {
            text += &format!("usemtl {material}\n");
        }
        for (x, y, u, v) in [(0, 0, u0, v0), (1, 0, u1, v0), (1, 1, u1, v1), (0, 1, u0, v1)] {
            text += &format!("v {} {y} 0\nvt {u:?} {v:?}\n", 2 * index + x);
        }
        text += "f -4/-4 -3/-3 -2/-2 -1/-1\n";
    }
    text
}

fn report_of(rows: &[Square], pictures: &[&str], brief: &Brief) -> (Report, SheetsAsked) {
    report_of_text(&squares(rows), pictures, brief)
}

/// Report, and the split as a value of the brief. `pictures`: of each material, none where it is empty.
fn report_of_text(obj: &str, pictures: &[&str], brief: &Brief) -> (Report, SheetsAsked) {
    let mut model = Model::new(gridproof::obj::read(obj.as_bytes()).unwrap());
    model.pictures = pictures.iter().map(|name| Some((*name).to_owned()).filter(|name| !name.is_empty())).collect();
    let measures = Measures::new(&model, brief);
    (Report::new(&model, &measures, brief, File::default()), measures.sheets.fixed())
}

fn asking(sheets: SheetsAsked) -> Brief {
    let mut brief = Brief::default();
    brief.map.sheets = sheets;
    brief
}

fn with_tiles(tiles: Tiles) -> Brief {
    let mut brief = Brief::default();
    brief.map.tiles = tiles;
    brief
}

fn group(name: &str, materials: &[&str], size: Option<[u32; 2]>) -> SheetGroup {
    SheetGroup {
        name: name.to_owned(),
        materials: materials.iter().map(|&name| name.to_owned()).collect(),
        width_px: size.map(|size| size[0]),
        height_px: size.map(|size| size[1]),
    }
}

fn kinds(report: &Report) -> Vec<(FindingKind, Severity)> {
    report.findings.iter().map(|finding| (finding.kind, finding.severity)).collect()
}

fn names(report: &Report) -> Vec<&str> {
    report.sheets.list.iter().map(|sheet| sheet.name.as_str()).collect()
}

/// Nearly all of a tile.
const FULL: [f64; 4] = [0.05, 0.05, 0.95, 0.95];

#[test]
fn overlapping_materials_get_a_sheet_each_and_a_question() {
    let rows = [("brass", FULL), ("glass", FULL)];
    let (report, fixed) = report_of(&rows, &[], &Brief::default());
    assert_eq!((report.sheets.by, names(&report)), (SplitBy::Materials, vec!["brass", "glass"]));
    assert_eq!(kinds(&report), [(FindingKind::Sheets, Severity::Look)]);
    let finding = &report.findings[0];
    assert_eq!((finding.id.as_str(), finding.number.value, &finding.shells), ("sheets", 1.0, &vec![0, 1]));
    assert_eq!(finding.title, "Materials brass and glass lie on one another");
    assert_eq!(report.verdict, Verdict::Look);
    assert!(report.sharing.is_empty() && report.sheet.overlap_share == Some(0.0));
    assert!(close(report.sheet.coverage, 0.81, 1e-9), "{}", report.sheet.coverage);
    assert_eq!(report.shells.iter().map(|shell| shell.sheet).collect::<Vec<_>>(), [0, 1]);

    // What was assumed can be set in the brief, and is then no finding.
    assert_eq!(fixed, SheetsAsked::ByMaterial);
    let (report, _) = report_of(&rows, &[], &asking(fixed));
    assert_eq!((report.sheets.by, report.verdict), (SplitBy::Brief, Verdict::Ready));

    let (report, _) = report_of(&rows, &[], &asking(SheetsAsked::One));
    assert_eq!((report.sheets.by, names(&report)), (SplitBy::Brief, vec!["sheet"]));
    assert_eq!(kinds(&report), [(FindingKind::Stacked, Severity::Look)]);
}

#[test]
fn textures_decide_sheets_before_overlaps() {
    let rows = [("brass", FULL), ("glass", FULL)];
    let (report, fixed) = report_of(&rows, &["maps/brass.png", "maps/glass.png"], &Brief::default());
    assert_eq!((report.sheets.by, names(&report)), (SplitBy::Pictures, vec!["brass.png", "glass.png"]));
    assert_eq!((kinds(&report), report.verdict), (vec![], Verdict::Ready));
    let (again, _) = report_of(&rows, &[], &asking(fixed));
    assert_eq!((again.sheets.by, again.sheets.list), (SplitBy::Brief, report.sheets.list));

    // One picture, in any spelling: one sheet, and the overlap is a finding.
    let (report, _) = report_of(&rows, &["maps\\Atlas.PNG", "./maps/atlas.png"], &Brief::default());
    assert_eq!((report.sheets.by, names(&report)), (SplitBy::Pictures, vec!["atlas.png"]));
    assert_eq!(kinds(&report), [(FindingKind::Stacked, Severity::Look)]);

    // Two pictures of one name in two folders are two.
    let (report, _) = report_of(&rows, &["a/base.png", "b/base.png"], &Brief::default());
    assert_eq!(names(&report), ["a/base.png", "b/base.png"]);
}

#[test]
fn materials_without_textures_share_one_sheet_unless_they_overlap() {
    let left = [0.05, 0.05, 0.45, 0.95];
    let right = [0.55, 0.05, 0.95, 0.95];
    let pictures = ["body.png", "", "", ""];
    let (report, fixed) =
        report_of(&[("body", FULL), ("glass", left), ("rubber", right)], &pictures, &with_squares_of_any_shape());
    assert_eq!((report.sheets.by, names(&report)), (SplitBy::Pictures, vec!["body.png", "the rest"]));
    assert_eq!(report.sheets.list[1].materials, ["glass", "rubber"]);
    assert_eq!(report.verdict, Verdict::Ready);
    let expected = [group("body.png", &["body"], None), group("the rest", &["glass", "rubber"], None)];
    assert_eq!(fixed, SheetsAsked::Groups(expected.to_vec()));

    let rows = [("body", FULL), ("glass", left), ("rubber", left)];
    let (report, fixed) = report_of(&rows, &pictures, &with_squares_of_any_shape());
    assert_eq!((report.sheets.by, names(&report)), (SplitBy::Pictures, vec!["body.png", "glass", "rubber"]));
    let found = kinds(&report);
    assert!(found.contains(&(FindingKind::Sheets, Severity::Look)), "{found:?}");
    assert!(found.iter().all(|(kind, _)| [FindingKind::Sheets, FindingKind::Coverage].contains(kind)), "{found:?}");

    // Faces without a material count as one material, also where the split is set in the brief.
    let rows = [("", FULL), ("body", FULL)];
    let (report, none_fixed) = report_of(&rows, &["body.png"], &Brief::default());
    assert_eq!(report.sheets.list.iter().map(|sheet| sheet.materials.clone()).collect::<Vec<_>>(), [["body"], [""]]);
    for (rows, fixed) in [(&rows[..], none_fixed), (&[("body", FULL), ("glass", left), ("rubber", left)][..], fixed)] {
        let first = report_of(rows, &["body.png"], &Brief::default()).0;
        let again = report_of(rows, &[], &asking(fixed)).0;
        assert_eq!(again.sheets.list, first.sheets.list);
    }
}

#[test]
fn a_small_overlap_is_a_finding_and_no_second_sheet() {
    let (report, fixed) = report_of(
        &[("brass", [0.05, 0.05, 0.48, 0.95]), ("glass", [0.52, 0.05, 0.95, 0.95])],
        &[],
        &with_squares_of_any_shape(),
    );
    assert_eq!((report.sheets.by, names(&report), fixed), (SplitBy::One, vec!["sheet"], SheetsAsked::One));
    assert_eq!(report.sheets.list[0].materials, ["brass", "glass"]);
    assert_eq!(report.verdict, Verdict::Ready);
    // Of both, 0.1 of 0.5 lies on the other one.
    for (from, split) in
        [(0.45, SplitBy::One), (0.301, SplitBy::One), (0.3, SplitBy::Materials), (0.1, SplitBy::Materials)]
    {
        let rows = [("brass", [0.05, 0.05, 0.55, 0.55]), ("glass", [from, 0.05, from + 0.5, 0.55])];
        let (report, _) = report_of(&rows, &[], &Brief::default());
        assert_eq!(report.sheets.by, split, "{from}");
        let overlaps = report.findings.iter().filter(|finding| finding.kind == FindingKind::PartialOverlap).count();
        assert_eq!(overlaps, usize::from(split == SplitBy::One), "{from}");
    }
    // A small one that lies wholly on a large one; and one that lies only on the large one's hole.
    let frame = "usemtl frame\nv 0 0 0\nv 4 0 0\nv 4 4 0\nv 0 4 0\nv 1 1 0\nv 3 1 0\nv 3 3 0\nv 1 3 0\nvt 0.1 0.1\nvt 0.9 0.1\nvt 0.9 \
         0.9\nvt 0.1 0.9\nvt 0.3 0.3\nvt 0.7 0.3\nvt 0.7 0.7\nvt 0.3 0.7\nf 1/1 2/2 6/6 5/5\nf 2/2 3/3 7/7 6/6\nf 3/3 4/4 8/8 7/7\nf \
         4/4 1/1 5/5 8/8\n";
    for (plate, split) in [([0.35, 0.35, 0.65, 0.65], SplitBy::One), ([0.15, 0.15, 0.25, 0.25], SplitBy::Materials)] {
        let obj = frame.to_owned() + &squares(&[("plate", plate)]);
        assert_eq!(report_of_text(&obj, &[], &Brief::default()).0.sheets.by, split);
    }
}

/// Neither stretch nor density is a finding.
fn with_squares_of_any_shape() -> Brief {
    let mut brief = Brief::default();
    (brief.stretch.max_anisotropy, brief.density.tolerance_percent) = (100.0, 10_000.0);
    brief
}

#[test]
fn each_sheet_has_its_own_map_size_and_density() {
    // 512 x 512, 1024 x 256 and 2048 x 2048.
    let rows = [
        ("a", [0.0, 0.0, 0.5, 0.5]),
        ("b", [0.1, 0.2, 0.2, 0.6]),
        ("c", [0.25, 0.25, 0.75, 0.5]),
        ("c2", [0.25, 0.5625, 0.5, 0.8125]),
    ];
    let groups = vec![group("small", &["a"], Some([512, 512])), group("wide", &["b"], Some([1024, 256]))];
    let (report, _) = report_of(&rows, &[], &asking(SheetsAsked::Groups(groups)));
    assert_eq!(names(&report), ["small", "wide", "the rest"]);
    let sizes: Vec<_> = report.sheets.list.iter().map(|sheet| (sheet.width_px, sheet.height_px)).collect();
    assert_eq!(sizes, [(512, 512), (1024, 256), (2048, 2048)]);
    let areas = [0.25 * 512.0 * 512.0, 0.04 * 1024.0 * 256.0, 0.125 * 2048.0 * 2048.0, 0.0625 * 2048.0 * 2048.0];
    for (shell, area) in report.shells.iter().zip(areas) {
        assert!(close(shell.density.unwrap(), f64::sqrt(area), 1e-12), "{}", shell.id);
    }
    let mean = (areas.iter().sum::<f64>() / 4.0).sqrt();
    assert!(close(report.density.mean_px_per_unit.unwrap(), mean, 1e-12));
    // 102.4 x 102.4 px is a square on its own map; 1024 x 512 px is none.
    let stretch: Vec<f64> = report.shells.iter().map(|shell| shell.anisotropy_median.unwrap()).collect();
    assert!(close(stretch[1], 1.0, 1e-9) && close(stretch[2], 2.0, 1e-9), "{stretch:?}");
    // Padding in px of the sheet's own map, checked against its default.
    let border = report.sheets.list.iter().map(|sheet| sheet.padding_border_px.unwrap()).collect::<Vec<_>>();
    assert!(border[0] == 0.0 && close(border[1], 51.2, 1e-9) && close(border[2], 384.0, 1e-9), "{border:?}");
    assert_eq!((report.sheet.padding_border_px, report.sheets.list[2].padding_between_px), (Some(0.0), Some(128.0)));
    assert_eq!(report.sheets.list.iter().map(|sheet| sheet.gap_count).collect::<Vec<_>>(), [1, 0, 0]);
    assert_eq!(report.sheet.gaps.iter().map(|gap| (gap.sheet, gap.a, gap.px)).collect::<Vec<_>>(), [(0, 0, 0.0)]);
    let border = report.findings.iter().find(|finding| finding.kind == FindingKind::Border).unwrap();
    assert_eq!((border.id.as_str(), border.sheet), ("border-0-small", Some(0)));
    assert_eq!(border.limit.as_ref().unwrap().value, 2.0);
    assert!(border.place.starts_with("sheet small: "), "{}", border.place);

    // A group of all has its map too.
    let all = vec![group("all", &["a", "b", "c", "c2"], Some([256, 256]))];
    let (report, _) = report_of(&rows, &[], &asking(SheetsAsked::Groups(all)));
    assert!(close(report.shells[0].density.unwrap(), 128.0, 1e-12));
    assert_eq!((names(&report), report.sheets.list[0].width_px), (vec!["all"], 256));
}

#[test]
fn coverage_and_outside_area_are_per_sheet() {
    let rows = [("brass", [0.1, 0.1, 0.4, 0.4]), ("glass", FULL), ("wax", [0.1, 0.1, 1.1, 1.1])];
    let (report, _) = report_of(&rows, &[], &asking(SheetsAsked::ByMaterial));
    let of = |kind: FindingKind| report.findings.iter().filter(move |finding| finding.kind == kind);
    let coverage: Vec<_> = of(FindingKind::Coverage).collect();
    assert_eq!(coverage.len(), 1);
    assert_eq!((coverage[0].id.as_str(), coverage[0].sheet), ("coverage-brass", Some(0)));
    assert_eq!(coverage[0].title, "Little of sheet brass is used");
    assert_eq!(of(FindingKind::Outside).map(|finding| finding.id.as_str()).collect::<Vec<_>>(), ["outside-2-wax"]);
    let sheet = &report.sheet;
    assert!(close(sheet.coverage, (0.09 + 0.81 + 0.81) / 3.0, 1e-9), "{}", sheet.coverage);
    assert!(close(sheet.outside_share.unwrap(), 0.19 / 1.9, 1e-9), "{:?}", sheet.outside_share);
    assert_eq!(report.sheets.list[2].outside_share.map(|share| (share * 1e6).round()), Some(190_000.0));
    let told = text("x.obj", &report);
    assert!(told.contains("\n  sheet brass: coverage 9.0 %, overlap 0.0 %\n"), "{told}");
    // Overlaps within a sheet are found, with the model's own numbers.
    let rows = [("brass", FULL), ("glass", FULL), ("brass", FULL)];
    let (report, _) = report_of(&rows, &[], &asking(SheetsAsked::ByMaterial));
    assert_eq!(report.sharing.iter().map(|pair| (pair.a, pair.b)).collect::<Vec<_>>(), [(0, 2)]);
    assert_eq!(kinds(&report), [(FindingKind::Stacked, Severity::Look)]);
    assert_eq!(report.findings[0].shells, [0, 2]);
    let excess = report.sheet.overlap_excess.unwrap();
    assert!(close(report.sheet.overlap_share.unwrap(), 0.5, 1e-9) && close(excess, 0.5, 1e-9));
}

#[test]
fn a_shell_of_two_materials_is_on_both_sheets_without_overlapping_itself() {
    let strip = "v 0 0 0\nv 1 0 0\nv 2 0 0\nv 2 1 0\nv 1 1 0\nv 0 1 0\nvt 0.1 0.1\nvt 0.5 0.1\nvt 0.9 0.1\nvt 0.9 0.5\nvt 0.5 0.5\nvt \
                 0.1 0.5\nusemtl a\nf 1/1 2/2 5/5 6/6\nusemtl b\nf 2/2 3/3 4/4 5/5\n";
    let (report, _) = report_of_text(strip, &["a.png", "b.png"], &Brief::default());
    assert_eq!((report.counts.shells, report.shells[0].sheet), (1, 0));
    for sheet in &report.sheets.list {
        let border = sheet.padding_border_px.unwrap();
        assert!(close(sheet.coverage, 0.16, 1e-9) && close(border, 204.8, 1e-9), "{border}");
    }
    assert_eq!(kinds(&report), [(FindingKind::Coverage, Severity::Look); 2]);
}

#[test]
fn unknown_materials_in_the_briefs_groups_are_reported() {
    let groups = vec![group("metal", &["brass", "bras"], None), group("none", &["wood"], None)];
    let (report, _) = report_of(&[("brass", FULL), ("glass", FULL)], &[], &asking(SheetsAsked::Groups(groups)));
    assert_eq!(names(&report), ["metal", "the rest"]);
    let finding = &report.findings[0];
    assert_eq!((finding.id.as_str(), finding.severity), ("sheets-names", Severity::Info));
    assert_eq!(finding.title, "No material is called bras or wood");
    assert_eq!(report.verdict, Verdict::Ready);
}

#[test]
fn beyond_the_limit_the_last_sheet_takes_the_rest() {
    let materials: Vec<String> = (0..300).map(|number| format!("m{number}")).collect();
    let rows: Vec<Square> = materials.iter().map(|name| (name.as_str(), FULL)).collect();
    let (report, _) = report_of(&rows, &[], &asking(SheetsAsked::ByMaterial));
    assert_eq!((report.sheets.list.len(), report.sheets.list[255].materials.len()), (256, 45));
    let (report, fixed) =
        report_of(&rows, &materials.iter().map(String::as_str).collect::<Vec<_>>(), &Brief::default());
    assert_eq!((report.sheets.list.len(), report.sheets.list[255].materials.len()), (256, 45));
    assert_eq!(asking(fixed).validate(), Ok(()));
}

#[test]
fn a_repeating_texture_may_overlap_and_tile_but_not_be_stretched_or_flipped() {
    let wall = [("stone", [0.0, 0.0, 4.0, 4.0]), ("stone", [-1.0, 0.5, 3.0, 4.5]), ("trim", [0.0, 0.0, 4.0, 4.0])];
    let (report, _) = report_of(&wall, &[], &with_tiles(Tiles::Repeat));
    assert_eq!((kinds(&report), report.verdict), (vec![], Verdict::Ready));
    assert_eq!(report.sheets.by, SplitBy::One);
    assert_eq!((report.sheet.gap_count, report.sheet.gaps.len()), (0, 0));
    let not_judged = json!(report.not_judged);
    for kind in [
        "mirrored",
        "stacked",
        "partial-overlap",
        "self-overlap",
        "outside",
        "padding",
        "border",
        "coverage",
        "across-tiles",
    ] {
        assert!(not_judged.as_array().unwrap().contains(&json!(kind)), "{kind}: {not_judged}");
    }
    assert!(!not_judged.as_array().unwrap().contains(&json!("stretch")));
    let by_default = report_of(&wall, &[], &Brief::default()).0;
    assert_eq!(
        (json!(by_default.cause.map(|cause| cause.kind)), by_default.verdict),
        (json!("repeating"), Verdict::Look)
    );

    for (wrong, kind) in [
        ([4.0, 0.0, 0.0, 4.0], FindingKind::Flipped),
        ([0.0, 0.0, 8.0, 2.0], FindingKind::Stretch),
        ([0.0, 0.0, 16.0, 16.0], FindingKind::Density),
    ] {
        let mut rows = wall.to_vec();
        rows.push(("stone", wrong));
        let (report, _) = report_of(&rows, &[], &with_tiles(Tiles::Repeat));
        assert!(kinds(&report).contains(&(kind, Severity::MustFix)), "{kind:?}: {:?}", kinds(&report));
    }
}

#[test]
fn faces_on_single_palette_colours_are_no_finding() {
    let spot = |u: f64, v: f64| [u, v, u, v];
    let mut rows = vec![("paint", spot(0.1, 0.1)), ("paint", spot(0.6, 0.1)), ("paint", spot(0.1, 0.1))];
    let (report, _) = report_of(&rows, &[], &with_tiles(Tiles::Palette));
    assert_eq!((kinds(&report), report.verdict), (vec![], Verdict::Ready));
    for kind in [FindingKind::Stretch, FindingKind::Density, FindingKind::Coverage, FindingKind::Flipped] {
        assert!(report.not_judged.contains(&kind), "{kind:?}");
    }
    assert_eq!(report_of(&rows, &[], &Brief::default()).0.verdict, Verdict::NotReady);
    // Not quite a spot, but within a texel.
    rows.push(("paint", [0.3, 0.3, 0.3 + 0.4 / 2048.0, 0.3 + 0.2 / 2048.0]));
    assert_eq!(report_of(&rows, &[], &with_tiles(Tiles::Palette)).0.verdict, Verdict::Ready);

    // Without UVs it is still a finding, and so is a face collapsed to a line.
    let unmapped = squares(&rows) + "f 1 2 3\n";
    let found = kinds(&report_of_text(&unmapped, &[], &with_tiles(Tiles::Palette)).0);
    assert_eq!(found, [(FindingKind::Unmapped, Severity::MustFix)]);
    rows.push(("paint", [0.2, 0.5, 0.4, 0.5]));
    let found = kinds(&report_of(&rows, &[], &with_tiles(Tiles::Palette)).0);
    assert_eq!(found, [(FindingKind::Collapsed, Severity::Look)]);
}

#[test]
fn measures_skipped_for_lack_of_uvs_are_reported() {
    let (report, _) = report_of_text("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", &[], &Brief::default());
    assert_eq!(kinds(&report), [(FindingKind::Unmapped, Severity::MustFix)]);
    assert_eq!(
        json!(report.not_judged),
        json!([
            "flipped",
            "folded",
            "stretch",
            "density",
            "partial-overlap",
            "self-overlap",
            "mirrored",
            "stacked",
            "outside",
            "collapsed",
            "across-tiles",
            "padding",
            "border",
            "coverage",
            "no-area",
            "tilt",
            "seams",
            "text",
            "sheets"
        ])
    );
    let (report, _) = report_of(&[("a", FULL)], &[], &Brief::default());
    assert_eq!(json!(report.not_judged), json!(["across-tiles", "seams", "text"]));
    assert!(text("x.obj", &report).contains("\n  not judged: across-tiles, seams, text\n"));
}

/// So that materials name no parts.
fn in_one_object(rows: &[Square]) -> String {
    "o thing\n".to_owned() + &squares(rows)
}

/// The report's figures without names, with sheets in the order of their first shell.
fn figures(report: &Report) -> Value {
    let mut value = json!(report);
    for sheet in value["sheets"]["list"].as_array_mut().unwrap() {
        sheet["name"] = Value::Null;
        sheet["materials"] = Value::Null;
    }
    for shell in value["shells"].as_array_mut().unwrap() {
        shell["material"] = Value::Null;
    }
    value["counts"]["materials"] = Value::Null;
    for finding in value["findings"].as_array_mut().unwrap() {
        for words in ["id", "title", "where", "advice"] {
            finding[words] = Value::Null;
        }
    }
    // Of several pairs of overlapping materials, one of the same size may be named; equal ones are sorted by their ids.
    let findings = value["findings"].as_array_mut().unwrap();
    findings.retain(|finding| finding["kind"] != "sheets");
    findings.sort_by_key(Value::to_string);
    value
}

/// Squares on a grid of 5 x 5 places of the sheet, some on one another, of a few materials.
fn layout() -> impl Strategy<Value = Vec<(usize, [f64; 4])>> {
    let square = (0..4usize, 0..5u8, 0..5u8, 1..4u8, any::<bool>()).prop_map(|(material, x, y, side, mirrored)| {
        let (u, v, side) = (f64::from(x) / 8.0, f64::from(y) / 8.0, f64::from(side) / 8.0);
        (material, if mirrored { [u + side, v, u, v + side] } else { [u, v, u + side, v + side] })
    });
    prop::collection::vec(square, 1..9)
}

proptest! {
    #[test]
    fn material_names_do_not_change_the_sheets(rows in layout(), shift in 1..4usize) {
        const NAMES: [&str; 4] = ["ash", "birch", "cedar", "dogwood"];
        for sheets in [SheetsAsked::Auto, SheetsAsked::ByMaterial, SheetsAsked::One] {
            let brief = asking(sheets);
            let named = |shift: usize| {
                let rows: Vec<Square> = rows.iter().map(|&(material, uv)| (NAMES[(material + shift) % 4], uv)).collect();
                report_of_text(&in_one_object(&rows), &[], &brief).0
            };
            let (a, b) = (named(0), named(shift));
            prop_assert_eq!(a.sheets.by, b.sheets.by);
            prop_assert_eq!(figures(&a), figures(&b));
        }
    }

    #[test]
    fn merging_materials_that_lie_apart_changes_nothing(rows in layout()) {
        // Each material in its own quarter of the sheet.
        let quarter = |material: usize, [u0, v0, u1, v1]: [f64; 4]| {
            let at = [(material % 2) as f64 / 2.0, (material / 2) as f64 / 2.0];
            [at[0] + u0 / 2.0, at[1] + v0 / 2.0, at[0] + u1 / 2.0, at[1] + v1 / 2.0]
        };
        let named = |name: &dyn Fn(usize) -> &'static str| {
            let rows: Vec<Square> = rows.iter().map(|&(material, uv)| (name(material), quarter(material, uv))).collect();
            report_of_text(&in_one_object(&rows), &[], &Brief::default()).0
        };
        let (apart, merged) = (named(&|material| ["a", "b", "c", "d"][material]), named(&|_| "a"));
        prop_assert_eq!(apart.sheets.by, SplitBy::One);
        prop_assert_eq!(figures(&apart), figures(&merged));
    }

    #[test]
    fn a_fixed_split_gives_the_same_numbers(rows in layout(), pictured in 0..16u8) {
        let names = ["a", "b", "c", "d"];
        let rows: Vec<Square> = rows.iter().map(|&(material, uv)| (names[material], uv)).collect();
        let model = gridproof::obj::read(squares(&rows).as_bytes()).unwrap();
        let pictures: Vec<&str> = model.materials.iter().enumerate()
            .map(|(number, _)| if pictured >> number & 1 == 1 { ["1.png", "2.png"][number % 2] } else { "" }).collect();
        let (first, fixed) = report_of(&rows, &pictures, &Brief::default());
        let brief = asking(fixed);
        prop_assert_eq!(brief.validate(), Ok(()));
        prop_assert_eq!(Brief::from_toml(&brief.to_toml()), Ok(brief.clone()));
        let again = report_of(&rows, &[], &brief).0;
        let numbers = |report: &Report| {
            let mut list = json!(report.sheets.list);
            list.as_array_mut().unwrap().iter_mut().for_each(|sheet| sheet["name"] = Value::Null);
            (list, json!(report.sheet), json!(report.sharing))
        };
        prop_assert_eq!(numbers(&first), numbers(&again));
    }
}
