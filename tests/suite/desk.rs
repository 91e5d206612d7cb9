//! The front desk: what is said, shown and begun for what is heard, as a state machine and in its loop.

use crate::section::shipped;
use std::collections::VecDeque;
use stepbell::callout::{Heard, Meaning, Vocabulary};
use stepbell::desk::{BEGIN, Before, Choice, Desk, Effect, Entry, Event, Menu, NIGHT, SILENCE, Went};
use stepbell::driver::{Mouth, Press, Reception};
use stepbell::listen::{Arrived, Gate, Listener, Voiced};
use stepbell::review::SearchTarget;
use stepbell::time::{Ms, SampleIndex};
use stepbell::voice::Speech;

/// A facial whose runs show a weak mask, a manicure, and an exam; nothing else was rehearsed.
fn menu() -> Menu {
    let mut facial = Entry::of(&shipped("basic-facial"), "basic facial");
    facial.before = Some(Before {
        runs: "3 runs".into(),
        weak: vec!["apply the coloured mask".into()],
        drill: vec!["mask".into()],
        ready: "By your 3 runs.".into(),
    });
    let exam = Entry::of_exam("The whole exam", &["station-set-up", "basic-facial"].map(shipped));
    let others = ["make-up", "nails/water-manicure"]
        .map(|name| Entry::of(&shipped(name), &name.rsplit('/').next().unwrap().replace('-', " ")));
    Menu { entries: [facial].into_iter().chain(others).chain([exam]).collect(), last: Some(0) }
}

/// A desk, and what it said last.
struct Evening {
    desk: Desk,
    said: Vec<(u32, String)>,
    effects: Vec<Effect>,
}

impl Evening {
    fn opened(menu: Menu) -> Evening {
        let mut evening = Evening { desk: Desk::new(menu, false), said: vec![], effects: vec![] };
        evening.tell(Event::Opened);
        evening
    }

    fn tell(&mut self, event: Event) -> String {
        self.effects = self.desk.handle(&event);
        let said: Vec<(u32, String)> = self
            .effects
            .iter()
            .filter_map(|e| if let Effect::Speak { id, text } = e { Some((*id, text.clone())) } else { None })
            .collect();
        self.said.extend(said.clone());
        said.into_iter().map(|(_, text)| text).collect::<Vec<_>>().join(" ")
    }

    fn hear(&mut self, phrase: &str) -> String {
        assert!(self.desk.vocabulary().phrases().any(|p| p == phrase), "{phrase} is listened for");
        self.tell(Event::Heard(phrase.into()))
    }

    /// The last announcement ends.
    fn spoken(&mut self) -> String {
        let id = self.said.last().unwrap().0;
        self.tell(Event::SpeechEnded(id))
    }

    fn begun(&mut self) -> Choice {
        assert_eq!(self.hear("ready"), BEGIN);
        self.spoken();
        let [Effect::Begin(choice)] = &self.effects[..] else { panic!("{:?}", self.effects) };
        choice.clone()
    }
}

#[test]
fn a_section_is_chosen_and_waits_for_ready() {
    let mut evening = Evening::opened(menu());
    let greeting = &evening.said[0].1;
    assert!(greeting.contains("Skin care: Basic facial, 25 minutes; Make-up, 20 minutes."), "{greeting}");
    assert!(greeting.contains("Last time it was Basic facial"), "{greeting}");
    // "Ready" for nothing begins nothing.
    assert!(evening.hear("ready").starts_with("Which section?"));
    let told = evening.hear("basic facial");
    // All its cautions are read, and what the tool can't know, before anything begins; the second time only what is asked.
    for caution in &shipped("basic-facial").cautions {
        assert!(told.contains(caution), "{told}");
    }
    assert!(told.contains("Practice mode.") && told.ends_with("Say ready when your hands are."), "{told}");
    assert!(!evening.effects.iter().any(|e| matches!(e, Effect::Begin(_))));
    assert!(!evening.hear("the basic facial").contains("Water at"));
    assert_eq!(evening.hear("exam mode"), "Exam mode. Say ready when your hands are.");
    assert_eq!(evening.begun(), Choice { entry: 0, exam: true, ..Choice::default() });
}

