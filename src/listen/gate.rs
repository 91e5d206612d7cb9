//! What was masked, because the tool spoke: which sound is not listened to, and which phrases are its own.

use crate::callout::Heard;
use crate::time::{Ms, SampleIndex};

/// How far into the tool's own speech a callout that had begun before it may run on.
const GRACE: Ms = Ms(1200);

/// Spans in which the tool speaks, in order.
#[derive(Clone, Debug, Default)]
pub struct Gate {
    spans: Vec<(SampleIndex, Option<SampleIndex>)>,
}

impl Gate {
    /// A gate that was shut in these spans.
    pub fn shut_in(spans: &[(SampleIndex, SampleIndex)]) -> Gate {
        Gate { spans: spans.iter().map(|(from, until)| (*from, Some(*until))).collect() }
    }

    /// The tool begins (true) or has ended to speak at this place, its echo in the room counted in.
    pub fn tell(&mut self, begins: bool, at: SampleIndex) {
        match self.spans.last_mut() {
            Some((_, until @ None)) if !begins => *until = Some(at),
            Some((_, None)) => {}
            _ if begins => self.spans.push((at, None)),
            _ => {}
        }
    }

    /// Whether sound from this place on is not listened to.
    pub fn silent(&self, at: SampleIndex) -> bool {
        self.spans.last().is_some_and(|(from, until)| until.is_none_or(|u| u > at) && *from + GRACE <= at)
    }

    /// The phrases that the tool did not say itself. They are known by the onset of the whole phrase: one that began
    /// before the tool spoke may run on under its voice.
    pub fn others(&self, phrases: Vec<Heard>) -> Vec<Heard> {
        phrases.into_iter().filter(|heard| !self.own(heard.start)).collect()
    }

    /// Whether the tool itself spoke at this place.
    pub fn own(&self, at: SampleIndex) -> bool {
        self.spans.iter().any(|(from, until)| at >= *from && until.is_none_or(|u| at < u))
    }
}
