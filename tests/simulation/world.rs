//! The world around the driver: a candidate who can be held up, a recogniser, a loudspeaker, and a disk whose power can fail.

use crate::plan::{Device, Item, Plan, Storage};
use std::cell::{Cell, RefCell};
use std::collections::VecDeque;
use std::io;
use std::rc::Rc;
use std::time::Duration;
use stepbell::audio::CHUNK;
use stepbell::callout::{Heard, Vocabulary};
use stepbell::driver::Mouth;
use stepbell::journal::Disk;
use stepbell::listen::{Arrived, Gate, Listener, Voiced};
use stepbell::review::SearchTarget;
use stepbell::section::Section;
use stepbell::time::{Ms, SampleIndex};
use stepbell::voice::Speech;
use stepbell::words::Word;

/// No simulated run is this long, in milliseconds; one that hears itself may answer itself for ever.
const ENDLESS: u64 = 6 * 3_600_000;

/// The tool's own voice in the room: what the recogniser would make of it.
struct Echo {
    from: SampleIndex,
    until: SampleIndex,
    words: Vec<String>,
}

/// What all parts see.
#[derive(Default)]
pub struct World {
    /// Effects that were seen: what was shown, and what was asked to be said.
    pub seen: RefCell<Vec<String>>,
    asked: RefCell<VecDeque<String>>,
    echoes: RefCell<Vec<Echo>>,
    quiet_from: Cell<SampleIndex>,
    /// Start of each phase that began.
    pub begun: RefCell<Vec<Option<SampleIndex>>>,
    /// Which phases ended.
    pub over: RefCell<Vec<bool>>,
    /// Cues heard to their end, and where.
    pub cues: RefCell<Vec<(String, SampleIndex)>>,
    /// Set once the power failed: nothing that happens after it was seen by anyone.
    pub dead: Cell<bool>,
}

impl World {
    pub fn new(section: &Section) -> Rc<World> {
        let world = World::default();
        world.begun.borrow_mut().resize(section.phases.len(), None);
        world.over.borrow_mut().resize(section.phases.len(), false);
        Rc::new(world)
    }

    pub fn show(&self, line: &str) {
        if !self.dead.get() {
            self.seen.borrow_mut().push(line.to_string());
        }
    }
}

/// The loudspeaker.
pub struct Room<'a> {
    pub world: Rc<World>,
    pub section: &'a Section,
}

impl Mouth for Room<'_> {
    fn speech(&mut self, text: &str) -> Speech {
        self.world.show(text);
        self.world.asked.borrow_mut().push_back(text.to_string());
        Speech::silent(text)
    }

    fn play(&mut self, at: SampleIndex, speech: &Speech) {
        let world = &self.world;
        // The driver plays in the order in which it asked, except for what was hushed before its turn.
        let mut asked = world.asked.borrow_mut();
        let text = loop {
            let Some(text) = asked.pop_front() else { return };
            if Speech::silent(&text).length() == speech.length() {
                break text;
            }
        };
        let end = at + speech.length();
        let words =
            text.to_lowercase().split_whitespace().map(|w| w.trim_matches(['.', ',', ':']).to_string()).collect();
        world.echoes.borrow_mut().push(Echo { from: at, until: end, words });
        world.quiet_from.set(world.quiet_from.get().max(end));
        if let Some(k) = self.section.phases.iter().position(|p| p.begin == text) {
            world.begun.borrow_mut()[k] = Some(end);
            if k > 0 {
                world.over.borrow_mut()[k - 1] = true;
            }
        }
        if text.starts_with("Go on to") {
            world.cues.borrow_mut().push((text.clone(), end));
        }
        if self.section.phases.iter().any(|p| p.clock.stop == text) {
            let current = world.begun.borrow().iter().rposition(Option::is_some);
            if let Some(k) = current {
                world.over.borrow_mut()[k] = true;
            }
        }
    }

    fn hush(&mut self, at: SampleIndex) {
        self.world.asked.borrow_mut().clear();
        self.world.quiet_from.set(at);
        if let Some(echo) = self.world.echoes.borrow_mut().last_mut() {
            echo.until = echo.until.min(at);
        }
        // A cue that was cut off was not heard to its end.
        self.world.cues.borrow_mut().retain(|(_, end)| *end <= at);
    }
}

