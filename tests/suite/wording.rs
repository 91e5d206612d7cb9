//! Wordings that nobody lists: what the shipped sections' callouts cover, and that none of it can be taken for another step.

use std::collections::BTreeMap;
use stepbell::authoring;
use stepbell::callout::{Meaning, Vocabulary};
use stepbell::section::Section;
use stepbell::time::SampleIndex;
use stepbell::words::Word;

fn shipped() -> Vec<Section> {
    let folders = std::fs::read_dir("prompts").unwrap().flatten().filter(|e| e.path().is_dir());
    let files = folders.flat_map(|f| std::fs::read_dir(f.path()).unwrap().flatten().map(|e| e.path()));
    let texts =
        files.filter(|p| p.extension().is_some_and(|e| e == "toml")).map(|p| std::fs::read_to_string(p).unwrap());
    texts.filter_map(|text| authoring::read(&text).0).collect()
}

/// What is found in words half a second long, one after the other.
fn heard(vocabulary: &Vocabulary, spoken: &str) -> Vec<Meaning> {
    let word = |(k, text): (usize, &str)| Word {
        text: text.into(),
        start: SampleIndex(8_000 * k as u64),
        end: SampleIndex(8_000 * (k as u64 + 1)),
        confidence: 1.0,
    };
    let words: Vec<Word> = spoken.split(' ').enumerate().map(word).collect();
    vocabulary.find(&words).into_iter().map(|h| h.meaning).collect()
}

#[test]
fn no_wording_of_a_shipped_section_stands_for_two_steps() {
    let sections = shipped();
    assert!(sections.len() >= 13);
    let (mut listed, mut all) = (0, 0);
    for section in &sections {
        let vocabulary = Vocabulary::of(section);
        let mut stands: BTreeMap<String, Vec<(String, String)>> = BTreeMap::new();
        for (words, meaning) in vocabulary.wordings() {
            let here = meaning.stands_for(section);
            let before = stands.entry(words.clone()).or_insert_with(|| here.clone());
            assert_eq!(*before, here, "{}: \"{words}\"", section.id);
            // Found as a whole, it is what it was made of.
            let found = heard(&vocabulary, &words);
            assert_eq!(
                found.iter().map(|m| m.stands_for(section)).collect::<Vec<_>>(),
                [here],
                "{}: \"{words}\"",
                section.id
            );
        }
        // What is listed for a step is never a wording of another.
        for say in section.steps.iter().flat_map(|s| &s.say) {
            assert_eq!(heard(&vocabulary, say), [Meaning::Callout(say.clone())], "{}: \"{say}\"", section.id);
        }
        let (phrases, wordings) = (vocabulary.phrases().count(), stands.len());
        assert!(wordings <= 40 * phrases, "{}: {wordings} wordings of {phrases} phrases", section.id);
        (listed, all) = (listed + phrases, all + wordings);
        if std::env::var_os("SHOW").is_some() {
            println!(
                "{}: {phrases} phrases, {wordings} wordings, {} grammar lines",
                section.id,
                vocabulary.grammar(std::iter::empty(), |_| true).len()
            );
            vocabulary.covered(|_| true).iter().for_each(|(say, forms, n)| println!("    {say} = {forms} [{n}]"));
        }
    }
    println!(
        "\nfigure|wordings: understood in {} sections, of phrases listed|{all} of {listed}|more|{}",
        sections.len(),
        u8::from(all <= listed)
    );
}

#[test]
fn inflections_and_small_words_are_understood_without_being_listed() {
    let facial = authoring::read(&std::fs::read_to_string("prompts/skin-care/basic-facial.toml").unwrap()).0.unwrap();
    let vocabulary = Vocabulary::of(&facial);
    let step = |spoken: &str| -> Vec<String> {
        let found = heard(&vocabulary, spoken);
        found.iter().flat_map(|m| m.stands_for(&facial)).map(|(name, _)| name).collect()
    };
    for (listed, others) in [
        ("apply toner", ["applying the toner", "applied my toner", "applies a toner"]),
        ("remove the mask", ["removed mask", "removes the mask", "removing my mask"]),
        ("sanitize my hands", ["sanitized my hands", "sanitizes the hands", "sanitize your hands"]),
        ("take off the towel", ["taking off the towel", "took off towel", "taken off the towels"]),
        ("throw away", ["throwing away", "threw away", "thrown away"]),
        ("steam towel", ["steam towels", "steam towel", "okay steam towels"]),
    ] {
        let wanted = if listed == "sanitize my hands" { step("sanitize hands") } else { step(listed) };
        assert!(!wanted.is_empty(), "{listed}");
        for other in others {
            assert_eq!(step(other), wanted, "{other}");
        }
    }
    // Words that mean something else, or nothing.
    for other in ["apply the", "the hands", "throw", "towel"] {
        assert_eq!(step(other), Vec::<String>::new(), "{other}");
    }
}

/// What the coach names as the next step is understood when it is said back.
#[test]
fn titles_that_the_coach_names_are_understood() {
    for (section, said, id) in [
        ("basic-facial", "drape the hair", "drape-hair"),
        ("basic-facial", "apply the colored mask", "mask"),
        ("basic-facial", "dispose of what was used", "dispose"),
        ("thermal-curl", "part the section", "part"),
        ("razor-shave", "dispose of what was used", "dispose"),
        ("high-frequency", "look over the glass electrode", "electrode"),
        ("high-frequency", "gauze and eye pads off", "gauze-off"),
    ] {
        let section = shipped().into_iter().find(|s| s.id == section).unwrap();
        let found = heard(&Vocabulary::of(&section), said);
        let named: Vec<&str> = (section.steps.iter())
            .filter(|s| {
                found.iter().any(|m| *m == Meaning::Callout(said.into())) && s.say.iter().any(|say| say == said)
            })
            .map(|s| s.id.as_str())
            .collect();
        assert_eq!(named, [id], "{said}: {found:?}");
    }
}

/// It hears claims: no rule's message says that something was done.
#[test]
fn messages_of_rules_speak_of_callouts() {
    for section in shipped() {
        for rule in &section.rules {
            assert!(rule.message.contains("called"), "{}: {}", section.id, rule.message);
        }
    }
}
