//! One defect per file: the rest is read, and the defect is reported with its line.

use super::*;

/// A file with one good face before and after the defect, which must both be read.
fn around(defect: &str) -> Document {
    let document =
        ok(format!("{TRIANGLE}vt 0 0\nvt 1 0\nvt 0 1\nvn 0 0 1\nf 1/1/1 2/2/1 3/3/1\n{defect}\nf 3/3/1 2/2/1 1/1/1\n"));
    let last = document.face_count() - 1;
    assert_eq!(position_indices(&document, 0), [0, 1, 2]);
    assert_eq!(position_indices(&document, last), [2, 1, 0]);
    document
}

#[test]
fn face_of_two_corners() {
    for defect in ["f 1/1/1 2/2/1", "f 1", "f", "f   "] {
        let document = around(defect);
        assert_eq!((document.face_count(), raised(&document)), (2, vec![(Kind::TooFewCorners, 9)]), "{defect}");
    }
}

#[test]
fn face_with_index_zero() {
    let document = around("f 1/1/1 0/2/1 3/3/1");
    assert_eq!((document.face_count(), raised(&document)), (2, vec![(Kind::ZeroIndex, 9)]));
    assert!(document.diagnostics.kept[0].message.contains("Corner 2"));
}

#[test]
fn face_with_position_out_of_range() {
    for index in ["4", "-4", "99999999999999999999", "4294967295", "4294967296", "-99999999999999999999"] {
        let document = around(&format!("f 1/1/1 2/2/1 {index}/3/1"));
        assert_eq!((document.face_count(), raised(&document)), (2, vec![(Kind::PositionOutOfRange, 9)]), "{index}");
    }
}

#[test]
fn face_with_a_non_numeric_position() {
    for word in ["a", "/3/1", "//1", "1.0/3/1", "--1", "/"] {
        let document = around(&format!("f 1/1/1 2/2/1 {word}"));
        assert_eq!((document.face_count(), raised(&document)), (2, vec![(Kind::BadCorner, 9)]), "{word}");
    }
}

#[test]
fn face_with_bad_texture_coordinate_is_reported_once() {
    for bad in ["0", "4", "-4", "x", "99999999999"] {
        let document = around(&format!("f 1/{bad}/1 2/{bad}/1 3/3/1"));
        assert_eq!(texcoord_indices(&document, 1), [None, None, Some(2)], "{bad}");
        assert_eq!(raised(&document), [(Kind::BadTexcoordIndex, 9)]);
    }
}

#[test]
fn face_with_bad_normal_is_reported_once() {
    for bad in ["0", "2", "-2", "x", "1/1"] {
        let document = around(&format!("f 1/1/{bad} 2/2/{bad} 3/3/1"));
        assert_eq!(normal_indices(&document, 1), [None, None, Some(0)], "{bad}");
        assert_eq!(raised(&document), [(Kind::BadNormalIndex, 9)]);
    }
}

#[test]
fn face_with_corners_of_two_forms() {
    let document = around("f 1/1/1 2//1 3/3/1");
    assert_eq!(texcoord_indices(&document, 1), [Some(0), None, Some(2)]);
    assert_eq!(raised(&document), [(Kind::MixedCorners, 9)]);
}

#[test]
fn position_that_is_not_a_number_keeps_its_place() {
    for word in ["nan", "-nan", "inf", "1.#IND", "-1.#INF", "1e999", "x", "1.2.3"] {
        let document = around(&format!("v 0 {word} 0\nv 7 8 9\nf 1/1/1 2/2/1 4/3/1\nf 1/1/1 2/2/1 5/3/1"));
        assert!(document.positions[3].iter().all(|x| x.is_nan()), "{word}");
        assert_eq!(document.positions[4], [7., 8., 9.]);
        assert_eq!(document.face_count(), 3);
        assert_eq!(raised(&document), [(Kind::BadNumber, 9), (Kind::UnreadablePosition, 11)]);
    }
}

#[test]
fn huge_and_tiny_numbers_have_no_value_or_are_0() {
    for word in ["1e31", "-1e200", "1,5e300", "1.7976931348623157e308", "1000000000000000000000000000001e1"] {
        let document = around(&format!("v 0 {word} 0\nv 7 8 9\nf 1/1/1 2/2/1 4/3/1\nf 1/1/1 2/2/1 5/3/1"));
        assert!(document.positions[3].iter().all(|x| x.is_nan()), "{word}");
        let of_it = |raised: &&(Kind, u32)| raised.0 != Kind::DecimalComma;
        let told: Vec<_> = raised(&document).iter().filter(of_it).copied().collect();
        assert_eq!(told, [(Kind::BadNumber, 9), (Kind::UnreadablePosition, 11)]);
        assert!(document.diagnostics.kept.iter().any(|told| told.message.contains("is beyond 1e30")), "{word}");
    }
    for word in ["1e-31", "-1e-300", "5e-324", "1e-400", "0"] {
        let document = around(&format!("v 0 {word} 1e30\nvt {word} 1e-30"));
        assert_eq!((document.positions[3], document.texcoords[3]), ([0.0, 0.0, 1e30], [0.0, 1e-30]), "{word}");
        assert_eq!(raised(&document), [], "{word}");
    }
}

#[test]
fn texture_coordinate_that_is_not_a_number_keeps_its_place() {
    let document = around("vt nan 0\nf 1/4/1 2/2/1 3/3/1");
    assert_eq!(texcoord_indices(&document, 1), [None, Some(1), Some(2)]);
    assert_eq!(raised(&document), [(Kind::BadNumber, 9), (Kind::BadTexcoordIndex, 10)]);
}

