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

/// Relative luminance after WCAG 2.2 of a colour as `#rrggbb`.
fn luminance(colour: &str) -> f64 {
    let part = |k: usize| f64::from(u8::from_str_radix(&colour[k..k + 2], 16).unwrap()) / 255.0;
    let linear = |c: f64| if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) };
    0.2126 * linear(part(1)) + 0.7152 * linear(part(3)) + 0.0722 * linear(part(5))
}

/// WCAG 2.2, 1.4.11: what tells something in a picture has 3 : 1 against what it touches. The plan's stroke lies on bars in two colours and on
/// the paper: an edge in the paper's colour is drawn under it, wider than it.
#[test]
fn the_plan_can_be_told_from_the_bars() {
    let section = crate::section::shipped("basic-facial");
    let outcome = crate::verdict::lived(&section, &crate::review::perfect(&section));
    let run = crate::verdict::viewed(&section, &outcome);
    let page = stepbell::recap::page(&run, None);
    let schemes: Vec<&str> = page.split(":root{").skip(1).map(|s| s.split('}').next().unwrap()).collect();
    assert_eq!(schemes.len(), 2, "light and dark");
    for scheme in schemes {
        let colour = |name: &str| scheme.split(&format!("--{name}:")).nth(1).unwrap()[..7].to_string();
        for (a, b) in [("plan", "paper"), ("called", "paper"), ("grave", "paper")] {
            let (a, b) = (luminance(&colour(a)), luminance(&colour(b)));
            let contrast = (a.max(b) + 0.05) / (a.min(b) + 0.05);
            assert!(contrast >= 3.0, "{contrast}: {scheme}");
        }
    }
    assert!(page.contains("svg .edge{stroke:var(--paper);stroke-width:6.5}"));
    assert!(page.contains("svg .plan{stroke:var(--plan);stroke-width:2.5}"));
    let strokes: Vec<&str> =
        page.split("<line class=\"plan\" ").skip(1).map(|s| s.split('>').next().unwrap()).collect();
    assert!(strokes.len() > 20);
    for stroke in strokes {
        let edged = format!("<line class=\"edge\" {stroke}></line><line class=\"plan\" {stroke}>");
        assert!(page.contains(&edged), "{stroke}");
    }
}

/// Data tell when what they find was called; a pair that protects names its source once on the page.
#[test]
fn findings_have_their_time_and_their_source_once() {
    let section = crate::section::shipped("basic-facial");
    let mut steps = crate::review::perfect(&section);
    // The body is draped before the hands, and the toner is left out.
    steps.swap(0, 1);
    steps.retain(|s| section.steps[*s].id != "toner");
    let outcome = crate::verdict::lived(&section, &steps);
    let run = crate::verdict::viewed(&section, &outcome);
    let csv = stepbell::recap::csv(&run);
    let rows: Vec<&str> = csv.lines().filter(|l| l.contains(",finding,")).collect();
    assert!(rows[0].contains(",unsafe_order,") && rows[0].ends_with(",30.000,,,yes"), "{rows:?}");
    assert!(rows[1].contains(",not_called,") && rows[1].ends_with(",,,,no"), "{rows:?}");
    let json: serde_json::Value = serde_json::from_str(&stepbell::recap::json(&run)).unwrap();
    assert_eq!((json["findings"][0]["at_s"].as_f64(), json["findings"][1]["at_s"].as_f64()), (Some(30.0), None));
    let page = stepbell::recap::page(&run, None);
    assert_eq!(page.matches("hands before work on a client").count(), 1, "{page}");
}
