//! What every verb says, word for word: its short and long help, and what it tells of fixtures. `INSTA_UPDATE=always` writes
//! `snapshots/` anew; look at the difference before it is committed. Paths and times of day are left out of them.

use crate::questions::SHORT;
use std::fs;
use std::path::Path;
use std::process::Command;
use stepbell::command::help::GROUPS;

/// A copy of what a verb needs, made anew for each.
struct Fixture(tempfile::TempDir);

impl Fixture {
    fn new() -> Fixture {
        let folder = tempfile::tempdir().unwrap();
        let put = |name: &str, bytes: &[u8]| fs::write(folder.path().join(name), bytes).unwrap();
        put("short.toml", SHORT.as_bytes());
        put("broken.toml", SHORT.replace("[\"hands\"]", "[\"hand\"]").as_bytes());
        put("other.toml", SHORT.replace("\"short\"", "\"other\"").as_bytes());
        let exam = "id = \"e\"\ntitle = \"The exam\"\nboard = \"Tarnmoor (invented)\"\nsource = \"Invented, for a test.\"\n\
                    [[section]]\nfile = \"short.toml\"\n[[section]]\nfile = \"other.toml\"\nbefore = \"Next.\"\n";
        put("exam.toml", exam.as_bytes());
        // An exam of the section that Ada rehearsed.
        put("table.toml", crate::weeks::SECTION.as_bytes());
        let one = exam.split("[[section]]").next().unwrap();
        put("table-exam.toml", format!("{one}pass_mark = 70\n[[section]]\nfile = \"table.toml\"\n").as_bytes());
        put("ticks.csv", b"step,seen,in_place,remarks\r\nhands,yes,yes,\r\ntidy,no,,late\r\n");
        put("none.toml", b"");
        stepbell::audio::write_wav(&folder.path().join("silence.wav"), &vec![0.0; 16_000 * 100], 16_000).unwrap();
        crate::weeks::Shelf::in_folder(&folder.path().join("people/Ada")).nine();
        // A run that was cut off: its journal without its last two lines.
        let cut = crate::weeks::Shelf::in_folder(&folder.path().join("cut")).run(2, 10, &["base coat"], true);
        let text = fs::read_to_string(&cut).unwrap();
        let lines: Vec<&str> = text.split_inclusive('\n').collect();
        fs::write(&cut, lines[..lines.len() - 2].concat()).unwrap();
        Fixture(folder)
    }

    /// What the program says to these arguments, `@` standing for the fixture's folder; what it writes lies there.
    fn told(&self, arguments: &[&str]) -> String {
        let folder = self.0.path().to_str().unwrap();
        let output = Command::new(env!("CARGO_BIN_EXE_stepbell"))
            .args(arguments.iter().map(|a| a.replace('@', folder)))
            .env("STEPBELL_SETTINGS", "")
            .env("XDG_DATA_HOME", folder)
            .env("PULSE_SERVER", "unix:/nonexistent")
            .env("ALSA_CONFIG_PATH", "/nonexistent")
            .env("TZ", "UTC")
            .env_remove("COLUMNS")
            .env_remove("STEPBELL_RUNS")
            .output()
            .unwrap();
        let part = |name: &str, bytes: &[u8]| match String::from_utf8_lossy(bytes) {
            text if text.is_empty() => String::new(),
            text => format!("--- {name} ---\n{text}"),
        };
        let (out, err) = (part("output", &output.stdout), part("errors", &output.stderr));
        let command = arguments.join(" ");
        format!("$ stepbell {command}\n{out}{err}--- exit {} ---\n", output.status.code().unwrap()).replace(folder, "@")
    }
}

/// Each verb with what is asked of it. A verb with none, or none that is one, fails a test.
const ASKED: &[(&str, &[&[&str]])] = &[
    (
        "rehearse",
        &[&["rehearse", "@/short.toml", "--mic", "@/silence.wav", "--voice", "off", "--runs", "@/runs", "--seed", "1"]],
    ),
    (
        "mock",
        &[&["mock", "@/exam.toml", "--mic", "@/silence.wav", "--voice", "off", "--runs", "@/runs", "--seed", "1"]],
    ),
    ("resume", &[&["resume", "--close", "--runs", "@/cut"]]),
    ("listen", &[&["listen", "@/short.toml", "--mic", "@/silence.wav", "--voice", "off", "--runs", "@/runs"]]),
    ("microphone", &[&["microphone", "@/short.toml", "--mic", "@/silence.wav", "--voice", "off", "--runs", "@/runs"]]),
    ("enrol", &[&["enrol", "@/short.toml", "--mic", "@/silence.wav", "--voice", "off", "--runs", "@/runs"]]),
    ("sections", &[&["sections"]]),
    (
        "check",
        &[
            &["check", "@/short.toml", "@/broken.toml", "@/none.toml"],
            &["check", "--json", "@/short.toml", "@/broken.toml"],
            &["check", "--explain", "S008"],
        ],
    ),
    ("new", &[&["new", "@/new.toml"], &["new", "@/short.toml"]]),
    ("show", &[&["show", "basic-facial"], &["show", "--json", "@/short.toml"], &["show", "basic-facal"]]),
    ("schema", &[&["schema"], &["schema", "--run"], &["schema", "--json"]]),
    ("sheet", &[&["sheet", "@/short.toml", "--out", "@/sheet.html"]]),
    ("recap", &[&["recap", "--runs", "@/people/Ada"], &["recap", "nosuch", "--runs", "@/people/Ada"]]),
    ("replay", &[&["replay", "--runs", "@/people/Ada"]]),
    ("page", &[&["page", "--runs", "@/people/Ada"]]),
    (
        "export",
        &[
            &["export", "--format", "csv", "--runs", "@/people/Ada"],
            &["export", "--format", "json", "--runs", "@/people/Ada"],
            &["export", "--format", "vtt", "--runs", "@/people/Ada"],
        ],
    ),
    ("agree", &[&["agree", "--ticks", "@/ticks.csv", "--runs", "@/people/Ada"]]),
    ("forget", &[&["forget", "--all", "--yes", "--runs", "@/cut"]]),
    ("history", &[&["history", "--runs", "@/people/Ada"], &["history", "--json", "--runs", "@/people/Ada"]]),
    (
        "ready",
        &[
            &["ready", "--runs", "@/people/Ada"],
            &["ready", "--json", "--runs", "@/people/Ada"],
            &["ready", "--runs", "@/cut"],
            &["ready", "--exam", "@/table-exam.toml", "--runs", "@/people/Ada"],
            &["ready", "--exam", "@/table-exam.toml", "--json", "--runs", "@/people/Ada"],
        ],
    ),
    ("plan", &[&["plan", "--runs", "@/people/Ada"], &["plan", "--json", "--runs", "@/people/Ada"]]),
    ("class", &[&["class", "@/people", "--out", "@/class.html"]]),
    ("consent", &[&["consent", "--runs", "@/people/Ada"], &["consent", "named", "--runs", "@/people/Ada"]]),
    (
        "archive",
        &[
            &["archive", "@/people/Ada", "--to", "@/archive"],
            &["archive", "@/people", "--to", "@/archive", "--yes"],
            &["archive", "@/people/Ada", "--to", "@/archive", "--yes"],
        ],
    ),
    ("devices", &[&["devices"]]),
    ("settings", &[&["settings"]]),
    ("completions", &[&["completions", "bash"]]),
    ("manual", &[&["manual"]]),
];

