//! `microphone`: is the room quiet enough, the voice loud enough, and are callouts understood? Asked and answered by voice and on screen.

use super::devices::{self, Devices};
use super::room::Room;
use super::{Failure, Runs};
use crate::audio::Levels;
use crate::callout::{Command, Meaning};
use crate::driver::Mouth;
use crate::listen::Gate;
use crate::section::Section;
use crate::terminal::outln;
use crate::text::count;
use crate::time::SampleIndex;

/// A section to take the trial's words from, where none is given.
const SECTION: &str = include_str!("../../prompts/skin-care/basic-facial.toml");

/// How long the room is listened to, and how long somebody may speak, in chunks of 100 ms.
const QUIET: usize = 30;
const SPOKEN: usize = 120;

/// Nothing more is waited for so long after the last word, in chunks.
const ENOUGH: usize = 25;

/// What to check with.
#[derive(clap::Args, Debug)]
pub struct Options {
    /// A section file whose callouts are tried; the basic facial where none is given
    pub file: Option<std::path::PathBuf>,
    #[command(flatten)]
    devices: Devices,
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

/// Check the microphone.
pub fn run(options: &Options) -> Result<(), Failure> {
    let section = match &options.file {
        Some(file) => super::section(file, 0)?.0,
        None => crate::authoring::read(SECTION)
            .0
            .ok_or_else(|| Failure::authored("the built-in section is broken", "name a section file"))?,
    };
    let model = options.devices.model()?;
    let profile = super::profile::read(&options.runs.folder(), model.id())?;
    let model = devices::model_for(model, &section, &profile);
    let words = trial(&section);
    let start = SampleIndex(0);
    let mouth = options.devices.mouth(&section, 1)?;
    let (source, _) = options.devices.source(start, start)?;
    let mut room = Room::new(source, mouth, start);
    let recording = options.devices.mic.is_some();
    room.say("Be quiet for three seconds, please. I listen to the room.", recording);
    let silence: Vec<f32> = (0..QUIET).flat_map(|_| room.next()).collect();
    room.say(&format!("Now say, with a pause after each: {}.", words.join("; ")), recording);
    let mut ears = devices::ears(&model, &section, start, Gate::default())?;
    let (mut speech, mut heard, mut idle) = (vec![], vec![], 0);
    for _ in 0..SPOKEN {
        let chunk = room.next();
        let found = ears.feed(&chunk);
        idle = if found.is_empty() { idle + 1 } else { 0 };
        heard.extend(found);
        speech.extend(chunk);
        if room.ended || heard.len() >= words.len() && idle > ENOUGH {
            break;
        }
    }
    heard.extend(ears.finish());
    let levels = Levels::of(&silence, &speech);
    let echo = levels.echo.map_or("not clear".to_string(), |e| format!("{e:.1} s"));
    outln!(
        "\nroom      {:>6.1} dBFS\nyour voice {:>5.1} dBFS, {:.1} dB above the room",
        levels.noise,
        levels.speech,
        levels.speech - levels.noise
    );
    outln!("cut off    {:>5.2} % of the sound\necho       {echo}", 100.0 * levels.clipped);
    let understood = |word: &&String| {
        heard.iter().any(|h| match &h.meaning {
            Meaning::Callout(say) => say == *word,
            Meaning::Command(command) => *command == Command::Finished && section.finish.contains(word),
            Meaning::Question(_) | Meaning::Asked { .. } | Meaning::Span(_) | Meaning::Afterwards(_) => false,
        })
    };
    let missed: Vec<&str> = words.iter().filter(|w| !understood(w)).map(String::as_str).collect();
    let mut verdict = levels.advice();
    verdict.push(match missed.len() {
        0 if words.len() == 1 => "I understood the callout.".into(),
        0 => format!("I understood all {}.", count(words.len(), "callout")),
        n => format!("I understood {} of {}; not {}.", words.len() - n, words.len(), missed.join(", ")),
    });
    if missed.is_empty() && verdict.len() == 1 {
        verdict.push("You are ready to rehearse.".into());
    } else if !missed.is_empty() && verdict.len() == 1 {
        verdict.push("The sound is good. Say each callout alone, clearly, with silence around it.".into());
    }
    room.say(&verdict.join(" "), recording);
    room.mouth.finish();
    options.devices.show_rendered(&room.mouth)
}

/// Three callouts of the section, far apart in it, and its finish signal.
fn trial(section: &Section) -> Vec<String> {
    let says: Vec<&String> = section.steps.iter().filter_map(|s| s.say.first()).collect();
    let mut words: Vec<String> = [0, says.len() / 2, says.len().saturating_sub(1)]
        .into_iter()
        .filter_map(|k| says.get(k).map(|s| s.to_string()))
        .chain(section.finish.first().cloned())
        .collect();
    words.dedup();
    words
}
