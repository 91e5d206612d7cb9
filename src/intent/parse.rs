//! From words to a question: names of steps and signs are found in the sentence, longest first; the rule whose signs are all there, and that
//! leaves no sign and no word over, tells what is asked.

use super::lexicon::{LEXICON, Sign, Sign::*};
use super::likely::{LIKELY, kind};
use super::word::{SMALL, expand, follows, joined, moved, stem};
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

/// By how much, in natural log, the second opinion is surer of another question than of the next one, from where on that of the rules is doubted, and
/// none is answered; from where on its own is; and from where on its own is where the rules have none. Chosen by three sets of `tests/data/intents`.
const DOUBTED: f64 = 1.0;
const SURE: f64 = 8.0;
const ALONE: f64 = 6.0;

/// What may stand in front of a sentence.
const BEFORE: [&str; 12] = ["and", "so", "okay", "well", "please", "also", "but", "um", "uh", "then", "now", "or"];

/// Words of titles that name nothing by themselves.
const NAMELESS: [&str; 16] = [
    "removing", "applying", "apply", "remove", "taking", "take", "with", "used", "what", "clean", "look", "make",
    "fully", "color", "first", "second",
];

/// How a sentence that has all these signs, and so many names, is meant.
struct Rule {
    asks: fn(&[String]) -> Question,
    names: usize,
    /// One of each of these; a sentence has more of a question with more of them.
    need: &'static [&'static [Sign]],
    /// And none but these beside them.
    may: &'static [Sign],
}

/// Signs that change no question.
const ALWAYS: [Sign; 6] = [Filler, That, It, Step, Call, Whether];

fn first(names: &[String]) -> String {
    names.first().cloned().unwrap_or_default()
}

fn two(names: &[String]) -> (String, String) {
    (first(names), names.get(1).cloned().unwrap_or_default())
}

macro_rules! rules {
    ($($names:literal $asks:expr => [$([$($need:expr),*]),*] [$($may:expr),*];)*) => {
        &[$(Rule { asks: $asks, names: $names, need: &[$(&[$($need),*]),*], may: &[$($may),*] }),*]
    };
}