#[test]
fn the_reading_is_skipped_in_practice_only() {
    let mut evening = Evening::opened(menu());
    evening.hear("make up");
    assert!(evening.hear("skip the reading").contains("without the reading"));
    // Exam mode takes it back, and refuses it.
    assert_eq!(evening.hear("exam mode"), "Exam mode. Say ready when your hands are.");
    assert!(evening.hear("skip the reading").starts_with("In exam mode"));
    evening.hear("practice mode");
    evening.hear("skip the reading");
    assert_eq!(evening.begun(), Choice { entry: 1, skips_reading: true, ..Choice::default() });
}

#[test]
fn drills_again_next_and_the_exam_are_asked_for_by_voice() {
    let mut evening = Evening::opened(menu());
    let advice = "Basic facial, by 3 runs: apply the coloured mask. Say drill to do just that.";
    assert_eq!(evening.hear("what should i practice"), advice);
    assert!(evening.hear("drill").contains("a drill of mask"));
    assert_eq!(evening.begun(), Choice { drill: vec!["mask".into()], ..Choice::default() });
    // After the run, back at the desk; nothing of the last choice is left.
    let back = evening.tell(Event::Back(Went::Over, menu()));
    assert!(back.contains("again, next section"), "{back}");
    evening.hear("next section");
    // The longest first: behind the facial of 25 minutes comes the make-up of 20.
    assert_eq!(evening.begun(), Choice { entry: 1, ..Choice::default() });
    // Asked for in the run itself, the same once more still waits for "ready".
    assert!(evening.tell(Event::Back(Went::Again, menu())).starts_with("Once more. Make-up, 20 minutes."));
    evening.hear("something else");
    evening.hear("again");
    evening.hear("drill the steam towel");
    assert_eq!(evening.begun().drill, ["steam-towel"]);
    evening.tell(Event::Back(Went::Over, menu()));
    evening.hear("mock exam");
    for wish in ["skip the reading", "with the reading", "practice mode", "exam mode", "drill", "drill a dropped item"]
    {
        assert!(evening.hear(wish).contains("gone through as it is"), "{wish}");
    }
    assert_eq!(evening.begun(), Choice { entry: 3, ..Choice::default() });
    evening.tell(Event::Back(Went::Over, menu()));
    assert!(evening.hear("nails").starts_with("Nails: Water manicure"));
    assert_eq!(evening.hear("am i ready"), "By your 3 runs.");
    // Nothing is known of a section that was never gone through.
    evening.hear("water manicure");
    assert!(evening.hear("what should i practise").contains("no whole run of it yet"));
    assert!(evening.hear("drill").contains("nothing to drill yet"));
    assert_eq!(evening.hear("good night"), NIGHT);
    assert!(!evening.desk.closed());
    evening.spoken();
    assert!(evening.desk.closed() && evening.effects.contains(&Effect::Close));
}

/// What a mock exam is, and no more: its sections' cautions, each once, and nothing offered that it has not.
#[test]
fn a_mock_exam_is_told_as_one() {
    let mut evening = Evening::opened(menu());
    let told = evening.hear("mock exam");
    assert!(told.starts_with("The whole exam. Exam mode."), "{told}");
    let cautions: Vec<String> =
        ["station-set-up", "basic-facial"].into_iter().flat_map(|s| shipped(s).cautions).collect();
    for caution in &cautions {
        assert_eq!(told.matches(caution.as_str()).count(), 1, "{caution}: {told}");
    }
    assert!(cautions.iter().all(|caution| evening.hear("the cautions").contains(caution)));
    let [_, Effect::Show(_, lines)] = &evening.desk.clone().handle(&Event::Silence)[..] else {
        panic!("help is shown")
    };
    let help = evening.hear("help") + &lines.join(" ");
    assert!(help.contains("the cautions") && help.contains("Exam mode"), "{help}");
    for not in ["drill", "reading", "practice"] {
        assert!(!help.to_lowercase().contains(not), "{not}: {help}");
    }
    assert!(evening.hear("am i ready").contains("each section alone"));
}

