//! From words to a question. Names of steps and signs are found in the sentence, longest first; rules say what those ask. What was learnt from many
//! wordings weighs that with the words themselves, and only what is likely enough is answered.

use super::lexicon::{LEXICON, Sign, Sign::*};
use super::likely::LIKELY;
use super::rules::Heard;
use super::word::{OFF, ON, SMALL, expand, follows, joined, moved, stem};
use super::{Question, THAT, names};
use crate::section::Section;
use crate::words::{FILLER, plain};
use std::collections::{BTreeMap, BTreeSet};

/// What became of a sentence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Understood {
    /// It asks this.
    Question(Question),
    /// It asks what can't be answered, or was not understood; the nearest question, where there is one.
    Not(Option<Question>),
}

/// From what probability on the likeliest question is answered: where the rules find the same one, and where they don't.
const AGREED: f64 = 0.5;
const ALONE: f64 = 0.6;

/// What may stand in front of a sentence.
const BEFORE: [&str; 12] = ["and", "so", "okay", "well", "please", "also", "but", "um", "uh", "then", "now", "or"];

/// Words of titles that name nothing by themselves.
const NAMELESS: [&str; 16] = [
    "removing", "applying", "apply", "remove", "taking", "take", "with", "used", "what", "clean", "look", "make",
    "fully", "color", "first", "second",
];

/// Whoever takes sentences in, for one section.
#[derive(Clone, Debug, PartialEq)]
pub struct Asker {
    /// By the stem of its first word: each name, the stems of its words that say something, and whether it is a whole callout.
    names: BTreeMap<String, Vec<Named>>,
    /// By the stem of its first word: the stems of each turn of phrase.
    turns: BTreeMap<String, Vec<(Sign, Vec<String>)>>,
}

#[derive(Clone, Debug, PartialEq)]
struct Named {
    name: String,
    stems: Vec<String>,
    steps: Vec<usize>,
    whole: bool,
    /// Whether its two words stand the other way round, as in "the drape of the body".
    turned: bool,
}

/// A place in a sentence that was made sense of.
enum Piece<'a> {
    Name(&'a Named),
    /// All that a word or turn of phrase may be a sign of.
    Signs(Vec<Sign>),
    Unknown,
}

impl Asker {
    /// For this section's steps.
    pub fn new(section: &Section) -> Asker {
        let callouts: BTreeSet<&String> = section.steps.iter().flat_map(|s| &s.say).collect();
        let content = |name: &String| -> Vec<String> {
            let words = joined(name.split(' ').map(str::to_string).collect());
            words.iter().filter(|w| !SMALL.contains(&w.as_str())).map(|w| stem(w)).collect()
        };
        // What the whole is called is no part of it.
        let title = joined(plain(&section.title).split(' ').map(str::to_string).collect());
        let of_whole = |name: &str, steps: &[usize]| steps.len() > 2 && title.iter().any(|w| stem(w) == stem(name));
        let named = names(section).into_iter();
        let named = named.filter(|(n, steps)| {
            n.contains(' ') || callouts.contains(n) || !NAMELESS.contains(&n.as_str()) && !of_whole(n, steps)
        });
        let mut asker = Asker { names: BTreeMap::new(), turns: BTreeMap::new() };
        for (name, steps) in named {
            let (stems, whole) = (content(&name), callouts.contains(&name));
            let mut add = |stems: Vec<String>, turned: bool| {
                if let Some(first) = stems.first().cloned() {
                    asker.names.entry(first).or_default().push(Named {
                        name: name.clone(),
                        stems,
                        steps: steps.clone(),
                        whole,
                        turned,
                    });
                }
            };
            // "The drape of the body", "the massage cream came off".
            match &stems[..] {
                [verb, thing @ ..] if thing.len() == 1 || verb == OFF || verb == ON => {
                    add(thing.iter().chain([verb]).cloned().collect(), true);
                }
                [thing @ .., verb] if verb == OFF || verb == ON => {
                    add([verb].into_iter().chain(thing).cloned().collect(), true);
                }
                _ => {}
            }
            add(stems, false);
        }
        let title = title.iter().map(|word| (Filler, word.as_str()));
        let turns = LEXICON.iter().flat_map(|(sign, turns)| turns.split('|').map(|t| (*sign, t)));
        for (sign, turn) in turns.chain(title) {
            let stems: Vec<String> = turn.split(' ').map(stem).collect();
            asker.turns.entry(stems[0].clone()).or_default().push((sign, stems));
        }
        asker
    }

