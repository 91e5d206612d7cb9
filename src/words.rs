//! What a recogniser hears: words with their place and confidence. It says nothing about what they mean.

use crate::time::SampleIndex;
use serde::{Deserialize, Serialize};

/// The recogniser's name for sound that is none of the words it listens for.
pub const FILLER: &str = "[unk]";

/// One recognised word.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Word {
    /// Lower case, as in the recogniser's lexicon.
    pub text: String,
    /// Onset.
    pub start: SampleIndex,
    /// End.
    pub end: SampleIndex,
    /// 0 to 1: the share of competing in-grammar paths that hold this word. Near 1 for most wrong words too.
    pub confidence: f32,
}

/// One place in a phrase, and the words of which one is said there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Slot {
    /// The words, the one that was listed first.
    pub words: Vec<String>,
    /// Whether none of them may be said.
    pub may_lack: bool,
    /// Whether none of them was listed.
    pub added: bool,
}

impl Slot {
    /// This word and no other.
    pub fn of(word: &str) -> Slot {
        Slot { words: vec![word.to_string()], may_lack: false, added: false }
    }

    /// How many things can be said here.
    pub fn ways(&self) -> usize {
        self.words.len() + usize::from(self.may_lack)
    }
}

/// Letters of other alphabets of Latin script, and the English ones that they are heard as.
const ACCENTS: [(&str, &str); 15] = [
    ("àáâãäåā", "a"),
    ("æ", "ae"),
    ("çćč", "c"),
    ("ðď", "d"),
    ("èéêëēėę", "e"),
    ("ìíîïī", "i"),
    ("ł", "l"),
    ("ñń", "n"),
    ("òóôõöøō", "o"),
    ("œ", "oe"),
    ("śš", "s"),
    ("ß", "ss"),
    ("ùúûüū", "u"),
    ("ýÿ", "y"),
    ("źżž", "z"),
];

/// The English letters that a lower-case letter is heard as; none for what is no letter of Latin script. An accent behind its letter is
/// nothing by itself.
fn letters(c: char) -> Option<String> {
    match c {
        'a'..='z' | '\'' => Some(c.into()),
        '\u{2019}' => Some("'".into()),
        '\u{300}'..='\u{36f}' => Some(String::new()),
        _ => ACCENTS.iter().find(|(from, _)| from.contains(c)).map(|(_, to)| to.to_string()),
    }
}

/// The first digit or letter of `text` that [`plain`] has no letter for.
pub fn unheard(text: &str) -> Option<char> {
    text.to_lowercase().chars().find(|c| c.is_alphanumeric() && letters(*c).is_none())
}

/// The letters, apostrophes and single spaces of `text`, in lower case and without accents: the only form a grammar may hold.
pub fn plain(text: &str) -> String {
    let kept: String = text.to_lowercase().chars().map(|c| letters(c).unwrap_or(" ".into())).collect();
    kept.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::{plain, unheard};

    #[test]
    fn only_letters_reach_a_grammar() {
        assert_eq!(plain("Step-back \"now\"; O'Hara\\ 9"), "step back now o'hara");
        assert_eq!(plain("  \u{1F9F4} "), "");
        assert_eq!(plain("Cr\u{e8}me br\u{fb}l\u{e9}e, O\u{2019}Hara"), "creme brulee o'hara");
        assert_eq!(plain("cre\u{300}me"), "creme");
    }

    #[test]
    fn what_would_be_lost_is_found() {
        for (text, lost) in [("area 1", Some('1')), ("\u{437}", Some('\u{437}')), ("na\u{ef}ve \u{2014} yes!", None)] {
            assert_eq!(unheard(text), lost, "{text}");
        }
    }
}