/// Named where no section is chosen, a step is one of the section rehearsed last, which is drilled: not what is weak in it.
#[test]
fn the_step_that_is_named_is_drilled() {
    let mut weak = menu();
    weak.entries[0].before.as_mut().unwrap().drill = vec!["toner".into()];
    let mut evening = Evening::opened(weak.clone());
    evening.hear("what should i practise");
    let told = evening.hear("drill the steam towel");
    assert!(told.starts_with("Basic facial, 25 minutes. Practice mode, a drill of "), "{told}");
    let towel = Choice { drill: vec!["steam-towel".into()], ..Choice::default() };
    assert_eq!(evening.begun(), towel);
    evening.tell(Event::Back(Went::Over, weak));
    evening.hear("drill the steam towel");
    assert_eq!(evening.begun(), towel);
    // Where nothing was rehearsed yet there is nothing to name.
    let evening = Evening::opened(Menu { last: None, ..menu() });
    assert!(!evening.desk.vocabulary().phrases().any(|p| p == "drill the steam towel"));
}

/// Every phrase that is listened for is answered with words, whatever was said before, and the desk goes on waiting.
#[test]
fn no_phrase_is_a_dead_end() {
    for chosen in [None, Some("basic facial"), Some("mock exam")] {
        let mut evening = Evening::opened(menu());
        chosen.iter().for_each(|c| drop(evening.hear(c)));
        let phrases: Vec<String> = evening.desk.vocabulary().phrases().collect();
        assert!(phrases.len() > 100, "{}", phrases.len());
        let before = evening.desk.clone();
        for phrase in phrases {
            evening.desk = before.clone();
            let said = evening.hear(&phrase);
            let stops = ["stop everything", "emergency"].contains(&phrase.as_str());
            assert_eq!(evening.desk.closed(), stops, "{phrase}");
            assert_eq!(said.is_empty(), stops, "{phrase}: {said}");
            assert!(stops || evening.effects.iter().any(|e| matches!(e, Effect::Await(_))), "{phrase}");
        }
    }
}

#[test]
fn what_can_be_said_is_told_after_a_minute_and_seldomer_then() {
    let mut evening = Evening::opened(menu());
    assert!(evening.effects.contains(&Effect::Await(SILENCE.0)), "{:?}", evening.effects);
    let mut waited = SILENCE.0;
    for _ in 0..8 {
        assert!(evening.tell(Event::Silence).starts_with("Say a section's name."));
        evening.spoken();
        waited = Ms((waited.0 * 2).min(SILENCE.1.0));
        assert_eq!(evening.effects, [Effect::Await(waited)]);
    }
    evening.hear("make up");
    assert!(evening.effects.contains(&Effect::Await(SILENCE.0)), "a word begins the waiting anew");
    assert!(evening.tell(Event::Silence).starts_with("Say ready, and I begin."));
}

#[test]
fn what_is_wrong_with_the_sound_is_said_once() {
    let mut evening = Evening::opened(menu());
    assert_eq!(evening.hear("check the microphone"), "Say a little more, and ask again.");
    assert_eq!(evening.tell(Event::Sound(vec![])), "");
    assert_eq!(evening.hear("check the microphone"), "I hear you well, and the room is quiet enough.");
    let bad = Event::Sound(vec!["You are very quiet.".into()]);
    assert_eq!(evening.tell(bad.clone()), "A word on the sound. You are very quiet.");
    assert_eq!(evening.tell(bad), "");
    assert_eq!(evening.hear("check the microphone"), "You are very quiet.");
}

