//! Other wordings of a callout that nobody has to list: its verb in another form, "the", "a", "my" or nothing before a noun, one or more of a
//! thing, "into" for "in". Rules of spelling and two small tables, and no grammar of the whole language: a form that is no word is left out
//! later, since no lexicon has it.

use super::spelling::{IRREGULAR, REGULAR, conjugated, other_number, stem};
use crate::words::Slot;
use std::collections::{BTreeMap, BTreeSet};

/// What may stand before a noun, or be left out there.
const DETERMINERS: [&str; 4] = ["the", "a", "my", "your"];
/// Words before a noun that say which, how many or whose: nothing is put beside them.
const WHICH: [&str; 35] = [
    "an", "all", "any", "both", "each", "every", "her", "his", "its", "no", "our", "some", "that", "their", "these",
    "this", "those", "one", "two", "three", "first", "second", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen",
];
/// Prepositions that are said one for the other, and mean the same there.
const SAME: [[&str; 2]; 2] = [["in", "into"], ["on", "onto"]];
/// Prepositions behind which nothing but a determiner varies.
const PREPOSITIONS: [&str; 18] = [
    "in", "into", "on", "onto", "at", "by", "for", "from", "inside", "of", "off", "over", "through", "to", "under",
    "with", "without", "around",
];
/// Words that are no nouns and have one form.
const PARTICLES: [&str; 34] = [
    "again", "and", "away", "back", "be", "clean", "cold", "down", "dry", "hot", "i", "i'm", "is", "are", "it", "me",
    "not", "now", "off", "on", "once", "or", "out", "ready", "together", "up", "warm", "well", "wet", "you", "english",
    "old", "new", "taut",
];

/// Most wordings of one callout, so that the grammar stays small.
pub const MOST: usize = 120;

/// The wordings of a callout, slot by slot, each with the listed word first; `verb` says of a word whether the section shows it to be one.
pub fn slots(say: &str, verb: impl Fn(&str) -> bool) -> Vec<Slot> {
    let words: Vec<&str> = say.split(' ').collect();
    let mut slots: Vec<Slot> = vec![];
    for (at, word) in words.iter().enumerate() {
        let before = at.checked_sub(1).map(|k| words[k]);
        let next = words.get(at + 1).copied();
        // Behind a verb or a preposition a noun begins. In front of the phrase nothing is added: there it would move the onset.
        let after_verb = at == 1 && base(words[0], next_of(&words, 0), &verb).is_some();
        let after_preposition = at > 0 && before.is_some_and(|b| PREPOSITIONS.contains(&b));
        let begins_noun = (after_verb || after_preposition) && noun_like(word) && !WHICH.contains(word);
        if at > 0 && DETERMINERS.contains(word) {
            let mut slot = Slot::of(word);
            slot.words.extend(DETERMINERS.iter().filter(|d| *d != word).map(|d| d.to_string()));
            slot.may_lack = next.is_some();
            slots.push(slot);
            continue;
        }
        if begins_noun && !before.is_some_and(|b| DETERMINERS.contains(&b)) {
            slots.push(Slot {
                words: DETERMINERS.iter().map(|d| d.to_string()).collect(),
                may_lack: true,
                added: true,
            });
        }
        slots.push(Slot { words: forms(&words, at, &verb), may_lack: false, added: false });
    }
    bounded(slots)
}

/// The verbs that these callouts show: what stands first before a determiner, and what another one has with -ing.
pub fn verbs<'a>(says: impl Iterator<Item = &'a str>) -> Vec<String> {
    let mut found = vec![];
    for say in says {
        let words: Vec<&str> = say.split(' ').collect();
        let first = words[0];
        if words.len() > 2 && DETERMINERS.contains(&words[1]) && noun_like(first) && !first.ends_with("ing") {
            found.push(first.to_string());
        }
        found.extend(stem(first));
    }
    found.sort();
    found.dedup();
    found
}

fn next_of<'a>(words: &[&'a str], at: usize) -> Option<&'a str> {
    words.get(at + 1).copied()
}

/// Whether a word may be a noun or a verb: none of those that have one form.
fn noun_like(word: &str) -> bool {
    word.len() > 2 && !PARTICLES.contains(&word) && !PREPOSITIONS.contains(&word) && !DETERMINERS.contains(&word)
}

