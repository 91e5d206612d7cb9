//! The help: every verb has its place and its examples, and shells and `man` take what is made of it.

use crate::kill::stepbell;
use std::process::Command;
use stepbell::command::help::{EXAMPLES, GROUPS};

fn shown(arguments: &[&str]) -> String {
    let output = stepbell(arguments);
    assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

fn has(program: &str) -> bool {
    Command::new("sh").args(["-c", &format!("command -v {program}")]).output().is_ok_and(|o| o.status.success())
}

#[test]
fn every_verb_has_its_group_and_its_examples() {
    let grouped: Vec<&str> = GROUPS.iter().flat_map(|(_, verbs)| verbs.iter().copied()).collect();
    let with: Vec<&str> = EXAMPLES.iter().map(|(verb, _)| *verb).collect();
    // The completions know every verb, those that help leaves out too.
    let fish = shown(&["completions", "fish"]);
    let verbs = fish
        .lines()
        .filter(|l| l.contains("__fish_stepbell_needs_command") && l.contains(" -a \"") && !l.contains(" -l "));
    let verbs: Vec<&str> = verbs.filter_map(|l| l.split(" -a \"").nth(1)?.split('"').next()).collect();
    assert!(verbs.len() > 20, "{fish}");
    for verb in verbs.iter().filter(|v| !["help", "probe-model"].contains(v)) {
        assert!(grouped.contains(verb) && with.contains(verb), "{verb} has no group or no example");
    }
    let help = shown(&["--help"]);
    for verb in grouped {
        assert!(verbs.contains(&verb) && help.contains(&format!("\n  {verb} ")), "{verb}: {help}");
    }
    for (title, _) in GROUPS {
        assert!(help.contains(&format!("\n{title}:\n")), "{help}");
    }
}

#[test]
fn every_example_is_understood() {
    for (verb, examples) in EXAMPLES {
        let (long, short) = (shown(&[verb, "--help"]), shown(&[verb, "-h"]));
        for (example, _) in examples {
            assert!(long.contains(&format!("stepbell {example}\n")), "{long}");
            // Help is given only where all that stands before it is understood.
            let arguments: Vec<&str> = example.split(' ').chain(["--help"]).collect();
            assert!(shown(&arguments).contains("Usage:"), "{example}");
        }
        assert!(!short.contains("Examples:") && short.len() < long.len(), "{verb}: -h is the short one");
    }
}

#[test]
fn a_shell_is_known_however_its_name_is_written() {
    assert_eq!(shown(&["completions", "PowerShell"]), shown(&["completions", "powershell"]));
}

#[test]
fn shells_and_man_take_what_is_made() {
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str| folder.path().join(name).to_str().unwrap().to_string();
    for (shell, script) in [
        ("bash", "source FILE; complete -p stepbell"),
        ("zsh", "autoload -U compinit; compinit -u -D; source FILE; [[ -n ${_comps[stepbell]} ]]"),
    ] {
        std::fs::write(place(shell), shown(&["completions", shell])).unwrap();
        if has(shell) {
            let took = Command::new(shell).args(["-c", &script.replace("FILE", &place(shell))]).output().unwrap();
            assert!(took.status.success(), "{shell}: {}", String::from_utf8_lossy(&took.stderr));
        }
    }
    assert!(shown(&["completions", "powershell"]).contains("Register-ArgumentCompleter"));
    let page = shown(&["manual"]);
    assert!(page.contains(".SH SYNOPSIS") && page.contains("Exit codes"), "{page}");
    shown(&["manual", "--to", &place("man")]);
    let pages: Vec<_> = std::fs::read_dir(place("man")).unwrap().map(|e| e.unwrap().path()).collect();
    assert!(pages.len() > 20 && pages.iter().any(|p| p.ends_with("stepbell-rehearse.1")), "{pages:?}");
    if has("groff") {
        for page in &pages {
            let set = Command::new("groff").args(["-man", "-Tutf8", "-ww"]).arg(page).output().unwrap();
            assert!(
                set.status.success() && set.stderr.is_empty(),
                "{page:?}: {}",
                String::from_utf8_lossy(&set.stderr)
            );
        }
    }
}

#[test]
fn a_section_goes_by_its_name() {
    let list = shown(&["sections"]);
    for (name, _) in crate::section::SHIPPED {
        let name = name.rsplit('/').next().unwrap();
        assert!(list.lines().any(|l| l.starts_with(&format!("{name} "))), "{name}: {list}");
        assert!(shown(&["check", name]).contains("usable"), "{name}");
    }
    let words = |line: &str| line.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(list.lines().any(|l| words(l).starts_with("basic-facial 25:00 skin care ")), "{list}");
    assert_eq!(shown(&["show", "basic-facial"]), shown(&["show", "prompts/skin-care/basic-facial.toml"]));
    assert!(shown(&["check", "mock-exam"]).contains("a mock exam of 6 sections"));
    // A file here goes first; a mistyped name gets the near one.
    let folder = tempfile::tempdir().unwrap();
    let here = |arguments: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_stepbell"));
        let output = command.args(arguments).current_dir(&folder).output().unwrap();
        (output.status.code(), String::from_utf8(output.stderr).unwrap())
    };
    let (code, said) = here(&["show", "basic-facal"]);
    assert!(code == Some(1) && said.contains("did you mean basic-facial?"), "{said}");
    assert_eq!(here(&["show", "basic-facial"]).0, Some(0), "from another folder, too");
    std::fs::write(folder.path().join("basic-facial"), "broken").unwrap();
    let (code, said) = here(&["show", "basic-facial"]);
    assert!(code == Some(1) && said.contains("S022"), "{said}");
}
