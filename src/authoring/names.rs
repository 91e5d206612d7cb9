//! From the names in a file to places: loops unrolled, parameters drawn, placeholders filled.

use super::nearest;
use super::schema::{File, LoopKeys, StepKeys};
use crate::problem::Problem;
use rand_pcg::Pcg64;
use rand_pcg::rand_core::Rng;
use std::collections::BTreeMap;
use std::ops::Range;
use toml::Spanned;

/// A step to be: the keys it was written with, and the turn of the loop it is unrolled for.
pub(super) struct Draft<'a> {
    pub keys: &'a StepKeys,
    pub id: String,
    /// Loop and turn, by place.
    pub turn: Option<(usize, usize)>,
}

/// What names stand for.
pub(super) struct Names<'a> {
    pub drafts: Vec<Draft<'a>>,
    /// Steps by name: their own, a loop's, a phase's.
    steps: BTreeMap<&'a str, Vec<usize>>,
    /// Names that rules may use beside steps.
    callouts: Vec<&'a str>,
    /// Drawn values by parameter.
    pub drawn: Vec<(String, String)>,
}

impl<'a> Names<'a> {
    /// Read the names of `file`; `seed` draws the parameters.
    pub fn of(file: &'a File, seed: u64, problems: &mut Vec<Problem>) -> Names<'a> {
        unique(file, problems);
        let drafts = unroll(file, problems);
        let mut steps: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
        for (place, draft) in drafts.iter().enumerate() {
            steps.entry(draft.keys.id.as_ref()).or_default().push(place);
            if let Some((of, _)) = draft.turn {
                steps.entry(file.loops[of].id.as_ref()).or_default().push(place);
            }
            if let Some(phase) = &draft.keys.phase {
                steps.entry(phase.as_ref()).or_default().push(place);
            }
        }
        let mut chance = Pcg64::new(u128::from(seed), 0x0a02_bdbf_7bb3_c0a7_ac28_fa16_a64a_bf96);
        let drawn = file
            .parameter
            .iter()
            .filter_map(|p| {
                if p.one_of.is_empty() {
                    problems.push(Problem::error("S017", p.id.span(), "this parameter has nothing to draw from"));
                    return None;
                }
                let value = &p.one_of[(chance.next_u64() % p.one_of.len() as u64) as usize];
                Some((p.id.as_ref().clone(), value.clone()))
            })
            .collect();
        let callouts = file.callout.iter().map(|c| c.id.as_ref().as_str()).collect();
        Names { drafts, steps, callouts, drawn }
    }

    /// The steps that `name` stands for; seen from within a loop, those of the same turn where it is the loop's own step.
    pub fn steps(
        &self,
        name: &Spanned<String>,
        from: Option<(usize, usize)>,
        problems: &mut Vec<Problem>,
    ) -> Vec<usize> {
        let Some(found) = self.steps.get(name.as_ref().as_str()) else {
            problems.push(self.unknown(name, self.steps.keys().copied()));
            return vec![];
        };
        let own_turn: Vec<usize> =
            found.iter().copied().filter(|&s| from.is_some() && self.drafts[s].turn == from).collect();
        if own_turn.is_empty() { found.clone() } else { own_turn }
    }

    /// Whether two names stand for one step.
    pub fn overlap(&self, one: &str, other: &str) -> bool {
        let of = |name: &str| self.steps.get(name).map_or(&[][..], Vec::as_slice);
        one == other || of(one).iter().any(|s| of(other).contains(s))
    }

    /// Check a name that a rule uses; one turn of a loop's step goes by `STEP@ITEM`.
    pub fn operand(&self, name: &Spanned<String>, problems: &mut Vec<Problem>) -> String {
        let turn = |n: &str| self.drafts.iter().any(|d| d.id == n);
        let known = |n: &str| n == "any" || self.callouts.contains(&n) || self.steps.contains_key(n) || turn(n);
        if !known(name.as_ref()) {
            problems.push(self.unknown(name, self.steps.keys().copied().chain(self.callouts.iter().copied())));
        }
        name.as_ref().clone()
    }

    fn unknown<'b>(&self, name: &Spanned<String>, known: impl Iterator<Item = &'b str>) -> Problem {
        let problem = Problem::error("S006", name.span(), format!("nothing here is called `{}`", name.as_ref()));
        match nearest(name.as_ref(), known) {
            Some(near) => problem.help(format!("did you mean `{near}`?")),
            None => problem.help("it must be the `id` of a step, a loop, a phase or a callout in this file"),
        }
    }

