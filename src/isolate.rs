//! Names in sentences: a name's direction of writing, and control characters in it, must not turn the words around it.
//!
//! Unicode's bidirectional algorithm (UAX #9, isolates: BD8 to BD13, X5a to X6a): what stands between U+2068 and its U+2069
//! is ordered by itself. A name's own isolates are balanced, so that none reaches beyond it; embeddings and overrides end
//! with the isolate they began in. The name itself is kept as it is written.

use std::borrow::Cow;

/// First strong isolate, and pop directional isolate.
const FIRST: char = '\u{2068}';
const POP: char = '\u{2069}';

/// The name as it stands in a sentence: unchanged where it is written from left to right and has no controls.
pub fn isolated(name: &str) -> Cow<'_, str> {
    if !name.chars().any(can_turn) {
        return Cow::Borrowed(name);
    }
    let (mut open, mut closes_outside) = (0, 0);
    for letter in name.chars() {
        match letter {
            '\u{2066}'..=FIRST => open += 1,
            POP if open > 0 => open -= 1,
            POP => closes_outside += 1,
            _ => (),
        }
    }
    let mut out = String::with_capacity(name.len() + 6);
    out.extend(std::iter::repeat_n(FIRST, closes_outside + 1));
    out.push_str(name);
    out.extend(std::iter::repeat_n(POP, open + 1));
    Cow::Owned(out)
}

/// Letters written from right to left (the blocks that Unicode keeps for such scripts), and directional controls.
fn can_turn(letter: char) -> bool {
    matches!(letter,
        '\u{590}'..='\u{8FF}' | '\u{200E}'..='\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..=POP
        | '\u{FB1D}'..='\u{FDFF}' | '\u{FE70}'..='\u{FEFF}' | '\u{10800}'..='\u{10FFF}' | '\u{1E800}'..='\u{1EFFF}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_closed_in_whatever_it_opens_or_closes() {
        for (name, expected) in [
            ("drum_wall", "drum_wall"),
            ("灯籠 фонарь", "灯籠 фонарь"),
            ("مصباح", "\u{2068}مصباح\u{2069}"),
            ("x\u{202E}fdp", "\u{2068}x\u{202E}fdp\u{2069}"),
            ("a\u{2067}b", "\u{2068}a\u{2067}b\u{2069}\u{2069}"),
            ("a\u{2069}\u{202E}b", "\u{2068}\u{2068}a\u{2069}\u{202E}b\u{2069}"),
            ("\u{2066}a\u{2069}\u{2069}", "\u{2068}\u{2068}\u{2066}a\u{2069}\u{2069}\u{2069}"),
        ] {
            assert_eq!(isolated(name), expected);
            let depth = isolated(name).chars().try_fold(0_usize, |depth, letter| match letter {
                '\u{2066}'..=FIRST => Some(depth + 1),
                POP => depth.checked_sub(1),
                _ => Some(depth),
            });
            assert_eq!(depth, Some(0), "{name:?}");
        }
    }
}
