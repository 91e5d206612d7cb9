//! The names that steps go by when they are asked about.

use crate::section::Section;
use crate::words::plain;
use std::collections::BTreeMap;

fn split(phrase: &str) -> Vec<String> {
    phrase.split(' ').map(str::to_string).collect()
}

/// Words that name no step.
const IDLE: [&str; 31] = [
    "with", "from", "your", "their", "before", "after", "once", "again", "into", "onto", "over", "each", "client",
    "client's", "face", "the", "and", "off", "out", "for", "all", "new", "one", "two", "any", "not", "too", "set",
    "use", "put", "end",
];

/// The names that steps can be asked about by, each with its steps by place: callouts, titles, phases and choices, and the
/// single words of callouts and titles.
pub fn names(section: &Section) -> BTreeMap<String, Vec<usize>> {
    let mut names: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    let mut name = |phrase: String, steps: Vec<usize>| {
        if !phrase.is_empty() && !steps.is_empty() {
            names.entry(phrase).or_insert(steps);
        }
    };
    let all = || section.steps.iter().enumerate();
    for say in section.steps.iter().flat_map(|s| &s.say) {
        name(say.clone(), all().filter(|(_, s)| s.say.contains(say)).map(|(k, _)| k).collect());
    }
    for choice in &section.choices {
        name(plain(&choice.title), choice.of.clone());
    }
    for title in section.steps.iter().map(|s| &s.title) {
        name(plain(title), all().filter(|(_, s)| s.title == *title).map(|(k, _)| k).collect());
    }
    for (place, phase) in section.phases.iter().enumerate().filter(|_| section.phases.len() > 1) {
        name(plain(&phase.title), all().filter(|(_, s)| s.phase == place).map(|(k, _)| k).collect());
    }
    let words = |place: usize| {
        let step = &section.steps[place];
        let choices = section.choices.iter().filter(|c| c.of.contains(&place)).map(|c| plain(&c.title));
        let texts = step.say.iter().cloned().chain([plain(&step.title)]).chain(choices);
        texts.flat_map(|t| split(&t)).collect::<Vec<_>>()
    };
    let mut by_step: Vec<Vec<String>> = (0..section.steps.len()).map(words).collect();
    // "Sanitise" in a title is the "sanitize" of a callout: said alike, it can't be another name.
    let american = |word: &str| word.replace("is", "iz").replace("our", "or");
    let called: BTreeMap<String, String> =
        section.steps.iter().flat_map(|s| &s.say).flat_map(|say| split(say)).map(|w| (american(&w), w)).collect();
    for word in by_step.iter_mut().flatten() {
        if let Some(said) = called.get(&american(word)) {
            word.clone_from(said);
        }
    }
    let says = |w: &&String| w.len() > 2 && !IDLE.contains(&w.as_str());
    for word in by_step.iter().flatten().filter(says) {
        name(word.clone(), (0..by_step.len()).filter(|k| by_step[*k].contains(word)).collect());
    }
    names
}

/// Steps that somebody may mean who is understood to ask about `name`, beside its own: those with a callout that ends in the same word,
/// as "mask" and "remove the mask" do. Each group shares its callouts.
pub fn alike(section: &Section, name: &str) -> Vec<Vec<usize>> {
    let own = names(section).remove(name).unwrap_or_default();
    let last = name.rsplit(' ').next();
    let ends = |step: &usize| section.steps[*step].say.iter().any(|say| say.rsplit(' ').next() == last);
    let mut groups: Vec<Vec<usize>> = vec![];
    for step in (0..section.steps.len()).filter(|step| !own.contains(step)).filter(ends) {
        match groups.iter_mut().find(|group| section.steps[group[0]].say == section.steps[step].say) {
            Some(group) => group.push(step),
            None => groups.push(vec![step]),
        }
    }
    groups
}

#[cfg(test)]
mod tests {
    use super::*;

    fn facial() -> Section {
        crate::authoring::read(include_str!("../../prompts/skin-care/basic-facial.toml")).0.unwrap()
    }

    #[test]
    fn a_word_names_every_step_that_holds_it() {
        let facial = facial();
        let named = |name: &str| names(&facial).remove(name).unwrap_or_default();
        let says =
            |name: &str| facial.steps.iter().filter(|s| s.say.iter().any(|p| p.split(' ').any(|w| w == name))).count();
        assert!(named("massage").len() >= says("massage") && named("massage").len() > 1);
        // A callout names its own steps only.
        let sanitize: Vec<usize> =
            (0..facial.steps.len()).filter(|s| facial.steps[*s].say.contains(&"sanitize".into())).collect();
        assert_eq!(named("sanitize"), sanitize);
        assert!(named("with").is_empty());
    }

    #[test]
    fn steps_that_share_the_last_word_of_a_name_may_be_meant_too() {
        let facial = facial();
        let alike = |name: &str| -> Vec<Vec<&str>> {
            let id = |step: usize| facial.steps[step].id.as_str();
            super::alike(&facial, name).into_iter().map(|group| group.into_iter().map(id).collect()).collect()
        };
        assert_eq!(alike("mask"), [["mask-off"]]);
        assert_eq!(alike("remove the mask"), [["mask"]]);
        assert_eq!(alike("sanitize"), Vec::<Vec<&str>>::new());
        assert_eq!(alike("toner"), Vec::<Vec<&str>>::new());
    }
}
