//! A table of decoded signals: a line of headings, then one line for each moment, divided by commas, semicolons or tabs.
//!
//! Headings are the words of [`super::words`] or numbers of the standard ("SPN 3719"); an empty cell says nothing. Never
//! converts a unit: the heading names it.

use super::parameter::{said_in_cell, spn_of_column};
use super::{Draft, Statement, count};
use crate::document::nearest;

/// The heading of the column with the time, in seconds.
const TIME: &str = "time_s";

/// What a table's first line says.
pub(super) struct Heading {
    /// The line it stands on, counted from 0.
    index: usize,
    divider: char,
    columns: Vec<(String, Column)>,
}

#[derive(Clone, Copy, PartialEq)]
enum Column {
    Time,
    Parameter(u32),
    Unknown,
}

/// The headings of a text, when it is a table of signals.
pub(super) fn heading(text: &str) -> Option<Heading> {
    let (index, line) = text.lines().enumerate().find(|(_, line)| !is_blank(line))?;
    let divider = [',', ';', '\t'].into_iter().max_by_key(|divider| line.matches(*divider).count())?;
    let columns: Vec<(String, Column)> = cells(line, divider)
        .map(|cell| {
            let column = match spn_of_column(cell) {
                _ if cell.eq_ignore_ascii_case(TIME) => Column::Time,
                Some(spn) => Column::Parameter(spn),
                None => Column::Unknown,
            };
            (cell.to_owned(), column)
        })
        .collect();
    let known = columns.iter().any(|(_, column)| matches!(column, Column::Parameter(_)));
    known.then_some(Heading { index, divider, columns })
}

pub(super) fn read(draft: &mut Draft<'_>, text: &str, heading: &Heading) {
    let heading_line = count(heading.index + 1);
    for (place, (name, column)) in heading.columns.iter().enumerate() {
        let twice = heading.columns[..place].iter().any(|(_, earlier)| earlier == column);
        match column {
            Column::Unknown => {
                draft.lines.ignored_columns.push(name.clone());
                // A word that is nearly one of ours is a slip; any other column is somebody's own.
                if let Some(meant) = nearest(name, super::words().map(|(_, word)| word)) {
                    draft.problem(heading_line, name, format!("nobody knows this column; did you mean \"{meant}\"?"));
                }
            }
            _ if twice => draft.problem(heading_line, name, "this column stands twice; the right one of both is used"),
            _ => {}
        }
    }
    for (index, line) in text.lines().enumerate() {
        draft.lines.all += 1;
        if index <= heading.index || is_blank(line) {
            draft.lines.blank += 1;
        } else {
            row(draft, count(index + 1), line, heading);
        }
    }
}

fn row(draft: &mut Draft<'_>, line: u32, text: &str, heading: &Heading) {
    let cells: Vec<&str> = cells(text, heading.divider).collect();
    let (found, wanted) = (cells.len(), heading.columns.len());
    if found > wanted {
        return draft.refuse(line, "line", format!("{found} cells below {wanted} headings"));
    }
    if found < wanted {
        draft.problem(line, "line", format!("is cut: {found} of {wanted} cells; what they say is used"));
    }
    let (mut at_us, mut said) = (None, Vec::new());
    for ((name, column), cell) in heading.columns.iter().zip(cells) {
        match column {
            Column::Unknown => {}
            Column::Time => match microseconds(cell) {
                Some(time) => at_us = Some(time),
                None => draft.problem(line, name, format!("\"{cell}\" is no time; write seconds, such as 12.5")),
            },
            Column::Parameter(spn) => match said_in_cell(*spn, cell) {
                Ok(cell) => said.extend(cell.map(|cell| (*spn, cell))),
                Err(message) => draft.problem(line, name, message),
            },
        }
    }
    draft.lines.used += 1;
    draft.statements.push(Statement { line, at_us, said });
}

fn cells(line: &str, divider: char) -> impl Iterator<Item = &str> {
    line.split(divider).map(|cell| cell.trim().trim_matches('"').trim())
}

fn is_blank(line: &str) -> bool {
    line.trim().is_empty() || line.trim_start().starts_with('#')
}

/// Microseconds of a number of seconds, as far as they can be counted exactly.
fn microseconds(text: &str) -> Option<i64> {
    let micros = (text.parse::<f64>().ok()? * 1.0e6).round();
    #[expect(clippy::cast_possible_truncation, reason = "below 2^53")]
    (micros.abs() < 9.0e15).then_some(micros as i64)
}