/// The base of a word that is a verb where it stands first. What only the section shows to be one is a noun before a particle ("drape off"), and an
/// adjective is a verb before a determiner alone ("clean the nails").
fn base(word: &str, next: Option<&str>, verb: &impl Fn(&str) -> bool) -> Option<String> {
    let common = |w: &str| REGULAR.contains(&w) || IRREGULAR.iter().any(|(b, ..)| *b == w);
    let shown = |w: &str| verb(w) && next.is_none_or(|n| noun_like(n) || DETERMINERS.contains(&n));
    let acts = next.is_some_and(|n| DETERMINERS.contains(&n));
    let known = |w: &str| common(w) && (noun_like(w) || acts) || shown(w);
    if known(word) || acts && noun_like(word) && !word.ends_with("ing") {
        return Some(word.to_string());
    }
    stem(word).filter(|s| common(s) || shown(s))
}

/// All forms of the word at a place, itself first.
fn forms(words: &[&str], at: usize, verb: &impl Fn(&str) -> bool) -> Vec<String> {
    let (word, next) = (words[at], words.get(at + 1).copied());
    let mut all = vec![word.to_string()];
    let verb = Some(word).filter(|_| at == 0).and_then(|w| base(w, next, verb));
    let more = |n: &str| noun_like(n) || DETERMINERS.contains(&n);
    if let Some(base) = verb {
        all.extend(conjugated(&base));
        // One word alone may be a thing as well; its shorter forms sound like too much.
        if words.len() == 1 {
            all.retain(|w| w.len() >= word.len());
        }
    } else if let Some(same) = SAME.iter().find(|s| s.contains(&word)).filter(|_| at > 0 && next.is_some_and(more)) {
        all.extend(same.iter().map(|w| w.to_string()));
    } else if noun_like(word) && !WHICH.contains(&word) && noun(words, at) {
        all.extend(other_number(word));
    }
    let mut seen = BTreeSet::new();
    all.retain(|w| seen.insert(w.clone()));
    all
}

/// Whether the word at a place is the head of its noun: the last one, or followed by what can't be a noun.
fn noun(words: &[&str], at: usize) -> bool {
    let word = words[at];
    let ends = words.get(at + 1).is_none_or(|n| {
        PREPOSITIONS.contains(n)
            || PARTICLES.contains(n)
            || (n.ends_with("ed") || n.ends_with("ing")) && at + 2 == words.len()
    });
    ends && word.len() > 3 && !word.ends_with("ing") && !word.ends_with("ed")
}

/// The same with fewer forms, the last ones first, until there are no more wordings than [`MOST`].
fn bounded(mut slots: Vec<Slot>) -> Vec<Slot> {
    while slots.iter().map(Slot::ways).product::<usize>() > MOST {
        let Some(widest) = slots.iter_mut().filter(|s| s.words.len() > 1).max_by_key(|s| s.words.len()) else { break };
        widest.words.pop();
    }
    slots
}

/// Where a wording differs from the listed one: a slot, and the word of it that is said, none where it is left out.
type Differs = (usize, Option<usize>);

/// One wording: its words, and where it differs from the listed one, by slot and word of the slot, none where its words are left out.
type Wording = (Vec<String>, Vec<Differs>);

/// Every wording of some slots, the listed one first.
pub fn all(slots: &[Slot]) -> Vec<Wording> {
    let mut all: Vec<Wording> = vec![(vec![], vec![])];
    for (place, slot) in slots.iter().enumerate() {
        let said = (0..slot.words.len()).map(Some);
        let ways: Vec<Option<usize>> = match (slot.may_lack, slot.added) {
            (true, true) => std::iter::once(None).chain(said).collect(),
            (true, false) => said.chain([None]).collect(),
            _ => said.collect(),
        };
        let with = |(words, differs): &Wording, way: Option<usize>| {
            let listed = if slot.added { way.is_none() } else { way == Some(0) };
            let word = way.map(|w| slot.words[w].clone());
            let differs = differs.iter().copied().chain((!listed).then_some((place, way))).collect();
            (words.iter().cloned().chain(word).collect(), differs)
        };
        all = all.iter().flat_map(|begun| ways.iter().map(move |way| with(begun, *way))).collect();
    }
    all
}

/// The wordings that differ from the listed one in one slot.
pub fn changed_once(slots: &[Slot]) -> impl Iterator<Item = Wording> {
    all(slots).into_iter().filter(|(_, differs)| differs.len() == 1)
}

/// Take these forms out of some slots; `forms` as [`all`] has them.
fn without(slots: &[Slot], forms: &BTreeSet<Differs>) -> Vec<Slot> {
    let left = |(place, slot): (usize, &Slot)| {
        let words = slot.words.iter().enumerate().filter(|(k, _)| !forms.contains(&(place, Some(*k))));
        let may_lack = slot.may_lack && !forms.contains(&(place, None));
        Slot { words: words.map(|(_, w)| w.clone()).collect(), may_lack, added: slot.added }
    };
    slots.iter().enumerate().map(left).filter(|slot| !slot.words.is_empty()).collect()
}

