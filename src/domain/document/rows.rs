//! The lines of a table as an editor numbers them. What reads CSV counts otherwise: with line ends of two signs, or after empty
//! lines, it names a line too early.
//!
//! Never looks at what stands in a row.

/// Where the lines of a text begin.
#[derive(Clone, Debug)]
pub struct RowLines<'t> {
    text: &'t str,
    starts: Vec<usize>,
}

impl<'t> RowLines<'t> {
    /// Of a text whose lines end with `\n`, `\r\n` or `\r`.
    #[must_use]
    pub fn of(text: &'t str) -> Self {
        let bytes = text.as_bytes();
        let ends = |at: &usize| bytes[*at] == b'\n' || (bytes[*at] == b'\r' && bytes.get(at + 1) != Some(&b'\n'));
        let starts = (0..bytes.len()).filter(ends).map(|at| at + 1);
        Self { text, starts: starts.collect() }
    }

    /// The line, from 1, of the first row that begins at this byte or after empty lines there.
    #[must_use]
    pub fn line(&self, byte: u64) -> u32 {
        let at = usize::try_from(byte).unwrap_or(usize::MAX).min(self.text.len());
        let passed = self.text.as_bytes()[at..].iter().take_while(|byte| matches!(byte, b'\r' | b'\n')).count();
        u32::try_from(self.starts.partition_point(|start| *start <= at + passed) + 1).unwrap_or(u32::MAX)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_stands_on_the_line_that_an_editor_shows() {
        for (text, row, line) in [
            ("a\nb\n", 2, 2),
            ("a\r\nb\r\n", 2, 2),
            ("a\r\nb\r\n", 3, 2),
            ("a\rb\r", 1, 2),
            ("a\n\n\nb", 2, 4),
            ("a\r\n\r\nb", 2, 3),
            ("\n\na", 0, 3),
            ("a", 0, 1),
            ("", 0, 1),
            ("ä\nb", 3, 2),
            ("a", 900, 1),
        ] {
            assert_eq!(RowLines::of(text).line(row), line, "{text:?} at {row}");
        }
    }
}
