//! Callouts while the tool speaks: through simulated rooms, its own voice is taken out of what is heard.

use crate::figure;
use crate::kill::{journal_in, stepbell};
use crate::questions::{SHORT, track};
use crate::section::shipped;
use std::path::Path;
use stepbell::audio::{CHUNK, Converter, read_wav};
use stepbell::callout::{Command, Heard, Meaning, Vocabulary};
use stepbell::desk::{Desk, Effect, Entry, Event, Menu};
use stepbell::listen::{DECOYS, Ears, Gate, Model, Voiced};
use stepbell::session::{Event as Happened, Session, Timer};
use stepbell::time::SampleIndex;
use stepbell::voice::{Proctor, Speech};

/// Noise in -1 to 1 (a linear congruential generator, Numerical Recipes' numbers, from memory).
pub fn noise(seed: u32) -> impl Iterator<Item = f32> {
    let mut state = seed;
    std::iter::repeat_with(move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) as f32 / 8_388_608.0 - 1.0
    })
}

fn power(sound: &[f32]) -> f32 {
    sound.iter().map(|s| s * s).sum::<f32>() / sound.len().max(1) as f32
}

/// A room: how late its sound comes, in how many seconds its echoes die away by 60 dB (exponentially, as in a diffuse field: Sabine, from memory), and
/// how loud they are beside the direct sound, in dB.
#[derive(Clone, Copy)]
struct Room {
    late: usize,
    seconds: f32,
    echoes: f32,
}

impl Room {
    /// What a microphone hears of a loudspeaker that distorts a little.
    fn heard(&self, played: &[f32], later: usize) -> Vec<f32> {
        let length = (self.seconds * 16_000.0) as usize;
        let tail: Vec<f32> =
            noise(5).take(length).enumerate().map(|(k, s)| s * 10f32.powf(-3.0 * k as f32 / length as f32)).collect();
        let loud = (10f32.powf(self.echoes / 10.0) / (power(&tail) * length as f32)).sqrt();
        let mut answer = vec![0.0; self.late + later + length];
        answer[self.late + later + 32..].iter_mut().zip(&tail[32..]).for_each(|(a, t)| *a = loud * t);
        answer[self.late + later] = 1.0;
        let played: Vec<f32> = played.iter().map(|s| (1.2 * s).tanh()).collect();
        folded(&played, &answer)
    }
}

/// Both folded with each other, by Fourier transforms.
fn folded(a: &[f32], b: &[f32]) -> Vec<f32> {
    let length = (a.len() + b.len()).next_power_of_two();
    let mut planner = realfft::RealFftPlanner::<f32>::new();
    let (there, back) = (planner.plan_fft_forward(length), planner.plan_fft_inverse(length));
    let spectrum = |values: &[f32]| {
        let mut padded = values.to_vec();
        padded.resize(length, 0.0);
        let mut spectrum = there.make_output_vec();
        there.process(&mut padded, &mut spectrum).unwrap();
        spectrum
    };
    let mut product: Vec<_> = spectrum(a).iter().zip(spectrum(b)).map(|(a, b)| a * b / length as f32).collect();
    product[0].im = 0.0;
    product[length / 2].im = 0.0;
    let mut folded = back.make_output_vec();
    back.process(&mut product, &mut folded).unwrap();
    folded.truncate(a.len() + b.len());
    folded
}

fn resampled(speech: &Speech) -> Vec<f32> {
    let mut even = vec![];
    let mut converter = Converter::new(speech.rate).unwrap();
    converter.push(&speech.samples, &mut even);
    converter.push(&vec![0.0; speech.rate as usize / 10], &mut even);
    even
}

fn model(vocabulary: Vocabulary) -> (Model, Vocabulary) {
    let model = Model::load(Path::new("models/fetched/english")).unwrap();
    (model.with_pronunciations(&model.wanted(&vocabulary), &[]), vocabulary)
}

/// One announcement after the other with two seconds between them; the ears hear them through a room, and a person who says callouts.
struct Scene {
    said: Vec<(usize, Speech)>,
    own: Vec<f32>,
}

