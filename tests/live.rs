//! The main job on sound devices: a virtual loudspeaker and a virtual microphone, at real speed. A candidate's recording is played
//! into the microphone while the tool speaks through the loudspeaker; the journal and what was heard on the loudspeaker are checked.
//! A binary of its own, so that cargo runs it with nothing beside it.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use stepbell::audio::Converter;
use stepbell::journal::{self, Journal};
use stepbell::recap;
use stepbell::session::{Effect, Event, Session};
use stepbell::time::Ms;
use stepbell::voice::Cache;

/// Frames a second of a loudness contour.
const FRAMES: usize = 100;

/// One test has the card at a time: they measure when sound comes.
static CARD: std::sync::Mutex<()> = std::sync::Mutex::new(());

struct Card {
    folder: PathBuf,
    environment: BTreeMap<String, String>,
}

impl Card {
    fn start(folder: &Path) -> Card {
        let script = |arguments: &[&str]| {
            Command::new("bash").arg("tests/fixture/vcard.sh").args(arguments).stderr(Stdio::null()).output().unwrap()
        };
        let started = script(&["start", folder.to_str().unwrap(), "600"]);
        assert!(started.status.success(), "the virtual sound card did not start: is pulseaudio installed?");
        let text = String::from_utf8(started.stdout).unwrap();
        let words = text.lines().filter_map(|l| l.strip_prefix("export ")).flat_map(|l| l.split(' '));
        let environment = words.filter_map(|w| w.split_once('=')).map(|(k, v)| (k.into(), v.into())).collect();
        Card { folder: folder.into(), environment }
    }

    fn command(&self, program: &str, arguments: &[&str]) -> Command {
        let mut command = Command::new(program);
        command.args(arguments).envs(&self.environment).stdin(Stdio::null());
        command
    }
}

impl Drop for Card {
    fn drop(&mut self) {
        let _ = Command::new("bash").arg("tests/fixture/vcard.sh").arg("stop").arg(&self.folder).status();
    }
}

/// A process that ends with the test.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn journal_in(runs: &Path) -> Option<PathBuf> {
    fs::read_dir(runs).ok()?.flatten().map(|e| e.path()).find(|p| p.extension().is_some_and(|e| e == "journal"))
}

/// Loudness, [`FRAMES`] times a second.
fn contour(samples: &[f32], rate: u32) -> Vec<f32> {
    let mut even = vec![];
    Converter::new(rate).unwrap().push(samples, &mut even);
    even.chunks(16_000 / FRAMES).map(|c| (c.iter().map(|s| s * s).sum::<f32>() / c.len() as f32).sqrt()).collect()
}

/// Every place, in frames, where `piece` sounds in `heard`, with how alike they are (1 for the same up to loudness).
fn places(heard: &[f32], piece: &[f32]) -> Vec<(usize, f32)> {
    let centred = |part: &[f32]| {
        let mean = part.iter().sum::<f32>() / part.len() as f32;
        part.iter().map(|v| v - mean).collect::<Vec<f32>>()
    };
    let dot = |a: &[f32], b: &[f32]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f32>();
    let piece = centred(piece);
    let alike: Vec<f32> = heard
        .windows(piece.len())
        .map(|w| {
            let w = centred(w);
            dot(&w, &piece) / (dot(&w, &w) * dot(&piece, &piece)).sqrt().max(1e-9)
        })
        .collect();
    let peak = |i: usize| alike[i.saturating_sub(FRAMES)..(i + FRAMES).min(alike.len())].iter().all(|a| *a <= alike[i]);
    (0..alike.len()).filter(|&i| alike[i] > 0.9 && peak(i)).map(|i| (i, alike[i])).collect()
}

