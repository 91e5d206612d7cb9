//! The front desk as a state machine: what somebody says in, what is said, shown and begun out. It reads no clock, file or device; what is there
//! and what earlier runs show is told to it.

mod answers;
mod menu;
mod wish;

pub use menu::{Before, Entry, Menu};

use crate::callout::Vocabulary;
use crate::time::Ms;
use std::collections::{BTreeMap, BTreeSet};
use wish::{Wish, vocabulary, wishes};

/// What can be said is told after so long without a word; each time twice as long, up to the second.
pub const SILENCE: (Ms, Ms) = (Ms(60_000), Ms(16 * 60_000));

/// What somebody chose to rehearse.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Choice {
    /// Its place in the menu.
    pub entry: usize,
    /// One warning and no help.
    pub exam: bool,
    /// Ids of the steps drilled; empty for the whole of it.
    pub drill: Vec<String>,
    /// Whether an item is made to drop.
    pub drops: bool,
    /// Whether the reading is left out.
    pub skips_reading: bool,
}

/// How a run that was begun from here ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Went {
    /// It was gone through, or ended early.
    Over,
    /// And is wanted once more.
    Again,
    /// Everything was to stop.
    Stopped,
}

/// Something that happened.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// Somebody came.
    Opened,
    /// A run begun from here is over; what is there now, and what runs show.
    Back(Went, Menu),
    /// A phrase was heard.
    Heard(String),
    /// The announcement numbered so ended.
    SpeechEnded(u32),
    /// Nobody said anything for as long as was asked for.
    Silence,
    /// What the microphone and the room are like: what is wrong with it, worst first; nothing where all is well.
    Sound(Vec<String>),
    /// The microphone gives no sound.
    MicrophoneLost,
    /// It does again.
    MicrophoneBack,
    /// There will be no more sound.
    MicrophoneEnded,
    /// The person ended it at the keyboard.
    Interrupted,
}

/// Something to do.
#[derive(Clone, Debug, PartialEq)]
pub enum Effect {
    /// Say this, behind what is being said.
    Speak {
        /// Number of the announcement.
        id: u32,
        /// The words.
        text: String,
    },
    /// Show a headline for somebody across the room, and lines under it.
    Show(String, Vec<String>),
    /// Listen for these phrases, and no others.
    Listen(Vocabulary),
    /// Tell of a silence of so long from now on.
    Await(Ms),
    /// Speak more slowly from now on.
    Slower,
    /// Stop speaking.
    Hush,
    /// Begin a run.
    Begin(Choice),
    /// It is over.
    Close,
}

/// Where the desk is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stage {
    /// Something is to be chosen.
    Choosing,
    /// It was, and "ready" is waited for.
    Waiting,
    /// That was said; the run begins behind this announcement.
    Beginning(u32),
    /// A run goes on, elsewhere.
    Away,
    /// The last words are said.
    Parting(u32),
    Closed,
}

/// The desk of one evening.
#[derive(Clone, Debug, PartialEq)]
pub struct Desk {
    menu: Menu,
    stage: Stage,
    choice: Choice,
    /// Whose cautions were read this evening.
    cautioned: Vec<usize>,
    /// The trade that is told of, and how many of its sections were told.
    told: (String, usize),
    wishes: BTreeMap<String, Wish>,
    silence: Ms,
    /// What is wrong with the sound, once it is known, and whether that was said.
    sound: Option<Vec<String>>,
    sound_told: bool,
    next_id: u32,
    last_said: String,
}

impl Desk {
    /// A desk with this menu, in exam mode where nothing else is said or not. It waits for [`Event::Opened`].
    pub fn new(menu: Menu, exam: bool) -> Desk {
        Desk {
            told: (menu.usual(), 0),
            wishes: wishes(&menu, menu.last),
            menu,
            stage: Stage::Choosing,
            choice: Choice { exam, ..Choice::default() },
            cautioned: vec![],
            silence: SILENCE.0,
            sound: None,
            sound_told: false,
            next_id: 0,
            last_said: String::new(),
        }
    }

    /// Whether the evening is over.
    pub fn closed(&self) -> bool {
        self.stage == Stage::Closed
    }

    /// What is listened for now.
    pub fn vocabulary(&self) -> Vocabulary {
        vocabulary(&self.wishes)
    }