impl Scene {
    fn new(announcements: &[&str], room: Room, loud: f32) -> Scene {
        let mut cache = crate::sound::cache();
        let (mut said, mut own) = (vec![], vec![0.0; 16_000]);
        for (k, text) in announcements.iter().enumerate() {
            let speech = cache.speech(text).unwrap();
            let at = own.len();
            // A sound system is never as quick twice.
            let heard = room.heard(&resampled(&speech), k * 7_919 % 640);
            own.extend(heard.iter().map(|s| s * loud));
            own.extend(vec![0.0; 24_000]);
            said.push((at, speech));
        }
        own.resize(own.len().next_multiple_of(CHUNK) + 2 * CHUNK, 0.0);
        Scene { said, own }
    }

    /// What is heard of all this and of what somebody says over it; `knows`: whether the ears are told what is played.
    fn hear(&self, model: &Model, vocabulary: &Vocabulary, over: &[Over], knows: bool) -> (Vec<Heard>, Ears) {
        let mut sound: Vec<f32> = self.own.iter().zip(noise(3)).map(|(s, n)| s + 0.0003 * n).collect();
        for Over { place, sound: other, .. } in over {
            sound[*place..].iter_mut().zip(other).for_each(|(s, o)| *s += o);
        }
        let mut ears = Ears::open(model, vocabulary.clone(), &DECOYS, SampleIndex(0), Gate::default()).unwrap();
        let mut heard = vec![];
        for (k, chunk) in sound.chunks(CHUNK).enumerate() {
            let here = |at: usize| (k * CHUNK..(k + 1) * CHUNK).contains(&at);
            for (at, speech) in self.said.iter().filter(|_| knows) {
                let (begins, length) = (SampleIndex(*at as u64), speech.length());
                if here(*at) {
                    ears.tell(Voiced::Begins(begins, speech.clone()));
                }
                let ended = begins + length + stepbell::time::Ms(350);
                if here(ended.0 as usize) {
                    ears.tell(Voiced::Ended(ended));
                }
            }
            heard.extend(ears.feed(chunk));
        }
        heard.extend(ears.finish());
        (heard, ears)
    }
}

impl Scene {
    /// These said over an announcement in turn from one of them on, every five seconds, as loud as the voice is there.
    fn said_over(&self, announcement: usize, wait: usize, what: &[(String, Vec<f32>)], from: usize) -> Vec<Over> {
        let (at, speech) = &self.said[announcement];
        let (first, end) = (at + wait, at + speech.length().samples() as usize);
        let over = |(k, place): (usize, usize)| {
            let (says, sound) = what[(from + k) % what.len()].clone();
            let gain = (power(&self.own[place..place + 16_000]) / power(&sound[..16_000.min(sound.len())])).sqrt();
            Over { place, says, sound: sound.iter().map(|s| s * gain).collect() }
        };
        (first..end.max(first + 1)).step_by(80_000).enumerate().map(over).collect()
    }
}

const ROOMS: [(Room, f32); 4] = [
    (Room { late: 800, seconds: 0.2, echoes: -6.0 }, 1.0),
    (Room { late: 2_400, seconds: 0.4, echoes: 0.0 }, 1.0),
    (Room { late: 5_600, seconds: 0.3, echoes: 3.0 }, 0.3),
    (Room { late: 1_600, seconds: 0.5, echoes: -3.0 }, 2.0),
];

/// What somebody else says, as loud as the voice at that place.
struct Over {
    place: usize,
    says: String,
    sound: Vec<f32>,
}

/// The callouts of the demo recording, by three synthetic voices that are not the tool's (`tests/audio/README.md`), two seconds each.
fn callouts() -> Vec<(String, Vec<f32>)> {
    let truth = std::fs::read_to_string("tests/audio/demo.tsv").unwrap();
    let (demo, rate) = read_wav(Path::new("tests/audio/demo.wav")).unwrap();
    let cut = |line: &str| {
        let mut cells = line.split('\t');
        let from = (cells.next().unwrap().parse::<f64>().unwrap() * f64::from(rate)) as usize;
        (cells.next().unwrap().to_string(), demo[from..(from + 32_000).min(demo.len())].to_vec())
    };
    truth.lines().filter(|l| l.starts_with(|c: char| c.is_ascii_digit())).map(cut).collect()
}