/// Every second at which `prompt` begins in `heard`, with how alike they are. A long prompt is sought in pieces of about four
/// seconds, each near the end of the one before: a sound server on a busy machine drops some milliseconds now and then, behind
/// which the rest comes late. A piece that isn't found counts as wholly unlike.
fn spoken(heard: &[f32], prompt: &[f32]) -> Vec<(f64, f32)> {
    let pieces = (prompt.len() / (4 * FRAMES)).max(1);
    let length = prompt.len().div_ceil(pieces);
    let found: Vec<_> = prompt.chunks(length).map(|piece| places(heard, piece)).collect();
    let follow = |&(start, first): &(usize, f32)| {
        let (mut at, mut sum) = (start, first);
        for piece in &found[1..] {
            at += length;
            let near =
                piece.iter().filter(|(place, _)| place.abs_diff(at) < FRAMES / 2).max_by(|a, b| a.1.total_cmp(&b.1));
            if let Some((place, alike)) = near {
                (at, sum) = (*place, sum + alike);
            }
        }
        (start as f64 / FRAMES as f64, sum / found.len() as f32)
    };
    found[0].iter().map(follow).collect()
}

/// The announcements of a run, in order, and its session as it ended.
fn replayed(journal: &Journal) -> (Vec<String>, Session) {
    let mut session = stepbell::command::runs::session(journal).unwrap();
    let mut said = vec![];
    journal.replay(&mut session, |_, effects| {
        said.extend(
            effects.into_iter().filter_map(|e| if let Effect::Speak { text, .. } = e { Some(text) } else { None }),
        );
    });
    (said, session)
}

#[test]
fn a_rehearsal_through_a_microphone_and_a_loudspeaker() {
    let _alone = CARD.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let folder = tempfile::tempdir().unwrap();
    let card = Card::start(&folder.path().join("card"));
    let (runs, heard) = (folder.path().join("runs"), folder.path().join("heard.raw"));
    let record =
        ["--device=vspk.monitor", "--raw", "--format=s16le", "--rate=16000", "--channels=1", heard.to_str().unwrap()];
    let recorder = Running(card.command("parec", &record).spawn().unwrap());
    let rehearse =
        ["rehearse", "prompts/skin-care/basic-facial.toml", "--compress", "10", "--runs", runs.to_str().unwrap()];
    let mut tool = Running(
        card.command(env!("CARGO_BIN_EXE_stepbell"), &rehearse)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap(),
    );
    let patience = Instant::now() + Duration::from_secs(60);
    while journal_in(&runs).is_none() {
        assert!(Instant::now() < patience, "no run was begun");
        std::thread::sleep(Duration::from_millis(20));
    }
    let candidate = Running(card.command("paplay", &["--device=vmic_in", "tests/audio/demo.wav"]).spawn().unwrap());
    let patience = Instant::now() + Duration::from_secs(360);
    let status = loop {
        match tool.0.try_wait().unwrap() {
            Some(status) => break status,
            None => assert!(Instant::now() < patience, "the run did not end"),
        }
        std::thread::sleep(Duration::from_millis(100));
    };
    assert!(status.success());
    drop((candidate, recorder));

    let journal = journal::load(&journal_in(&runs).unwrap()).unwrap();
    let (said, session) = replayed(&journal);
    let findings: Vec<String> = recap::reviewed(session.section(), session.outcome())
        .findings
        .iter()
        .map(|f| recap::sentence(session.section(), session.outcome(), f))
        .collect();
    let starts = [
        "Not called: analyse the skin.",
        "Not called: toner.",
        "Dropped item called at",
        "Out of order: lip colour off,",
    ];
    assert_eq!(findings.len(), starts.len(), "{findings:?}");
    for (finding, start) in findings.iter().zip(starts) {
        assert!(finding.starts_with(start), "{findings:?}");
    }
    let span = |event: &Event| if let Event::Spoke(from, to) = event { Some(to.since(*from)) } else { None };
    let spoke: Ms = journal.records.iter().filter_map(|r| span(&r.event)).sum();
    assert!(spoke > Ms(60_000) && session.outcome().masked == Ms(0), "both readings were listened through");
    assert_eq!(session.outcome().lost_samples, 0);

    let models = stepbell::command::models();
    let mut cache = Cache::new(&models.join("cache"));
    let mut prompt = |text: &str| {
        let speech = cache.speech(text).unwrap();
        contour(&speech.samples, speech.rate)
    };
    // Raw, since a recorder that is ended doesn't go back to mend a WAV header.
    let bytes = fs::read(&heard).unwrap();
    let samples: Vec<f32> =
        bytes.chunks_exact(2).map(|b| f32::from(i16::from_le_bytes([b[0], b[1]])) / 32768.0).collect();
    let heard = contour(&samples, 16_000);
    // A short prompt can resemble a piece of a longer one: the likest place is its own.
    let best = |prompt: &[f32], what: &str| {
        let (place, alike) = spoken(&heard, prompt).into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or_default();
        // Only in a long one may a piece be missing.
        let least = if prompt.len() < 8 * FRAMES { 0.95 } else { 0.8 };
        assert!(alike > least, "{what} was not heard: {alike}");
        place
    };
    let reading = prompt(&said[0]);
    let readings = spoken(&heard, &reading);
    let whole = readings.iter().filter(|(_, alike)| *alike > 0.8).count();
    assert_eq!(whole, 2, "the reading is heard twice: {readings:?}");
    let begin = prompt(&said[2]);
    let started = best(&begin, "the start words") + begin.len() as f64 / FRAMES as f64;
    let warned = best(&prompt(&said[3]), "the warning");
    // 12 of 25 minutes left, ten times compressed.
    let off = (warned - started - 78.0).abs();
    println!(
        "\nfigure|on devices: warning heard against its deadline|{off:.3} s|at most 0.5 s|{}",
        u8::from(off > 0.5)
    );
    assert!(off <= 0.5, "{started} {warned}");
    let [.., spoken, question] = &said[..] else { panic!("{said:?}") };
    let recap = best(&prompt(spoken), "the recap");
    assert!(recap > warned && spoken.contains("toner"));
    assert!(best(&prompt(question), "the question behind it") > recap && question.starts_with("Any questions?"));
    assert!(journal.records.iter().all(|r| !matches!(r.event, Event::Overflowed(_))));
}

