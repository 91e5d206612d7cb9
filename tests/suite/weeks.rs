//! Many runs through the program as its user uses it: which of them count, what is told of them, and how one of them looks.

use crate::kill::stepbell;
use std::fs;
use std::path::{Path, PathBuf};
use stepbell::callout::{Command, Heard, Meaning};
use stepbell::journal::{Header, Record, Writer};
use stepbell::outcome::Mode;
use stepbell::session::{Event, Settings, Timer};
use stepbell::time::{Ms, SampleIndex};

/// Four steps: a critical one, one that is left out, one without minutes, and one with a long title and a drawn finger.
pub const SECTION: &str = r#"
id = "table"
title = "The table"
trade = "nails"
board = "Tarnmoor Board of Personal Care (invented)"
edition = "2026-03-01"
source = "Common practice."
finish = ["stepping back"]
[[parameter]]
id = "finger"
one_of = ["thumb", "index", "middle", "ring", "little"]
[reading]
times = 1
sentences = ["This is the table."]
again = "Once more."
begin = "You may begin now."
[clock]
minutes = 10
warning_minutes_left = 5
warning = "Five minutes left."
stop = "Stop."
[[step]]
id = "hands"
title = "sanitise hands"
say = ["sanitize hands"]
minutes = 0.5
critical = true
hygiene = true
[[step]]
id = "tidy"
title = "tidy the table"
say = ["tidy the table"]
minutes = 0.5
[[step]]
id = "coat"
title = "base coat"
say = ["base coat"]
[[step]]
id = "polish"
title = "take all of the coloured polish off the nail plate of the {finger} finger"
say = ["polish off"]
minutes = 1
"#;

/// A folder of runs that were written as the driver would have written them.
pub struct Shelf {
    folder: PathBuf,
    /// Deleted with it.
    _own: Option<tempfile::TempDir>,
}

impl Shelf {
    fn new() -> Shelf {
        let folder = tempfile::tempdir().unwrap();
        Shelf { folder: folder.path().to_path_buf(), _own: Some(folder) }
    }

    /// One that stays in a folder of somebody else's.
    pub fn in_folder(folder: &Path) -> Shelf {
        fs::create_dir_all(folder).unwrap();
        Shelf { folder: folder.to_path_buf(), _own: None }
    }

    fn path(&self) -> &str {
        self.folder.to_str().unwrap()
    }

    /// A run on a day: how far its clock was compressed, what was left out, and whether it went on to its finish.
    pub fn run(&self, day: usize, compress: u32, left_out: &[&str], finished: bool) -> PathBuf {
        self.run_of(SECTION, day, compress, left_out, finished)
    }

    /// The same of another section with the same callouts.
    fn run_of(&self, section: &str, day: usize, compress: u32, left_out: &[&str], finished: bool) -> PathBuf {
        let started = format!("2026-04-{day:02}T10:00:00Z");
        let settings = Settings { compress, seed: day as u64, ..Mode::Coach.into() };
        let header = Header::new(started.clone(), section.into(), settings);
        let id = section.split('"').nth(1).unwrap();
        let path = self.folder.join(format!("{}-{id}.journal", started.replace(':', "-")));
        let mut journal = Writer::create(&path, &header).unwrap();
        let mut at = 0;
        let mut append = |ms: u64, event: Event| {
            at += ms;
            journal.append(&Record { at: SampleIndex(0) + Ms(at), event }, None).unwrap();
        };
        let heard = |ms: u64, meaning: Meaning| {
            let at = |ms| SampleIndex(0) + Ms(ms);
            Event::Heard(Heard { meaning, start: at(ms), end: at(ms + 500), confidence: 1.0 })
        };
        append(0, Event::Opened);
        append(1_000, Event::SpeechEnded(0));
        append(2_000, Event::TimerFired(Timer::Gap));
        append(1_000, Event::SpeechEnded(1));
        let mut now = 4_000;
        let pace = 60_000 / u64::from(compress);
        for say in ["sanitize hands", "tidy the table", "base coat", "polish off"] {
            if !left_out.contains(&say) {
                append(pace, heard(now + pace - 700, Meaning::Callout(say.into())));
                now += pace;
            }
        }
        if finished {
            append(pace, heard(now + pace - 700, Meaning::Command(Command::Finished)));
            append(4_000, Event::TimerFired(Timer::Late));
        } else {
            append(pace, Event::Interrupted);
        }
        path
    }

