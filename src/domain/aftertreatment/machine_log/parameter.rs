//! The numbers and states that a log is read for: where each stands in its message, what one bit is worth, and what a
//! file of decoded signals calls it.
//!
//! Source of every place and scale: public decoders of SAE J1939-71 (read), unless a line says otherwise.

use crate::aftertreatment::signals::{FilterMessage, Silent, Triple};

/// What a parameter says at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Said {
    /// A number in the parameter's unit.
    Number(f64),
    /// A state, as its raw value.
    State(u8),
    /// The sender does not have it.
    NotAvailable,
    /// The sender says that it is broken.
    Error,
    /// A value to which nobody has given a meaning.
    Unknown(u32),
}

/// A number in a message.
#[derive(Debug)]
pub struct NumberPlace {
    /// Its number in the standard (SPN).
    pub spn: u32,
    /// The word of its column in a file of decoded signals; ends with the unit.
    pub word: &'static str,
    /// What a technician calls it.
    pub name: &'static str,
    /// The parameter group it stands in.
    pub pgn: u32,
    /// First byte, counted from 1.
    first: usize,
    /// Bytes, the lowest first.
    bytes: usize,
    /// What one bit is worth.
    per_bit: f64,
    /// What a raw value of 0 means.
    offset: f64,
}

const fn number(
    spn: u32,
    (word, name): (&'static str, &'static str),
    (pgn, first, bytes): (u32, usize, usize),
    (per_bit, offset): (f64, f64),
) -> NumberPlace {
    NumberPlace { spn, word, name, pgn, first, bytes, per_bit, offset }
}

/// How many numbers are read.
pub const NUMBERS: usize = 10;

/// Every number that is read.
/// From memory, not confirmed: the byte of 92, and group, byte and scale of 84.
pub static NUMBER_PLACES: [NumberPlace; NUMBERS] = [
    number(3719, ("soot_percent", "soot load"), (64_891, 1, 1), (1.0, 0.0)),
    number(3720, ("ash_percent", "ash load"), (64_891, 2, 1), (1.0, 0.0)),
    number(3721, ("since_active_s", "time since the last active regeneration"), (64_891, 3, 4), (1.0, 0.0)),
    number(5466, ("threshold_percent", "soot load at which it regenerates"), (64_891, 7, 2), (0.0025, 0.0)),
    number(3242, ("inlet_c", "filter inlet temperature"), (64_948, 3, 2), (0.031_25, -273.0)),
    number(3246, ("outlet_c", "filter outlet temperature"), (64_947, 3, 2), (0.031_25, -273.0)),
    number(3251, ("pressure_drop_kpa", "pressure drop over the filter"), (64_946, 5, 2), (0.1, 0.0)),
    number(190, ("speed_rpm", "engine speed"), (61_444, 4, 2), (0.125, 0.0)),
    number(92, ("load_percent", "engine load"), (61_443, 3, 1), (1.0, 0.0)),
    number(84, ("vehicle_km_per_h", "driving speed"), (65_265, 2, 2), (0.003_906_25, 0.0)),
];

/// The park brake's own switch. From memory, not confirmed: SPN 70, group 65265, byte 1, bits 3 and 4.
pub(super) const PARK_BRAKE: u32 = 70;
const PARK_BRAKE_PGN: u32 = 65_265;

/// Every state that is read, with the word of its column.
const STATE_WORDS: [(u32, &str); 13] = [
    (PARK_BRAKE, "park_brake"),
    (3697, "filter_lamp"),
    (3698, "exhaust_hot_lamp"),
    (3699, "passive"),
    (3700, "active"),
    (3701, "status"),
    (3702, "inhibited"),
    (3703, "inhibit_switch"),
    (3708, "not_in_neutral"),
    (3710, "park_brake_off"),
    (3711, "low_exhaust_temperature"),
    (3715, "permanent_lockout"),
    (3716, "engine_cold"),
];

/// The places of the numbers, by what reads them elsewhere.
pub(super) mod place {
    pub(in super::super) const SOOT: usize = 0;
    pub(in super::super) const ASH: usize = 1;
    pub(in super::super) const THRESHOLD: usize = 3;
    pub(in super::super) const OUTLET: usize = 5;
    pub(in super::super) const SPEED: usize = 7;
    pub(in super::super) const LOAD: usize = 8;
    pub(in super::super) const VEHICLE: usize = 9;
}

impl NumberPlace {
    /// Smallest and largest number that the message can say.
    #[must_use]
    pub fn range(&self) -> (f64, f64) {
        // Raw values up to a highest byte of 0xFA are numbers.
        let largest = (0xFB_u64 << (8 * (self.bytes - 1))) - 1;
        #[expect(clippy::cast_precision_loss, reason = "below 2^32")]
        let largest = largest as f64;
        (self.offset, largest * self.per_bit + self.offset)
    }

