//! What was found wrong in a file, and its excerpt: the line itself with the place underlined.
//!
//! Owns the drawing and nothing else. A finding is also a [`Problem`], for those who have no terminal before them.

use crate::problem::Problem;
use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use std::cell::RefCell;
use std::fmt;
use std::ops::Range;
use std::sync::Arc;

/// A file that was read.
#[derive(Debug)]
pub(super) struct Source {
    /// Its path as the user gave it.
    pub name: String,
    /// What it holds.
    pub text: String,
}

/// What is wrong and what to do, before its place is known.
#[derive(Clone, Debug)]
pub(super) struct Complaint {
    pub what: String,
    pub remedy: String,
}

impl Complaint {
    pub fn new(what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self {
            what: what.into(),
            remedy: remedy.into(),
        }
    }
}

/// One thing that was found wrong in a file.
#[derive(Clone, Debug)]
pub(super) struct Finding {
    source: Arc<Source>,
    /// Bytes of the text; none where the file as a whole is meant.
    span: Option<Range<usize>>,
    complaint: Complaint,
    /// Parses, but makes no sense.
    pub warning: bool,
}

impl Finding {
    /// As a problem: its place has the line, its key has not.
    pub fn problem(&self) -> Problem {
        let Complaint { what, remedy } = &self.complaint;
        let name = &self.source.name;
        let place = self.span.as_ref().map_or_else(
            || name.clone(),
            |span| {
                let before = &self.source.text[..span.start];
                let line = before.matches('\n').count() + 1;
                let column = before.chars().rev().take_while(|c| *c != '\n').count() + 1;
                format!("{name}, line {line}, column {column}")
            },
        );
        Problem::new(place, what, "", remedy).keyed(format!("{name}: {what}"))
    }

    /// With the line it is about, its number and column, and the place underlined.
    pub fn render(&self, colour: bool) -> String {
        let renderer = if colour {
            Renderer::styled()
        } else {
            Renderer::plain()
        };
        let level = if self.warning {
            Level::WARNING
        } else {
            Level::ERROR
        };
        let Complaint { what, remedy } = &self.complaint;
        let Source { name, text } = self.source.as_ref();
        let help = Level::HELP.message(remedy.as_str());
        let report = match &self.span {
            Some(span) => level.primary_title(what.as_str()).element(
                Snippet::source(text.as_str())
                    .path(name.as_str())
                    .annotation(AnnotationKind::Primary.span(span.clone())),
            ),
            None => Group::with_title(level.primary_title(format!("{name}: {what}"))),
        };
        renderer.render(&[report.element(help)])
    }
}

/// Everything that was found in one file. Adding needs no exclusive hold, so that readers of different parts may
/// add at once.
#[derive(Debug)]
pub(super) struct Findings {
    source: Arc<Source>,
    list: RefCell<Vec<Finding>>,
}

impl Findings {
    pub fn of(source: Source) -> Self {
        Self {
            source: Arc::new(source),
            list: RefCell::default(),
        }
    }

    /// The file they are about.
    pub fn source(&self) -> Arc<Source> {
        Arc::clone(&self.source)
    }

    pub fn error(&self, span: Range<usize>, complaint: Complaint) {
        self.add(Some(span), complaint, false);
    }

    pub fn warning(&self, span: Range<usize>, complaint: Complaint) {
        self.add(Some(span), complaint, true);
    }

    /// About the file as a whole.
    pub fn of_file(&self, complaint: Complaint) {
        self.add(None, complaint, false);
    }

    fn add(&self, span: Option<Range<usize>>, complaint: Complaint, warning: bool) {
        let text = self.source.text.trim_end();
        let floor = |at: usize| {
            (0..=at.min(text.len()))
                .rev()
                .find(|at| text.is_char_boundary(*at))
                .unwrap_or(0)
        };
        self.list.borrow_mut().push(Finding {
            source: self.source(),
            // The section of the whole file has no line of its own.
            span: span
                .filter(|span| *span != (0..0))
                .map(|span| floor(span.start)..floor(span.end).max(floor(span.start))),
            complaint,
            warning,
        });
    }

    /// Takes in what was found in another file.
    pub fn extend(&self, other: Vec<Finding>) {
        self.list.borrow_mut().extend(other);
    }

    /// All of them, in the order of the file.
    pub fn into_list(self) -> Vec<Finding> {
        let mut list = self.list.into_inner();
        list.sort_by_key(|f| f.span.as_ref().map_or(usize::MAX, |span| span.start));
        list
    }
}

/// Why a config cannot be used: everything that is wrong with it, at once.
#[derive(Debug)]
pub struct ConfigTrouble {
    pub(super) found: Vec<Finding>,
}

impl ConfigTrouble {
    /// Each of them as a problem.
    pub fn problems(&self) -> Vec<Problem> {
        self.found.iter().map(Finding::problem).collect()
    }

    /// Each of them with its excerpt, in colour for a terminal if so asked.
    pub fn render(&self, colour: bool) -> String {
        let excerpts: Vec<String> = self.found.iter().map(|f| f.render(colour)).collect();
        excerpts.join("\n\n")
    }
}

impl fmt::Display for ConfigTrouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.render(false))
    }
}

impl std::error::Error for ConfigTrouble {}

#[cfg(test)]
mod tests {
    use super::*;

    /// A warning about these bytes of a text, as it is drawn.
    fn drawn(text: &str, span: Range<usize>, colour: bool) -> String {
        let (name, text) = ("x.toml".to_owned(), text.to_owned());
        let findings = Findings::of(Source { name, text });
        findings.warning(span, Complaint::new("what", "remedy"));
        findings.into_list()[0].render(colour)
    }

    #[test]
    fn there_is_colour_only_where_it_is_asked_for() {
        assert!(!drawn("a = 1\n", 0..1, false).contains('\u{1b}'));
        assert!(drawn("a = 1\n", 0..1, true).contains('\u{1b}'));
    }

    #[test]
    fn places_beyond_the_text_or_within_a_letter_are_drawn_all_the_same() {
        assert!(drawn("a = 1\n", 6..9, false).contains("x.toml:1:6"));
        assert!(drawn("é = 1\n", 1..1, false).contains("warning"));
    }

    #[test]
    fn a_problem_has_its_line_in_the_place_and_not_in_the_key() {
        let (name, text) = ("x.toml".to_owned(), "é = 1\né = 2\n".to_owned());
        let findings = Findings::of(Source { name, text });
        findings.error(12..13, Complaint::new("what", "remedy"));
        let problem = findings.into_list()[0].problem();
        assert_eq!(problem.place, "x.toml, line 2, column 5");
        assert_eq!(problem.key, "x.toml: what");
    }
}
