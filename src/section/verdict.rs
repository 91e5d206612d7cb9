//! What an examiner looks for beside steps and their order: pairs that protect, the published criteria, and how a dropped
//! item is answered.

use super::{Section, Step};
use serde::{Deserialize, Serialize};

/// Two things whose order protects somebody.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SafetyPair {
    /// Short name.
    pub id: String,
    /// What has to be called first: the name of a step or of a named callout.
    pub first: String,
    /// What it protects: each of these only behind `first`.
    pub then: Vec<String>,
    /// What takes the protection away again, so that `first` is needed once more.
    pub undone_by: Vec<String>,
    /// What comes of the wrong order and what to drill, in one or two sentences.
    pub consequence: String,
    /// Where it is published; none where it is common practice.
    pub published: Option<String>,
}

impl SafetyPair {
    /// The pair as it is judged: over steps of one loop once for each turn, where their callouts tell the turns apart. What it protects
    /// outside the loop needs `first` of any turn.
    pub fn turns(&self, section: &Section) -> Vec<SafetyPair> {
        let of =
            |name: &str| -> Vec<&Step> { section.steps.iter().filter(|s| s.base == name && s.id != s.base).collect() };
        let apart = |name: &str| {
            let says: Vec<&String> = of(name).into_iter().flat_map(|s| &s.say).collect();
            says.iter().enumerate().all(|(i, say)| !says[..i].contains(say))
        };
        let firsts = of(&self.first);
        let inside = |name: &String| {
            let same = |s: &Step| firsts.first().is_some_and(|first| s.groups.first() == first.groups.first());
            apart(name) && of(name).first().is_some_and(|s| same(s))
        };
        let (within, outside): (Vec<String>, Vec<String>) = self.then.iter().cloned().partition(&inside);
        if within.is_empty() || !apart(&self.first) {
            return vec![self.clone()];
        }
        let turn = |first: &&Step| {
            let own = |name: &String| format!("{name}{}", &first.id[first.base.len()..]);
            let undone = |name: &String| if inside(name) { own(name) } else { name.clone() };
            SafetyPair {
                first: first.id.clone(),
                then: within.iter().map(own).collect(),
                undone_by: self.undone_by.iter().map(undone).collect(),
                ..self.clone()
            }
        };
        let mut turns: Vec<SafetyPair> = firsts.iter().map(turn).collect();
        if !outside.is_empty() {
            turns.push(SafetyPair { then: outside, ..self.clone() });
        }
        turns
    }
}

/// One line of the sheet that a board's examiners tick.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Criterion {
    /// Its number in the source.
    pub id: String,
    /// What is looked for, in our own words.
    pub text: String,
    /// What claims it, by name: steps and named callouts. Empty where nothing that is called can.
    pub steps: Vec<String>,
    /// How many of them are needed.
    pub at_least: usize,
    /// Rules, invariants and safety pairs that contradict it when they are broken, by name.
    pub broken_by: Vec<String>,
    /// Whether it is about infection control.
    pub infection: bool,
    /// What the board gives for it; 0 where it publishes no points.
    pub points: u32,
}

/// What a named callout answers when an item was dropped.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DropAnswer {
    /// The item went where it belongs.
    Away,
    /// A fresh one was taken.
    Fresh,
    /// The hands, after it was put away. A hygiene step's own callout answers so, and no file names it; where a drill leaves that
    /// step out, its callout stays as this.
    Hands,
}

/// What becomes of a supply after one client.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SupplyKind {
    /// It is thrown away.
    Single,
    /// It is a product, in its labelled container.
    Product,
    /// It is laundered.
    Laundered,
    /// It is cleaned and disinfected.
    Disinfected,
    /// It is kept for several clients, one way or another.
    Multi,
}

impl SupplyKind {
    /// As the pack list has it.
    pub fn in_words(self) -> &'static str {
        match self {
            SupplyKind::Single => "single use",
            SupplyKind::Product => "product",
            SupplyKind::Laundered => "laundered after",
            SupplyKind::Disinfected | SupplyKind::Multi => "cleaned and disinfected after",
        }
    }

    /// Whether it is one of the two kinds that files had first.
    pub(super) fn plain(&self) -> bool {
        matches!(self, SupplyKind::Single | SupplyKind::Multi)
    }
}
