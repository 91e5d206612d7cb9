//! How a run is made: what the header of its journal keeps, and what section and proctor go by.

use crate::outcome::{Fade, Mode, Past};
use crate::section::Section;
use serde::{Deserialize, Serialize};

/// All that is chosen before a run and changes what happens in it. The order is the one that journals have it in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Settings {
    /// How far the clock is compressed; 1 is real time.
    pub compress: u32,
    /// Coach or exam.
    pub mode: Mode,
    /// What the proctor's draws are made with.
    #[serde(default)]
    pub seed: u64,
    /// Whether the tool's voice can't reach the microphone.
    #[serde(default)]
    pub headset: bool,
    /// Whether its words are only shown: then nothing of it is in the sound.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub unspoken: bool,
    /// Names of the steps drilled; empty for a whole section.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub drill: Vec<String>,
    /// How far callouts have faded.
    #[serde(default, skip_serializing_if = "Fade::is_all")]
    pub fade: Fade,
    /// Whether the proctor makes an item drop.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub drops: bool,
    /// Whether steps that were not heard are looked for again before the recap.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub listens_again: bool,
    /// Whether those of a choice are, too; not in runs from before that was done.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub seeks_choices: bool,
    /// Whether questions are answered after the recap.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub answers: bool,
    /// Whether the candidate is asked how long it took, before the recap says so.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub asks_time: bool,
    /// Whether the candidate is asked about steps that were perhaps called, before the recap tells of them.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub confirms: bool,
    /// Whether the recap is left to a mock exam that the run is a part of.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub unreported: bool,
    /// Whether a soft tone says that a callout was understood; never in exam mode.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub signs: bool,
    /// What the coach tells unasked; none in runs from before this could be chosen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tells: Option<Vec<Tell>>,
    /// Whether the reading is left out: in practice only.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub skips_reading: bool,
    /// What earlier runs came to, where there are some and questions are answered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub past: Option<Past>,
}

/// Something that the coach tells unasked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Tell {
    /// The next step, after a pause much longer than this person's own.
    Next,
    /// The name of each phase, before it begins.
    Phase,
    /// Behind the warning: where the plan has the candidate by then.
    Pace,
}

impl From<Mode> for Settings {
    /// A whole section in real time, every step called, and nothing beside it.
    fn from(mode: Mode) -> Settings {
        Settings {
            compress: 1,
            mode,
            seed: 0,
            headset: false,
            unspoken: false,
            drill: vec![],
            fade: Fade::All,
            drops: false,
            listens_again: false,
            seeks_choices: false,
            answers: false,
            asks_time: false,
            confirms: false,
            unreported: false,
            signs: false,
            tells: None,
            skips_reading: false,
            past: None,
        }
    }
}

impl Settings {
    /// A section as it is rehearsed with these: cut down to what is drilled or called, and compressed. None where a drill's names
    /// mean nothing, or no hygiene is there to call.
    pub fn applied(&self, section: Section) -> Option<Section> {
        let section = if self.drill.is_empty() { section } else { section.drilled(&self.drill)? };
        let section = match self.fade {
            Fade::All => section,
            Fade::Hygiene => section.hygiene_only()?,
            Fade::Silent => section.untimed_rules(),
        };
        Some(section.compressed(self.compress))
    }

    /// Whether nothing is called while the section runs, and all is told afterwards.
    pub(super) fn silent(&self) -> bool {
        self.fade == Fade::Silent
    }

    /// When the proctor says that an item has dropped, in thousandths of the time.
    pub(super) fn drop(&self) -> Option<u64> {
        // Any spread of the seed's bits will do: 15 % to 85 % of the time.
        self.drops.then(|| 150 + self.seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) % 700)
    }
}