    /// What a message says; `None` when it is cut before this number has ended.
    /// Source: SAE J1939-71, ranges of transmitted values: the highest byte up to 0xFA is a number, 0xFE an error, 0xFF
    /// not available; what lies between has no meaning here.
    pub(super) fn said(&self, message: &[u8]) -> Option<Said> {
        let bytes = message.get(self.first - 1..self.first - 1 + self.bytes)?;
        let raw = bytes.iter().rev().fold(0_u32, |raw, byte| raw << 8 | u32::from(*byte));
        Some(match bytes.last()? {
            0..=0xFA => Said::Number(f64::from(raw) * self.per_bit + self.offset),
            0xFE => Said::Error,
            0xFF => Said::NotAvailable,
            _ => Said::Unknown(raw),
        })
    }
}

/// Where a number stands in the list, by its number in the standard.
pub(super) fn number_place(spn: u32) -> Option<usize> {
    NUMBER_PLACES.iter().position(|place| place.spn == spn)
}

/// Whether this project reads a parameter group.
pub(super) fn is_read(pgn: u32) -> bool {
    pgn == FilterMessage::PGN || NUMBER_PLACES.iter().any(|place| place.pgn == pgn)
}

/// What a message of a parameter group says, by number (SPN), as far as its bytes go.
pub(super) fn said_in(pgn: u32, message: &[u8]) -> Vec<(u32, Said)> {
    let numbers = NUMBER_PLACES.iter().filter(|place| place.pgn == pgn);
    let mut said: Vec<(u32, Said)> = numbers.filter_map(|place| Some((place.spn, place.said(message)?))).collect();
    if pgn == FilterMessage::PGN {
        said.extend(FilterMessage::raw_values(message).map(|(spn, raw)| (spn, state(spn, raw))));
    }
    if let (PARK_BRAKE_PGN, Some(byte)) = (pgn, message.first()) {
        said.push((PARK_BRAKE, state(PARK_BRAKE, (byte >> 2) & 0b11)));
    }
    said
}

/// What the raw value of a state says.
fn state(spn: u32, raw: u8) -> Said {
    let told = if spn == PARK_BRAKE { Triple::from_raw(raw).map(drop) } else { FilterMessage::default().set(spn, raw) };
    match told {
        Ok(()) => Said::State(raw),
        Err(Silent::Error) => Said::Error,
        Err(Silent::Unknown(raw)) => Said::Unknown(raw.into()),
    }
}

/// The parameter that a column of decoded signals holds, by its word or its number in the standard.
pub(super) fn spn_of_column(heading: &str) -> Option<u32> {
    let heading = heading.trim().to_ascii_lowercase();
    let numbered = heading.strip_prefix("spn").map_or(heading.as_str(), |rest| rest.trim_start_matches(['_', ' ']));
    let mut known = words();
    let spn: Option<u32> = numbered.parse().ok();
    known.find(|(known, word)| *word == heading || Some(*known) == spn).map(|(known, _)| known)
}

/// Every word of a column with its number in the standard.
pub fn words() -> impl Iterator<Item = (u32, &'static str)> {
    NUMBER_PLACES.iter().map(|place| (place.spn, place.word)).chain(STATE_WORDS)
}

/// The word of a parameter that is read, by its number in the standard (SPN); else that number.
#[must_use]
pub fn word_of(spn: u32) -> String {
    words().find(|(known, _)| *known == spn).map_or_else(|| format!("SPN {spn}"), |(_, word)| word.to_owned())
}

/// What a cell of decoded signals says; empty says nothing.
pub(super) fn said_in_cell(spn: u32, cell: &str) -> Result<Option<Said>, String> {
    let cell = cell.trim();
    match cell.to_ascii_lowercase().as_str() {
        "" => return Ok(None),
        "not_available" => return Ok(Some(Said::NotAvailable)),
        "error" => return Ok(Some(Said::Error)),
        _ => {}
    }
    let Some(place) = number_place(spn).map(|place| &NUMBER_PLACES[place]) else {
        let raw = FilterMessage::raw_of_word(spn, &cell.to_ascii_lowercase()).or_else(|| cell.parse().ok());
        return raw.map(|raw| Some(state(spn, raw))).ok_or_else(|| format!("\"{cell}\" is no state of this signal"));
    };
    let (low, high) = place.range();
    match cell.parse::<f64>() {
        Ok(number) if (low..=high).contains(&number) => Ok(Some(Said::Number(number))),
        Ok(number) => Err(format!("{number} cannot be; {} lies between {low} and {high}", place.name)),
        Err(_) => Err(format!("\"{cell}\" is no number; write it with a decimal point and without a unit")),
    }
}
