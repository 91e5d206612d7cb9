//! What can be said at the front desk, and what it asks for.

use super::menu::Menu;
use crate::callout::Vocabulary;
use crate::words::plain;
use std::collections::BTreeMap;

/// What somebody asks for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Wish {
    /// A section or an exam, by its place in the menu.
    Rehearse(usize),
    /// The sections of a trade.
    Trade(String),
    List,
    More,
    Mock,
    Exam,
    Practice,
    Again,
    NextSection,
    Practise,
    AmReady,
    /// What runs show somebody to be weakest in.
    DrillWeak,
    /// The steps that go by this name.
    Drill(String),
    DrillDrops,
    Whole,
    SkipReading,
    Read,
    Ready,
    Cautions,
    Cancel,
    Help,
    Repeat,
    Slower,
    Sound,
    Night,
    Stop,
}

/// By wish: its wordings, parted by bars.
const WORDINGS: [(Wish, &str); 24] = [
    (
        Wish::List,
        "what is there|what have you got|list the sections|list all sections|which sections are there|what can i rehearse|what is on the list",
    ),
    (Wish::More, "tell me more|more sections|what else is there"),
    (Wish::Mock, "mock exam|the mock exam|whole exam|the whole exam|go through the whole exam"),
    (Wish::Exam, "exam mode|in exam mode|as in the exam|without help"),
    (Wish::Practice, "practice mode|in practice mode|coach mode|with help"),
    (Wish::Again, "again|once more|the same again|one more time|do it again"),
    (Wish::NextSection, "next section|the next section|go on to the next section"),
    (
        Wish::Practise,
        "what should i practise|what should i practice|what should i work on|what do i need to practice|what should i practice next",
    ),
    (Wish::AmReady, "am i ready|am i ready for the exam|how ready am i"),
    (
        Wish::DrillWeak,
        "drill|a drill|drill my weak steps|drill the weak steps|drill what i am weak in|drill that|with a drill",
    ),
    (Wish::DrillDrops, "drill a dropped item|dropped item drill|drill dropped items"),
    (Wish::Whole, "the whole section|all of it|no drill"),
    (Wish::SkipReading, "skip the reading|without the reading|leave out the reading"),
    (Wish::Read, "with the reading|read it to me"),
    (Wish::Ready, "ready|i'm ready|i am ready|yes ready|okay ready"),
    (Wish::Cautions, "what are the cautions|read the cautions|the cautions"),
    (Wish::Cancel, "something else|another section|cancel|go back|not that one"),
    (Wish::Help, "help|what can i say|what can i ask"),
    (Wish::Repeat, "repeat|repeat that|say that again|pardon"),
    (Wish::Slower, "slower|slower please|slow down"),
    (Wish::Sound, "check the microphone|microphone check|how is the sound|can you hear me"),
    (Wish::Night, "good night|goodbye|that's all|that is all|that's all for today|i'm done for today"),
    (Wish::Stop, "stop everything|emergency"),
    (Wish::Whole, "everything"),
];

/// Everything that can be said, plain, and what it asks for. `of`: the section whose steps can be drilled.
pub(super) fn wishes(menu: &Menu, of: Option<usize>) -> BTreeMap<String, Wish> {
    let mut wishes = BTreeMap::new();
    let mut add = |phrase: String, wish: &Wish| {
        if !phrase.is_empty() {
            wishes.entry(phrase).or_insert_with(|| wish.clone());
        }
    };
    for (wish, wordings) in &WORDINGS {
        wordings.split('|').for_each(|w| add(w.into(), wish));
    }
    for (name, _) in of.into_iter().flat_map(|k| &menu.entries[k].drills) {
        let wish = Wish::Drill(name.clone());
        add(format!("drill {name}"), &wish);
        add(format!("drill the {name}"), &wish);
    }
    for (place, entry) in menu.entries.iter().enumerate() {
        let wish = Wish::Rehearse(place);
        for name in [plain(&entry.title)].iter().chain(&entry.names) {
            for lead in ["", "the ", "rehearse the ", "let's do the ", "i want the "] {
                add(format!("{lead}{name}"), &wish);
            }
        }
    }
    for trade in menu.trades() {
        add(plain(trade), &Wish::Trade(trade.into()));
    }
    wishes
}

/// The same as phrases to listen for.
pub(super) fn vocabulary(wishes: &BTreeMap<String, Wish>) -> Vocabulary {
    Vocabulary::of_phrases(wishes.keys().map(String::as_str))
}
