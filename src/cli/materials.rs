//! Material libraries (MTL) beside a model: which picture each material has. Only that is read of them; the page reads
//! them in `www/model/materials.js`, by the same rules (both are tested with `tests/materials.json`).
//!
//! A library is looked for by the path that the model names, and then by its name alone in the model's own folder. Nothing
//! outside that folder is read, whatever a file names, nor what links lead out of it.

use std::collections::HashMap;
use std::fs::{self, File};
use std::io::Read as _;
use std::path::{Component, Path, PathBuf};

use gridproof::model::Document;

/// Most bytes of a library: ten thousand materials have some 5 MB.
const MOST_BYTES: u64 = 16_000_000;
/// Most libraries of a model. Own choice: exporters write one.
const MOST_LIBRARIES: usize = 64;

/// Options of a map by how many words follow them at least and at most; beyond the least only numbers are taken.
const OPTIONS: [(&str, usize, usize); 14] = [
    ("-blendu", 1, 1),
    ("-blendv", 1, 1),
    ("-bm", 1, 1),
    ("-boost", 1, 1),
    ("-cc", 1, 1),
    ("-clamp", 1, 1),
    ("-colorspace", 1, 1),
    ("-imfchan", 1, 1),
    ("-mm", 2, 2),
    ("-o", 1, 3),
    ("-s", 1, 3),
    ("-t", 1, 3),
    ("-texres", 1, 1),
    ("-type", 1, 1),
];

/// Pictures of a model's materials, and libraries that could not be read.
#[derive(Debug, Default)]
pub struct Found {
    /// Of each material.
    pub pictures: Vec<Option<String>>,
    /// As the model names them.
    pub missing: Vec<String>,
}

/// Reads the libraries of the model in `file`; of standard input none are known.
pub fn find(file: &Path, document: &Document) -> Found {
    let mut found = Found::default();
    if file == Path::new("-") {
        return found;
    }
    let folder = file.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut libraries: Vec<Library> = Vec::new();
    for name in document.material_libraries.iter().take(MOST_LIBRARIES) {
        match path_of(folder, name).and_then(|path| text_of(&path)) {
            Some(text) => libraries.push(read(&text)),
            None => found.missing.push(name.clone()),
        }
    }
    let of = |name: &String| libraries.iter().find_map(|library| library.get(name)).cloned().flatten();
    found.pictures = document.materials.iter().map(of).collect();
    found
}

/// The file that a model means, if it is there.
fn path_of(folder: &Path, name: &str) -> Option<PathBuf> {
    let name = name.replace('\\', "/");
    let base = name.rsplit('/').next().unwrap_or_default();
    [name.as_str(), base].into_iter().map(Path::new).find_map(|path| {
        let is_plain = |part: Component| matches!(part, Component::Normal(_) | Component::CurDir);
        let path = Some(folder.join(path)).filter(|_| path.components().all(is_plain))?;
        let path = fs::canonicalize(path).ok()?;
        let is_inside = path.starts_with(fs::canonicalize(folder).ok()?);
        (is_inside && fs::metadata(&path).ok()?.is_file()).then_some(path)
    })
}

/// UTF-8, or else every byte is the character of the same number, as the reader of OBJ takes names.
fn text_of(path: &Path) -> Option<String> {
    let mut bytes = Vec::new();
    File::open(path).ok()?.take(MOST_BYTES + 1).read_to_end(&mut bytes).ok()?;
    if bytes.len() as u64 > MOST_BYTES {
        return None;
    }
    Some(String::from_utf8(bytes).unwrap_or_else(|error| error.into_bytes().into_iter().map(char::from).collect()))
}

/// Pictures of materials by their names.
type Library = HashMap<String, Option<String>>;

/// Of two materials of one name the later one counts.
fn read(text: &str) -> Library {
    let mut library = Library::new();
    let mut material = None;
    for line in lines(text) {
        let line = trimmed(&line);
        let (keyword, rest) = line.split_at(line.find(is_blank).unwrap_or(line.len()));
        let rest = without_comment(rest);
        match keyword.to_ascii_lowercase().as_str() {
            "newmtl" => {
                let name = rest.split(is_blank).filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ");
                library.insert(name.clone(), None);
                material = Some(name);
            }
            "map_kd" => {
                if let (Some(name), Some(file)) = (&material, file_of(rest)) {
                    library.insert(name.clone(), Some(file));
                }
            }
            _ => {}
        }
    }
    library
}

