//! The phones of the model, how words are said in them, and how likely one phone follows another in ordinary talk.

use super::LARGEST_FILE;
use crate::platform;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// Index into the model's phones; 0 is silence, 1 a spoken noise, speech from 2 on.
pub type Phone = usize;
/// Silence.
pub const SILENCE: Phone = 0;
/// The first phone of speech.
pub const SPEECH: Phone = 2;

/// What the model's folder says of phones and words.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Phones {
    /// Their names, by index: SIL, SPN, AA, AE, ...
    pub names: Vec<String>,
    said: BTreeMap<String, Vec<Vec<Phone>>>,
    /// Row p, column q: -ln P(q | p) in ordinary words run together; the last row is for the first phone.
    follows: Vec<f64>,
    /// Costs of the graph's filler: of entering it, of each phone, and the weight of `follows`.
    pub filler: (f64, f64, f64),
    /// Common words and -ln of their share of ordinary talk.
    pub common: Vec<(String, f32)>,
}

impl Phones {
    /// Silence, then the phones of speech: all but the spoken noise.
    pub fn live(&self) -> Vec<Phone> {
        std::iter::once(SILENCE).chain(SPEECH..self.names.len()).collect()
    }

    /// From a model folder's phones.txt, lexicon.txt ("word PH PH ...") and filler.txt ("p q cost", "^ q cost", and
    /// "# entry each scale"); none where the folder, like one from elsewhere, lacks them.
    pub fn read(folder: &Path) -> Option<Phones> {
        let text = |name: &str| platform::read_text(&folder.join("graph").join(name), LARGEST_FILE).ok();
        let mut phones = Phones::parse(&text("phones.txt")?, &text("lexicon.txt")?, &text("filler.txt")?)?;
        phones.common = counted(&text("common.txt").unwrap_or_default());
        Some(phones)
    }

    /// The same from the texts.
    pub fn parse(phones: &str, lexicon: &str, filler: &str) -> Option<Phones> {
        let mut names: Vec<String> = vec![];
        for name in phones.lines().filter_map(|l| l.split(' ').next()).filter(|n| *n != "<eps>") {
            let base = name.split('_').next().unwrap_or(name);
            if names.last().is_none_or(|n| n != base) {
                names.push(base.to_string());
            }
        }
        let index: BTreeMap<&str, Phone> = names.iter().enumerate().map(|(i, n)| (n.as_str(), i)).collect();
        let mut said: BTreeMap<String, Vec<Vec<Phone>>> = BTreeMap::new();
        for line in lexicon.lines() {
            let mut parts = line.split_whitespace();
            let word = parts.next()?;
            if let Some(pron) = parts.map(|p| index.get(p).copied()).collect::<Option<Vec<Phone>>>() {
                // Most have one, and there are a hundred thousand.
                said.entry(word.to_string()).or_insert_with(|| Vec::with_capacity(1)).push(pron);
            }
        }
        let n = names.len();
        let mut follows = vec![20.0; (n + 1) * n];
        let mut costs = None;
        for line in filler.lines() {
            let parts: Vec<&str> = line.split_whitespace().collect();
            if let ["#", entry, each, scale] = parts[..] {
                costs = Some((entry.parse().ok()?, each.parse().ok()?, scale.parse().ok()?));
                continue;
            }
            let [p, q, cost] = parts[..] else { return None };
            let row = if p == "^" { n } else { *index.get(p)? };
            follows[row * n + *index.get(q)?] = cost.parse().ok()?;
        }
        let filler = costs?;
        (n > SPEECH && names[0] == "SIL").then_some(Phones { names, said, follows, filler, common: vec![] })
    }

    /// The pronunciations of a word; none for an unknown one.
    pub fn of(&self, word: &str) -> &[Vec<Phone>] {
        self.said.get(word).map_or(&[], Vec::as_slice)
    }

    /// Teach it a word, or another pronunciation of one.
    pub fn teach(&mut self, word: &str, pron: Vec<Phone>) {
        let pronunciations = self.said.entry(word.to_string()).or_default();
        if !pronunciations.contains(&pron) {
            pronunciations.push(pron);
        }
    }

    /// The same with none but these words and the common ones: a lexicon takes tens of megabytes.
    pub fn keeping(&self, wanted: &[&str]) -> Phones {
        let common: BTreeSet<&str> =
            self.common.iter().map(|(word, _)| word.as_str()).chain(wanted.iter().copied()).collect();
        let said = self.said.iter().filter(|(word, _)| common.contains(word.as_str()));
        let said = said.map(|(word, phones)| (word.clone(), phones.clone())).collect();
        Phones { names: self.names.clone(), said, follows: self.follows.clone(), common: self.common.clone(), ..*self }
    }

    /// Every word with its pronunciations, in order.
    pub fn words(&self) -> impl Iterator<Item = (&String, &Vec<Vec<Phone>>)> {
        self.said.iter()
    }

    /// The phones in a text such as "S T IY M", in either case.
    pub fn spelt(&self, text: &str) -> Option<Vec<Phone>> {
        let phone = |p: &str| (SPEECH..self.names.len()).find(|i| self.names[*i] == p);
        text.to_uppercase().split_whitespace().map(phone).collect()
    }

    /// -ln of the chance that `next` follows `phone`; none for the first of an utterance.
    pub fn follow(&self, phone: Option<Phone>, next: Phone) -> f64 {
        self.follows[phone.unwrap_or(self.names.len()) * self.names.len() + next]
    }
}

/// Words and costs of a list "word count".
fn counted(text: &str) -> Vec<(String, f32)> {
    let counts: Vec<(&str, f32)> =
        text.lines().filter_map(|l| l.split_once(' ')).filter_map(|(w, n)| Some((w, n.trim().parse().ok()?))).collect();
    let all: f32 = counts.iter().map(|(_, n)| n).sum();
    counts.into_iter().map(|(word, n)| (word.to_string(), (all / n).ln())).collect()
}
