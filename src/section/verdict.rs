//! What an examiner looks for beside steps and their order: pairs that protect, and the published criteria.

use serde::Serialize;

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
