//! Colour for terminals. Only verdicts and severities are coloured; nothing depends on colour.

use std::io::IsTerminal;

const STOP: &str = "\x1b[1;31m";
const LOOK: &str = "\x1b[1;33m";
const READY: &str = "\x1b[1;32m";
const INFO: &str = "\x1b[2m";
const PLAIN: &str = "\x1b[0m";

/// Words at a line's beginning, or after the first line's colon, and their colour. The longer of two comes first.
const WORDS: [(&str, &str); 5] =
    [("not ready", STOP), ("ready", READY), ("must fix", STOP), ("look", LOOK), ("info", INFO)];

/// Whether output to `stream` should be coloured: a terminal, and `NO_COLOR` is not set (https://no-color.org).
pub fn wanted(stream: &impl IsTerminal) -> bool {
    let refused = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    stream.is_terminal() && !refused
}

/// A report's text with its verdict and its findings' severities coloured.
pub fn report(text: &str) -> String {
    let mut painted = String::with_capacity(text.len() + 64);
    for (index, line) in text.split_inclusive('\n').enumerate() {
        let start = match index {
            0 => line.rfind(": ").map_or(0, |colon| colon + 2),
            _ => line.len() - line.trim_start().len(),
        };
        let (before, rest) = line.split_at(start);
        let word = WORDS.iter().find(|(word, _)| {
            rest.strip_prefix(word).is_some_and(|after| !after.starts_with(|c: char| c.is_alphanumeric() || c == '-'))
        });
        painted.push_str(before);
        match word {
            Some((word, colour)) => {
                painted.push_str(colour);
                painted.push_str(word);
                painted.push_str(PLAIN);
                painted.push_str(&rest[word.len()..]);
            }
            None => painted.push_str(rest),
        }
    }
    painted
}

#[cfg(test)]
mod tests {
    use super::report;

    #[test]
    fn verdict_and_severities_are_coloured_and_nothing_else_changes() {
        let text = "a: look.obj: not ready\n  must fix  drum  1.9\n  looked  at\n\n  12 positions\n";
        let painted = report(text);
        assert!(
            painted.starts_with("a: look.obj: \x1b[1;31mnot ready\x1b[0m\n  \x1b[1;31mmust fix\x1b[0m  drum"),
            "{painted:?}"
        );
        assert!(painted.contains("\n  looked  at\n"), "{painted:?}");
        let stripped = ["\x1b[1;31m", "\x1b[0m"].iter().fold(painted, |text, code| text.replace(code, ""));
        assert_eq!(stripped, text);
    }
}