/// What of a verb's output is kept: of scripts that another library makes only how they begin.
fn kept(verb: &str, told: String) -> String {
    let most = if ["completions", "manual"].contains(&verb) { 12 } else { usize::MAX };
    told.lines().take(most).map(|line| format!("{}\n", line.trim_end())).collect()
}

fn held(name: &str, text: &str) {
    let mut settings = insta::Settings::clone_current();
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    // The time of day in a run's name, and where the program keeps what comes with it.
    settings.add_filter(r"\d{4}-\d\d-\d\dT\d\d-\d\d-\d\d\.\d{3}", "TIME");
    settings.bind(|| insta::assert_snapshot!(name, text));
}

#[test]
fn every_verb_has_its_snapshot() {
    let grouped: Vec<&str> = GROUPS.iter().flat_map(|(_, verbs)| verbs.iter().copied()).collect();
    let asked: Vec<&str> = ASKED.iter().map(|(verb, _)| *verb).collect();
    let missing: Vec<_> = grouped
        .iter()
        .filter(|verb| {
            let lies = |kind: &str| Path::new(&format!("tests/suite/snapshots/{kind}_{verb}.snap")).is_file();
            !asked.contains(verb) || !lies("help") || !lies("output")
        })
        .collect();
    crate::figure("verbs without a snapshot of help and output", missing.len(), "0", missing.is_empty());
    assert!(ASKED.iter().all(|(verb, asked)| grouped.contains(verb) && asked.iter().all(|a| a.contains(verb))));
}

#[test]
fn help_is_as_it_was() {
    let fixture = Fixture::new();
    held("help", &(fixture.told(&["-h"]) + &fixture.told(&["--help"])));
    for (_, verbs) in GROUPS {
        for verb in verbs {
            held(&format!("help_{verb}"), &(fixture.told(&[verb, "-h"]) + &fixture.told(&[verb, "--help"])));
        }
    }
}

#[test]
fn output_is_as_it_was() {
    for (verb, asked) in ASKED {
        let fixture = Fixture::new();
        let told: String = asked.iter().map(|arguments| kept(verb, fixture.told(arguments))).collect();
        held(&format!("output_{verb}"), &told);
    }
}

/// What `--json` prints, held against the schema that `schema --json` prints, by the jsonschema crate.
#[test]
fn answers_are_as_their_schema_says() {
    let fixture = Fixture::new();
    let schema: serde_json::Value = serde_json::from_str(stepbell::command::json::SCHEMA).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let asked = ASKED.iter().flat_map(|(_, asked)| asked.iter()).filter(|a| a.contains(&"--json") && a[0] != "schema");
    let more: [&[&str]; 4] = [
        &["ready", "--json", "--runs", "@/cut"],
        &["history", "--json", "--runs", "@/cut"],
        &["show", "--json", "basic-facial"],
        &["check", "--json", "mock-exam", "nosuch"],
    ];
    let mut seen = 0;
    for arguments in asked.copied().chain(more) {
        let told = fixture.told(arguments);
        let json = told.split("--- output ---\n").nth(1).unwrap().split("\n--- ").next().unwrap();
        let answer: serde_json::Value = serde_json::from_str(json).unwrap();
        let wrong: Vec<String> = validator.iter_errors(&answer).map(|e| format!("{}: {e}", e.instance_path)).collect();
        assert!(wrong.is_empty(), "{arguments:?}: {wrong:?}");
        assert!(answer["stepbell"].as_str().unwrap().starts_with(arguments[0]));
        // Another verb's answer, and one with a key too few, are refused.
        let mut other = answer.clone();
        other["stepbell"] = "recap".into();
        assert!(!validator.is_valid(&other));
        let mut less = answer.clone();
        less.as_object_mut().unwrap().retain(|key, _| key != "version");
        assert!(!validator.is_valid(&less), "{arguments:?}");
        seen += 1;
    }
    assert!(seen >= 9, "{seen}");
}
