//! The list as a file, a row for each person and competence: CSV (RFC 4180, UTF-8), or an XLSX workbook.
//!
//! Never lets a cell run as a formula in a spreadsheet.

use super::filter::{Filter, Lines};
use crate::domain::units::Moment;
use crate::exchange::workbook::{Cell, no_formula, workbook};
use crate::store::read::record_head::RecordHead;
use crate::store::read::record_head::record_head;
use crate::web::App;
use crate::web::dates::{day_for_files, local, utc_for_files};
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

/// One row of the file, before it is written in one form or the other.
struct Row {
    texts: [String; 5],
    valid_from: Option<Moment>,
    valid_until: Option<Moment>,
    reason: String,
    scheme: String,
    scheme_version: Option<i32>,
    entry: Option<i64>,
}

/// The file of what the list shows with the same query, all pages. Moments are in UTC.
///
/// # Errors
/// The program cannot do it now.
pub async fn export(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let (rows, head) = read(&app, &request, &reader).await?;
    let file = as_csv(&rows, &head.hash)?;
    sent(&app, &reader, &head, "csv", "text/csv; charset=utf-8; header=present", file)
}

/// The same as a workbook.
///
/// # Errors
/// The program cannot do it now.
pub async fn export_xlsx(
    app: web::Data<App>,
    request: HttpRequest,
    reader: SignedIn,
) -> Result<HttpResponse, PageError> {
    let (rows, head) = read(&app, &request, &reader).await?;
    let made = cell(Some(app.deeds.clock.now()))?;
    // Half a second of a processor for 2 000 people: not where other requests wait.
    let of = head.clone();
    let written = web::block(move || as_xlsx(&rows, &of, made)).await;
    let file = written.map_err(|_| PageError::Busy("the workbook was not finished".to_owned()))??;
    let kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
    sent(&app, &reader, &head, "xlsx", kind, file)
}

fn sent(
    app: &App,
    reader: &SignedIn,
    head: &RecordHead,
    ending: &str,
    kind: &'static str,
    file: Vec<u8>,
) -> Result<HttpResponse, PageError> {
    let name = format!("qualified-{}.{ending}", day_for_files(app.deeds.clock.now(), &reader.time_zone)?);
    Ok(HttpResponse::Ok()
        .content_type(kind)
        .insert_header((CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\"")))
        .insert_header(("x-record-head", format!("{} {}", head.entries, head.hash)))
        .body(file))
}

async fn read(app: &App, request: &HttpRequest, reader: &SignedIn) -> Result<(Vec<Row>, RecordHead), PageError> {
    let in_use = app.deeds.bank.now();
    let filter = Filter::read(&Fields::from_text(request.query_string())?, &in_use.bank);
    let found = Lines::read(app, &in_use.bank, &filter, app.deeds.clock.now()).await?;
    let head = record_head(&app.deeds.db).await?;
    Ok((rows(&found, &filter, &reader.time_zone)?, head))
}

fn rows(found: &Lines, filter: &Filter, zone: &str) -> Result<Vec<Row>, PageError> {
    let mut rows = Vec::new();
    for line in &found.lines {
        for (at, (subject, stood)) in found.subjects.iter().zip(&line.stood).enumerate() {
            let wanted = found.asked.is_none_or(|asked| asked == at) && filter.takes(stood);
            if !wanted || stood.standing.is_none() {
                continue;
            }
            let deciding = stood.deciding().map(|found| &found.entry);
            let pass = stood.pass().map(|found| &found.entry);
            let note = stood.note(zone)?.unwrap_or_default();
            let of = &line.row;
            rows.push(Row {
                texts: [
                    of.display_name.clone(),
                    of.email.clone(),
                    of.branch_name.clone(),
                    subject.name.clone(),
                    stood.word().to_owned(),
                ],
                valid_from: pass.map(|entry| entry.valid_from),
                valid_until: pass.and_then(|entry| entry.valid_until),
                reason: deciding.map_or_else(|| note.clone(), |entry| format!("{note}: {}", entry.reason)),
                scheme: deciding.map(|entry| entry.scheme_key.clone()).unwrap_or_default(),
                scheme_version: deciding.map(|entry| entry.scheme_version),
                entry: deciding.map(|entry| entry.record_entry_id.0),
            });
        }
    }
    Ok(rows)
}

fn as_csv(rows: &[Row], head: &str) -> Result<Vec<u8>, PageError> {
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    writer.write_record(HEAD).map_err(fault)?;
    let moment = |moment: Option<_>| moment.map_or_else(|| Ok(String::new()), utc_for_files);
    for row in rows {
        let [person, email, branch, competence, state] = row.texts.clone();
        let cells = [
            person,
            email,
            branch,
            competence,
            state,
            moment(row.valid_from)?,
            moment(row.valid_until)?,
            row.reason.clone(),
            row.scheme.clone(),
            row.scheme_version.map(|version| version.to_string()).unwrap_or_default(),
            row.entry.map(|entry| entry.to_string()).unwrap_or_default(),
            // In each row, so that a row that is cut out still says which record it was true of.
            head.to_owned(),
        ];
        writer.write_record(cells.map(no_formula)).map_err(fault)?;
    }
    writer.into_inner().map_err(|error| fault(error.into_error()))
}

fn as_xlsx(rows: &[Row], head: &RecordHead, made: Cell) -> Result<Vec<u8>, PageError> {
    let number = |number: Option<i64>| number.map_or(Cell::Empty, Cell::Number);
    let table = rows.iter().map(|row| {
        let mut cells: Vec<Cell> = row.texts.iter().cloned().map(Cell::Text).collect();
        cells.extend([
            cell(row.valid_from)?,
            cell(row.valid_until)?,
            Cell::Text(row.reason.clone()),
            Cell::Text(row.scheme.clone()),
            number(row.scheme_version.map(i64::from)),
            number(row.entry),
            Cell::Text(head.hash.clone()),
        ]);
        Ok(cells)
    });
    let table = table.collect::<Result<Vec<_>, PageError>>()?;
    let proof = [
        ("record entries", Cell::Number(head.entries)),
        ("record head (SHA-256)", Cell::Text(head.hash.clone())),
        ("made at (UTC)", made),
    ];
    workbook("Qualified", &HEAD, &table, &proof).map_err(fault)
}

/// A moment as a cell, in UTC.
fn cell(moment: Option<Moment>) -> Result<Cell, PageError> {
    let Some(moment) = moment else { return Ok(Cell::Empty) };
    let at = local(moment, "UTC")?;
    let small = |number: i8| number.unsigned_abs();
    Ok(Cell::Moment(
        at.year().unsigned_abs(),
        small(at.month()),
        small(at.day()),
        u16::from(small(at.hour())),
        small(at.minute()),
        f64::from(small(at.second())),
    ))
}

fn fault(error: impl std::fmt::Display) -> PageError {
    PageError::Fault(format!("the file could not be written: {error}"))
}
