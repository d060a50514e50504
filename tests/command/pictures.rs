//! Pictures and pages as files.

use super::*;

#[test]
fn sheet_picture_and_page_are_written_and_invalid_options_reported() {
    let folder = Folder::new("pictures");
    let square = folder.file("square.obj", SQUARE);
    let (svg, png, stage, page) =
        (folder.0.join("s.svg"), folder.0.join("s.png"), folder.0.join("m.png"), folder.0.join("r.html"));
    let (status, _, err) = run(gridproof().arg("sheet").arg(&square).arg("--out").arg(&svg).args(["--ground", "grid"]));
    assert_eq!(status, 0, "{err}");
    assert!(fs::read_to_string(&svg).unwrap().contains("data:image/png;base64,"));
    let (status, _, err) = run(gridproof().arg("sheet").arg(&square).arg("--out").arg(&png));
    assert_eq!(status, 0, "{err}");
    let size = |file: &Path| {
        let bytes = fs::read(file).unwrap();
        // PNG: width and height are at bytes 16 to 24.
        [16, 20].map(|at| u32::from_be_bytes(bytes[at..at + 4].try_into().unwrap()))
    };
    assert_eq!(size(&png), [2048, 2048]);
    let picture = |more: &[&str]| run(gridproof().arg("picture").arg(&square).arg("--out").arg(&stage).args(more));
    let (status, _, err) = picture(&["--size", "96x64", "--lens", "stretch"]);
    assert_eq!(status, 0, "{err}");
    assert_eq!(size(&stage), [96, 64]);
    let (status, _, err) = picture(&["--finding", "nothing-9"]);
    assert!(status == 2 && err.contains("nothing-9"), "{err}");
    let (status, _, err) = picture(&["--lens", "rainbow"]);
    assert!(status == 2 && err.contains("overlaps"), "{err}");
    let (status, _, err) = picture(&["--lens", "picture"]);
    assert!(status == 2 && err.contains("by the page, not by the command"), "{err}");
    let (status, _, err) = run(gridproof().arg("sheet").arg(&square).args(["--out", "sheet.bmp"]));
    assert!(status == 2 && err.contains(".svg or .png"), "{err}");
    let (status, out, err) = run(gridproof().arg("check").arg(&square).arg("--html").arg(&page));
    assert!(status == 0 && out.contains("ready"), "{out}{err}");
    assert!(fs::read_to_string(&page).unwrap().contains("<h1>"));
    let pages = folder.0.join("pages");
    let other = folder.file("class/other.obj", UNMAPPED);
    let (status, _, err) = run(gridproof().arg("check").args([&square, &other]).arg("--html").arg(&pages));
    assert_eq!(status, 1, "{err}");
    let mut names: Vec<_> =
        fs::read_dir(&pages).unwrap().map(|page| page.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    assert!(names.len() == 2 && names.iter().any(|name| name.ends_with("class-other.obj.html")), "{names:?}");
}
