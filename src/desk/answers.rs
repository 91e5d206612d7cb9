//! What the front desk answers to each wish.

use super::menu::BREATH;
use super::wish::Wish;
use super::{BEGIN, Choice, Desk, Effect, NIGHT, Stage};
use crate::text::upper;

impl Desk {
    pub(super) fn greet(&mut self) -> Vec<Effect> {
        let trade = self.told.0.clone();
        let sections = self.menu.told(&trade, 0);
        self.told.1 = 0;
        let last = self.menu.last.map_or_else(String::new, |k| {
            format!(" Last time it was {}; say again for that.", self.menu.entries[k].title)
        });
        let listen = Effect::Listen(self.vocabulary());
        let text = format!("Hello, this is your proctor. {sections}{last} Say the one you want. Good night ends.");
        vec![listen, self.shown(), self.say(text), Effect::Await(self.silence)]
    }

    /// The same for somebody across the room.
    pub(super) fn shown(&self) -> Effect {
        if self.stage == Stage::Choosing {
            let titles = self.menu.of(&self.told.0).into_iter().map(|k| self.menu.entries[k].told());
            let more = "say one, or: what is there, mock exam, what should I practise, good night";
            return Effect::Show("SAY A SECTION".into(), titles.chain([more.into()]).collect());
        }
        let entry = &self.menu.entries[self.choice.entry];
        let more = if self.of_exam() {
            "say: ready, the cautions, something else, good night"
        } else {
            "say: ready, exam mode, drill, skip the reading, something else, good night"
        };
        let lines = vec![self.how(&self.choice), more.into()];
        Effect::Show(format!("{}: SAY READY", entry.title.to_uppercase()), lines)
    }

    /// How the choice is to be rehearsed, in words.
    fn how(&self, choice: &Choice) -> String {
        let exam = choice.exam || self.of_exam();
        let mut parts = vec![if exam { "exam mode" } else { "practice mode" }.to_string()];
        if !choice.drill.is_empty() {
            let drills = &self.menu.entries[choice.entry].drills;
            let name = |id: &String| {
                let only = drills.iter().filter(|(_, ids)| ids[..] == [id.clone()]);
                only.map(|(name, _)| name).min_by_key(|name| name.len()).cloned()
            };
            let names: Vec<String> =
                choice.drill.iter().map(|id| name(id).unwrap_or_else(|| id.replace('-', " "))).collect();
            parts.push(format!("a drill of {}", names.join(", ")));
        }
        if choice.drops {
            parts.push("an item will drop".into());
        }
        if choice.skips_reading {
            parts.push("without the reading".into());
        }
        upper(&parts.join(", "))
    }

    /// What was chosen, its cautions where they were not read yet, and that "ready" is waited for.
    pub(super) fn chosen(&mut self, lead: &str) -> Vec<Effect> {
        let choice = self.choice.clone();
        let entry = self.menu.entries[choice.entry].clone();
        let mut text = format!("{lead} {}. {}.", entry.told(), self.how(&choice));
        if !self.cautioned.contains(&choice.entry) {
            self.cautioned.push(choice.entry);
            entry.cautions.iter().for_each(|c| text += &format!(" {c}"));
            text += " I hear what you call; I can't see what you do.";
        }
        text += " Say ready when your hands are.";
        vec![self.say(text.trim_start().into()), self.shown()]
    }

