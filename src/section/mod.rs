//! The section: what is read aloud, the clock, the steps and the order they may be taken in.
//! It knows nothing of files, sound or how a run went.

mod count;
mod drill;
mod order;
mod rule;
mod verdict;

pub(crate) use count::close;
pub use order::{Done, Order};
pub use rule::{Invariant, Rule, RuleAutomaton, Severity, Template};
pub use verdict::{Criterion, DropAnswer, SafetyPair, SupplyKind};

use crate::time::{Ms, spoken};
use serde::Serialize;

/// Most steps a section may have.
pub const MAX_STEPS: usize = 256;

/// One timed section of a practical exam.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Section {
    /// Short name, unique in a folder.
    pub id: String,
    /// Name as spoken and shown.
    pub title: String,
    /// The trade examined.
    pub trade: String,
    /// The board whose bulletin it follows.
    pub board: String,
    /// Date of the edition, `YYYY-MM-DD`.
    pub edition: String,
    /// Where the numbers come from.
    pub source: String,
    /// The usual cautions, shown before and after.
    pub cautions: Vec<String>,
    /// What the proctor reads.
    pub reading: Reading,
    /// What is timed as one, in order; at least one.
    pub phases: Vec<Phase>,
    /// Words by which the candidate shows that the section is finished.
    pub finish: Vec<String>,
    /// The steps, in the order they are written.
    pub steps: Vec<Step>,
    /// "At least k of these" choices.
    pub choices: Vec<Choice>,
    /// Callouts that stand for no step, for rules to speak of.
    pub events: Vec<NamedCallout>,
    /// Constraints over callouts.
    pub rules: Vec<Rule>,
    /// What must hold all the time.
    pub invariants: Vec<Invariant>,
    /// What has to come first to protect somebody.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub safety: Vec<SafetyPair>,
    /// The sheet that the board's examiners tick.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub criteria: Vec<Criterion>,
    /// What to pack.
    pub supplies: Vec<Supply>,
    /// Percent of the points needed to pass, where the board has such a mark.
    pub pass_mark: Option<u8>,
    /// What the proctor drew for this run: name and value.
    pub drawn: Vec<(String, String)>,
    /// How words of the callouts are said, where that isn't as they are spelt: the word, and its phones as CMUdict has them.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub sounds: Vec<(String, String)>,
}

/// The proctor's instructions.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Reading {
    /// One sentence an item.
    pub sentences: Vec<String>,
    /// How often they are read.
    pub times: u32,
    /// Said before each further reading.
    pub again: String,
    /// The start words: the clock starts when they end.
    pub begin: String,
}

/// A part of a section with a clock of its own.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Phase {
    /// Short name.
    pub id: String,
    /// Name as spoken and shown.
    pub title: String,
    /// The words it starts with; the clock starts when they end.
    pub begin: String,
    /// Its clock.
    pub clock: Clock,
}

/// A callout that stands for no step.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NamedCallout {
    /// Short name, as rules use it.
    pub id: String,
    /// Its words.
    pub say: Vec<String>,
    /// What it answers when an item was dropped.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drop: Option<DropAnswer>,
    /// What has to follow at once, in this order, by name: the answer to a mishap, such as a torn glove. It belongs to no step.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub answered_by: Vec<String>,
}

/// Something to pack.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Supply {
    /// What it is.
    pub name: String,
    /// Thrown away after one client, or cleaned and disinfected.
    pub single_use: bool,
    /// What becomes of it, where the file says more than single or multi.
    #[serde(skip_serializing_if = "SupplyKind::plain")]
    pub kind: SupplyKind,
    /// The label it must carry.
    pub label: Option<String>,
}

/// A clock.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Clock {
    /// Time allowed; none where it is not timed.
    pub limit: Option<Ms>,
    /// Time left when the one warning is given; none where the section has no warning.
    pub warning_left: Option<Ms>,
    /// The warning's words.
    pub warning: String,
    /// The stop words.
    pub stop: String,
}

