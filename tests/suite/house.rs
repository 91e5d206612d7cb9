//! The house rules as tests: which module may use which, and what the pure ones may not touch.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

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

/// Every source file at or under a path, without its unit tests.
fn sources(path: &Path) -> Vec<(PathBuf, String)> {
    if path.is_dir() {
        return fs::read_dir(path).unwrap().flat_map(|e| sources(&e.unwrap().path())).collect();
    }
    if path.extension().is_none_or(|x| x != "rs") {
        return vec![];
    }
    let text = fs::read_to_string(path).unwrap();
    vec![(path.to_path_buf(), text.split("#[cfg(test)]").next().unwrap().to_string())]
}

/// Each module's name and source, its files put together.
fn modules() -> BTreeMap<String, String> {
    let mut found: BTreeMap<String, String> = BTreeMap::new();
    for (path, source) in sources(Path::new("src")) {
        let name = path.iter().nth(1).unwrap().to_str().unwrap().trim_end_matches(".rs").to_string();
        if !["main", "lib"].contains(&name.as_str()) {
            found.entry(name).or_default().push_str(&source);
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
        for used in uses("crate::", name, source) {
            let fine = allowed.contains(&used) || allowed.contains(&"everything".into());
            assert!(fine, "{name} uses {used}");
        }
    }
}

/// The modules that a source names behind `crate::` or `super::`, alone or in braces; not itself, nor macros and types.
fn uses(root: &str, name: &str, source: &str) -> BTreeSet<String> {
    let module = |text: &str| -> String { text.chars().take_while(|c| c.is_ascii_lowercase() || *c == '_').collect() };
    let mut found = BTreeSet::new();
    for behind in source.split(root).skip(1) {
        let Some(list) = behind.strip_prefix('{') else {
            found.insert(module(behind));
            continue;
        };
        // Names stand at the list's own depth, in front of each comma.
        let mut depth = 0;
        let own = list.chars().take_while(|c| {
            depth += i32::from(*c == '{') - i32::from(*c == '}');
            depth >= 0
        });
        let mut depth = 0;
        let flat = own.filter(|c| {
            depth += i32::from(*c == '{') - i32::from(*c == '}');
            depth == 0
        });
        found.extend(flat.collect::<String>().split(',').map(|item| module(item.trim())));
    }
    found.retain(|used| !used.is_empty() && used != name);
    found
}

#[test]
fn uses_are_seen_alone_and_in_braces() {
    let source =
        "use crate::a::B; use crate::{b, c::{D, e}, own};\nuse crate::{\n    f,\n    g::H,\n}; crate::i::j() crate::K";
    assert_eq!(uses("crate::", "own", source).into_iter().collect::<String>(), "abcfgi");
}

/// What is left when whatever uses nothing that is left was taken away, until nothing more can be.
fn circle(mut left: BTreeMap<String, BTreeSet<String>>) -> BTreeMap<String, BTreeSet<String>> {
    while let Some(name) =
        left.iter().find(|(_, uses)| !uses.iter().any(|u| left.contains_key(u))).map(|(n, _)| n.clone())
    {
        left.remove(&name);
    }
    left
}

/// A circle means that neither end can be read, tested or changed alone.
#[test]
fn no_modules_use_each_other_in_a_circle() {
    let left = circle(modules().iter().map(|(name, source)| (name.clone(), uses("crate::", name, source))).collect());
    assert!(left.is_empty(), "a circle among {left:?}");
}

/// The same within a module: its files are a row, too. Methods of one type may lie in several files and call each other.
#[test]
fn no_files_of_a_module_use_each_other_in_a_circle() {
    let folders = fs::read_dir("src").unwrap().map(|e| e.unwrap().path()).filter(|p| p.is_dir());
    for folder in folders {
        let files = sources(&folder).into_iter().filter(|(path, _)| path.parent() == Some(&folder));
        let files = files.map(|(path, source)| (path.file_stem().unwrap().to_str().unwrap().to_string(), source));
        let uses = |name: &str, source: &str| {
            &uses("super::", name, source)
                | &uses(&format!("crate::{}::", folder.file_name().unwrap().to_str().unwrap()), name, source)
        };
        let left = circle(
            files
                .filter(|(name, _)| name != "mod")
                .map(|(name, source)| (name.clone(), uses(&name, &source)))
                .collect(),
        );
        assert!(left.is_empty(), "{}: a circle among {left:?}", folder.display());
    }
}

#[test]
fn a_file_is_one_thought() {
    let files = sources(Path::new("src"));
    let long: Vec<String> = files
        .iter()
        .map(|(path, source)| (path, source.lines().count()))
        .filter(|(_, lines)| *lines > 400)
        .map(|(path, lines)| format!("{}: {lines} lines", path.display()))
        .collect();
    assert!(long.is_empty(), "at most 400 lines a file, without its unit tests:\n{}", long.join("\n"));
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

/// clippy knows what a path means where a search for words does not: it is told of each pure module, and of no other.
#[test]
fn clippy_watches_the_pure_modules() {
    let library = fs::read_to_string("src/lib.rs").unwrap();
    let denied = "#[deny(clippy::disallowed_methods, clippy::disallowed_types)]\n";
    for (name, (_, pure)) in table() {
        assert_eq!(library.contains(&format!("{denied}pub mod {name};")), pure, "{name} in src/lib.rs");
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

/// What people read, and how long one paragraph and one sentence of it may be, in words.
const DOCUMENTS: [&str; 7] = [
    "README.md",
    "DEVELOPERS.md",
    "prompts/README.md",
    "tests/README.md",
    "models/README.md",
    "models/recipe/LOG.md",
    "tests/bench/ears/README.md",
];
const PARAGRAPH: usize = 60;
const SENTENCE: usize = 35;

/// Paragraphs and items of lists; headings, tables, pictures and code are none.
fn paragraphs(text: &str) -> Vec<String> {
    let mut found = vec![String::new()];
    for line in text.lines() {
        let prose = !line.starts_with("    ") && !line.starts_with(['|', '#', '<', '!']) && !line.trim().is_empty();
        let item =
            line.trim_start().starts_with("- ") || line.split_once(". ").is_some_and(|(n, _)| n.parse::<u8>().is_ok());
        if !prose || item {
            found.push(String::new());
        }
        if prose {
            let last = found.len() - 1;
            found[last] += &format!("{} ", line.trim());
        }
    }
    found.retain(|p| !p.is_empty());
    found
}

/// Sentences: up to a full stop, a question or an exclamation mark with a space and a capital, a quote or a code word behind it.
fn sentences(paragraph: &str) -> Vec<String> {
    let words: Vec<&str> = paragraph.split_whitespace().collect();
    let mut found = vec![vec![]];
    for (place, word) in words.iter().enumerate() {
        found.last_mut().unwrap().push(*word);
        let ends = word.trim_end_matches(['"', ')', '*', '`']).ends_with(['.', '?', '!']);
        let begins =
            words.get(place + 1).is_some_and(|w| w.starts_with(|c: char| c.is_uppercase() || "\"`*(".contains(c)));
        if ends && begins {
            found.push(vec![]);
        }
    }
    found.into_iter().map(|words| words.join(" ")).collect()
}

#[test]
fn documents_are_short_enough_to_be_read() {
    let words = |text: &str| text.split_whitespace().filter(|w| *w != "|").count();
    let mut long = vec![];
    for name in DOCUMENTS {
        let text = fs::read_to_string(name).unwrap();
        for paragraph in paragraphs(&text) {
            let over =
                |text: &str, most| (words(text) > most).then(|| format!("{name}, {} words: {text}", words(text)));
            long.extend(over(&paragraph, PARAGRAPH));
            long.extend(sentences(&paragraph).iter().filter_map(|s| over(s, SENTENCE)));
        }
    }
    assert!(long.is_empty(), "at most {PARAGRAPH} words a paragraph and {SENTENCE} a sentence:\n{}", long.join("\n"));
    let map = words(&fs::read_to_string("DEVELOPERS.md").unwrap());
    assert!(map < 2_000, "DEVELOPERS.md is a map of under 2,000 words, and has {map}");
}

#[test]
fn long_paragraphs_and_sentences_are_seen() {
    let text = "# One\n\nAn item. \"Two,\" it said.\nThree.\n\n- a\n- b\n\n| a | b |\n\n    code\n";
    assert_eq!(paragraphs(text), ["An item. \"Two,\" it said. Three. ", "- a ", "- b "]);
    assert_eq!(sentences("It is 1.5 s. Then `go` stops. e.g. this"), ["It is 1.5 s.", "Then `go` stops. e.g. this"]);
}

/// What differs from system to system lies in one place.
#[test]
fn only_the_platform_knows_the_system() {
    let mut modules = modules();
    modules.insert("main".into(), fs::read_to_string("src/main.rs").unwrap());
    modules.insert("lib".into(), fs::read_to_string("src/lib.rs").unwrap());
    for (name, source) in modules.iter().filter(|(name, _)| *name != "platform") {
        for word in ["cfg(", "cfg!(", "cfg_attr(", "std::os::", "rustix", "libc", "try_lock"] {
            assert!(!source.contains(word), "{name} holds {word}");
        }
    }
}
