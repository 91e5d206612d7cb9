//! Before the recap: of steps that were perhaps called the candidate is asked, and what they say is kept as what it is, a claim made afterwards.
//! After it: corrections. Neither changes what was heard; both are events behind it.

use super::wording::NOTHING_TO_UNDO;
use super::{Effect, Session, Stage, Timer};
use crate::callout::{Afterwards, Vocabulary};
use crate::intent::names;
use crate::outcome::Correction;
use crate::recap::{kept, reviewed};
use crate::review::{Claimed, Finding};
use crate::time::{Ms, SampleIndex};

/// How long an answer is waited for.
const ANSWERED: Ms = Ms(8_000);
/// Most steps that are asked about: it is a recap and no interrogation.
const MOST: usize = 3;

impl Session {
    /// Ask about steps that were perhaps called, the first of those left; then the recap.
    pub(super) fn confirm(&mut self) -> Vec<Effect> {
        if self.stage != Stage::Confirming {
            let perhaps = |f: &Finding| if let Finding::Perhaps { step, .. } = f { Some(*step) } else { None };
            let steps = reviewed(&self.section, &self.outcome).findings.iter().filter_map(perhaps).collect::<Vec<_>>();
            self.doubtful = if self.settings.confirms && !self.deaf { steps } else { vec![] };
            self.doubtful.truncate(MOST);
        }
        let Some(step) = self.doubtful.first() else {
            let asked = self.stage == Stage::Confirming;
            let mut effects: Vec<Effect> =
                asked.then(|| Effect::Listen(Vocabulary::of(&self.section))).into_iter().collect();
            effects.extend(self.recap());
            return effects;
        };
        let question = format!(
            "Did you call {}?",
            self.section.steps[*step].say.first().unwrap_or(&self.section.steps[*step].title)
        );
        let mut effects = vec![];
        if self.stage != Stage::Confirming {
            self.stage = Stage::Confirming;
            effects.push(Effect::Listen(Vocabulary::answers()));
        }
        effects.extend(self.say_and_wait(question));
        effects
    }

    /// The question has been spoken.
    pub(super) fn asked_for_an_answer(&mut self, at: SampleIndex) -> Vec<Effect> {
        if self.deaf {
            return self.unanswered();
        }
        vec![Effect::Arm(Timer::Answered, at + ANSWERED)]
    }

    /// Nobody answers: it stays perhaps, and so do the others.
    pub(super) fn unanswered(&mut self) -> Vec<Effect> {
        self.doubtful.clear();
        self.confirm()
    }

    /// An answer, or a correction.
    pub(super) fn afterwards(&mut self, said: &Afterwards) -> Vec<Effect> {
        match self.stage {
            Stage::Confirming => self.answer(said),
            Stage::Asking => self.correction(said),
            _ => vec![],
        }
    }

    fn answer(&mut self, said: &Afterwards) -> Vec<Effect> {
        let claimed = match said {
            Afterwards::Yes => Claimed::Called,
            Afterwards::No => Claimed::NotCalled,
            Afterwards::Unsaid => Claimed::Unsaid,
            _ => return vec![],
        };
        if self.doubtful.is_empty() {
            return vec![];
        }
        let step = self.doubtful.remove(0);
        self.outcome.corrections.push(Correction::Claim { step, claimed });
        let mut effects = vec![Effect::Disarm(Timer::Answered)];
        effects.extend(self.confirm());
        effects
    }

    fn correction(&mut self, said: &Afterwards) -> Vec<Effect> {
        let text = match said {
            Afterwards::Called(name) => self.claim(name, Claimed::Called),
            Afterwards::CalledNot(name) => self.claim(name, Claimed::Unsaid),
            Afterwards::Not(name) => self.strike(name),
            Afterwards::Undo => match self.outcome.take_back() {
                Some(_) => "Taken back.".into(),
                None => NOTHING_TO_UNDO.into(),
            },
            _ => return vec![],
        };
        let mut effects = vec![Effect::Disarm(Timer::Asked)];
        effects.extend(self.say_and_wait(text));
        effects
    }

    /// A step that has a finding for not being called is claimed; where a name fits several, the first.
    fn claim(&mut self, name: &str, claimed: Claimed) -> String {
        let steps = names(&self.section).remove(name).unwrap_or_default();
        let review = reviewed(&self.section, &self.outcome);
        let missing = review.findings.iter().filter_map(Finding::unheard).map(|(step, _)| step);
        let missing: Vec<usize> = missing.filter(|s| steps.contains(s)).collect();
        match missing[..] {
            [] => format!("I have {name} as called, or the section doesn't need it."),
            [step] => {
                self.outcome.corrections.push(Correction::Claim { step, claimed });
                format!("Noted, as claimed afterwards: {}.", self.section.steps[step].title)
            }
            // Nothing is guessed.
            _ => format!("More than one step goes by {name}. Say its callout."),
        }
    }

    /// What was claimed last of one of these steps is no longer claimed.
    fn unclaim(&mut self, name: &str, steps: &[usize]) -> String {
        let claims = self.outcome.claims();
        let claimed = claims.iter().rev().find(|(s, claimed)| steps.contains(s) && *claimed != Claimed::NotCalled);
        let Some(&(step, _)) = claimed else { return format!("I have no callout for {name}.") };
        self.outcome.corrections.push(Correction::Claim { step, claimed: Claimed::NotCalled });
        format!("Noted, as not called: {}.", self.section.steps[step].title)
    }

    fn strike(&mut self, name: &str) -> String {
        let steps = names(&self.section).remove(name).unwrap_or_default();
        let ours = |say: &str| steps.iter().any(|s| self.section.steps[*s].say.iter().any(|own| own == say));
        match self.outcome.called.iter().rposition(|c| ours(&c.say)) {
            Some(place) => {
                let called = self.outcome.called.remove(place);
                let text = format!("Taken out: {}.", called.say);
                self.outcome.corrections.push(Correction::Struck(called));
                let stays = if kept(&self.section, &self.outcome).is_empty() { "" } else { " What is critical stays." };
                text + stays
            }
            None => self.unclaim(name, &steps),
        }
    }
}
