//! Words to meanings: which callout or command was spoken, and the grammar that the recogniser is given.
//! It doesn't decide which step a callout stands for: several steps may share one.

mod question;

use crate::intent::{Asker, Question};
use crate::section::Section;
use crate::time::{Ms, SampleIndex};
use crate::words::{FILLER, Word};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Longest silence between two words of one phrase.
const LONGEST_GAP: Ms = Ms(700);

/// How often a phrase is listed in the grammar, so that the decoy words don't outweigh it.
const PHRASE_WEIGHT: usize = 3;

/// What a person can ask of the proctor while a section runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Command {
    /// Hold the clock.
    Pause,
    /// Let it go on.
    Resume,
    /// Take the last callout back.
    Undo,
    /// Say how much time is left (coach mode).
    TimeLeft,
    /// Say the last announcement again (coach mode).
    Repeat,
    /// Something fell down.
    DroppedItem,
    /// The section's own finish signal.
    Finished,
    /// End everything at once.
    StopEverything,
}

const COMMANDS: [(&str, Command); 13] = [
    ("pause the clock", Command::Pause),
    ("pause", Command::Pause),
    ("resume the clock", Command::Resume),
    ("resume", Command::Resume),
    ("undo", Command::Undo),
    ("undo that", Command::Undo),
    ("wrong call", Command::Undo),
    ("time left", Command::TimeLeft),
    ("how much time", Command::TimeLeft),
    ("repeat that", Command::Repeat),
    ("dropped item", Command::DroppedItem),
    ("stop everything", Command::StopEverything),
    ("emergency", Command::StopEverything),
];

/// What a phrase means.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Meaning {
    /// A step callout, as its words.
    Callout(String),
    /// A command.
    Command(Command),
    /// A question after the recap, as older journals have it.
    Question(Question),
    /// A sentence after the recap.
    Asked {
        /// Its words.
        words: String,
        /// What it asks; none where it was not understood.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        question: Option<Question>,
        /// The question nearest to one that was not understood.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        nearest: Option<Question>,
    },
    /// A time that was guessed.
    Span(Ms),
}

impl Meaning {
    /// What it stands for in a section, each as a name of its own and a title: steps and named callouts, or the command.
    pub fn stands_for(&self, section: &Section) -> Vec<(String, String)> {
        match self {
            Meaning::Command(command) => vec![(format!("{command:?}"), format!("{command:?}"))],
            Meaning::Callout(say) => {
                let steps =
                    section.steps.iter().filter(|s| s.say.contains(say)).map(|s| (s.id.clone(), s.title.clone()));
                let events =
                    section.events.iter().filter(|e| e.say.contains(say)).map(|e| (e.id.clone(), e.id.clone()));
                steps.chain(events).collect()
            }
            Meaning::Question(_) | Meaning::Asked { .. } | Meaning::Span(_) => vec![],
        }
    }
}

/// A phrase that was heard, with its place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Heard {
    /// What it means.
    pub meaning: Meaning,
    /// Onset of its first word.
    pub start: SampleIndex,
    /// End of its last word.
    pub end: SampleIndex,
    /// The least confidence among its words, 0 to 1.
    pub confidence: f32,
}

fn split(phrase: &str) -> Vec<String> {
    phrase.split(' ').map(str::to_string).collect()
}

/// All that can be said in a section.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Vocabulary {
    phrases: BTreeMap<Vec<String>, Meaning>,
    /// Who understands sentences, where those are listened for.
    asker: Option<Asker>,
    /// More lines for the grammar.
    also: Vec<String>,
}

impl Vocabulary {
    /// The callouts, finish signals and commands of `section`.
    pub fn of(section: &Section) -> Vocabulary {
        let mut phrases = BTreeMap::new();
        for say in section.steps.iter().flat_map(|s| &s.say).chain(section.events.iter().flat_map(|e| &e.say)) {
            phrases.insert(split(say), Meaning::Callout(say.clone()));
        }
        for (phrase, command) in COMMANDS {
            phrases.insert(split(phrase), Meaning::Command(command));
        }
        for phrase in &section.finish {
            phrases.insert(split(phrase), Meaning::Command(Command::Finished));
        }
        Vocabulary { phrases, ..Vocabulary::default() }
    }