/// One thing the candidate is to do.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Step {
    /// Short name, unique in the section.
    pub id: String,
    /// The name it was written with: the same for every turn of a loop.
    pub base: String,
    /// Names that stand for it and for others: its loop's, its phase's. They are what the file says, and no state of a run.
    #[serde(skip)]
    pub groups: Vec<String>,
    /// Name as shown and spoken in the recap.
    pub title: String,
    /// The phase it belongs to, by place.
    pub phase: usize,
    /// The proctor's cue, which it must wait for.
    pub gate: Option<String>,
    /// What it is worth.
    pub points: u32,
    /// A short hint for coach mode.
    pub hint: Option<String>,
    /// Callouts, any of which announces the step. Several steps may share one.
    pub say: Vec<String>,
    /// Time planned; zero where the file plans none, see [`Step::plan`].
    pub target: Ms,
    /// Steps that must come before, by place in [`Section::steps`].
    pub after: Vec<usize>,
    /// The step that must come immediately before.
    pub directly_after: Option<usize>,
    /// May be left out.
    pub optional: bool,
    /// Leaving it out can fail the section.
    pub critical: bool,
    /// A hand-hygiene step: more of it is never a fault.
    pub hygiene: bool,
    /// About labels: called out as long as hand hygiene is, where callouts fade.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub labels: bool,
    /// Caution shown with the step.
    pub caution: Option<String>,
    /// Least time from its callout to the next one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_least: Option<Ms>,
    /// Where it is published, by the number in the source; none where it is common practice.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub published: Option<String>,
    /// Where it is published that leaving it out can fail the section; none where that is the file's own judgement.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub critical_published: Option<String>,
}

/// At least `at_least` of the steps in `of` must be taken.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Choice {
    /// Name as spoken in the recap.
    pub title: String,
    /// Steps, by place.
    pub of: Vec<usize>,
    /// How many of them are needed.
    pub at_least: usize,
}

impl Step {
    /// Time planned; none where the file has no minutes for the step.
    pub fn plan(&self) -> Option<Ms> {
        (self.target > Ms(0)).then_some(self.target)
    }

    /// Whether `name` is its own, that of the loop's step it is a turn of, its loop's or its phase's.
    pub fn is_named(&self, name: &str) -> bool {
        self.id == name || self.base == name || self.groups.iter().any(|g| g == name)
    }
}

impl Section {
    /// The same section with its clocks, targets and least times divided by `factor`, for a fast walk-through of the order. Its
    /// warnings say the time that is left then, and not that of the real section.
    pub fn compressed(mut self, factor: u32) -> Section {
        if factor <= 1 {
            return self;
        }
        let factor = u64::from(factor);
        let divide = |span: Ms| Ms(span.0 / factor);
        for phase in &mut self.phases {
            phase.clock.limit = phase.clock.limit.map(divide);
            phase.clock.warning_left = phase.clock.warning_left.map(divide);
            if let Some(left) = phase.clock.warning_left {
                phase.clock.warning = format!("{} left.", spoken(left));
            }
        }
        for step in &mut self.steps {
            step.target = divide(step.target);
            step.at_least = step.at_least.map(divide);
        }
        for rule in &mut self.rules {
            rule.at_least = rule.at_least.map(divide);
        }
        self
    }

    /// Time allowed in all, where every phase is timed.
    pub fn limit(&self) -> Option<Ms> {
        self.phases.iter().map(|p| p.clock.limit).sum()
    }

    /// Whether a callout, as its words, is meant by `name`: that of a step, a loop's step, a loop, a phase or a named callout, or `any`.
    pub fn means(&self, name: &str, say: &str) -> bool {
        let holds = |phrases: &[String]| phrases.iter().any(|p| p == say);
        name == "any"
            || self.steps.iter().any(|s| s.is_named(name) && holds(&s.say))
            || self.events.iter().any(|e| e.id == name && holds(&e.say))
    }

    /// Whether `name` stands for this step, see [`Step::is_named`].
    pub fn is_named(&self, name: &str, step: usize) -> bool {
        self.steps[step].is_named(name)
    }

    /// Whether a callout, as its words, is for a hand-hygiene step, or for one that a drill leaves out.
    pub fn is_hygiene(&self, say: &str) -> bool {
        let holds = |phrases: &[String]| phrases.iter().any(|p| p == say);
        self.steps.iter().any(|s| s.hygiene && holds(&s.say))
            || self.events.iter().any(|e| e.drop == Some(DropAnswer::Hands) && holds(&e.say))
    }

    /// Whether a step is care, which takes its time and is never told as slow: it is critical, for the hands, or protects somebody.
    pub fn is_care(&self, step: usize) -> bool {
        let Step { critical, hygiene, .. } = self.steps[step];
        critical || hygiene || self.safety.iter().any(|pair| self.is_named(&pair.first, step))
    }

    /// The choice that a step belongs to, by place.
    pub fn choice_of(&self, step: usize) -> Option<usize> {
        self.choices.iter().position(|c| c.of.contains(&step))
    }

    /// Words in one reading of the instructions.
    pub fn reading_words(&self) -> usize {
        self.reading.sentences.iter().map(|s| s.split_whitespace().count()).sum()
    }
}
