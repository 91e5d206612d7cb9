//! The archive of many runs: what goes in, what never does, what is appended, and what comes out again.

use crate::weeks::Shelf;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use stepbell::history::{archive_schema, tables, texts};

/// A folder in which the program is run.
struct Desk(tempfile::TempDir);

impl Desk {
    /// Two people with four runs each, of which one was stopped, and one with a run that is still open. Nobody was asked yet.
    fn new() -> Desk {
        let desk = Desk(tempfile::tempdir().unwrap());
        for (name, first) in [("ann", 1), ("bea", 11)] {
            let shelf = Shelf::in_folder(&desk.at(&format!("people/{name}")));
            shelf.run(first, 1, &["tidy the table"], true);
            shelf.run(first + 1, 1, &["sanitize hands"], true);
            shelf.run(first + 2, 1, &[], true);
            shelf.run(first + 3, 1, &["polish off"], false);
        }
        let open = Shelf::in_folder(&desk.at("people/cem")).run(21, 1, &[], true);
        let text = fs::read_to_string(&open).unwrap();
        let lines: Vec<&str> = text.split_inclusive('\n').collect();
        fs::write(&open, lines[..6].concat()).unwrap();
        desk
    }

    fn at(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn ask(&self, arguments: &str) -> Output {
        let program = fs::canonicalize(env!("CARGO_BIN_EXE_stepbell")).unwrap();
        let mut command = Command::new(program);
        command.current_dir(self.0.path()).env("STEPBELL_SETTINGS", "").env_remove("STEPBELL_RUNS");
        command.args(arguments.split(' ')).output().unwrap()
    }

    /// What it says where it succeeds.
    fn told(&self, arguments: &str) -> String {
        let output = self.ask(arguments);
        let said = said(&output);
        assert!(output.status.success(), "{arguments}: {said}");
        said
    }

    /// What it says where it fails with this exit code.
    fn refused(&self, arguments: &str, code: i32) -> String {
        let output = self.ask(arguments);
        let said = said(&output);
        assert_eq!(output.status.code(), Some(code), "{arguments}: {said}");
        assert!(said.contains("next:"), "{arguments}: {said}");
        said
    }

    fn agreed(&self) {
        ["ann", "bea", "cem"].iter().for_each(|name| drop(self.told(&format!("consent named --runs people/{name}"))));
    }

    /// Every Parquet file of the archive, with its bytes.
    fn files(&self) -> BTreeMap<PathBuf, Vec<u8>> {
        fn below(folder: &Path, found: &mut BTreeMap<PathBuf, Vec<u8>>) {
            for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
                match entry.path() {
                    path if path.is_dir() => below(&path, found),
                    path if path.extension().is_some_and(|x| x == "parquet") => {
                        found.insert(path.clone(), fs::read(path).unwrap());
                    }
                    _ => {}
                }
            }
        }
        let mut found = BTreeMap::new();
        below(&self.at("archive"), &mut found);
        found
    }

    /// The texts of one column of one table, sorted.
    fn column(&self, table: &str, column: &str) -> Vec<String> {
        let files = self.files().into_keys().filter(|p| p.starts_with(self.at("archive").join(table)));
        let read = |path: PathBuf| texts(fs::File::open(path).unwrap(), column).unwrap();
        let mut found: Vec<String> =
            files.flat_map(read).map(|text| String::from_utf8(text.data().to_vec()).unwrap()).collect();
        found.sort();
        found
    }
}

fn said(output: &Output) -> String {
    format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr))
}

#[test]
fn the_tables_are_as_they_were() {
    let mut settings = insta::Settings::clone_current();
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    settings.bind(|| insta::assert_snapshot!("archive_schema", archive_schema()));
    let mut names: Vec<_> = tables().iter().flat_map(|t| t.columns.iter().map(move |c| (t.name, c.name))).collect();
    let all = names.len();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), all, "a column is there twice");
}

