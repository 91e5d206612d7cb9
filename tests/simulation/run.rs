//! One simulated run, with the power coming back as often as it failed, and what must hold of it.

use crate::plan::{Plan, Storage};
use crate::world::{Cable, Hearing, Platter, Room, Said, World};
use std::cell::RefCell;
use std::collections::VecDeque;
use std::path::Path;
use std::rc::Rc;
use std::time::Duration;
use stepbell::callout::{Command, Meaning, Vocabulary};
use stepbell::driver::{Driver, Standing, UNWRITTEN};
use stepbell::journal::{self, Flaw, Header, Journal, Record, Writer};
use stepbell::listen::Gate;
use stepbell::recap;
use stepbell::session::{Effect, Event, Session, Settings, Timer};
use stepbell::time::{Ms, SampleIndex};

/// What a run came to, times left out.
#[derive(Debug, PartialEq)]
pub struct Result {
    pub called: Vec<String>,
    pub findings: Vec<String>,
    pub endings: Vec<String>,
}

/// What happened on the way.
#[derive(Debug, Default)]
pub struct Happened {
    pub resumed: usize,
    pub devices: usize,
    pub failed: Vec<Storage>,
    pub records: usize,
    /// What was said afterwards: answers to whether a step was called, and corrections.
    pub afterwards: usize,
}

fn journal_of(bytes: &[u8]) -> std::result::Result<Journal, String> {
    journal::read(bytes).map_err(|flaw| format!("the journal that survived can't be read: {flaw}"))
}

/// What the events of a journal make a session say and show.
fn replayed(plan: &Plan, journal: &Journal) -> std::result::Result<(Session, Vec<String>), String> {
    let mut session = Session::new(plan.section.clone(), settings(plan));
    let mut told = vec![];
    let differs = journal.replay(&mut session, |_, effects| {
        told.extend(effects.into_iter().filter_map(|effect| match effect {
            Effect::Show(line) | Effect::Speak { text: line, .. } => Some(line),
            _ => None,
        }));
    });
    match differs {
        Some(event) => Err(format!("the digest behind event {event} differs from the replayed state")),
        None => Ok((session, told)),
    }
}

/// Carry a plan out, with its faults or without any.
pub fn run(plan: &Plan, faults: bool) -> std::result::Result<(Result, Happened), String> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_time().start_paused(true).build().unwrap();
    runtime.block_on(async {
        // Days of the paused clock: no run may go on for ever.
        match tokio::time::timeout(Duration::from_secs(48 * 3600), carried_out(plan, faults)).await {
            Ok(result) => result,
            Err(_) => Err("the run did not end".into()),
        }
    })
}

/// A run without faults that began at `started`, as its journal's bytes.
pub fn journal_of_run(plan: &Plan, started: &str) -> Vec<u8> {
    let platter = Rc::new(RefCell::new(Platter::new(0)));
    let runtime = tokio::runtime::Builder::new_current_thread().enable_time().start_paused(true).build().unwrap();
    runtime.block_on(lived(plan, false, started, &platter)).unwrap();
    std::mem::take(&mut platter.borrow_mut().durable)
}

async fn carried_out(plan: &Plan, faults: bool) -> std::result::Result<(Result, Happened), String> {
    let platter = Rc::new(RefCell::new(Platter::new(plan.toml.len() as u64)));
    let mut happened = lived(plan, faults, "2026-01-01T00:00:00Z", &platter).await?;
    judged(plan, &platter, &mut happened)
}

/// How every run is made.
fn settings(plan: &Plan) -> Settings {
    let (fade, past) = (plan.fade, plan.past.clone());
    Settings {
        seed: plan.seed,
        listens_again: true,
        seeks_choices: true,
        confirms: true,
        answers: true,
        fade,
        past,
        ..plan.mode.into()
    }
}