/// A callout, what it stands for, and its wordings.
pub struct Worded {
    /// As it is listed.
    pub say: String,
    /// What it stands for, as names.
    pub stands: BTreeSet<String>,
    /// Its wordings.
    pub slots: Vec<Slot>,
}

impl Worded {
    /// Whether the two have nothing in common that they stand for.
    fn apart(&self, other: &Worded) -> bool {
        self.stands.is_disjoint(&other.stands)
    }
}

/// Take out of these what could be taken for another one: a form that is nearer to another's listed words, or as near, as it is to its own; a wording
/// that lies within another's; and one that both have. What is listed stays.
pub fn apart(all_of: &mut [Worded]) {
    for k in 0..all_of.len() {
        let mine = &all_of[k];
        let others: Vec<&str> = all_of.iter().filter(|o| o.apart(mine)).map(|o| o.say.as_str()).collect();
        let distance = |text: &str, to: &str| strsim::damerau_levenshtein(text, to);
        let nearer = |text: &str| {
            let own = distance(text, &mine.say);
            // Words differ by no less than their lengths do.
            others.iter().any(|o| o.len().abs_diff(text.len()) <= own && distance(text, o) <= own)
        };
        let wrong = changed_once(&mine.slots).filter(|(words, _)| nearer(&words.join(" ")));
        all_of[k].slots = without(&mine.slots, &wrong.flat_map(|(_, differs)| differs).collect());
    }
    loop {
        let mut by_words: BTreeMap<Vec<String>, Vec<(usize, Vec<Differs>)>> = BTreeMap::new();
        for (k, worded) in all_of.iter().enumerate() {
            all(&worded.slots)
                .into_iter()
                .for_each(|(words, differs)| by_words.entry(words).or_default().push((k, differs)));
        }
        let listed: Vec<Vec<String>> = all_of.iter().map(|w| w.say.split(' ').map(str::to_string).collect()).collect();
        let mut wrong: BTreeMap<usize, BTreeSet<Differs>> = BTreeMap::new();
        for (words, whose) in &by_words {
            let differ = whose.iter().any(|(k, _)| all_of[*k].stands != all_of[whose[0].0].stands);
            for (k, differs) in whose.iter().filter(|(_, differs)| !differs.is_empty()) {
                let within = |(o, other): (usize, &Vec<String>)| {
                    let holds = |part: &[String]| other.windows(part.len()).any(|w| w == part);
                    all_of[o].apart(&all_of[*k]) && holds(words) && !holds(&listed[*k])
                };
                if differ || listed.iter().enumerate().any(within) {
                    wrong.entry(*k).or_default().extend(differs);
                }
            }
        }
        if wrong.is_empty() {
            return;
        }
        for (k, forms) in wrong {
            all_of[k].slots = without(&all_of[k].slots, &forms);
        }
    }
}

/// The slots as a person reads them: `apply|applies|applying|applied (the|a|my|your) toner|toners`; what may be left out in brackets.
pub fn shown(slots: &[Slot]) -> String {
    let one = |slot: &Slot| match slot.may_lack {
        true => format!("({})", slot.words.join("|")),
        false => slot.words.join("|"),
    };
    slots.iter().map(one).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_callout_covers_its_wordings_and_no_others() {
        let check = |say: &str, expected: &str| assert_eq!(shown(&slots(say, |v| v == "powder")), expected, "{say}");
        check("apply toner", "apply|applies|applying|applied (the|a|my|your) toner|toners");
        check("remove the mask", "remove|removes|removing|removed (the|a|my|your) mask|masks");
        check("gloves in the bin", "gloves|glove in|into (the|a|my|your) bin");
        check("throw away", "throw|throws|throwing|threw|thrown away");
        check("take off the towel", "take|takes|taking|took|taken off (the|a|my|your) towel|towels");
        check("steam towel on", "steam towel|towels on");
        check("hands sanitized", "hands|hand sanitized");
        check("mask", "mask|masks");
        check("area one", "area one");
        check("first coat", "first coat|coats");
        check("powder the brow", "powder|powders|powdering|powdered (the|a|my|your) brow|brows");
        check("shape the nails", "shape|shapes|shaping|shaped (the|a|my|your) nails|nail");
        check("labels facing out", "labels facing out");
    }
}