    /// A text of the file with its placeholders filled, see [`Names::fill`].
    pub fn filled(&self, text: &Spanned<String>, item: Option<&str>, problems: &mut Vec<Problem>) -> String {
        self.fill(text.as_ref(), item, text.span(), problems)
    }

    /// `text` with its placeholders filled; `item` is the loop's item of this turn.
    pub fn fill(&self, text: &str, item: Option<&str>, span: Range<usize>, problems: &mut Vec<Problem>) -> String {
        let mut filled = text.to_string();
        for (name, value) in &self.drawn {
            filled = filled.replace(&format!("{{{name}}}"), value);
        }
        if let Some(item) = item {
            filled = filled.replace("{item}", item);
        }
        if let Some(from) = filled.find('{') {
            let name: String = filled[from..].chars().take_while(|c| *c != '}').chain(['}']).take(40).collect();
            let problem = Problem::error("S016", span, format!("nothing fills the placeholder {name}"));
            let known = self.drawn.iter().map(|(n, _)| n.as_str()).chain(item.map(|_| "item"));
            problems.push(match nearest(name.trim_matches(['{', '}']), known) {
                Some(near) => problem.help(format!("did you mean {{{near}}}?")),
                None => problem.help("add a `[[parameter]]` of that name, or use {item} in a step of a loop"),
            });
        }
        filled
    }
}

/// No two things of a file may share a name: rules and `after` could not tell them apart.
fn unique(file: &File, problems: &mut Vec<Problem>) {
    let steps = file.step.iter().map(|s| &s.id);
    let others = file.loops.iter().map(|l| &l.id).chain(file.phase.iter().map(|p| &p.id));
    let callouts = file.callout.iter().map(|c| &c.id);
    let mut seen = BTreeMap::new();
    for name in steps.chain(others).chain(callouts) {
        if name.as_ref() == "any" || name.as_ref().is_empty() {
            problems.push(
                Problem::error("S018", name.span(), "this name can't be used").help("\"any\" stands for every callout"),
            );
        }
        if seen.insert(name.as_ref(), ()).is_some() {
            let message = format!("a second thing is called `{}`", name.as_ref());
            problems.push(
                Problem::error("S005", name.span(), message)
                    .help("give each step, loop, phase and callout its own `id`"),
            );
        }
    }
}

fn unroll<'a>(file: &'a File, problems: &mut Vec<Problem>) -> Vec<Draft<'a>> {
    let mut drafts = vec![];
    let find = |name: &str| file.step.iter().position(|s| s.id.as_ref() == name);
    let mut member: Vec<Option<usize>> = vec![None; file.step.len()];
    for (of, keys) in file.loops.iter().enumerate() {
        if keys.over.is_empty() || keys.steps.is_empty() {
            problems.push(Problem::error("S019", keys.id.span(), "this loop has no items or no steps"));
        }
        for name in &keys.steps {
            match find(name.as_ref()) {
                None => {
                    let problem = Problem::error("S006", name.span(), format!("no step is called `{}`", name.as_ref()));
                    let near = nearest(name.as_ref(), file.step.iter().map(|s| s.id.as_ref().as_str()));
                    problems.push(match near {
                        Some(near) => problem.help(format!("did you mean `{near}`?")),
                        None => problem,
                    });
                }
                Some(step) if member[step].is_some() => {
                    problems.push(
                        Problem::error("S020", name.span(), "this step is in a loop already")
                            .help("loops can't be nested or overlap"),
                    );
                }
                Some(step) => member[step] = Some(of),
            }
        }
    }
    let mut begun = vec![false; file.loops.len()];
    for (place, keys) in file.step.iter().enumerate() {
        match member[place] {
            None => drafts.push(Draft { keys, id: keys.id.as_ref().clone(), turn: None }),
            // The whole loop is unrolled where its first step stands.
            Some(of) if !std::mem::replace(&mut begun[of], true) => {
                turns(file, &file.loops[of], of, &member, &mut drafts);
            }
            Some(_) => {}
        }
        if drafts.len() > crate::section::MAX_STEPS * 4 {
            break;
        }
    }
    drafts
}

fn turns<'a>(file: &'a File, keys: &'a LoopKeys, of: usize, member: &[Option<usize>], drafts: &mut Vec<Draft<'a>>) {
    for (turn, item) in keys.over.iter().enumerate().take(crate::section::MAX_STEPS + 1) {
        for (step, _) in file.step.iter().zip(member).filter(|(_, m)| **m == Some(of)) {
            drafts.push(Draft { keys: step, id: format!("{}@{item}", step.id.as_ref()), turn: Some((of, turn)) });
        }
    }
}
