//! What a file looks like by its first bytes, where that is not an OBJ.
//!
//! Signatures are those of the formats' own specifications and of the registered media types; only open formats are named.

use super::{FailureCode, ReadFailure};

/// Bytes looked at before anything is read.
pub(super) const SNIFF_BYTES: usize = 1024;

/// Share of control bytes from which a file is not text: text has next to none, machine data about one in eight.
const BINARY_SHARE: f64 = 0.1;

/// Share of NULs among every second byte from which text is two bytes a character.
const UTF16_SHARE: f64 = 0.4;

/// First bytes and their format.
const SIGNATURES: &[(&[u8], &str)] = &[
    (b"\x89PNG\r\n\x1a\n", "a PNG picture"),
    (b"\xFF\xD8\xFF", "a JPEG picture"),
    (b"GIF87a", "a GIF picture"),
    (b"GIF89a", "a GIF picture"),
    (b"RIFF", "a RIFF file (WebP picture, sound or film)"),
    (b"II*\0", "a TIFF picture"),
    (b"MM\0*", "a TIFF picture"),
    (b"\x76\x2f\x31\x01", "an OpenEXR picture"),
    (b"#?RADIANCE", "a Radiance HDR picture"),
    (b"\xABKTX ", "a KTX texture"),
    (b"PK\x03\x04", "a ZIP archive"),
    (b"PK\x05\x06", "an empty ZIP archive"),
    (b"\x1F\x8B", "a GZIP archive"),
    (b"BZh", "a bzip2 archive"),
    (b"\xFD7zXZ\0", "an XZ archive"),
    (b"7z\xBC\xAF\x27\x1C", "a 7z archive"),
    (b"\x28\xB5\x2F\xFD", "a Zstandard archive"),
    (b"Rar!\x1A\x07", "a RAR archive"),
    (b"Kaydara FBX Binary  \0", "an FBX scene"),
    (b"glTF", "a glTF binary (GLB)"),
    (b"%PDF-", "a PDF document"),
    (b"\0asm", "a WebAssembly module"),
    (b"\x7FELF", "a compiled program (ELF)"),
    (b"\x4C\x01", "a compiler's object file (COFF), which has the same ending"),
    (b"\x64\x86", "a compiler's object file (COFF), which has the same ending"),
];

/// Signatures that text could also start with: they count only where no statement of an OBJ follows.
const WEAK_SIGNATURES: &[&[u8]] =
    &[b"RIFF", b"BZh", b"glTF", b"PK\x03\x04", b"PK\x05\x06", b"#?RADIANCE", b"\x4C\x01", b"\x64\x86"];

/// First text of other formats (after blanks, whatever the case) and what they are.
const OTHER_TEXTS: &[(&[u8], &str, &str)] = &[
    (
        b"<!doctype html",
        "a web page",
        "The download may have given an error page in place of the model: fetch the file itself.",
    ),
    (b"<html", "a web page", "The download may have given an error page in place of the model: fetch the file itself."),
    (b"<collada", "a COLLADA scene", EXPORT),
    (b"<svg", "an SVG drawing", EXPORT),
    (b"<x3d", "an X3D scene", EXPORT),
    (b"<", "XML", EXPORT),
    (b"{", "JSON", EXPORT),
    (b"[", "JSON", EXPORT),
    (b"newmtl ", "a material library (MTL)", "Drop the .obj that belongs to it."),
    (b"; fbx ", "an FBX scene", EXPORT),
    (b"ply\n", "a PLY mesh", EXPORT),
    (b"ply\r", "a PLY mesh", EXPORT),
    (b"solid", "an STL mesh", "STL carries no texture coordinates: export the model as OBJ from where it was made."),
    (b"off\n", "an OFF mesh", EXPORT),
    (b"off\r", "an OFF mesh", EXPORT),
    (b"#vrml", "a VRML scene", EXPORT),
    (b"#usda", "a USD scene", EXPORT),
    (b"iso-10303-21", "a STEP file", EXPORT),
    (
        b"version https://git-lfs",
        "a pointer that version control left in place of a large file",
        "Fetch the file itself.",
    ),
];