    pub(super) fn wished(&mut self, wish: &Wish) -> Vec<Effect> {
        let waiting = self.stage == Stage::Waiting;
        match wish {
            Wish::Exam
            | Wish::Practice
            | Wish::Drill(_)
            | Wish::DrillWeak
            | Wish::DrillDrops
            | Wish::Whole
            | Wish::SkipReading
            | Wish::Read
                if self.of_exam() =>
            {
                let text = "A whole exam is gone through as it is, in exam mode. Say ready, or something else.";
                vec![self.say(text.into())]
            }
            Wish::Practise | Wish::AmReady if self.of_exam() => {
                vec![self.say("I know that of each section alone. Say something else, then a section.".into())]
            }
            Wish::Rehearse(entry) => {
                let listen = self.choose(Some(*entry));
                let mut effects = vec![listen];
                effects.extend(self.chosen(""));
                effects
            }
            Wish::Trade(trade) => self.told_of(trade.clone(), 0),
            Wish::List => {
                let others: Vec<&str> = self.menu.trades().into_iter().filter(|t| *t != self.told.0).collect();
                let others =
                    if others.is_empty() { String::new() } else { format!("Other trades: {}.", others.join(", ")) };
                let exams = if self.menu.entries.iter().any(|e| e.exam) { " There is a mock exam, too." } else { "" };
                let mut effects = self.told_of(self.told.0.clone(), 0);
                effects.push(self.aside(&format!("{others}{exams}")));
                effects
            }
            Wish::More => self.told_of(self.told.0.clone(), self.told.1 + BREATH),
            Wish::Mock => match self.menu.entries.iter().position(|e| e.exam) {
                Some(exam) => self.wished(&Wish::Rehearse(exam)),
                None => vec![self.say("There is no mock exam here.".into())],
            },
            Wish::Again => match self.menu.last {
                Some(last) => self.wished(&Wish::Rehearse(last)),
                None => vec![self.say("Nothing was rehearsed yet. Say a section.".into())],
            },
            Wish::NextSection => {
                let now = if waiting { Some(self.choice.entry) } else { self.menu.last };
                match self.menu.behind(now) {
                    Some(next) => self.wished(&Wish::Rehearse(next)),
                    None => vec![self.say("There is no other section here.".into())],
                }
            }
            Wish::Practise => vec![self.practise()],
            Wish::AmReady => {
                let text = match self.about().and_then(|k| self.menu.entries[k].before.as_ref()) {
                    Some(before) => before.ready.clone(),
                    None => "I know of no whole run yet.".into(),
                };
                vec![self.say(text)]
            }
            // Named without a section: of the one that was spoken of last.
            Wish::Drill(name) if !waiting => match self.menu.last {
                Some(last) => self.drill(last, self.menu.entries[last].drills.get(name).cloned().unwrap_or_default()),
                None => self.which(),
            },
            Wish::DrillWeak => match self.about() {
                Some(entry) => self.drill_weak(entry),
                None => self.which(),
            },
            Wish::Exam | Wish::Practice => {
                self.choice.exam = *wish == Wish::Exam;
                self.choice.skips_reading &= !self.choice.exam;
                self.changed()
            }
            Wish::Drill(_) | Wish::DrillDrops | Wish::Whole | Wish::SkipReading | Wish::Read if waiting => {
                self.change(wish)
            }
            Wish::Ready if waiting => {
                self.stage = Stage::Beginning(self.next_id);
                vec![self.aside(BEGIN)]
            }
            Wish::Cautions if waiting => {
                let cautions = self.menu.entries[self.choice.entry].cautions.join(" ");
                vec![self.say(if cautions.is_empty() { "It has no cautions.".into() } else { cautions })]
            }
            Wish::Cancel => {
                let listen = self.choose(None);
                vec![listen, self.say("Then something else. Say a section.".into()), self.shown()]
            }
            Wish::Help => self.help(),
            Wish::Repeat => vec![self.say(self.last_said.clone())],
            Wish::Slower => vec![Effect::Slower, self.say(self.last_said.clone())],
            Wish::Sound => vec![self.sound_check()],
            Wish::Night => {
                self.stage = Stage::Parting(self.next_id);
                vec![self.aside(NIGHT), Effect::Show("GOOD NIGHT".into(), vec![])]
            }
            Wish::Stop => self.close(),
            Wish::Drill(_)
            | Wish::DrillDrops
            | Wish::Whole
            | Wish::SkipReading
            | Wish::Read
            | Wish::Ready
            | Wish::Cautions => self.which(),
        }
    }

    fn which(&mut self) -> Vec<Effect> {
        vec![self.say("Which section? Say its name first.".into())]
    }

    /// A change to what was chosen.
    fn change(&mut self, wish: &Wish) -> Vec<Effect> {
        match wish {
            Wish::Drill(name) => {
                self.choice.drill = self.menu.entries[self.choice.entry].drills.get(name).cloned().unwrap_or_default()
            }
            Wish::DrillDrops => self.choice.drops = true,
            Wish::Whole => (self.choice.drill, self.choice.drops) = (vec![], false),
            Wish::SkipReading if self.choice.exam => {
                return vec![self.say("In exam mode the reading is part of it. Say practice mode first.".into())];
            }
            _ => self.choice.skips_reading = *wish == Wish::SkipReading,
        }
        self.changed()
    }

