//! The writer: files reproduced byte for byte, edits written as described in `src/obj/write/mod.rs`.

use super::written::{assert_written_again, ranges, write_in_chunks};
use super::*;
use crate::support::{outside_files, outside_meshes};
use gridproof::model::TexcoordId;
use gridproof::obj::write::{Edits, WriteFailureCode, Writer, write};
use proptest::prelude::*;
use std::path::PathBuf;

/// A square in two triangles over an edge whose ends both use.
const SQUARE: &str =
    "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0 0\nvt 1 0 # right\nvt 1 1\nvt 0.0 1.00\nf 1/1 2/2 3/3\nf 1/1 3/3 4/4\n";

enum New {
    Uv(f64, f64),
    /// That of a `vt`, from 1.
    Same(u32),
}

/// The text with new texture coordinates for corners: each has its own.
fn edited(text: &str, changes: &[(&[usize], New)]) -> Result<String, WriteFailureCode> {
    let document = ok(text);
    let mut edits = Edits::new(&document);
    for (corners, new) in changes {
        let new = match *new {
            New::Uv(u, v) => edits.texcoord([u, v], 6).unwrap(),
            New::Same(number) => edits.same_as(TexcoordId::new(number - 1).unwrap()),
        };
        corners.iter().for_each(|&corner| edits.set(&document, corner, new));
    }
    let whole = write(text.as_bytes(), &document, &edits).map_err(|failure| failure.code);
    for size in [1, 2, 3, 7] {
        assert_eq!(write_in_chunks(text.as_bytes(), &document, &edits, size).map_err(|failure| failure.code), whole);
    }
    whole.map(|bytes| String::from_utf8(bytes).unwrap())
}

/// Lines that are only in the first, and only in the second.
fn differing<'a>(old: &'a str, new: &'a str) -> (Vec<&'a str>, Vec<&'a str>) {
    let only =
        |of: &'a str, not: &str| of.split('\n').filter(|line| !not.split('\n').any(|other| other == *line)).collect();
    (only(old, new), only(new, old))
}

#[test]
fn a_texcoord_whose_corners_move_together_is_rewritten_in_place() {
    for (line, expected) in [
        ("vt 1 0 # right", "vt 0.500000 0.125000 # right"),
        ("vt\t1   0 7 \r", "vt\t0.500000   0.125000 7 \r"),
        ("vt 1", "vt 0.500000 0.125000"),
        ("vt 1#", "vt 0.500000 0.125000#"),
        ("vt \\\n  1 \\\r\n 0 \\\n  2", "vt \\\n  0.500000 \\\r\n 0.125000 \\\n  2"),
        ("vt 0.5 0", "vt 0.5 0.125000"),
        ("vt 1,5 .125", "vt 0.500000 .125"),
    ] {
        let text = SQUARE.replace("vt 1 0 # right", line);
        let written = edited(&text, &[(&[1], New::Uv(0.5, 0.125))]).unwrap();
        assert_eq!(written, SQUARE.replace("vt 1 0 # right", expected));
    }
    let both = edited(SQUARE, &[(&[0, 3], New::Uv(0.25, 0.0))]).unwrap();
    assert_eq!(differing(SQUARE, &both), (vec!["vt 0 0"], vec!["vt 0.250000 0"]));
    // What rounds to the corner's own is its own.
    assert_eq!(edited(SQUARE, &[(&[5], New::Uv(1e-9, 0.999_999_9))]).unwrap(), SQUARE);
}

