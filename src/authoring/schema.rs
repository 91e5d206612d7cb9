//! The keys of a section file, as serde reads them. Plain structs only: spans are lost under `flatten` and `tag`.

use serde::Deserialize;
use toml::Spanned;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct File {
    pub id: String,
    pub title: String,
    pub trade: String,
    pub board: String,
    pub edition: String,
    pub source: String,
    #[serde(default)]
    pub cautions: Vec<String>,
    pub finish: Vec<Spanned<String>>,
    pub reading: ReadingKeys,
    pub clock: ClockKeys,
    #[serde(default)]
    pub step: Vec<StepKeys>,
    #[serde(default)]
    pub choice: Vec<ChoiceKeys>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ReadingKeys {
    pub sentences: Vec<String>,
    #[serde(default = "twice")]
    pub times: u32,
    pub again: String,
    pub begin: String,
}

fn twice() -> u32 {
    2
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ClockKeys {
    pub minutes: Spanned<f64>,
    pub warning_minutes_left: Option<Spanned<f64>>,
    #[serde(default)]
    pub warning: String,
    pub stop: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct StepKeys {
    pub id: Spanned<String>,
    pub title: String,
    #[serde(default)]
    pub say: Vec<Spanned<String>>,
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
    pub caution: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ChoiceKeys {
    pub title: String,
    pub of: Vec<Spanned<String>>,
    pub at_least: Spanned<usize>,
}
