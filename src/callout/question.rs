//! What can be asked after the recap, and what a time is guessed in: phrases of their own, listened for only then.

use super::{Meaning, Vocabulary, split};
use crate::section::Section;
use crate::time::Ms;
use crate::words::plain;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A question about the run, or a wish about its answers.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Question {
    /// What was not called?
    Missed,
    /// How long did what goes by this name take?
    HowLong(String),
    /// When was what goes by this name called?
    When(String),
    /// Say the last answer again.
    Repeat,
    /// Say it again, and all that follows, more slowly.
    Slower,
    /// Rehearse the same section again.
    Again,
    /// No more questions.
    Enough,
}

const PLAIN: [(&str, Question); 17] = [
    ("what did i miss", Question::Missed),
    ("what did i leave out", Question::Missed),
    ("what was missing", Question::Missed),
    ("repeat", Question::Repeat),
    ("repeat that", Question::Repeat),
    ("say that again", Question::Repeat),
    ("slower", Question::Slower),
    ("slower please", Question::Slower),
    ("slow down", Question::Slower),
    ("start again", Question::Again),
    ("once more from the start", Question::Again),
    ("stop", Question::Enough),
    ("that's all", Question::Enough),
    ("that is all", Question::Enough),
    ("no more questions", Question::Enough),
    ("stop everything", Question::Enough),
    ("emergency", Question::Enough),
];

/// How a name is asked about.
const HOW_LONG: [(&str, &str); 4] =
    [("how long was the", ""), ("how long was", ""), ("how long did the", "take"), ("how long did", "take")];
const WHEN: [(&str, &str); 6] = [
    ("when did i", ""),
    ("when did i do the", ""),
    ("when did i do", ""),
    ("when did i call", ""),
    ("when was the", ""),
    ("when was", ""),
];

/// Words that name no step.
const IDLE: [&str; 14] = [
    "with", "from", "your", "their", "before", "after", "once", "again", "into", "onto", "over", "each", "client",
    "client's",
];

/// The names that steps can be asked about by, each with its steps by place: callouts, titles of phases and choices, and the single
/// words of callouts and titles.
pub fn names(section: &Section) -> BTreeMap<String, Vec<usize>> {
    let mut names: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    let mut name = |phrase: String, steps: Vec<usize>| {
        if !phrase.is_empty() && !steps.is_empty() {
            names.entry(phrase).or_insert(steps);
        }
    };
    let all = || section.steps.iter().enumerate();
    for say in section.steps.iter().flat_map(|s| &s.say) {
        name(say.clone(), all().filter(|(_, s)| s.say.contains(say)).map(|(k, _)| k).collect());
    }
    for choice in &section.choices {
        name(plain(&choice.title), choice.of.clone());
    }
    for (place, phase) in section.phases.iter().enumerate().filter(|_| section.phases.len() > 1) {
        name(plain(&phase.title), all().filter(|(_, s)| s.phase == place).map(|(k, _)| k).collect());
    }
    let words = |place: usize| {
        let step = &section.steps[place];
        let choices = section.choices.iter().filter(|c| c.of.contains(&place)).map(|c| plain(&c.title));
        let texts = step.say.iter().cloned().chain([plain(&step.title)]).chain(choices);
        texts.flat_map(|t| split(&t)).collect::<Vec<_>>()
    };
    let mut by_step: Vec<Vec<String>> = (0..section.steps.len()).map(words).collect();
    // "Sanitise" in a title is the "sanitize" of a callout: said alike, it can't be another name.
    let american = |word: &str| word.replace("is", "iz").replace("our", "or");
    let called: BTreeMap<String, String> =
        section.steps.iter().flat_map(|s| &s.say).flat_map(|say| split(say)).map(|w| (american(&w), w)).collect();
    for word in by_step.iter_mut().flatten() {
        if let Some(said) = called.get(&american(word)) {
            word.clone_from(said);
        }
    }
    for word in by_step.iter().flatten().filter(|w| w.len() > 3 && !IDLE.contains(&w.as_str())) {
        name(word.clone(), (0..by_step.len()).filter(|k| by_step[*k].contains(word)).collect());
    }
    names
}

/// Steps that somebody may mean who is understood to ask about `name`, beside its own: those with a callout that ends in the same word,
/// as "mask" and "remove the mask" do. Each group shares its callouts.
pub fn alike(section: &Section, name: &str) -> Vec<Vec<usize>> {
    let own = names(section).remove(name).unwrap_or_default();
    let last = name.rsplit(' ').next();
    let ends = |step: &usize| section.steps[*step].say.iter().any(|say| say.rsplit(' ').next() == last);
    let mut groups: Vec<Vec<usize>> = vec![];
    for step in (0..section.steps.len()).filter(|step| !own.contains(step)).filter(ends) {
        match groups.iter_mut().find(|group| section.steps[group[0]].say == section.steps[step].say) {
            Some(group) => group.push(step),
            None => groups.push(vec![step]),
        }
    }
    groups
}

