//! What is said afterwards of what was called: an answer before the recap, corrections behind it. By events, as a journal has them.

use crate::section::shipped;
use std::path::Path;
use stepbell::audio::{CHUNK, Converter, read_wav};
use stepbell::callout::{Afterwards, Command, Heard, Meaning, Vocabulary};
use stepbell::history::{CLAIMED, History, NOT_CALLED, PERHAPS};
use stepbell::listen::{DECOYS, Ears, Gate, Model};
use stepbell::outcome::{Fade, Mode};
use stepbell::recap;
use stepbell::review::Finding;
use stepbell::session::{Effect, Event, Session, Settings, Timer};
use stepbell::time::SampleIndex;

fn settings() -> Settings {
    Settings { listens_again: true, seeks_choices: true, confirms: true, answers: true, ..Settings::from(Mode::Exam) }
}

/// A run by events, each a second behind the one before; what is said is said to its end at once.
struct Run {
    session: Session,
    now: f64,
    said: Vec<String>,
    listens: Vec<Vocabulary>,
    events: Vec<(SampleIndex, Event)>,
}

impl Run {
    /// Every step called in the order of the file but these, which the second listen finds; to its finish, and what is said then.
    fn without(left_out: &[&str]) -> Run {
        Run::found(left_out, left_out)
    }

    /// The same where the second listen finds these only.
    fn found(left_out: &[&str], found: &[&str]) -> Run {
        let steps = shipped("basic-facial").steps;
        let called = steps.iter().filter(|s| !left_out.contains(&s.id.as_str())).map(|s| s.say[0].clone());
        Run::calling(called, found)
    }

    /// A run of these callouts, half a minute each.
    fn calling(called: impl Iterator<Item = String>, found: &[&str]) -> Run {
        let session = Session::new(shipped("basic-facial"), settings());
        let mut run = Run { session, now: 0.0, said: vec![], listens: vec![], events: vec![] };
        run.tell(Event::Opened);
        while !run.session.running() {
            run.tell(Event::TimerFired(Timer::Gap));
        }
        for say in called {
            run.heard(Meaning::Callout(say));
            run.now += 30.0;
        }
        run.heard(Meaning::Command(Command::Finished));
        run.tell(Event::TimerFired(Timer::Late));
        let steps = run.session.section().steps.iter().enumerate();
        let found = steps.filter(|(_, s)| found.contains(&s.id.as_str()));
        let found = found.map(|(k, _)| (k, SampleIndex(16_000 * 20))).collect();
        run.tell(Event::Searched(found));
        run
    }

    /// The same events, written and read as a journal has them, leave the same state.
    fn replays(&self) {
        let mut again = Session::new(shipped("basic-facial"), settings());
        for (at, event) in &self.events {
            let read: Event = serde_json::from_str(&serde_json::to_string(event).unwrap()).unwrap();
            again.handle(*at, &read);
        }
        assert_eq!(again.digest(), self.session.digest());
        assert_eq!(recap::text(again.section(), again.outcome()), self.text());
    }

    fn step(&self, id: &str) -> usize {
        self.session.section().steps.iter().position(|s| s.id == id).unwrap()
    }

    /// The page and the JSON of the run.
    fn view(&self) -> (String, serde_json::Value) {
        let (section, outcome) = (self.session.section(), self.session.outcome());
        let view = recap::RunView {
            section,
            outcome,
            review: recap::reviewed(section, outcome),
            started: "2026-03-01T10:00:00Z",
            mode: Mode::Exam,
            compress: 1,
            seed: 0,
        };
        let json = serde_json::from_str(&recap::json(&view)).unwrap();
        let schema = serde_json::from_str(recap::SCHEMA).unwrap();
        jsonschema::validate(&schema, &json).unwrap();
        (recap::page(&view, None), json)
    }

    fn heard(&mut self, meaning: Meaning) {
        let at = SampleIndex::from_seconds(self.now);
        self.tell(Event::Heard(Heard { meaning, start: at, end: at, confidence: 1.0 }));
    }

    fn says(&mut self, said: Afterwards) {
        self.heard(Meaning::Afterwards(said));
    }

    fn tell(&mut self, event: Event) {
        self.now += 1.0;
        let at = SampleIndex::from_seconds(self.now);
        self.events.push((at, event.clone()));
        for effect in self.session.handle(at, &event) {
            match effect {
                Effect::Speak { id, text, .. } => {
                    self.said.push(text);
                    self.tell(Event::SpeechEnded(id));
                }
                Effect::Listen(vocabulary) => self.listens.push(vocabulary),
                _ => {}
            }
        }
    }

