//! `forget` deletes runs, and nothing that is none.

use std::collections::BTreeSet;
use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;
use std::process::{Command, Output};

fn forget(folder: &Path, arguments: &[&str]) -> Output {
    let program = fs::canonicalize(env!("CARGO_BIN_EXE_stepbell")).unwrap();
    let mut command = Command::new(program);
    command.current_dir(folder).env("STEPBELL_RUNS", "runs").arg("forget").args(arguments);
    command.output().unwrap()
}

fn names(folder: &Path) -> BTreeSet<String> {
    fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect()
}

/// A folder with `runs` in it and these files, empty ones where no run is meant.
fn place(files: &[&str]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("runs")).unwrap();
    for file in files {
        let path = folder.path().join(file);
        if file.ends_with(".journal") {
            fs::copy("tests/data/journals/v2.journal", path).unwrap();
        } else {
            fs::write(path, "mine").unwrap();
        }
    }
    folder
}

fn told(output: &Output) -> String {
    format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr))
}

#[test]
fn what_is_no_run_is_refused_and_stays() {
    let folder = place(&["Cargo.toml", "Cargo.lock", "thesis.md", "thesis.bib", "x.journal", "runs/run.journal"]);
    fs::write(folder.path().join("runs/ledger.journal"), "2026-11-28 rent  400\n").unwrap();
    fs::write(folder.path().join("runs/run.html"), "page").unwrap();
    symlink(folder.path().join("x.journal"), folder.path().join("runs/link.journal")).unwrap();
    let all = (names(folder.path()), names(&folder.path().join("runs")));
    let absolute = folder.path().join("x.journal");
    for name in [
        "Cargo.toml",
        "thesis.md",
        "thesis",
        "../x",
        "../x.journal",
        "x.journal",
        "./x.journal",
        absolute.to_str().unwrap(),
        "runs/run.html",
        "run.html",
        "ledger",
        "link",
        "runs/../../x",
        "..",
        "",
    ] {
        // Not even together with one that is a run.
        for named in [vec![name], vec!["run", name]] {
            let output = forget(folder.path(), &named);
            assert_eq!(output.status.code(), Some(4), "{named:?}: {}", told(&output));
            assert!(told(&output).contains("next:"), "{named:?}: {}", told(&output));
            assert_eq!((names(folder.path()), names(&folder.path().join("runs"))), all, "{named:?}");
        }
    }
}

#[test]
fn a_run_goes_with_all_it_left_and_nothing_of_its_neighbours() {
    let folder = place(&["notes", "notes.txt", "notes.html"]);
    let runs = folder.path().join("runs");
    let of_the_run = [
        "notes.journal",
        "notes.html",
        "notes.vtt",
        "notes.wav",
        "notes.journal.torn-1234",
        "notes.html.part",
        ".notes.html.0aZ9bcdefghi.part",
        ".index",
    ];
    let others = [
        "notes.b.journal",
        "notes.b.html",
        "notes.md",
        "notes.html.bak",
        "notes.journal.torn-",
        "notes.journal.torn-12x",
        ".notes.html.short.part",
        "notes2.journal",
        "profile.toml",
    ];
    for name in of_the_run.iter().chain(&others) {
        fs::write(runs.join(name), "mine").unwrap();
    }
    fs::copy("tests/data/journals/v2.journal", runs.join("notes.journal")).unwrap();
    fs::remove_file(runs.join("notes.vtt")).unwrap();
    symlink(folder.path().join("notes.txt"), runs.join("notes.vtt")).unwrap();
    let outside = names(folder.path());
    let output = forget(folder.path(), &["notes"]);
    assert!(output.status.success(), "{}", told(&output));
    assert!(told(&output).contains("1 run forgotten"));
    assert_eq!(names(&runs), others.iter().map(ToString::to_string).collect());
    assert_eq!(names(folder.path()), outside);
    assert_eq!(fs::read_to_string(folder.path().join("notes.txt")).unwrap(), "mine");
}

#[test]
fn all_runs_go_though_strangers_lie_among_them() {
    let folder = place(&["runs/a.journal", "runs/b.journal", "runs/damaged.journal"]);
    let runs = folder.path().join("runs");
    fs::create_dir(runs.join("0.journal")).unwrap();
    fs::write(runs.join("ledger.journal"), "2026-11-28 rent  400\n").unwrap();
    fs::write(runs.join("cut.journal"), "").unwrap();
    fs::write(runs.join("2026-11-28T10-00-00.123-basic_facial.journal"), [0; 100]).unwrap();
    let mut bytes = fs::read(runs.join("damaged.journal")).unwrap();
    bytes[2000] ^= 1;
    fs::write(runs.join("damaged.journal"), bytes).unwrap();
    let output = forget(folder.path(), &["--all", "--yes"]);
    assert!(output.status.success(), "{}", told(&output));
    assert!(told(&output).contains("5 runs forgotten"), "{}", told(&output));
    assert!(told(&output).contains("0.journal stays: it is a folder"), "{}", told(&output));
    assert_eq!(names(&runs), ["0.journal", "ledger.journal"].map(String::from).into());
}