/// Commands by the other proctor's voice: somebody else's with the same accent.
fn commands() -> Vec<(String, Vec<f32>)> {
    let said = |(text, says): (&str, &str)| (says.to_string(), another(text));
    [
        ("Stop everything.", "StopEverything"),
        ("Pause the clock.", "Pause"),
        ("Emergency.", "StopEverything"),
        ("Resume.", "Resume"),
    ]
    .map(said)
    .into()
}

fn another(text: &str) -> Vec<f32> {
    resampled(&crate::sound::cache().spoken_by(Some(Proctor::Low), 100).speech(text).unwrap())
}

fn says(heard: &Heard) -> String {
    match &heard.meaning {
        Meaning::Callout(say) => say.clone(),
        Meaning::Command(Command::DroppedItem) => "dropped item".into(),
        Meaning::Command(Command::Finished) => "stepping back".into(),
        Meaning::Command(command) => format!("{command:?}"),
        other => format!("{other:?}"),
    }
}

#[test]
fn callouts_over_the_voice_are_heard_and_the_voice_is_nobody() {
    let section = shipped("basic-facial");
    let (model, vocabulary) = model(Vocabulary::of(&section));
    // A reading, over which only commands count; then what is said in a run: every callout is a hint that nobody follows.
    let mut said = vec![Session::announcements(&section, 1)[0].clone()];
    said.extend(section.steps.iter().map(|s| format!("Next: {}.", s.title)).take(12));
    said.extend(["Twelve minutes left.".to_string(), section.phases[0].clock.warning.clone()]);
    said.push("You missed the toner, and the mask was called before the steam towel.".into());
    let said: Vec<&str> = said.iter().map(String::as_str).collect();
    let rooms = std::env::var("ROOMS").ok().and_then(|r| r.parse().ok()).unwrap_or(2);
    let (mut all, mut right, mut wrong, mut own, mut before) = ([0u32; 2], [0u32; 2], vec![], vec![], 0);
    for (number, (room, loud)) in ROOMS.into_iter().enumerate().take(rooms) {
        let scene = Scene::new(&said, room, loud);
        // Nobody speaks.
        let (heard, _) = scene.hear(&model, &vocabulary, &[], true);
        own.extend(heard.iter().map(|h| (number, says(h), h.start.0 as f64 / 16_000.0)));
        if number == 0 {
            before = scene.hear(&model, &vocabulary, &[], false).0.len();
        }
        let mut over: Vec<Over> = vec![];
        for k in 0..scene.said.len() {
            let (what, wait) = if k == 0 { (commands(), 48_000) } else { (callouts(), 6_400) };
            let from = over.len() + number * 7;
            over.extend(scene.said_over(k, wait, &what, from));
        }
        let (heard, _) = scene.hear(&model, &vocabulary, &over, true);
        // Two callouts of one step mean the same.
        let step = |a: &String, b: &String| section.steps.iter().any(|s| s.say.contains(a) && s.say.contains(b));
        let same = |h: &Heard, o: &Over| says(h) == o.says || step(&says(h), &o.says);
        let here = |h: &Heard, o: &Over| (h.start.0 as i64 - o.place as i64).abs() < 12_000 && same(h, o);
        for said in &over {
            let kind = usize::from(said.place >= scene.said[1].0);
            let found = heard.iter().any(|h| here(h, said));
            all[kind] += 1;
            right[kind] += u32::from(found);
            if !found {
                println!("room {number}: missed {} at {:.1} s", said.says, said.place as f64 / 16_000.0);
            }
        }
        // The second half of "moisturizer and sunscreen" is no other callout.
        let half =
            |h: &Heard, o: &Over| (o.place..o.place + o.sound.len()).contains(&(h.start.0 as usize)) && same(h, o);
        let other = heard.iter().filter(|h| !over.iter().any(|o| here(h, o) || half(h, o)));
        wrong.extend(other.map(|h| (number, says(h), h.start.0 as f64 / 16_000.0)));
    }
    println!(
        "without its own voice known, {before} callouts are heard in one room; taken for another: {wrong:?}; own: {own:?}"
    );
    let share = |kind: usize| 100.0 * f64::from(right[kind]) / f64::from(all[kind]);
    let told = |kind: usize| format!("{} of {}, {:.1} %", right[kind], all[kind], share(kind));
    figure("callouts over hints, warnings, answers, as loud, heard", told(1), "90 %", share(1) >= 90.0);
    figure("stop, pause, emergency over the reading, as loud, heard", told(0), "90 %", share(0) >= 90.0);
    figure("the tool's own words taken for a callout", own.len(), "0", own.is_empty() && before > 0);
    figure("callouts over the voice taken for another", wrong.len(), "0", wrong.is_empty());
}