    /// What a sentence asks.
    pub fn understand(&self, sentence: &str) -> Understood {
        let heard = self.heard(sentence);
        let ruled = heard.ruled();
        let (likely, sure) = LIKELY.asked(&heard.features(&ruled));
        let agreed = ruled.question().filter(|q| q.kind() == likely).cloned();
        let least = if agreed.is_some() { AGREED } else { ALONE };
        let own = agreed.or_else(|| heard.of_kind(likely));
        match own {
            Some(question) if sure >= least => Understood::Question(match question {
                Question::Explain(Some(name)) if name == THAT => Question::Explain(None),
                Question::Next(Some(name)) if name == THAT => Question::Next(None),
                other => other,
            }),
            own => Understood::Not(own.or_else(|| ruled.nearest()).filter(|q| q.name() != Some(THAT))),
        }
    }

    /// What the second opinion counts of a sentence.
    pub fn features(&self, sentence: &str) -> Vec<String> {
        let heard = self.heard(sentence);
        heard.features(&heard.ruled())
    }

    fn heard(&self, sentence: &str) -> Heard {
        let words = spelt_out(sentence);
        let whether = asks_whether(&words);
        let words = moved(words);
        let pieces = self.pieces(&words);
        let blank = blanked(&words, &pieces);
        let mut heard = Heard { blank, named: vec![], signs: vec![], unknown: 0 };
        let mut named: Vec<&Named> = vec![];
        for (piece, _) in pieces {
            match piece {
                Piece::Name(name) if named.contains(&name) => {}
                Piece::Name(name) => named.push(name),
                Piece::Signs(of) => heard.signs.push(of),
                Piece::Unknown => heard.unknown += 1,
            }
        }
        let mut named = apart(named);
        if let [one] = named[..] {
            named.extend(self.counterpart(one, &heard.blank));
        }
        heard.named = named.into_iter().map(|n| n.name.clone()).collect();
        if whether {
            heard.signs.push(vec![Whether]);
        }
        // "Slower" is a wish, unless something of the run is called so.
        let of_the_run = words.iter().any(|w| ["did", "was", "were", "which", "where"].contains(&w.as_str()));
        let neither = if of_the_run { Slower } else { Over };
        heard.signs.iter_mut().filter(|of| of.contains(&Slower)).for_each(|of| of.retain(|s| *s != neither));
        if of_the_run {
            heard.signs.iter_mut().for_each(|of| of.retain(|s| *s != Enough));
        }
        heard
    }

    /// What "it" is in "the mask before I took it off": the callout that takes off, or puts on, what `one` names.
    fn counterpart(&self, one: &Named, blank: &[String]) -> Option<&Named> {
        let own = |verb: &str| one.stems.iter().any(|s| s == verb);
        let puts_on = |pair: &[String]| pair.contains(&"it".into()) && pair.iter().any(|w| stem(w) == ON);
        let verb = if !own(OFF) && blank.iter().any(|w| stem(w) == OFF) {
            OFF
        } else if !own(ON) && blank.windows(2).any(puts_on) {
            ON
        } else {
            return None;
        };
        let thing = one.stems.iter().rfind(|s| ![OFF, ON, "test"].contains(&s.as_str()))?;
        let of_it = |n: &&Named| n.whole && !n.turned && n.stems.iter().any(|s| s == verb) && n.stems.contains(thing);
        self.names.values().flatten().filter(of_it).find(|n| n.steps.iter().all(|step| !one.steps.contains(step)))
    }

    /// Names and signs in a sentence, the longest first at each place, with how many words each takes up.
    fn pieces(&self, words: &[String]) -> Vec<(Piece<'_>, usize)> {
        let stems: Vec<String> = words.iter().map(|w| stem(w)).collect();
        let mut pieces = vec![];
        let mut at = 0;
        while at < stems.len() {
            let name = self.name_at(words, &stems, at);
            let (signs, turn) = self.signs_at(words, &stems, at);
            let (piece, length) = match name {
                Some((name, length)) if length > turn || length == turn && (name.whole || length > 1) => {
                    (Piece::Name(name), length)
                }
                _ if turn > 0 => (Piece::Signs(signs), turn),
                _ => (Piece::Unknown, 1),
            };
            pieces.push((piece, length));
            at += length;
        }
        pieces
    }