    /// How things stand behind a change.
    fn changed(&mut self) -> Vec<Effect> {
        let how = self.how(&self.choice);
        match self.stage {
            Stage::Waiting => vec![self.say(format!("{how}. Say ready when your hands are.")), self.shown()],
            _ => vec![self.say(format!("{how}. Say a section."))],
        }
    }

    /// Whether an exam was chosen: it is gone through as it is.
    fn of_exam(&self) -> bool {
        self.stage == Stage::Waiting && self.menu.entries[self.choice.entry].exam
    }

    /// The section that is spoken of: the one chosen, or the one rehearsed last.
    fn about(&self) -> Option<usize> {
        if self.stage == Stage::Waiting { Some(self.choice.entry) } else { self.menu.last }
    }

    fn practise(&mut self) -> Effect {
        let text = match self.about().map(|k| &self.menu.entries[k]) {
            None => "I know of no run yet. Say a section, and go through it once.".into(),
            Some(entry) => match &entry.before {
                None => format!("{}: I know of no whole run of it yet.", entry.title),
                Some(before) if before.weak.is_empty() => {
                    format!(
                        "{}: in {} nothing was left out or over its plan. Say next section.",
                        entry.title, before.runs
                    )
                }
                Some(before) => {
                    format!(
                        "{}, by {}: {}. Say drill to do just that.",
                        entry.title,
                        before.runs,
                        before.weak.join(", ")
                    )
                }
            },
        };
        self.say(text)
    }

    fn drill_weak(&mut self, entry: usize) -> Vec<Effect> {
        let drill = self.menu.entries[entry].before.as_ref().map(|b| b.drill.clone()).unwrap_or_default();
        if drill.is_empty() {
            let text = match self.stage {
                Stage::Waiting => "Your runs show nothing to drill yet. Say drill and the name of a step.",
                _ => "Your runs show nothing to drill yet. Say a section, then drill and the name of a step.",
            };
            return vec![self.say(text.into())];
        }
        self.drill(entry, drill)
    }

    /// A drill of these steps, by their ids, of a section that is chosen with it.
    fn drill(&mut self, entry: usize, steps: Vec<String>) -> Vec<Effect> {
        let mut effects = vec![];
        if self.stage != Stage::Waiting {
            effects.push(self.choose(Some(entry)));
        }
        self.choice.drill = steps;
        effects.extend(self.chosen(""));
        effects
    }

    fn told_of(&mut self, trade: String, from: usize) -> Vec<Effect> {
        let from = if from < self.menu.of(&trade).len() { from } else { 0 };
        let text = self.menu.told(&trade, from);
        self.told = (trade, from);
        let mut effects = vec![self.say(text)];
        if self.stage == Stage::Choosing {
            effects.push(self.shown());
        }
        effects
    }

    /// What can be said.
    pub(super) fn help(&mut self) -> Vec<Effect> {
        let text = match self.stage {
            _ if self.of_exam() => "Say ready, and I begin. Or: the cautions, something else, or good night.",
            Stage::Waiting => {
                "Say ready, and I begin. Or: exam mode, practice mode, drill and a step's name, skip the reading, the cautions, something \
                 else, or good night."
            }
            _ => {
                "Say a section's name. Or: what is there, mock exam, again, next section, what should I practise, exam mode, \
                 check the microphone, or good night."
            }
        };
        vec![self.aside(text), self.shown()]
    }

    /// Microphone and room were measured in passing. What is wrong is said once, unasked.
    pub(super) fn heard_the_room(&mut self, advice: &[String]) -> Vec<Effect> {
        self.sound = Some(advice.to_vec());
        let first = advice
            .first()
            .filter(|_| !self.sound_told && matches!(self.stage, Stage::Choosing | Stage::Waiting))
            .cloned();
        let Some(first) = first else { return vec![] };
        self.sound_told = true;
        vec![self.aside(&format!("A word on the sound. {first}"))]
    }

    fn sound_check(&mut self) -> Effect {
        let text = match &self.sound {
            None => "Say a little more, and ask again.".into(),
            Some(advice) if advice.is_empty() => "I hear you well, and the room is quiet enough.".into(),
            Some(advice) => advice.join(" "),
        };
        self.say(text)
    }
}
