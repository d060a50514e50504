//! Files that give no document.

use super::*;

#[test]
fn empty() {
    for file in ["", "\n\n  \r\n", "\u{FEFF}", "\t"] {
        assert_eq!(fails(file).code, FailureCode::Empty, "{file:?}");
    }
}

#[test]
fn without_faces_the_error_lists_the_statements() {
    let failure = fails(TRIANGLE);
    assert_eq!(failure.code, FailureCode::NoFaces);
    assert!(failure.message.contains("3 positions"), "{failure}");
    assert_eq!(fails("# only a comment\n").code, FailureCode::NoFaces);
}

#[test]
fn without_a_valid_face_the_error_has_the_first_reason() {
    let failure = fails("v 0 0 0\nf 1 2 3\n");
    assert_eq!((failure.code, failure.line), (FailureCode::NoFaces, 2));
    assert_eq!(failure.diagnostics.count(Kind::PositionOutOfRange), 1);
    assert!(failure.message.contains("line 2"), "{failure}");
}

#[test]
fn other_kinds_of_files() {
    let wide: Vec<u8> = TRIANGLE.encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert_eq!(fails(wide).code, FailureCode::Utf16);
    assert_eq!(fails(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR").code, FailureCode::Binary);
    assert_eq!(fails("{\"meshes\": []}").code, FailureCode::LooksLikeOtherText);
    let codes =
        serde_json::to_value([FailureCode::Utf16, FailureCode::LooksLikeOtherText, FailureCode::NoFaces]).unwrap();
    assert_eq!(codes, serde_json::json!(["utf16", "looks-like-other-text", "no-faces"]));
}

#[test]
fn a_refused_reader_stays_refused() {
    let mut reader = Reader::new(None);
    let noise: Vec<u8> = (0..4096u32).map(|i| (i * 7 % 31) as u8).collect();
    assert_eq!(reader.feed(&noise).unwrap_err().code, FailureCode::Binary);
    assert_eq!(reader.feed(TRIANGLE.as_bytes()).unwrap_err().code, FailureCode::Binary);
    assert_eq!(reader.finish().unwrap_err().code, FailureCode::Binary);
}