impl Vocabulary {
    /// What can be asked after the recap.
    pub fn questions(section: &Section) -> Vocabulary {
        let mut phrases = BTreeMap::new();
        let asked = |(before, behind): (&str, &str), name: &str| split(format!("{before} {name} {behind}").trim());
        for name in names(section).into_keys() {
            for around in HOW_LONG {
                phrases.insert(asked(around, &name), Meaning::Question(Question::HowLong(name.clone())));
            }
            for around in WHEN {
                phrases.insert(asked(around, &name), Meaning::Question(Question::When(name.clone())));
            }
        }
        phrases.extend(PLAIN.map(|(phrase, question)| (split(phrase), Meaning::Question(question))));
        Vocabulary { phrases }
    }

    /// Spans in which a time is guessed: whole and half minutes up to `most`, at most 99.
    pub fn spans(most: Ms) -> Vocabulary {
        let most = most.0.div_ceil(60_000).clamp(2, 99);
        let mut phrases = BTreeMap::new();
        let mut span = |words: String, ms: u64| {
            phrases.insert(split(&words), Meaning::Span(Ms(ms)));
        };
        span("half a minute".into(), 30_000);
        span("thirty seconds".into(), 30_000);
        span("a minute and a half".into(), 90_000);
        span("ninety seconds".into(), 90_000);
        for n in 1..=most {
            let unit = if n == 1 { "minute" } else { "minutes" };
            span(format!("{} {unit}", number(n)), n * 60_000);
            span(format!("{} and a half minutes", number(n)), n * 60_000 + 30_000);
        }
        Vocabulary { phrases }
    }
}

/// A number from 1 to 99 in words.
fn number(n: u64) -> String {
    const SMALL: [&str; 20] = [
        "",
        "one",
        "two",
        "three",
        "four",
        "five",
        "six",
        "seven",
        "eight",
        "nine",
        "ten",
        "eleven",
        "twelve",
        "thirteen",
        "fourteen",
        "fifteen",
        "sixteen",
        "seventeen",
        "eighteen",
        "nineteen",
    ];
    const TENS: [&str; 10] = ["", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"];
    let n = n as usize % 100;
    if n < 20 { SMALL[n].into() } else { format!("{} {}", TENS[n / 10], SMALL[n % 10]).trim().into() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn facial() -> Section {
        crate::authoring::read(include_str!("../../prompts/skin-care/basic-facial.toml")).0.unwrap()
    }

    fn meaning(vocabulary: &Vocabulary, phrase: &str) -> Option<Meaning> {
        vocabulary.phrases.get(&split(phrase)).cloned()
    }

    #[test]
    fn questions_are_about_callouts_and_their_words() {
        let questions = Vocabulary::questions(&facial());
        let how_long = |name: &str| Some(Meaning::Question(Question::HowLong(name.into())));
        assert_eq!(meaning(&questions, "how long was the massage"), how_long("massage"));
        assert_eq!(meaning(&questions, "how long did the steam towel take"), how_long("steam towel"));
        assert_eq!(
            meaning(&questions, "when did i sanitize"),
            Some(Meaning::Question(Question::When("sanitize".into())))
        );
        assert_eq!(meaning(&questions, "what did i miss"), Some(Meaning::Question(Question::Missed)));
        assert_eq!(meaning(&questions, "sanitize"), None, "callouts are over");
    }

    #[test]
    fn a_word_names_every_step_that_holds_it() {
        let facial = facial();
        let named = |name: &str| names(&facial).remove(name).unwrap_or_default();
        let says =
            |name: &str| facial.steps.iter().filter(|s| s.say.iter().any(|p| p.split(' ').any(|w| w == name))).count();
        assert!(named("massage").len() >= says("massage") && named("massage").len() > 1);
        // A callout names its own steps only.
        let sanitize: Vec<usize> =
            (0..facial.steps.len()).filter(|s| facial.steps[*s].say.contains(&"sanitize".into())).collect();
        assert_eq!(named("sanitize"), sanitize);
        assert!(named("with").is_empty());
    }

    #[test]
    fn steps_that_share_the_last_word_of_a_name_may_be_meant_too() {
        let facial = facial();
        let alike = |name: &str| -> Vec<Vec<&str>> {
            let id = |step: usize| facial.steps[step].id.as_str();
            super::alike(&facial, name).into_iter().map(|group| group.into_iter().map(id).collect()).collect()
        };
        assert_eq!(alike("mask"), [["mask-off"]]);
        assert_eq!(alike("remove the mask"), [["mask"]]);
        assert_eq!(alike("sanitize"), Vec::<Vec<&str>>::new());
        assert_eq!(alike("toner"), Vec::<Vec<&str>>::new());
    }

    #[test]
    fn spans_are_minutes_up_to_twice_the_limit() {
        let spans = Vocabulary::spans(Ms(50 * 60_000));
        assert_eq!(meaning(&spans, "twenty one minutes"), Some(Meaning::Span(Ms(21 * 60_000))));
        assert_eq!(meaning(&spans, "four and a half minutes"), Some(Meaning::Span(Ms(270_000))));
        assert_eq!(meaning(&spans, "one minute"), Some(Meaning::Span(Ms(60_000))));
        assert_eq!(meaning(&spans, "fifty one minutes"), None);
        assert_eq!(number(40), "forty");
    }
}
