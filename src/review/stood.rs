//! What a callout can stand for where several steps have its words. Pairs and rules that name one of those steps go by it.

use super::Called;
use crate::section::{Done, Section};

/// A callout, and the steps that it can stand for.
pub(super) struct Stood<'a> {
    /// The callout.
    pub called: &'a Called,
    steps: Vec<usize>,
}

impl<'a> Stood<'a> {
    /// A callout that the explanation of the run takes for the step `stands`, if for any; `before` says for each step which are before it.
    /// Between steps of the same words that have no order between them the explanation only picks, so it can stand for each; so can a callout
    /// that it takes for none.
    pub fn new(section: &Section, before: &[Done], called: &'a Called, stands: Option<usize>) -> Stood<'a> {
        let apart = |a: usize, b: usize| before[a].has(b) || before[b].has(a);
        let steps = (0..section.steps.len())
            .filter(|&s| section.steps[s].say.contains(&called.say) && stands.is_none_or(|t| !apart(s, t)));
        Stood { called, steps: steps.collect() }
    }

    /// Whether `name` may mean it.
    pub fn may_be(&self, section: &Section, name: &str) -> bool {
        self.is_event(section, name) || self.steps.iter().any(|&s| section.is_named(name, s))
    }

    /// Whether `name` means it, whatever it stands for.
    pub fn must_be(&self, section: &Section, name: &str) -> bool {
        let all = || self.steps.iter().all(|&s| section.is_named(name, s));
        self.is_event(section, name) || (!self.steps.is_empty() && all())
    }

    fn is_event(&self, section: &Section, name: &str) -> bool {
        name == "any" || section.events.iter().any(|e| e.id == name && e.say.contains(&self.called.say))
    }
}
