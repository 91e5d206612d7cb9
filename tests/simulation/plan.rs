//! A seed to everything that happens in one simulated run: the section, the candidate, the recogniser's noise, the faults.

use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};
use std::fmt::Write;
use stepbell::authoring;
use stepbell::outcome::{Fade, Mode, Past};
use stepbell::section::Section;

/// Draws, equal for equal seeds.
pub struct Chance(Pcg64Mcg);

impl Chance {
    pub fn new(seed: u64) -> Chance {
        Chance(Pcg64Mcg::seed_from_u64(seed))
    }
    pub fn below(&mut self, n: u64) -> u64 {
        self.0.next_u64() % n.max(1)
    }
    pub fn between(&mut self, from: u64, to: u64) -> u64 {
        from + self.below(to - from + 1)
    }
    /// With this chance in a hundred.
    pub fn percent(&mut self, n: u64) -> bool {
        self.below(100) < n
    }
}

/// Something that the candidate says, or that the recogniser makes up.
#[derive(Clone, Debug)]
pub struct Item {
    pub phase: usize,
    /// Milliseconds after the onset of the one before, or the start of the phase, if nothing holds it up.
    pub pause: u64,
    pub words: Vec<String>,
    /// Whether the recogniser finds it.
    pub found: bool,
    /// Milliseconds from its end to its result.
    pub delay: u64,
    /// The cue that it waits for.
    pub cue: Option<String>,
}

/// A fault of a device, at a place in the run.
#[derive(Clone, Copy, Debug)]
pub enum Device {
    Gone,
    Slept,
    Lost(u64),
}

/// A fault of the disk, at its nth operation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Storage {
    /// The power fails: in front of the write, in it, between write and sync, behind the sync.
    Crash(u8),
    /// The disk is full: a part is written.
    Full,
    /// The sync says that it failed.
    SyncFailed,
}

pub struct Plan {
    pub seed: u64,
    pub toml: String,
    pub section: Section,
    pub mode: Mode,
    pub fade: Fade,
    pub past: Option<Past>,
    pub items: Vec<Item>,
    pub storage: Vec<(u64, Storage)>,
    /// By place in milliseconds.
    pub devices: Vec<(u64, Device)>,
}

const NAMES: [&str; 16] = [
    "alder", "basin", "cotton", "drape", "ember", "fennel", "gauze", "hazel", "iris", "juniper", "kelp", "linen",
    "mallow", "nettle", "orris", "pumice",
];

struct Step {
    say: String,
    phase: usize,
    gate: bool,
}