/// What takes an evening to a state.
type Reach<'a> = &'a dyn Fn(&mut Evening);

/// A row a state, a column an emergency word: everything ends at once, without another word.
#[test]
fn emergency_words_end_it_in_every_state() {
    let chosen = |evening: &mut Evening| drop(evening.hear("basic facial"));
    let states: [(&str, Reach); 5] = [
        ("choosing", &|_| {}),
        ("waiting for ready", &chosen),
        ("about to begin", &|e| {
            chosen(e);
            e.hear("ready");
        }),
        ("back from a run", &|e| {
            chosen(e);
            e.begun();
            e.tell(Event::Back(Went::Over, menu()));
        }),
        ("parting", &|e| drop(e.hear("good night"))),
    ];
    for (state, reach) in states {
        for word in ["stop everything", "emergency"] {
            let mut evening = Evening::opened(menu());
            reach(&mut evening);
            assert_eq!(evening.hear(word), "", "{state}: {word}");
            assert_eq!(evening.effects, [Effect::Hush, Effect::Close], "{state}: {word}");
            assert!(evening.desk.closed());
        }
    }
    // One said in a run ends the evening, too.
    let mut evening = Evening::opened(menu());
    chosen(&mut evening);
    evening.begun();
    assert_eq!(evening.tell(Event::Back(Went::Stopped, menu())), "");
    assert!(evening.desk.closed());
}

/// Somebody who says each phrase once the desk has been quiet for two seconds.
struct Script {
    says: Vec<&'static str>,
    vocabulary: Vocabulary,
    gate: Gate,
    fed: SampleIndex,
    quiet: u32,
    /// Whether the sound ends behind the last of them.
    ends: bool,
}

impl Listener for Script {
    async fn next(&mut self) -> Arrived {
        tokio::task::yield_now().await;
        if self.says.is_empty() && self.ends && self.quiet > 50 { Arrived::Ended } else { Arrived::Chunk { lost: 0 } }
    }

    async fn decode(&mut self, voiced: Vec<Voiced>) -> Vec<Heard> {
        voiced.iter().for_each(|voiced| self.gate.tell(voiced, false));
        let from = self.fed;
        self.fed = self.fed + Ms(100);
        self.quiet = if self.gate.own(from) { 0 } else { self.quiet + 1 };
        if self.quiet < 20 || self.says.is_empty() {
            return vec![];
        }
        self.quiet = 0;
        let say = self.says.remove(0);
        assert!(self.vocabulary.phrases().any(|p| p == say), "{say} is listened for by now");
        vec![Heard { meaning: Meaning::Callout(say.into()), start: from, end: self.fed, confidence: 1.0 }]
    }

    async fn finish(&mut self) -> Vec<Heard> {
        vec![]
    }

    async fn set_grammar(&mut self, vocabulary: Vocabulary) {
        self.vocabulary = vocabulary;
    }

    async fn search(&mut self, _: Vec<SearchTarget>) -> Vec<(usize, SampleIndex)> {
        unreachable!("the desk looks for nothing again")
    }
}

/// A mouth that notes what it says, where; and what is still to be played.
#[derive(Default)]
struct Noted(Vec<(SampleIndex, String)>, VecDeque<String>);

impl Mouth for Noted {
    fn speech(&mut self, text: &str) -> Speech {
        self.1.push_back(text.into());
        Speech::silent(text)
    }
    fn play(&mut self, at: SampleIndex, _: &Speech) {
        self.0.extend(self.1.pop_front().map(|text| (at, text)));
    }
    fn hush(&mut self, _: SampleIndex) {
        self.1.clear();
    }
}

