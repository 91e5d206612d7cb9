//! Whether a sentence is understood: wordings that the parser was made with, and wordings that it was not.

use crate::section::shipped;
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use stepbell::intent::{Asker, Question, Understood, names};
use stepbell::section::Section;

/// The section of a line that names none.
const FACIAL: &str = "basic-facial";

/// Sets that the weights were learnt from; the one named blind is kept out, so that it can still tell something.
const LEARNT: [&str; 21] = [
    "development",
    "unseen",
    "second",
    "third",
    "fourth",
    "fifth",
    "sixth",
    "seventh",
    "idioms",
    "second-language",
    "plain",
    "learners",
    "shapes",
    "moods",
    "elsewhere",
    "confusable",
    "free",
    "that",
    "examiner-1",
    "examiner-2",
    "examiner-3",
];

/// What a wording is to be understood as: `kind`, `kind:name` or `kind:name,name`, or `not`. A name stands for its steps.
fn meant(section: &Section, question: &Question) -> String {
    let value = serde_json::to_value(question).unwrap();
    let named = names(section);
    let steps = |name: &str| format!("{:?}", named.get(name).map_or(vec![], Clone::clone));
    match &value {
        serde_json::Value::String(kind) => kind.clone(),
        serde_json::Value::Object(map) => {
            let (kind, names) = map.iter().next().unwrap();
            match names {
                serde_json::Value::Null => kind.clone(),
                // Without a step told before, that is the whole.
                serde_json::Value::String(name) if name == "that" => kind.clone(),
                serde_json::Value::String(name) => format!("{kind}:{}", steps(name)),
                serde_json::Value::Array(two) => {
                    let mut two = [steps(two[0].as_str().unwrap()), steps(two[1].as_str().unwrap())];
                    two.sort();
                    format!("{kind}:{}", two.join(","))
                }
                other => panic!("{other}"),
            }
        }
        other => panic!("{other}"),
    }
}

fn wanted(section: &Section, written: &str) -> String {
    let named = names(section);
    let steps = |name: &str| format!("{:?}", named.get(name).unwrap_or_else(|| panic!("{name} is no name")));
    match written.split_once(':') {
        None => written.to_string(),
        Some((kind, names)) => {
            // The answer tells which of two came first, however they are named.
            let mut names: Vec<String> = names.split(',').map(steps).collect();
            names.sort();
            format!("{kind}:{}", names.join(","))
        }
    }
}

/// Right, declined and wrong, with a line for each that is not right. Several meanings may be right, parted by bars.
fn told(lines: &[&str]) -> ([usize; 3], Vec<String>) {
    let mut askers: BTreeMap<&str, (Section, Asker)> = BTreeMap::new();
    let (mut counts, mut others) = ([0; 3], vec![]);
    for line in lines {
        let (section, written, sentence) = parts(line);
        let (section, asker) = askers.entry(section).or_insert_with(|| {
            let section = shipped(section);
            let asker = Asker::new(&section);
            (section, asker)
        });
        let got = match asker.understand(sentence) {
            Understood::Question(question) => meant(section, &question),
            Understood::Not(_) => "not".into(),
        };
        let right = written.split('|').any(|w| wanted(section, w) == got);
        let kind = if right {
            0
        } else if got == "not" {
            1
        } else {
            2
        };
        counts[kind] += 1;
        if kind > 0 {
            others.push(format!("{}: {line} -> {got}", ["", "declined", "WRONG"][kind]));
        }
    }
    (counts, others)
}

fn lines(text: &str) -> Vec<&str> {
    text.lines().filter(|l| !l.starts_with('#') && !l.is_empty()).collect()
}

/// A line's section, what is meant, and how it was worded.
fn parts(line: &str) -> (&str, &str, &str) {
    match line.split('\t').collect::<Vec<_>>()[..] {
        [section, written, sentence] => (section, written, sentence),
        [written, sentence] => (FACIAL, written, sentence),
        _ => panic!("{line}"),
    }
}

/// The sets that the weights were learnt from, as they stand.
fn learnt() -> [String; 21] {
    LEARNT.map(|name| std::fs::read_to_string(format!("tests/data/intents/{name}.tsv")).unwrap())
}

