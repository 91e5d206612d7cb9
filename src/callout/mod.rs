//! Words to meanings: which callout or command was spoken, and the grammar that the recogniser is given.
//! It doesn't decide which step a callout stands for: several steps may share one.

mod afterwards;
mod question;
mod spelling;
mod wording;

pub use afterwards::Afterwards;

use crate::intent::{Asker, Question};
use crate::section::Section;
use crate::time::{Ms, SampleIndex};
use crate::words::{FILLER, Slot, Word};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// Longest silence between two words of one phrase.
const LONGEST_GAP: Ms = Ms(700);

/// How often a phrase is listed in the grammar, so that the decoy words don't outweigh it.
const PHRASE_WEIGHT: usize = 3;
/// The same for a sentence, among free wordings.
const SENTENCE_WEIGHT: usize = 4;

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
    /// Say the next step (coach mode).
    Next,
    /// Something fell down.
    DroppedItem,
    /// The section's own finish signal.
    Finished,
    /// End everything at once.
    StopEverything,
}

const COMMANDS: [(&str, Command); 15] = [
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
    ("what comes next", Command::Next),
    ("what is next", Command::Next),
    ("dropped item", Command::DroppedItem),
    ("stop everything", Command::StopEverything),
    ("emergency", Command::StopEverything),
];

/// The phrases that are commands in every section: none of them can be a callout too.
pub fn commands() -> impl Iterator<Item = &'static str> {
    COMMANDS.iter().map(|(phrase, _)| *phrase)
}

