//! `enrol FILE`: say each callout twice, so that the ears learn how you say them. Kept is what was learned, no sound.

use super::devices::Devices;
use super::room::Room;
use super::{Failure, Runs, profile};
use crate::audio::{CHUNK, speech_segments};
use crate::callout::Vocabulary;
use crate::driver::Mouth;
use crate::listen::{Enrolled, EnrolmentScore, EnrolmentTake, Profile};
use crate::platform;
use crate::section::Section;
use crate::terminal::outln;
use crate::text::count;
use crate::time::{RATE, SampleIndex};
use std::path::PathBuf;

/// How often each callout is said.
const TWICE: usize = 2;
/// Quiet behind the second one, in samples: 0.5 s.
const BEHIND: usize = RATE as usize / 2;
/// Longest wait for both.
const LONGEST: usize = 9 * RATE as usize;

/// What to enrol.
#[derive(clap::Args, Debug)]
pub struct Options {
    /// The section file
    pub file: PathBuf,
    #[command(flatten)]
    devices: Devices,
    /// Only this callout; may be given more than once. What else the profile holds stays
    #[arg(long, value_name = "CALLOUT")]
    only: Vec<String>,
    /// Where they lie.
    #[command(flatten)]
    runs: Runs,
}

impl Options {
    /// With what the settings say where no flag does.
    pub fn settle(&mut self, settings: &super::settings::Settings) {
        self.devices.settle(settings);
    }
}

/// Enrol.
pub fn run(options: &Options) -> Result<(), Failure> {
    let (section, _) = super::section(&options.file, 0)?;
    let says = says(&section, &options.only)?;
    let model = options.devices.model()?;
    if model.verifier().is_none() {
        return Err(Failure::device(
            "a model from elsewhere can't be taught",
            "enrol with the shipped model, without --model",
        ));
    }
    let old = profile::read(&options.runs.folder(), model.id())?;
    let start = SampleIndex(0);
    let mouth = options.devices.mouth(&section, 1)?;
    let (source, _) = options.devices.source(start, start)?;
    let mut room = Room::new(source, mouth, start);
    let recording = options.devices.mic.is_some();
    room.say(
        &format!(
            "I name {}. Say each one twice, as you would at work, with a pause after each.",
            count(says.len(), "callout")
        ),
        recording,
    );
    let mut sound: Vec<f32> = vec![];
    let mut said: Vec<EnrolmentTake> = vec![];
    let mut silent = vec![];
    for (k, say) in says.iter().enumerate() {
        crate::terminal::tell(&format!("{} of {}: {say}", k + 1, says.len()));
        let mut places = vec![];
        for again in [false, true] {
            if again {
                room.say(&format!("Again please, twice, with a pause after each: {say}."), recording);
            } else {
                room.say(&format!("{say}."), recording);
            }
            let begin = sound.len();
            places =
                both(&mut room, &mut sound).into_iter().map(|(from, until)| (begin + from, begin + until)).collect();
            if places.len() >= TWICE || room.ended {
                break;
            }
        }
        if places.len() < TWICE {
            silent.push(say.as_str());
        } else {
            said.push(EnrolmentTake { say: say.clone(), places });
        }
        if room.ended {
            silent.extend(says[k + 1..].iter().map(String::as_str));
            break;
        }
    }
    if said.is_empty() {
        return Err(Failure::device(
            "no callout was heard twice",
            "check the sound with `microphone`; leave half a second of silence after each callout",
        ));
    }
    let learned = Profile::learn(&model, &Vocabulary::of(&section), &section.sounds, &sound, &said);
    let enrolled = learned.ok().flatten().ok_or_else(|| {
        Failure::device("the callouts could not be learned from", "free some space for a temporary folder")
    })?;
    let profile = merged(old, enrolled.profile.clone(), &said);
    let storage = |e: std::io::Error| {
        Failure::storage(
            format!("{}: {e}", options.runs.folder().display()),
            "choose a folder that can be written with --runs",
        )
    };
    super::runs::make(&options.runs.folder())?;
    let text = toml::to_string(&profile).expect("a profile is plain");
    platform::replace(&profile::path(&options.runs.folder()), text.as_bytes()).map_err(storage)?;
    let words = report(&enrolled, &silent);
    outln!("\nprofile: {}", profile::path(&options.runs.folder()).display());
    room.say(&words, recording);
    room.mouth.finish();
    options.devices.show_rendered(&room.mouth)
}

