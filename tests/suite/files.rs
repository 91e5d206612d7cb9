//! What lies where files are read and written: pipes, devices, huge files, planted links, a full disk; and what may be kept.

use crate::faults::{shim, shown};
use crate::kill::stepbell;
use std::collections::BTreeSet;
use std::fs;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use stepbell::journal::{self, Record, Writer};
use stepbell::session::{Event, STATE};
use stepbell::time::SampleIndex;
use stepbell::voice::Cache;

const BLOOD: &str = "prompts/skin-care/blood.toml";

/// A run in a folder of its own.
fn run() -> (tempfile::TempDir, PathBuf, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let runs = folder.path().join("runs");
    fs::create_dir(&runs).unwrap();
    let journal = runs.join("x.journal");
    fs::copy("tests/data/journals/v2.journal", &journal).unwrap();
    (folder, runs, journal)
}

/// The program with an end to patience and to memory, in KB.
fn within(memory: u64, arguments: &[&str]) -> (Option<i32>, String) {
    let limits = format!("ulimit -v {memory}; exec timeout -k 1 60 \"$0\" \"$@\"");
    let program = env!("CARGO_BIN_EXE_stepbell");
    let output = Command::new("bash").args(["-c", &limits, program]).args(arguments).output().unwrap();
    let (out, error) = shown(&output);
    (output.status.code(), out + &error)
}

/// A WAV file of so many bytes of sound, none of which takes space.
fn sparse(path: &Path, bytes: u32) {
    stepbell::audio::write_wav(path, &[0.0], 16_000).unwrap();
    let mut head = fs::read(path).unwrap();
    let place = head.windows(4).position(|w| w == b"data").unwrap() + 4;
    head.truncate(place + 4);
    head[place..].copy_from_slice(&bytes.to_le_bytes());
    fs::write(path, &head).unwrap();
    fs::File::options().write(true).open(path).unwrap().set_len(head.len() as u64 + u64::from(bytes)).unwrap();
}

#[test]
fn what_is_no_regular_file_or_too_large_is_refused_with_its_limit() {
    let (folder, runs, _) = run();
    let at = |name: &str| folder.path().join(name).display().to_string();
    let (fifo, runs) = (at("fifo"), runs.display().to_string());
    assert!(Command::new("mkfifo").args([&fifo, &at("runs/pipe.journal")]).status().unwrap().success());
    sparse(Path::new(&at("4gb.wav")), u32::MAX - 1001);
    sparse(Path::new(&at("7h.wav")), 7 * 3600 * 32_000);
    fs::File::create(at("huge.journal")).unwrap().set_len(10 << 30).unwrap();
    fs::File::create(at("huge.toml")).unwrap().set_len(10 << 30).unwrap();
    fs::write(at("afile"), "").unwrap();
    let model = folder.path().join("model");
    fs::create_dir_all(model.join("am")).unwrap();
    symlink(&fifo, model.join("am/final.mdl")).unwrap();
    let piped = folder.path().join("piped");
    fs::create_dir(&piped).unwrap();
    symlink(&fifo, piped.join("profile.toml")).unwrap();
    let demo = "tests/audio/demo.wav";
    let own = |arguments: &[&str]| arguments.iter().map(ToString::to_string).collect::<Vec<_>>();
    let rehearse = |more: &[&str]| own(&[&["rehearse", BLOOD, "--voice", "off"], more].concat());
    let cases = [
        (own(&["check", "/dev/zero"]), 1, "is a device, not a regular file"),
        (own(&["check", &fifo]), 1, "is a pipe, not a regular file"),
        (own(&["check", &at("huge.toml")]), 1, "is larger than 1 MiB, the most that is read"),
        (own(&["show", "prompts"]), 1, "prompts: is a folder, not a file"),
        (own(&["mock", &fifo]), 1, "is a pipe, not a regular file"),
        (own(&["recap", &at("huge.journal")]), 4, "is larger than 256 MiB, the most that is read"),
        (own(&["resume", "pipe", "--runs", &runs]), 4, "is a pipe, not a regular file"),
        (own(&["page", "pipe", "--runs", &runs]), 4, "is a pipe, not a regular file"),
        (own(&["forget", "pipe", "--runs", &runs]), 4, "is a pipe, not a regular file"),
        (own(&["history", "--runs", &runs]), 0, "left out"),
        (own(&["agree", "x", "--runs", &runs, "--ticks", &fifo]), 1, "is a pipe, not a regular file"),
        (own(&["enrol", BLOOD, "--mic", demo, "--voice", "off", "--runs", &at("afile")]), 4, "is a file, not a folder"),
        (rehearse(&["--runs", &at("afile"), "--mic", demo]), 4, "is a file, not a folder"),
        (rehearse(&["--runs", &at("piped"), "--mic", demo]), 4, "is a pipe, not a regular file"),
        (rehearse(&["--runs", &runs, "--mic", &fifo]), 1, "is a pipe, not a regular file"),
        (rehearse(&["--runs", &runs, "--mic", &at("4gb.wav")]), 1, "longer than 6 hours"),
        (rehearse(&["--runs", &runs, "--mic", &at("7h.wav")]), 1, "longer than 6 hours"),
        (rehearse(&["--runs", &runs, "--mic", demo, "--model", &at("model")]), 3, "is a pipe, not a regular file"),
    ];
    for (arguments, code, says) in cases {
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let (ended, told) = within(1_500_000, &arguments);
        assert_eq!(ended, Some(code), "{arguments:?}: {told}");
        assert!(told.contains(says), "{arguments:?}: {told}");
        assert!(code == 0 || told.contains("next:"), "{arguments:?}: {told}");
        assert!(says != "is a file, not a folder" || !told.contains("enrol again"), "{arguments:?}: {told}");
    }
}