/// The run itself, with the power coming back as often as it failed.
async fn lived(
    plan: &Plan,
    faults: bool,
    started: &str,
    platter: &Rc<RefCell<Platter>>,
) -> std::result::Result<Happened, String> {
    let header = Header::new(started.into(), plan.toml.clone(), settings(plan));
    let devices = Rc::new(RefCell::new(VecDeque::new()));
    if faults {
        platter.borrow_mut().faults = plan.storage.iter().copied().collect();
        *devices.borrow_mut() = plan.devices.iter().copied().collect();
    }
    let items = plan.items.len();
    let said = Rc::new(RefCell::new(Said { onset: vec![None; items], dropped: vec![false; items] }));
    let mut happened = Happened { devices: devices.borrow().len(), ..Happened::default() };
    for attempt in 0..20 {
        let world = World::new(&plan.section);
        let durable = platter.borrow().durable.clone();
        let mut show = |line: &str| world.show(line);
        let mut mouth = Room { world: Rc::clone(&world), section: &plan.section };
        let hearing = |gate, fed, world: &Rc<World>| Hearing {
            world: Rc::clone(world),
            plan,
            vocabulary: Vocabulary::of(&plan.section),
            gate,
            fed,
            said: Rc::clone(&said),
            coming: VecDeque::new(),
            devices: Rc::clone(&devices),
            away: None,
            echoed: 0,
            questions: VecDeque::new(),
        };
        let cable = Box::new(Cable::new(platter, &world));
        let (_keys, never) = tokio::sync::mpsc::unbounded_channel();
        // A header that was not written whole is a run that never began: it begins again.
        let begun = journal::read(&durable);
        let result = if let Ok(before) = begun {
            // What a file's owner does: cut the torn tail off, and go on.
            platter.borrow_mut().durable.truncate(before.length);
            let standing = Standing::rebuild(&before, Session::new(plan.section.clone(), settings(plan)));
            if let Some(event) = standing.differs {
                return Err(format!("attempt {attempt}: the digest behind event {event} differs"));
            }
            if standing.session.closed() {
                break;
            }
            remember(plan, &world, &standing, &before, &said);
            happened.resumed += 1;
            let mut writer = Writer::go_on(cable, Path::new("simulated"), &before);
            let driver = Driver {
                session: standing.session,
                journal: &mut writer,
                mouth: &mut mouth,
                show: &mut show,
                headset: false,
                waits: false,
            };
            let listener = hearing(Gate::shut_in(&standing.masked), standing.at, &world);
            driver.go_on(standing.at, standing.remaining, Some(Ms(60_000)), vec![], listener, never).await
        } else {
            platter.borrow_mut().durable.clear();
            match Writer::begin(cable, Path::new("simulated"), &header) {
                Err(error) => Err(error),
                Ok(mut writer) => {
                    let session = Session::new(plan.section.clone(), settings(plan));
                    let (journal, mouth, show) = (&mut writer, &mut mouth, &mut show);
                    let driver = Driver { session, journal, mouth, show, headset: false, waits: false };
                    driver.run(hearing(Gate::default(), SampleIndex(0), &world), never).await
                }
            }
        };
        survived(plan, &durable, &platter.borrow().durable, &world)?;
        if result.is_ok() {
            break;
        }
    }
    Ok(happened)
}

