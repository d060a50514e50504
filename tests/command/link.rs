//! `link`.

use super::*;
use gridproof::carried::{LinkFailureCode, decode, unwrap};

#[test]
fn a_link_carries_the_model_to_the_named_site() {
    let folder = Folder::new("link");
    let square = folder.file("square.obj", SQUARE);
    let (status, out, err) = run(gridproof().arg("link").arg(&square).args(["--site", "https://example.org/grid/"]));
    assert_eq!(status, 0, "{err}");
    let text = out.strip_prefix("https://example.org/grid/#m=").unwrap().strip_suffix('\n').unwrap();
    let carried = decode(&unwrap(text).unwrap()).unwrap();
    assert_eq!(carried.file.name, "square.obj");
    assert_eq!(carried.file.bytes, SQUARE.len() as u64);
    assert_eq!(carried.document.positions, [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [1.0, 1.0, 0.0], [0.0, 1.0, 0.0]]);
    assert_eq!(carried.document.texcoords[2], [0.9, 0.9]);
    assert!(err.starts_with(&format!("{} characters, ", out.trim_end().len())), "{err}");
    assert!(err.contains("for 2 triangles") && !err.contains("Too long"), "{err}");
    let cut = unwrap(&text[..text.len() - 9]).unwrap_err();
    assert_eq!(cut.code, LinkFailureCode::CutShort);
}

#[test]
fn without_a_site_the_link_is_for_localhost_and_says_so() {
    let folder = Folder::new("link-here");
    let (status, out, err) = run(gridproof().arg("link").arg(folder.file("square.obj", SQUARE)));
    assert_eq!(status, 0, "{err}");
    assert!(out.starts_with("http://localhost:8137/#m="), "{out}");
    assert!(err.contains("gridproof serve") && err.contains("--site"), "{err}");
}

#[test]
fn a_long_link_warns_where_it_is_too_long() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/lantern-revised.obj");
    let (status, out, err) = run(gridproof().arg("link").arg(demo));
    assert_eq!(status, 0, "{err}");
    assert!((8_000..1_000_000).contains(&out.len()), "{}", out.len());
    for (who, told) in [("chats", true), ("mail", true), ("Firefox", false), ("Chromium", false)] {
        assert_eq!(err.contains(&format!("Too long for {who}")), told, "{who}: {err}");
    }
}

#[test]
fn a_model_that_a_link_cannot_carry_is_refused_with_advice() {
    let folder = Folder::new("link-far");
    let far = folder.file("far.obj", "v 0 0 0\nv 1e14 0 0\nv 0 1 0\nf 1 2 3\n");
    let (status, out, err) = run(gridproof().arg("link").arg(far));
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("far.obj") && err.contains("beyond") && err.contains("send the file"), "{err}");
}
