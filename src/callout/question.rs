//! What can be asked after the recap, and what a time is guessed in: phrases of their own, listened for only then.

use super::{Meaning, Vocabulary, split};
use crate::intent::{Question, names};
use crate::section::Section;
use crate::time::Ms;
use std::collections::BTreeMap;

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
    fn spans_are_minutes_up_to_twice_the_limit() {
        let spans = Vocabulary::spans(Ms(50 * 60_000));
        assert_eq!(meaning(&spans, "twenty one minutes"), Some(Meaning::Span(Ms(21 * 60_000))));
        assert_eq!(meaning(&spans, "four and a half minutes"), Some(Meaning::Span(Ms(270_000))));
        assert_eq!(meaning(&spans, "one minute"), Some(Meaning::Span(Ms(60_000))));
        assert_eq!(meaning(&spans, "fifty one minutes"), None);
        assert_eq!(number(40), "forty");
    }
}
