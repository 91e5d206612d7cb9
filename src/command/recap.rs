//! `recap [RUN]`, `replay [RUN]`: what a journal alone tells of a run.

use super::Failure;
use super::runs::{RunArgument, differs, find, lived, open};
use crate::audio::Speaker;
use crate::recap;
use crate::session::{Effect, Session};
use crate::terminal::{out, outln};
use crate::time::RATE;
use crate::voice::Cache;

/// Which run, and how its recap is told.
#[derive(clap::Args, Debug)]
pub struct Options {
    #[command(flatten)]
    run: RunArgument,
    /// Say the recap through the loudspeaker too
    #[arg(long)]
    aloud: bool,
}

/// Print the recap of a run.
pub fn recap(options: &Options) -> Result<(), Failure> {
    let (_, session) = lived(&find(&options.run)?)?;
    finish(options, &session)
}

/// Print what was said and shown in a run, with its place in seconds since the microphone was opened, then its recap.
pub fn replay(options: &Options) -> Result<(), Failure> {
    let (journal, mut session) = open(&find(&options.run)?)?;
    let first = journal.replay(&mut session, |record, effects| {
        for effect in effects {
            let seconds = record.at.0 as f64 / RATE as f64;
            match effect {
                Effect::Speak { text, .. } => outln!("{seconds:>8.1}  \u{201c}{text}\u{201d}"),
                Effect::Show(line) => outln!("{seconds:>8.1}  {line}"),
                Effect::Arm(..)
                | Effect::Disarm(_)
                | Effect::Hush
                | Effect::Search(_)
                | Effect::Listen(_)
                | Effect::Sign(_)
                | Effect::Slower
                | Effect::Close => {}
            }
        }
    });
    outln!();
    differs(first);
    finish(options, &session)
}

fn finish(options: &Options, session: &Session) -> Result<(), Failure> {
    out!("{}", recap::text(session.section(), session.outcome()));
    if options.aloud {
        let unspoken = "the recap is on the screen; plug a loudspeaker in to hear it";
        let text = recap::spoken(session.section(), session.outcome());
        let settings = super::settings::read()?;
        let voice = Cache::new(&super::cache());
        let voice = voice.at_speed(settings.speed.unwrap_or(100));
        let mut voice = voice.spoken_by(settings.proctor, settings.pitch.unwrap_or(100));
        let speech = voice.speech(&text);
        let speech = speech.map_err(|e| Failure::device(e, super::mend()))?;
        let mut speaker = Speaker::open(&settings.device).map_err(|e| Failure::device(e, unspoken))?;
        speaker.play(&speech.samples, speech.rate);
        speaker.finish();
    }
    Ok(())
}
