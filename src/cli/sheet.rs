//! Text for people on a terminal: a label in a column of its own, the text beside it, and stdout that says when it fails.
//!
//! Never colours anything: what is said must survive a pipe, a printer and a screen reader.

use super::Failure;
use std::io::{ErrorKind, Write as _};

/// Columns for labels; the longest is "You must not".
const LABEL: usize = 14;
/// Columns of a line; chosen by us: what an A4 page holds in a legible size.
const WIDTH: usize = 92;

/// A sheet of labelled lines.
#[derive(Debug, Default)]
pub(super) struct Sheet(String);

impl Sheet {
    /// A line as it stands.
    pub(super) fn line(&mut self, text: &str) {
        self.0.push_str(text.trim_end());
        self.0.push('\n');
    }

    /// A label with its text beside it, broken into lines below each other. No text, no line.
    pub(super) fn beside(&mut self, label: &str, text: &str) {
        let mut line = format!("{label:<LABEL$}");
        if line.chars().count() > LABEL {
            self.line(&line);
            line = " ".repeat(LABEL);
        }
        let mut empty = true;
        for word in text.split_whitespace() {
            if !empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
                self.line(&line);
                (line, empty) = (" ".repeat(LABEL), true);
            }
            if !empty {
                line.push(' ');
            }
            line.push_str(word);
            empty = false;
        }
        if !empty {
            self.line(&line);
        }
    }

    /// An empty line.
    pub(super) fn gap(&mut self) {
        self.0.push('\n');
    }

    /// Hands it over on stdout, and says whether the reader wants more.
    pub(super) fn hand_over(self) -> Result<bool, Failure> {
        hand_over(&self.0)
    }
}

/// Writes what was asked for to stdout, and says whether the reader wants more. Unlike after a plain print, a full disk
/// is an error, and a reader that has seen enough is not.
pub(super) fn hand_over(text: &str) -> Result<bool, Failure> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Ok(()) => Ok(true),
        Err(error) if error.kind() == ErrorKind::BrokenPipe => Ok(false),
        Err(error) => Err(format!("stdout: {error}").into()),
    }
}

/// "one problem", "3 problems".
pub(super) fn counted(count: usize, what: &str) -> String {
    match count {
        0 => format!("no {what}"),
        1 => format!("one {what}"),
        _ => format!("{count} {what}s"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_text_hangs_below_itself_and_a_long_label_stands_alone() {
        let mut sheet = Sheet::default();
        sheet.beside("Why", &"soot ".repeat(20));
        sheet.beside("A label that is long", "text");
        sheet.beside("Nothing", "");
        let lines: Vec<&str> = sheet.0.lines().collect();
        assert_eq!(lines[0].len(), LABEL + 74, "{lines:?}");
        assert_eq!(
            &lines[1..],
            ["              soot soot soot soot soot", "A label that is long", "              text"]
        );
    }
}
