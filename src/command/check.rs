//! `check FILE…`: every problem of each section or exam file, drawn in its text, and the words the recogniser doesn't know.

use super::{Failure, json};
use crate::authoring;
use crate::callout::Vocabulary;
use crate::listen::{ListenError, Model};
use crate::problem::Problem;
use crate::section::Section;
use crate::terminal::{self, outln};
use crate::text::count;
use std::path::{Path, PathBuf};

/// Say what a problem's code means.
pub fn explain(code: &str) -> Result<(), Failure> {
    let (name, title, text) = authoring::explain(code).ok_or_else(|| {
        Failure::usage(
            format!("no problem has the code {code}"),
            "codes stand in square brackets behind error and warning, S008 for example; or name a rule's template",
        )
    })?;
    outln!("{name}: {title}\n{text}");
    Ok(())
}

/// What is looked at besides the file itself.
#[derive(clap::Args, Clone, Copy, Debug, Default)]
pub struct Trials {
    /// Compare the callouts by their sounds, then speak and hear each one in several voices and noises (a minute or two)
    #[arg(long)]
    callouts: bool,
    /// List what each callout covers: the wordings understood without being listed
    #[arg(long)]
    wordings: bool,
}

/// Check each file; fails where one can't be used.
pub fn run(files: &[PathBuf], trials: Trials) -> Result<(), Failure> {
    // Without a model the words can't be checked, but the rest of the file can.
    let model = Model::load(&super::models().join("english"));
    let mut failed = None;
    for file in files {
        if let Err(failure) = one(file, &model, trials) {
            if failed.is_some() {
                terminal::report(&failure);
            }
            failed = failed.or(Some(failure));
        }
    }
    failed.map_or(Ok(()), Err)
}

/// Check a section, or an exam and each of its sections.
fn one(file: &Path, model: &Result<Model, ListenError>, trials: Trials) -> Result<(), Failure> {
    let text = super::authored(file, "a section file, for example prompts/skin-care/basic-facial.toml")?;
    if !authoring::is_exam(&text) {
        return section(file, model, trials);
    }
    let (exam, folder) = super::exam(file)?;
    let mut broken = 0;
    for part in &exam.sections {
        if let Err(failure) = section(&folder.join(part.file.as_ref()), model, trials) {
            terminal::report(&failure);
            broken += 1;
        }
    }
    if broken > 0 {
        let what =
            format!("{}: {broken} of its {} can't be used", file.display(), count(exam.sections.len(), "section"));
        return Err(Failure::authored(what, "mend the errors above, or name other files in it"));
    }
    outln!("{}: a mock exam of {}, usable", file.display(), count(exam.sections.len(), "section"));
    Ok(())
}

fn section(file: &Path, model: &Result<Model, ListenError>, trials: Trials) -> Result<(), Failure> {
    let (section, text) = super::section(file, 0)?;
    if let Ok(model) = model {
        unheard(file, &text, model);
    }
    outln!("{}: {}, usable", file.display(), count(section.steps.len(), "step"));
    outln!("{}", sources(&section));
    wordings(&section, model.as_ref().ok(), trials.wordings);
    if trials.callouts {
        super::callouts::run(&section, model.as_ref().map_err(|e| Failure::device(e, super::mend()))?)?;
    }
    Ok(())
}

/// How many wordings the callouts cover, in words that the model knows; all of them where that is asked for.
fn wordings(section: &Section, model: Option<&Model>, listed: bool) {
    let covered = Vocabulary::of(section).covered(|word| model.is_none_or(|m| m.knows(word)));
    let all = covered.iter().map(|(_, _, ways)| ways).sum::<usize>();
    let list = if listed { ":" } else { " (--wordings lists them)" };
    outln!("  {}, understood in {}{list}", count(covered.len(), "callout"), count(all, "wording"));
    for (say, forms, _) in covered.iter().filter(|_| listed) {
        outln!("    \"{say}\": {forms}");
    }
}