/// In order: the first of those that say most about a sentence counts.
const RULES: &[Rule] = rules! {
    // Wishes.
    0 |_| Question::Repeat => [[Repeat]] [];
    0 |_| Question::Slower => [[Slower]] [Repeat, Read];
    0 |_| Question::Again => [[Again]] [Start, Repeat];
    0 |_| Question::Enough => [[Enough]] [];
    0 |_| Question::Help => [[Help]] [];
    // Two steps.
    2 |n| { let (a, b) = two(n); Question::Order(a, b) } => [[Before, First, After, Order, Left, Following]] [Come, HowDid, Good, Last, Order, First, Before, After, Not];
    2 |n| { let (a, b) = two(n); Question::Between(a, b) } => [[Between]] [HowLong, Time, Took, Compare, HowMany, Finish, Start];
    2 |n| { let (a, b) = two(n); Question::Between(a, b) } => [[HowLong], [Before, After]] [HowLong, Time, Took, Before, After, Come, Following];
    // One step.
    1 |n| Question::HowLong(first(n)) => [[HowLong, Time, Over, Under, Longest, Shortest]] [HowLong, Time, Took, Total, Plan, Over, Under, Finish, Wrong, Start, Need, InTime, Good, HowDid, Should];
    1 |n| Question::Planned(first(n)) => [[Should, Plan, Limit]] [HowLong, Time, Took, Total, Plan];
    1 |n| Question::Planned(first(n)) => [[Should, Limit], [HowLong, Time, Took]] [HowLong, Time, Took, Total, Plan];
    1 |n| Question::Planned(first(n)) => [[Plan], [HowLong, Time]] [HowLong, Time, Took, Should];
    1 |n| Question::When(first(n)) => [[When]] [Start, Took, Come, Time, Finish, HowLong];
    1 |n| Question::HowOften(first(n)) => [[HowOften]] [Total, HowMany, Come];
    1 |n| Question::Called(first(n)) => [[Whether]] [Miss, Good, Not, Finish, Took];
    1 |n| Question::Next(Some(first(n))) => [[Next, Following]] [Come, Should, After, Read];
    1 |n| Question::Next(Some(first(n))) => [[After]] [Come, Should, Next, Need];
    1 |n| Question::Prior(first(n)) => [[Before]] [Come, Should, Need];
    1 |n| Question::Prior(first(n)) => [[Before], [Need, Should, Come]] [Come, Should, Need];
    1 |n| Question::Needs(first(n)) => [[Need, About]] [About, Should, Took, Good, Read];
    1 |n| Question::Caution(Some(first(n))) => [[Caution, Critical]] [About, Need, Should, Read, Took, Caution, When];
    1 |n| Question::Source(Some(first(n))) => [[Source]] [Come, Need, Read, Should, About];
    1 |n| Question::Explain(Some(first(n))) => [[Explain, Wrong, Finding]] [Explain, Wrong, Finding, Order, Miss, Not, Critical, About, Good, Come, Need, Points];
    1 |n| Question::Explain(Some(first(n))) => [[Order]] [Good, Come, Wrong];
    // The run.
    0 |_| Question::Explain(None) => [[Explain]] [Not, Finding, About, Last, First, Wrong, Read];
    0 |_| Question::Explain(None) => [[About], [Finding]] [Last];
    0 |_| Question::Longest => [[Longest]] [Took, Time, HowLong, Need, Finish];
    0 |_| Question::Shortest => [[Shortest]] [Took, Time, HowLong, Need, Finish];
    0 |_| Question::Over => [[Over]] [Plan, Took, Time, HowLong, Ran, Should, Finding];
    0 |_| Question::Over => [[Over], [Plan, Should]] [Plan, Took, Time, HowLong, Ran, Should, Limit];
    0 |_| Question::Under => [[Under]] [Plan, Took, Time, HowLong, Should];
    0 |_| Question::Under => [[Under], [Plan, Should]] [Plan, Took, Time, HowLong, Should, Limit];
    0 |_| Question::Left => [[Left, InTime]] [Time, HowLong, Finish, Over, Limit, Left, Good, Under, HowMany, Start, InTime, Miss, Should, Compare];
    0 |_| Question::Left => [[Finish], [Left, InTime, Limit, Plan]] [Time, HowLong, Over, Before, Under, Should];
    0 |_| Question::Left => [[Over, Under], [Limit, InTime, Total]] [Time, HowLong, Finish, Total, Limit, InTime, Ran];
    0 |_| Question::Left => [[Limit], [Whether]] [Time, HowLong, Finish, Over, Under];
    0 |_| Question::Left => [[Limit], [Miss, Over, Compare]] [Time, HowLong, Finish, Over];
    0 |_| Question::Limit => [[Limit]] [HowLong, Time, Took, Total, Finish, Should];
    0 |_| Question::Limit => [[Should], [HowLong, Time]] [Took, Total, Finish];
    0 |_| Question::Total => [[HowLong, Time]] [Took, Total, Finish, HowMany, Ran, Need];
    0 |_| Question::Total => [[HowLong, Time], [Total]] [Took, Finish, Ran, HowMany, Need];
    0 |_| Question::Misplaced => [[Order]] [Good, Wrong, Not, Finding, Took, Come, Total, Should];
    0 |_| Question::Missed => [[Miss]] [Not, Should, HowMany, Finding, Read];
    0 |_| Question::Missed => [[Miss], [Total, HowMany, Good, Not, Should]] [Not, Total, HowMany, Should];
    0 |_| Question::Missed => [[Not], [Call]] [Should, Total];
    0 |_| Question::Missed => [[Total], [Whether]] [Call, Not];
    0 |_| Question::Hygiene => [[Hygiene]] [HowOften, HowLong, HowMany, Time, Took, HowDid, Good, Need, Miss, Total, About, Caution, Not, Left, Critical];
    0 |_| Question::Critical => [[Critical, Fail]] [Critical, Fail, Finding, Wrong, Miss, Not, HowMany, Total, Took, Good, Caution];
    0 |_| Question::Caution(None) => [[Caution]] [Read, About, Need, Total, Repeat, Should, Took, Good];
    0 |_| Question::Source(None) => [[Source]] [Come, Read, Need, Total];
    0 |_| Question::Findings => [[Finding, Wrong]] [Finding, Wrong, HowMany, Total, Read, Not, Good, Left];
    0 |_| Question::Well => [[Good]] [HowDid, Took];
    0 |_| Question::Summary => [[HowDid]] [Total, Read, Repeat, Good, About, Not];
    0 |_| Question::Points => [[Points]] [HowMany, Total, Took, Good, Left, Miss];
    0 |_| Question::Dropped => [[Drop]] [HowOften, HowMany, Finding, HowDid];
    0 |_| Question::Paused => [[Pause], [HowLong, HowOften, Whether, Time, HowMany]] [HowLong, HowOften, Time, Total, Took, HowMany];
    0 |_| Question::Count => [[HowMany]] [Total, Good, Took, Finish];
    0 |_| Question::First => [[First]] [Start, Come];
    0 |_| Question::First => [[First], [Step, Call, Start]] [Start, Come];
    0 |_| Question::First => [[Start], [Call, Step]] [First, Come];
    0 |_| Question::Last => [[Last]] [Finish, Come];
    0 |_| Question::Last => [[Last], [Step, Call, Finish]] [Finish, Come];
    // Other runs, and those to come.
    // What another run held isn't known here, only how two compare: "what did I miss last time" has no answer.
    0 |_| Question::WithLast => [[LastRun]] [Compare, Under, Over, Good, HowDid, Left, Total, Ran, Finish, Last];
    0 |_| Question::WithLast => [[LastRun], [Compare, Under, Over, HowDid]] [Good, Finding, Time, Wrong, Compare, Under, Over, Time, Took, Good, HowDid, Left, Total, Finding, Miss, Ran, HowMany, Wrong, Last];
    0 |_| Question::WithLast => [[Compare]] [Good, Total, HowDid, HowMany, Time];
    0 |_| Question::WithBest => [[Best]] [Compare, Under, Over, Time, Took, HowDid, Total, Good, Left, Finish];
    0 |_| Question::WithBest => [[Best], [Compare, Under, Over, HowDid]] [Compare, Under, Over, Time, Took, HowDid, Total, Good, HowMany, Finding];
    0 |_| Question::Ready => [[Ready]] [Good, Total, Need, When];
    0 |_| Question::Practise => [[Practise]] [Next, Need, Should, First, Total, Last, Explain, Good, Again, Points, Finding, Took, Time, HowMany];
    0 |_| Question::Practise => [[Practise], [Next, Need, Should]] [Next, Need, Should, First, Total, Good, Time, Took];
    0 |_| Question::Next(None) => [[Next]] [Read, Come, Should, Following];
    0 |_| Question::Next(None) => [[Read, Come], [Next, Following]] [Should];
};

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
    whole: bool,
    /// Whether its two words stand the other way round, as in "the drape of the body".
    turned: bool,
}

