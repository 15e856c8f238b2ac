//! What sources say in their string literals, so that no sentence is missed because no test makes it.

use std::path::{Path, PathBuf};

/// Every source file in a folder, and below it.
///
/// # Panics
///
/// When the folder cannot be read.
#[must_use]
pub fn files(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
    let mut files = Vec::new();
    for path in entries.map(|entry| entry.expect("an entry").path()) {
        if path.is_dir() {
            files.extend(self::files(&path, ending));
        } else if path.extension().is_some_and(|found| found == ending) {
            files.push(path);
        }
    }
    files.sort();
    files
}

/// The string literals of a Rust source, tests at its end apart, with lines that go on joined.
#[must_use]
pub fn literals(source: &str) -> Vec<String> {
    let shipped = source.split("#[cfg(test)]").next().unwrap_or_default();
    let mut literals = Vec::new();
    let mut characters = shipped.chars().peekable();
    while let Some(character) = characters.next() {
        match character {
            '/' if characters.peek() == Some(&'/') => {
                characters.by_ref().find(|c| *c == '\n');
            }
            // A quotation mark as a character is no beginning of a literal.
            '\'' if characters.peek() == Some(&'"') => {
                characters.next();
            }
            '"' => literals.push(literal(&mut characters)),
            _ => {}
        }
    }
    literals
}

/// The rest of a literal, up to its end.
fn literal(characters: &mut std::iter::Peekable<std::str::Chars>) -> String {
    let mut literal = String::new();
    while let Some(character) = characters.next() {
        match character {
            '"' => break,
            '\\' => match characters.next() {
                Some('\n') => while characters.next_if(|c| c.is_whitespace()).is_some() {},
                Some('n') => literal.push('\n'),
                Some(escaped) => literal.push(escaped),
                None => {}
            },
            character => literal.push(character),
        }
    }
    literal
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::vocabulary::wrong_words;

    #[test]
    fn a_word_planted_in_a_literal_is_found_and_one_in_a_comment_is_not() {
        let source = "// softer\nfn f() { say(\"it is \\\n    softer than\"); q('\"'); say(\"ok\") }\n\
                      #[cfg(test)]\nmod tests { const X: &str = \"softer\"; }";
        let found = literals(source);
        assert_eq!(found, ["it is softer than", "ok"]);
        assert_eq!(found.iter().flat_map(|text| wrong_words(text)).count(), 1);
    }
}
