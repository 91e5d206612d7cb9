//! What happens to a session: events in the past tense, and the deadlines it asks for.

use crate::callout::Heard;
use crate::outcome::Absence;
use crate::time::{Ms, SampleIndex};
use serde::{Deserialize, Serialize};

/// A deadline the session asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Timer {
    /// End of a silence around the readings.
    Gap,
    /// The one warning of a phase.
    Warning,
    /// A cue that a step waits for.
    Cue,
    /// A hint, where the coach has one.
    Hint,
    /// The limit.
    Limit,
    /// No more results are waited for.
    Late,
    /// The proctor says that an item was dropped, in a drill for that.
    Drop,
    /// Nothing more is told after a silent run.
    Told,
    /// No more questions come after the recap.
    Asked,
    /// No time is guessed any more.
    Guessed,
    /// Whether a step was called is not answered any more.
    Answered,
    /// A wait with a least time is over, where the coach says so.
    Wait,
}

/// Something that happened.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Event {
    /// The session was opened.
    Opened,
    /// A phrase was recognised.
    Heard(Heard),
    /// The announcement numbered so began to sound.
    SpeechStarted(u32),
    /// The announcement numbered so ended.
    SpeechEnded(u32),
    /// A deadline came.
    TimerFired(Timer),
    /// The microphone was masked, from and to these places, because the tool spoke.
    Masked(SampleIndex, SampleIndex),
    /// The tool spoke from and to these places, and was taken out of what was heard; or its words were shown there.
    Spoke(SampleIndex, SampleIndex),
    /// This many samples were lost because nobody took them in time.
    Overflowed(u64),
    /// No more sound will come from the microphone.
    MicrophoneEnded,
    /// The person asked at the keyboard to end the run for good.
    Interrupted,
    /// Time went on; written where nothing else was, so that a run cut off loses little of its clock.
    Beat,
    /// The microphone stopped giving sound.
    MicrophoneLost,
    /// What the second listen found: steps, by place, and where each was perhaps called.
    Searched(Vec<(usize, SampleIndex)>),
    /// Nobody listened for a while, so the axis stood still: why, and how long where that is known.
    Away(Absence, Option<Ms>),
}
