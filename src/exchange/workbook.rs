//! A table as an XLSX workbook: numbers and days as what they are, texts as texts.
//!
//! Opens no file. Never writes a formula, and never a text that would become one when it is typed or saved as CSV.

use rust_xlsxwriter::{ExcelDateTime, Format, Workbook, XlsxError};

/// A cell.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// A text; guarded.
    Text(String),
    /// A number.
    Number(i64),
    /// A moment in UTC: year, month, day, hour, minute, second.
    Moment(u16, u8, u8, u16, u8, f64),
    /// Nothing.
    Empty,
}

/// A workbook with one table, its first row a heading, and a second sheet of facts that prove it.
///
/// # Errors
/// When the library refuses a cell: a text over 32 767 characters, more rows than a sheet has.
pub fn workbook(title: &str, head: &[&str], rows: &[Vec<Cell>], proof: &[(&str, Cell)]) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    let bold = Format::new().set_bold();
    let moment = Format::new().set_num_format("yyyy-mm-dd hh:mm");
    let sheet = book.add_worksheet().set_name(title)?;
    for (column, word) in (0_u16..).zip(head) {
        sheet.write_string_with_format(0, column, *word, &bold)?;
    }
    for (number, row) in (1_u32..).zip(rows) {
        for (column, cell) in (0_u16..).zip(row) {
            put(sheet, number, column, cell, &moment)?;
        }
    }
    sheet.set_freeze_panes(1, 1)?;
    sheet.autofit();
    let sheet = book.add_worksheet().set_name("Proof")?;
    for (number, (word, cell)) in (0_u32..).zip(proof) {
        sheet.write_string_with_format(number, 0, *word, &bold)?;
        put(sheet, number, 1, cell, &moment)?;
    }
    sheet.autofit();
    book.save_to_buffer()
}

fn put(
    sheet: &mut rust_xlsxwriter::Worksheet,
    row: u32,
    column: u16,
    cell: &Cell,
    moment: &Format,
) -> Result<(), XlsxError> {
    match cell {
        Cell::Text(text) => drop(sheet.write_string(row, column, no_formula(text.clone()))?),
        #[expect(clippy::cast_precision_loss, reason = "counts and numbers of rows: far below 2^53")]
        Cell::Number(number) => drop(sheet.write_number(row, column, *number as f64)?),
        Cell::Moment(year, month, day, hour, minute, second) => {
            let at = ExcelDateTime::from_ymd(*year, *month, *day)?.and_hms(*hour, *minute, *second)?;
            sheet.write_datetime_with_format(row, column, &at, moment)?;
        }
        Cell::Empty => {}
    }
    Ok(())
}

/// The text with an apostrophe before it when a spreadsheet would take it for a formula. Plain numbers stay numbers.
// Source: OWASP ASVS 5.0, 1.2.10 (= + - @ TAB NUL); CR and LF are our addition.
#[must_use]
pub fn no_formula(text: String) -> String {
    let suspicious = text.starts_with(['=', '+', '-', '@', '\t', '\0', '\r', '\n']);
    if suspicious && !is_number(&text) { format!("'{text}") } else { text }
}

fn is_number(text: &str) -> bool {
    let digits = text.strip_prefix(['-', '+']).unwrap_or(text);
    let (whole, part) = digits.split_once('.').unwrap_or((digits, "0"));
    let all_digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    all_digits(whole) && all_digits(part)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_cell_runs_as_a_formula() {
        // Source: OWASP ASVS 5.0, 1.2.10.
        for formula in ["=1+1", "+A1", "-A1", "@SUM(A1)", "\tx", "\0x", "-", "=", "-inf", "-1e5", "+1+1", "-1.", "-.5"]
        {
            assert_eq!(no_formula(formula.to_owned()), format!("'{formula}"), "{formula:?}");
        }
        for text in ["", "Ada", "-5", "+5", "-0.25", "a=1", "'=1"] {
            assert_eq!(no_formula(text.to_owned()), text);
        }
    }
}