const EXPORT: &str = "Export the model as OBJ and drop that.";

/// Why the file cannot be an OBJ, if its first bytes say so. `total` is the file's size where known.
pub(super) fn refuse(head: &[u8], total: Option<u64>) -> Option<ReadFailure> {
    if looks_utf16(head) {
        return Some(ReadFailure::new(
            FailureCode::Utf16,
            0,
            "This is text in UTF-16 (two bytes a character); OBJ is plain text in ASCII or UTF-8. Save or convert it as UTF-8 \
             and drop it again.",
        ));
    }
    let statement = holds_statement(head);
    let signature = SIGNATURES
        .iter()
        .find(|(signature, _)| head.starts_with(signature) && !(statement && WEAK_SIGNATURES.contains(signature)));
    if let Some((_, name)) = signature {
        return Some(binary(&format!("By its first bytes this is {name}, not an OBJ.")));
    }
    if statement {
        return None;
    }
    if control_share(head) > BINARY_SHARE {
        return Some(if looks_like_binary_stl(head, total) {
            binary("This looks like a binary STL mesh, not an OBJ; STL carries no texture coordinates.")
        } else {
            binary("This is binary data of no kind known here, not the text of an OBJ.")
        });
    }
    let (name, way_out) = other_text(head)?;
    Some(ReadFailure::new(FailureCode::LooksLikeOtherText, 0, format!("This looks like {name}, not an OBJ. {way_out}")))
}

fn binary(what: &str) -> ReadFailure {
    ReadFailure::new(FailureCode::Binary, 0, format!("{what} {EXPORT}"))
}

/// A line of the head that starts as only an OBJ's does.
fn holds_statement(head: &[u8]) -> bool {
    head.split(|&b| b == b'\n' || b == b'\r').any(|line| {
        let line = line.trim_ascii_start();
        let end = line.iter().position(|b| matches!(b, b' ' | b'\t'));
        end.is_some_and(|end| {
            let number = line[end..].trim_ascii_start().first();
            let number = number.is_some_and(|b| matches!(b, b'0'..=b'9' | b'-' | b'+' | b'.'));
            match &line[..end] {
                b"v" | b"vt" | b"vn" | b"f" => number,
                b"mtllib" | b"usemtl" | b"o" | b"g" => true,
                _ => false,
            }
        })
    })
}

fn looks_utf16(head: &[u8]) -> bool {
    if head.starts_with(b"\xFF\xFE") || head.starts_with(b"\xFE\xFF") {
        return true;
    }
    let share = |first: usize| {
        let zeros = head.iter().skip(first).step_by(2).filter(|&&b| b == 0).count();
        zeros as f64 / (head.len() / 2).max(1) as f64
    };
    let (even, odd) = (share(0), share(1));
    head.len() >= 8 && even.max(odd) > UTF16_SHARE && even.min(odd) < UTF16_SHARE / 8.0
}

fn control_share(head: &[u8]) -> f64 {
    let control = head.iter().filter(|&&b| b < 0x20 && !matches!(b, b'\t' | b'\n' | b'\r' | 0x0C)).count();
    control as f64 / head.len().max(1) as f64
}

/// 80 bytes of anything, the number of triangles, 50 bytes for each.
fn looks_like_binary_stl(head: &[u8], total: Option<u64>) -> bool {
    let Some(&[a, b, c, d]) = head.get(80..84) else { return false };
    let size = 84 + 50 * u64::from(u32::from_le_bytes([a, b, c, d]));
    total.is_some_and(|total| total == size) || head.starts_with(b"solid")
}