    /// Nine whole runs on a clock compressed ten times; the table is left untidied in the first four, and one more run is stopped.
    pub fn nine(&self) {
        for day in 2..=10 {
            self.run(day, 10, if day <= 5 { &["tidy the table"] } else { &[] }, true);
        }
        self.run(11, 10, &[], false);
    }
}

fn told(arguments: &[&str]) -> String {
    let output = stepbell(arguments);
    assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

/// What `rehearse` tells before it fails, since there is no recording.
fn begun(shelf: &Shelf, more: &[&str]) -> String {
    let file = shelf.folder.join("table.toml");
    fs::write(&file, SECTION).unwrap();
    let fixed = ["rehearse", file.to_str().unwrap(), "--voice", "off", "--mic", "/no/such.wav", "--runs", shelf.path()];
    let output = stepbell(&[&fixed, more].concat());
    assert!(!output.status.success());
    String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr)
}

#[test]
fn one_rule_says_which_runs_count_in_every_verb() {
    let shelf = Shelf::new();
    shelf.nine();
    shelf.run(1, 1, &[], true);
    let runs = "9 whole runs, compressed 10 times";
    let apart = "Kept apart, and not counted here: 1 stopped before the finish or the limit; 1 on a clock compressed otherwise, or not at all.";
    for verb in ["history", "ready", "plan"] {
        let told = told(&[verb, "--runs", shelf.path()]);
        assert!(told.contains(runs) && told.contains(apart), "{verb}: {told}");
    }
    let fade = begun(&shelf, &["--fade", "auto"]);
    assert!(fade.contains(runs) && fade.contains("hand hygiene and labels only"), "{fade}");
    let weak = begun(&shelf, &["--weak"]);
    assert!(weak.contains(&format!("left out or ran over most in {runs}: tidy.")), "{weak}");
    // The same, by name.
    assert!(
        told(&["history", "--runs", shelf.path(), "--compress", "1"]).contains("(edition 2026-03-01): 1 whole run.")
    );
    // A class of one.
    let class = tempfile::tempdir().unwrap();
    fs::rename(shelf.path(), class.path().join("ann")).unwrap();
    let page = class.path().join("class.html");
    told(&["class", class.path().to_str().unwrap(), "--out", page.to_str().unwrap()]);
    let page = fs::read_to_string(page).unwrap();
    assert!(page.contains(runs) && page.contains(apart) && page.contains("The clock was compressed"), "{page}");
    fs::create_dir(shelf.path()).unwrap();
}

#[test]
fn nothing_weak_is_said_and_nothing_is_drilled() {
    let shelf = Shelf::new();
    (1..=5).for_each(|day| drop(shelf.run(day, 10, &[], true)));
    let weak = begun(&shelf, &["--weak"]);
    assert!(weak.contains("in 5 whole runs, compressed 10 times no step was left out"), "{weak}");
}