    fn findings(&self) -> Vec<Finding> {
        recap::reviewed(self.session.section(), self.session.outcome()).findings
    }

    fn text(&self) -> String {
        recap::text(self.session.section(), self.session.outcome())
    }
}

#[test]
fn a_step_that_was_perhaps_called_is_asked_for_before_it_is_told() {
    let run = Run::without(&["toner"]);
    assert_eq!(run.said.last().unwrap(), "Did you call toner?");
    assert_eq!(run.listens, [Vocabulary::answers()]);
    assert!(!run.said.iter().any(|s| s.contains("perhaps called")), "nothing is told before the answer");
    let step = run.session.section().steps.iter().position(|s| s.id == "toner").unwrap();
    let after = |said: Option<Afterwards>| {
        let mut run = Run::without(&["toner"]);
        let digest = run.session.digest();
        match said {
            Some(said) => run.says(said),
            None => run.tell(Event::TimerFired(Timer::Answered)),
        }
        assert_ne!(run.session.digest(), digest, "the state says what was answered");
        run
    };
    let check = |said: Option<Afterwards>, finding: Finding, told: &str| {
        let run = after(said);
        assert_eq!(run.findings(), std::slice::from_ref(&finding));
        assert!(run.said.iter().any(|s| s.contains(told)), "{told}: {:?}", run.said);
        assert!(!run.session.outcome().called.iter().any(|c| c.say == "toner"), "what was heard stays as it is");
        assert!(run.said.last().unwrap().starts_with("Any questions?"));
    };
    let perhaps = Some(SampleIndex(320_000));
    let yes = Finding::ClaimedAfterwards { step, called: true, perhaps };
    check(Some(Afterwards::Yes), yes, "claimed afterwards: not heard for sure, perhaps called at");
    let unsaid = Finding::ClaimedAfterwards { step, called: false, perhaps };
    check(Some(Afterwards::Unsaid), unsaid, "gone through without a callout");
    check(Some(Afterwards::No), Finding::NotCalled { step }, "Not called:");
    check(None, Finding::Perhaps { step, at: SampleIndex(320_000) }, "perhaps called");
    assert!(after(Some(Afterwards::No)).text().contains("You said afterwards: toner: you did not call it."));
    after(Some(Afterwards::Yes)).replays();
}

#[test]
fn corrections_after_the_recap_change_what_is_told_and_can_be_taken_back() {
    let mut run = Run::without(&["toner"]);
    run.says(Afterwards::No);
    let before = run.text();
    run.says(Afterwards::Called("toner".into()));
    assert!(run.said.last().unwrap().starts_with("Noted, as claimed afterwards: "), "{:?}", run.said.last());
    assert!(run.text().contains("Toner, claimed afterwards: not heard for sure"));
    let (page, json) = run.view();
    assert!(page.contains("What you said afterwards") && page.contains("Toner: you called it."));
    assert!(page.contains("not heard; claimed afterwards") && !page.contains("done"));
    assert_eq!(json["findings"][0]["kind"], "claimed_afterwards");
    assert_eq!(json["corrections"][1], serde_json::json!({"said": "called", "step": "toner"}));
    assert!(!json["steps"].to_string().contains("toner"), "what is claimed is no step called");
    run.says(Afterwards::Undo);
    assert_eq!((run.said.last().unwrap().as_str(), run.text()), ("Taken back.", before.clone()));
    let calls = run.session.outcome().called.len();
    run.says(Afterwards::Not("steam towel".into()));
    assert_eq!(run.session.outcome().called.len(), calls - 1);
    assert!(run.text().contains("You said afterwards: steam towel, heard at"));
    let (_, json) = run.view();
    assert_eq!(
        (&json["corrections"][1]["said"], &json["corrections"][1]["heard"]["say"]),
        (&"no_callout".into(), &"steam towel".into())
    );
    run.replays();
    run.says(Afterwards::Undo);
    assert_eq!((run.session.outcome().called.len(), run.text()), (calls, before));
    // The answer before the recap is the last that is left, and then there is none.
    run.says(Afterwards::Undo);
    run.says(Afterwards::Undo);
    assert_eq!(run.said.last().unwrap(), "There is no correction to take back.");
    run.replays();
    run.says(Afterwards::Called("sanitize".into()));
    assert!(run.said.last().unwrap().starts_with("I have sanitize as called"), "{:?}", run.said.last());
}