/// One callout a step, in the order of the steps, each once; or those that were asked for.
fn says(section: &Section, only: &[String]) -> Result<Vec<String>, Failure> {
    let all: Vec<&String> = section.steps.iter().flat_map(|s| &s.say).collect();
    if let Some(unknown) = only.iter().find(|o| !all.contains(o)) {
        return Err(Failure::usage(
            format!("\"{unknown}\" is no callout of this section"),
            "name callouts as the section's `say` has them",
        ));
    }
    let firsts = section.steps.iter().filter_map(|s| s.say.first());
    let mut says: Vec<String> = vec![];
    for say in firsts.chain(only.iter()).filter(|s| only.is_empty() || only.contains(s)) {
        if !says.contains(say) {
            says.push(say.clone());
        }
    }
    Ok(says)
}

/// Listen until something was said twice; where, from the first sample that is added to `sound`.
fn both(room: &mut Room, sound: &mut Vec<f32>) -> Vec<(usize, usize)> {
    let begin = sound.len();
    loop {
        sound.extend(room.next());
        let here = &sound[begin..];
        let found = speech_segments(here);
        let over = found.last().is_some_and(|(_, until)| until + BEHIND <= here.len());
        if found.len() >= TWICE && over || here.len() >= LONGEST || room.ended {
            // The end of a recording is silence, as much as a pause needs.
            sound.extend(vec![0.0; if room.ended { 4 * CHUNK } else { 0 }]);
            return found;
        }
    }
}

/// What is kept of an older profile beside a new one: what it says of words and callouts that were not said now.
fn merged(old: Profile, new: Profile, said: &[EnrolmentTake]) -> Profile {
    let now: Vec<&str> = said.iter().flat_map(|s| s.say.split(' ')).collect();
    let words = old.words.into_iter().filter(|w| !now.contains(&w.word.as_str())).chain(new.words).collect();
    let callouts = old.callouts.into_iter().filter(|c| said.iter().all(|s| s.say != c.say)).chain(new.callouts);
    Profile { words, callouts: callouts.collect(), made: jiff::Timestamp::now().to_string(), ..new }
}

/// Tell how it went on the screen; gives the words to speak.
fn report(enrolled: &Enrolled, silent: &[&str]) -> String {
    let of: usize = enrolled.before.iter().map(|k| k.utterances.len()).sum();
    let count = |known: &[EnrolmentScore]| known.iter().map(EnrolmentScore::taken).sum::<usize>();
    let (before, after) = (count(&enrolled.before), count(&enrolled.after));
    outln!("\nUnderstood of what you just said: {before} of {of} before, {after} of {of} with your profile.");
    outln!("(The same recordings that it was made from, so this flatters a little.)");
    for word in &enrolled.profile.words {
        outln!("  {} as you say it: {}", word.word, word.sounds);
    }
    for line in &enrolled.profile.callouts {
        let usual = enrolled.before.iter().find(|k| k.say == line.say).map_or(0.0, |k| k.threshold);
        outln!("  \"{}\" counts from {:.2} on (else from {usual:.2})", line.say, line.called);
    }
    let hard: Vec<&str> =
        enrolled.after.iter().filter(|k| k.taken() < k.utterances.len()).map(|k| k.say.as_str()).collect();
    if !hard.is_empty() {
        outln!(
            "Still hard to understand: {}. Another callout of the step, or other words in the file, may do better.",
            hard.join(", ")
        );
    }
    if !silent.is_empty() {
        outln!("Not heard twice: {}.", silent.join(", "));
    }
    let mut words = format!("I understood {before} of {of} before, and {after} with your profile.");
    if !hard.is_empty() {
        words.push_str(&format!(" Still hard: {}.", hard.iter().take(3).copied().collect::<Vec<_>>().join(", ")));
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::listen::{SpokenWord, Threshold};

    #[test]
    fn what_was_not_said_again_stays() {
        let word = |word: &str, sounds: &str| SpokenWord { word: word.into(), sounds: sounds.into() };
        let line = |say: &str, called| Threshold { say: say.into(), called };
        let old = Profile {
            words: vec![word("toner", "T OW N AH"), word("soak", "S OW K")],
            callouts: vec![line("toner", 0.5), line("soak", 0.6)],
            ..Profile::default()
        };
        let new = Profile { words: vec![word("toner", "T AO N ER")], callouts: vec![], ..Profile::default() };
        let said = [EnrolmentTake { say: "toner".into(), places: vec![] }];
        let merged = merged(old, new, &said);
        assert_eq!(merged.words, [word("soak", "S OW K"), word("toner", "T AO N ER")]);
        assert_eq!(merged.callouts, [line("soak", 0.6)]);
    }
}
