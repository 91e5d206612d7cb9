//! The house rules as tests: which module may use which, and what the pure ones may not touch.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

/// Module -> what it may use, and whether it is pure, from the table in DEVELOPERS.md.
fn table() -> BTreeMap<String, (Vec<String>, bool)> {
    let text = fs::read_to_string("DEVELOPERS.md").unwrap();
    let rows = text.lines().skip_while(|l| !l.starts_with("| module")).skip(2).take_while(|l| l.starts_with('|'));
    rows.map(|row| {
        let cells: Vec<&str> = row.split('|').map(str::trim).collect();
        let uses = cells[3].split_whitespace().map(str::to_string).collect();
        (cells[1].to_string(), (uses, cells[4] == "yes"))
    })
    .collect()
}

/// Each module's name and source, its files put together, without their unit tests.
fn modules() -> BTreeMap<String, String> {
    fn read(path: &Path, into: &mut String) {
        if path.is_dir() {
            fs::read_dir(path).unwrap().for_each(|e| read(&e.unwrap().path(), into));
        } else {
            let text = fs::read_to_string(path).unwrap();
            into.push_str(text.split("#[cfg(test)]").next().unwrap());
        }
    }
    let mut found = BTreeMap::new();
    for entry in fs::read_dir("src").unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_stem().unwrap().to_str().unwrap().to_string();
        if !["main", "lib"].contains(&name.as_str()) {
            read(&path, found.entry(name).or_default());
        }
    }
    found
}

#[test]
fn each_module_uses_only_what_the_table_allows() {
    let (table, modules) = (table(), modules());
    assert_eq!(table.keys().collect::<Vec<_>>(), modules.keys().collect::<Vec<_>>(), "the table lists the tree");
    for (name, source) in &modules {
        let allowed = &table[name].0;
        for used in source.split("crate::").skip(1) {
            let used: String = used.chars().take_while(|c| c.is_ascii_lowercase() || *c == '_').collect();
            let fine =
                used.is_empty() || used == *name || allowed.contains(&used) || allowed.contains(&"everything".into());
            assert!(fine, "{name} uses {used}");
        }
    }
}

#[test]
fn the_core_touches_no_clock_file_thread_or_hash_order() {
    let forbidden = [
        "Instant",
        "SystemTime",
        "std::fs",
        "std::env",
        "std::thread",
        "HashMap",
        "HashSet",
        "println!",
        "tokio",
        "unsafe ",
    ];
    let table = table();
    for (name, source) in modules().iter().filter(|(name, _)| table[*name].1) {
        for word in forbidden {
            assert!(!source.contains(word), "{name} holds {word}");
        }
    }
}

/// What prints goes past the one place that makes text harmless and remembers what could not be written.
#[test]
fn only_the_terminal_prints() {
    let mut modules = modules();
    modules.insert("main".into(), fs::read_to_string("src/main.rs").unwrap());
    for (name, source) in modules.iter().filter(|(name, _)| *name != "terminal") {
        let words: Vec<&str> = source.split(|c: char| !(c.is_alphanumeric() || c == '_' || c == '!')).collect();
        for word in ["print!", "println!", "eprint!", "eprintln!", "dbg!"] {
            assert!(!words.contains(&word), "{name} holds {word}: print with terminal's outln!, note or warn");
        }
        assert!(!source.contains("io::stdout") && !source.contains("io::stderr"), "{name} writes to the terminal");
    }
}