#[test]
fn a_run_that_is_going_on_stays_whole() {
    let folder = place(&["runs/on.journal", "runs/on.html", "runs/over.journal"]);
    let runs = folder.path().join("runs");
    let held = stepbell::journal::hold(&runs.join("on.journal")).unwrap();
    for named in [&["on"][..], &["runs/on.journal"], &["over", "on"]] {
        let output = forget(folder.path(), named);
        assert_eq!(output.status.code(), Some(4));
        assert!(told(&output).contains("another Stepbell is writing this run"), "{}", told(&output));
        assert_eq!(names(&runs).len(), 3, "{named:?}");
    }
    // Of all runs the others go, and that one stayed is no success.
    let output = forget(folder.path(), &["--all", "--yes"]);
    assert_eq!(output.status.code(), Some(4));
    assert!(told(&output).contains("1 run forgotten") && told(&output).contains("on.journal: another"));
    assert_eq!(names(&runs), ["on.html", "on.journal"].map(String::from).into());
    drop(held);
    assert!(forget(folder.path(), &["runs/on.journal"]).status.success());
    assert!(names(&runs).is_empty());
}

#[test]
fn a_profile_is_deleted_only_where_it_is_one() {
    let folder = place(&[]);
    let path = folder.path().join("runs/profile.toml");
    fs::write(&path, "[profile.release]\ndebug = true\n").unwrap();
    assert_eq!(forget(folder.path(), &["--profile"]).status.code(), Some(4));
    assert!(path.exists());
    fs::write(&path, "version = 7\nmodel = \"of a later program\"\n").unwrap();
    let output = forget(folder.path(), &["--profile"]);
    assert!(output.status.success() && !told(&output).contains("0 runs"), "{}", told(&output));
    assert!(!path.exists());
}

/// More runs than files that may be open at once.
#[test]
fn runs_are_forgotten_one_after_the_other() {
    let names: Vec<String> = (0..60).map(|k| format!("runs/{k}.journal")).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let few = |folder: &Path, arguments: &str| {
        let limited = format!("ulimit -n 40; exec \"$0\" forget {arguments}");
        let program = fs::canonicalize(env!("CARGO_BIN_EXE_stepbell")).unwrap();
        let mut command = Command::new("bash");
        command.current_dir(folder).env("STEPBELL_RUNS", "runs").args(["-c", &limited]).arg(program);
        command.output().unwrap()
    };
    for arguments in ["--all --yes", "runs/*.journal"] {
        let folder = place(&names);
        let output = few(folder.path(), arguments);
        assert!(output.status.success(), "{arguments}: {}", told(&output));
        assert!(told(&output).contains("60 runs forgotten"), "{arguments}: {}", told(&output));
        assert!(self::names(&folder.path().join("runs")).is_empty(), "{arguments}");
    }
}

/// What can't be opened may well be a run: that it stays is no success. Root may open everything, so it gives its rights away.
#[test]
fn a_run_that_cant_be_opened_is_a_failure() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    let folder = place(&["runs/a.journal", "runs/b.journal"]);
    for name in ["a", "b"] {
        let path = folder.path().join(format!("runs/{name}.journal"));
        fs::set_permissions(path, fs::Permissions::from_mode(0o000)).unwrap();
    }
    let program = fs::canonicalize(env!("CARGO_BIN_EXE_stepbell")).unwrap();
    let root = fs::metadata(folder.path()).unwrap().uid() == 0;
    let begun: &Path = if root { Path::new("setpriv") } else { &program };
    let mut command = Command::new(begun);
    if root {
        command.args(["--bounding-set=-all", "--inh-caps=-all", "--"]).arg(&program);
    }
    command.current_dir(folder.path()).env("STEPBELL_RUNS", "runs").args(["forget", "--all", "--yes"]);
    let output = command.output().unwrap();
    assert_eq!(output.status.code(), Some(4), "{}", told(&output));
    assert!(
        told(&output).contains("0 runs forgotten") && told(&output).contains("Permission denied"),
        "{}",
        told(&output)
    );
    assert!(told(&output).contains("2 runs can't be forgotten now"), "{}", told(&output));
    assert_eq!(names(&folder.path().join("runs")).len(), 2);
}
