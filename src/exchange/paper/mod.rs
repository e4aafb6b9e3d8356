//! A certificate on one sheet: a PDF/A-3b for the wall, the cab and the auditor, with the signed file inside it and a code to scan.
//!
//! Draws what it is given and decides nothing: never looks at a clock, never opens a file, never says that a certificate is
//! valid (only its page knows that). The same content gives the same bytes.

mod layout;
mod pen;
mod square_code;

use crate::domain::units::Moment;
use jiff::{Timestamp, tz::TimeZone};
use krilla::configure::{Archival, ConfigurationBuilder};
use krilla::embed::{AssociationKind, EmbeddedFile, MimeType};
use krilla::metadata::{DateTime, Metadata};
use krilla::page::PageSettings;
use krilla::{Document, SerializeSettings};

/// The name of the signed file inside the PDF.
pub const SIGNED_FILE: &str = "certificate.json";

/// What stands on the sheet. Days are in words.
#[derive(Clone, Debug)]
pub struct Sheet<'a> {
    /// The certificate's number as it is printed.
    pub number: &'a str,
    /// What the issuing organisation is called.
    pub organisation: &'a str,
    /// The holder's name.
    pub holder: &'a str,
    /// What people call the scheme.
    pub scheme: &'a str,
    /// Its version.
    pub scheme_version: i32,
    /// The competences in words.
    pub competences: &'a [String],
    /// The machine profiles in words.
    pub machines: &'a [String],
    /// The day of the examination.
    pub examined: &'a str,
    /// From which day.
    pub valid_from: &'a str,
    /// Until which day.
    pub valid_until: &'a str,
    /// The role of whoever decided.
    pub decided_by: &'a str,
    /// When it was decided: the date of the document.
    pub decided_at: Moment,
    /// Where anyone can see whether it is valid.
    pub check_address: &'a str,
    /// The issuer's name in the signed file.
    pub issuer: &'a str,
    /// The signed file.
    pub signed_file: &'a str,
}

/// Why a sheet could not be drawn. Always a fault of the program, never of whoever asked.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the certificate could not be drawn: {0}")]
pub struct PaperError(String);

impl PaperError {
    fn new(what: &str) -> Self {
        Self(what.to_owned())
    }
}

/// A4 in points.
// Source: ISO 216: 210 mm by 297 mm.
const WIDTH: f32 = 595.28;
const HEIGHT: f32 = 841.89;

/// Draws the sheet.
///
/// # Errors
/// When the PDF would not be what PDF/A-3b asks for.
pub fn pdf(sheet: &Sheet<'_>) -> Result<Vec<u8>, PaperError> {
    let configuration = ConfigurationBuilder::new().with_archival_validator(Archival::A3_B).finish();
    let configuration = configuration.map_err(|error| PaperError(format!("{error:?}")))?;
    let mut document = Document::new_with(SerializeSettings { configuration, ..SerializeSettings::default() });
    let date = date_of(sheet.decided_at)?;
    let title = format!("Certificate {}", sheet.number);
    document.set_metadata(
        Metadata::new()
            .title(title.clone())
            .authors(vec![sheet.organisation.to_owned()])
            .creator("Sootmark".to_owned())
            .language("en".to_owned())
            .document_id(sheet.check_address.to_owned())
            .creation_date(date),
    );
    let file = EmbeddedFile {
        path: SIGNED_FILE.to_owned(),
        mime_type: MimeType::new("application/json"),
        description: Some(format!("{title} as a signed file")),
        association_kind: AssociationKind::Alternative,
        data: sheet.signed_file.as_bytes().to_vec().into(),
        modification_date: Some(date),
        compress: None,
        location: None,
    };
    document.embed_file(file).ok_or_else(|| PaperError::new("its signed file has a name that is taken"))?;
    let size = PageSettings::from_wh(WIDTH, HEIGHT).ok_or_else(|| PaperError::new("no page is that large"))?;
    let mut page = document.start_page_with(size);
    let mut surface = page.surface();
    layout::draw(&mut surface, sheet)?;
    surface.finish();
    page.finish();
    document.finish().map_err(|error| PaperError(format!("{error:?}")))
}

fn date_of(moment: Moment) -> Result<DateTime, PaperError> {
    let at = Timestamp::from_microsecond(moment.0).map_err(|error| PaperError(error.to_string()))?;
    let at = at.to_zoned_datetime(TimeZone::UTC);
    let part = |value: i8| u8::try_from(value).unwrap_or_default();
    Ok(DateTime::new(u16::try_from(at.year()).unwrap_or_default())
        .month(part(at.month()))
        .day(part(at.day()))
        .hour(part(at.hour()))
        .minute(part(at.minute()))
        .second(part(at.second()))
        .utc_offset_hour(0)
        .utc_offset_minute(0))
}

#[cfg(test)]
mod tests;