/// The section's text, its steps, and for each phase how long it may take in seconds.
fn section(chance: &mut Chance, limits: &[u64], finish: &str) -> (String, Vec<Step>) {
    let phases = limits.len();
    let count = chance.between(3, 11) as usize;
    let mut toml = format!(
        "id = \"simulated\"\ntitle = \"Simulated\"\ntrade = \"any\"\nboard = \"Tarnmoor (invented)\"\nedition = \"2026-01-01\"\n\
         source = \"made from a seed\"\ncautions = [\"None.\"]\nfinish = [\"{finish}\"]\n\
         [reading]\ntimes = 2\nsentences = [\"Take the {} and the {}, and use them.\"]\nagain = \"Once more.\"\nbegin = \"Begin now.\"\n\
         [clock]\nstop = \"Stop the work.\"\n",
        NAMES[0], NAMES[1]
    );
    let warning = |chance: &mut Chance, limit: u64| {
        let left = chance.between(20, limit / 2);
        format!("warning_minutes_left = {:.4}\nwarning = \"Little time is left.\"\n", left as f64 / 60.0)
    };
    if phases == 1 {
        let _ = write!(toml, "minutes = {:.4}\n{}", limits[0] as f64 / 60.0, warning(chance, limits[0]));
    } else {
        for (k, limit) in limits.iter().enumerate() {
            let begin = if k == 0 { String::new() } else { format!("begin = \"Now part {k}.\"\n") };
            let minutes = *limit as f64 / 60.0;
            let _ = write!(
                toml,
                "[[phase]]\nid = \"part-{k}\"\ntitle = \"part {k}\"\n{begin}minutes = {minutes:.4}\n{}",
                warning(chance, *limit)
            );
        }
    }
    let mut steps: Vec<Step> = vec![];
    for k in 0..count {
        let phase = (k * phases) / count;
        let shared = k > 1 && chance.percent(12);
        let say = match k {
            _ if shared => steps[k - 2].say.clone(),
            _ if chance.percent(40) => format!("{} {}", NAMES[k], NAMES[15 - k % 4]),
            _ => NAMES[k].to_string(),
        };
        let gate = k > 0 && chance.percent(10);
        let before: Vec<String> = (0..k)
            .filter(|b| steps[*b].phase == phase)
            .filter(|b| chance.percent(if b + 1 == k { 75 } else { 15 }))
            .map(|b| format!("\"s{b}\""))
            .collect();
        let _ = write!(
            toml,
            "[[step]]\nid = \"s{k}\"\ntitle = \"the {say}\"\nsay = [\"{say}\"]\nminutes = 0.2\nafter = [{}]\n",
            before.join(", ")
        );
        if phases > 1 {
            let _ = writeln!(toml, "phase = \"part-{phase}\"");
        }
        if gate {
            let _ = writeln!(toml, "gate = \"Go on to number {k}.\"");
        }
        for (flag, share) in [("optional", 15), ("critical", 20), ("hygiene", 10)] {
            if chance.percent(share) {
                let _ = writeln!(toml, "{flag} = true");
            }
        }
        steps.push(Step { say, phase, gate });
    }
    if chance.percent(40) {
        let (a, b) = (chance.below(count as u64), chance.below(count as u64));
        // Far under or over what any two callouts lie apart: a run that was held up differs by some seconds.
        let least = [1, 900][chance.below(2) as usize];
        let _ = write!(
            toml,
            "[[rule]]\nid = \"rub\"\ntemplate = \"response\"\nfirst = \"s{a}\"\nthen = \"s{b}\"\nat_least_seconds = {least}\n\
             severity = \"fault\"\nmessage = \"too short\"\n"
        );
    }
    (toml, steps)
}

/// What the candidate says in one phase, each with the pause in front of it, in milliseconds.
fn candidate(chance: &mut Chance, steps: &[&Step], all: &[String]) -> Vec<Item> {
    let mut order: Vec<&Step> = steps.to_vec();
    for k in 1..order.len() {
        if chance.percent(12) {
            order.swap(k - 1, k);
        }
    }
    let mut said: Vec<Item> = vec![];
    let mut push = |chance: &mut Chance, pause: u64, words: &str, cue: Option<String>| {
        let item = Item {
            phase: 0,
            pause,
            words: words.split(' ').map(str::to_string).collect(),
            found: !chance.percent(6),
            // Mostly soon; sometimes as late as a recogniser that waits for silence.
            delay: if chance.percent(20) { chance.between(1_500, 3_300) } else { chance.between(300, 900) },
            cue,
        };
        said.push(item);
    };
    let pause = |chance: &mut Chance| {
        if chance.percent(15) { chance.between(50_000, 70_000) } else { chance.between(4_000, 9_000) }
    };
    for step in order {
        if chance.percent(8) {
            continue;
        }
        let cue = step.gate.then(|| {
            let place = all.iter().position(|s| *s == step.say).unwrap();
            format!("Go on to number {place}.")
        });
        let times = if chance.percent(6) { 2 } else { 1 };
        for _ in 0..times {
            let pause = pause(chance);
            push(chance, pause, &step.say, cue.clone());
        }
        match chance.below(40) {
            0 => {
                push(chance, 5_000, "pause", None);
                if chance.percent(50) {
                    let other = &all[chance.below(all.len() as u64) as usize];
                    push(chance, 5_000, other, None);
                }
                push(chance, 20_000, "resume", None);
            }
            1 => push(chance, 5_000, "undo that", None),
            2 => push(chance, 5_000, "dropped item", None),
            3 => push(chance, 5_000, "time left", None),
            4 => push(chance, 5_000, "repeat that", None),
            // The recogniser makes a callout up.
            5 => {
                let other = &all[chance.below(all.len() as u64) as usize];
                push(chance, 5_000, other, None);
            }
            _ => {}
        }
    }
    // A clock held for ever would never run out: what holds it and lets it go is always heard.
    for item in &mut said {
        item.found |= item.words == ["pause"] || item.words == ["resume"];
    }
    said
}

