//! Problems of authored files, drawn in the text they are in.

use crate::problem::{self, Problem};
use crate::text::{blanked, harmless};
use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use std::io::{self, IsTerminal, Write};
use std::path::Path;

/// Draw problems on standard error.
pub fn show(path: &Path, text: &str, problems: &[Problem]) {
    let colored = super::colored(io::stderr().is_terminal());
    let renderer = if colored { Renderer::styled() } else { Renderer::plain() };
    let _ = io::stderr().write_all(with(&renderer, &path.display().to_string(), text, problems).as_bytes());
}

/// Problems drawn in the text they are in, without colour.
pub fn drawn(path: &str, text: &str, problems: &[Problem]) -> String {
    with(&Renderer::plain(), path, text, problems)
}

fn with(renderer: &Renderer, path: &str, text: &str, problems: &[Problem]) -> String {
    // The renderer's own colours can't be told from a file's, so the file's are made harmless first, each place staying the same.
    let (path, text) = (harmless(path), blanked(text));
    let mut out = String::new();
    for problem in problems {
        let level = if problem.level == problem::Level::Error { Level::ERROR } else { Level::WARNING };
        let (message, help) = (harmless(&problem.message), problem.help.as_deref().map(harmless));
        let snippet = Snippet::source(text.as_ref()).path(path.as_ref());
        let snippet = snippet.annotation(AnnotationKind::Primary.span(problem.span.clone()));
        let mut group = level.primary_title(message.as_ref()).id(problem.code).element(snippet);
        if let Some(help) = &help {
            group = group.element(Level::HELP.message(help.as_ref()));
        }
        out += &renderer.render(&[group]);
        out.push('\n');
    }
    out
}