/// What the candidate has said of the plan.
#[derive(Clone, Default)]
pub struct Said {
    /// Onset by item; none where it was not said yet, or not on record when the power failed.
    pub onset: Vec<Option<SampleIndex>>,
    /// Items given up, because their phase was over.
    pub dropped: Vec<bool>,
}

/// A recogniser and a candidate in one: what is said, and when its result comes.
pub struct Hearing<'a> {
    pub world: Rc<World>,
    pub plan: &'a Plan,
    pub vocabulary: Vocabulary,
    pub gate: Gate,
    pub fed: SampleIndex,
    pub said: Rc<RefCell<Said>>,
    /// Results on their way: where they come out, and their words.
    pub coming: VecDeque<(SampleIndex, Vec<Word>)>,
    pub devices: Rc<RefCell<VecDeque<(u64, Device)>>>,
    /// How long the device that is gone stays away.
    pub away: Option<u64>,
    pub echoed: usize,
    /// Questions still to be asked, each not before its place.
    pub questions: VecDeque<(SampleIndex, &'static str)>,
}

impl Hearing<'_> {
    /// The words of an item, 0.4 s each with 0.1 s in between.
    fn words(item: &[String], from: SampleIndex) -> Vec<Word> {
        let place = |k: usize| from + Ms(k as u64 * 500);
        let word = |(k, text): (usize, &String)| Word {
            text: text.clone(),
            start: place(k),
            end: place(k) + Ms(400),
            confidence: 1.0,
        };
        item.iter().enumerate().map(word).collect()
    }

    /// Where the next thing is to be said, if it may be said in the chunk that ends at `end`.
    fn next_item(&self, end: SampleIndex) -> Option<(usize, &Item)> {
        let mut said = self.said.borrow_mut();
        let begun = self.world.begun.borrow();
        let over = self.world.over.borrow();
        for (k, item) in self.plan.items.iter().enumerate() {
            if said.onset[k].is_some() || said.dropped[k] {
                continue;
            }
            let start = begun[item.phase].filter(|s| *s <= end)?;
            if over[item.phase] || begun[item.phase + 1..].iter().flatten().any(|s| *s <= end) {
                said.dropped[k] = true;
                continue;
            }
            let before = (0..k).rev().filter(|b| self.plan.items[*b].phase == item.phase).find_map(|b| said.onset[b]);
            // Nobody talks over the proctor, who needs a breath to be heard to have ended.
            let mut from = (before.unwrap_or(start) + Ms(item.pause)).max(self.world.quiet_from.get() + Ms(1_000));
            if let Some(cue) = &item.cue {
                let cues = self.world.cues.borrow();
                let given = cues.iter().find(|(text, _)| text == cue)?.1;
                from = from.max(given + Ms(2_000));
            }
            return (from <= end).then_some((k, item));
        }
        None
    }

    fn candidate(&mut self, end: SampleIndex) {
        let Some((k, item)) = self.next_item(end) else { return };
        let onset = end - Ms(50);
        let (found, delay) = (item.found, item.delay);
        let words = Self::words(&item.words, onset);
        self.said.borrow_mut().onset[k] = Some(onset);
        if found {
            let out = words[words.len() - 1].end + Ms(delay);
            // A recogniser decides in order.
            let out = self.coming.back().map_or(out, |(last, _)| out.max(*last));
            self.coming.push_back((out, words));
        }
    }

    /// What is asked after the recap.
    fn question(&mut self, end: SampleIndex) {
        let quiet = self.world.quiet_from.get() + Ms(1_000) <= end;
        if let Some((_, question)) = self.questions.pop_front_if(|(from, _)| quiet && *from <= end) {
            let words: Vec<String> = question.split(' ').map(str::to_string).collect();
            self.coming.push_back((end + Ms(2_000), Self::words(&words, end - Ms(50))));
        }
    }

    /// The tool's own words, where the sound of this chunk reaches the recogniser at all.
    fn echo(&mut self, from: SampleIndex) {
        let echoes = self.world.echoes.borrow();
        for echo in &echoes[self.echoed.min(echoes.len())..] {
            // Its first words, and its last one, which the room holds for a moment.
            let (first, last) = (echo.from + Ms(100), echo.until + Ms(120));
            if from >= first && from < first + Ms(100) && !self.gate.silent(from) {
                let words = Self::words(&echo.words[..echo.words.len().min(2)], from);
                self.coming.push_back((from + Ms(1_500), words));
            }
            if from >= last && from < last + Ms(100) && !self.gate.silent(from) && !echo.words.is_empty() {
                let words = Self::words(&echo.words[echo.words.len() - 1..], from);
                self.coming.push_back((from + Ms(900), words));
            }
        }
        let over = |echo: &Echo| echo.until + Ms(1_000) < from;
        self.echoed += echoes[self.echoed.min(echoes.len())..].iter().take_while(|e| over(e)).count();
    }
}

