//! `grid`, and what `site` never overwrites.

use super::*;

#[test]
fn the_grid_is_a_png_of_the_size_asked_for() {
    let folder = Folder::new("grid");
    let out = folder.0.join("grid.png");
    fs::write(&out, "what was there before is replaced").unwrap();
    let (status, _, err) = run(gridproof().args(["grid", "--width", "512", "--height", "256", "--out"]).arg(&out));
    assert_eq!(status, 0, "{err}");
    let picture = image::open(&out).unwrap();
    assert_eq!((picture.width(), picture.height()), (512, 256));
    let pixels = picture.to_rgb8();
    let first = pixels.get_pixel(5, 5);
    assert!(pixels.pixels().any(|pixel| pixel != first), "there is something on it");
    let lettered = folder.0.join("words.png");
    let (status, _, err) = run(gridproof()
        .args(["grid", "--width", "512", "--height", "256", "--words", "HARBOUR", "--words-size", "64", "--out"])
        .arg(&lettered));
    assert_eq!(status, 0, "{err}");
    assert_ne!(image::open(&lettered).unwrap().to_rgb8(), pixels, "words are set");
    fs::remove_file(&lettered).unwrap();
    let left: Vec<_> = fs::read_dir(&folder.0).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(left, ["grid.png"], "nothing else is left beside it");
}

#[test]
fn a_grid_out_of_bounds_is_refused_with_a_sentence_and_writes_nothing() {
    let folder = Folder::new("grid-bounds");
    let out = folder.0.join("grid.png");
    for arguments in [&["--size", "0"][..], &["--size", "100000"], &["--cell", "0"], &["--cell", "4000000000"]] {
        let (status, _, err) = run(gridproof().args(["grid", "--out"]).arg(&out).args(arguments));
        assert_eq!(status, 2, "{arguments:?}: {err}");
        assert!(err.contains("px"), "{arguments:?}: {err}");
        assert!(!out.exists());
    }
    let nowhere = folder.0.join("missing/grid.png");
    let (status, _, err) = run(gridproof().args(["grid", "--size", "128", "--out"]).arg(&nowhere));
    assert_eq!(status, 2);
    assert!(err.contains(nowhere.to_str().unwrap()), "{err}");
}

#[test]
fn a_folder_with_something_else_in_it_is_never_overwritten() {
    let folder = Folder::new("site");
    let precious = folder.file("precious.txt", "mine");
    let (status, _, err) = run(gridproof().args(["site", "--out"]).arg(&folder.0));
    assert_eq!(status, 2);
    assert!(err.contains("left alone"), "{err}");
    let (status, _, err) = run(gridproof().args(["site", "--out"]).arg(&precious));
    assert_eq!(status, 2);
    assert!(err.contains("is a file"), "{err}");
    assert_eq!(fs::read_to_string(&precious).unwrap(), "mine");
}