    /// Every word of what can be said at this desk, whatever is chosen.
    pub fn words(&self) -> Vec<String> {
        let all = (0..self.menu.entries.len()).flat_map(|k| wishes(&self.menu, Some(k)).into_keys());
        let words: BTreeSet<String> = all.flat_map(|p| p.split(' ').map(str::to_string).collect::<Vec<_>>()).collect();
        words.into_iter().collect()
    }

    /// Take in one event.
    pub fn handle(&mut self, event: &Event) -> Vec<Effect> {
        match (event, self.stage) {
            (_, Stage::Closed) => vec![],
            (Event::Interrupted, _) => self.close(),
            (Event::Opened, _) => self.greet(),
            (Event::Back(went, menu), Stage::Away) => self.back(*went, menu),
            (Event::Heard(phrase), stage) => match self.wishes.get(phrase).cloned() {
                Some(Wish::Stop) => self.close(),
                Some(wish) if matches!(stage, Stage::Choosing | Stage::Waiting) => {
                    self.silence = SILENCE.0;
                    let mut effects = vec![Effect::Hush];
                    effects.extend(self.wished(&wish));
                    effects.push(Effect::Await(self.silence));
                    effects
                }
                _ => vec![],
            },
            (Event::SpeechEnded(id), Stage::Beginning(last)) if *id == last => {
                self.stage = Stage::Away;
                vec![Effect::Begin(self.choice.clone())]
            }
            (Event::SpeechEnded(id), Stage::Parting(last)) if *id == last => self.close(),
            (Event::SpeechEnded(_), Stage::Choosing | Stage::Waiting) => vec![Effect::Await(self.silence)],
            (Event::Silence, Stage::Choosing | Stage::Waiting) => {
                self.silence = Ms((self.silence.0 * 2).min(SILENCE.1.0));
                self.help()
            }
            (Event::Sound(advice), _) => self.heard_the_room(advice),
            (Event::MicrophoneLost, _) => {
                vec![
                    Effect::Hush,
                    Effect::Show("NO MICROPHONE".into(), vec!["It gives no sound.".into()]),
                    self.aside(DEAF),
                ]
            }
            (Event::MicrophoneBack, Stage::Choosing | Stage::Waiting) => vec![self.say("I can hear again.".into())],
            (Event::MicrophoneEnded, _) => self.close(),
            _ => vec![],
        }
    }

    fn say(&mut self, text: String) -> Effect {
        self.last_said.clone_from(&text);
        self.aside(&text)
    }

    /// The same, but "repeat" doesn't mean it.
    fn aside(&mut self, text: &str) -> Effect {
        let id = self.next_id;
        self.next_id += 1;
        Effect::Speak { id, text: text.into() }
    }

    fn close(&mut self) -> Vec<Effect> {
        self.stage = Stage::Closed;
        vec![Effect::Hush, Effect::Close]
    }

    /// Choose something, or nothing, and listen for what can be said then.
    fn choose(&mut self, entry: Option<usize>) -> Effect {
        self.stage = if entry.is_some() { Stage::Waiting } else { Stage::Choosing };
        self.choice = Choice { entry: entry.unwrap_or_default(), exam: self.choice.exam, ..Choice::default() };
        // Where nothing is chosen, a step that is named is one of the section rehearsed last.
        self.wishes = wishes(&self.menu, entry.or(self.menu.last));
        Effect::Listen(self.vocabulary())
    }

    fn back(&mut self, went: Went, menu: &Menu) -> Vec<Effect> {
        self.menu = menu.clone();
        self.silence = SILENCE.0;
        let choice = self.choice.clone();
        match went {
            Went::Stopped => self.close(),
            Went::Again => {
                let listen = self.choose(Some(choice.entry));
                self.choice = choice;
                let mut effects = vec![listen];
                effects.extend(self.chosen("Once more."));
                effects
            }
            Went::Over => {
                let listen = self.choose(None);
                let text = "You are back at the desk. Say: again, next section, what should I practise, or a section. Good night ends.";
                vec![listen, self.say(text.into()), self.shown(), Effect::Await(self.silence)]
            }
        }
    }
}

/// Said when the microphone gives nothing.
pub const DEAF: &str = "I can't hear you. Is the microphone on?";

/// Said in front of a run.
pub const BEGIN: &str = "Good. One moment.";

/// Said at the end.
pub const NIGHT: &str = "Good night.";