impl Listener for Hearing<'_> {
    async fn next(&mut self) -> Arrived {
        if let Some(away) = self.away {
            tokio::time::sleep(Duration::from_millis(away)).await;
            self.away = None;
            return Arrived::Back(Ms(away));
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
        let now = self.fed.0 / 16;
        assert!(now < ENDLESS, "the run doesn't end");
        let due = self.devices.borrow_mut().pop_front_if(|(at, _)| *at <= now);
        match due {
            Some((at, Device::Gone)) => {
                self.away = Some(2_000 + at % 60_000);
                Arrived::Gone
            }
            Some((at, Device::Slept)) => Arrived::Slept(Ms(2_000 + at * 100)),
            Some((_, Device::Lost(lost))) => Arrived::Chunk { lost },
            None => Arrived::Chunk { lost: 0 },
        }
    }

    async fn decode(&mut self, voiced: Vec<Voiced>) -> Vec<Heard> {
        // This recogniser doesn't know what is played.
        voiced.iter().for_each(|voiced| self.gate.tell(voiced, false));
        let from = self.fed;
        self.fed = SampleIndex(from.0 + CHUNK as u64);
        self.echo(from);
        self.candidate(self.fed);
        self.question(self.fed);
        let mut heard = vec![];
        while let Some((_, words)) = self.coming.pop_front_if(|(out, _)| *out <= self.fed) {
            heard.extend(self.gate.others(self.vocabulary.find(&words)));
        }
        heard
    }

    async fn finish(&mut self) -> Vec<Heard> {
        let words: Vec<Word> = self.coming.drain(..).flat_map(|(_, words)| words).collect();
        self.gate.others(self.vocabulary.find(&words))
    }

    async fn set_grammar(&mut self, vocabulary: Vocabulary) {
        let listens = |to: &str| vocabulary.phrases().any(|p| p == to);
        let asked: &[&str] = if listens("what did i miss") {
            &["what did i miss", "slower", "undo", "repeat", "undo that", "that's all"]
        } else if listens("yes i did") {
            &["yes i did", "no", "i did it but didn't say it"]
        } else {
            &[]
        };
        self.questions = (1..).map(|k| self.fed + Ms(4_000 * k)).zip(asked.iter().copied()).collect();
        self.vocabulary = vocabulary;
    }

    async fn search(&mut self, wanted: Vec<SearchTarget>) -> Vec<(usize, SampleIndex)> {
        // What was said but not found is found again where the step is an even one: half of it, by no luck of the moment.
        let said = self.said.borrow();
        let lost = |s: &SearchTarget| {
            let item = |k: &usize| !self.plan.items[*k].found && s.say.contains(&self.plan.items[*k].words.join(" "));
            (0..self.plan.items.len()).filter(item).find_map(|k| said.onset[k]).filter(|_| s.step.is_multiple_of(2))
        };
        wanted.iter().filter_map(|s| Some((s.step, lost(s)?))).collect()
    }
}

