//! A section cut down for a drill: some of its steps, with a clock of their own.

use super::{Choice, DropAnswer, NamedCallout, SafetyPair, Section, Step};
use crate::time::{Ms, spoken};

/// A drill's clock: this much of the plan, in percent, and at least that.
const CLOCK: (u64, Ms) = (150, Ms(60_000));

impl Section {
    /// The section cut down to the steps named, by their name, their loop's or their phase's; none where a name means
    /// nothing. What came between two of them no longer does; rules that speak of other steps are left out.
    pub fn drilled(&self, names: &[String]) -> Option<Section> {
        let named = |place: usize, name: &String| {
            let step = &self.steps[place];
            step.is_named(name) || self.phases[step.phase].id == *name
        };
        let all = 0..self.steps.len();
        if !names.iter().all(|name| all.clone().any(|place| named(place, name))) {
            return None;
        }
        let kept: Vec<usize> = all.filter(|&place| names.iter().any(|name| named(place, name))).collect();
        let mut drill = self.only(&kept);
        drill.id = format!("{}-drill", self.id);
        drill.title = format!("Drill: {}", self.title);
        for (place, part) in drill.phases.iter_mut().enumerate() {
            let plan: Ms = drill.steps.iter().filter(|s| s.phase == place).map(|s| s.target).sum();
            part.clock.limit = part.clock.limit.map(|limit| limit.min(Ms(plan.0 * CLOCK.0 / 100).max(CLOCK.1)));
            part.clock.warning_left = None;
        }
        let titles: Vec<&str> = drill.steps.iter().map(|s| s.title.as_str()).collect();
        let time =
            drill.limit().map_or_else(|| "This drill is not timed.".into(), |l| format!("You have {}.", spoken(l)));
        drill.reading.sentences = vec![format!("A drill: {}.", titles.join(", ")), time];
        drill.reading.times = 1;
        Some(drill)
    }

    /// The section with its hand hygiene and its labels only, on its whole clock: what is called when the other callouts have faded.
    /// None where it has none.
    pub fn hygiene_only(&self) -> Option<Section> {
        let kept: Vec<usize> =
            (0..self.steps.len()).filter(|&s| self.steps[s].hygiene || self.steps[s].labels).collect();
        (!kept.is_empty()).then(|| {
            let mut faded = self.only(&kept);
            faded.id = format!("{}-hygiene", self.id);
            // What a time lies between is not called here, and phases without hygiene are gone through all the same.
            faded.rules.clear();
            faded.steps.iter_mut().for_each(|step| step.at_least = None);
            faded.phases.clone_from(&self.phases);
            faded.steps.iter_mut().zip(&kept).for_each(|(step, &old)| step.phase = self.steps[old].phase);
            faded
        })
    }

    /// The section without rules about times: what is told afterwards has none.
    pub fn untimed_rules(&self) -> Section {
        let mut told = self.clone();
        told.id = format!("{}-silent", self.id);
        told.rules.iter_mut().for_each(|rule| rule.at_least = None);
        told.steps.iter_mut().for_each(|step| step.at_least = None);
        told
    }

    fn only(&self, kept: &[usize]) -> Section {
        let place = |old: usize| kept.iter().position(|k| *k == old);
        let phases: Vec<usize> =
            (0..self.phases.len()).filter(|p| kept.iter().any(|k| self.steps[*k].phase == *p)).collect();
        let mut drill = self.clone();
        drill.pass_mark = None;
        // A part of the section is no examiner's sheet.
        drill.criteria.clear();
        drill.steps = kept
            .iter()
            .map(|&old| {
                let mut step = self.steps[old].clone();
                step.after = self.kept_before(old, kept).into_iter().filter_map(place).collect();
                step.directly_after = step.directly_after.and_then(place);
                step.phase = phases.iter().position(|p| *p == step.phase).unwrap_or(0);
                step
            })
            .collect();
        drill.phases = phases.iter().map(|&phase| self.phases[phase].clone()).collect();
        drill.phases[0].begin.clone_from(&self.phases[0].begin);
        drill.choices = self
            .choices
            .iter()
            .filter_map(|choice| {
                let of: Vec<usize> = choice.of.iter().filter_map(|&s| place(s)).collect();
                let at_least = choice.at_least.min(of.len());
                (!of.is_empty()).then(|| Choice { of, at_least, title: choice.title.clone() })
            })
            .collect();
        let stays = |name: &String| drill.steps.iter().any(|s| s.is_named(name));
        let known = |name: &String| name == "any" || stays(name) || self.events.iter().any(|e| e.id == *name);
        drill.rules = self.rules.iter().filter(|r| known(&r.first) && r.then.iter().all(known)).cloned().collect();
        drill.invariants =
            self.invariants.iter().filter(|i| i.broken_by.iter().chain(&i.mended_by).all(known)).cloned().collect();
        // A protection that is none of the steps kept is not called for here.
        let guards = |pair: &SafetyPair| {
            let then: Vec<String> = pair.then.iter().filter(|n| known(n)).cloned().collect();
            (stays(&pair.first) && !then.is_empty()).then(|| SafetyPair { then, ..pair.clone() })
        };
        drill.safety = self.safety.iter().filter_map(guards).collect();
        // What answers a mishap has to be heard though its step is left out: a dropped item wants hands, and a torn glove fresh ones.
        let left_out = (0..self.steps.len()).filter(|s| !kept.contains(s)).map(|s| &self.steps[s]);
        let answers = left_out.filter(|s| s.hygiene || self.events.iter().any(|e| e.answered_by.contains(&s.base)));
        drill.events.extend(answers.map(|Step { base, say, hygiene, .. }| NamedCallout {
            id: base.clone(),
            say: say.clone(),
            drop: hygiene.then_some(DropAnswer::Hands),
            answered_by: vec![],
        }));
        drill
    }

    /// The nearest kept steps that must come before `step`, through those that are left out.
    fn kept_before(&self, step: usize, kept: &[usize]) -> Vec<usize> {
        let mut found = vec![];
        let mut seen = vec![false; self.steps.len()];
        let before = |s: usize| self.steps[s].after.iter().chain(&self.steps[s].directly_after).copied();
        let mut open: Vec<usize> = before(step).collect();
        while let Some(s) = open.pop() {
            if std::mem::replace(&mut seen[s], true) {
                continue;
            }
            if kept.contains(&s) { found.push(s) } else { open.extend(before(s)) }
        }
        found.sort_unstable();
        found
    }
}
