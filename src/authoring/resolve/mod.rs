//! The rules that a schema can't hold, and the section that is left when none is broken.

mod clock;
mod reading;
mod rule;
mod sound;
mod step;
mod verdict;
mod whole;

use super::names::Names;
use super::schema::File;
use crate::callout::commands;
use crate::problem::Problem;
use crate::section::{Invariant, MAX_STEPS, NamedCallout, Section, Supply, SupplyKind};
use crate::text::count;
use crate::words::{plain, unheard};
use toml::Spanned;

/// Most words in one callout: nobody calls out more.
const MAX_WORDS: usize = 12;

/// The section of a file, its parameters drawn with `seed`, and every problem; whether it can be used, they tell.
pub(super) fn resolve(file: &File, seed: u64) -> (Option<Section>, Vec<Problem>) {
    let mut problems = vec![];
    let names = Names::of(file, seed, &mut problems);
    if file.step.is_empty() {
        problems.push(
            Problem::error("S004", 0..0, "the section has no steps")
                .help("add a `[[step]]` with `id`, `title` and `say`"),
        );
    }
    if names.drafts.len() > MAX_STEPS {
        let message = format!("{}, loops unrolled; at most {MAX_STEPS} can be used", count(names.drafts.len(), "step"));
        problems.push(Problem::error("S023", 0..0, message).help("split the section in two files"));
        return (None, problems);
    }
    let mut section = Section {
        id: file.id.clone(),
        title: file.title.clone(),
        trade: file.trade.clone(),
        board: file.board.clone(),
        edition: file.edition.as_ref().clone(),
        source: file.source.clone(),
        cautions: file.cautions.clone(),
        reading: reading::reading(file, &names, &mut problems),
        phases: clock::phases(file, &names, &mut problems),
        finish: phrases(&file.finish, &names, None, &mut problems),
        steps: step::steps(file, &names, &mut problems),
        choices: rule::choices(file, &names, &mut problems),
        events: file
            .callout
            .iter()
            .map(|c| NamedCallout {
                id: c.id.as_ref().clone(),
                say: phrases(&c.say, &names, None, &mut problems),
                drop: c.drop,
                answered_by: c.answered_by.iter().map(|n| names.operand(n, &mut problems)).collect(),
            })
            .collect(),
        rules: rule::rules(file, &names, &mut problems),
        invariants: file
            .invariant
            .iter()
            .map(|i| Invariant {
                id: i.id.as_ref().clone(),
                title: i.title.clone(),
                broken_by: i.broken_by.iter().map(|n| names.operand(n, &mut problems)).collect(),
                mended_by: i.mended_by.iter().map(|n| names.operand(n, &mut problems)).collect(),
                at_end: i.at_end,
            })
            .collect(),
        safety: verdict::safety(file, &names, &mut problems),
        criteria: verdict::criteria(file, &names, &mut problems),
        supplies: file
            .supply
            .iter()
            .map(|s| Supply {
                name: s.name.clone(),
                single_use: s.kind == SupplyKind::Single,
                kind: s.kind,
                label: s.label.clone(),
            })
            .collect(),
        pass_mark: file.pass_mark.as_ref().map(|m| *m.as_ref()),
        drawn: names.drawn.clone(),
        sounds: sound::sounds(file, &mut problems),
    };
    verdict::settle(file, &mut section, &mut problems);
    whole::check(file, &section, &names, &mut problems);
    (Some(section), problems)
}

/// Callouts and finish signals in the form the recogniser hears; one that has digits, no letters or too many words, or is a command, is a problem.
fn phrases(say: &[Spanned<String>], names: &Names, item: Option<&str>, problems: &mut Vec<Problem>) -> Vec<String> {
    say.iter()
        .filter_map(|phrase| {
            let filled = names.fill(phrase.as_ref(), item, phrase.span(), problems);
            let heard = plain(&filled);
            if let Some(lost) = unheard(&filled).filter(|_| !heard.is_empty()) {
                let message = format!("`{lost}` can't be heard, and \"{heard}\" is left of this callout");
                let help = "write numbers as words, such as \"area one\", and the other words in English letters";
                problems.push(Problem::warning("S009", phrase.span(), message).help(help));
            }
            if heard.is_empty() {
                problems.push(
                    Problem::error("S009", phrase.span(), "this callout has no letters in it")
                        .help("write the words as they are spoken, in English letters"),
                );
            }
            if commands().any(|command| command == heard) {
                let message = format!("\"{heard}\" is a command to the proctor, so it can't be heard as anything else");
                let help =
                    format!("choose other words; these are commands: {}", commands().collect::<Vec<_>>().join(", "));
                problems.push(Problem::error("S039", phrase.span(), message).help(help));
            }
            if heard.split(' ').count() > MAX_WORDS {
                let message = format!(
                    "this callout has {}; at most {MAX_WORDS} can be heard as one",
                    count(heard.split(' ').count(), "word")
                );
                problems.push(Problem::error("S035", phrase.span(), message));
            }
            (!heard.is_empty()).then_some(heard)
        })
        .collect()
}

/// Where each callout stands in the text, as it is heard, for problems found later (an unknown word, say).
pub fn callout_spans(text: &str) -> Vec<(String, std::ops::Range<usize>)> {
    let Ok(file) = toml::from_str::<File>(text) else { return vec![] };
    let mut ignored = vec![];
    let names = Names::of(&file, 0, &mut ignored);
    let mut spans = vec![];
    for draft in &names.drafts {
        let item = draft.turn.map(|(of, turn)| file.loops[of].over[turn].as_str());
        for phrase in &draft.keys.say {
            spans.push((plain(&names.fill(phrase.as_ref(), item, phrase.span(), &mut ignored)), phrase.span()));
        }
    }
    let others = file.finish.iter().chain(file.callout.iter().flat_map(|c| &c.say));
    spans.extend(others.map(|p| (plain(p.as_ref()), p.span())));
    spans
}