/// Each command at each place of the reading, in each room.
#[test]
fn what_stops_pauses_and_goes_on_is_heard_over_the_whole_reading() {
    let section = shipped("basic-facial");
    let (model, vocabulary) = model(Vocabulary::of(&section));
    let reading = Session::announcements(&section, 1)[0].clone();
    let rooms = std::env::var("ROOMS").ok().and_then(|r| r.parse().ok()).unwrap_or(1);
    let commands = commands();
    let (mut all, mut missed, mut wrong): ([usize; 2], [Vec<String>; 2], Vec<String>) = Default::default();
    let kind = |says: &str| usize::from(says == "Resume");
    for (number, (room, loud)) in ROOMS.into_iter().enumerate().take(rooms) {
        let scene = Scene::new(&[&reading], room, loud);
        let at = |says: &str, place: usize| format!("{says} at {:.1} s in room {number}", place as f64 / 16_000.0);
        for from in 0..commands.len() {
            let over = scene.said_over(0, 48_000, &commands, from);
            let (heard, _) = scene.hear(&model, &vocabulary, &over, true);
            let here = |h: &Heard, o: &Over| (h.start.0 as i64 - o.place as i64).abs() < 12_000 && says(h) == o.says;
            for o in &over {
                all[kind(&o.says)] += 1;
                let found = heard.iter().any(|h| here(h, o));
                missed[kind(&o.says)].extend((!found).then(|| at(&o.says, o.place)));
            }
            let other = heard.iter().filter(|h| !over.iter().any(|o| here(h, o)));
            wrong.extend(other.map(|h| at(&says(h), h.start.0 as usize)));
        }
    }
    println!("missed: {missed:?}; taken for another: {wrong:?}");
    let told = |kind: usize| format!("{} of {}", all[kind] - missed[kind].len(), all[kind]);
    figure("stop, pause, emergency over each place of the reading, heard", told(0), "all", missed[0].is_empty());
    let few = 10 * missed[1].len() <= all[1];
    figure("resume over each place of the reading, heard", told(1), "90 %", few);
    let stops = wrong.iter().filter(|w| w.starts_with("Stop")).count();
    figure("another command taken for one that stops everything", stops, "0", stops == 0);
    let rare = 30 * wrong.len() <= all[0] + all[1];
    figure("commands over the reading taken for another", wrong.len(), "1 in 30", rare);
}

/// The front desk's own words name what can be said to it; all of it is heard over them, as loud as they are.
#[test]
fn a_desk_hears_over_its_own_voice() {
    let entry = |name: &str, spoken: &str| Entry::of(&shipped(name), spoken);
    let menu =
        Menu { entries: vec![entry("basic-facial", "basic facial"), entry("make-up", "make up")], last: Some(0) };
    let mut desk = Desk::new(menu, false);
    let spoken = |effects: Vec<Effect>| {
        effects.into_iter().find_map(|e| if let Effect::Speak { text, .. } = e { Some(text) } else { None })
    };
    let greeting = spoken(desk.handle(&Event::Opened)).unwrap();
    let chosen = spoken(desk.handle(&Event::Heard("basic facial".into()))).unwrap();
    let help = spoken(desk.handle(&Event::Silence)).unwrap();
    let announcements = [greeting.as_str(), &chosen, &help];
    let (model, vocabulary) = model(desk.vocabulary());
    let (mut all, mut right, mut wrong, mut own) = (0, 0, vec![], vec![]);
    for (number, (room, loud)) in ROOMS.into_iter().enumerate().take(2) {
        let scene = Scene::new(&announcements, room, loud);
        own.extend(scene.hear(&model, &vocabulary, &[], true).0.iter().map(says));
        let said = |text: &str| (text.trim_end_matches('.').to_lowercase(), another(text));
        let wishes = ["Emergency.", "Stop everything.", "Exam mode.", "Skip the reading.", "Something else."].map(said);
        let over: Vec<Over> =
            (0..announcements.len()).flat_map(|k| scene.said_over(k, 24_000, &wishes, 2 * k + number)).collect();
        let (heard, _) = scene.hear(&model, &vocabulary, &over, true);
        let here = |h: &Heard, o: &Over| (h.start.0 as i64 - o.place as i64).abs() < 12_000 && says(h) == o.says;
        for said in &over {
            let found = heard.iter().any(|h| here(h, said));
            (all, right) = (all + 1, right + u32::from(found));
            if !found {
                println!("room {number}: missed {} at {:.1} s", said.says, said.place as f64 / 16_000.0);
            }
        }
        wrong.extend(heard.iter().filter(|h| !over.iter().any(|o| here(h, o))).map(says));
    }
    let share = 100.0 * f64::from(right) / f64::from(all);
    figure(
        "at the desk, over its voice, as loud, heard",
        format!("{right} of {all}, {share:.1} %"),
        "90 %",
        share >= 90.0,
    );
    figure("the desk's own words taken for a wish", format!("{own:?}"), "none", own.is_empty());
    figure("at the desk, taken for another", format!("{wrong:?}"), "none", wrong.is_empty());
}

