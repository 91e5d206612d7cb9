//! What a callout is easily taken for: its opposites, and its name where something else is done with it.

use crate::words::Slot;

/// Two words a line: one is easily taken for a phrase with the other in it, where only that is a callout.
const OPPOSITES: &str = include_str!("../../models/english/opposites.txt");

/// What is done with a thing whose name alone is called when it is applied, and what is said of it when it isn't: words side by side, in one or two places.
const OTHER_USES: [[&str; 2]; 3] = [
    ["remove removing removed take taking test testing tested prepare preparing get getting", "off"],
    ["not never forgot forget without", ""],
    ["did have can could should shall do if", "i we"],
];

/// A phrase, given by what may be said for each of its words, behind each of those.
pub(super) fn other_uses(slots: &[Slot]) -> impl Iterator<Item = Vec<Slot>> {
    let of = |words: &str, may_lack| Slot {
        words: words.split_whitespace().map(str::to_string).collect(),
        may_lack,
        added: false,
    };
    OTHER_USES.iter().map(move |[first, second]| {
        // "Off" and "the" may lack.
        let before = [of(first, false), of(second, *second == "off" || second.is_empty()), of("the", true)];
        // What may be left out in front of a phrase is "the", too.
        before.into_iter().chain(slots.iter().skip_while(|slot| slot.may_lack).cloned()).collect()
    })
}

/// The word that is easily taken for this one.
fn opposite(word: &str) -> Option<&'static str> {
    let pairs = OPPOSITES.lines().filter_map(|line| line.split_once(' '));
    pairs.flat_map(|(a, b)| [(a, b), (b, a)]).find_map(|(a, b)| (a == word).then_some(b))
}

/// A phrase in all its wordings, each time with another of its words turned into its opposite, and with "off" behind it.
pub(super) fn turned(slots: &[Slot]) -> impl Iterator<Item = Vec<Slot>> {
    let word = |(k, slot): (usize, &Slot)| slot.words.iter().find_map(|w| opposite(w)).map(|o| (k, Slot::of(o)));
    let with = |(k, slot): (usize, Slot)| [&slots[..k], &[slot], &slots[k + 1..]].concat();
    // "Mask off" is no mask.
    let way = |slot: &Slot| slot.words.iter().any(|w| w == "on" || w == "off");
    let off = (!slots.iter().any(way)).then(|| [slots, &[Slot::of("off")]].concat());
    slots.iter().enumerate().filter_map(word).map(with).chain(off)
}

/// The same for a phrase as it is listed.
pub(super) fn opposites(phrase: &str) -> Vec<String> {
    let slots: Vec<Slot> = phrase.split(' ').map(Slot::of).collect();
    turned(&slots).map(|slots| slots.into_iter().flat_map(|slot| slot.words).collect::<Vec<_>>().join(" ")).collect()
}