/// A disk whose cache is lost when the power fails.
#[derive(Default)]
pub struct Platter {
    pub durable: Vec<u8>,
    cached: Vec<u8>,
    operations: u64,
    pub faults: VecDeque<(u64, Storage)>,
    /// Faults that came to pass.
    pub failed: Vec<Storage>,
    /// Decides how much of what was cached survives.
    luck: u64,
}

impl Platter {
    pub fn new(luck: u64) -> Platter {
        Platter { luck, ..Platter::default() }
    }

    fn fault(&mut self) -> Option<Storage> {
        self.operations += 1;
        let due = self.faults.pop_front_if(|(at, _)| *at <= self.operations)?.1;
        self.failed.push(due);
        Some(due)
    }

    /// The power fails: a part of what was cached is there.
    fn fail(&mut self) {
        self.luck = self.luck.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        let kept = (self.luck >> 33) as usize % (self.cached.len() + 1);
        let kept: Vec<u8> = self.cached.drain(..).take(kept).collect();
        self.durable.extend(kept);
    }
}

/// The driver's end of the disk.
pub struct Cable {
    pub platter: Rc<RefCell<Platter>>,
    pub world: Rc<World>,
    pending: Option<Storage>,
}

impl Cable {
    pub fn new(platter: &Rc<RefCell<Platter>>, world: &Rc<World>) -> Cable {
        Cable { platter: Rc::clone(platter), world: Rc::clone(world), pending: None }
    }

    fn power_fails(&self) -> io::Error {
        self.platter.borrow_mut().fail();
        self.world.dead.set(true);
        io::Error::other("the power failed")
    }
}

impl Disk for Cable {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        if self.world.dead.get() {
            return Err(io::Error::other("there is no power"));
        }
        let fault = self.platter.borrow_mut().fault();
        let put = |bytes: &[u8]| self.platter.borrow_mut().cached.extend(bytes);
        match fault {
            Some(Storage::Crash(0)) => Err(self.power_fails()),
            Some(Storage::Crash(1)) => {
                put(&bytes[..bytes.len() / 2]);
                Err(self.power_fails())
            }
            Some(Storage::Full) => {
                put(&bytes[..bytes.len() / 3]);
                Err(io::ErrorKind::StorageFull.into())
            }
            later => {
                self.pending = later;
                put(bytes);
                Ok(())
            }
        }
    }

    fn sync(&mut self) -> io::Result<()> {
        match self.pending.take() {
            Some(Storage::Crash(2)) => Err(self.power_fails()),
            Some(Storage::SyncFailed) => Err(io::Error::other("the device gave an error")),
            last => {
                let mut platter = self.platter.borrow_mut();
                let cached = std::mem::take(&mut platter.cached);
                platter.durable.extend(cached);
                drop(platter);
                if last == Some(Storage::Crash(3)) { Err(self.power_fails()) } else { Ok(()) }
            }
        }
    }

    fn cut(&mut self, length: u64) -> io::Result<()> {
        if self.world.dead.get() {
            return Err(io::Error::other("there is no power"));
        }
        let mut platter = self.platter.borrow_mut();
        let durable = platter.durable.len();
        platter.cached.truncate((length as usize).saturating_sub(durable));
        Ok(())
    }
}

impl Drop for Cable {
    fn drop(&mut self) {
        // A file that is closed is written out in time.
        let mut platter = self.platter.borrow_mut();
        let cached = std::mem::take(&mut platter.cached);
        platter.durable.extend(cached);
    }
}