fn other_text(head: &[u8]) -> Option<(&'static str, &'static str)> {
    let start = head.trim_ascii_start();
    let starts_with =
        |text: &[u8], what: &[u8]| text.len() >= what.len() && text[..what.len()].eq_ignore_ascii_case(what);
    let name = |text: &[u8]| {
        OTHER_TEXTS.iter().find(|(what, ..)| starts_with(text, what)).map(|&(_, name, way_out)| (name, way_out))
    };
    // XML and material libraries name their format after a declaration or comments.
    let later = start.split(|&b| b == b'\n' || b == b'\r' || b == b'>').map(<[u8]>::trim_ascii_start);
    let passed = |line: &&[u8]| line.is_empty() || line.starts_with(b"<?") || line.starts_with(b"#");
    let specific = later.clone().find(|line| !passed(line)).and_then(name);
    name(start).filter(|(name, _)| *name != "XML").or(specific).or_else(|| name(start))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(head: &[u8]) -> Option<(FailureCode, String)> {
        refuse(head, None).map(|failure| (failure.code, failure.message))
    }

    #[test]
    fn images_and_archives_are_named() {
        for (head, name) in [
            (&b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"[..], "PNG"),
            (b"\xFF\xD8\xFF\xE0\0\x10JFIF", "JPEG"),
            (b"PK\x03\x04\x14\0\0\0", "ZIP"),
            (b"\x1F\x8B\x08\0\0", "GZIP"),
            (b"glTF\x02\0\0\0", "glTF"),
            (b"%PDF-1.7\n", "PDF"),
            (b"7z\xBC\xAF\x27\x1C\0\x04", "7z"),
            (b"Rar!\x1A\x07\x01\0", "RAR"),
            (b"Kaydara FBX Binary  \0\x1A\0\xE8\x1C\0\0", "FBX"),
            (b"\x64\x86\x05\0\0\0\0\0", "COFF"),
            (b"\x00\x01\x02\x03\x04\x80\x90", "no kind known"),
        ] {
            let (code, message) = refused(head).unwrap();
            assert_eq!(code, FailureCode::Binary);
            assert!(message.contains(name), "{message}");
        }
    }

    #[test]
    fn a_binary_stl_is_recognised_by_its_size() {
        let mut file = vec![0u8; 80];
        file.extend(2u32.to_le_bytes());
        file.resize(184, 0);
        let failure = refuse(&file, Some(184)).unwrap();
        assert!(failure.message.contains("STL"), "{}", failure.message);
    }

    #[test]
    fn utf16_is_recognised_with_and_without_a_byte_order_mark() {
        let wide = |text: &str, big: bool| -> Vec<u8> {
            text.encode_utf16().flat_map(|c| if big { c.to_be_bytes() } else { c.to_le_bytes() }).collect()
        };
        for big in [false, true] {
            for text in ["v 0 0 0\nv 1 0 0\n", "\u{FEFF}v 0 0 0\n"] {
                assert_eq!(refused(&wide(text, big)).unwrap().0, FailureCode::Utf16);
            }
        }
    }

    #[test]
    fn other_texts_are_named() {
        for (head, name) in [
            ("{\"asset\": {}}", "JSON"),
            ("<?xml version=\"1.0\"?>\n<COLLADA>", "COLLADA"),
            ("<?xml version=\"1.0\"?><svg>", "SVG"),
            ("<?xml version=\"1.0\"?><thing>", "XML"),
            ("\n<!DOCTYPE html><html>", "web page"),
            ("# made by hand\nnewmtl red\nKd 1 0 0\n", "MTL"),
            ("ply\nformat ascii 1.0\n", "PLY"),
            ("; FBX 7.4.0 project file\n; ----\n", "FBX"),
            ("solid cube\n facet normal 0 0 1\n", "STL"),
            ("version https://git-lfs.github.com/spec/v1\n", "pointer"),
        ] {
            let (code, message) = refused(head.as_bytes()).unwrap();
            assert_eq!(code, FailureCode::LooksLikeOtherText, "{head}");
            assert!(message.contains(name), "{message}");
        }
    }

    #[test]
    fn an_obj_is_accepted_whatever_surrounds_it() {
        for head in [
            &b"v 0 0 0\nv 1 0 0\n"[..],
            b"# {json}\nv 0 0 0",
            b"{ stray\nv 0 0 0",
            b"solid name on the first line\nv 1 2 3\n",
            b"mtllib a.mtl\n\0\0\0\0\0\0\0\0\0\0\0\0\0\0",
            b"\n\n\n",
            b"nothing in particular",
            b"",
        ] {
            assert_eq!(refused(head), None, "{}", String::from_utf8_lossy(head));
        }
    }
}