#[test]
fn the_wordings_it_was_made_with_are_understood() {
    let (counts, others) = told(&lines(include_str!("../data/intents/development.tsv")));
    assert_eq!(counts[1..], [0, 0], "{}", others.join("\n"));
}

/// A set that nothing was learnt from and no threshold was chosen by.
#[test]
fn few_wordings_are_declined_and_almost_none_is_taken_for_another() {
    let blind = lines(include_str!("../data/intents/blind.tsv"));
    let ([right, declined, wrong], others) = told(&blind);
    println!("{}", others.join("\n"));
    crate::figure(
        "wordings understood",
        format!("{right} right, {declined} declined, {wrong} wrong of {}", blind.len()),
        "95 % right, under 1 % wrong",
        right * 100 >= blind.len() * 95 && wrong * 100 < blind.len(),
    );
    assert!(blind.len() >= 300);
}

/// A wording as the ears expect it: small letters, "*" for each name of a step; none where its names are not there as they are called, a word has
/// no pronunciation, or it is long.
fn expected(names: &[String], known: &BTreeSet<String>, meant: &str, sentence: &str) -> Option<String> {
    let plain = sentence.to_lowercase().replace('\u{2019}', "'");
    let plain = plain.replace(|c: char| !c.is_ascii_lowercase() && c != '\'', " ");
    let mut line = format!(" {} ", plain.split_whitespace().collect::<Vec<_>>().join(" "));
    for name in names {
        line = line.replace(&format!(" {name} "), " * ");
    }
    let words: Vec<&str> = line.split_whitespace().collect();
    let named = words.iter().filter(|w| **w == "*").count();
    let wanted = meant.split_once(':').map_or(0, |(_, names)| names.split(',').count());
    let fits = named == wanted && words.len() <= 14 && words.iter().all(|w| *w == "*" || known.contains(*w));
    (fits && meant != "not").then(|| words.join(" "))
}

/// The ears know which words follow which in free wordings, from the sets that the weights were learnt from.
#[test]
fn the_ears_expect_what_the_sets_word() {
    let lexicon = std::fs::read_to_string("models/fetched/english/graph/lexicon.txt").unwrap();
    let known: BTreeSet<String> =
        lexicon.lines().filter_map(|l| l.split_whitespace().next()).map(str::to_string).collect();
    let mut called: Vec<String> = names(&shipped(FACIAL)).into_keys().collect();
    called.sort_by_key(|name| std::cmp::Reverse(name.len()));
    let texts = learnt();
    let expected: BTreeSet<String> = texts
        .iter()
        .flat_map(|text| lines(text))
        .map(parts)
        .filter(|(section, ..)| *section == FACIAL)
        .filter_map(|(_, meant, sentence)| expected(&called, &known, meant, sentence))
        .collect();
    let made: String = expected.iter().map(|line| format!("{line}\n")).collect();
    let path = "src/callout/expected.txt";
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        std::fs::write(path, &made).unwrap();
    }
    assert!(std::fs::read_to_string(path).unwrap() == made, "UPDATE_GOLDEN=1 writes {path} anew");
}

/// The weights are learnt from the sets as they are. With UPDATE_GOLDEN set, what `tests/bench/questions/fit.py` learns from is written.
#[test]
fn the_weights_are_those_learnt_from_the_sets() {
    let texts = learnt();
    let sum: String = Sha256::digest(texts.concat()).iter().map(|byte| format!("{byte:02x}")).collect();
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        let mut askers: BTreeMap<String, Asker> = BTreeMap::new();
        let mut made = format!("{sum}\n");
        for line in texts.iter().flat_map(|text| lines(text)) {
            let (section, written, sentence) = parts(line);
            let asker = askers.entry(section.to_string()).or_insert_with(|| Asker::new(&shipped(section)));
            let kind = written.split(['|', ':']).next().unwrap();
            made += &format!("{kind}\t{}\n", asker.features(sentence).join("\t"));
        }
        std::fs::write("target/questions.tsv", made).unwrap();
    }
    let weights = std::fs::read_to_string("src/intent/weights.tsv").unwrap();
    let learnt_from = weights.lines().next().and_then(|line| line.split('\t').next_back()).unwrap_or_default();
    assert!(
        learnt_from == sum,
        "the sets changed: tests/bench/questions/fit.py says how src/intent/weights.tsv is learnt anew"
    );
}