/// A journal with right sums whose places no run can have.
#[test]
fn a_place_far_outside_a_run_is_damage_and_hangs_nothing() {
    let (_folder, runs, path) = run();
    let header = journal::load(&path).unwrap().header;
    let text = fs::read_to_string(&path).unwrap();
    let first: String = text.split_inclusive('\n').take(2).collect();
    let heard = |start: u64| {
        format!(
            "{{\"heard\":{{\"meaning\":{{\"callout\":\"toner\"}},\"start\":{start},\"end\":{start},\"confidence\":1.0}}}}"
        )
    };
    let far = 1u64 << 63;
    for (at, event) in [
        (far, "\"beat\"".to_string()),
        (16_000 * 86_400 * 7 + 1, "\"beat\"".into()),
        (16_000, heard(far)),
        (16_000, format!("{{\"masked\":[1,{far}]}}")),
        (16_000, format!("{{\"searched\":[[0,{far}]]}}")),
        (16_000, format!("{{\"overflowed\":{far}}}")),
        (16_000, format!("{{\"away\":[\"restarted\",{far}]}}")),
    ] {
        let mut bytes = first.clone().into_bytes();
        for json in [format!("{{\"at\":{at},\"event\":{event}}}"), format!("{{\"at\":{at},\"event\":\"beat\"}}")] {
            let mut hasher = crc32fast::Hasher::new();
            bytes.split(|b| *b == b'\n').filter(|l| !l.is_empty()).for_each(|line| hasher.update(&line[9..]));
            hasher.update(json.as_bytes());
            bytes.extend(format!("{:08x} {json}\n", hasher.finalize()).into_bytes());
        }
        let name = format!("{at}-{}", event.len());
        fs::write(runs.join(format!("{name}.journal")), &bytes).unwrap();
        let runs = runs.to_str().unwrap();
        for verb in
            [["page", &name, "--runs", runs], ["recap", &name, "--runs", runs], ["resume", &name, "--runs", runs]]
        {
            let (code, told) = within(1_500_000, &verb);
            assert_eq!(code, Some(4), "{at} {event}: {told}");
            assert!(told.contains("more than 7 days behind the start"), "{at} {event}: {told}");
        }
    }
    // What the reader refuses is never written.
    let mut writer = Writer::create(&runs.join("new.journal"), &header).unwrap();
    let record = |at| Record { at: SampleIndex(at), event: Event::Beat };
    writer.append(&record(16_000 * 86_400 * 7), None).unwrap();
    assert!(writer.append(&record(16_000 * 86_400 * 7 + 1), None).unwrap_err().to_string().contains("7 days"));
    drop(writer);
    assert_eq!(journal::load(&runs.join("new.journal")).unwrap().records.len(), 1);
}