/// Without a voice nothing sounds: what is said while words are only shown is heard, in the reading and over the warning.
#[test]
fn words_that_are_only_shown_hide_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str| folder.path().join(name).to_str().unwrap().to_string();
    std::fs::write(place("short.toml"), SHORT).unwrap();
    let run = |section: &str, script: &[(f64, &str)], runs: &str| {
        track(script, Path::new(&place("said.wav")));
        let arguments = ["rehearse", section, "--mic", &place("said.wav"), "--runs", &place(runs), "--voice", "off"];
        let shown = String::from_utf8(stepbell(&arguments).stdout).unwrap();
        assert!(shown.contains("I heard what you called") && !shown.contains("went unheard"), "{shown}");
        stepbell::journal::load(&journal_in(Path::new(&place(runs)))).unwrap().records
    };
    let heard = |event: &Happened| if let Happened::Heard(heard) = event { Some(says(heard)) } else { None };
    let stopped = run("basic-facial", &[(6.0, "stop everything"), (20.0, "")], "reading");
    let stop = stopped.iter().position(|r| heard(&r.event).is_some_and(|says| says == "StopEverything"));
    let end = stopped.iter().position(|r| r.event == Happened::SpeechEnded(0));
    let stop = stop.expect("it was heard");
    assert!(end.is_none_or(|end| stop < end), "the reading was still shown");

    let quiet = run(&place("short.toml"), &[(90.0, "")], "quiet");
    let warned = quiet.iter().find(|r| r.event == Happened::TimerFired(Timer::Warning)).unwrap().at.0 as f64 / 16_000.0;
    let over = run(&place("short.toml"), &[(warned + 0.2, "steam towel"), (90.0, "")], "over");
    let towel = over.iter().find_map(|r| if let Happened::Heard(heard) = &r.event { Some(heard) } else { None });
    let spoke = over.iter().find_map(|r| match r.event {
        Happened::Spoke(from, until) if from.0 as f64 / 16_000.0 >= warned => Some((from, until)),
        _ => None,
    });
    let (towel, (from, until)) = (towel.expect("it was heard"), spoke.unwrap());
    assert!(says(towel) == "steam towel" && (from..until).contains(&towel.start), "{towel:?} {from:?} {until:?}");

    // Cut off while the warning is shown and gone on with: it says nothing aloud then, either, and has the callout.
    let whole = std::fs::read_to_string(journal_in(Path::new(&place("over")))).unwrap();
    let cut = whole.find("\"warning\"").unwrap();
    let cut = cut + whole[cut..].find('\n').unwrap() + 1;
    let cut = cut + whole[cut..].find('\n').unwrap() + 1;
    std::fs::create_dir(place("cut")).unwrap();
    std::fs::write(place("cut/run.journal"), &whole[..cut]).unwrap();
    let gone_on = stepbell(&["resume", "--mic", &place("said.wav"), "--runs", &place("cut")]);
    let gone_on = String::from_utf8(gone_on.stdout).unwrap();
    assert!(gone_on.contains("goes on without one") && !gone_on.contains("Not called: apply the steam"), "{gone_on}");
}