impl Plan {
    pub fn new(seed: u64) -> Plan {
        // A section that can't be: two steps with one callout that exclude each other, say. Another draw is taken.
        (0..50)
            .find_map(|attempt| Plan::draw(seed, &mut Chance::new(seed ^ (attempt << 48))))
            .expect("a section that can be")
    }

    fn draw(seed: u64, chance: &mut Chance) -> Option<Plan> {
        let phases = if chance.percent(30) { 2 } else { 1 };
        // The limits depend on what the candidate says, and that on the steps: so the section is written twice.
        let at = chance.below(u64::MAX);
        let (_, steps) = section(&mut Chance::new(at), &vec![600; phases], "stepping back");
        let all: Vec<String> = steps.iter().map(|s| s.say.clone()).collect();
        if steps.iter().filter(|s| s.gate).any(|s| all.iter().filter(|a| **a == s.say).count() > 1) {
            return None;
        }
        let (mut items, mut limits) = (vec![], vec![]);
        for phase in 0..phases {
            let ours: Vec<&Step> = steps.iter().filter(|s| s.phase == phase).collect();
            let mut said = candidate(chance, &ours, &all);
            let overruns = chance.percent(20) && said.len() > 2;
            let mut limit = 0;
            if overruns {
                // The limit lies in a silence, far from what comes in front of it and behind it.
                let cut = chance.between(1, said.len() as u64 - 1) as usize;
                limit = said[..cut].iter().map(|item| item.pause).sum::<u64>() + 160_000;
                said[cut].pause += 400_000;
            }
            if !overruns {
                let words = vec!["stepping".to_string(), "back".to_string()];
                let pause = chance.between(4_000, 15_000);
                said.push(Item { phase, pause, words, found: true, delay: chance.between(300, 3_000), cue: None });
                limit = said.iter().map(|item| item.pause).sum::<u64>() + 200_000;
            }
            items.extend(said.into_iter().map(|item| Item { phase, ..item }));
            limits.push(limit / 1_000);
        }
        let (toml, _) = section(&mut Chance::new(at), &limits, "stepping back");
        let (section, _) = authoring::read_seeded(&toml, seed);
        let section = section?;
        let mode = if chance.percent(60) { Mode::Coach } else { Mode::Exam };
        let mut storage = vec![];
        let mut operation = 0;
        for _ in 0..chance.below(4) {
            operation += chance.between(1, 90);
            let fault = match chance.below(8) {
                0 => Storage::Full,
                1 => Storage::SyncFailed,
                n => Storage::Crash((n % 4) as u8),
            };
            storage.push((operation, fault));
        }
        let devices = (0..chance.below(3)).map(|_| {
            let fault =
                [Device::Gone, Device::Slept, Device::Lost(chance.between(100, 30_000))][chance.below(3) as usize];
            (chance.between(0, 400_000), fault)
        });
        let mut devices: Vec<(u64, Device)> = devices.collect();
        devices.sort_by_key(|d| d.0);
        Some(Plan { seed, toml, section, mode, fade: Fade::All, past: None, items, storage, devices })
    }
}