/// In a folder where others can write, links of theirs lie where this program will write: what they point to is not touched.
#[test]
fn planted_links_lead_nowhere() {
    let (folder, runs, journal) = run();
    let whole = fs::read(&journal).unwrap();
    fs::write(&journal, [&whole[..], b"0badf00d {\"at\":99"].concat()).unwrap();
    let victim = folder.path().join("victim");
    fs::write(&victim, "mine").unwrap();
    let planted = [
        "x.html".to_string(),
        "x.html.part".into(),
        ".index".into(),
        ".index.part".into(),
        format!("x.journal.torn-{}", whole.len()),
    ];
    for name in &planted {
        symlink(&victim, runs.join(name)).unwrap();
    }
    let name = runs.to_str().unwrap();
    for verb in ["page", "resume", "history"] {
        let output =
            stepbell(&[&[verb][..], &(if verb == "history" { vec![] } else { vec!["x"] }), &["--runs", name]].concat());
        assert!(output.status.success(), "{verb}: {:?}", shown(&output));
        assert_eq!(fs::read_to_string(&victim).unwrap(), "mine", "{verb}");
    }
    for name in [&planted[0], &planted[2], &planted[4]] {
        let about = fs::symlink_metadata(runs.join(name)).unwrap();
        assert!(about.is_file() && about.permissions().mode() & 0o777 == 0o600, "{name}: a file of our own");
    }
    // A run that is itself a link is read, but not gone on with.
    symlink(&journal, runs.join("y.journal")).unwrap();
    assert!(stepbell(&["recap", "y", "--runs", name]).status.success());
    let output = stepbell(&["resume", "y", "--runs", name]);
    assert!(output.status.code() == Some(4) && shown(&output).1.contains("is a link"), "{:?}", shown(&output));
    // The recording goes through no link either.
    let planted = runs.join("z.wav");
    symlink(&victim, &planted).unwrap();
    let silence = || {
        let wav = folder.path().join("silence.wav");
        stepbell::audio::write_wav(&wav, &[0.0; 16_000], 16_000).unwrap();
        Box::new(stepbell::audio::Recording::open(&wav, false).unwrap())
    };
    assert!(stepbell::audio::Kept::new(silence(), &planted, SampleIndex(0)).is_err());
    assert_eq!(fs::read_to_string(&victim).unwrap(), "mine");
}

#[test]
fn a_folder_that_others_can_write_in_is_told() {
    let (folder, runs, _) = run();
    let wav = folder.path().join("silence.wav");
    stepbell::audio::write_wav(&wav, &[0.0; 16_000], 16_000).unwrap();
    let rehearse = || {
        let output = stepbell(&[
            "rehearse",
            BLOOD,
            "--voice",
            "off",
            "--no-questions",
            "--mic",
            wav.to_str().unwrap(),
            "--runs",
            runs.to_str().unwrap(),
        ]);
        assert!(output.status.success());
        shown(&output).1
    };
    fs::set_permissions(&runs, fs::Permissions::from_mode(0o777)).unwrap();
    let told = rehearse();
    assert!(told.contains("others can write in this folder") && told.contains("chmod go-w"), "{told}");
    fs::set_permissions(&runs, fs::Permissions::from_mode(0o755)).unwrap();
    assert!(!rehearse().contains("others can write"));
}

/// A run whose digests differ is exported all the same, and what is said of that is not in the data.
#[test]
fn notices_are_no_part_of_an_export() {
    let (_folder, runs, path) = run();
    let old = journal::load(&path).unwrap();
    let mut header = old.header.clone();
    header.state = STATE;
    let mut writer = Writer::create(&runs.join("other.journal"), &header).unwrap();
    for record in &old.records {
        let digest = writer.digest_due().then(|| "0".repeat(32));
        writer.append(record, digest).unwrap();
    }
    drop(writer);
    for (format, begins) in [("json", "{"), ("csv", "run,section,"), ("vtt", "WEBVTT")] {
        let output = stepbell(&["export", "other", "--format", format, "--runs", runs.to_str().unwrap()]);
        let (out, error) = shown(&output);
        assert!(output.status.success() && error.contains("understands the run differently"), "{error}");
        assert!(out.starts_with(begins), "{format}: {}", out.lines().next().unwrap_or_default());
        if format == "json" {
            serde_json::from_str::<serde_json::Value>(&out).unwrap();
        }
    }
}

