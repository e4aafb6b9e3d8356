//! The list as a file: RFC 4180, UTF-8, a row for each person and competence.
//!
//! Never lets a cell run as a formula in a spreadsheet.

use super::filter::{Filter, Lines};
use crate::store::read::record_head::record_head;
use crate::web::App;
use crate::web::dates::{day_for_files, utc_for_files};
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use actix_web::http::header::CONTENT_DISPOSITION;
use actix_web::{HttpRequest, HttpResponse, web};
use csv::{Terminator, WriterBuilder};

const HEAD: [&str; 12] = [
    "person",
    "e-mail",
    "branch",
    "competence",
    "state",
    "valid from",
    "valid until",
    "reason",
    "scheme",
    "scheme version",
    "record entry",
    "record head",
];

/// The file of what the list shows with the same query, all pages. Moments are in UTC.
///
/// # Errors
/// The program cannot do it now.
pub async fn export(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let in_use = app.deeds.bank.now();
    let now = app.deeds.clock.now();
    let filter = Filter::read(&Fields::from_text(request.query_string())?, &in_use.bank);
    let found = Lines::read(&app, &in_use.bank, &filter, now).await?;
    let head = record_head(&app.deeds.db).await?;
    let file = written(&found, &filter, &reader.time_zone, &head.hash)?;
    let name = format!("qualified-{}.csv", day_for_files(now, &reader.time_zone)?);
    Ok(HttpResponse::Ok()
        .content_type("text/csv; charset=utf-8; header=present")
        .insert_header((CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\"")))
        .insert_header(("x-record-head", format!("{} {}", head.entries, head.hash)))
        .body(file))
}

fn written(found: &Lines, filter: &Filter, zone: &str, head: &str) -> Result<Vec<u8>, PageError> {
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    writer.write_record(HEAD).map_err(fault)?;
    for line in &found.lines {
        for (at, (subject, stood)) in found.subjects.iter().zip(&line.stood).enumerate() {
            let wanted = found.asked.is_none_or(|asked| asked == at) && filter.takes(stood);
            if !wanted || stood.standing.is_none() {
                continue;
            }
            let deciding = stood.deciding().map(|found| &found.entry);
            let pass = stood.pass().map(|found| &found.entry);
            let moment = |moment: Option<_>| moment.map_or_else(|| Ok(String::new()), utc_for_files);
            let reason = match deciding {
                Some(entry) => format!("{}: {}", stood.note(zone)?.unwrap_or_default(), entry.reason),
                None => stood.note(zone)?.unwrap_or_default(),
            };
            let row = [
                line.row.display_name.clone(),
                line.row.email.clone(),
                line.row.branch_name.clone(),
                subject.name.clone(),
                stood.word().to_owned(),
                moment(pass.map(|entry| entry.valid_from))?,
                moment(pass.and_then(|entry| entry.valid_until))?,
                reason,
                deciding.map(|entry| entry.scheme_key.clone()).unwrap_or_default(),
                deciding.map(|entry| entry.scheme_version.to_string()).unwrap_or_default(),
                deciding.map(|entry| entry.record_entry_id.to_string()).unwrap_or_default(),
                // In each row, so that a row that is cut out still says which record it was true of.
                head.to_owned(),
            ];
            writer.write_record(row.map(no_formula)).map_err(fault)?;
        }
    }
    writer.into_inner().map_err(|error| fault(error.into_error()))
}

fn fault(error: impl std::fmt::Display) -> PageError {
    PageError::Fault(format!("the file could not be written: {error}"))
}

/// The text with an apostrophe before it when a spreadsheet would take it for a formula. Plain numbers stay numbers.
// Source: OWASP ASVS 5.0, 1.2.10 (= + - @ TAB NUL); CR and LF are our addition.
fn no_formula(text: String) -> String {
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
