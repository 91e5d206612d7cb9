//! What can be asked after the recap, and what a time is guessed in: sentences of their own, listened for only then.

use super::{Command, Heard, Meaning, STOPS, Vocabulary, afterwards, split};
use crate::intent::{Asker, Understood, names};
use crate::section::Section;
use crate::time::Ms;
use crate::words::{FILLER, Word};
use std::collections::{BTreeMap, BTreeSet};

/// Sentences that the ears expect, so that they know which words follow which; other sentences of the same words are heard, too.
const SENTENCES: &str = "\
what did i miss|what did i leave out|what did i forget|what was missing|did i miss anything|did i leave something out|did i skip any steps|\
which steps were not called|what took longest|what took the longest|which step took me longest|what was my slowest step|which step took the most time|\
where did i lose the most time|what was the longest step|what was shortest|what was the quickest step|which step was fastest|\
what went over plan|which steps took longer than planned|what took too long|where was i too slow|what was over plan|did anything go over plan|\
what was faster than planned|did i rush anything|where was i too fast|how much time was left|did i finish in time|was i in time|was i over time|\
how much time did i have left|how long did it take|how long did it take in all|how long did i take|what was my time|how long was the whole run|\
what is the limit|how much time do i have|how many steps did i call|what did i call first|what did i call last|what was my last callout|\
how was my hand hygiene|how often did i wash my hands|was my hygiene good|did i clean my hands enough|\
was anything critical|what was critical|did i do anything dangerous|would i have failed|did i make a critical mistake|\
was anything out of order|was my order right|what was in the wrong order|did i do everything in order|\
what did i do wrong|what went wrong|what mistakes did i make|how many mistakes did i make|what were the findings|read me the findings|\
how did i do|how was i|how was that|give me a summary|read the recap again|what went well|what did i do well|what was good|\
how many points did i get|what is my score|did i drop anything|how long was the clock held|did i pause|\
how was it compared with last time|was that better than last time|how does this compare with my last run|was i faster than last time|am i getting better|have i improved|\
how was it compared with my best|was that my best run|how far was i from my best|am i ready|am i ready for the exam|would i pass|what are my chances|\
what should i practise|what should i practice|what should i practice next|what do i need to work on|what should i work on|where am i weak|what is my weakest step|\
what are the cautions|read me the cautions|what should i be careful about|what is the source|where does that come from|who says so|\
explain that|explain that finding|explain the finding|why|why is that|what does that mean|tell me more|\
read the next step|what is next|what comes next|next step|when was that|how long was that|how often did i call it|what does that need|\
what can i ask|what can i say|help|repeat|repeat that|say that again|once more|pardon|slower|slower please|slow down|\
start again|once more from the start|again|stop|that's all|that is all|no more questions|enough|no|pause|resume|stop everything|emergency|thank you";

/// Sentences about a step that are asked most; its name stands for "*".
const ABOUT: &str = "\
how long was the *|how long was *|how long did the * take|how long did * take|when did i *|when did i do the *|when did i do *|when did i call *|\
when was the *|when was *|did i call *|did i call the *|what does the * need|how often did i call *";

/// Others, of which it is enough to know which words follow which: whole for one name, and the places of a name for each.
const ALSO: &str = "\
how much time did i spend on the *|how long did i *|did i forget the *|did i miss *|did i do the *|was the * called|how often did i *|\
how many times did i call *|did i call the * before the *|was the * before the *|was the * after the *|how long between the * and the *|\
what do i need for the *|how do i *|tell me about the *|a hint for the *|is there a caution for the *|what should i be careful about with the *|\
what is the source for the *|why was the * wrong|explain the *|what comes after the *|what comes after *|what comes before the *|\
how long should the * take";
/// Free wordings of the basic facial's questions, "*" for a name, a line each: the suite's `intents` makes them from the sets in `tests/data/intents`, where
/// it is told what they give.
const EXPECTED: &str = include_str!("expected.txt");
const PLACES: &str = "the *|did i *|call *|* called|* before the|* after the|* take";

impl Vocabulary {
    /// What can be asked after the recap: whole sentences.
    pub fn questions(section: &Section) -> Vocabulary {
        let asker = Asker::new(section);
        let callouts: Vec<&String> = section.steps.iter().flat_map(|s| &s.say).collect();
        let groups: Vec<String> = section
            .choices
            .iter()
            .map(|c| &c.title)
            .chain(section.phases.iter().map(|p| &p.title))
            .map(|t| crate::words::plain(t))
            .collect();
        let names: BTreeSet<String> = names(section).into_keys().collect();
        let about = names.iter().filter(|n| callouts.contains(n) || groups.contains(n) || !n.contains(' '));
        let mut phrases = BTreeMap::new();
        // What each asks is found out when it is heard.
        let blank = |words: &str| Meaning::Asked { words: words.into(), question: None, nearest: None };
        let mut add = |sentence: &str| phrases.insert(split(sentence), blank(sentence));
        SENTENCES.split('|').chain(afterwards::UNDO).for_each(|s| drop(add(s)));
        let mut also = vec![];
        for (k, name) in about.enumerate() {
            ABOUT.split('|').chain(afterwards::LINES.split('|')).for_each(|s| drop(add(&s.replace('*', name))));
            if k == 0 {
                also.extend(EXPECTED.lines().map(|line| line.replace('*', name)));
            }
            let places = if k == 0 { ALSO } else { PLACES };
            also.extend(places.split('|').map(|s| s.replace('*', name)));
        }
        Vocabulary { phrases, asker: Some(asker), names, also, ..Vocabulary::default() }
    }