/// A disk that is full when the page is written: no part of it stays, the run is whole, and what is advised works.
#[test]
fn a_full_disk_leaves_no_half_page_and_gives_advice_that_exists() {
    let (folder, runs, _) = run();
    let shim = shim(folder.path());
    let full = |arguments: &[&str]| -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_stepbell"));
        command.args(arguments).env("LD_PRELOAD", &shim).env("FAULT", "page:1").output().unwrap()
    };
    let name = runs.to_str().unwrap();
    let output = full(&["page", "x", "--runs", name]);
    let (_, error) = shown(&output);
    assert!(output.status.code() == Some(4) && error.contains("No space left") && error.contains("--out"), "{error}");
    let output = full(&["resume", "x", "--runs", name]);
    let (_, error) = shown(&output);
    assert_eq!(output.status.code(), Some(4), "{error}");
    assert!(
        error.contains("No space left") && error.contains("`stepbell page`") && !error.contains("--out"),
        "{error}"
    );
    let left: Vec<_> = fs::read_dir(&runs).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(left, ["x.journal"]);
    assert!(stepbell(&["page", "--runs", name]).status.success() && runs.join("x.html").is_file());
}

/// Only what says nothing of a run is kept of the voice, for its owner alone.
#[test]
fn the_voice_keeps_fixed_announcements_only() {
    let folder = tempfile::tempdir().unwrap();
    let models = stepbell::command::models().canonicalize().unwrap();
    for part in ["english", "vosk"] {
        symlink(models.join(part), folder.path().join(part)).unwrap();
    }
    // As programs before this one left it.
    let old = folder.path().join("cache").join(format!("{}.wav", "a".repeat(64)));
    fs::create_dir(folder.path().join("cache")).unwrap();
    fs::write(&old, "a recap").unwrap();
    let wav = folder.path().join("silence.wav");
    stepbell::audio::write_wav(&wav, &[0.0; 16_000], 16_000).unwrap();
    let runs = folder.path().join("runs");
    let output = Command::new(env!("CARGO_BIN_EXE_stepbell"))
        .args(["rehearse", BLOOD, "--compress", "20", "--mic", wav.to_str().unwrap(), "--runs", runs.to_str().unwrap()])
        .env("STEPBELL_MODELS", folder.path())
        .output()
        .unwrap();
    assert!(output.status.success(), "{:?}", shown(&output));
    let spoken = |line: &str| line.contains('\u{201c}') && line.contains("I heard what you called");
    assert!(shown(&output).0.lines().any(spoken), "a recap was spoken");
    assert!(!old.exists(), "older recaps are gone");
    let kept = folder.path().join("cache/announcements");
    let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode(&kept), 0o700);
    let mut fixed = stepbell::session::Session::announcements(&crate::section::shipped("blood").compressed(20), 20);
    fixed.push(stepbell::driver::UNWRITTEN.into());
    fixed.sort();
    fixed.dedup();
    let names =
        |place: &Path| -> BTreeSet<_> { fs::read_dir(place).unwrap().map(|e| e.unwrap().file_name()).collect() };
    // A run may be over before all of them are made; nothing else is kept.
    let fresh = folder.path().join("fresh");
    let mut all = Cache::new(&fresh);
    fixed.iter().for_each(|text| drop(all.fixed(text).unwrap()));
    let files = names(&kept);
    assert!(!files.is_empty() && files.is_subset(&names(&fresh.join("announcements"))), "{files:?}");
    assert!(files.iter().all(|f| mode(&kept.join(f)) == 0o600));
    // What can be written by others is not believed.
    stepbell::audio::write_wav(&kept.join(files.first().unwrap()), &[0.5; 1600], 16_000).unwrap();
    let mut cache = Cache::new(&folder.path().join("cache"));
    let mut changed = || fixed.iter().filter(|text| cache.speech(text).unwrap().samples.len() == 1600).count();
    assert_eq!(changed(), 1);
    fs::set_permissions(&kept, fs::Permissions::from_mode(0o777)).unwrap();
    assert_eq!(changed(), 0, "made anew");
}