/// What stops everything, in every state.
const STOPS: [&str; 2] = ["stop everything", "emergency"];

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
    /// What is said afterwards of what was called.
    Afterwards(Afterwards),
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
            Meaning::Question(_) | Meaning::Asked { .. } | Meaning::Span(_) | Meaning::Afterwards(_) => vec![],
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
    /// As they are listed.
    phrases: BTreeMap<Vec<String>, Meaning>,
    /// Who understands sentences, where those are listened for.
    asker: Option<Asker>,
    /// The names that steps can be corrected by, then.
    names: BTreeSet<String>,
    /// More lines for the grammar.
    also: Vec<String>,
    /// The other wordings of those that have some.
    slots: BTreeMap<Vec<String>, Vec<Slot>>,
    /// By other wording: the listed one.
    worded: BTreeMap<Vec<String>, Vec<String>>,
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
        Vocabulary { phrases, ..Vocabulary::default() }.worded(section)
    }

    /// The same with the wordings that follow from those listed: inflections, and "the" or none. None of them can be taken for another step's callout
    /// or for a command.
    fn worded(mut self, section: &Section) -> Vocabulary {
        let says: Vec<String> = self.phrases().collect();
        let verbs = wording::verbs(says.iter().map(String::as_str));
        let mut all: Vec<wording::Worded> = vec![];
        for (say, meaning) in says.iter().zip(self.phrases.values()) {
            let slots = match meaning {
                Meaning::Callout(_) => wording::slots(say, |word| verbs.iter().any(|v| v == word)),
                _ => say.split(' ').map(Slot::of).collect(),
            };
            let stands = meaning.stands_for(section).into_iter().map(|(name, _)| name).collect();
            all.push(wording::Worded { say: say.clone(), stands, slots });
        }
        wording::apart(&mut all);
        for worded in all {
            let listed = split(&worded.say);
            let others = wording::all(&worded.slots).into_iter().map(|(words, _)| words);
            for words in others.filter(|w| !self.phrases.contains_key(w)) {
                self.worded.entry(words).or_insert_with(|| listed.clone());
            }
            if worded.slots.iter().any(|slot| slot.ways() > 1) {
                self.slots.insert(listed, worded.slots);
            }
        }
        self
    }

    /// The slots of every phrase, in the order of [`Vocabulary::phrases`].
    pub fn slots(&self) -> impl Iterator<Item = Vec<Slot>> {
        let plain = |words: &Vec<String>| words.iter().map(|w| Slot::of(w)).collect();
        self.phrases.keys().map(move |words| self.slots.get(words).cloned().unwrap_or_else(|| plain(words)))
    }

    /// Whether any phrase may be said in words that are not listed.
    pub fn has_other_wordings(&self) -> bool {
        !self.slots.is_empty()
    }

    /// Every wording, listed or not, and what it means.
    pub fn wordings(&self) -> impl Iterator<Item = (String, &Meaning)> {
        let listed = self.phrases.iter().map(|(words, meaning)| (words.join(" "), meaning));
        let others = self.worded.iter().filter_map(|(words, of)| Some((words.join(" "), self.phrases.get(of)?)));
        listed.chain(others)
    }

    /// Words of wordings that are not listed, once each: whoever doesn't know one does without it. `small`: those that may be left out, such as "the",
    /// or the others.
    pub fn more_words(&self, small: bool) -> Vec<&str> {
        let of = |slot: &Slot| slot.may_lack == small;
        let mut words: Vec<&str> =
            self.slots.values().flatten().filter(|s| of(s)).flat_map(|s| &s.words).map(String::as_str).collect();
        words.sort_unstable();
        words.dedup();
        let listed = self.words();
        words.retain(|w| listed.binary_search(w).is_err());
        words
    }

    /// For each place in [`Vocabulary::phrases`]: those that have a wording in common with it, itself among them. They stand for the same.
    pub fn kin(&self) -> Vec<Vec<usize>> {
        let places: BTreeMap<&Vec<String>, usize> =
            self.phrases.keys().enumerate().map(|(k, words)| (words, k)).collect();
        let mut whose: BTreeMap<Vec<String>, Vec<usize>> = BTreeMap::new();
        for (words, slots) in &self.slots {
            wording::all(slots).into_iter().for_each(|(w, _)| whose.entry(w).or_default().push(places[words]));
        }
        for (words, place) in &places {
            whose.entry(words.to_vec()).or_default().push(*place);
        }
        let mut kin: Vec<std::collections::BTreeSet<usize>> = (0..places.len()).map(|k| [k].into()).collect();
        for group in whose.values() {
            group.iter().for_each(|k| kin[*k].extend(group));
        }
        kin.into_iter().map(|k| k.into_iter().collect()).collect()
    }

    /// What each callout covers of words that are `known`: the callout, its forms as a person reads them, and how many wordings that makes.
    pub fn covered(&self, known: impl Fn(&str) -> bool) -> Vec<(String, String, usize)> {
        let keep = |slot: Slot| {
            let listed = |k: usize| k == 0 && !slot.added;
            let words = slot.words.iter().enumerate().filter(|(k, w)| listed(*k) || known(w)).map(|(_, w)| w.clone());
            Slot { words: words.collect(), ..slot }
        };
        let kept = |slots: Vec<Slot>| slots.into_iter().map(keep).filter(|s| !s.words.is_empty()).collect::<Vec<_>>();
        let all =
            self.phrases.iter().zip(self.slots()).filter(|((_, meaning), _)| matches!(meaning, Meaning::Callout(_)));
        let one = |((words, _), slots): ((&Vec<String>, _), Vec<Slot>)| {
            let slots = kept(slots);
            (words.join(" "), wording::shown(&slots), slots.iter().map(Slot::ways).product())
        };
        all.map(one).collect()
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

    /// The recogniser's grammar: each phrase that holds only known words, what it may be said as where one word of it differs, `decoys`, and the
    /// filler. Never empty. It counts which word follows which, so that wordings that differ in more words need no lines of their own.
    pub fn grammar<'a>(&self, decoys: impl Iterator<Item = &'a str>, known: impl Fn(&str) -> bool) -> Vec<String> {
        let ours = self.words();
        let mut grammar: Vec<String> = vec![FILLER.to_string()];
        for phrase in self.phrases.keys().filter(|p| p.iter().all(|w| known(w))) {
            // A single word has nothing before it or behind it that would speak for it.
            let sentence = if phrase.len() == 1 { 4 * SENTENCE_WEIGHT } else { SENTENCE_WEIGHT };
            grammar.extend(std::iter::repeat_n(phrase.join(" "), if self.asks() { sentence } else { PHRASE_WEIGHT }));
        }
        grammar.extend(self.also.iter().filter(|line| line.split(' ').all(&known)).cloned());
        let once = self.slots.values().flat_map(|slots| wording::changed_once(slots)).map(|(words, _)| words);
        grammar.extend(once.filter(|words| words.iter().all(|w| known(w))).map(|words| words.join(" ")));
        grammar.extend(decoys.filter(|d| ours.binary_search(d).is_err() && known(d)).map(str::to_string));
        grammar
    }

    /// The phrases in `words`, longest first at each place; words that belong to none are passed over. Where sentences are listened for, all of
    /// `words` are one.
    pub fn find(&self, words: &[Word]) -> Vec<Heard> {
        if let Some(asker) = &self.asker {
            return self.sentence(asker, words).into_iter().collect();
        }
        let longest = self.phrases.keys().chain(self.worded.keys()).map(Vec::len).max().unwrap_or(0);
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
        let meaning = self.phrases.get(self.worded.get(&key).unwrap_or(&key))?.clone();
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
        assert!(!grammar.iter().any(|p| p.split(' ').any(|w| w == "tapotement")));
        assert_eq!(grammar.iter().filter(|p| *p == "the").count(), 0, "a word of ours is no decoy");
    }
}
