//! Bytes as letters an address may hold: base64url without padding (RFC 4648 section 5; padding is left out as section
//! 3.2 allows where the length is known).

const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";

/// Four letters for three bytes, two or three for the rest.
pub fn to_base64url(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let bits = three.iter().fold(0u32, |bits, &byte| bits << 8 | u32::from(byte)) << (8 * (3 - three.len()));
        (0..=three.len()).for_each(|place| text.push(char::from(LETTERS[(bits >> (18 - 6 * place) & 63) as usize])));
    }
    text
}

/// The bytes; `Err` with the place of the first character that cannot be there, from 0. As section 3.5 asks, unused
/// bits must be zero, so that no two texts mean the same bytes.
pub fn from_base64url(text: &str) -> Result<Vec<u8>, usize> {
    let mut bytes = Vec::with_capacity(text.len() / 4 * 3 + 2);
    let (mut bits, mut held) = (0u32, 0);
    for (place, letter) in text.bytes().enumerate() {
        let value = match letter {
            b'A'..=b'Z' => letter - b'A',
            b'a'..=b'z' => letter - b'a' + 26,
            b'0'..=b'9' => letter - b'0' + 52,
            b'-' => 62,
            b'_' => 63,
            _ => return Err(place),
        };
        bits = bits << 6 | u32::from(value);
        held += 6;
        if held >= 8 {
            held -= 8;
            bytes.push((bits >> held) as u8);
            bits &= (1 << held) - 1;
        }
    }
    if held >= 6 || bits != 0 { Err(text.len().saturating_sub(1)) } else { Ok(bytes) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn encoding_matches_the_standard() {
        // RFC 4648, section 10, without padding.
        let vectors = [
            ("", ""),
            ("f", "Zg"),
            ("fo", "Zm8"),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg"),
            ("fooba", "Zm9vYmE"),
            ("foobar", "Zm9vYmFy"),
        ];
        for (bytes, text) in vectors {
            assert_eq!(to_base64url(bytes.as_bytes()), text);
            assert_eq!(from_base64url(text).as_deref(), Ok(bytes.as_bytes()));
        }
        // Section 5: values 62 and 63 are - and _.
        assert_eq!(to_base64url(&[0xFB, 0xEF, 0xFF]), "--__");
        assert_eq!(from_base64url("--__"), Ok(vec![0xFB, 0xEF, 0xFF]));
    }

    #[test]
    fn invalid_characters_are_reported_with_their_position() {
        for (text, place) in
            [("Zm+v", 2), ("Zm/v", 2), ("Zg==", 2), ("Zm 9v", 2), ("Zmé", 2), ("Z", 0), ("Zh", 1), ("Zm9", 2)]
        {
            assert_eq!(from_base64url(text), Err(place), "{text}");
        }
    }

    #[test]
    fn all_bytes_round_trip() {
        let bytes: Vec<u8> = (0..=255).collect();
        for length in 0..bytes.len() {
            assert_eq!(from_base64url(&to_base64url(&bytes[..length])).as_deref(), Ok(&bytes[..length]));
        }
    }
}
