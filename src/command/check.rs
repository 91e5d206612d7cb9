//! `check FILE…`: every problem of each section file, drawn in its text, and the words the recogniser doesn't know.

use super::Failure;
use crate::listen::Model;
use crate::problem::{Problem, Severity};
use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use std::path::{Path, PathBuf};

/// Check each file; fails where one can't be used.
pub fn run(files: &[PathBuf]) -> Result<(), Failure> {
    // Without a model the words can't be checked, but the rest of the file can.
    let model = Model::load(&super::models().join("english")).ok();
    let mut failed = None;
    for file in files {
        match super::section(file, 0) {
            Ok((section, text)) => {
                if let Some(model) = &model {
                    unheard(file, &text, |word| model.knows(word));
                }
                println!("{}: {} steps, usable", file.display(), section.steps.len());
            }
            Err(failure) => {
                if failed.is_some() {
                    failure.report();
                }
                failed = failed.or(Some(failure));
            }
        }
    }
    failed.map_or(Ok(()), Err)
}

/// Draw a warning for each callout that holds a word the recogniser doesn't know.
pub fn unheard(path: &Path, text: &str, knows: impl Fn(&str) -> bool) {
    let problems: Vec<Problem> = crate::authoring::callout_spans(text)
        .into_iter()
        .filter_map(|(say, span)| {
            let unknown: Vec<&str> = say.split(' ').filter(|w| !w.is_empty() && !knows(w)).collect();
            let message =
                format!("the recogniser doesn't know \"{}\", so this callout can't be heard", unknown.join("\", \""));
            (!unknown.is_empty()).then(|| {
                Problem::warning("S014", span, message).help("add a callout in common words to the step's `say`")
            })
        })
        .collect();
    show(path, text, &problems);
}

/// Draw problems on standard error.
pub fn show(path: &Path, text: &str, problems: &[Problem]) {
    let path = path.display().to_string();
    for problem in problems {
        let level = if problem.severity == Severity::Error { Level::ERROR } else { Level::WARNING };
        let snippet = Snippet::source(text).path(&path).annotation(AnnotationKind::Primary.span(problem.span.clone()));
        let mut group = level.primary_title(&problem.message).id(problem.code).element(snippet);
        if let Some(help) = &problem.help {
            group = group.element(Level::HELP.message(help));
        }
        eprintln!("{}", Renderer::plain().render(&[group]));
    }
}
