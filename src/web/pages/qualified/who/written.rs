//! The answer for other programs: JSON and CSV. The shape is told in README.md and only ever grows.

use super::answer::{Answer, Answered};
use super::asked::Asked;
use crate::domain::units::Moment;
use crate::exchange::workbook::no_formula;
use crate::store::read::record_head::RecordHead;
use crate::web::dates::utc_for_files;
use crate::web::error::PageError;
use actix_web::HttpResponse;
use actix_web::http::header::CONTENT_DISPOSITION;
use csv::{Terminator, WriterBuilder};
use serde_json::{Value, json};

/// The answer as JSON. Moments are in UTC.
pub(super) fn json(
    asked: &Asked,
    found: &Answer,
    head: &RecordHead,
    now: Moment,
    zone: &str,
) -> Result<HttpResponse, PageError> {
    let people = |all: &[Answered]| all.iter().map(|one| person(one, zone)).collect::<Result<Vec<_>, _>>();
    let body = json!({
        "format": "sootmark who 1",
        "question": {
            "competence": { "id": asked.competence.id, "name": asked.competence.name },
            "machine": { "id": asked.machine.id, "name": asked.machine.name },
            "branch": asked.branch.as_ref().map(|branch| json!({ "id": branch.id, "name": branch.name })),
            "day": asked.day.to_string(),
        },
        "answered_at": utc_for_files(now)?,
        "known": asked.known(),
        "may_be_sent": people(&found.may)?,
        "may_not_be_sent": people(&found.may_not)?,
        "record": { "entries": head.entries, "sha256": head.hash },
    });
    Ok(HttpResponse::Ok().content_type("application/json").body(body.to_string()))
}

fn person(one: &Answered, zone: &str) -> Result<Value, PageError> {
    Ok(json!({
        "person": one.person,
        "name": one.name,
        "branch": one.branch,
        "state": one.word(),
        "note": one.note(zone)?,
        "valid_until": one.until.map(utc_for_files).transpose()?,
        "certificate": one.certificate,
        "open_safety_misses": one.misses,
    }))
}

const HEAD: [&str; 11] = [
    "may be sent",
    "person",
    "branch",
    "state",
    "note",
    "valid until",
    "certificate",
    "competence",
    "machine",
    "day",
    "record head",
];

/// The answer as a file: RFC 4180, UTF-8, a row for each person.
pub(super) fn csv(asked: &Asked, found: &Answer, head: &RecordHead, zone: &str) -> Result<HttpResponse, PageError> {
    let fault = |error: String| PageError::Fault(format!("the file could not be written: {error}"));
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    writer.write_record(HEAD).map_err(|error| fault(error.to_string()))?;
    for one in found.may.iter().chain(&found.may_not) {
        let row = [
            if one.may() { "yes" } else { "no" }.to_owned(),
            one.name.clone(),
            one.branch.clone(),
            one.word().to_owned(),
            one.note(zone)?,
            one.until.map(utc_for_files).transpose()?.unwrap_or_default(),
            one.certificate.clone().unwrap_or_default(),
            asked.competence.id.clone(),
            asked.machine.id.clone(),
            asked.day.to_string(),
            head.hash.clone(),
        ];
        writer.write_record(row.map(no_formula)).map_err(|error| fault(error.to_string()))?;
    }
    let file = writer.into_inner().map_err(|error| fault(error.to_string()))?;
    let name = format!("who-{}-{}-{}.csv", asked.competence.id, asked.machine.id, asked.day);
    Ok(HttpResponse::Ok()
        .content_type("text/csv; charset=utf-8; header=present")
        .insert_header((CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\"")))
        .insert_header(("x-record-head", format!("{} {}", head.entries, head.hash)))
        .body(file))
}