/// "That was the toner", then "not the toner": it stands as it did before.
#[test]
fn a_claim_is_taken_back_by_its_name() {
    let mut run = Run::without(&["toner"]);
    run.says(Afterwards::No);
    let step = run.step("toner");
    run.says(Afterwards::Not("toner".into()));
    assert_eq!(run.said.last().unwrap(), "I have no callout for toner.");
    for claim in [Afterwards::Called("toner".into()), Afterwards::CalledNot("toner".into())] {
        run.says(claim);
        assert!(matches!(run.findings()[..], [Finding::ClaimedAfterwards { .. }]), "{:?}", run.findings());
        let calls = run.session.outcome().called.len();
        run.says(Afterwards::Not("toner".into()));
        assert_eq!(run.said.last().unwrap(), "Noted, as not called: toner.");
        assert_eq!(run.findings(), [Finding::NotCalled { step }]);
        assert_eq!(run.session.outcome().called.len(), calls);
    }
    run.replays();
    run.says(Afterwards::Undo);
    assert!(matches!(run.findings()[..], [Finding::ClaimedAfterwards { called: false, .. }]), "{:?}", run.findings());
}

/// What somebody says afterwards makes nothing safe that was heard to be unsafe, and no critical step called.
#[test]
fn nothing_critical_is_talked_away() {
    let facial = shipped("basic-facial");
    let critical = facial
        .steps
        .iter()
        .find(|s| s.critical && facial.steps.iter().filter(|o| o.say == s.say).count() == 1)
        .unwrap();
    let mut run = Run::found(&[&critical.id], &[]);
    let step = run.step(&critical.id);
    assert_eq!(run.findings()[0], Finding::NotCalled { step });
    run.says(Afterwards::Called(critical.say[0].clone()));
    let claimed = Finding::ClaimedAfterwards { step, called: true, perhaps: None };
    assert_eq!(run.findings()[0], claimed);
    assert!(claimed.critical(&facial), "a claim alone");
    assert!(run.text().contains("Critical: "), "{}", run.text());
    let (_, json) = run.view();
    assert_eq!(json["findings"][0]["critical"], true);
    assert_ne!(json["points"]["passed"], true);
    run.replays();

    // A towel laid on before it is tested: without that callout nothing would be unsafe.
    let mut order: Vec<&stepbell::section::Step> = facial.steps.iter().collect();
    let place = |id: &str| facial.steps.iter().position(|s| s.id == id).unwrap();
    order.swap(place("test-towel"), place("steam-towel"));
    let mut run = Run::calling(order.iter().map(|s| s.say[0].clone()), &[]);
    let burns = |run: &Run| run.findings().iter().filter(|f| matches!(f, Finding::Unsafe { .. })).count();
    assert_eq!(burns(&run), 1, "{:?}", run.findings());
    let told = run.text();
    run.says(Afterwards::Not("steam towel".into()));
    assert!(run.said.last().unwrap().ends_with("What is critical stays."), "{:?}", run.said.last());
    assert_eq!(burns(&run), 1, "{:?}", run.findings());
    let sentence = told.lines().find(|l| l.contains("A face can burn")).unwrap();
    assert!(run.text().contains(sentence.trim()), "{}", run.text());
    assert_ne!(run.view().1["points"]["passed"], true);
    run.replays();
}

/// By sentences, as they are heard: corrections are none of the questions, and questions none of them.
#[test]
fn corrections_are_told_from_questions() {
    let vocabulary = Vocabulary::questions(&shipped("basic-facial"));
    let asked = |sentence: &str| {
        let word = |(k, text): (usize, &str)| stepbell::words::Word {
            text: text.into(),
            start: SampleIndex(8_000 * k as u64),
            end: SampleIndex(8_000 * k as u64 + 6_000),
            confidence: 1.0,
        };
        let words: Vec<_> = sentence.split(' ').enumerate().map(word).collect();
        vocabulary.find(&words).pop().unwrap().meaning
    };
    let check = |sentence: &str, said: Afterwards| assert_eq!(asked(sentence), Meaning::Afterwards(said), "{sentence}");
    check("that was the toner", Afterwards::Called("toner".into()));
    check("not the towel", Afterwards::Not("towel".into()));
    check("i did the toner but i didn't say it", Afterwards::CalledNot("toner".into()));
    check("undo", Afterwards::Undo);
    assert_eq!(asked("pause"), Meaning::Command(Command::Pause));
    assert_eq!(asked("resume"), Meaning::Command(Command::Resume));
    for question in ["what did i miss", "when was the toner", "did i call the toner", "was that better than last time"]
    {
        assert!(matches!(asked(question), Meaning::Asked { .. }), "{question}");
    }
}