/// An output takes the place of its older self, and of nothing else: no input, no run, no other output, no work of somebody else's.
#[test]
fn an_output_replaces_its_older_self_alone() {
    let (folder, runs, journal) = run();
    let at = |name: &str| folder.path().join(name).display().to_string();
    let (runs, journal) = (runs.display().to_string(), journal.display().to_string());
    stepbell::audio::write_wav(Path::new(&at("me.wav")), &[0.0; 16_000], 16_000).unwrap();
    fs::copy(at("me.wav"), at("runs/x.wav")).unwrap();
    symlink(at("me.wav"), at("link.wav")).unwrap();
    fs::copy(BLOOD, at("mine.toml")).unwrap();
    fs::write(at("notes.html"), "# no page\n").unwrap();
    fs::write(at("ticks.csv"), "step,seen\nhands,yes\n").unwrap();
    let rehearse =
        ["rehearse", &at("mine.toml"), "--voice", "off", "--runs", &runs, "--mic", &at("me.wav"), "--render"];
    let with = |verb: &[&str], out: &str| verb.iter().copied().chain([out]).map(String::from).collect::<Vec<_>>();
    let cases = [
        (with(&rehearse, &at("me.wav")), "is the recording that --mic names"),
        (with(&rehearse, &at("link.wav")), "is the recording that --mic names"),
        (with(&rehearse, &at("mine.toml")), "under the name of a journal or a section"),
        (with(&rehearse, &at("notes.html")), "is there and is not a WAV file"),
        (with(&rehearse, &at("runs/x.wav")), "is the recording of a run"),
        (with(&["show", BLOOD, "--svg"], &at("mine.toml")), "under the name of a journal or a section"),
        (with(&["show", BLOOD, "--svg"], &at("notes.html")), "is there and is not an SVG drawing"),
        (with(&["sheet", BLOOD, "--out"], &at("me.wav")), "is there and is not an HTML page"),
        (with(&["page", &journal, "--out"], &journal), "under the name of a journal or a section"),
        (with(&["page", &journal, "--out"], &at("runs/x.wav")), "is there and is not an HTML page"),
        (with(&["page", &journal, "--out"], &at("runs/x.vtt")), "where the chapters of this run lie"),
        (with(&["export", &journal, "--format", "json", "--out"], &journal), "under the name of a journal"),
        (with(&["export", &journal, "--format", "csv", "--out"], &at("ticks.csv")), "is not a run as a table"),
        (with(&["class", &at(""), "--out"], &at("notes.html")), "is there and is not an HTML page"),
        (with(&["class", &at(""), "--out", &at("class.html"), "--csv"], &at("ticks.csv")), "is not a gradebook"),
        (with(&["class", &at(""), "--out", &at("both"), "--csv"], &at("both")), "is where the page is written"),
    ];
    let all = || {
        let files = [folder.path(), Path::new(&runs)].map(|f| fs::read_dir(f).unwrap().map(|e| e.unwrap().path()));
        let hidden = |p: &PathBuf| p.file_name().unwrap().to_string_lossy().starts_with('.');
        files
            .into_iter()
            .flatten()
            .filter(|p| p.is_file() && !hidden(p))
            .map(|p| (p.clone(), fs::read(&p).unwrap()))
            .collect()
    };
    let before: std::collections::BTreeMap<PathBuf, Vec<u8>> = all();
    for (arguments, says) in cases {
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let output = stepbell(&arguments);
        let (_, said) = shown(&output);
        assert_eq!(output.status.code(), Some(4), "{arguments:?}: {said}");
        assert!(said.contains(says) && said.contains("next: name another file with --"), "{arguments:?}: {said}");
        assert!(all() == before, "{arguments:?}: something was written");
    }
    // Twice each: the second time over what the first left.
    fs::remove_file(at("runs/x.wav")).unwrap();
    let rendered = rehearse.iter().copied().chain([at("spoken.wav").leak() as &str, "--no-questions"]);
    let fine: [&[&str]; 7] = [
        &rendered.collect::<Vec<_>>(),
        &["show", BLOOD, "--svg", &at("order.svg")],
        &["sheet", BLOOD, "--out", &at("sheet.html")],
        &["page", &journal, "--out", &at("page.html")],
        &["export", &journal, "--format", "json", "--out", &at("run.json")],
        &["export", &journal, "--format", "vtt", "--out", &at("run.vtt")],
        &["class", &at(""), "--out", &at("class.html"), "--csv", &at("marks.csv")],
    ];
    for arguments in fine {
        for _ in 0..2 {
            let output = stepbell(arguments);
            assert!(output.status.success(), "{arguments:?}: {}", shown(&output).1);
        }
    }
}