    /// The name with most words that begins here, and how many words it takes up.
    fn name_at(&self, words: &[String], stems: &[String], at: usize) -> Option<(&Named, usize)> {
        let found = self.names.get(&stems[at]).into_iter().flatten().filter_map(|named| {
            let pass = if named.turned { &SMALL[..7] } else { &SMALL };
            let length = follows(words, stems, at, &named.stems, pass)?;
            let shortest = std::cmp::Reverse((named.name.len(), &named.name));
            Some(((named.stems.len(), !named.turned, named.whole, shortest), length, named))
        });
        let best = found.max_by(|a, b| (&a.0, a.1).cmp(&(&b.0, b.1)));
        best.map(|(_, length, named)| (named, length))
    }

    /// What the longest turn of phrase that begins here may be a sign of, and how many words it takes up.
    fn signs_at(&self, words: &[String], stems: &[String], at: usize) -> (Vec<Sign>, usize) {
        let turns = self.turns.get(&stems[at]).into_iter().flatten();
        let found: Vec<(Sign, usize)> =
            turns.filter_map(|(sign, turn)| Some((*sign, follows(words, stems, at, turn, &SMALL)?))).collect();
        let longest = found.iter().map(|f| f.1).max().unwrap_or(0);
        (found.into_iter().filter(|f| f.1 == longest).map(|f| f.0).collect(), longest)
    }
}

/// Names of different steps: of two that share one, that with fewer of them.
fn apart(named: Vec<&Named>) -> Vec<&Named> {
    let mut kept: Vec<&Named> = vec![];
    for name in named {
        match kept.iter_mut().find(|k| k.steps.iter().any(|step| name.steps.contains(step))) {
            Some(other) if name.steps.len() < other.steps.len() => *other = name,
            Some(_) => {}
            None => kept.push(name),
        }
    }
    kept
}

/// The words of a sentence, none of them short for another.
fn spelt_out(sentence: &str) -> Vec<String> {
    let words: Vec<String> = sentence
        .split_whitespace()
        .map(|w| if w == FILLER { w.to_string() } else { plain(w) })
        .flat_map(|w| w.split(' ').flat_map(expand).collect::<Vec<_>>())
        .filter(|w| !w.is_empty())
        .collect();
    // "Can you tell me …" asks for no permission.
    let first = words.iter().position(|w| !BEFORE.contains(&w.as_str())).unwrap_or(0);
    let polite = match &words[first..] {
        [may, you, ..] if ["can", "could", "would", "will"].contains(&may.as_str()) && you == "you" => first..first + 2,
        _ => 0..0,
    };
    // "Anything that …" points back at nothing.
    const BACK: [&str; 7] = ["anything", "something", "things", "everything", "step", "steps", "mistakes"];
    let back = |k: usize| k > 0 && words[k] == "that" && BACK.contains(&words[k - 1].as_str());
    let kept = (0..words.len()).filter(|k| !back(*k) && !polite.contains(k));
    joined(kept.map(|k| words[k].clone()).collect())
}

/// Words with "*" in place of each name.
fn blanked(words: &[String], pieces: &[(Piece, usize)]) -> Vec<String> {
    let mut rest = words;
    let mut blank = vec![];
    for (piece, length) in pieces {
        let (here, behind) = rest.split_at(*length);
        match piece {
            Piece::Name(_) => blank.push("*".to_string()),
            _ => blank.extend_from_slice(here),
        }
        rest = behind;
    }
    blank
}

/// Whether a sentence asks for yes or no: its verb comes first, or it says "if".
fn asks_whether(words: &[String]) -> bool {
    const VERBS: [&str; 8] = ["did", "have", "has", "had", "was", "were", "is", "are"];
    let first = words.iter().find(|w| !BEFORE.contains(&w.as_str()));
    let tag = [&["right"][..], &["correct"], &["did", "not", "i"], &["have", "not", "i"], &["or", "not"]];
    let tagged = words.len() > 3
        && tag.iter().any(|end| words.ends_with(&end.iter().map(|w| w.to_string()).collect::<Vec<_>>()));
    tagged || first.is_some_and(|w| VERBS.contains(&w.as_str())) || words.iter().any(|w| w == "if" || w == "whether")
}
