//! Characters that steer a terminal or a text's direction, in a file's text or in what its strings stand for. They are made
//! harmless wherever they are shown, so they are warned of and refuse nothing; a file that holds one is worth a look.

use crate::problem::Problem;
use crate::text::hidden;
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// Most problems reported of one file.
const MOST: usize = 20;

/// A warning for each place.
pub(super) fn check(text: &str) -> Vec<Problem> {
    // Line ends of other systems, and a byte order mark in front, are no characters of the text.
    let raw = |(at, c): &(usize, char)| {
        hidden(*c) && (*at, *c) != (0, '\u{feff}') && !(*c == '\r' && text[at + 1..].starts_with('\n'))
    };
    let mut problems: Vec<Problem> =
        text.char_indices().filter(raw).take(MOST).map(|(at, c)| warning(c, at..at + c.len_utf8())).collect();
    if text.contains('\\') {
        tables(DeTable::parse_recoverable(text).0.get_ref(), &mut |value, span| {
            // One that stands there as itself has its warning already.
            if let Some(c) = value.chars().find(|c| hidden(*c) && !text[span.clone()].contains(*c)) {
                problems.push(warning(c, span));
            }
        });
    }
    problems.truncate(MOST);
    problems
}

fn warning(c: char, span: Range<usize>) -> Problem {
    let message = format!("a character that can't be seen, U+{:04X}, is in this text", u32::from(c));
    Problem::warning("S070", span, message).help("take it out; where it is shown it is written out as \\u{…}")
}

fn tables(table: &DeTable, found: &mut impl FnMut(&str, Range<usize>)) {
    for (key, value) in table.iter() {
        found(key.get_ref(), key.span());
        values(value.get_ref(), value.span(), found);
    }
}

fn values(value: &DeValue, span: Range<usize>, found: &mut impl FnMut(&str, Range<usize>)) {
    match value {
        DeValue::String(text) => found(text, span),
        DeValue::Array(items) => items.iter().for_each(|item| values(item.get_ref(), item.span(), found)),
        DeValue::Table(table) => tables(table, found),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places(text: &str) -> Vec<String> {
        check(text)
            .iter()
            .map(|p| format!("{} {}", p.message.split(", ").nth(1).unwrap(), &text[p.span.clone()]))
            .collect()
    }

    #[test]
    fn each_is_found_where_it_stands() {
        assert_eq!(places("\u{feff}a = \"caf\u{e9}\\n\\t\"\r\n# so\n"), [""; 0]);
        assert_eq!(
            places("a = \"\\u001b[2J\"\n[b]\nc = [\"x\", \"\\u0000\"]\n"),
            ["U+001B \"\\u001b[2J\"", "U+0000 \"\\u0000\""]
        );
        assert_eq!(places("a = \"x\u{202e}y\" # \u{9b}\n"), ["U+202E \u{202e}", "U+009B \u{9b}"]);
    }
}