/// What the journal of a run that ended must hold, and what the run came to.
fn judged(
    plan: &Plan,
    platter: &RefCell<Platter>,
    happened: &mut Happened,
) -> std::result::Result<(Result, Happened), String> {
    let bytes = platter.borrow().durable.clone();
    let journal = journal_of(&bytes)?;
    let (session, _) = replayed(plan, &journal)?;
    if !session.closed() {
        return Err("the run was not closed".into());
    }
    if std::env::var_os("TRACE").is_some() {
        println!("{}\n{}", plan.toml, String::from_utf8_lossy(&bytes).lines().skip(1).collect::<Vec<_>>().join("\n"));
    }
    kept_its_times(plan, &journal)?;
    damaged(&bytes, plan.toml.len())?;
    let expected = journal.records.len() / journal::DIGEST_EVERY;
    if journal.digests.len() + 1 + happened.resumed < expected {
        return Err(format!("{} digests for {} events", journal.digests.len(), journal.records.len()));
    }
    happened.failed.clone_from(&platter.borrow().failed);
    happened.records = journal.records.len();
    let afterwards = |r: &&Record| matches!(&r.event, Event::Heard(h) if matches!(h.meaning, Meaning::Afterwards(_)));
    happened.afterwards = journal.records.iter().filter(afterwards).count();
    let review = recap::reviewed(session.section(), session.outcome());
    let findings = review.findings.iter().map(|f| match format!("{f:?}") {
        f if f.contains("at:") => f[..f.find("at:").unwrap()].to_string(),
        f => f,
    });
    let outcome = session.outcome();
    let result = Result {
        called: outcome.called.iter().map(|c| c.say.clone()).collect(),
        findings: findings.collect(),
        endings: outcome.phases.iter().map(|(_, end)| format!("{:?}", end.map(|(_, how)| how))).collect(),
    };
    Ok((result, std::mem::take(happened)))
}

/// The candidate when the tool comes back: it says where it stands, so they know what was lost and say that again.
fn remember(plan: &Plan, world: &World, standing: &Standing, before: &Journal, said: &RefCell<Said>) {
    let outcome = standing.session.outcome();
    for (k, (from, end)) in outcome.phases.iter().enumerate() {
        world.begun.borrow_mut()[k] = Some(*from);
        world.over.borrow_mut()[k] = end.is_some();
    }
    for (step, at) in &outcome.cues {
        world.cues.borrow_mut().push((plan.section.steps[*step].gate.clone().unwrap(), *at));
    }
    let on_record = |onset: SampleIndex| {
        before.records.iter().any(|r| matches!(&r.event, Event::Heard(heard) if heard.start == onset))
    };
    let mut said = said.borrow_mut();
    said.dropped.iter_mut().for_each(|d| *d = false);
    for (k, item) in plan.items.iter().enumerate() {
        if item.found && said.onset[k].is_some_and(|onset| !on_record(onset)) {
            said.onset[k] = None;
        }
    }
}

/// No event that was synced is gone, and whatever was seen or heard of the tool is on record.
fn survived(plan: &Plan, before: &[u8], durable: &[u8], world: &World) -> std::result::Result<(), String> {
    let seen: Vec<String> = world.seen.borrow().iter().filter(|line| *line != UNWRITTEN).cloned().collect();
    let Ok(journal) = journal::read(durable) else {
        return if seen.is_empty() { Ok(()) } else { Err(format!("seen, and the journal is gone: {seen:?}")) };
    };
    let mut old = 0;
    if let Ok(earlier) = journal::read(before) {
        if !journal.records.starts_with(&earlier.records) {
            return Err("events that were on record are gone".into());
        }
        old = replayed(plan, &earlier)?.1.len();
    }
    let (_, told) = replayed(plan, &journal)?;
    if !told[old..].starts_with(&seen) {
        return Err(format!("seen but not on record: {seen:?} against {:?}", &told[old..]));
    }
    Ok(())
}