/// Stand at a desk with this script; gives what was begun, where, and all that was said.
fn stood(desk: &mut Desk, says: &[&'static str], ends: bool, press: bool) -> (Option<Choice>, SampleIndex, Noted) {
    let mut mouth = Noted::default();
    let (presses, interrupt) = tokio::sync::mpsc::unbounded_channel();
    if press {
        presses.send(Press::Hold).unwrap();
    }
    let script = Script {
        says: says.to_vec(),
        vocabulary: Vocabulary::default(),
        gate: Gate::default(),
        fed: SampleIndex(0),
        quiet: 0,
        ends,
    };
    let mut measured = 0;
    let reception = Reception {
        desk,
        mouth: &mut mouth,
        show: &mut |_, _| {},
        measure: &mut |quiet, start, end| {
            assert!(quiet <= start && start < end);
            measured += 1;
            (measured == 1).then(|| vec!["You are very quiet.".into()])
        },
        headset: false,
    };
    let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
    let (choice, at) = runtime.block_on(reception.stand(SampleIndex(0), Event::Opened, script, interrupt));
    (choice, at, mouth)
}

#[test]
fn the_loop_speaks_waits_and_begins() {
    let mut desk = Desk::new(menu(), false);
    let (choice, at, mouth) = stood(&mut desk, &["basic facial", "skip the reading", "ready"], false, false);
    assert_eq!(choice, Some(Choice { skips_reading: true, ..Choice::default() }));
    let (last, words) = mouth.0.last().unwrap();
    assert!(BEGIN.ends_with(words.as_str()), "{words}");
    // The run begins when that has been said, to a chunk.
    let spoken = *last + Speech::silent(words).length();
    assert!(at >= spoken && at.since(spoken) <= Ms(100), "{at:?} {spoken:?}");
    assert_eq!(mouth.0.iter().filter(|(_, said)| said.starts_with("A word on the sound.")).count(), 1);
    // Nobody says a word: after a minute of it the desk tells what can be said.
    let mut desk = Desk::new(menu(), false);
    let (choice, _, mouth) = stood(&mut desk, &[], true, false);
    assert!(choice.is_none() && desk.closed() && !mouth.0.is_empty(), "the end of the sound is the end");
    let mut desk = Desk::new(menu(), false);
    let (choice, at, _) = stood(&mut desk, &[], true, true);
    assert!(choice.is_none() && desk.closed() && at == SampleIndex(0), "so is Ctrl-C");
}

/// A double click asks gloved hands for nothing typed: it goes to the desk, and to names that are typed only where the desk can't be.
#[test]
fn a_double_click_goes_to_the_front_desk() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::create_dir(at("program")).unwrap();
    std::fs::copy("models/bundle/start.sh", at("start.sh")).unwrap();
    // No terminal is found here to open a window with, only what the script itself needs.
    let path: Vec<_> = std::env::split_paths(&std::env::var_os("PATH").unwrap()).collect();
    for tool in ["sh", "dirname"] {
        let found = path.iter().map(|p| p.join(tool)).find(|p| p.exists()).unwrap();
        std::os::unix::fs::symlink(found, at(tool)).unwrap();
    }
    let started = |listens: u8| {
        let log = at("log");
        let program = format!("#!/bin/sh\necho \"$*\" >>'{}'\n[ \"$1\" != listen ] || exit {listens}\n", log.display());
        std::fs::write(&log, "").unwrap();
        std::fs::write(at("program/stepbell"), program).unwrap();
        std::fs::set_permissions(at("program/stepbell"), std::fs::Permissions::from_mode(0o755)).unwrap();
        let mut shell = std::process::Command::new(at("sh"));
        shell.arg(at("start.sh")).env("PATH", folder.path()).stdin(std::process::Stdio::null());
        assert!(shell.output().unwrap().status.success());
        std::fs::read_to_string(log).unwrap()
    };
    assert_eq!(started(0), "--version\nlisten\n");
    assert_eq!(started(3), "--version\nlisten\nsections\n");
}