/// A place in a sentence that was made sense of.
enum Piece {
    Name(String),
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
        let named = names(section).into_keys();
        let named = named.filter(|n| n.contains(' ') || callouts.contains(n) || !NAMELESS.contains(&n.as_str()));
        let mut asker = Asker { names: BTreeMap::new(), turns: BTreeMap::new() };
        for name in named {
            let (stems, whole) = (content(&name), callouts.contains(&name));
            let mut add = |stems: Vec<String>, turned: bool| {
                if let Some(first) = stems.first().cloned() {
                    asker.names.entry(first).or_default().push(Named { name: name.clone(), stems, whole, turned });
                }
            };
            if let [a, b] = &stems[..] {
                add(vec![b.clone(), a.clone()], true);
            }
            add(stems, false);
        }
        // What the whole is called is no part of it.
        let whole = joined(plain(&section.title).split(' ').map(str::to_string).collect());
        let whole = whole.iter().map(|word| (Filler, word.as_str()));
        let turns = LEXICON.iter().flat_map(|(sign, turns)| turns.split('|').map(|t| (*sign, t)));
        for (sign, turn) in turns.chain(whole) {
            let stems: Vec<String> = turn.split(' ').map(stem).collect();
            asker.turns.entry(stems[0].clone()).or_default().push((sign, stems));
        }
        asker
    }

    /// What a sentence asks.
    pub fn understand(&self, sentence: &str) -> Understood {
        let words = spelt_out(sentence);
        let whether = asks_whether(&words);
        let words = moved(words);
        let pieces = self.pieces(&words);
        let likely = LIKELY.asked(&blanked(&words, &pieces));
        let mut named: Vec<String> = vec![];
        let mut signs: Vec<Vec<Sign>> = vec![];
        let mut unknown = 0;
        for (piece, _) in pieces {
            match piece {
                Piece::Name(name) if named.contains(&name) => {}
                Piece::Name(name) => named.push(name),
                Piece::Signs(of) => signs.push(of),
                Piece::Unknown => unknown += 1,
            }
        }
        if whether {
            signs.push(vec![Whether]);
        }
        // "Slower" is a wish, unless something of the run is called so.
        let of_the_run = words.iter().any(|w| ["did", "was", "were", "which", "where"].contains(&w.as_str()));
        let neither = if of_the_run { Slower } else { Over };
        signs.iter_mut().filter(|of| of.contains(&Slower)).for_each(|of| of.retain(|s| *s != neither));
        if of_the_run {
            signs.iter_mut().for_each(|of| of.retain(|s| *s != Enough));
        }
        let has = |sign: Sign| signs.iter().any(|of| of.contains(&sign));
        let (that, it) = (has(That), has(It));
        let said = named.clone();
        let tries: Vec<Vec<String>> = match named.len() {
            0 if that && !has(Total) => vec![vec![THAT.into()], vec![]],
            0 if that || it => vec![vec![], vec![THAT.into()]],
            1 if that => vec![named.clone(), vec![THAT.into(), named[0].clone()]],
            _ => vec![named],
        };
        let mut nearest: Option<(usize, Question)> = None;
        for names in tries {
            let mut best: Option<(usize, Question)> = None;
            for rule in RULES.iter().filter(|r| r.names == names.len()) {
                if !rule.need.iter().all(|group| group.iter().any(|s| has(*s))) {
                    continue;
                }
                let fits = |s: &Sign| {
                    ALWAYS.contains(s) || rule.may.contains(s) || rule.need.iter().any(|group| group.contains(s))
                };
                let over = signs.iter().filter(|of| !of.iter().any(fits)).count() + unknown;
                // How much of the sentence is a sign of this.
                let met = signs.iter().filter(|of| of.iter().any(|s| rule.need.iter().any(|g| g.contains(s)))).count();
                let met = 2 * rule.need.len() + met;
                if over == 0 && best.as_ref().is_none_or(|(most, _)| met > *most) {
                    best = Some((met, (rule.asks)(&names)));
                }
                if nearest.as_ref().is_none_or(|(least, _)| over < *least) {
                    nearest = Some((over, (rule.asks)(&names)));
                }
            }
            if let Some((_, question)) = best {
                // It sees no name in "that".
                let of_that = question.name() == Some(THAT);
                let doubted = likely.filter(|(other, by)| *by > DOUBTED && *other != kind(&question) && !of_that);
                if let Some((other, by)) = doubted {
                    let own = of_kind(&said, other).filter(|_| by > SURE).map(Understood::Question);
                    return own.unwrap_or(Understood::Not(Some(question)));
                }
                return Understood::Question(match question {
                    Question::Explain(Some(name)) if name == THAT => Question::Explain(None),
                    Question::Next(Some(name)) if name == THAT => Question::Next(None),
                    other => other,
                });
            }
        }
        let own = likely.filter(|(_, by)| *by > ALONE).and_then(|(own, _)| of_kind(&said, own));
        let nearest = nearest.map(|(_, question)| question).filter(|q| q.name() != Some(THAT));
        own.map_or(Understood::Not(nearest), Understood::Question)
    }

    /// A sentence with "*" for each name of a step: what wordings are kept as.
    pub fn blank(&self, sentence: &str) -> String {
        let words = moved(spelt_out(sentence));
        blanked(&words, &self.pieces(&words)).join(" ")
    }

    /// Names and signs in a sentence, the longest first at each place, with how many words each takes up.
    fn pieces(&self, words: &[String]) -> Vec<(Piece, usize)> {
        let stems: Vec<String> = words.iter().map(|w| stem(w)).collect();
        let mut pieces = vec![];
        let mut at = 0;
        while at < stems.len() {
            let name = self.name_at(words, &stems, at);
            let (signs, turn) = self.signs_at(words, &stems, at);
            let (piece, length) = match name {
                Some((name, length, whole)) if length > turn || length == turn && (whole || length > 1) => {
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

    /// The name with most words that begins here: it, how many words it takes up, and whether it is a whole callout.
    fn name_at(&self, words: &[String], stems: &[String], at: usize) -> Option<(String, usize, bool)> {
        let found = self.names.get(&stems[at]).into_iter().flatten().filter_map(|named| {
            let pass = if named.turned { &SMALL[..7] } else { &SMALL };
            let length = follows(words, stems, at, &named.stems, pass)?;
            let shortest = std::cmp::Reverse(named.name.len());
            Some((named.stems.len(), !named.turned, named.whole, shortest, length, &named.name))
        });
        found.max().map(|(_, _, whole, _, length, name)| (name.clone(), length, whole))
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

/// The question of a kind that speaks of these names.
fn of_kind(names: &[String], wanted: &str) -> Option<Question> {
    let as_many = RULES.iter().filter(|r| r.names == names.len().min(2));
    as_many.map(|r| (r.asks)(names)).find(|question| kind(question) == wanted)
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
