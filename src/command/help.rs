//! Help as people read it: the verbs by what they are for, with examples; completions for shells and pages for `man`.

use super::Failure;
use crate::platform;
use crate::terminal;
use clap::Command;
use std::fmt::Write as _;
use std::path::Path;

/// The verbs by what they are for. A test holds it against the verbs there are.
pub const GROUPS: [(&str, &[&str]); 6] = [
    ("Rehearse", &["listen", "rehearse", "mock", "resume", "microphone", "enrol"]),
    ("Sections", &["sections", "check", "new", "show", "schema", "sheet"]),
    ("Runs", &["recap", "replay", "page", "export", "agree", "forget"]),
    ("Progress", &["history", "ready", "plan"]),
    ("Class", &["class", "consent", "archive"]),
    ("This program", &["devices", "settings", "completions", "manual"]),
];

/// Examples for a verb: arguments, and what they do. A test parses each.
pub const EXAMPLES: [(&str, &[(&str, &str)]); 28] = [
    (
        "listen",
        &[("listen", "choose by voice what to rehearse"), ("listen my-section.toml", "and a section of your own")],
    ),
    (
        "rehearse",
        &[
            ("rehearse basic-facial", "with microphone and loudspeaker"),
            ("rehearse my-section.toml", "a section of your own"),
            ("rehearse basic-facial --compress 10", "a fast walk through the order"),
            ("rehearse basic-facial --weak", "only what your runs show you are weakest in"),
            ("rehearse basic-facial --mic me.wav --render proctor.wav", "on a recording"),
        ],
    ),
    ("mock", &[("mock mock-exam", "the whole exam"), ("mock mock-exam --from 3", "from its third section on")]),
    (
        "resume",
        &[("resume", "go on with the latest run"), ("resume --close", "end it where it was cut off, with its recap")],
    ),
    ("microphone", &[("microphone", "the room, your voice and three callouts")]),
    ("enrol", &[("enrol basic-facial", "every callout twice"), ("enrol basic-facial --only toner", "only this one")]),
    (
        "check",
        &[
            ("check my-section.toml", "what is wrong in it"),
            ("check --callouts my-section.toml", "which callouts are hard to tell apart"),
            ("check --explain S008", "what a code means"),
        ],
    ),
    ("sections", &[("sections", "names, minutes and trades")]),
    ("new", &[("new my-section.toml", "a commented file to start from")]),
    ("show", &[("show basic-facial --svg order.svg", "and draw its order")]),
    ("schema", &[("schema", "of section files"), ("schema --run", "of exported runs")]),
    ("sheet", &[("sheet basic-facial --out sheet.html", "to print")]),
    ("recap", &[("recap", "the latest run"), ("recap --aloud", "and say it")]),
    ("replay", &[("replay", "all that was said and heard, with its second")]),
    ("page", &[("page --out latest.html", "the latest run")]),
    ("export", &[("export --format csv --out run.csv", "the latest run"), ("export --format json", "on the terminal")]),
    ("agree", &[("agree --ticks ticks.csv", "the latest run beside an observer's ticks")]),
    (
        "forget",
        &[
            ("forget --all --yes", "every run in the folder, and in the archives that hold them"),
            ("forget --archive DIR --person NAME", "all that an archive holds of a person"),
        ],
    ),
    ("history", &[("history --section basic-facial", "trends of that section")]),
    ("ready", &[("ready", "for the section rehearsed last"), ("ready --json", "for another program")]),
    ("plan", &[("plan --margin 10", "with a tenth of the limit to spare")]),
    ("class", &[("class people --out class.html", "people holds a folder of runs for each person")]),
    (
        "consent",
        &[
            ("consent nameless", "your runs may be archived, without your name"),
            ("consent none", "and out they come again"),
        ],
    ),
    (
        "archive",
        &[
            ("archive people --school north --class tuesday", "what would go in; --yes writes it"),
            ("archive runs --yes", "your own runs, to the folder archive"),
        ],
    ),
    ("devices", &[("devices", "names for --device")]),
    ("settings", &[("settings", "what applies, and where to write it")]),
    ("completions", &[("completions bash", "to be read by the shell: source <(stepbell completions bash)")]),
    ("manual", &[("manual", "to be shown: stepbell manual | man -l -"), ("manual --to man1", "a page for each verb")]),
];

/// The command line with its verbs grouped and its examples.
pub fn grouped(mut command: Command) -> Command {
    for (verb, examples) in EXAMPLES {
        if command.find_subcommand(verb).is_some() {
            command = command.mut_subcommand(verb, |c| c.after_long_help(listed(examples)));
        }
    }
    let header = *command.get_styles().get_header();
    let mut groups = String::new();
    for (title, verbs) in GROUPS {
        let _ = write!(groups, "\n{header}{title}:{header:#}\n");
        for verb in verbs.iter().filter_map(|v| command.find_subcommand(v)) {
            let about = verb.get_about().map(ToString::to_string).unwrap_or_default();
            let _ = writeln!(groups, "  {:<12} {about}", verb.get_name());
        }
    }
    let options = format!("{header}Options:{header:#}");
    command.help_template(format!(
        "{{about-with-newline}}\n{{usage-heading}} {{usage}}\n{groups}\n{options}\n{{options}}{{after-help}}"
    ))
}

fn listed(examples: &[(&str, &str)]) -> String {
    let rows = examples.iter().map(|(arguments, what)| format!("  stepbell {arguments}\n      {what}\n"));
    format!("Examples:\n{}", rows.collect::<String>())
}

/// Print what a shell needs to complete verbs and options.
pub fn completions(mut command: Command, shell: clap_complete::Shell) {
    let mut script = vec![];
    clap_complete::generate(shell, &mut command, "stepbell", &mut script);
    terminal::data(&script);
}

/// Print the page for `man`, or write a page for each verb to a folder.
pub fn manual(command: Command, to: Option<&Path>) -> Result<(), Failure> {
    let Some(to) = to else {
        let mut page = vec![];
        clap_mangen::Man::new(command).render(&mut page).map_err(|e| Failure::storage(e, ""))?;
        terminal::data(&page);
        return Ok(());
    };
    let written = std::fs::create_dir_all(to).and_then(|()| clap_mangen::generate_to(command, to));
    written.map_err(|e| {
        Failure::storage(
            format!("{}: {}", to.display(), platform::why(&e)),
            "name a folder that can be written with --to",
        )
    })?;
    terminal::outln!("manual: {}", to.display());
    Ok(())
}
