//! Where the tool speaks: which sound is not listened to, and which phrases are its own.

use super::Voiced;
use crate::callout::Heard;
use crate::time::{Ms, SampleIndex};

/// How far into the tool's own speech a callout that had begun before it may run on.
const GRACE: Ms = Ms(1200);

/// A span in which the tool speaks.
#[derive(Clone, Copy, Debug)]
struct Span {
    from: SampleIndex,
    until: Option<SampleIndex>,
    /// Whether its voice is taken out of what is heard: otherwise nothing is listened to.
    through: bool,
}

/// Spans in which the tool speaks, in order.
#[derive(Clone, Debug, Default)]
pub struct Gate {
    spans: Vec<Span>,
}

impl Gate {
    /// A gate that was shut in these spans.
    pub fn shut_in(spans: &[(SampleIndex, SampleIndex)]) -> Gate {
        let span = |&(from, until)| Span { from, until: Some(until), through: false };
        Gate { spans: spans.iter().map(span).collect() }
    }

    /// The tool begins to speak at this place; `through`: its voice is taken out of what is heard.
    pub fn begin(&mut self, at: SampleIndex, through: bool) {
        if self.spans.last().is_some_and(|span| span.until.is_none() && span.through == through) {
            return;
        }
        self.end(at);
        self.spans.push(Span { from: at, until: None, through });
    }

    /// It has ended to speak, its echo in the room counted in.
    pub fn end(&mut self, at: SampleIndex) {
        if let Some(Span { until: until @ None, .. }) = self.spans.last_mut() {
            *until = Some(at);
        }
    }

    /// What the tool's voice does; `through`: it is taken out of what is heard.
    pub fn tell(&mut self, voiced: &Voiced, through: bool) {
        match voiced {
            Voiced::Begins(at, _) => self.begin(*at, through),
            Voiced::Stops(_) => {}
            Voiced::Ended(at) => self.end(*at),
        }
    }

    /// Whether sound from this place on is not listened to.
    pub fn silent(&self, at: SampleIndex) -> bool {
        let shut = |span: &Span| !span.through && span.until.is_none_or(|until| until > at) && span.from + GRACE <= at;
        self.spans.last().is_some_and(shut)
    }

    /// The phrases that the tool did not say itself where its voice isn't taken out. They are known by the onset of the whole phrase: one that began
    /// before the tool spoke may run on under its voice.
    pub fn others(&self, phrases: Vec<Heard>) -> Vec<Heard> {
        phrases.into_iter().filter(|heard| !self.own(heard.start)).collect()
    }

    /// Whether the tool itself spoke at this place, and was not taken out.
    pub fn own(&self, at: SampleIndex) -> bool {
        self.spans.iter().any(|s| !s.through && at >= s.from && s.until.is_none_or(|until| at < until))
    }

    /// Whether the tool speaks anywhere between two places.
    pub fn speaks(&self, start: SampleIndex, end: SampleIndex) -> bool {
        self.spans.iter().any(|span| span.from < end && span.until.is_none_or(|until| start < until))
    }
}