/// Deadlines met to the chunk, by another reckoning than the session's; and no callout out of the tool's own voice.
fn kept_its_times(plan: &Plan, journal: &Journal) -> std::result::Result<(), String> {
    let mut phase = 0;
    let mut started: Option<SampleIndex> = None;
    let (mut held, mut paused): (Ms, Option<SampleIndex>) = (Ms(0), None);
    let mut session = Session::new(plan.section.clone(), settings(plan));
    let mut begins: Vec<u32> = vec![];
    let mut speaking: Option<SampleIndex> = None;
    for Record { at, event } in &journal.records {
        for effect in session.handle(*at, event) {
            // The start words of the next phase; on "repeat that" those of this one are said again.
            let next = plan.section.phases.get(begins.len());
            if let Effect::Speak { id, text, .. } = effect
                && !begins.contains(&id)
                && next.is_some_and(|p| p.begin == text)
            {
                begins.push(id);
            }
        }
        let clock = &plan.section.phases[phase.min(plan.section.phases.len() - 1)].clock;
        let due = |left: Ms| started.and_then(|s| Some(s + clock.limit? + held - left));
        match event {
            Event::SpeechEnded(id) if begins.contains(id) => {
                phase = begins.iter().position(|b| b == id).unwrap();
                (started, held, paused) = (Some(*at), Ms(0), None);
            }
            Event::Heard(heard) if heard.meaning == Meaning::Command(Command::Pause) && paused.is_none() => {
                paused = Some(heard.start);
            }
            Event::Heard(heard) if heard.meaning == Meaning::Command(Command::Resume) => {
                held = held + paused.take().map_or(Ms(0), |p| heard.start.since(p));
            }
            Event::TimerFired(timer @ (Timer::Warning | Timer::Limit)) => {
                let left = if *timer == Timer::Warning { clock.warning_left.unwrap_or_default() } else { Ms(0) };
                let due = due(left).ok_or("a deadline without a start")?;
                let off = at.since(due).max(due.since(*at));
                // A pause whose result comes after the deadline moves it when it is too late to.
                if off > Ms(100) {
                    return Err(format!("{timer:?} at {at:?}, but due at {due:?}"));
                }
            }
            _ => {}
        }
        match event {
            Event::SpeechStarted(_) => speaking = speaking.or(Some(*at)),
            Event::Masked(from, to) | Event::Spoke(from, to) => {
                if speaking.is_some_and(|s| *from > s) {
                    return Err(format!("the mask from {from:?} to {to:?} began after the voice at {speaking:?}"));
                }
                speaking = None;
            }
            Event::Heard(heard) if speaking.is_some_and(|s| heard.start > s) => {
                return Err(format!("heard in the tool's own voice: {heard:?}"));
            }
            _ => {}
        }
    }
    // Spans that were masked, whenever their results came.
    let spans: Vec<(SampleIndex, SampleIndex)> = journal
        .records
        .iter()
        .filter_map(|r| {
            if let Event::Masked(from, to) | Event::Spoke(from, to) = r.event { Some((from, to)) } else { None }
        })
        .collect();
    for record in &journal.records {
        if let Event::Heard(heard) = &record.event
            && spans.iter().any(|(from, to)| heard.start > *from && heard.start < *to)
        {
            return Err(format!("heard in the tool's own voice: {heard:?}"));
        }
    }
    Ok(())
}

/// A changed bit is never read as another run: it is refused, or cut off as a torn tail.
fn damaged(bytes: &[u8], luck: usize) -> std::result::Result<(), String> {
    let whole = journal_of(bytes)?;
    let header = bytes.iter().position(|b| *b == b'\n').unwrap() + 1;
    let line_before = |end: usize| bytes[..end - 1].iter().rposition(|b| *b == b'\n').unwrap() + 1;
    let mut tail = line_before(bytes.len());
    // An event and the digest behind it are one write.
    if whole.digests.last().is_some_and(|(events, _)| *events == whole.records.len()) {
        tail = line_before(tail);
    }
    for k in 0..12 {
        let place = header + (luck * 7_919 + k * 104_729) % (bytes.len() - header);
        let mut changed = bytes.to_vec();
        changed[place] ^= 1 << (k % 8);
        match journal::read(&changed) {
            Err(Flaw::Damaged { offset, .. }) if offset <= place => {}
            // A changed line end makes one unfinished line of the last two.
            Ok(read) if place + 1 >= tail && read.torn > 0 && whole.records.starts_with(&read.records) => {}
            other => {
                return Err(format!("bit {} of byte {place} was changed, and it was read: {}", k % 8, other.is_ok()));
            }
        }
    }
    Ok(())
}
