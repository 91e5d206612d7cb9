//! `settings`: what a person has written down once, so that it need not be given each time. A flag wins over it.

use super::Failure;
use crate::authoring::nearest;
use crate::outcome::Mode;
use crate::platform;
use crate::session::Tell;
use crate::terminal::{outln, table};
use crate::voice::Proctor;
use clap::ValueEnum;
use serde::Deserialize;
use std::io::ErrorKind;
use std::ops::{Range, RangeInclusive};
use std::path::{Path, PathBuf};
use toml::Spanned;

/// Whether the proctor is heard.
#[derive(clap::ValueEnum, Deserialize, Clone, Copy, Debug, Default, PartialEq, Eq)]
#[serde(rename_all = "snake_case")]
pub enum Voice {
    /// It speaks.
    #[default]
    On,
    /// Its words are only shown.
    Off,
}

/// Whether callouts are answered with signs.
#[derive(ValueEnum, Deserialize, Clone, Copy, Debug, PartialEq, Eq)]
#[serde(rename_all = "snake_case")]
pub enum Signs {
    /// A tone for each callout
    On,
    /// No tone
    Off,
}

/// Something that the coach may tell unasked.
#[derive(ValueEnum, Deserialize, Clone, Copy, Debug, PartialEq, Eq)]
#[serde(rename_all = "snake_case")]
pub enum Told {
    /// The next step, after a pause much longer than your own
    Next,
    /// The name of each phase
    Phase,
    /// Where the plan is at the warning
    Pace,
    /// None of these
    Nothing,
}

impl Told {
    /// The same as the proctor has it; none for nothing.
    pub fn tell(self) -> Option<Tell> {
        match self {
            Told::Next => Some(Tell::Next),
            Told::Phase => Some(Tell::Phase),
            Told::Pace => Some(Tell::Pace),
            Told::Nothing => None,
        }
    }
}

/// How fast the voice may speak, in percent of the usual: slower it drones, faster it is hard to follow.
pub const SPEEDS: std::ops::RangeInclusive<i64> = 50..=125;

/// How high it may be, in percent of the usual: beyond that it sounds like nobody.
pub const PITCHES: std::ops::RangeInclusive<i64> = 80..=120;

/// What can be written, and what it means.
const KEYS: [(&str, &str); 9] = [
    ("device", "a part of the name of a microphone, loudspeaker or headset, or a list of two"),
    ("voice", "\"on\" or \"off\""),
    ("speed", "of the voice, in percent of the usual, from 50 to 125"),
    ("proctor", "\"low\" or \"high\": whose voice it is"),
    ("pitch", "of the voice, in percent of the usual, from 80 to 120"),
    ("headset", "true where the voice can't reach the microphone"),
    ("mode", "\"coach\" or \"exam\""),
    ("tells", "what the coach tells unasked: a list of \"next\", \"phase\", \"pace\", or of \"nothing\""),
    ("sign", "\"on\" or \"off\": a soft tone for each callout understood"),
];

/// One device or several.
#[derive(Clone, Debug, Deserialize)]
#[serde(untagged)]
enum Names {
    One(String),
    Several(Vec<String>),
}

/// The file, as it is written.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    device: Option<Names>,
    voice: Option<Voice>,
    speed: Option<Spanned<u32>>,
    proctor: Option<Proctor>,
    pitch: Option<Spanned<u32>>,
    headset: Option<bool>,
    mode: Option<Mode>,
    tells: Option<Spanned<Vec<Told>>>,
    sign: Option<Signs>,
}

/// What the file says; nothing where there is none.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Settings {
    /// Devices to use, by parts of their names.
    pub device: Vec<String>,
    /// Whether the proctor is heard.
    pub voice: Option<Voice>,
    /// Speed of the voice, in percent.
    pub speed: Option<u32>,
    /// Whose voice it is.
    pub proctor: Option<Proctor>,
    /// How high it is, in percent.
    pub pitch: Option<u32>,
    /// Whether the voice can't reach the microphone.
    pub headset: Option<bool>,
    /// Coach or exam.
    pub mode: Option<Mode>,
    /// What the coach tells unasked; empty where that isn't said.
    pub tells: Vec<Told>,
    /// Whether a soft tone answers callouts.
    pub sign: Option<Signs>,
}

/// Where the file lies: `$STEPBELL_SETTINGS` (empty: nowhere), or among a person's data.
fn place() -> Option<PathBuf> {
    match std::env::var_os("STEPBELL_SETTINGS") {
        Some(named) => Some(PathBuf::from(named)).filter(|p| !p.as_os_str().is_empty()),
        None => platform::own_folders().map(|(data, _)| data.join("settings.toml")),
    }
}

