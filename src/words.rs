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

/// The letters, apostrophes and single spaces of `text`, in lower case: the only form a grammar may hold.
pub fn plain(text: &str) -> String {
    let kept: String =
        text.to_lowercase().chars().map(|c| if c.is_ascii_lowercase() || c == '\'' { c } else { ' ' }).collect();
    kept.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::plain;

    #[test]
    fn only_letters_reach_a_grammar() {
        assert_eq!(plain("Step-back \"now\"; O'Hara\\ 9"), "step back now o'hara");
        assert_eq!(plain("  \u{1F9F4} "), "");
    }
}