/// By the tool's own voice at three heights, and by whatever recordings `ANSWERS=FOLDER` holds, each named by its words and a bar ("no-2.wav").
#[test]
fn spoken_answers_are_heard() {
    let model = Model::load(Path::new("models/fetched/english")).unwrap();
    let vocabulary = Vocabulary::answers();
    let words: Vec<&str> = vocabulary.words().into_iter().chain(DECOYS).collect();
    let model = model.with_pronunciations(&words, &[]);
    let mut voice = crate::sound::cache();
    let mut takes: Vec<(String, Vec<f32>)> = vec![];
    for text in ["Yes.", "Yes, I did.", "No.", "No, I didn't.", "I did it, but I didn't say it."] {
        for seventh in [6, 7, 8] {
            let speech = voice.speech(text).unwrap();
            let mut sound = vec![];
            Converter::new(speech.rate * seventh / 7).unwrap().push(&speech.samples, &mut sound);
            takes.push((stepbell::words::plain(text), sound));
        }
    }
    for file in std::env::var_os("ANSWERS").into_iter().flat_map(|folder| std::fs::read_dir(folder).unwrap()) {
        let path = file.unwrap().path();
        let (samples, rate) = read_wav(&path).unwrap();
        let mut sound = vec![];
        Converter::new(rate).unwrap().push(&samples, &mut sound);
        takes.push((path.file_stem().unwrap().to_str().unwrap().split('-').next().unwrap().into(), sound));
    }
    let (mut right, mut wrong) = (0, vec![]);
    for (text, sound) in &takes {
        let silence = vec![0.0; 16_000];
        let sound = [&silence[..], sound, &silence, &silence].concat();
        let mut ears = Ears::open(&model, vocabulary.clone(), &DECOYS, SampleIndex(0), Gate::default()).unwrap();
        let mut heard: Vec<Heard> = sound.chunks(CHUNK).flat_map(|chunk| ears.feed(chunk)).collect();
        heard.extend(ears.finish());
        let meant = match text.split(' ').next() {
            Some("yes") => Afterwards::Yes,
            Some("no") => Afterwards::No,
            _ => Afterwards::Unsaid,
        };
        // The first answer counts.
        match heard.first() {
            Some(h) if h.meaning == Meaning::Afterwards(meant) => right += 1,
            Some(h) => wrong.push(format!("{text}: {:?}", h.meaning)),
            None => println!("not heard: {text}"),
        }
    }
    println!("taken for another answer: {wrong:?}");
    let told = format!("{right} of {}", takes.len());
    crate::figure("answers to whether a step was called, heard", told, "80 %", 5 * right >= 4 * takes.len());
    crate::figure("answers taken for another", wrong.len(), "0", wrong.is_empty());
}

