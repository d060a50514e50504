//! Shaders without comments and indentation: removed at compile time, so that the module is smaller.

/// Writes what is left of a shader's text to `out`, as far as it has room, and gives how many bytes that is. Comments are those
/// that end with their line.
const fn strip(text: &[u8], out: &mut [u8]) -> usize {
    let (mut at, mut length, mut is_start) = (0, 0, true);
    while at < text.len() {
        let byte = text[at];
        if byte == b'/' && at + 1 < text.len() && text[at + 1] == b'/' {
            while at < text.len() && text[at] != b'\n' {
                at += 1;
            }
            continue;
        }
        at += 1;
        if is_start && (byte == b' ' || byte == b'\n') {
            continue;
        }
        is_start = byte == b'\n';
        if length < out.len() {
            out[length] = byte;
        }
        length += 1;
    }
    length
}

/// Bytes that are left of a shader's text.
pub(super) const fn bare_length(text: &str) -> usize {
    strip(text.as_bytes(), &mut [])
}

/// What is left of it.
pub(super) const fn bare<const LENGTH: usize>(text: &str) -> [u8; LENGTH] {
    let mut out = [0; LENGTH];
    strip(text.as_bytes(), &mut out);
    out
}

/// The text of a shader of this folder.
macro_rules! shader {
    ($file:literal) => {{
        const TEXT: &str = include_str!(concat!("shaders/", $file));
        const BYTES: [u8; $crate::view::shader_text::bare_length(TEXT)] = $crate::view::shader_text::bare(TEXT);
        const BARE: &str = match std::str::from_utf8(&BYTES) {
            Ok(text) => text,
            // Cannot be reached, and would stop the build: what is taken away are whole comments and spaces, of ASCII at both ends.
            Err(_) => panic!("only whole comments and spaces are taken away"),
        };
        BARE
    }};
}
pub(super) use shader;

#[cfg(test)]
mod tests {
    #[test]
    fn only_comments_and_indentation_are_removed() {
        let text = "// What it is.\n#ifdef STAGE\n  float half_ = 1.0 / 2.0; // and so on\n\n#endif\n";
        let mut out = [0; 64];
        let length = super::strip(text.as_bytes(), &mut out);
        assert_eq!(&out[..length], b"#ifdef STAGE\nfloat half_ = 1.0 / 2.0; \n#endif\n");
        assert_eq!(super::bare_length(text), length);
    }

    #[test]
    fn a_shader_keeps_its_statements() {
        let text = shader!("patterns.glsl");
        assert!(!text.contains("//") && !text.contains("\n ") && text.contains("float pattern(uint kind, "));
    }
}