/// How much of a section is published and how much common practice, in a line.
fn sources(section: &Section) -> String {
    let steps = section.steps.iter().filter(|s| s.published.is_some()).count();
    let rules = section.rules.iter().filter(|r| r.published.is_some()).count();
    let rules = rules + section.safety.iter().filter(|p| p.published.is_some()).count();
    let critical: Vec<_> = section.steps.iter().filter(|s| s.critical).collect();
    let graver = critical.iter().filter(|s| s.critical_published.is_some()).count();
    let all =
        [(steps, section.steps.len()), (rules, section.rules.len() + section.safety.len()), (graver, critical.len())];
    let words = |(published, of): (usize, usize)| format!("{published} published, {} common practice", of - published);
    let [steps, rules, critical] = all.map(words);
    let unheard = section.criteria.iter().filter(|c| section.unheard(c)).count();
    format!(
        "  steps: {steps}; rules and safety pairs: {rules}; critical flags: {critical}; criteria: {}, {unheard} of them for an observer",
        section.criteria.len()
    )
}

/// Draw a warning for each callout that holds a word the recogniser doesn't know.
pub fn unheard(path: &Path, text: &str, model: &Model) {
    terminal::show_problems(path, text, &unheard_in(text, model));
}

/// A warning for each such callout, with words that sound like it.
fn unheard_in(text: &str, model: &Model) -> Vec<Problem> {
    let mut problems: Vec<Problem> = vec![];
    let spelt = authoring::read(text).0.map(|s| s.sounds).unwrap_or_default();
    for (say, span) in authoring::callout_spans(text) {
        let unknown: Vec<&str> =
            say.split(' ').filter(|w| !w.is_empty() && !model.knows(w) && !spelt.iter().any(|(s, _)| s == w)).collect();
        if unknown.is_empty() || problems.iter().any(|p| p.span == span) {
            continue;
        }
        let near: Vec<String> = unknown.iter().flat_map(|w| model.sound_alikes(w)).collect();
        let sounds: Vec<String> = unknown.iter().filter_map(|w| model.sounds(w)).collect();
        let so = match sounds.is_empty() {
            true => "so this callout can't be heard".to_string(),
            false => format!("so it listens for {}; a [[word]] with its sounds can say better", sounds.join(", ")),
        };
        let message = format!("the recogniser doesn't know \"{}\", {so}", unknown.join("\", \""));
        let help = match near.is_empty() {
            true => "add a callout in common words to the step's `say`".into(),
            false => format!("it knows {}; or add a callout in common words to the step's `say`", near.join(", ")),
        };
        problems.push(Problem::warning("S014", span, message).help(help));
    }
    problems
}

/// Check each file, and print what came of it as JSON; fails where one can't be used.
pub fn as_json(files: &[PathBuf]) -> Result<(), Failure> {
    let model = Model::load(&super::models().join("english")).ok();
    let mut looked = vec![];
    for file in files {
        let (exam, about) = file_as_json(file, model.as_ref());
        looked.push(about);
        for part in exam {
            looked.push(file_as_json(&part, model.as_ref()).1);
        }
    }
    let broken = looked.iter().filter(|file| file["usable"] == false).count();
    json::print("check", serde_json::json!({ "files": looked }));
    if broken > 0 {
        let what = format!("{broken} of {} can't be used", count(looked.len(), "file"));
        return Err(Failure::authored(what, "mend the errors that `problems` holds"));
    }
    Ok(())
}

/// What came of one file; of an exam also the files of its sections.
fn file_as_json(file: &Path, model: Option<&Model>) -> (Vec<PathBuf>, serde_json::Value) {
    let text = match super::authored(file, "a section file, for example prompts/skin-care/basic-facial.toml") {
        Ok(text) => text,
        Err(failure) => {
            let about = serde_json::json!({
                "file": file, "kind": null, "usable": false, "steps": null, "error": failure.message, "problems": []
            });
            return (vec![], about);
        }
    };
    let (kind, steps, usable, parts, problems) = if authoring::is_exam(&text) {
        let (exam, problems) = authoring::exam(&text);
        let path = super::sections::located(file).unwrap_or_else(|_| file.to_path_buf());
        let folder = path.parent().unwrap_or(Path::new("."));
        let parts = exam.iter().flat_map(|e| &e.sections).map(|p| folder.join(p.file.as_ref())).collect();
        ("exam", None, exam.is_some(), parts, problems)
    } else {
        let (section, mut problems) = super::read_section(&text, 0);
        problems.extend(model.filter(|_| section.is_some()).into_iter().flat_map(|model| unheard_in(&text, model)));
        ("section", section.as_ref().map(|s| s.steps.len()), section.is_some(), vec![], problems)
    };
    let problems: Vec<_> = problems.iter().map(|problem| json::problem(&text, problem)).collect();
    let about = serde_json::json!({
        "file": file, "kind": kind, "usable": usable, "steps": steps, "error": null, "problems": problems
    });
    (parts, about)
}
