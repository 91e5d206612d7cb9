//! A run that was cut off, rebuilt from its journal alone.

use super::agenda::Agenda;
use crate::audio::CHUNK;
use crate::journal::{Journal, Record};
use crate::session::{Effect, Event, Session};
use crate::time::SampleIndex;

/// A run that was cut off, as its journal leaves it.
pub struct Standing {
    /// The proctor.
    pub session: Session,
    /// Where the axis stands.
    pub at: SampleIndex,
    /// Where the tool spoke, the last time up to where the run was cut off.
    pub masked: Vec<(SampleIndex, SampleIndex)>,
    /// End of the last phrase on record.
    pub heard: SampleIndex,
    /// How many events were taken in when a digest first differed.
    pub differs: Option<usize>,
    /// What was still to come.
    pub remaining: Remaining,
}

/// What was still to come when a run was cut off.
pub struct Remaining(pub(super) Agenda);

impl Standing {
    /// Take a fresh session through a journal.
    pub fn rebuild(journal: &Journal, mut session: Session) -> Standing {
        let mut agenda = Agenda::default();
        let (mut masked, mut heard) = (vec![], SampleIndex(0));
        let sounds = !journal.header.settings.headset && !journal.header.settings.unspoken;
        let differs = journal.replay(&mut session, |Record { at, event }, effects| {
            match event {
                Event::TimerFired(timer) => agenda.disarm(*timer),
                Event::SpeechStarted(_) if sounds => agenda.masked_from = agenda.masked_from.or(Some(*at)),
                Event::Masked(from, until) | Event::Spoke(from, until) if sounds => {
                    agenda.masked_from = None;
                    masked.push((*from, *until));
                }
                Event::Heard(phrase) => heard = heard.max(phrase.end),
                _ => {}
            }
            for effect in effects {
                match effect {
                    Effect::Arm(timer, when) => agenda.arm(timer, when.max(*at)),
                    Effect::Disarm(timer) => agenda.disarm(timer),
                    _ => {}
                }
            }
        });
        agenda.written = journal.end();
        agenda.unopened = journal.records.is_empty();
        // The end of the chunk that was being worked on: sound that was kept lies in whole ones.
        let at = SampleIndex(journal.end().0.next_multiple_of(CHUNK as u64));
        masked.extend(agenda.masked_from.map(|from| (from, at)));
        Standing { session, at, masked, heard, differs, remaining: Remaining(agenda) }
    }
}
