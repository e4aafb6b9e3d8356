//! What was found in a template's text, each at its line.

use crate::domain::document::Problem;
use crate::web::view::FieldError;
use serde::Serialize;

/// How much of a line is quoted.
const QUOTED: usize = 60;

/// A line's number beside the text.
#[derive(Serialize)]
pub(super) struct Line {
    number: usize,
    found: bool,
}

/// One thing to put right.
#[derive(Serialize)]
pub(super) struct Finding {
    /// Its line; nothing when the whole text is meant.
    line: Option<u32>,
    /// Its column; nothing when the whole line is meant.
    column: Option<u32>,
    /// The beginning of that line.
    quoted: String,
    message: String,
}

/// The numbers of the lines, those with a finding marked.
pub(super) fn lines(text: &str, problems: &[Problem]) -> Vec<Line> {
    let marked = |number: usize| problems.iter().any(|problem| usize::try_from(problem.line) == Ok(number));
    (1..=text.split('\n').count()).map(|number| Line { number, found: marked(number) }).collect()
}

/// Everything that was found, in the order of the lines.
pub(super) fn all(text: &str, problems: &[Problem]) -> Vec<Finding> {
    let last = text.split('\n').count();
    problems.iter().map(|problem| finding(text, last, problem)).collect()
}

fn finding(text: &str, last: usize, problem: &Problem) -> Finding {
    let number = usize::try_from(problem.line).unwrap_or_default();
    let line = (1..=last).contains(&number).then_some(problem.line);
    let quoted = text.split('\n').nth(number.wrapping_sub(1)).filter(|_| line.is_some()).unwrap_or_default().trim();
    let mut short: String = quoted.chars().take(QUOTED).collect();
    if short.len() < quoted.len() {
        short.push_str("...");
    }
    let column = Some(problem.column).filter(|column| *column > 0 && line.is_some());
    Finding { line, column, quoted: short, message: worded(problem) }
}

/// A finding in the list of what is wrong with the form, leading to its line.
pub(super) fn said(problem: &Problem) -> FieldError {
    if (problem.line, problem.field.as_str()) == (0, "name") {
        return FieldError { field: "key".to_owned(), message: worded(problem) };
    }
    let (field, place) = match problem.line {
        0 => ("text".to_owned(), String::new()),
        line if problem.column == 0 => (format!("line-{line}"), format!("Line {line}: ")),
        line => (format!("line-{line}"), format!("Line {line}, column {}: ", problem.column)),
    };
    FieldError { field, message: format!("{place}{}", worded(problem)) }
}

fn worded(problem: &Problem) -> String {
    let end = if problem.message.ends_with(['.', '?']) { "" } else { "." };
    let named = match problem.field.as_str() {
        "" | "name" => problem.message.clone(),
        field => format!("{field}: {}", problem.message),
    };
    let mut letters = named.chars();
    let capital = letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect());
    format!("{capital}{end}")
}