/// Lines, continued ones put together.
fn lines(text: &str) -> Vec<String> {
    let text = text.replace("\r\n", "\n").replace('\r', "\n");
    let mut lines = vec![String::new()];
    for line in text.split('\n') {
        if let Some(last) = lines.last_mut() {
            last.push_str(line);
            match last.trim_end_matches([' ', '\t']).strip_suffix('\\').map(str::len) {
                Some(length) => {
                    last.truncate(length);
                    last.push(' ');
                }
                None => lines.push(String::new()),
            }
        }
    }
    lines
}

fn is_blank(letter: char) -> bool {
    letter.is_whitespace() || letter == '\u{feff}'
}

fn trimmed(text: &str) -> &str {
    text.trim_matches(is_blank)
}

/// In a name, `#` starts a comment only between blanks.
fn without_comment(text: &str) -> &str {
    let starts = |&(at, _): &(usize, &str)| {
        text[..at].chars().next_back().is_none_or(is_blank) && text[at + 1..].chars().next().is_none_or(is_blank)
    };
    let end = text.match_indices('#').find(starts).map_or(text.len(), |(at, _)| at);
    trimmed(&text[..end])
}

/// The name after a map's options; it may contain blanks.
fn file_of(text: &str) -> Option<String> {
    let mut rest = trimmed(text);
    loop {
        let mut words = rest.split(is_blank).filter(|word| !word.is_empty());
        let option = words.next().unwrap_or_default().to_lowercase();
        let Some(&(_, least, most)) = OPTIONS.iter().find(|(name, ..)| *name == option) else { break };
        let words: Vec<&str> = words.collect();
        // A file may be called as an option is.
        if words.len() < least {
            break;
        }
        let mut count = least;
        while count < most && words.get(count).is_some_and(|word| is_number(word)) {
            count += 1;
        }
        for _ in 0..=count {
            rest = rest.find(is_blank).map_or("", |end| trimmed(&rest[end..]));
        }
    }
    let inner = rest.strip_prefix('"').and_then(|rest| rest.strip_suffix('"')).unwrap_or(rest);
    Some(trimmed(inner).to_owned()).filter(|file| !file.is_empty())
}

/// A decimal number, perhaps with an exponent.
fn is_number(word: &str) -> bool {
    let is_figure = |letter: u8| letter.is_ascii_digit() || b"+-.eE".contains(&letter);
    word.bytes().all(is_figure) && word.parse::<f64>().is_ok()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use serde_json::Value;

    #[test]
    fn libraries_are_read_the_same_as_in_the_page() {
        let cases: Value = serde_json::from_str(include_str!("../../tests/materials.json")).unwrap();
        let lines = cases["maps"].as_array().unwrap();
        assert!(lines.len() > 10);
        for case in lines {
            let line = case["line"].as_str().unwrap();
            let library = read(&format!("newmtl a\n{line}\n"));
            assert_eq!(library["a"].as_deref(), case["file"].as_str(), "{line}");
        }
        for case in cases["libraries"].as_array().unwrap() {
            let text = case["text"].as_str().unwrap();
            let expected: Library = serde_json::from_value(case["pictures"].clone()).unwrap();
            assert_eq!(read(text), expected, "{text}");
        }
    }

    #[test]
    fn nothing_outside_the_models_folder_is_read() {
        let folder = std::env::temp_dir().join(format!("gridproof-materials-{}", std::process::id()));
        let inside = folder.join("model");
        fs::create_dir_all(inside.join("maps.mtl")).unwrap();
        fs::write(inside.join("own.mtl"), "newmtl a").unwrap();
        fs::write(inside.join("secret.mtl"), "newmtl a").unwrap();
        fs::write(folder.join("out.mtl"), "newmtl a").unwrap();
        let found = |name: &str| path_of(&inside, name);
        let own = fs::canonicalize(inside.join("own.mtl")).unwrap();
        for name in ["own.mtl", "./own.mtl", "C:\\props\\own.mtl", "/etc/own.mtl", "../elsewhere/own.mtl"] {
            assert_eq!(found(name).as_ref(), Some(&own), "{name}");
        }
        let out = folder.join("out.mtl");
        for name in ["../out.mtl", out.to_str().unwrap(), "gone.mtl", "maps.mtl", "", ".."] {
            assert_eq!(found(name), None, "{name}");
        }
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink(&out, inside.join("link.mtl")).unwrap();
            assert_eq!(found("link.mtl"), None);
        }
        fs::remove_dir_all(folder).unwrap();
    }
}