#[test]
fn corners_that_move_apart_get_new_lines_after_the_last_texcoord() {
    let written = edited(SQUARE, &[(&[3], New::Uv(0.25, 0.5)), (&[4], New::Same(3))]).unwrap();
    let expected = "vt 0.0 1.00\nvt 0.250000 0.500000\nvt 1 1\nf 1/1 2/2 3/3\nf 1/5 3/6 4/4\n";
    assert!(written.ends_with(expected), "{written}");
    // One that is not written v, and third numbers.
    let text = SQUARE.replace("vt 1 1\n", "vt 1 1 0.7\n").replace("vt 0 0\n", "vt .0\n");
    let written = edited(&text, &[(&[3], New::Same(1)), (&[4], New::Uv(0.5, 0.5))]).unwrap();
    assert!(written.ends_with("1.00\nvt .0 0\nvt 0.500000 0.500000 0.7\nf 1/1 2/2 3/3\nf 1/5 3/6 4/4\n"), "{written}");
    // All are split: the old line stays.
    let written = edited(SQUARE, &[(&[0], New::Uv(0.25, 0.5)), (&[3], New::Uv(0.75, 0.5))]).unwrap();
    let (gone, new) = differing(SQUARE, &written);
    assert_eq!(gone, ["f 1/1 2/2 3/3", "f 1/1 3/3 4/4"]);
    assert_eq!(new, ["vt 0.250000 0.500000", "vt 0.750000 0.500000", "f 1/5 2/2 3/3", "f 1/6 3/3 4/4"]);
    // One new value, one line, whatever the corners had.
    let written = edited(SQUARE, &[(&[0, 2], New::Uv(0.25, 0.5))]).unwrap();
    assert!(written.ends_with("vt 0.250000 0.500000\nf 1/5 2/2 3/5\nf 1/1 3/3 4/4\n"), "{written}");
}

#[test]
fn other_corners_of_a_texcoord_keep_it() {
    for other in ["l 1/1 2/2", "l 3/3 2/-3", "surf 0 1 0 1 1/2 2/2/1", "f 1/2 2/2 9/2", "fo 1/2 2/2", "f 1/2 \\\n 2/2"]
    {
        let text = format!("{SQUARE}{other} # it\n");
        let written = edited(&text, &[(&[1], New::Uv(0.5, 0.5))]).unwrap();
        let expected = SQUARE.replace("1.00\n", "1.00\nvt 0.500000 0.500000\n").replace("2/2", "2/5");
        let other = other.replace("2/-3", "2/-4");
        assert_eq!(written, format!("{expected}{other} # it\n"));
    }
    // The numbers before the points of a surface are none.
    let text = format!("{SQUARE}surf 0/2 1/2 0/2 1/2 1/1\n");
    assert!(edited(&text, &[(&[1], New::Uv(0.5, 0.5))]).unwrap().contains("vt 0.500000 0.500000 # right"));
}

#[test]
fn new_lines_go_before_a_face_that_precedes_the_last_texcoord() {
    let text = "v 0 0 0\r\nv 1 0 0\r\nv 0 1 0\r\nvt 0 0\r\nvt 1 0\r\nl 1/1 2/3\r\n# head\r\nf 1/1 2/2 3/3\r\nf 1/-2 2/-1 3/4\r\n\
                vt 0 1\r\nf 1/-3 2/-2 3/-1\r\nl 1/9 2/-9 3/0 1/x\r\nvt 1 1\r\nf 1/+1/ 2/+2/ 3/+4/\r\nf -3/-4 -2/-1 -1/-2";
    let written = edited(text, &[(&[2], New::Uv(0.5, 0.5))]).unwrap();
    let expected = "v 0 0 0\r\nv 1 0 0\r\nv 0 1 0\r\nvt 0 0\r\nvt 1 0\r\nl 1/1 2/4\r\n# head\r\nvt 0.500000 0.500000\r\n\
                    f 1/1 2/2 3/3\r\nf 1/-3 2/-2 3/5\r\nvt 0 1\r\nf 1/-4 2/-3 3/-1\r\nl 1/10 2/-10 3/0 1/x\r\nvt 1 1\r\n\
                    f 1/+1/ 2/+2/ 3/+5/\r\nf -3/-5 -2/-1 -1/-2";
    assert_eq!(written, expected);
}