    /// Whether whole sentences are listened for.
    pub fn asks(&self) -> bool {
        self.asker.is_some()
    }

    /// A sentence that was heard, with what it asks.
    pub fn understood(&self, heard: Heard) -> Heard {
        match (&self.asker, &heard.meaning) {
            (Some(asker), Meaning::Asked { words, .. }) => Heard { meaning: self.asked(asker, words), ..heard },
            _ => heard,
        }
    }

    /// A whole sentence of these words; none where none of them was understood.
    pub(super) fn sentence(&self, asker: &Asker, words: &[Word]) -> Option<Heard> {
        let known = |w: &&Word| w.text != FILLER;
        let (first, last) = (words.iter().find(known)?, words.iter().rev().find(known)?);
        // Sound in front of a sentence and behind it is no part of it.
        let inner = words.iter().filter(|w| w.start >= first.start && w.end <= last.end);
        let text: Vec<&str> = inner.clone().map(|w| w.text.as_str()).collect();
        Some(Heard {
            meaning: self.asked(asker, &text.join(" ")),
            start: first.start,
            end: last.end,
            confidence: inner.map(|w| w.confidence).fold(1.0, f32::min),
        })
    }

    /// What a sentence asks or corrects.
    fn asked(&self, asker: &Asker, sentence: &str) -> Meaning {
        let corrected = afterwards::corrected(sentence, |name| self.names.contains(name));
        corrected.map_or_else(|| asked(asker, sentence), Meaning::Afterwards)
    }
}

/// What a sentence asks.
fn asked(asker: &Asker, sentence: &str) -> Meaning {
    // An emergency is no question, whatever else is said with it.
    if STOPS.iter().any(|stop| format!(" {sentence} ").contains(&format!(" {stop} "))) {
        return Meaning::Command(Command::StopEverything);
    }
    match sentence {
        "pause" => return Meaning::Command(Command::Pause),
        "resume" => return Meaning::Command(Command::Resume),
        _ => {}
    }
    let (question, nearest) = match asker.understand(sentence) {
        Understood::Question(question) => (Some(question), None),
        Understood::Not(nearest) => (None, nearest),
    };
    Meaning::Asked { words: sentence.into(), question, nearest }
}

impl Vocabulary {
    /// Spans in which a time is guessed: whole and half minutes up to `most`, at most 99.
    pub fn spans(most: Ms) -> Vocabulary {
        let most = most.0.div_ceil(60_000).clamp(2, 99);
        let mut phrases = BTreeMap::new();
        STOPS.iter().for_each(|stop| drop(phrases.insert(split(stop), Meaning::Command(Command::StopEverything))));
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
        Vocabulary { phrases, ..Vocabulary::default() }
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
        use crate::intent::Question;
        let questions = Vocabulary::questions(&facial());
        let asks = |phrase: &str| {
            assert!(meaning(&questions, phrase).is_some(), "{phrase} is listened for");
            match asked(questions.asker.as_ref().unwrap(), phrase) {
                Meaning::Asked { question, .. } => question,
                other => panic!("{phrase}: {other:?}"),
            }
        };
        let how_long = |name: &str| Some(Question::HowLong(name.into()));
        assert_eq!(asks("how long was the massage"), how_long("massage"));
        assert_eq!(asks("how long did the steam towel take"), how_long("steam towel"));
        assert_eq!(asks("when did i sanitize"), Some(Question::When("sanitize".into())));
        assert_eq!(asks("what did i miss"), Some(Question::Missed));
        assert_eq!(meaning(&questions, "sanitize"), None, "callouts are over");
        let stops = STOPS.map(|stop| (stop, Command::StopEverything));
        let commands = [&stops[..], &[("pause", Command::Pause), ("resume", Command::Resume)]].concat();
        for (words, command) in &commands {
            let meant = asked(questions.asker.as_ref().unwrap(), words);
            assert_eq!(meant, Meaning::Command(*command), "{words}");
        }
        let command = |s: &str| commands.iter().any(|(words, _)| *words == s);
        let others = SENTENCES.split('|').filter(|s| *s != "thank you" && !command(s));
        let lost: Vec<&str> = others.filter(|s| asks(s).is_none()).collect();
        assert!(lost.is_empty(), "{lost:?}");
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