    /// These phrases as callouts, and nothing else: to measure how well they are heard.
    pub fn of_phrases<'a>(phrases: impl IntoIterator<Item = &'a str>) -> Vocabulary {
        let phrases = phrases.into_iter().map(|p| (split(p), Meaning::Callout(p.to_string()))).collect();
        Vocabulary { phrases, ..Vocabulary::default() }
    }

    /// Every phrase, in order.
    pub fn phrases(&self) -> impl Iterator<Item = String> {
        self.phrases.keys().map(|p| p.join(" "))
    }

    /// What the phrase of this place in [`Vocabulary::phrases`] means.
    pub fn meaning(&self, place: usize) -> Meaning {
        self.phrases.values().nth(place).cloned().unwrap_or(Meaning::Callout(String::new()))
    }

    /// Every word that the recogniser must know, once.
    pub fn words(&self) -> Vec<&str> {
        let also = self.also.iter().flat_map(|line| line.split(' '));
        let mut words: Vec<&str> = self.phrases.keys().flatten().map(String::as_str).chain(also).collect();
        words.sort_unstable();
        words.dedup();
        words
    }

    /// The recogniser's grammar: each phrase that holds only known words, `decoys`, and the filler. Never empty.
    pub fn grammar<'a>(&self, decoys: impl Iterator<Item = &'a str>, known: impl Fn(&str) -> bool) -> Vec<String> {
        let ours = self.words();
        let mut grammar: Vec<String> = vec![FILLER.to_string()];
        for phrase in self.phrases.keys().filter(|p| p.iter().all(|w| known(w))) {
            grammar.extend(std::iter::repeat_n(phrase.join(" "), if self.asks() { 1 } else { PHRASE_WEIGHT }));
        }
        grammar.extend(self.also.iter().filter(|line| line.split(' ').all(&known)).cloned());
        grammar.extend(decoys.filter(|d| !ours.contains(d) && known(d)).map(str::to_string));
        grammar
    }

    /// The phrases in `words`, longest first at each place; words that belong to none are passed over. Where sentences are listened for, all of
    /// `words` are one.
    pub fn find(&self, words: &[Word]) -> Vec<Heard> {
        if let Some(asker) = &self.asker {
            return self.sentence(asker, words).into_iter().collect();
        }
        let longest = self.phrases.keys().map(Vec::len).max().unwrap_or(0);
        let mut found = vec![];
        let mut at = 0;
        while at < words.len() {
            let matched =
                (1..=longest.min(words.len() - at)).rev().find_map(|n| Some((n, self.phrase(&words[at..at + n])?)));
            at += matched.as_ref().map_or(1, |(n, _)| *n);
            found.extend(matched.map(|(_, heard)| heard));
        }
        found
    }

    /// What `run` means as one whole phrase.
    fn phrase(&self, run: &[Word]) -> Option<Heard> {
        let key: Vec<String> = run.iter().map(|w| w.text.clone()).collect();
        let meaning = self.phrases.get(&key)?.clone();
        let joined = run.windows(2).all(|w| w[1].start.since(w[0].end) <= LONGEST_GAP);
        joined.then(|| Heard {
            meaning,
            start: run[0].start,
            end: run[run.len() - 1].end,
            confidence: run.iter().map(|w| w.confidence).fold(1.0, f32::min),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn vocabulary() -> Vocabulary {
        let text = include_str!("../../prompts/skin-care/basic-facial.toml");
        Vocabulary::of(&crate::authoring::read(text).0.unwrap())
    }

    /// Words half a second long, one after the other; `_` is a second of silence.
    fn check(spoken: &str, expected: &[&str]) {
        let mut at = 0;
        let mut words = vec![];
        for text in spoken.split(' ') {
            at += 16_000;
            if text != "_" {
                at -= 8_000;
                words.push(Word {
                    text: text.into(),
                    start: SampleIndex(at - 8_000),
                    end: SampleIndex(at),
                    confidence: 1.0,
                });
            }
        }
        let found: Vec<String> = vocabulary()
            .find(&words)
            .into_iter()
            .map(|h| match h.meaning {
                Meaning::Callout(say) => say,
                Meaning::Command(command) => format!("{command:?}"),
                other => panic!("{other:?} is heard after the recap only"),
            })
            .collect();
        assert_eq!(found, expected, "{spoken}");
    }

    #[test]
    fn phrases_are_found_whole_and_longest_first() {
        check("steam towel", &["steam towel"]);
        check("okay now the steam towel on", &["steam towel on"]);
        check("remove the mask", &["remove the mask"]);
        check("mask", &["mask"]);
        check("towel", &[]);
        check("stepping back", &["Finished"]);
        check("wrong call toner", &["Undo", "toner"]);
        check("time left sanitize", &["TimeLeft", "sanitize"]);
    }

    #[test]
    fn a_long_pause_splits_a_phrase() {
        check("steam _ towel", &[]);
        check("remove _ _ the mask", &["mask"]);
    }

    #[test]
    fn the_grammar_is_never_empty_and_leaves_unknown_words_out() {
        let grammar = vocabulary().grammar(["the", "water"].into_iter(), |w| w != "tapotement");
        assert!(grammar.contains(&"[unk]".to_string()) && grammar.contains(&"water".to_string()));
        assert!(!grammar.iter().any(|p| p.contains("tapotement")));
        assert_eq!(grammar.iter().filter(|p| *p == "the").count(), 0, "a word of ours is no decoy");
    }
}
