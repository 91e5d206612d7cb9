//! What the proctor says of itself; all else it says stands in the section file.

use super::Session;
use crate::section::Section;
use crate::time::spoken;

/// Said after a silent run.
pub(super) const TELL: &str =
    "Now tell me what you went through, step by step. Give the finish signal when you have told all.";

/// Said after the recap.
pub(super) const ASK: &str = "Any questions? Ask what you missed, how long something was, or what to practise.";

/// Said where a sentence was not understood and nothing is near.
pub(super) const HELP: &str = "Say: what can I ask.";

/// Said before the recap, where a time is to be guessed.
pub(super) const GUESS: &str = "Before I tell you: how many minutes did that take?";

/// Said while the second listen goes through what was heard, which takes some seconds after a run of talk.
pub(super) const AGAIN: &str = "One moment. I listen once more for what I did not hear.";

/// Said in place of the readings, where they are left out.
pub(super) const SKIPPED: &str = "The reading is skipped.";

/// Said in the drill of a dropped item.
pub(super) const DROP: &str = "An item has dropped to the floor.";

/// Said in coach mode when a wait with a least time is over.
pub(super) const LONG_ENOUGH: &str = "Long enough.";

/// Said where nothing was corrected that could be taken back.
pub(super) const NOTHING_TO_UNDO: &str = "There is no correction to take back.";

/// Said where something was called in a pause that steers a run.
pub(super) const STILL_PAUSED: &str = "The clock is paused. Say resume first.";

/// Said when the microphone gives nothing.
pub(super) const DEAF: &str = "I can't hear you. The clock is held until the microphone is back.";

/// Said behind the last reading where the clock is compressed: the minutes that were read are not those that pass. None on the real clock.
pub(super) fn compressed(section: &Section, compress: u32) -> Option<String> {
    let time = section.limit().map_or_else(String::new, |limit| format!(": you have {}", spoken(limit)));
    (compress > 1).then(|| format!("Compressed {compress} times{time}."))
}

/// The instructions as they are read the time behind so many.
pub(super) fn reading(section: &Section, compress: u32, done: u32) -> String {
    let again = Some(&section.reading.again).filter(|_| done > 0);
    let clock = compressed(section, compress).filter(|_| done + 1 >= section.reading.times);
    again.into_iter().chain(&section.reading.sentences).chain(&clock).map(String::as_str).collect::<Vec<_>>().join(" ")
}

impl Session {
    /// Every announcement whose words are known beforehand, of a section on a clock compressed so many times.
    pub fn announcements(section: &Section, compress: u32) -> Vec<String> {
        let readings = (0..section.reading.times.max(1)).map(|done| reading(section, compress, done));
        let phases = section.phases.iter().flat_map(|p| [&p.begin, &p.clock.warning, &p.clock.stop]).cloned();
        let cues = section.steps.iter().filter_map(|s| s.gate.clone());
        let mut all: Vec<String> = readings.collect();
        all.extend(phases.chain(cues).chain([
            "Paused.".into(),
            "Going on.".into(),
            STILL_PAUSED.into(),
            DEAF.into(),
            DROP.into(),
            SKIPPED.into(),
            LONG_ENOUGH.into(),
            TELL.into(),
            ASK.into(),
            GUESS.into(),
            AGAIN.into(),
        ]));
        let mut seen = std::collections::BTreeSet::new();
        all.retain(|text| !text.is_empty() && seen.insert(text.clone()));
        all
    }
}