#[test]
fn readiness_tells_both_chances_and_holds_down_only_what_happened() {
    let shelf = Shelf::new();
    shelf.nine();
    let ready = told(&["ready", "--runs", shelf.path()]);
    let chance = |front: &str| -> f64 {
        let line = ready.lines().find(|l| l.starts_with(front)).unwrap_or_else(|| panic!("{front}: {ready}"));
        line.split(": ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap()
    };
    let (critical, all) = (
        chance("Chance that the next run has no critical finding"),
        chance("Chance that it has no finding at all, critical or not"),
    );
    assert!(critical > 85.0 && (30.0..75.0).contains(&all), "{ready}");
    assert!(ready.contains("tidy the table was left out in 4 of 9"), "{ready}");
    assert!(!ready.contains("sanitise hands"), "never left out: {ready}");
    assert!(ready.contains("Whether it is finished in time can't be told"), "{ready}");
}

/// Of each section an exam tells what `ready` tells of it alone, word for word: the chance, by which runs, and what is kept apart.
#[test]
fn an_exam_tells_of_each_section_what_is_told_of_it_alone() {
    let shelf = Shelf::new();
    shelf.nine();
    let other = SECTION.replace("\"table\"", "\"other\"").replace("The table", "The other table");
    (12..=20)
        .for_each(|day| drop(shelf.run_of(&other, day, 1, if day < 14 { &["sanitize hands"] } else { &[] }, true)));
    let folder = tempfile::tempdir().unwrap();
    let put = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
    put("table.toml", SECTION);
    put("other.toml", &other);
    let parts = "[[section]]\nfile = \"table.toml\"\n[[section]]\nfile = \"other.toml\"\n";
    put("exam.toml", &format!("id = \"e\"\ntitle = \"The exam\"\nboard = \"x\"\nsource = \"x\"\n{parts}"));
    let exam = told(&["ready", "--runs", shelf.path(), "--exam", folder.path().join("exam.toml").to_str().unwrap()]);
    let alone = |id: &str| told(&["ready", "--runs", shelf.path(), "--section", id]);
    for (id, title, runs) in
        [("table", "The table", "9 whole runs, compressed 10 times"), ("other", "The other table", "9 whole runs")]
    {
        let alone = alone(id);
        let line = alone.lines().find(|l| l.starts_with("Chance that the next run")).unwrap();
        let chance = line.split_once(": ").unwrap().1.trim_end_matches('.');
        assert!(exam.contains(&format!("  {title}: {chance}, by {runs}.\n")), "{exam}{alone}");
    }
    let apart = alone("table").lines().find(|l| l.starts_with("Kept apart")).unwrap().to_string();
    assert!(exam.contains(&format!("    {apart}\n")), "{exam}");
    assert!(exam.contains("can't be told from runs on a compressed clock"), "{exam}");
}

/// What may be left out is never told to have been.
#[test]
fn a_free_step_is_not_left_out() {
    let shelf = Shelf::new();
    let free = SECTION.replace("title = \"tidy the table\"", "title = \"tidy the table\"\noptional = true");
    (1..=5).for_each(|day| drop(shelf.run_of(&free, day, 1, &["tidy the table", "base coat"], true)));
    let history = told(&["history", "--runs", shelf.path()]);
    let row = |step: &str| {
        history.lines().find(|l| l.contains(step)).unwrap().split_whitespace().collect::<Vec<_>>().join(" ")
    };
    assert_eq!(row("tidy"), "- - - - 0:30 tidy the table", "{history}");
    assert!(row("base coat").starts_with("5 of 5 "), "{history}");
    assert!(history.contains("A dash for left out: it may be, or is one of a choice."), "{history}");
}

#[test]
fn no_reason_is_told_in_the_system_s_words() {
    let runs = tempfile::tempdir().unwrap();
    for arguments in [
        &["history", "--runs", "/no/such"][..],
        &["recap", "nosuch", "--runs", "/no/such"],
        &["class", "/no/such"],
        &["check", "/no/such.toml"],
        &["page", "--runs", "/no/such"],
        &["rehearse", "blood", "--mic", "/no/such.wav", "--voice", "off", "--runs", runs.path().to_str().unwrap()],
    ] {
        let output = stepbell(arguments);
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(!output.status.success() && said.contains("/no/such") && said.contains("next:"), "{said}");
        assert!(!said.contains("os error") && !said.contains("No such file"), "{said}");
    }
    let said = String::from_utf8(stepbell(&["history", "--runs", "/no/such"]).stderr).unwrap();
    assert!(
        said.contains("/no/such: there is no such folder, and so no runs") && said.contains("rehearse once"),
        "{said}"
    );
}

#[test]
fn a_drawn_finger_parts_no_runs() {
    let shelf = Shelf::new();
    shelf.nine();
    let history = told(&["history", "--runs", shelf.path()]);
    assert!(history.contains("take all of the coloured polish off the nail plate of the \u{2026} finger"), "{history}");
}

#[test]
fn a_step_that_was_never_called_has_no_usual_time_and_one_without_minutes_no_plan() {
    let shelf = Shelf::new();
    (1..=3).for_each(|day| drop(shelf.run(day, 1, &["tidy the table", "base coat"], true)));
    let row = |told: &str, step: &str| -> Vec<String> {
        let line = told.lines().find(|l| l.trim_end().ends_with(step)).unwrap_or_else(|| panic!("{step}: {told}"));
        line.split_whitespace().map(str::to_string).collect()
    };
    let plan = told(&["plan", "--runs", shelf.path()]);
    assert_eq!(row(&plan, "tidy the table")[1..3], ["0:30", "-"], "{plan}");
    assert_eq!(row(&plan, "base coat")[1..3], ["-", "-"], "{plan}");
    assert_eq!(row(&plan, "sanitise hands")[2], "1:00", "{plan}");
    let history = told(&["history", "--runs", shelf.path()]);
    assert_eq!(row(&history, "base coat")[7..10], ["-", "-", "-"], "{history}");
}

/// The page of a run, as text.
fn page(journal: &Path) -> String {
    let out = journal.with_extension("html");
    told(&["page", journal.to_str().unwrap(), "--out", out.to_str().unwrap()]);
    fs::read_to_string(out).unwrap()
}

#[test]
fn a_page_has_a_row_for_every_step_and_plans_only_what_the_section_plans() {
    let shelf = Shelf::new();
    let journal = shelf.run(1, 1, &["tidy the table"], true);
    let page = page(&journal);
    let (chart, table) = page.split_once("Step table").unwrap();
    // In the chart: each title whole, the drawn finger with it, and the step that was left out in its place.
    let names: Vec<&str> =
        chart.split("<span class=\"name\">").skip(1).map(|s| s.split("</span>").next().unwrap()).collect();
    assert_eq!(names[..3], ["sanitise hands", "tidy the table", "base coat"]);
    assert!(names[3].starts_with("take all of the coloured polish off the nail plate of the "));
    assert!(names[3].ends_with(" finger") && !names[3].contains('\u{2026}'), "{}", names[3]);
    assert_eq!(chart.matches(">not called<").count(), 1);
    // Three were called, two of them with a plan; a minute is twice the plan of the first, and not more.
    assert_eq!((chart.matches("class=\"bar").count(), chart.matches("class=\"plan\"").count()), (3, 2));
    assert!(!chart.contains("bar late"), "no step took more than twice its plan");
    let cells = |step: &str| -> Vec<String> {
        let row = table.split("<tr>").find(|r| r.contains(step)).unwrap();
        row.split("<td").skip(1).map(|c| c[c.find('>').unwrap() + 1..].split('<').next().unwrap().to_string()).collect()
    };
    assert_eq!(cells("base coat")[1..], ["1:00", "\u{2013}", "\u{2013}"]);
    assert_eq!(cells("tidy the table"), ["not called"]);
    // Care that took longer than its plan is told as nothing; other work is.
    assert_eq!(cells("sanitise hands")[1..], ["1:00", "0:30", "\u{2013}"]);
    assert_eq!(cells("take all of the coloured polish")[1..], ["1:00", "1:00", "+0:00"]);
    let json: serde_json::Value =
        serde_json::from_str(&told(&["export", journal.to_str().unwrap(), "--format", "json"])).unwrap();
    let schema: serde_json::Value = serde_json::from_str(stepbell::recap::SCHEMA).unwrap();
    assert!(jsonschema::is_valid(&schema, &json));
    assert_eq!(json["steps"][1]["plan_s"], serde_json::Value::Null);
    let csv = told(&["export", journal.to_str().unwrap(), "--format", "csv"]);
    assert!(csv.lines().any(|l| l.contains(",coat,base coat,") && l.ends_with(",60.000,,no")), "{csv}");
}

#[test]
fn the_picture_of_an_order_cuts_no_title() {
    let folder = tempfile::tempdir().unwrap();
    let (file, svg) = (folder.path().join("table.toml"), folder.path().join("order.svg"));
    fs::write(&file, SECTION).unwrap();
    told(&["show", file.to_str().unwrap(), "--svg", svg.to_str().unwrap(), "--seed", "4"]);
    let picture = fs::read_to_string(svg).unwrap();
    let shown: Vec<&str> =
        picture.split("<tspan").skip(1).map(|s| s[s.find('>').unwrap() + 1..].split('<').next().unwrap()).collect();
    let shown = shown.join(" ");
    assert!(shown.contains("take all of the coloured polish off the nail plate of the ") && shown.contains(" finger"));
    assert!(!picture.contains('\u{2026}'), "{picture}");
}

#[test]
fn the_picture_in_the_documents_is_what_the_program_draws() {
    let folder = tempfile::tempdir().unwrap();
    let svg = folder.path().join("order.svg");
    told(&["show", "prompts/skin-care/break-down.toml", "--svg", svg.to_str().unwrap()]);
    let (now, kept) = (fs::read(svg).unwrap(), fs::read("prompts/pictures/order.svg").unwrap());
    assert!(now == kept, "make the pictures anew: bash tests/browser/pictures.sh target/release/stepbell");
}
