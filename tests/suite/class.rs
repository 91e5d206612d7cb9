//! The page of a class and its gradebook: who stands first, where links lead, whose names are told.

use crate::weeks::Shelf;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// A class of three: ann leaves out a critical step in most runs, bea is well, cem has run twice.
fn class() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let shelf = |name: &str| Shelf::in_folder(&folder.path().join("people").join(name));
    for day in 1..=8 {
        shelf("ann").run(day, 1, if day % 3 > 0 { &["sanitize hands"] } else { &[] }, true);
        shelf("bea b").run(day, 1, if day == 1 { &["tidy the table"] } else { &[] }, true);
    }
    shelf("cem").run(1, 1, &[], true);
    shelf("cem").run(2, 1, &[], true);
    folder
}

fn told(folder: &Path, arguments: &str) -> String {
    let program = fs::canonicalize(env!("CARGO_BIN_EXE_stepbell")).unwrap();
    let output = Command::new(program)
        .current_dir(folder)
        .env("STEPBELL_SETTINGS", "")
        .args(arguments.split(' '))
        .output()
        .unwrap();
    let said = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert!(output.status.success(), "{arguments}: {said}");
    said
}

/// What an attribute holds, in order.
fn links(page: &str) -> Vec<String> {
    page.split("<a href=\"").skip(1).map(|part| part.split('"').next().unwrap().replace("%20", " ")).collect()
}

#[test]
fn who_needs_help_stands_first_and_each_number_leads_to_its_run() {
    let folder = class();
    fs::create_dir(folder.path().join("out")).unwrap();
    told(folder.path(), "class people --out out/class.html");
    let page = fs::read_to_string(folder.path().join("out/class.html")).unwrap();
    let rows: Vec<usize> =
        ["ann, last run", "bea b, last run", "cem, last run"].map(|row| page.find(row).expect(row)).to_vec();
    assert!(rows.is_sorted(), "{rows:?}: {page}");
    assert!(page.contains("too few runs to say"));
    // Ann's critical findings are counted, and come first of all that is told of her.
    let critical = |name: &str| -> String {
        let row = &page[page.find(&format!("{name}, last run")).unwrap()..];
        row.split("<td").nth(1).unwrap().split('>').nth(1).unwrap().split('<').next().unwrap().into()
    };
    assert_eq!(["ann", "bea b", "cem"].map(critical), ["6 in 6/8", "0", "0"]);
    // Six of eight runs without the hands: the number leads to the last of them, on day 8.
    let cell = page.split("<td>").find(|cell| cell.contains(">6/8<")).unwrap();
    assert!(cell.contains("../people/ann/2026-04-08T10-00-00Z-table.html"), "{cell}");
    assert!(cell.contains("left out in 6 of 8") && !cell.contains("tabindex"), "{cell}");
    let runs: Vec<PathBuf> =
        links(&page).into_iter().filter(|l| !l.starts_with('#')).map(|l| folder.path().join("out").join(l)).collect();
    assert!(runs.len() > 8 && runs.iter().all(|run| run.is_file()), "{runs:?}");
    // What `forget` forgets, pages that the class made among it.
    let made = folder.path().join("people/ann/2026-04-08T10-00-00Z-table.html");
    told(folder.path(), "forget 2026-04-08T10-00-00Z-table --runs people/ann");
    assert!(!made.exists());
}

#[test]
fn a_gradebook_has_a_row_a_person() {
    let folder = class();
    fs::rename(folder.path().join("people/cem"), folder.path().join("people/=cem")).unwrap();
    told(folder.path(), "class people --csv marks.csv");
    let text = fs::read_to_string(folder.path().join("marks.csv")).unwrap();
    assert!(text.ends_with("\r\n"));
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let head: Vec<String> = reader.headers().unwrap().iter().map(str::to_string).collect();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.iter().map(|r| r[0].to_string()).collect::<Vec<_>>(), ["'=cem", "ann", "bea b"]);
    let at = |name: &str| head.iter().position(|h| h.contains(name)).unwrap();
    // In two of ann's eight runs the hands were called.
    assert_eq!(rows[1][at("sanitise hands")].to_string(), "25");
    assert_eq!(rows[1][at("runs")].to_string(), "8");
    assert_eq!(rows[1][at("last_run")].to_string(), "2026-04-08");
    assert_eq!(rows[0][at("chance_pct")].to_string(), "", "two runs are too few");
    let critical = |row: usize| ["critical_findings", "critical_runs"].map(|c| rows[row][at(c)].to_string());
    assert_eq!([critical(1), critical(2)], [["6", "6"], ["0", "0"]]);
}

/// Harm before all else: whoever left out what is critical stands above those who are slow, however few the runs; nobody is told to have
/// done anything in no runs.
#[test]
fn a_critical_finding_in_few_runs_is_not_hidden_below() {
    let folder = class();
    Shelf::in_folder(&folder.path().join("people/dan")).run(1, 1, &["sanitize hands"], true);
    fs::create_dir(folder.path().join("people/eve")).unwrap();
    told(folder.path(), "class people --csv marks.csv");
    let page = fs::read_to_string(folder.path().join("class.html")).unwrap();
    let place = |row: &str| page.find(row).expect(row);
    assert!(place("dan, last run") < place("bea b, last run"), "{page}");
    assert!(page.contains("<th scope=\"row\">eve</th><td>-</td><td>0</td><td>-</td>"), "{page}");
    assert!(page.contains("<th scope=\"row\">eve</th><td></td><td></td>"), "{page}");
    assert!(fs::read_to_string(folder.path().join("marks.csv")).unwrap().contains("\r\neve,0,,,,,"));
}

#[test]
fn no_name_is_told_where_none_is_wanted() {
    let folder = class();
    told(folder.path(), "consent nameless --runs people/ann");
    told(folder.path(), "consent none --runs people/cem");
    let said = told(folder.path(), "class people --no-names --csv marks.csv");
    assert!(said.contains("cem shares nothing, and is left out") && said.contains("class: 2 people"), "{said}");
    let page = fs::read_to_string(folder.path().join("class.html")).unwrap();
    let marks = fs::read_to_string(folder.path().join("marks.csv")).unwrap();
    for name in ["ann", "bea", "cem"] {
        let held = |text: &str| text.split(|c: char| !c.is_alphanumeric()).any(|word| word == name);
        assert!(!held(&page) && !held(&marks), "{name}");
    }
    assert!(page.contains("learner-") && page.contains("person 2") && marks.contains("learner-"));
}