/// Read the file. One that is there and can't be used is an error: what was chosen in it would be lost without a word.
pub fn read() -> Result<Settings, Failure> {
    let Some(path) = place() else { return Ok(Settings::default()) };
    match platform::read_text(&path, super::SMALL) {
        Ok(text) => understood(&text).map_err(|(span, what, next)| {
            let before = &text[..span.start.min(text.len())];
            let line = before.matches('\n').count() + 1;
            Failure::authored(format!("{}: line {line}: {what}", path.display()), next)
        }),
        Err(e) if e.kind() == ErrorKind::NotFound => Ok(Settings::default()),
        Err(e) => Err(Failure::storage(format!("{}: {e}", path.display()), "mend it, or delete it")),
    }
}

/// What a text says; or where in it what is wrong, and what to do.
fn understood(text: &str) -> Result<Settings, (Range<usize>, String, String)> {
    let written: Written = toml::from_str(text).map_err(|e| wrong(text, &e))?;
    if let Some(tells) = &written.tells
        && tells.get_ref().contains(&Told::Nothing)
        && tells.get_ref().iter().any(|told| *told != Told::Nothing)
    {
        let next = format!("tells: {}", meaning("tells"));
        return Err((tells.span(), "tells is nothing and something else at once".into(), next));
    }
    let within = |percent: &Option<Spanned<u32>>, range: RangeInclusive<i64>, what: &str| match percent {
        Some(percent) if !range.contains(&i64::from(*percent.get_ref())) => {
            let next = format!("give percent of the usual {what}, from {} to {}", range.start(), range.end());
            let told = format!("the voice can't speak at {} percent {what}", percent.get_ref());
            Err((percent.span(), told, next))
        }
        percent => Ok(percent.as_ref().map(|p| *p.get_ref())),
    };
    let speed = within(&written.speed, SPEEDS, "speed")?;
    let pitch = within(&written.pitch, PITCHES, "pitch")?;
    Ok(Settings {
        device: match written.device {
            None => vec![],
            Some(Names::One(name)) => vec![name],
            Some(Names::Several(names)) => names,
        },
        voice: written.voice,
        speed,
        proctor: written.proctor,
        pitch,
        headset: written.headset,
        mode: written.mode,
        tells: written.tells.map(Spanned::into_inner).unwrap_or_default(),
        sign: written.sign,
    })
}

/// What a key means.
fn meaning(key: &str) -> &'static str {
    KEYS.iter().find(|(known, _)| *known == key).map_or("", |(_, meaning)| meaning)
}

/// Where a text can't be used, what is wrong there, and what to write: in the words of the settings, not in those of a library.
fn wrong(text: &str, error: &toml::de::Error) -> (Range<usize>, String, String) {
    let span = error.span().unwrap_or(0..0);
    let rest = text.get(span.start..).and_then(|rest| rest.lines().next()).unwrap_or_default();
    let word = text.get(span.clone()).map(str::trim).filter(|word| !word.is_empty()).unwrap_or(rest);
    let all = || KEYS.iter().map(|(key, _)| *key).collect::<Vec<_>>().join(", ");
    if error.message().starts_with("unknown field") {
        let near = nearest(word, KEYS.iter().map(|(key, _)| *key));
        let next = near.map_or_else(|| format!("settings are {}", all()), |near| format!("did you mean {near}?"));
        return (span, format!("no setting is called {word}"), next);
    }
    if error.message().starts_with("duplicate key") {
        return (span, format!("{word} is there twice"), "take one of the two away".into());
    }
    // The key stands in front of the last sign of equality; only a list may go on over several lines.
    let before = text.get(..span.start).unwrap_or_default();
    let value = before.rsplit_once('=').filter(|(_, v)| !v.contains('\n') || v.contains('[') && !v.contains(']'));
    let key = value.and_then(|(keys, _)| keys.lines().last()).unwrap_or_default().trim();
    match KEYS.iter().find(|(known, _)| *known == key) {
        Some((key, meaning)) => (span, format!("{key} can't be {word}"), format!("{key}: {meaning}")),
        None => {
            let line = text.lines().nth(before.matches('\n').count()).unwrap_or_default().trim();
            let next = format!("write each setting as speed = 90 or voice = \"off\"; settings are {}", all());
            (span, format!("this can't be read: {line}"), next)
        }
    }
}

