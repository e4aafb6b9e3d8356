//! The state of certificates for other programs: a bit for each, in lists that say nothing about anybody.
//!
//! Source: W3C Bitstring Status List 1.0. Of the two lists, `revocation` holds what never stands again (withdrawn, renewed) and
//! `suspension` what may. That a certificate's time is over stands in the credential itself. A place is the certificate's
//! running number in the database, so whoever reads a list can see how many of the certificates are withdrawn and roughly when they
//! were granted, and not whose they are.

use super::{CREDENTIALS, date_time, did_of};
use crate::domain::units::Moment;
use base64::{Engine as _, engine::general_purpose::URL_SAFE_NO_PAD};
use flate2::{Compression, write::GzEncoder};
use serde_json::{Value, json};
use std::io::Write as _;

/// How many certificates a list holds: the least that the standard allows, so that nobody is found among few.
// Source: W3C Bitstring Status List 1.0, section 3.1: at least 131 072 entries.
pub const LIST_LENGTH: u64 = 131_072;

/// What a list tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// It never stands again.
    Revocation,
    /// It rests.
    Suspension,
}

impl Purpose {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Revocation, Self::Suspension];

    /// The standard's word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Revocation => "revocation",
            Self::Suspension => "suspension",
        }
    }

    /// Reads the standard's word.
    #[must_use]
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|purpose| purpose.word() == word)
    }
}

/// The bits of a list.
#[derive(Clone, Debug)]
pub struct Bits(Vec<u8>);

impl Default for Bits {
    fn default() -> Self {
        Self(vec![0; LIST_LENGTH as usize / 8])
    }
}

impl Bits {
    /// Sets the bit of a place; places beyond the list are another list's.
    // Source: the same standard, section 3.2: the first place is the left-most bit.
    pub fn set(&mut self, place: u64) {
        let byte = usize::try_from(place / 8).ok().and_then(|at| self.0.get_mut(at));
        if let Some(byte) = byte {
            *byte |= 0x80 >> (place % 8);
        }
    }

    /// As the standard writes it: GZIP, then base64url behind a `u` (Multibase).
    fn encoded(&self) -> String {
        let mut gzip = GzEncoder::new(Vec::new(), Compression::best());
        // Writing to memory does not fail.
        let bytes = gzip.write_all(&self.0).and_then(|()| gzip.finish()).unwrap_or_default();
        format!("u{}", URL_SAFE_NO_PAD.encode(bytes))
    }
}

fn address(origin: &str, purpose: Purpose, list: u64) -> String {
    format!("{origin}/status/{}/{list}", purpose.word())
}

/// Where a credential's state stands.
pub(super) fn entry(origin: &str, purpose: Purpose, index: u64) -> Value {
    let list = address(origin, purpose, index / LIST_LENGTH);
    let place = index % LIST_LENGTH;
    json!({
        "id": format!("{list}#{place}"),
        "type": "BitstringStatusListEntry",
        "statusPurpose": purpose.word(),
        "statusListIndex": place.to_string(),
        "statusListCredential": list,
    })
}

/// A list as a credential, not yet signed.
#[must_use]
pub fn status_list(origin: &str, purpose: Purpose, list: u64, bits: &Bits, now: Moment) -> Value {
    let id = address(origin, purpose, list);
    json!({
        "@context": [CREDENTIALS],
        "id": id,
        "type": ["VerifiableCredential", "BitstringStatusListCredential"],
        "issuer": did_of(origin),
        "validFrom": date_time(now),
        "credentialSubject": {
            "id": format!("{id}#list"),
            "type": "BitstringStatusList",
            "statusPurpose": purpose.word(),
            "encodedList": bits.encoded(),
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use flate2::read::GzDecoder;
    use std::io::Read as _;

    fn decoded(text: &str) -> Vec<u8> {
        let packed = URL_SAFE_NO_PAD.decode(text.strip_prefix('u').unwrap()).unwrap();
        let mut bytes = Vec::new();
        GzDecoder::new(&packed[..]).read_to_end(&mut bytes).unwrap();
        bytes
    }

    #[test]
    fn an_empty_list_is_that_of_the_standards_example() {
        // Source: W3C Bitstring Status List 1.0, example of a status list credential: `encodedList` of 131 072 zero bits. From memory,
        // not confirmed; what it unpacks to is the standard's rule.
        let example = "uH4sIAAAAAAAAA-3BMQEAAADCoPVPbQwfoAAAAAAAAAAAAAAAAAAAAIC3AYbSVKsAQAAA";
        assert_eq!(decoded(example), Bits::default().0);
        assert_eq!(decoded(&Bits::default().encoded()), Bits::default().0);
    }

    #[test]
    fn the_first_place_is_the_left_most_bit() {
        let mut bits = Bits::default();
        for place in [0, 9, LIST_LENGTH - 1, LIST_LENGTH, u64::MAX] {
            bits.set(place);
        }
        let bytes = decoded(&bits.encoded());
        assert_eq!(bytes.len(), 16 * 1024, "Source: section 3.1: 16 KB");
        assert_eq!((bytes[0], bytes[1], bytes[16_383]), (0b1000_0000, 0b0100_0000, 0b0000_0001));
        assert_eq!(bytes.iter().map(|byte| byte.count_ones()).sum::<u32>(), 3);
    }

    #[test]
    fn places_of_a_second_list_have_its_address() {
        let entry = entry("https://training.example.org", Purpose::Suspension, LIST_LENGTH + 7);
        assert_eq!(entry["statusListCredential"], "https://training.example.org/status/suspension/1");
        assert_eq!(entry["statusListIndex"], "7");
    }
}