/// A short section for the callouts that the demo recording begins and ends with.
const SHORT: &str = r#"id = "short"
title = "Short"
trade = "skin care"
board = "Tarnmoor (invented)"
edition = "2026-03-01"
source = "made for this test"
cautions = ["None."]
finish = ["stepping back"]
[reading]
times = 1
sentences = ["Two drapes, please."]
again = "Once more."
begin = "You may begin now."
[clock]
minutes = 5
warning_minutes_left = 1
warning = "One minute left."
stop = "Stop."
[[step]]
id = "hands"
title = "hands"
say = ["sanitize hands"]
minutes = 0.5
[[step]]
id = "drape"
title = "body drape"
say = ["body drape"]
minutes = 0.5
after = ["hands"]
"#;

/// The sound server is stopped in a run and started again: the clock is held, the microphone and the loudspeaker are opened
/// again, it is said aloud where the run stands, and the run goes on.
#[test]
fn a_sound_server_that_goes_away_and_comes_back() {
    let _alone = CARD.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str| folder.path().join(name).to_str().unwrap().to_string();
    fs::write(place("short.toml"), SHORT).unwrap();
    let truth = fs::read_to_string("tests/audio/demo.tsv").unwrap();
    let (sound, rate) = stepbell::audio::read_wav(Path::new("tests/audio/demo.wav")).unwrap();
    for say in ["sanitize hands", "body drape", "stepping back"] {
        let line = truth.lines().find(|l| l.split('\t').nth(1) == Some(say)).unwrap();
        let from = ((line.split('\t').next().unwrap().parse::<f64>().unwrap() - 0.3) * f64::from(rate)) as usize;
        let piece = &sound[from..(from + 2 * rate as usize).min(sound.len())];
        stepbell::audio::write_wav(Path::new(&place(&format!("{say}.wav"))), piece, rate).unwrap();
    }
    let card = Card::start(&folder.path().join("card"));
    let arguments = ["rehearse", &place("short.toml"), "--runs", &place("runs"), "--seed", "1"];
    let mut child = card
        .command(env!("CARGO_BIN_EXE_stepbell"), &arguments)
        .stdout(Stdio::piped())
        .stderr(Stdio::inherit())
        .spawn()
        .unwrap();
    let (tell, told) = std::sync::mpsc::channel();
    let lines = std::io::BufRead::lines(std::io::BufReader::new(child.stdout.take().unwrap()));
    std::thread::spawn(move || lines.map_while(Result::ok).for_each(|line| drop(tell.send(line))));
    let mut tool = Running(child);
    let wait = |wanted: &str| loop {
        let line = told.recv_timeout(Duration::from_secs(60)).unwrap_or_else(|_| panic!("no line with \"{wanted}\""));
        if line.contains(wanted) {
            break line;
        }
    };
    let say = |card: &Card, what: &str| {
        let file = place(&format!("{what}.wav"));
        assert!(card.command("paplay", &["--device=vmic_in", &file]).status().unwrap().success());
    };
    wait("the clock has started");
    std::thread::sleep(Duration::from_secs(2));
    say(&card, "sanitize hands");
    wait("sanitize hands");
    std::thread::sleep(Duration::from_secs(2));
    drop(card);
    wait("the microphone gives no sound");
    std::thread::sleep(Duration::from_secs(4));
    let card = Card::start(&folder.path().join("card"));
    let heard = place("heard.raw");
    let record = ["--device=vspk.monitor", "--raw", "--format=s16le", "--rate=16000", "--channels=1", &heard];
    let recorder = Running(card.command("parec", &record).spawn().unwrap());
    wait("the microphone was gone");
    wait("Going on. The last callout I have is: sanitize hands.");
    std::thread::sleep(Duration::from_secs(8));
    say(&card, "body drape");
    wait("body drape");
    say(&card, "stepping back");
    wait("You finished");
    let patience = Instant::now() + Duration::from_secs(60);
    while tool.0.try_wait().unwrap().is_none() {
        assert!(Instant::now() < patience, "the run did not end");
        std::thread::sleep(Duration::from_millis(100));
    }
    drop(recorder);
    let journal = journal::load(&journal_in(Path::new(&place("runs"))).unwrap()).unwrap();
    let (said, session) = replayed(&journal);
    let away = session.outcome().away.first().copied().unwrap();
    assert_eq!(away.why, stepbell::outcome::Absence::Microphone);
    let gone = away.span.unwrap();
    assert!(gone >= Ms(4_000) && gone < Ms(60_000), "{gone:?}");
    let lost = journal.records.iter().find(|r| r.event == Event::MicrophoneLost).unwrap().at;
    assert!(away.at.since(lost) <= Ms(200), "the axis stood still");
    let models = stepbell::command::models();
    // The tool may have said where the run stands before the recorder was there; the recap is said on the same loudspeaker.
    let speech = Cache::new(&models.join("cache")).speech(said.last().unwrap()).unwrap();
    let bytes = fs::read(&heard).unwrap();
    let samples: Vec<f32> =
        bytes.chunks_exact(2).map(|b| f32::from(i16::from_le_bytes([b[0], b[1]])) / 32768.0).collect();
    let found = places(&contour(&samples, 16_000), &contour(&speech.samples, speech.rate));
    let called: Vec<&str> = session.outcome().called.iter().map(|c| c.say.as_str()).collect();
    assert_eq!(called, ["sanitize hands", "body drape"]);
    let met = !found.is_empty();
    println!(
        "\nfigure|sound server stopped and started: held {} s, heard again, said aloud|{}|true|{}",
        gone.seconds(),
        met,
        u8::from(!met)
    );
    assert!(met, "it was said on the loudspeaker that came back");
}
