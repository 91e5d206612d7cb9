//! Deliberately broken section files, and the very messages they get. `UPDATE_GOLDEN=1 cargo test` writes the messages anew;
//! they are read by people before they are committed.

use crate::figure;
use crate::section::SHIPPED;
use std::collections::BTreeSet;
use std::fs;
use stepbell::authoring::{self, CODES, MAX_TEXT};
use stepbell::problem::Level;
use stepbell::terminal::drawn;

const GOLDEN: &str = "tests/data/broken.golden";

/// Name and text of each broken file.
fn cases() -> Vec<(String, String)> {
    let file = |name: &str| fs::read_to_string(format!("prompts/{name}.toml")).unwrap();
    let facial = file("skin-care/basic-facial");
    let manicure = file("nails/water-manicure");
    let tip = file("nails/nail-tip");
    let back = file("massage/back");
    let starter = stepbell::command::new::STARTER.to_string();
    let mut cases: Vec<(String, String)> = vec![];
    let mut add = |name: String, text: String| cases.push((name, text));

    // Every key of every kind of table: mistyped, missing, and of another type.
    let mut seen = BTreeSet::new();
    for (name, _) in SHIPPED {
        let text = file(name);
        let mut table = String::new();
        for line in text.lines() {
            if line.starts_with('[') {
                table = line.to_string();
            }
            let Some((key, value)) = line.split_once(" = ") else { continue };
            let simple = key.chars().all(|c| c.is_ascii_lowercase() || c == '_') && !line.ends_with('[');
            if !simple || !seen.insert((table.clone(), key.to_string())) {
                continue;
            }
            let with = |new: String| text.replacen(&format!("\n{line}\n"), &format!("\n{new}\n"), 1);
            let at = format!("{}{key}", if table.is_empty() { String::new() } else { format!("{table} ") });
            let (a, b) = key.split_at(key.len() - 1);
            let typo = if key.len() > 3 {
                format!("{}{b}{}", &a[..a.len() - 1], &a[a.len() - 1..])
            } else {
                format!("{key}x")
            };
            add(format!("mistyped: {at}"), with(format!("{typo} = {value}")));
            add(format!("missing or without it: {at}"), with(String::new()));
            add(
                format!("another type: {at}"),
                with(format!("{key} = {}", if value.starts_with('"') { "7" } else { "\"seven\"" })),
            );
            add(format!("twice: {at}"), with(format!("{line}\n{line}")));
        }
    }

    // What a schema can't see, code by code.
    let edit = |text: &str, from: &str, to: &str| {
        assert!(text.contains(from), "nothing to break: {from}");
        text.replacen(from, to, 1)
    };
    let step = "id = \"x\"\ntitle = \"x\"\nsay = [\"x\"]\n";
    add(
        "five mistakes at once".into(),
        facial
            .replacen("trade =", "trde =", 1)
            .replacen("critical = true", "critical = 1", 1)
            .replacen("minutes = 0.75", "minuts = 0.75", 1)
            .replacen("times = 2", "times = \"two\"", 1)
            .replacen("\nstop =", "\nstp =", 1),
    );
    add("two broken lines".into(), format!("{}\n= 3\n{}\nx ==\n", &starter[..40], &starter[40..]));
    add("too long".into(), format!("{facial}#{}", "x".repeat(MAX_TEXT)));
    add("empty".into(), String::new());
    add("not toml".into(), "a proctor reads\n".into());
    add("an open string".into(), edit(&facial, "title = \"Basic facial\"", "title = \"Basic facial"));
    add("deep brackets".into(), format!("{facial}\nx = {}1{}\n", "[".repeat(40), "]".repeat(40)));
    add("no steps".into(), starter[..starter.find("[[step]]").unwrap()].into());
    for id in ["lips", "eyes", "mask", "toner"] {
        add(
            format!("two called {id}"),
            format!("{facial}\n[[step]]\nid = \"{id}\"\ntitle = \"again\"\nsay = [\"again\"]\n"),
        );
    }
    for (from, to) in [
        ("\"mask-off\"]", "\"mask-of\"]"),
        ("\"exfoliate\"]", "\"exfolate\"]"),
        ("after = [\"massage-product\"]", "after = [\"nothing-like-it\"]"),
    ] {
        add(format!("unknown step {to}"), edit(&facial, from, to));
    }
    add("unknown phase".into(), edit(&manicure, "phase = \"look\"", "phase = \"lok\""));
    add("unknown step in a loop".into(), edit(&manicure, "steps = [\"finger\"]", "steps = [\"fingr\"]"));
    add("unknown operand".into(), edit(&back, "broken_by = [\"undrape\"]", "broken_by = [\"undraped\"]"));
    add(
        "a critical step that may be left out".into(),
        format!("{starter}\n[[step]]\n{step}critical = true\noptional = true\n"),
    );
    add(
        "a critical step that is one of a choice".into(),
        format!(
            "{starter}\n[[step]]\n{step}critical = true\n\n[[choice]]\ntitle = \"x\"\nof = [\"x\", \"lay-out\"]\nat_least = 1\n"
        ),
    );
    add("a choice of too many".into(), edit(&facial, "at_least = 4", "at_least = 6"));
    for (from, to) in [
        ("id = \"hands-first\"", "id = \"hands-first\"\nafter = [\"dispose\"]"),
        ("id = \"cleanse\"", "id = \"cleanse\"\ndirectly_after = \"cleanser-off\""),
    ] {
        add(format!("a cycle by {to:?}"), edit(&facial, from, to));
    }
    add("a step before itself".into(), edit(&facial, "after = [\"mask\"]", "after = [\"mask-off\"]"));
    for say in ["\"\"", "\"123\"", "\"…\"", "\"!?\""] {
        add(format!("a callout without letters: {say}"), edit(&facial, "\"toner\", ", &format!("{say}, ")));
    }
    for say in ["area 1", "тоник on"] {
        add(format!("a callout that loses a part: {say}"), edit(&facial, "\"toner\", ", &format!("\"{say}\", ")));
    }
    add(
        "a very long callout".into(),
        edit(&facial, "\"toner\", ", "\"now i am going to put the toner on the face and the neck too\", "),
    );
    for minutes in ["0", "-5", "601", "1e9", "nan", "inf"] {
        add(
            format!("a limit of {minutes}"),
            edit(
                &facial,
                "\nminutes = 25\n",
                &format!("\nminutes = {minutes}.0\n").replace("n.0", "n").replace("f.0", "f").replace("9.0", "9"),
            ),
        );
        if minutes != "0" {
            add(
                format!("a plan of {minutes}"),
                edit(
                    &facial,
                    "\nminutes = 1.5\n",
                    &format!("\nminutes = {minutes}.0\n").replace("n.0", "n").replace("f.0", "f").replace("9.0", "9"),
                ),
            );
        }
    }
    for left in ["25", "30", "0", "-1"] {
        add(
            format!("a warning with {left} left"),
            edit(&facial, "warning_minutes_left = 12", &format!("warning_minutes_left = {left}")),
        );
    }
    add(
        "a warning in an untimed phase".into(),
        edit(
            &manicure,
            "begin = \"Your work is looked at now.\"",
            "begin = \"Your work is looked at now.\"\nwarning = \"x\"\nwarning_minutes_left = 2",
        ),
    );
    add("a warning without words".into(), edit(&facial, "warning = \"Twelve minutes left.\"\n", ""));
    for times in ["0", "6", "-1"] {
        add(format!("read {times} times"), edit(&facial, "times = 2", &format!("times = {times}")));
    }
    add(
        "nothing to read".into(),
        edit(
            &starter,
            &starter[starter.find("sentences = [").unwrap()..starter.find("again =").unwrap()],
            "sentences = []\n",
        ),
    );
    add("a placeholder in a title".into(), edit(&facial, "title = \"toner\"", "title = \"toner {item}\""));
    add("a placeholder mistyped".into(), edit(&tip, "on the {finger} finger, and", "on the {fingr} finger, and"));
    for (from, to) in [
        ("warning = \"", "warning = \"{fingr} "),
        ("stop = \"", "stop = \"{item} "),
        ("again = \"", "again = \"{fingr} "),
        ("consequence = \"", "consequence = \"{fingr} "),
        ("[[step]]\n", "[[step]]\ngate = \"{toe}\"\nhint = \"{fingr}\"\ncaution = \"{hand}\"\n"),
    ] {
        add(format!("a placeholder in {to:?}"), edit(&tip, from, to));
    }
    add("a placeholder left open".into(), edit(&tip, "on the {finger} finger, and", "on the {finger finger, and"));
    add(
        "nothing to draw".into(),
        edit(&tip, "one_of = [\"thumb\", \"index\", \"middle\", \"ring\", \"little\"]", "one_of = []"),
    );
    add("a step called any".into(), format!("{starter}\n[[step]]\n{}", step.replace("\"x\"\ntitle", "\"any\"\ntitle")));
    add(
        "a step without a name".into(),
        format!("{starter}\n[[step]]\n{}", step.replace("\"x\"\ntitle", "\"\"\ntitle")),
    );
    add("a loop without items".into(), edit(&back, "over = [\"left\", \"right\"]", "over = []"));
    add("a loop without steps".into(), edit(&manicure, "steps = [\"finger\"]", "steps = []"));
    add(
        "a step in two loops".into(),
        format!("{back}\n[[loop]]\nid = \"more\"\nover = [\"a\"]\nsteps = [\"undrape\"]\n"),
    );
    add(
        "too many steps".into(),
        edit(&back, "over = [\"left\", \"right\"]", &format!("over = [{}]", "\"x\", ".repeat(60))),
    );
    for when in ["finger", "finger=toe", "hand=left"] {
        add(
            format!("a condition {when:?}"),
            edit(&tip, "[clock]", &format!("[[reading.extra]]\nwhen = \"{when}\"\nsay = \"x\"\n\n[clock]")),
        );
    }
    add("two clocks".into(), edit(&manicure, "[clock]\n", "[clock]\nminutes = 20\n"));
    add("a phase without start words".into(), edit(&manicure, "begin = \"Your work is looked at now.\"\n", ""));
    add(
        "directly after five".into(),
        edit(&manicure, "id = \"oil-off\"", "id = \"oil-off\"\ndirectly_after = \"finger\""),
    );
    add(
        "a step without a phase".into(),
        edit(
            &manicure,
            "say = [\"top coat\"]\nminutes = 1\nafter = [\"second-coat\"]\nphase = \"manicure\"",
            "say = [\"top coat\"]\nminutes = 1\nafter = [\"second-coat\"]",
        ),
    );
    add(
        "a step in two choices".into(),
        format!("{facial}\n[[choice]]\ntitle = \"x\"\nof = [\"friction\"]\nat_least = 1\n"),
    );
    let rule = |body: &str| format!("{starter}\n[[rule]]\nid = \"r\"\nseverity = \"fault\"\nmessage = \"m\"\n{body}\n");
    for body in [
        "template = \"response\"\nfirst = \"hands\"",
        "template = \"existence\"\nfirst = \"hands\"\nthen = \"close-kit\"",
        "template = \"respons\"\nfirst = \"hands\"\nthen = \"close-kit\"",
        "template = \"response\"\nfirst = \"hand\"\nthen = \"close-kit\"",
        "template = \"response\"\nfirst = \"hands\"\nthen = \"close-kit\"\nat_least_seconds = -2",
    ] {
        add(format!("a rule: {}", body.replace('\n', ", ")), rule(body));
    }
    for severity in ["deadly", "Fault"] {
        add(
            format!("a severity {severity}"),
            rule("template = \"init\"\nfirst = \"hands\"").replace("\"fault\"", &format!("\"{severity}\"")),
        );
    }
    for (mark, name) in [("101", "101"), ("-1", "-1"), ("70.5", "70.5")] {
        add(format!("a pass mark of {name}"), edit(&starter, "cautions =", &format!("pass_mark = {mark}\ncautions =")));
    }
    for edition in ["March 2026", "2026-3-1", "26-03-01", "2026-03"] {
        add(
            format!("an edition {edition:?}"),
            edit(&facial, "edition = \"2026-03-01\"", &format!("edition = \"{edition}\"")),
        );
    }
    add("two directly after one".into(), edit(&facial, "after = [\"steam-towel\"]", "directly_after = \"test-towel\""));
    add("a callout that ends the section".into(), edit(&facial, "\"toner\", ", "\"stepping back\", "));
    add("a callout that is a command".into(), edit(&facial, "\"toner\", ", "\"Pause!\", "));
    add("a finish signal that stops everything".into(), edit(&facial, "finish = [", "finish = [\"emergency\", "));
    for say in ["stepping back", "dropped item"] {
        add(format!("a named callout {say:?}"), format!("{facial}\n[[callout]]\nid = \"x\"\nsay = [\"{say}\"]\n"));
    }
    for (first, then) in [("hands", "close-kit"), ("lay-out", "close-kit")] {
        let pair = |t1: &str, t2: &str| {
            format!(
                "{starter}\n[[rule]]\nid = \"one\"\ntemplate = \"{t1}\"\nfirst = \"{first}\"\nthen = \"{then}\"\nseverity = \"fault\"\nmessage = \"m\"\n\n[[rule]]\nid = \"fine\"\ntemplate = \"existence\"\nfirst = \"hands\"\nseverity = \"fault\"\nmessage = \"m\"\n\n[[rule]]\nid = \"two\"\ntemplate = \"{t2}\"\nfirst = \"{first}\"\nthen = \"{then}\"\nseverity = \"fault\"\nmessage = \"m\"\n"
            )
        };
        add(format!("contradiction: response and not succession, {first} {then}"), pair("response", "not_succession"));
        add(format!("contradiction: not co-existence, {first} {then}"), pair("not_co_existence", "choice"));
        add(
            format!("contradiction: responded existence and exclusive choice, {first} {then}"),
            pair("responded_existence", "exclusive_choice"),
        );
    }
    let two = |t1: &str, t2: &str, rest: &str| {
        let rule = |id: &str, body: &str| {
            format!("\n[[rule]]\nid = \"{id}\"\n{body}\nseverity = \"fault\"\nmessage = \"m\"\n")
        };
        let extra = |t: &str| format!("template = \"{t}\"\nfirst = \"extra\"");
        let event = "\n[[callout]]\nid = \"extra\"\nsay = [\"extra\"]\n";
        let fine = "template = \"absence\"\nfirst = \"any\"\ncount = 99";
        format!("{starter}{event}{}{}{}{rest}", rule("one", &extra(t1)), rule("fine", fine), rule("two", &extra(t2)))
    };
    add("contradiction of two: absence and existence".into(), two("absence", "existence", ""));
    add("contradiction of two: absence and end".into(), two("absence", "end", ""));
    add("a pair that protects nothing".into(), edit(&facial, "then = [\"steam-towel\"]", "then = [\"test-towel\"]"));
    add(
        "a pair that protects from itself".into(),
        edit(
            &back,
            "first = \"wash-first\"\nthen = [\"undrape\", \"effleurage\", \"petrissage\", \"friction\", \"tapotement\"]",
            "first = \"undrape\"\nthen = [\"sides\"]",
        ),
    );
    add(
        "a pair without a consequence".into(),
        edit(&facial, "consequence = \"A face can burn. Test, then apply: drill that pair.\"", "consequence = \" \""),
    );
    add(
        "a pair against the order".into(),
        edit(&facial, "first = \"test-towel\"\nthen = [\"steam-towel\"]", "first = \"mask\"\nthen = [\"steam-towel\"]"),
    );
    add(
        "no room directly after".into(),
        edit(&starter, "after = [\"lay-out\"]", "directly_after = \"hands\"\nafter = [\"lay-out\"]"),
    );
    let many: String = (0..201)
        .map(|k| format!("[[rule]]\nid = \"r{k}\"\ntemplate = \"absence\"\nfirst = \"any\"\ncount = 99\nseverity = \"fault\"\nmessage = \"m\"\n"))
        .collect();
    add("too many rules".into(), format!("{starter}\n{many}"));
    cases
}

