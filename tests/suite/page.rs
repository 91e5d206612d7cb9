//! A run as a page and as data, with names that try to be something else.

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;
use std::process::Command;

/// A run of the hostile section, and its exports by format.
fn hostile() -> (tempfile::TempDir, PathBuf, BTreeMap<&'static str, String>) {
    let folder = tempfile::tempdir().unwrap();
    let runs = folder.path().join("a/b/runs");
    let stepbell = |arguments: &[&str]| {
        let output = Command::new(env!("CARGO_BIN_EXE_stepbell")).args(arguments).output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    };
    let runs_name = runs.to_str().unwrap();
    let rehearse =
        ["rehearse", "tests/data/hostile.toml", "--mic", "tests/audio/demo.wav", "--headset", "--keep-audio"];
    stepbell(&[&rehearse, ["--runs", runs_name].as_slice()].concat());
    let formats = ["json", "csv", "vtt"].map(|f| (f, stepbell(&["export", "--runs", runs_name, "--format", f])));
    (folder, runs, formats.into_iter().collect())
}

#[test]
fn hostile_names_are_harmless_in_every_output() {
    use std::os::unix::fs::PermissionsExt;
    let (_folder, runs, data) = hostile();
    // Nothing left the folder, and all of it is its owner's alone.
    let files: Vec<PathBuf> = fs::read_dir(&runs).unwrap().map(|e| e.unwrap().path()).collect();
    let kinds: Vec<_> = ["journal", "html", "vtt", "wav"]
        .map(|kind| files.iter().find(|f| f.extension().is_some_and(|e| e == kind)).unwrap())
        .into();
    assert_eq!(files.len(), kinds.len(), "{files:?}");
    assert_eq!(fs::metadata(&runs).unwrap().permissions().mode() & 0o777, 0o700);
    for file in &files {
        assert_eq!(fs::metadata(file).unwrap().permissions().mode() & 0o777, 0o600, "{file:?}");
    }

    let page = fs::read_to_string(kinds[1]).unwrap();
    let lower = page.to_lowercase();
    for tag in ["<script", "<img", "<iframe", "<svg onload", "<a href", "<style>*"] {
        assert!(!lower.contains(tag), "{tag}");
    }
    assert_eq!(lower.matches("<style").count(), 1);
    assert!(page.contains("&lt;script&gt;document.title='TAKEN'&lt;/script&gt;Hostile"));

    // CSV read back by the csv crate, each cell as a spreadsheet would take it.
    let mut reader = csv::ReaderBuilder::new().from_reader(data["csv"].as_bytes());
    assert!(data["csv"].ends_with("\r\n") && !data["csv"].replace("\r\n", "").contains('\r'));
    let (mut cells, mut guarded) = (0, 0);
    for row in reader.records() {
        for cell in &row.unwrap() {
            cells += 1;
            guarded += usize::from(cell.starts_with('\''));
            let formula = cell.trim_start().starts_with(['=', '+', '-', '@', '\t', '\r', '|', '%']);
            assert!(!formula || cell.parse::<f64>().is_ok(), "{cell}");
        }
    }
    assert!(cells > 40 && guarded >= 2, "{cells} {guarded}");

    // JSON after its schema, by the jsonschema crate.
    let json: serde_json::Value = serde_json::from_str(&data["json"]).unwrap();
    let schema: serde_json::Value = serde_json::from_str(stepbell::recap::SCHEMA).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let errors: Vec<String> = validator.iter_errors(&json).map(|e| format!("{} {e}", e.instance_path)).collect();
    assert!(errors.is_empty(), "{errors:?}");
    assert_eq!(json["ending"], "finished");

    // WebVTT: its signature, then blocks of a timing line and one line of text without markup (W3C WebVTT, section 4).
    let blocks: Vec<&str> = data["vtt"].split("\n\n").collect();
    assert_eq!(blocks[0], "WEBVTT");
    assert!(blocks.len() > 3);
    for block in &blocks[1..] {
        let lines: Vec<&str> = block.trim_end().lines().collect();
        assert_eq!(lines.len(), 2, "{block}");
        let (from, to) = lines[0].split_once(" --> ").unwrap();
        assert!(from.len() == 12 && to.len() == 12 && from < to, "{block}");
        assert!(!lines[1].contains(['<', '>']), "{block}");
    }
    assert_eq!(fs::read_to_string(kinds[2]).unwrap(), data["vtt"]);
}

#[test]
fn a_page_and_its_data_tell_what_the_recap_tells() {
    let run = |arguments: &[&str]| {
        let fixed = ["tests/data/journals/v2.journal"];
        let output = Command::new(env!("CARGO_BIN_EXE_stepbell")).args([arguments, &fixed].concat()).output().unwrap();
        assert!(output.status.success());
        String::from_utf8(output.stdout).unwrap()
    };
    let recap = run(&["recap"]);
    let json: serde_json::Value = serde_json::from_str(&run(&["export", "--format", "json"])).unwrap();
    let findings: Vec<&str> = recap.lines().filter_map(|l| l.strip_prefix("  - ")).collect();
    let told: Vec<&str> =
        json["findings"].as_array().unwrap().iter().map(|f| f["sentence"].as_str().unwrap()).collect();
    assert_eq!(findings, told);
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("page.html");
    run(&["page", "--out", out.to_str().unwrap()]);
    let page = fs::read_to_string(out).unwrap();
    for sentence in told {
        assert!(page.contains(sentence), "{sentence}");
    }
    assert!(page.contains("I heard what you called, not what you did.") && !page.to_lowercase().contains(" done"));
    assert!(page.contains("The program was gone for a while; the clock was held."));
}
