//! What is asked: whole sentences, in whatever words, to a question that a run's record can answer. Rules know the question's signs; what was learnt from
//! thousands of wordings tells how likely each question is. Where none is likely enough, it is told to be not understood.

mod lexicon;
mod likely;
mod names;
mod parse;
mod rules;
mod word;

pub use names::{alike, names};
pub use parse::{Asker, Understood};

use serde::{Deserialize, Serialize};

/// A question about the run, or a wish about its answers. A name is one of [`names`], or [`THAT`].
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Question {
    /// What was not called?
    Missed,
    /// How long did what goes by this name take?
    HowLong(String),
    /// When was what goes by this name called?
    When(String),
    /// Say the last answer again.
    Repeat,
    /// Say it again, and all that follows, more slowly.
    Slower,
    /// Rehearse the same section again.
    Again,
    /// No more questions.
    Enough,
    /// Which step took most time?
    Longest,
    /// Which took least?
    Shortest,
    /// What went over its plan?
    Over,
    /// What took less than its plan?
    Under,
    /// How long is what goes by this name planned to take?
    Planned(String),
    /// How much time was left, or by how much was it too late?
    Left,
    /// How long did the whole run take?
    Total,
    /// How long may the section take?
    Limit,
    /// Was the first of these called before the second?
    Order(String, String),
    /// How long was it from the first of these to the second?
    Between(String, String),
    /// Was what goes by this name called?
    Called(String),
    /// How often was it called?
    HowOften(String),
    /// How many callouts were there?
    Count,
    /// What was called first?
    First,
    /// What was called last?
    Last,
    /// Hand hygiene: how often, how long?
    Hygiene,
    /// What was critical?
    Critical,
    /// What was out of order?
    Misplaced,
    /// What was there to find?
    Findings,
    /// How did it go in all?
    Summary,
    /// What went well?
    Well,
    /// How many points?
    Points,
    /// Was anything dropped?
    Dropped,
    /// How long was the clock held?
    Paused,
    /// How does this run compare with the last one?
    WithLast,
    /// How does it compare with the best one?
    WithBest,
    /// Am I ready for the exam?
    Ready,
    /// What is to be practised next?
    Practise,
    /// What does this step need: hint, caution, what must come before it?
    Needs(String),
    /// What cautions are there, for this step where one is named?
    Caution(Option<String>),
    /// Where is it published, for this step where one is named?
    Source(Option<String>),
    /// Explain the finding about this step, or the one told last.
    Explain(Option<String>),
    /// Which step comes next, behind this one or the one told last?
    Next(Option<String>),
    /// What comes just before this step?
    Prior(String),
    /// What can be asked?
    Help,
}

/// Stands for the step that was told last.
pub const THAT: &str = "that";

impl Question {
    /// What it asks without its names, as wordings have it.
    pub fn kind(&self) -> String {
        match serde_json::to_value(self) {
            Ok(serde_json::Value::String(kind)) => kind,
            Ok(serde_json::Value::Object(map)) => map.keys().next().cloned().unwrap_or_default(),
            _ => String::new(),
        }
    }

    /// The same about what was told last, where it speaks of "that".
    pub fn about(self, told: Option<&str>) -> Question {
        use Question::*;
        let of = |name: String| if name == THAT { told.map_or(name, str::to_string) } else { name };
        match self {
            HowLong(n) => HowLong(of(n)),
            When(n) => When(of(n)),
            Planned(n) => Planned(of(n)),
            Called(n) => Called(of(n)),
            HowOften(n) => HowOften(of(n)),
            Needs(n) => Needs(of(n)),
            Prior(n) => Prior(of(n)),
            Order(a, b) => Order(of(a), of(b)),
            Between(a, b) => Between(of(a), of(b)),
            Caution(n) => Caution(n.map(of)),
            Source(n) => Source(n.map(of)),
            Explain(n) => Explain(n.map(of)),
            Next(n) => Next(n.map(of)),
            other => other,
        }
    }

    /// The name that it speaks of first.
    pub fn name(&self) -> Option<&str> {
        use Question::*;
        match self {
            HowLong(n) | When(n) | Planned(n) | Called(n) | HowOften(n) | Needs(n) | Prior(n) => Some(n),
            Order(n, _) | Between(n, _) => Some(n),
            Caution(n) | Source(n) | Explain(n) | Next(n) => n.as_deref(),
            _ => None,
        }
    }

    /// It in plain words, to be offered in place of one that was not understood.
    pub fn worded(&self) -> String {
        use Question::*;
        let name = |n: &Option<String>| n.as_deref().map_or_else(String::new, |n| format!(" for {n}"));
        match self {
            Missed => "what did I miss".into(),
            HowLong(n) => format!("how long was {n}"),
            When(n) => format!("when did I call {n}"),
            Repeat => "repeat that".into(),
            Slower => "slower, please".into(),
            Again => "start again".into(),
            Enough => "that's all".into(),
            Longest => "what took longest".into(),
            Shortest => "what was shortest".into(),
            Over => "what went over plan".into(),
            Under => "what was faster than planned".into(),
            Planned(n) => format!("how long should {n} take"),
            Left => "how much time was left".into(),
            Total => "how long did it take in all".into(),
            Limit => "what is the limit".into(),
            Order(a, b) => format!("did I call {a} before {b}"),
            Between(a, b) => format!("how long was it between {a} and {b}"),
            Called(n) => format!("did I call {n}"),
            HowOften(n) => format!("how often did I call {n}"),
            Count => "how many steps did I call".into(),
            First => "what did I call first".into(),
            Last => "what did I call last".into(),
            Hygiene => "how was my hand hygiene".into(),
            Critical => "was anything critical".into(),
            Misplaced => "what was out of order".into(),
            Findings => "what did I do wrong".into(),
            Summary => "how did I do".into(),
            Well => "what went well".into(),
            Points => "how many points was that".into(),
            Dropped => "did I drop anything".into(),
            Paused => "how long was the clock held".into(),
            WithLast => "how was it compared with last time".into(),
            WithBest => "how was it compared with my best".into(),
            Ready => "am I ready".into(),
            Practise => "what should I practise".into(),
            Needs(n) => format!("what does {n} need"),
            Caution(n) => format!("what are the cautions{}", name(n)),
            Source(n) => format!("what is the source{}", name(n)),
            Explain(n) => format!("explain the finding{}", name(n)),
            Next(Some(n)) => format!("what comes after {n}"),
            Next(None) => "read the next step".into(),
            Prior(n) => format!("what comes before {n}"),
            Help => "what can I ask".into(),
        }
    }
}