#[test]
fn normal_that_is_not_a_number_keeps_its_place() {
    let document = around("vn 0 0 nan\nf 1/1/2 2/2/1 3/3/1");
    assert_eq!(normal_indices(&document, 1), [None, Some(0), Some(0)]);
    assert_eq!(raised(&document), [(Kind::BadNumber, 9), (Kind::BadNormalIndex, 10)]);
}

#[test]
fn too_few_numbers() {
    for defect in ["v 1 2", "v", "vt", "vn 0 1"] {
        assert_eq!(raised(&around(defect)), [(Kind::MissingNumber, 9)], "{defect}");
    }
}

#[test]
fn too_many_numbers() {
    for defect in ["v 1 2 3 4 5", "v 1 2 3 4 5 6 7 8", "vt 1 2 3 4", "vn 0 1 0 0"] {
        assert_eq!(raised(&around(defect)), [(Kind::ExtraNumbers, 9)], "{defect}");
    }
}

#[test]
fn decimal_comma_is_read_and_reported() {
    let document = around("vt 0,25 1,5");
    assert_eq!(document.texcoords[3], [0.25, 1.5]);
    assert_eq!(raised(&document), [(Kind::DecimalComma, 9)]);
    assert!(document.diagnostics.kept[0].message.contains("point"));
}

#[test]
fn names_missing() {
    for defect in ["o", "usemtl ", "mtllib\t"] {
        assert_eq!(raised(&around(defect)), [(Kind::MissingName, 9)], "{defect}");
    }
}

#[test]
fn name_that_is_not_utf8() {
    let mut file = b"usemtl caf\xE9\n".to_vec();
    file.extend(format!("{TRIANGLE}f 1 2 3\nusemtl caf").bytes());
    file.extend(b"\xE9\nf 3 2 1\n");
    let document = ok(file);
    assert_eq!(document.materials, ["café"]);
    assert_eq!(raised(&document), [(Kind::NameEncoding, 1)]);
}

#[test]
fn other_statements_are_counted_once_per_keyword() {
    let document = around("l 1 2\nl 2 3\np 1\nvp 0 0\ncurv 0 1 1 2\nfoo\nfoo bar\nl 1 3");
    assert_eq!(
        raised(&document),
        [
            (Kind::PassedOver, 9),
            (Kind::PassedOver, 11),
            (Kind::PassedOver, 12),
            (Kind::PassedOver, 13),
            (Kind::UnknownStatement, 14)
        ]
    );
    assert!(document.diagnostics.kept[0].message.contains("3 times"));
    assert!(document.diagnostics.kept[4].message.contains("2 times"));
}

#[test]
fn calls_are_never_run() {
    let document = around("call other.obj\ncsh echo hello\ncsh -echo");
    assert_eq!(raised(&document), [(Kind::NeverRun, 9), (Kind::NeverRun, 10)]);
}

#[test]
fn nul_bytes_within_text() {
    let document = around("v 1 2 3\0\0\0\n\0\0");
    assert_eq!(document.positions[3], [1., 2., 3.]);
    assert_eq!(raised(&document), [(Kind::NulBytes, 9), (Kind::NulBytes, 10)]);
}

#[test]
fn cut_short_within_the_last_line() {
    for (tail, kind) in [
        ("f 1 2", Some(Kind::TooFewCorners)),
        ("f 1 2 -", Some(Kind::BadCorner)),
        ("f 1/1 2/1 3/", Some(Kind::MixedCorners)),
        ("v 0 0", Some(Kind::MissingNumber)),
        ("v 0 0 1e-", Some(Kind::BadNumber)),
        ("v", Some(Kind::MissingNumber)),
        ("usemt", Some(Kind::UnknownStatement)),
        ("usemtl", Some(Kind::MissingName)),
        ("f 1 2 3 \\", None),
    ] {
        let document = ok(format!("{TRIANGLE}vt 0 0\nf 1/1 2/1 3/1\n{tail}"));
        assert_eq!(document.diagnostics.count(Kind::CutShort), 1, "{tail}: {:?}", document.diagnostics.kept);
        assert!(kind.is_none_or(|kind| document.diagnostics.count(kind) == 1), "{tail}");
        assert_eq!(document.diagnostics.kept.last().map(|d| d.line), Some(6), "{tail}");
    }
    for whole in ["f 3 2 1", "v 1 2 3", "l 1 2", "# end", "end", "s 1", "  "] {
        let document = ok(format!("{TRIANGLE}f 1 2 3\n{whole}"));
        assert_eq!(document.diagnostics.count(Kind::CutShort), 0, "{whole}");
    }
}

#[test]
fn dropped_faces_are_dropped_from_their_runs() {
    let document = ok(format!(
        "{TRIANGLE}usemtl a\nf 1 2 9\nusemtl b\nf 1 2 3\nusemtl c\nf 1 2 8\nusemtl b\nf 3 2 1\nusemtl d\nf 1 2 7\n"
    ));
    assert_eq!(document.materials, ["a", "b", "c", "d"]);
    assert_eq!(document.face_lines, [7, 11]);
    assert_eq!(document.material_runs, [Run { face: 0, name: 1 }]);
    assert_eq!(document.diagnostics.count(Kind::PositionOutOfRange), 3);
}

#[test]
fn ten_thousand_defects_are_counted_and_few_kept() {
    let document = ok(format!("{TRIANGLE}f 1 2 3\n{}o\n", "f 1 2\n".repeat(10_000)));
    assert_eq!(document.diagnostics.count(Kind::TooFewCorners), 10_000);
    assert_eq!(document.diagnostics.count(Kind::MissingName), 1);
    assert_eq!(document.diagnostics.kept.len(), MAX_KEPT_DIAGNOSTICS);
    assert_eq!(document.diagnostics.left_out(), 10_001 - MAX_KEPT_DIAGNOSTICS as u64);
}
