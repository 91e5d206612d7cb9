//! Whether a sentence is understood: wordings that the parser was made with, and wordings that it was not.

use crate::section::shipped;
use std::collections::BTreeMap;
use stepbell::intent::{Asker, Question, Understood, names};
use stepbell::section::Section;

/// Sets that are counted by the second opinion; the last one is kept out, so that it can still tell something.
const COUNTED: [&str; 7] = ["development", "unseen", "second", "third", "fourth", "fifth", "sixth"];

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
                    format!("{kind}:{},{}", steps(two[0].as_str().unwrap()), steps(two[1].as_str().unwrap()))
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
        Some((kind, names)) => format!("{kind}:{}", names.split(',').map(steps).collect::<Vec<_>>().join(",")),
    }
}

/// Right, declined and wrong, with a line for each that is not right. Several meanings may be right, parted by bars.
fn told(lines: &[&str]) -> ([usize; 3], Vec<String>) {
    let mut askers: BTreeMap<&str, (Section, Asker)> = BTreeMap::new();
    let (mut counts, mut others) = ([0; 3], vec![]);
    for line in lines {
        let mut fields = line.split('\t').collect::<Vec<_>>();
        let section = if fields.len() == 3 { fields.remove(0) } else { "basic-facial" };
        let (section, asker) = askers.entry(section).or_insert_with(|| {
            let section = shipped(section);
            let asker = Asker::new(&section);
            (section, asker)
        });
        let got = match asker.understand(fields[1]) {
            Understood::Question(question) => meant(section, &question),
            Understood::Not(_) => "not".into(),
        };
        let right = fields[0].split('|').any(|w| wanted(section, w) == got);
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

#[test]
fn the_wordings_it_was_made_with_are_understood() {
    let (counts, others) = told(&lines(include_str!("../data/intents/development.tsv")));
    assert_eq!(counts[1..], [0, 0], "{}", others.join("\n"));
}

/// The figures of wordings that were not there when the parser was made stand in `tests/data/intents/README.md`; it was made better since.
#[test]
fn few_wordings_are_declined_and_almost_none_is_taken_for_another() {
    let texts = [
        include_str!("../data/intents/unseen.tsv"),
        include_str!("../data/intents/second.tsv"),
        include_str!("../data/intents/third.tsv"),
        include_str!("../data/intents/fourth.tsv"),
        include_str!("../data/intents/fifth.tsv"),
        include_str!("../data/intents/sixth.tsv"),
        include_str!("../data/intents/seventh.tsv"),
    ];
    for (place, text) in texts.iter().enumerate() {
        let (counts, others) = told(&lines(text));
        println!("set {}: {counts:?}\n{}", place + 1, others.join("\n"));
    }
    let all: Vec<&str> = texts.iter().flat_map(|t| lines(t)).collect();
    let ([right, declined, wrong], others) = told(&all);
    crate::figure(
        "wordings understood",
        format!("{right} right, {declined} declined, {wrong} wrong of {}", all.len()),
        "95 % right, under 1 % wrong",
        right * 100 >= all.len() * 95 && wrong * 100 < all.len(),
    );
    assert!(all.len() >= 300, "{}", others.join("\n"));
}

/// What the second opinion counts is made from the wordings of these files.
#[test]
fn the_wordings_that_are_counted_are_those_of_the_sets() {
    let files = COUNTED.map(|name| std::fs::read_to_string(format!("tests/data/intents/{name}.tsv")).unwrap());
    let mut askers: BTreeMap<String, Asker> = BTreeMap::new();
    let mut made = String::new();
    for line in files.iter().flat_map(|text| lines(text)) {
        let mut fields = line.split('\t').collect::<Vec<_>>();
        let section = if fields.len() == 3 { fields.remove(0) } else { "basic-facial" };
        let asker = askers.entry(section.to_string()).or_insert_with(|| Asker::new(&shipped(section)));
        let kind = fields[0].split(['|', ':']).next().unwrap();
        made += &format!("{kind}\t{}\n", asker.blank(fields[1]));
    }
    let path = "src/intent/wordings.tsv";
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        std::fs::write(path, &made).unwrap();
    }
    assert!(std::fs::read_to_string(path).unwrap() == made, "UPDATE_GOLDEN=1 writes {path} anew");
}
