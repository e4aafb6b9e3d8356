//! From the text of a machine's file to a profile that holds together, or to every problem the text has.
//!
//! Reads part by part, so that a fault in one hides none in another; then holds the parts against each other.
//! Never repairs and never fills in: a number that is not in the file is not in the profile.

mod bands;
mod cleaning;
mod consistency;
mod filter;
mod notices;
#[cfg(test)]
mod tests;

use super::profile::Profile;
use crate::document::{Document, Problem, Section};
use bands::Bands;
use cleaning::Cleaning;
use filter::Hardware;
use notices::Notices;

/// Reads a profile; the format is that of `question-bank/machines/`.
pub(super) fn read(file: &str, text: &str) -> Result<Profile, Vec<Problem>> {
    let document = Document::parse(file, text);
    let draft = Draft::read(&document.root());
    consistency::check(&document.root(), &draft);
    let problems = document.finish();
    match draft.finish() {
        Some(profile) if problems.is_empty() => Ok(profile),
        _ => Err(problems),
    }
}

/// A profile on its way: what could be read so far.
struct Draft {
    id: Option<String>,
    name: Option<String>,
    kind: Option<String>,
    hardware: Hardware,
    bands: Bands,
    cleaning: Cleaning,
    notices: Notices,
}

impl Draft {
    fn read(root: &Section<'_>) -> Self {
        Self {
            id: machine_id(root),
            name: root.text("name"),
            kind: root.text("kind"),
            hardware: Hardware::read(root),
            bands: Bands::read(root),
            cleaning: Cleaning::read(root),
            notices: Notices::read(root),
        }
    }

    fn finish(self) -> Option<Profile> {
        Some(Profile {
            id: self.id?,
            name: self.name?,
            kind: self.kind?,
            filter: self.hardware.filter?,
            soot_mg_per_s: self.hardware.soot_mg_per_s?,
            outlet_c: self.hardware.outlet_c?,
            thermal: self.hardware.thermal?,
            engine: self.hardware.engine?,
            no2_ppm: self.hardware.no2_ppm?,
            exhaust_hot_at_c: self.hardware.exhaust_hot_at_c?,
            lamps: self.notices.lamps?,
            bands: self.bands.whole?,
            passive: self.cleaning.passive?,
            active: self.cleaning.active?,
            parked: self.cleaning.parked?,
            inhibit: self.cleaning.inhibit?,
            stop_above_percent: self.cleaning.stop_above_percent?,
            ash_service_percent: self.cleaning.ash_service_percent?,
            ash_service_after_h: self.cleaning.ash_service_after_h?,
            procedure: self.notices.procedure?,
            cautions: self.notices.cautions?,
        })
    }
}

/// The machine's id goes into addresses and file names.
fn machine_id(root: &Section<'_>) -> Option<String> {
    let id = root.text("id")?;
    let fits = id.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-');
    if !fits {
        root.report("id", format!("\"{id}\" cannot be part of an address; use a-z, 0-9 and -, such as \"tarrel-60\""));
    }
    fits.then_some(id)
}

/// Words that templates use for bands: `a-z`, digits and `_`.
fn is_word(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_lowercase())
        && text.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
}