/// A whole run: a callout drowned in chatter (others, played backwards) is not heard, found by the second listen, asked for, confirmed, told as claimed, and
/// counts from then on where one was sure enough of it.
#[test]
fn a_drowned_callout_is_asked_for_and_confirmed() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("short.toml");
    std::fs::write(&file, crate::questions::SHORT).unwrap();
    let run = |script: &[(f64, &str)], drowned: Option<(f64, f32)>, name: &str| {
        let (wav, runs) = (folder.path().join("run.wav"), folder.path().join(name));
        crate::questions::track(script, &wav);
        if let Some((at, share)) = drowned {
            let (mut sound, _) = read_wav(&wav).unwrap();
            let mut chatter = vec![];
            crate::sound::say(&mut crate::sound::cache(), "circular friction, look at the skin", 0.1, &mut chatter);
            let place = ((at - 0.5) * 16_000.0) as usize;
            sound[place..].iter_mut().zip(chatter.iter().rev()).for_each(|(s, c)| *s += 0.5 * share * c);
            stepbell::audio::write_wav(&wav, &sound, 16_000).unwrap();
        }
        let files = [&file, &wav, &runs].map(|p| p.to_str().unwrap().to_string());
        let shown =
            crate::kill::stepbell(&["rehearse", &files[0], "--mic", &files[1], "--runs", &files[2], "--seed", "1"]);
        assert!(shown.status.success(), "{}", String::from_utf8_lossy(&shown.stderr));
        let replayed = crate::kill::stepbell(&["replay", "--runs", &files[2]]);
        (String::from_utf8(shown.stdout).unwrap(), String::from_utf8(replayed.stdout).unwrap())
    };
    let place = |replayed: &str, what: &str| {
        let line = replayed.lines().find(|l| l.contains(what)).unwrap_or_else(|| panic!("{what}: {replayed}"));
        line.trim().split(' ').next().unwrap().parse::<f64>().unwrap()
    };
    let start = place(&run(&[(60.0, "")], None, "start").1, "the clock has started");
    let towel = start + 12.0;
    let script = |answer: Option<(f64, &'static str)>| -> Vec<(f64, &'static str)> {
        let run = [
            (start + 3.0, "sanitize hands"),
            (towel, "steam towel"),
            (start + 24.0, "toner"),
            (start + 32.0, "finished"),
        ];
        run.into_iter().chain(answer).chain([(start + 140.0, "")]).collect()
    };
    let asked = (0..40).map(|k| 0.3 + 0.02 * k as f32).find_map(|share| {
        let (shown, replayed) = run(&script(None), Some((towel, share)), &format!("asked{share}"));
        shown.contains("Did you call steam towel?").then_some((share, replayed, shown))
    });
    let (share, replayed, unanswered) = asked.expect("no share of chatter leaves a callout in doubt");
    assert!(unanswered.contains("Not heard for sure: apply the steam towel, perhaps called at"), "{unanswered}");
    let answer = place(&replayed, "Did you call steam towel?") + 4.0;
    for (said, told) in [
        ("yes i did", "Apply the steam towel, claimed afterwards: not heard for sure, perhaps called at"),
        ("no i didn't", "Not called: apply the steam towel."),
        ("i did it but i didn't say it", "Apply the steam towel, claimed afterwards: gone through without a callout"),
    ] {
        let (shown, replayed) =
            run(&script(Some((answer, said))), Some((towel, share)), &said.replace([' ', '\''], "-"));
        assert!(shown.contains(told), "{said}: {shown}");
        assert!(!shown.contains("steam towel done"), "{shown}");
        assert!(replayed.contains("afterwards"), "{replayed}");
        println!("{said}: {:?}", shown.lines().find(|l| l.starts_with("profile: ")));
    }
}

/// The recap accuses nobody of what was perhaps called or claimed, so the history doesn't either.
#[test]
fn what_was_not_heard_for_sure_is_no_left_out_step_in_the_history() {
    let took = |found: &[&str], said: Option<Afterwards>| {
        let mut run = Run::found(&["toner"], found);
        match said {
            Some(said) => run.says(said),
            None => run.tell(Event::TimerFired(Timer::Answered)),
        }
        let (section, outcome) = (run.session.section(), run.session.outcome());
        let review = recap::reviewed(section, outcome);
        let mut history = History::default();
        history.add(section, (1, Fade::All), outcome, &review, (0, "x"));
        history.runs[0].took[run.step("toner")]
    };
    assert_eq!(took(&["toner"], None), PERHAPS);
    assert_eq!(took(&["toner"], Some(Afterwards::Yes)), PERHAPS);
    assert_eq!(took(&["toner"], Some(Afterwards::Unsaid)), CLAIMED);
    assert_eq!(took(&["toner"], Some(Afterwards::No)), NOT_CALLED);
    assert_eq!(took(&[], None), NOT_CALLED);
}

/// Too few movements were heard: the one that was perhaps called is asked about, and nobody is told of too few.
#[test]
fn a_movement_that_was_perhaps_called_is_asked_for() {
    let mut run = Run::found(&["friction", "vibration"], &["friction"]);
    assert_eq!(run.said.last().unwrap(), "Did you call friction?");
    run.says(Afterwards::Yes);
    run.replays();
    let told = run.text();
    assert!(told.contains("Friction (circular rubbing), claimed afterwards: ") && !told.contains("Too few"), "{told}");
    let mut run = Run::found(&["friction", "vibration"], &["friction"]);
    run.says(Afterwards::No);
    assert!(run.text().contains("Too few: 3 called"), "{}", run.text());
}
