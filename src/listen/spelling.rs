//! EnrolmentScore words that sound like one that is not.

use super::Model;

impl Model {
    /// Up to three known words that sound like `word`, the nearest in spelling first.
    pub fn sound_alikes(&self, word: &str) -> Vec<String> {
        let sound = rough_sound(word);
        let mut near: Vec<(usize, &String)> = self
            .words
            .iter()
            .filter(|w| w.len().abs_diff(word.len()) <= 3 && rough_sound(w) == sound)
            .map(|w| (strsim::damerau_levenshtein(w, word), w))
            .collect();
        near.sort();
        near.into_iter().take(3).map(|(_, w)| w.clone()).collect()
    }
}

/// The letters of a word that are left when those that sound alike are made one, vowels after the first are dropped and
/// doubles are joined.
fn rough_sound(word: &str) -> String {
    let spelt = word.replace("ph", "f").replace("ck", "k").replace("gh", "").replace("wr", "r").replace("kn", "n");
    let mut sound = String::new();
    for (k, c) in spelt.chars().enumerate() {
        let c = match c {
            'c' | 'q' => 'k',
            'z' => 's',
            'v' => 'f',
            'd' => 't',
            'y' => 'i',
            c => c,
        };
        let vowel = matches!(c, 'a' | 'e' | 'i' | 'o' | 'u' | 'h' | '\'');
        if (k == 0 || !vowel) && !sound.ends_with(c) {
            sound.push(if vowel { 'a' } else { c });
        }
    }
    sound
}
