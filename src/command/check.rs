//! `check FILE…`: every problem of each section file, drawn in its text.

use super::Failure;
use crate::problem::{Problem, Severity};
use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use std::path::{Path, PathBuf};

/// Check each file; fails where one can't be used.
pub fn run(files: &[PathBuf]) -> Result<(), Failure> {
    let mut failed = None;
    for file in files {
        match super::section(file) {
            Ok((section, _)) => println!("{}: {} steps, fine", file.display(), section.steps.len()),
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