/// Hand hygiene may be called more often than the order has it, so a rule may ask for it once more.
#[test]
fn the_starters_own_rule_can_be_kept() {
    let starter = stepbell::command::new::STARTER;
    let from = starter.find("# [[rule]]").unwrap();
    let (before, after) = starter.split_at(from);
    let rule: Vec<&str> = after.lines().take_while(|l| l.starts_with("# ")).collect();
    let text = format!("{before}{}\n", rule.iter().map(|l| &l[2..]).collect::<Vec<_>>().join("\n"));
    let (section, problems) = authoring::read(&text);
    assert_eq!(problems, []);
    assert_eq!(section.unwrap().rules.len(), 1);
    // What is no hygiene step can't be called once more.
    let (section, problems) = authoring::read(&text.replace("then = \"hands\"", "then = \"lay-out\""));
    assert!(section.is_none() && problems[0].code == "S041", "{problems:?}");
}

#[test]
fn broken_files_get_the_messages_that_people_have_read() {
    let mut golden = String::new();
    let mut codes = BTreeSet::new();
    let (mut broken, mut fine) = (0, vec![]);
    for (name, text) in cases() {
        let (section, problems) = authoring::read(&text);
        let errors = problems.iter().filter(|p| p.level == Level::Error).count();
        assert_eq!(section.is_none(), errors > 0, "{name}: a section just where there is no error");
        if problems.is_empty() {
            fine.push(name);
            continue;
        }
        broken += 1;
        codes.extend(problems.iter().map(|p| p.code));
        // A megabyte of source has no place in the golden file.
        let shown = if text.len() > MAX_TEXT { "" } else { text.as_str() };
        golden += &format!("=== {name}\n{}\n", drawn("section.toml", shown, &problems));
    }
    // A key that may be left out may be left out: nothing else may go by without a word.
    let lawful = |n: &String| n.starts_with("missing or without it: ");
    assert_eq!(fine.iter().filter(|n| !lawful(n)).collect::<Vec<_>>(), Vec::<&String>::new());
    // Needs the model, or is a warning about something that is not broken.
    let elsewhere = ["S014", "S040", "S042", "S054", "S070", "S071", "S072", "S073"];
    let missing: Vec<&str> =
        CODES.iter().map(|c| c.0).filter(|c| !codes.contains(c) && !elsewhere.contains(c)).collect();
    assert_eq!(missing, Vec::<&str>::new(), "every code has a file that gets it");
    assert!(codes.iter().all(|c| CODES.iter().any(|(code, ..)| code == c)), "every code is explained: {codes:?}");
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        fs::write(GOLDEN, &golden).unwrap();
    }
    let expected = fs::read_to_string(GOLDEN).unwrap_or_default();
    let same = golden == expected;
    if !same {
        let differs = golden.lines().zip(expected.lines()).find(|(a, b)| a != b);
        println!("first difference: {differs:?}");
    }
    figure(
        "broken section files with their golden messages",
        if same { broken } else { 0 },
        "at least 200",
        same && broken >= 200,
    );
}

/// The schema that editors use takes every shipped file, and refuses a mistyped key as the program does.
#[test]
fn the_schema_takes_what_the_program_takes() {
    let schema = serde_json::from_str(authoring::SCHEMA).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    for (name, _) in SHIPPED {
        let text = fs::read_to_string(format!("prompts/{name}.toml")).unwrap();
        let value: serde_json::Value = toml::from_str(&text).unwrap();
        assert!(
            validator.is_valid(&value),
            "{name}: {:?}",
            validator.iter_errors(&value).next().map(|e| e.to_string())
        );
    }
    for (name, text) in cases().iter().filter(|(n, _)| n.starts_with("mistyped: ")) {
        let value: serde_json::Value = toml::from_str(text).unwrap();
        assert!(!validator.is_valid(&value), "{name}");
    }
    let starter: serde_json::Value = toml::from_str(stepbell::command::new::STARTER).unwrap();
    assert!(validator.is_valid(&starter));
    assert_eq!(authoring::read(stepbell::command::new::STARTER).1, []);
}
