//! What is asked: a guess of the time before the recap, and questions after it.

use super::wording::{ASK, GUESS, HELP};
use super::{Effect, Session, Stage, Timer};
use crate::callout::Vocabulary;
use crate::intent::{Question, THAT};
use crate::outcome::Ending;
use crate::recap;
use crate::time::{Ms, SampleIndex, spoken};
use crate::words::plain;

/// Nobody asks any more after so long without a word: time to think of a question, or to word one again that was not understood.
pub(super) const ASKED: Ms = Ms(30_000);

/// How long a guess is waited for, and then another one in its place.
const GUESSED: (Ms, Ms) = (Ms(12_000), Ms(3_000));

impl Session {
    /// Ask how long it took, where the candidate finished and can still be heard.
    pub(super) fn ask_the_time(&mut self) -> Option<Vec<Effect>> {
        let finished = matches!(self.outcome.ended, Some((_, Ending::Finished)));
        (self.settings.asks_time && finished && !self.deaf).then_some(())?;
        self.stage = Stage::Guessing;
        let mut effects = vec![Effect::Listen(self.spans())];
        effects.extend(self.say_and_wait(GUESS.into()));
        Some(effects)
    }

    /// Times that may be guessed: up to twice what is allowed or planned.
    pub(super) fn spans(&self) -> Vocabulary {
        let plan: Ms = self.section.steps.iter().map(|s| s.target).sum();
        Vocabulary::spans(Ms(2 * self.section.limit().unwrap_or(plan).max(plan).0))
    }

    /// A time was guessed; the last guess counts.
    pub(super) fn guessed(&mut self, span: Ms) -> Vec<Effect> {
        if self.stage != Stage::Guessing {
            return vec![];
        }
        self.outcome.guessed = Some(span);
        let mut effects = vec![Effect::Disarm(Timer::Guessed)];
        effects.extend(self.say_and_wait(format!("{}.", spoken(span))));
        effects
    }

    /// On from the guess: to the telling of a silent run, or to the second listen.
    pub(super) fn guessed_enough(&mut self) -> Vec<Effect> {
        let mut effects = vec![Effect::Disarm(Timer::Guessed), Effect::Listen(Vocabulary::of(&self.section))];
        effects.extend(self.tell_or_search());
        effects
    }

    /// A question after the recap.
    pub(super) fn asked(&mut self, question: &Question) -> Vec<Effect> {
        if self.stage != Stage::Asking {
            return vec![];
        }
        let mut effects = vec![Effect::Disarm(Timer::Asked)];
        match question {
            Question::Enough => return self.close(),
            Question::Again => {
                self.outcome.again = true;
                return self.close();
            }
            Question::Slower => effects.push(Effect::Slower),
            _ => {}
        }
        let question = question.clone().about(self.topic.as_deref());
        let answer = recap::answer(&self.section, &self.outcome, self.settings.past.as_ref(), &question);
        self.topic = match &question {
            Question::Next(name) => recap::following(&self.section, name.as_deref())
                .map(|step| plain(&self.section.steps[step].title))
                .or(self.topic.take()),
            other => other.name().filter(|n| *n != THAT).map(str::to_string).or(self.topic.take()),
        };
        effects.extend(self.say_and_wait(answer.unwrap_or_else(|| self.last_said.clone())));
        effects
    }

    /// A sentence that was not understood: that is said, with the nearest question, and the waiting begins anew.
    pub(super) fn unclear(&mut self, nearest: Option<&Question>) -> Vec<Effect> {
        if self.stage != Stage::Asking {
            return vec![];
        }
        let offer = nearest.map_or_else(|| HELP.into(), |nearest| format!("You can ask: {}?", nearest.worded()));
        // "Repeat" means the last answer, and not these words.
        let last = self.last_said.clone();
        let mut effects = vec![Effect::Disarm(Timer::Asked)];
        effects.extend(self.say_and_wait(format!("I can't answer that. {offer}")));
        self.last_said = last;
        effects
    }

    /// The question for the time, or a guess said back, has been spoken.
    pub(super) fn asked_for_a_guess(&mut self, at: SampleIndex) -> Vec<Effect> {
        if self.deaf {
            return self.guessed_enough();
        }
        let wait = if self.outcome.guessed.is_some() { GUESSED.1 } else { GUESSED.0 };
        vec![Effect::Arm(Timer::Guessed, at + wait)]
    }

    /// The recap has been spoken: questions, where there is still somebody to hear.
    pub(super) fn questions(&mut self) -> Vec<Effect> {
        if !self.settings.answers || self.deaf {
            return self.close();
        }
        self.stage = Stage::Asking;
        // "Repeat" means the recap, and not these words.
        let recap = self.last_said.clone();
        let mut effects = vec![Effect::Listen(Vocabulary::questions(&self.section))];
        effects.extend(self.say_and_wait(ASK.into()));
        self.last_said = recap;
        effects
    }

    /// The question for questions, or an answer, has been spoken.
    pub(super) fn answered(&mut self, at: SampleIndex) -> Vec<Effect> {
        if self.deaf {
            return self.close();
        }
        vec![Effect::Arm(Timer::Asked, at + ASKED)]
    }
}
