//! Text from elsewhere made harmless, and counts in words. It knows no terminal and no file.

use std::borrow::Cow;

/// Whether a character steers a terminal or a text's direction instead of being seen: C0 but for line feed and tab, DEL and C1
/// (ECMA-48), bidirectional controls and line separators (Unicode 17, UAX 9), the byte order mark, tags and the deprecated formats.
pub fn hidden(c: char) -> bool {
    matches!(c,
        '\u{0}'..='\u{8}' | '\u{b}'..='\u{1f}' | '\u{7f}'..='\u{9f}'
        | '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{206f}'
        | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}')
}

/// `text` with every hidden character written out as `\u{…}`, so that it can be seen and does nothing.
pub fn harmless(text: &str) -> Cow<'_, str> {
    written_out(text, |c, out| out.extend(c.escape_unicode()))
}

/// The same for a JSON text, which means what it meant: inside strings, where alone they can stand, `\u….` is the same character.
pub fn harmless_json(json: &str) -> Cow<'_, str> {
    written_out(json, |c, out| c.encode_utf16(&mut [0; 2]).iter().for_each(|unit| *out += &format!("\\u{unit:04x}")))
}

/// `text` with another character of as many bytes in each hidden one's place, so that places in it stay what they are.
pub fn blanked(text: &str) -> Cow<'_, str> {
    written_out(text, |c, out| out.push(['?', '\u{bf}', '\u{fffd}', '\u{1f6ab}'][c.len_utf8() - 1]))
}

fn written_out(text: &str, instead: impl Fn(char, &mut String)) -> Cow<'_, str> {
    if !text.contains(hidden) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if hidden(c) { instead(c, &mut out) } else { out.push(c) }
    }
    Cow::Owned(out)
}

/// A number of things in words: `1 run`, `2 runs`, `1 person`, `3 people`.
pub fn count(n: usize, one: &str) -> String {
    format!("{n} {}", plural(n, one))
}

/// The word for so many: `run`, `runs`.
pub fn plural(n: usize, one: &str) -> Cow<'_, str> {
    match (n, one) {
        (1, _) => Cow::Borrowed(one),
        (_, "person") => Cow::Borrowed("people"),
        _ => Cow::Owned(format!("{one}s")),
    }
}

/// The same with its first letter in upper case.
pub fn upper(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A share of 0 to 1 in whole percent: `7 %`.
pub fn percent(share: f64) -> String {
    format!("{:.0} %", share * 100.0)
}

/// Bytes written `%XX` (RFC 3986, 2.1) but for letters, digits and those of `kept`.
pub fn percent_encoded(text: &str, kept: &[u8]) -> String {
    let plain = |b: u8| b.is_ascii_alphanumeric() || kept.contains(&b);
    text.bytes().map(|b| if plain(b) { char::from(b).to_string() } else { format!("%{b:02X}") }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_steers_a_terminal_is_written_out() {
        assert_eq!(harmless("a\u{1b}[31mb"), "a\\u{1b}[31mb");
        assert_eq!(harmless("\u{9d}0;x\u{7}\u{202e}\0\r"), "\\u{9d}0;x\\u{7}\\u{202e}\\u{0}\\u{d}");
        assert!(matches!(harmless("caf\u{e9}\tö \u{1F9F4}\n"), Cow::Borrowed(_)));
    }

    #[test]
    fn a_json_text_stays_what_it_means() {
        let json = serde_json::to_string("\u{9b}\u{202e}\u{e0041}").unwrap();
        let out = harmless_json(&json);
        assert!(!out.contains(hidden), "{out}");
        assert_eq!(serde_json::from_str::<String>(&out).unwrap(), "\u{9b}\u{202e}\u{e0041}");
    }

    #[test]
    fn places_stay_what_they_are() {
        let text = "a\u{1b}\u{9b}\u{202e}\u{e0041}b";
        assert_eq!(blanked(text).len(), text.len());
        assert!(!blanked(text).contains(hidden));
    }

    #[test]
    fn counts_agree_with_their_word() {
        assert_eq!([count(1, "run"), count(0, "run"), count(2, "person")], ["1 run", "0 runs", "2 people"]);
    }
}
