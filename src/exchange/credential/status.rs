//! The state of certificates for other programs: a bit for each, in lists that say nothing about anybody.
//!
//! Source: W3C Bitstring Status List 1.0, which Open Badges 3.0 recommends. A bit is set while a certificate is withdrawn, suspended
//! or renewed; that its time is over stands in the certificate itself. Open Badges 3.0 gives a certificate one status at most, and the
//! standard's word `revocation` promises that it never comes back, which a suspension breaks: so the lists' purpose is `suspension`,
//! and what was withdrawn stays set for ever.
//!
//! A place is the certificate's running number in the database, so whoever reads a list sees how many certificates do not stand and
//! roughly when they were granted. Never whose they are.

use super::{CREDENTIALS, date_time, issuer_of};
use crate::domain::units::Moment;
use base64::{Engine as _, engine::general_purpose::URL_SAFE_NO_PAD};
use flate2::{Compression, write::GzEncoder};
use serde_json::{Value, json};
use std::io::Write as _;

/// How many certificates a list holds: the least that the standard allows, so that nobody is found among few.
// Source: W3C Bitstring Status List 1.0, section 3.1: at least 131 072 entries.
pub const LIST_LENGTH: u64 = 131_072;

/// What the lists tell.
const PURPOSE: &str = "suspension";

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

fn address(origin: &str, list: u64) -> String {
    format!("{origin}/status/{list}")
}

/// Where a credential's state stands.
pub(super) fn entry(origin: &str, index: u64) -> Value {
    let list = address(origin, index / LIST_LENGTH);
    let place = index % LIST_LENGTH;
    json!({
        "id": format!("{list}#{place}"),
        "type": "BitstringStatusListEntry",
        "statusPurpose": PURPOSE,
        "statusListIndex": place.to_string(),
        "statusListCredential": list,
    })
}

/// A list as a credential, not yet signed.
#[must_use]
pub fn status_list(origin: &str, list: u64, bits: &Bits, now: Moment) -> Value {
    let id = address(origin, list);
    json!({
        "@context": [CREDENTIALS],
        "id": id,
        "type": ["VerifiableCredential", "BitstringStatusListCredential"],
        "issuer": issuer_of(origin),
        "validFrom": date_time(now),
        "credentialSubject": {
            "id": format!("{id}#list"),
            "type": "BitstringStatusList",
            "statusPurpose": PURPOSE,
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
        let entry = entry("https://training.example.org", LIST_LENGTH + 7);
        assert_eq!(entry["statusListCredential"], "https://training.example.org/status/1");
        assert_eq!(entry["statusListIndex"], "7");
    }
}