#[test]
fn what_would_go_in_is_shown_and_nothing_is_written() {
    let desk = Desk::new();
    desk.told("consent named --runs people/ann");
    desk.told("consent nameless --runs people/bea");
    let before: BTreeSet<_> = fs::read_dir(desk.0.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    let shown = desk.told("archive people --school north");
    let alias = fs::read_to_string(desk.at("people/bea/consent.toml")).unwrap();
    let alias = alias.split("alias = \"").nth(1).unwrap().split('"').next().unwrap().to_string();
    assert!(alias.starts_with("learner-") && alias.len() == 20, "{alias}");
    for part in ["ann ", &alias, "cem: was not asked", "used_ms", "sentence", "person: ann", "nothing was written"] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    let after: BTreeSet<_> = fs::read_dir(desk.0.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(before, after);
    assert!(!desk.at("people/ann/.archived").exists());
}

#[test]
fn who_has_not_agreed_is_left_out_and_no_name_is_told_without_leave() {
    let desk = Desk::new();
    let none = desk.told("archive people --yes");
    assert!(none.contains("archive: 0 runs of 0 people") && none.contains("ann: was not asked"), "{none}");
    assert!(desk.files().is_empty());
    desk.told("consent nameless --runs people/ann");
    desk.told("consent none --runs people/bea");
    let some = desk.told("archive people --yes");
    assert!(some.contains("archive: 4 runs of 1 person") && some.contains("bea: shares nothing"), "{some}");
    let people: BTreeSet<String> = desk.column("runs", "person").into_iter().collect();
    assert!(people.len() == 1 && people.iter().all(|p| p.starts_with("learner-")), "{people:?}");
    // Nobody's name stands anywhere in it, not even in what Parquet notes of a column.
    let holds = |bytes: &[u8], name: &[u8]| bytes.windows(name.len()).any(|w| w == name);
    assert!(desk.files().values().all(|bytes| !holds(bytes, b"ann") && !holds(bytes, b"bea")));
    // The other agrees under a name, but the school wants none.
    desk.told("consent named --runs people/bea");
    desk.told("archive people --no-names --yes");
    assert!(desk.column("runs", "person").iter().all(|p| p.starts_with("learner-")));
    assert_eq!(desk.column("runs", "person").len(), 8);
}

#[test]
fn it_is_appended_to_and_no_file_of_before_changes() {
    let desk = Desk::new();
    desk.agreed();
    let told = desk.told("archive people --school north --class monday --yes");
    assert!(told.contains("archive: 8 runs of 2 people") && told.contains("1 run still open"), "{told}");
    let first = desk.files();
    assert_eq!(first.len(), 4, "one part of four tables: {:?}", first.keys());
    let path = first.keys().find(|p| p.starts_with(desk.at("archive/runs"))).unwrap();
    let place = path.parent().unwrap().strip_prefix(desk.at("archive/runs")).unwrap();
    assert_eq!(place, Path::new("school=north/section=table/month=2026-04"));
    let ids = desk.column("runs", "run");
    assert!(ids.iter().all(|id| id.len() == 32 && id.bytes().all(|b| b.is_ascii_hexdigit())), "{ids:?}");
    let again = desk.told("archive people --school north --class monday --yes");
    assert!(again.contains("archive: 0 runs of 0 people, archive; 8 runs there before"), "{again}");
    assert_eq!(desk.files(), first);
    Shelf::in_folder(&desk.at("people/ann")).run(30, 1, &[], true);
    desk.told("archive people --school north --class monday --yes");
    let second = desk.files();
    assert_eq!(second.len(), 8);
    assert!(first.iter().all(|(path, bytes)| second.get(path) == Some(bytes)), "a file of before changed");
    // Ids are of the run, not of its file's name or place; the same run is there once.
    fs::create_dir(desk.at("copies")).unwrap();
    fs::copy(desk.at("people/ann/2026-04-01T10-00-00Z-table.journal"), desk.at("copies/other.journal")).unwrap();
    let copy = desk.told("archive copies --yes");
    assert!(copy.contains("archive: 0 runs of 0 people, archive; 1 run there before"), "{copy}");
    assert!(ids.iter().all(|id| desk.column("runs", "run").contains(id)));
}

#[test]
fn a_run_forgotten_is_in_no_file() {
    let desk = Desk::new();
    desk.agreed();
    desk.told("archive people --yes");
    Shelf::in_folder(&desk.at("people/ann")).run(30, 1, &[], true);
    desk.told("archive people --yes");
    let all = desk.column("runs", "run");
    let steps = desk.column("steps", "run").len();
    let notes = fs::read_to_string(desk.at("people/ann/.archived")).unwrap();
    let id =
        |journal: &str| notes.lines().find(|l| l.contains(journal)).unwrap().split('\t').next().unwrap().to_string();
    let (one, alone) = (id("2026-04-02"), id("2026-04-30"));
    // A damaged one is forgotten as well: what was noted of it is enough.
    let damaged = desk.at("people/ann/2026-04-02T10-00-00Z-table.journal");
    let text = fs::read_to_string(&damaged).unwrap();
    fs::write(&damaged, text.replacen("\"section\"", "\"sektion\"", 1)).unwrap();
    let told = desk.told("forget 2026-04-02T10-00-00Z-table 2026-04-30T10-00-00Z-table --runs people/ann");
    assert!(told.contains("removed from the archive") && told.contains("2 runs"), "{told}");
    for table in tables() {
        let left = desk.column(table.name, "run");
        assert!(!left.contains(&one) && !left.contains(&alone), "{}", table.name);
    }
    let holds = |bytes: &[u8], id: &str| bytes.windows(id.len()).any(|w| w == id.as_bytes());
    assert!(desk.files().values().all(|bytes| !holds(bytes, &one) && !holds(bytes, &alone)));
    // The file that held one of them alone is gone; all else is there.
    let expected: Vec<String> = all.into_iter().filter(|id| *id != one && *id != alone).collect();
    assert_eq!(desk.column("runs", "run"), expected);
    assert_eq!(desk.column("steps", "run").len(), steps - 8);
    assert_eq!(desk.files().len(), 4);
    assert_eq!(desk.column("steps", "title").len(), steps - 8, "every column lost the same rows");
    desk.told("forget --all --yes --runs people/ann");
    assert_eq!(desk.column("runs", "run").len(), 4);
    assert!(!desk.at("people/ann/.archived").exists());
}

#[test]
fn a_learner_leaves_and_stays_out() {
    let desk = Desk::new();
    desk.agreed();
    desk.told("archive people --yes");
    let told = desk.told("consent none --runs people/ann");
    assert!(told.contains("removed from the archive") && told.contains("4 runs"), "{told}");
    assert_eq!(desk.column("runs", "person"), ["bea"; 4]);
    assert_eq!(
        fs::read_dir(desk.at("people/ann"))
            .unwrap()
            .filter(|e| { e.as_ref().unwrap().path().extension().is_some_and(|x| x == "journal") })
            .count(),
        4,
        "her own runs are hers"
    );
    desk.told("archive people --yes");
    assert_eq!(desk.column("runs", "person"), ["bea"; 4]);
    // She comes back: the files that are there stay as they are.
    let before = desk.files();
    desk.told("consent named --runs people/ann");
    desk.told("archive people --yes");
    let after = desk.files();
    assert!(before.iter().all(|(path, bytes)| after.get(path) == Some(bytes)));
    assert_eq!(desk.column("runs", "person"), ["ann", "ann", "ann", "ann", "bea", "bea", "bea", "bea"]);
    // The other leaves at the school's desk.
    desk.refused("forget --archive archive --person nobody", 4);
    desk.refused("forget --archive archive", 2);
    desk.told("forget --archive archive --person bea");
    assert_eq!(desk.column("runs", "person"), ["ann"; 4]);
}

#[test]
fn what_can_not_be_forgotten_everywhere_is_not_forgotten_in_silence() {
    let desk = Desk::new();
    desk.agreed();
    desk.told("archive people --yes");
    fs::rename(desk.at("archive"), desk.at("elsewhere")).unwrap();
    let run = "2026-04-01T10-00-00Z-table";
    let told = desk.refused(&format!("forget {run} --runs people/ann"), 4);
    assert!(told.contains("nothing was deleted") && told.contains("--without-archives"), "{told}");
    assert!(desk.at(&format!("people/ann/{run}.journal")).exists());
    let told = desk.told(&format!("forget {run} --without-archives --runs people/ann"));
    let id = told.split("still holds 1 run: ").nth(1).unwrap().split_whitespace().next().unwrap().to_string();
    assert!(!desk.at(&format!("people/ann/{run}.journal")).exists());
    desk.told(&format!("forget --archive elsewhere --run-id {id}"));
    fs::rename(desk.at("elsewhere"), desk.at("archive")).unwrap();
    assert_eq!(desk.column("runs", "run").len(), 7);
    assert!(!desk.column("steps", "run").contains(&id));
}

#[test]
fn what_is_wrong_is_told_and_nothing_is_lost() {
    let desk = Desk::new();
    desk.agreed();
    let told = desk.refused("archive people --school a/b --yes", 2);
    assert!(told.contains("--school \"a/b\""), "{told}");
    desk.refused("archive nowhere", 4);
    fs::create_dir(desk.at("empty")).unwrap();
    assert!(desk.refused("archive empty --yes", 4).contains("no runs here"));
    fs::write(desk.at("people/ann/2026-04-01T10-00-00Z-table.journal"), "no journal\n").unwrap();
    fs::write(desk.at("people/bea/consent.toml"), "share = \"everything\"\n").unwrap();
    assert!(desk.refused("archive people --yes", 1).contains("bea/consent.toml"));
    desk.told("consent named --runs people/bea");
    let told = desk.told("archive people --yes");
    assert!(told.contains("left out:") && told.contains("archive: 7 runs of 2 people"), "{told}");
    // Parts of a write that was cut off are no runs, and go.
    let orphan = desk.at("archive/steps/school=own/section=table/month=2026-03/part-00112233aabbccdd.parquet");
    fs::create_dir_all(orphan.parent().unwrap()).unwrap();
    fs::write(&orphan, "PAR1").unwrap();
    desk.told("archive people --yes");
    assert!(!orphan.exists());
    // A file that is none of ours stays, wherever it lies.
    let foreign = desk.at("archive/steps/school=own/notes.parquet");
    fs::write(&foreign, "mine").unwrap();
    desk.told("archive people --yes");
    assert!(foreign.exists());
    let part = desk.files().into_keys().find(|p| p.starts_with(desk.at("archive/runs"))).unwrap();
    let bytes = fs::read(&part).unwrap();
    fs::write(&part, &bytes[..bytes.len() / 2]).unwrap();
    let run = "2026-04-02T10-00-00Z-table";
    let told = desk.refused(&format!("forget {run} --runs people/ann"), 4);
    assert!(told.contains("damaged") && desk.at(&format!("people/ann/{run}.journal")).exists(), "{told}");
    fs::write(&part, bytes).unwrap();
    fs::write(desk.at("archive/schema.json"), "{\"stepbell_archive\": 99}").unwrap();
    for arguments in ["archive people --yes", &format!("forget {run} --runs people/ann")] {
        assert!(desk.refused(arguments, 4).contains("version 99"));
    }
}

/// Outside reference: DuckDB (PyPI duckdb 1.5.6) reads the tables, and counts in them what `history` counts.
#[test]
fn duckdb_counts_what_history_counts() {
    let desk = Desk::new();
    Shelf::in_folder(&desk.at("people/dan")).nine();
    desk.told("archive people/dan --yes");
    let output = Command::new("models/fetched/python/bin/python")
        .args(["tests/reference/archive.py", desk.at("archive").to_str().unwrap(), "table", "10"])
        .output()
        .expect("`bash models/setup.sh test` installs the reference");
    assert!(output.status.success(), "{}", said(&output));
    let theirs: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let ours = desk.told("history --json --compress 10 --runs people/dan");
    let ours: serde_json::Value = serde_json::from_str(&ours).unwrap();
    assert_eq!(theirs["runs"], ours["runs"], "{theirs} {ours}");
    assert_eq!(theirs["types"]["started"], "TIMESTAMP WITH TIME ZONE");
    let (steps, by_step) = (ours["steps"].as_array().unwrap(), theirs["steps"].as_array().unwrap());
    assert_eq!((steps.len(), by_step.len()), (4, 4));
    for (ours, theirs) in steps.iter().zip(by_step) {
        assert_eq!((&theirs[0], &theirs[1]), (&ours["id"], &ours["left_out"]), "{ours}");
    }
}