/// Show what applies, and where from.
pub fn run() -> Result<(), Failure> {
    let settings = read()?;
    let Settings { device, voice, speed, proctor, pitch, headset, mode, tells, sign } = &settings;
    let device = (!device.is_empty()).then(|| device.join(", "));
    let switch = |on: bool| if on { "on" } else { "off" }.to_string();
    let name = |told: &Told| told.to_possible_value().map(|v| v.get_name().to_string());
    let tells = (!tells.is_empty()).then(|| tells.iter().filter_map(name).collect::<Vec<_>>().join(", "));
    let mode = mode.map(|m| if m == Mode::Exam { "exam" } else { "coach" }.to_string());
    let values = [
        (device, "the system's"),
        (voice.map(|v| switch(v == Voice::On)), "on"),
        (speed.map(|s| s.to_string()), "100"),
        (proctor.and_then(|p| p.to_possible_value()).map(|v| v.get_name().to_string()), "high"),
        (pitch.map(|p| p.to_string()), "100"),
        (headset.map(|h| h.to_string()), "false"),
        (mode, "coach"),
        (tells, "next"),
        (sign.map(|s| switch(s == Signs::On)), "off"),
    ];
    let row = |((key, meaning), (value, usual)): (&(&str, &str), (Option<String>, &str))| {
        let from = if value.is_some() { "from the file" } else { "as usual" };
        [key.to_string(), value.unwrap_or_else(|| usual.into()), from.into(), meaning.to_string()].to_vec()
    };
    outln!("{}", table(&KEYS.iter().zip(values).map(row).collect::<Vec<_>>()));
    match place() {
        Some(path) if Path::new(&path).is_file() => outln!("\nThe file: {}. A flag wins over it.", path.display()),
        Some(path) => {
            outln!("\nNo file yet. Write what you want, as speed = 90, to {}. A flag wins over it.", path.display())
        }
        None => outln!("\nNo file is read. A flag says each for one run."),
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_understood_or_told() {
        let text = "device = [\"Headset\", \"Speaker\"]\nvoice = \"off\"\nspeed = 90\nproctor = \"low\"\npitch = 110\nheadset = true\nmode = \"exam\"\ntells = [\"pace\"]\nsign = \"on\"\n";
        let all = Settings {
            device: vec!["Headset".into(), "Speaker".into()],
            voice: Some(Voice::Off),
            speed: Some(90),
            proctor: Some(Proctor::Low),
            pitch: Some(110),
            headset: Some(true),
            mode: Some(Mode::Exam),
            tells: vec![Told::Pace],
            sign: Some(Signs::On),
        };
        assert_eq!(understood(text), Ok(all));
        assert_eq!(understood("# nothing\n"), Ok(Settings::default()));
        assert_eq!(understood("device = \"A\"").map(|s| s.device), Ok(vec!["A".to_string()]));
        for (text, at, what, next) in [
            ("speed = 90\nhedset = true", 11, "no setting is called hedset", "did you mean headset?"),
            ("zzzzzzzzzzzz = 1", 0, "no setting is called zzzzzzzzzzzz", "settings are device"),
            ("speed = 300", 8, "can't speak at 300 percent", "from 50 to 125"),
            ("pitch = 10", 8, "can't speak at 10 percent", "from 80 to 120"),
            ("speed = \"fast\"", 8, "speed can't be \"fast\"", "in percent of the usual, from 50 to 125"),
            ("speed = -5", 8, "speed can't be -5", "from 50 to 125"),
            ("mode = \"drill\"", 7, "mode can't be \"drill\"", "\"coach\" or \"exam\""),
            ("headset = tru", 10, "headset can't be tru", "true where"),
            ("device = 3", 9, "device can't be 3", "or a list of two"),
            ("tells = \"next\"", 8, "tells can't be \"next\"", "a list of \"next\""),
            ("tells = [\n  \"pace\",\n  \"all\",\n]", 22, "tells can't be \"all\"", "a list of \"next\""),
            ("tells = [\"next\", \"nothing\"]", 8, "nothing and something else", "or of \"nothing\""),
            ("pitch = 90\npitch = 100", 11, "pitch is there twice", "take one"),
        ] {
            let (span, said, then) = understood(text).expect_err(text);
            assert!(said.contains(what) && then.contains(next), "{text}: {said}: {then}");
            assert_eq!(span.start, at, "{text}");
        }
        let (_, said, then) = understood("pitch = 90\nspeed 90\n").unwrap_err();
        assert!(said == "this can't be read: speed 90" && then.contains("write each setting as"), "{said}: {then}");
    }
}
