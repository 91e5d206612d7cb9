//! What an examiner looks for beside steps and their order: pairs that protect, the published criteria, and how a dropped
//! item is answered.

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
