//! `mock EXAM`: the sections of an exam one after the other, as in an exam room, and one recap at the end.

use super::devices::Devices;
use super::mouth::Rendered;
use super::rehearse::{Options as Rehearsal, one};
use super::{Failure, Runs, rehearse, runtime};
use crate::authoring::ExamPart;
use crate::driver::Mouth;
use crate::outcome::Ending;
use crate::recap;
use crate::terminal::{Kind, out, outln};
use crate::text::count;
use crate::time::{Ms, SampleIndex};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How the exam is to be gone through.
#[derive(clap::Args, Debug)]
pub struct Options {
    /// The exam file
    pub file: PathBuf,
    #[command(flatten)]
    devices: Devices,
    /// Begin with this section, counted from 1
    #[arg(long, default_value_t = 1, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    from: u32,
    /// Divide the limits, the warnings, the plans and the times between sections by this
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=60))]
    compress: u32,
    /// What the proctor draws with; the time of day where it is not given
    #[arg(long)]
    seed: Option<u64>,
    #[command(flatten)]
    worn: rehearse::Worn,
    /// Keep the recordings of the runs beside their journals
    #[arg(long)]
    keep_audio: bool,
    /// Where they lie.
    #[command(flatten)]
    runs: Runs,
}

impl Options {
    /// The whole of an exam, with what the front desk was begun with.
    pub fn of(
        file: &Path,
        devices: &Devices,
        compress: u32,
        worn: &rehearse::Worn,
        keep_audio: bool,
        runs: &Runs,
    ) -> Options {
        let (devices, worn, runs) = (devices.clone(), worn.clone(), runs.clone());
        Options { file: file.into(), devices, from: 1, compress, seed: None, worn, keep_audio, runs }
    }

    /// With what the settings say where no flag does.
    pub fn settle(&mut self, settings: &super::settings::Settings) {
        self.devices.settle(settings);
        self.worn.settle(settings);
    }
}

/// Go through the exam.
pub fn run(options: &Options) -> Result<(), Failure> {
    through(options, &mut SampleIndex(0)).map(drop)
}

/// The same from a place on of the recording that stands in for the microphone, where there is one; gives the place behind it, and whether
/// everything was to stop.
pub fn through(options: &Options, place: &mut SampleIndex) -> Result<bool, Failure> {
    let (exam, folder) = super::exam(&options.file)?;
    let first = options.from as usize - 1;
    if first >= exam.sections.len() {
        let has = count(exam.sections.len(), "section");
        let what = format!("{}: it has {has}, and none numbered {}", options.file.display(), options.from);
        return Err(Failure::usage(what, "begin with one that it has"));
    }
    let rehearsal = |part: &ExamPart, from: SampleIndex| Rehearsal {
        file: folder.join(part.file.as_ref()),
        devices: options.devices.clone(),
        compress: options.compress,
        seed: options.seed,
        exam: true,
        worn: options.worn.clone(),
        keep_audio: options.keep_audio,
        runs: options.runs.clone(),
        unreported: true,
        from,
        ..Rehearsal::default()
    };
    // Every section is read before the first one begins, so that no mistake in the last one ends an exam an hour later.
    for part in &exam.sections {
        super::section(&folder.join(part.file.as_ref()), options.seed.unwrap_or(0))?;
    }
    let said = exam.sections.iter().map(|p| p.before.clone()).filter(|t| !t.is_empty()).collect();
    super::runs::make(&options.runs.folder())?;
    let mut voice = Some(options.devices.voiced(said)?);
    outln!("{} ({})", exam.title, exam.board);
    let mut went: Vec<rehearse::Ran> = vec![];
    // What went well is recapped and written, whatever ends the exam.
    let (mut failed, mut stopped) = (None, false);
    // How to go on with the section of this place; none where there is none.
    let from = |k: usize| {
        let n = k + 1;
        (n <= exam.sections.len())
            .then(|| format!("section {n}: `stepbell mock {} --from {n}`", options.file.display()))
    };
    for (k, part) in exam.sections.iter().enumerate().skip(first) {
        if let Some(mouth) = voice.as_mut()
            && !before(options, part, mouth, place)?
        {
            stopped = true;
            tell_where(from(k));
            break;
        }
        outln!("\nSection {} of {}", k + 1, exam.sections.len());
        let ran = match one(&rehearsal(part, *place), &mut voice) {
            Ok(ran) => ran,
            Err(failure) => {
                if failure.kind == Kind::Left {
                    let then = from(k + 1).map_or_else(String::new, |from| format!(", then with {from}"));
                    outln!("\nThe exam stands still. Go on with this section: `stepbell resume`{then}");
                }
                failed = Some(failure);
                break;
            }
        };
        *place = *place + ran.at.since(SampleIndex(0));
        let cut = matches!(ran.outcome.ended, Some((_, Ending::Stopped | Ending::MicrophoneEnded)));
        stopped = ran.stopped;
        went.push(ran);
        // A section that was cut short is gone through anew.
        if cut || stopped {
            tell_where(from(if cut { k } else { k + 1 }));
            break;
        }
    }
    let parts: Vec<recap::SectionResult> = went.iter().map(|r| (&r.section, &r.outcome)).collect();
    let planned = exam.sections.len() - first;
    out!("\n{}", recap::exam_text((&exam.title, exam.pass_mark.as_ref().map(|m| *m.as_ref())), &parts, planned));
    outln!("{}", exam.source);
    let Some(mouth) = &mut voice else { return failed.map_or(Ok(stopped), Err) };
    // Where everything is to stop, the voice does so, too.
    if !stopped {
        let speech = mouth.speech(&recap::exam_spoken(&parts, planned));
        mouth.begin();
        mouth.play(SampleIndex(0), &speech);
        mouth.finish();
    }
    let rendered = options.devices.show_rendered(mouth);
    failed.map_or(rendered.map(|()| stopped), Err)
}

/// That the exam ends, and how to go on where something of it is left.
fn tell_where(from: Option<String>) {
    if let Some(from) = from {
        outln!("\nThe exam ends here. Go on later with {from}");
    }
}

/// What is said and waited before a section, the first and the one that is gone on with among them; false where the person ended the exam
/// meanwhile.
fn before(options: &Options, part: &ExamPart, mouth: &mut Rendered, place: &mut SampleIndex) -> Result<bool, Failure> {
    let wait = Ms((part.minutes_before.as_ref() * 60_000.0) as u64 / u64::from(options.compress));
    let mut length = Ms(0);
    mouth.begin();
    if !part.before.is_empty() {
        let speech = mouth.speech(&part.before);
        mouth.play(SampleIndex(0), &speech);
        mouth.finish();
        length = speech.length();
    }
    if wait > Ms(0) {
        crate::terminal::tell(&format!("the next section is read in {}", crate::time::spoken(wait)));
    }
    if options.devices.at_once() {
        // A recording goes on as if it had been waited.
        *place = *place + length + wait;
        return Ok(true);
    }
    runtime::wait(Duration::from_millis(wait.0))
}