#[test]
fn new_lines_never_follow_a_backslash() {
    let new: &[(&[usize], New)] = &[(&[3], New::Uv(0.25, 0.5))];
    let text = SQUARE.replace("vt 0.0 1.00\n", "vt 0.0 1.00\n# C:\\\n#\n");
    assert!(edited(&text, new).unwrap().contains("1.00\nvt 0.250000 0.500000\n# C:\\\n#\nf 1/1 2/2"));
    let text = SQUARE.replace("vt 0.0 1.00\n", "vt 0.0 1.00 # C:\\\n#\n\n");
    assert!(edited(&text, new).unwrap().contains("# C:\\\n#\nvt 0.250000 0.500000\n\nf 1/1 2/2"));
    let text = SQUARE.replace("vt 0.0 1.00\n", "vt 0.0 1.00 # C:\\ \n");
    let written = edited(&text, &[(&[0], New::Uv(0.25, 0.5))]).unwrap();
    assert!(
        written.contains("vt 1 1\nvt 0.250000 0.500000\nvt 0.0 1.00 # C:\\ \nf 1/4 2/2 3/3\nf 1/1 3/3 4/5\n"),
        "{written}"
    );
    // Where none is before, at the start, behind the mark.
    let text = "\u{feff}# a \\\nf 1 2 3\nv 0 0 0\nv 1 0 0\nv 0 1 0";
    let written = edited(text, &[(&[0, 1, 2], New::Uv(0.5, 0.5))]).unwrap();
    assert_eq!(written, "\u{feff}vt 0.500000 0.500000\n# a \\\nf 1/1 2/1 3/1\nv 0 0 0\nv 1 0 0\nv 0 1 0");
}

#[test]
fn faces_without_texcoords_get_them_in_their_style() {
    let all: &[(&[usize], New)] = &[(&[0], New::Uv(0.0, 0.0)), (&[1], New::Uv(1.0, 0.0)), (&[2], New::Uv(0.0, 1.0))];
    for (face, expected) in [
        ("f 1 2 3", "f 1/1 2/2 3/3"),
        ("f 1/ 2/ 3/ # x", "f 1/1 2/2 3/3 # x"),
        ("f\t1//1 2//1 \\\r 3//1", "f\t1/1/1 2/2/1 \\\r 3/3/1"),
        ("f -3 -2 -1", "f -3/-3 -2/-2 -1/-1"),
        ("f -3//-1 +2// 3/9/1", "f -3/-3/-1 +2/2/ 3/3/1"),
        ("f 1/x 2/0 3/-9", "f 1/1 2/2 3/-1"),
    ] {
        let text = format!("v 0 0 0\rv 1 0 0\rv 0 1 0\rvn 0 0 1\r\r{face}\r");
        let written = edited(&text, all).unwrap();
        let lines = "vt 0.000000 0.000000\rvt 1.000000 0.000000\rvt 0.000000 1.000000\r";
        assert_eq!(written, format!("v 0 0 0\rv 1 0 0\rv 0 1 0\rvn 0 0 1\r\r{lines}{expected}\r"));
    }
}

#[test]
fn unwritable_edits_are_refused_with_a_reason() {
    for outside in ["call part.obj", "csh ls"] {
        let text = format!("{SQUARE}{outside}\n");
        assert!(edited(&text, &[(&[1], New::Uv(0.5, 0.5))]).is_ok());
        assert_eq!(edited(&text, &[(&[3], New::Uv(0.5, 0.5))]), Err(WriteFailureCode::ReachesOutside));
    }
    let document = ok(SQUARE);
    let mut edits = Edits::new(&document);
    assert!(edits.texcoord([f64::NAN, 0.0], 6).is_none() && edits.texcoord([0.0, 1e31], 6).is_none());
    let new = edits.texcoord([0.5, 0.5], 6).unwrap();
    let none = edits.clone();
    edits.set(&document, 3, new);
    for other in [
        SQUARE.replace("vt 1 1\n", ""),
        SQUARE.replace("v 0 1", "\nv 0 1"),
        SQUARE.replace("f 1/1 3/3", "f 1/1 2/2 3/3"),
    ] {
        let failure = write(other.as_bytes(), &document, &edits).unwrap_err();
        assert_eq!(failure.code, WriteFailureCode::Changed);
        assert!(failure.message.contains("Nothing was saved"), "{failure}");
    }
    // It can change at any time.
    let text = SQUARE.replace("1/1 3/3 4/4", "-4/-4 -2/-2 -1/-1");
    for (changed, other) in
        (0..3).flat_map(|pass| ["", "vt 1 1\n", "f 1/1 2/2 3/3\n", "4/-4 "].map(|gone| (pass, gone)))
    {
        let other = if other.is_empty() { other.to_owned() } else { text.replace(other, "") };
        let mut writer = Writer::new(&document, &edits, None);
        let result = (0..3).try_for_each(|pass| {
            writer.feed(if pass < changed { text.as_bytes() } else { other.as_bytes() }, &mut Vec::new());
            writer.end(&mut Vec::new()).map(drop)
        });
        assert_eq!(result.map_err(|failure| failure.code), Err(WriteFailureCode::Changed), "{changed} {other}");
    }
    // A change that moves no line is detected by the digest.
    let (mut writer, mut out) = (Writer::new(&document, &none, Some([7; 32])), Vec::new());
    writer.feed(SQUARE.as_bytes(), &mut out);
    assert_eq!(writer.end(&mut out).unwrap_err().code, WriteFailureCode::Changed);
}

