//! Laws on made-up input, by proptest: what was written is read back, and what was damaged is never taken for something else.

use proptest::prelude::*;
use std::io;
use std::path::Path;
use std::sync::{Arc, Mutex};
use stepbell::authoring;
use stepbell::callout::{Command, Heard, Meaning};
use stepbell::intent::Question;
use stepbell::journal::{Disk, Header, Record, Writer, read};
use stepbell::outcome::{Absence, Mode};
use stepbell::session::{Event, Timer};
use stepbell::text::{harmless, harmless_json, hidden};
use stepbell::time::{Ms, SampleIndex};

/// A disk in memory.
#[derive(Clone, Default)]
struct Memory(Arc<Mutex<Vec<u8>>>);

impl Disk for Memory {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.0.lock().unwrap().extend_from_slice(bytes);
        Ok(())
    }
    fn sync(&mut self) -> io::Result<()> {
        Ok(())
    }
    fn cut(&mut self, length: u64) -> io::Result<()> {
        self.0.lock().unwrap().truncate(length as usize);
        Ok(())
    }
}

/// Places and spans within the limits of a journal: seven days.
const LONGEST: u64 = 7 * 24 * 3600 * 16_000;

fn event() -> impl Strategy<Value = Event> {
    let place = || (0..LONGEST).prop_map(SampleIndex);
    let command =
        prop_oneof![Just(Command::Pause), Just(Command::Undo), Just(Command::Finished), Just(Command::DroppedItem)];
    let meaning = prop_oneof![
        any::<String>().prop_map(Meaning::Callout),
        command.prop_map(Meaning::Command),
        any::<String>().prop_map(|name| Meaning::Question(Question::HowLong(name))),
        (0..LONGEST / 16).prop_map(|ms| Meaning::Span(Ms(ms))),
    ];
    let heard = (meaning, place(), place(), 0f32..=1.0)
        .prop_map(|(meaning, start, end, confidence)| Event::Heard(Heard { meaning, start, end, confidence }));
    let absence = prop_oneof![Just(Absence::Restarted), Just(Absence::Slept), Just(Absence::Microphone)];
    prop_oneof![
        Just(Event::Opened),
        heard,
        any::<u32>().prop_map(Event::SpeechStarted),
        any::<u32>().prop_map(Event::SpeechEnded),
        prop_oneof![Just(Timer::Gap), Just(Timer::Limit), Just(Timer::Late)].prop_map(Event::TimerFired),
        (place(), place()).prop_map(|(from, to)| Event::Masked(from, to)),
        (0..LONGEST).prop_map(Event::Overflowed),
        Just(Event::MicrophoneLost),
        Just(Event::MicrophoneEnded),
        Just(Event::Interrupted),
        Just(Event::Beat),
        prop::collection::vec((0usize..256, place()), 0..4).prop_map(Event::Searched),
        (absence, prop::option::of((0..LONGEST / 16).prop_map(Ms))).prop_map(|(why, span)| Event::Away(why, span)),
    ]
}

/// Events at places that never go back, and behind some of them a digest.
fn records() -> impl Strategy<Value = Vec<(Record, Option<String>)>> {
    let one = (0..LONGEST / 64, event(), prop::option::weighted(0.2, "[0-9a-f]{32}"));
    prop::collection::vec(one, 0..24).prop_map(|steps| {
        let mut at = 0;
        let record = |(more, event, digest): (u64, Event, Option<String>)| {
            at += more;
            (Record { at: SampleIndex(at), event }, digest)
        };
        steps.into_iter().map(record).collect()
    })
}

