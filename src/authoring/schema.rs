//! The keys of a section file, as serde reads them. Plain structs only: spans are lost under `flatten` and `tag`.

use crate::section::{DropAnswer, Severity, SupplyKind, Template};
use serde::Deserialize;
use toml::Spanned;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct File {
    pub id: String,
    pub title: String,
    pub trade: String,
    pub board: String,
    pub edition: Spanned<String>,
    pub source: String,
    #[serde(default)]
    pub cautions: Vec<String>,
    pub finish: Vec<Spanned<String>>,
    pub pass_mark: Option<Spanned<u8>>,
    pub reading: ReadingKeys,
    pub clock: ClockKeys,
    #[serde(default)]
    pub parameter: Vec<ParameterKeys>,
    #[serde(default)]
    pub phase: Vec<PhaseKeys>,
    #[serde(default)]
    pub step: Vec<StepKeys>,
    #[serde(default, rename = "loop")]
    pub loops: Vec<LoopKeys>,
    #[serde(default)]
    pub choice: Vec<ChoiceKeys>,
    #[serde(default)]
    pub callout: Vec<CalloutKeys>,
    #[serde(default)]
    pub rule: Vec<RuleKeys>,
    #[serde(default)]
    pub invariant: Vec<InvariantKeys>,
    #[serde(default)]
    pub safety: Vec<SafetyKeys>,
    #[serde(default)]
    pub criterion: Vec<CriterionKeys>,
    #[serde(default)]
    pub supply: Vec<SupplyKeys>,
    #[serde(default)]
    pub word: Vec<WordKeys>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct WordKeys {
    pub word: Spanned<String>,
    pub sounds: Spanned<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ReadingKeys {
    pub sentences: Vec<Spanned<String>>,
    #[serde(default = "twice")]
    pub times: u32,
    pub again: Spanned<String>,
    pub begin: String,
    #[serde(default)]
    pub extra: Vec<ExtraKeys>,
}

fn twice() -> u32 {
    2
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ExtraKeys {
    pub when: Spanned<String>,
    pub say: Spanned<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ClockKeys {
    pub minutes: Option<Spanned<f64>>,
    pub warning_minutes_left: Option<Spanned<f64>>,
    pub warning: Option<Spanned<String>>,
    pub stop: Spanned<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ParameterKeys {
    pub id: Spanned<String>,
    pub one_of: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct PhaseKeys {
    pub id: Spanned<String>,
    pub title: String,
    #[serde(default)]
    pub begin: String,
    pub minutes: Option<Spanned<f64>>,
    pub warning_minutes_left: Option<Spanned<f64>>,
    pub warning: Option<Spanned<String>>,
    pub stop: Option<Spanned<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct StepKeys {
    pub id: Spanned<String>,
    pub title: Spanned<String>,
    #[serde(default)]
    pub say: Vec<Spanned<String>>,
    pub phase: Option<Spanned<String>>,
    #[serde(default)]
    pub minutes: f64,
    #[serde(default)]
    pub after: Vec<Spanned<String>>,
    pub directly_after: Option<Spanned<String>>,
    #[serde(default)]
    pub optional: bool,
    #[serde(default)]
    pub critical: bool,
    #[serde(default)]
    pub hygiene: bool,
    #[serde(default)]
    pub labels: bool,
    #[serde(default)]
    pub points: u32,
    pub gate: Option<Spanned<String>>,
    pub hint: Option<Spanned<String>>,
    pub caution: Option<Spanned<String>>,
    pub at_least_seconds: Option<f64>,
    pub published: Option<String>,
    pub critical_published: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct LoopKeys {
    pub id: Spanned<String>,
    pub over: Vec<String>,
    pub steps: Vec<Spanned<String>>,
    #[serde(default)]
    pub ordered: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ChoiceKeys {
    pub title: String,
    pub of: Vec<Spanned<String>>,
    pub at_least: Spanned<usize>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CalloutKeys {
    pub id: Spanned<String>,
    pub say: Vec<Spanned<String>>,
    pub drop: Option<DropAnswer>,
    #[serde(default)]
    pub answered_by: Vec<Spanned<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RuleKeys {
    pub id: Spanned<String>,
    pub template: Template,
    pub first: Spanned<String>,
    pub then: Option<Spanned<String>>,
    #[serde(default = "once")]
    pub count: u32,
    pub at_least_seconds: Option<f64>,
    pub severity: Severity,
    pub message: Spanned<String>,
    pub published: Option<String>,
}

fn once() -> u32 {
    1
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct InvariantKeys {
    pub id: Spanned<String>,
    pub title: String,
    pub broken_by: Vec<Spanned<String>>,
    pub mended_by: Vec<Spanned<String>>,
    #[serde(default)]
    pub at_end: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SafetyKeys {
    pub id: Spanned<String>,
    pub first: Spanned<String>,
    pub then: Vec<Spanned<String>>,
    #[serde(default)]
    pub undone_by: Vec<Spanned<String>>,
    pub consequence: Spanned<String>,
    pub published: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CriterionKeys {
    pub id: Spanned<String>,
    pub text: String,
    #[serde(default)]
    pub steps: Vec<Spanned<String>>,
    pub at_least: Option<Spanned<usize>>,
    #[serde(default)]
    pub broken_by: Vec<Spanned<String>>,
    #[serde(default)]
    pub infection: bool,
    #[serde(default)]
    pub points: u32,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SupplyKeys {
    pub name: String,
    pub kind: SupplyKind,
    pub label: Option<String>,
}