#[test]
fn cases_found_by_fuzzing_are_written_as_edited() {
    // A backslash in the place of the third number took the face behind the new line with it.
    let text = SQUARE.replace("vt 0 0\n", "vt 0 0 2\\ x\n");
    let written = edited(&text, &[(&[0], New::Uv(0.25, 0.5))]).unwrap();
    assert!(written.contains("vt 0.0 1.00\nvt 0.250000 0.500000\nf 1/5"), "{written}");
    // -0 was another number where the reader's first chunk ended in its line, which differs between a file and what is written.
    for padding in 970..1030 {
        let lines = "vn -0 0 1\nv -0 0 0\nv 1 0 0\nv 0 1 -0\nvt 0 0\nf 1/1/1 2/1/1 3/1/1\n";
        let text = format!("#{}\n{lines}", "x".repeat(padding));
        let document = ok(&text);
        assert_eq!(format!("{:?}", document.normals), "[[-0.0, 0.0, 1.0]]", "{padding}");
        assert_eq!(format!("{:?}", document.positions[0]), "[-0.0, 0.0, 0.0]", "{padding}");
        assert_written_again(text.as_bytes(), &document, padding as u64);
    }
}

/// Every available model: the demo's, the meshes and the parser suite's.
fn models() -> Vec<PathBuf> {
    let demo = std::fs::read_dir(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("demo")).unwrap();
    let mut paths: Vec<_> = demo.map(|file| file.unwrap().path()).collect();
    paths.extend(outside_meshes().into_iter().map(|(_, path, _)| path));
    paths.extend(outside_files("parser-suite/tinyobjloader"));
    paths.retain(|path| path.extension().is_some_and(|ending| ending == "obj"));
    paths.sort();
    paths
}

#[test]
fn every_unedited_model_is_written_byte_for_byte() {
    let models = models();
    assert!(models.len() >= 2);
    for path in models {
        let bytes = std::fs::read(&path).unwrap();
        let all = ranges(&bytes, usize::MAX);
        assert_eq!(all, ranges(&bytes, 1021), "{}", path.display());
        let Ok(document) = read(&bytes) else { continue };
        println!("{}: {} statements", path.display(), all.len());
        assert_written_again(&bytes, &document, all.len() as u64);
        assert!(write_in_chunks(&bytes, &document, &Edits::new(&document), 1021).unwrap() == bytes);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_model_is_written_as_edited_in_any_chunks(
        lines in "((f|l|f|fo|surf 0 1 0 1)( -?[1-4](/-?[0-6]?(/1?)?)?){2,5}[ \\\\#]{0,2}(\n|\r\n?)|vt( ([01](.[0-9]{1,8})?|[01]|-0|[01].5|x|2\\\\)){1,4}( ?#\\\\?)?(\n|\r\n?)|# ?\\\\?\n|g a\n){1,14}",
        size in 1usize..40,
        chance in any::<u64>(),
    ) {
        let text = format!("v 0 0 0\nv 1 0 0\nv 0 1 0\nv 1 1 0\n{lines}");
        prop_assert_eq!(ranges(text.as_bytes(), usize::MAX), ranges(text.as_bytes(), size));
        if let Ok(document) = read(text.as_bytes()) {
            assert_written_again(text.as_bytes(), &document, chance);
        }
    }
}
