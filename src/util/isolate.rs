//! Names in sentences: a name's direction of writing, and control characters in it, must not affect the text around it,
//! the terminal or the spreadsheet.
//!
//! Unicode's bidirectional algorithm (UAX #9, isolates: BD8 to BD13, X5a to X6a): what is between U+2068 and its U+2069
//! is ordered by itself. A name's own isolates are balanced, so that none reaches beyond it; embeddings and overrides
//! end with the isolate they began in. The name itself is kept as it is written.
//!
//! Isolates are in the texts of the report themselves, so that terminal, JSON, HTML and page all have them; data keep names
//! as they are. Whole lines go through `printable` where they reach a terminal or a table (`report/text.rs`, `Trouble`,
//! `say`, `csv.rs`), so that no place is forgotten. The page's table has its own copy; both are tested on
//! `tests/cells.json`.

use std::borrow::Cow;

/// First strong isolate, and pop directional isolate.
const FIRST: char = '\u{2068}';
const POP: char = '\u{2069}';

/// The name for use in a sentence: unchanged where it is written from left to right and has no controls.
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

/// The text as one line of a terminal or one cell of a table: controls, line ends and direction changes become blanks.
/// Isolates stay where each has its end.
pub fn printable(text: &str) -> Cow<'_, str> {
    if !text.chars().any(steers) {
        return Cow::Borrowed(text);
    }
    let mut letters: Vec<char> = text.chars().collect();
    let mut open = Vec::new();
    for (at, letter) in letters.iter_mut().enumerate() {
        match *letter {
            FIRST => open.push(at),
            POP if open.pop().is_some() => (),
            other if steers(other) => *letter = ' ',
            _ => (),
        }
    }
    for at in open {
        letters[at] = ' ';
    }
    Cow::Owned(letters.into_iter().collect())
}

/// Controls (C0, DEL, C1), ends of lines and paragraphs, and what opens or closes another direction of writing.
fn steers(letter: char) -> bool {
    letter.is_control() || matches!(letter, '\u{2028}'..='\u{202E}' | '\u{2066}'..=POP)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn control_characters_are_replaced_and_isolates_stay_paired() {
        for (text, expected) in [
            ("drum_wall – 灯籠", "drum_wall – 灯籠"),
            ("\u{2068}مصباح\u{2069}: ready", "\u{2068}مصباح\u{2069}: ready"),
            ("a\u{1b}[31m\u{7}b\r\nc\td\u{7f}", "a [31m b  c d "),
            ("a\u{9b}31m\u{85}b\u{2028}c\u{2029}", "a 31m b c "),
            ("\u{202A}\u{202B}\u{202C}\u{202D}\u{202E}\u{2066}\u{2067}", "       "),
            ("a\u{2068}b", "a b"),
            ("a\u{2069}b\u{2068}c", "a b c"),
            ("\u{2068}a\u{2068}b\u{2069}c", " a\u{2068}b\u{2069}c"),
        ] {
            assert_eq!(printable(text), expected);
        }
        let name = isolated("x\u{202E}\u{2067}fdp");
        assert_eq!(printable(&name), "\u{2068}x  fdp\u{2069} ", "surplus closing characters are removed");
    }

    #[test]
    fn a_name_is_isolated_whatever_it_opens_or_closes() {
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
