//! What somebody says afterwards of what they called: an answer to "did you call it?", or a correction after the recap.

use super::{Command, Meaning, STOPS, Vocabulary, split};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// An answer or a correction. A name is one of [`crate::intent::names`].
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Afterwards {
    /// It was called.
    Yes,
    /// It was not.
    No,
    /// It was left unsaid: they say that they went through the step all the same.
    Unsaid,
    /// What goes by this name was called.
    Called(String),
    /// What goes by this name was gone through without a callout.
    CalledNot(String),
    /// What goes by this name was not called, though it was heard.
    Not(String),
    /// The last correction is taken back.
    Undo,
}

/// Answers to whether a step was called. None is the end of another: the ears would not know which of them they hear.
const ANSWERS: [(&str, Afterwards); 11] = [
    ("yes", Afterwards::Yes),
    ("yes i did", Afterwards::Yes),
    ("yes i called it", Afterwards::Yes),
    ("i said it", Afterwards::Yes),
    ("no", Afterwards::No),
    ("no i didn't", Afterwards::No),
    ("i forgot it", Afterwards::No),
    ("i did it but didn't say it", Afterwards::Unsaid),
    ("i did it but i didn't say it", Afterwards::Unsaid),
    ("i did it without saying it", Afterwards::Unsaid),
    ("i did it but i didn't call it", Afterwards::Unsaid),
];

/// What a name is said of.
type Says = fn(String) -> Afterwards;

/// Corrections, with the name of a step behind them.
const CORRECTIONS: [(&str, Says); 10] = [
    ("i did not call ", Afterwards::Not),
    ("i didn't call ", Afterwards::Not),
    ("that was not ", Afterwards::Not),
    ("that wasn't ", Afterwards::Not),
    ("not ", Afterwards::Not),
    ("that was ", Afterwards::Called),
    ("i did call ", Afterwards::Called),
    ("i called ", Afterwards::Called),
    // As "called the" is heard now and then.
    ("i call ", Afterwards::Called),
    ("i said ", Afterwards::Called),
];

/// What may be said behind "I did the toner": that it was not said. One of the last ones has to be.
const UNSAID: [&str; 16] = [
    "but", "i", "did", "not", "didn't", "just", "never", "it", "that", "so", "out", "loud", "say", "saying", "call",
    "calling",
];
const SAID: [&str; 4] = ["say", "saying", "call", "calling"];

/// The name in "I did the toner but I didn't say it", or "… without saying it".
fn unsaid(sentence: &str) -> Option<&str> {
    let rest = sentence.strip_prefix("i did ")?;
    let (name, behind) = rest.split_once(" but ").or_else(|| rest.split_once(" without "))?;
    let mut words = behind.split(' ');
    (words.clone().all(|w| UNSAID.contains(&w)) && words.any(|w| SAID.contains(&w))).then_some(name)
}

/// Corrections of each name, as they are expected.
pub(super) const LINES: &str = "\
that was the *|that was *|i did call the *|i called the *|i did the * but didn't say it|i did the * but i didn't say it|not the *|that was not the *";
/// The last one taken back.
pub(super) const UNDO: [&str; 2] = ["undo", "undo that"];

/// What a sentence corrects; `known`: whether it is the name of a step. Every word of it counts, as in a question.
pub(super) fn corrected(sentence: &str, known: impl Fn(&str) -> bool) -> Option<Afterwards> {
    if UNDO.contains(&sentence) {
        return Some(Afterwards::Undo);
    }
    let bare = |name: &str| {
        ["the ", "a ", "my "].iter().find_map(|small| name.strip_prefix(small)).unwrap_or(name).to_string()
    };
    let named = |name: &str| [name.to_string(), bare(name)].into_iter().find(|name| known(name));
    if let Some(name) = unsaid(sentence) {
        return named(name).map(Afterwards::CalledNot);
    }
    CORRECTIONS.iter().find_map(|(before, means)| Some(means(named(sentence.strip_prefix(before)?)?)))
}

impl Vocabulary {
    /// Answers to whether a step was called, and what stops everything.
    pub fn answers() -> Vocabulary {
        let answers = ANSWERS.iter().map(|(words, answer)| (split(words), Meaning::Afterwards(answer.clone())));
        let stops = STOPS.map(|stop| (split(stop), Meaning::Command(Command::StopEverything)));
        Vocabulary { phrases: answers.chain(stops).collect::<BTreeMap<_, _>>(), ..Vocabulary::default() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corrections_are_known_by_all_their_words() {
        let names = ["toner", "drape the hair", "steam towel", "towel", "my own cream"];
        let corrects = |sentence: &str| corrected(sentence, |name| names.contains(&name));
        let check =
            |sentence: &str, expected: Option<Afterwards>| assert_eq!(corrects(sentence), expected, "{sentence}");
        check("that was drape the hair", Some(Afterwards::Called("drape the hair".into())));
        check("that was the toner", Some(Afterwards::Called("toner".into())));
        check("i called the steam towel", Some(Afterwards::Called("steam towel".into())));
        check("i call the steam towel", Some(Afterwards::Called("steam towel".into())));
        check("i called my own cream", Some(Afterwards::Called("my own cream".into())));
        check("not the towel", Some(Afterwards::Not("towel".into())));
        check("that was not the toner", Some(Afterwards::Not("toner".into())));
        check("i did the toner but i didn't say it", Some(Afterwards::CalledNot("toner".into())));
        check("i did my own cream without calling it", Some(Afterwards::CalledNot("my own cream".into())));
        check("undo that", Some(Afterwards::Undo));
        for other in [
            "that was better than last time",
            "how was that",
            "not",
            "i called it",
            "that was the toner again",
            "i did the toner but i dropped it",
        ] {
            check(other, None);
        }
    }
}