fn written(section: &str, records: &[(Record, Option<String>)]) -> (Header, Vec<u8>) {
    let header = Header::new("2026-05-01T10:00:00Z".into(), section.into(), Mode::Coach);
    let memory = Memory::default();
    let mut writer = Writer::begin(Box::new(memory.clone()), Path::new("made-up.journal"), &header).unwrap();
    for (record, digest) in records {
        writer.append(record, digest.clone()).unwrap();
    }
    let bytes = memory.0.lock().unwrap().clone();
    (header, bytes)
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(200) })]

    #[test]
    fn a_journal_is_read_as_it_was_written(section in any::<String>(), records in records()) {
        let (header, bytes) = written(&section, &records);
        let journal = read(&bytes).unwrap();
        prop_assert_eq!(&journal.header, &header);
        prop_assert_eq!(&journal.records, &records.iter().map(|(r, _)| r.clone()).collect::<Vec<_>>());
        let digests: Vec<_> =
            records.iter().enumerate().filter_map(|(k, (_, d))| Some((k + 1, d.clone()?))).collect();
        prop_assert_eq!(&journal.digests, &digests);
        prop_assert_eq!((journal.length, journal.torn), (bytes.len(), 0));
    }

    /// Cut off anywhere, or with a byte changed anywhere: what is read of it is how it began, or it is refused.
    #[test]
    fn a_damaged_journal_is_never_another_one(
        records in records(), at in any::<prop::sample::Index>(), flip in 1u8..=255, cut in any::<bool>()
    ) {
        let (header, mut bytes) = written("x", &records);
        let at = at.index(bytes.len());
        if cut { bytes.truncate(at) } else { bytes[at] ^= flip }
        if let Ok(journal) = read(&bytes) {
            prop_assert_eq!(&journal.header, &header);
            prop_assert!(journal.records.len() <= records.len());
            prop_assert!(journal.records.iter().zip(&records).all(|(read, (written, _))| read == written));
            prop_assert!(cut || journal.torn > 0, "a changed byte was not seen");
        }
    }

    /// Whatever a text holds, reading it ends, and each problem lies in it.
    #[test]
    fn every_text_is_read_to_problems_that_lie_in_it(
        text in any::<String>(), at in any::<prop::sample::Index>(), length in 0usize..40
    ) {
        let starter = stepbell::command::new::STARTER;
        let mut place = at.index(starter.len());
        while !starter.is_char_boundary(place) { place -= 1 }
        let mut until = (place + length).min(starter.len());
        while !starter.is_char_boundary(until) { until -= 1 }
        for text in [text.clone(), format!("{}{text}{}", &starter[..place], &starter[until..])] {
            let (section, problems) = authoring::read(&text);
            prop_assert!(section.is_some() || !problems.is_empty());
            for problem in problems {
                prop_assert!(problem.span.start <= problem.span.end && problem.span.end <= text.len());
                prop_assert!(text.get(problem.span.clone()).is_some(), "{problem:?} cuts a character");
            }
        }
    }

    /// What an author writes is what is rehearsed.
    #[test]
    fn a_section_is_read_as_it_was_written(
        title in "[A-Za-z\\u{e4}-\\u{fc}][A-Za-z\\u{e4}-\\u{fc} ,'\"\\\\-]{0,40}[a-z]",
        says in prop::collection::btree_set("[a-z]{3,9}( [a-z]{3,9}){1,2}", 1..9),
        quarters in prop::collection::vec(1u32..40, 9)
    ) {
        let quoted = |text: &str| toml::Value::String(text.into()).to_string();
        let head = crate::questions::SHORT.split("[[step]]").next().unwrap();
        let mut text = head.replace("\"A short section\"", &quoted(&title)).replace("minutes = 1\n", "minutes = 100\n");
        for (k, say) in says.iter().enumerate() {
            let minutes = f64::from(quarters[k]) / 4.0;
            text += &format!("[[step]]\nid = \"s{k}\"\ntitle = {}\nsay = [{}]\nminutes = {minutes:?}\n", quoted(&title), quoted(say));
        }
        let (section, problems) = authoring::read(&text);
        let Some(section) = section else {
            // A made-up callout can be one of the proctor's own words; that is told.
            prop_assert!(!problems.is_empty());
            return Ok(());
        };
        prop_assert_eq!(&section.title, &title);
        prop_assert_eq!(section.steps.iter().flat_map(|s| &s.say).collect::<Vec<_>>(), says.iter().collect::<Vec<_>>());
        let targets: Vec<Ms> = quarters[..says.len()].iter().map(|q| Ms(u64::from(*q) * 15_000)).collect();
        prop_assert_eq!(section.steps.iter().map(|s| s.target).collect::<Vec<_>>(), targets);
    }

    #[test]
    fn harmless_text_hides_nothing_and_json_keeps_its_meaning(text in any::<String>()) {
        prop_assert!(!harmless(&text).contains(hidden));
        let json = serde_json::to_string(&text).unwrap();
        let shown = harmless_json(&json);
        prop_assert!(!shown.contains(hidden));
        prop_assert_eq!(serde_json::from_str::<String>(&shown).unwrap(), text);
    }
}
