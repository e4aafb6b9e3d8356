//! The code by which anyone who holds a certificate's paper looks up whether it is valid.
//!
//! A code is made from the certificate's place in the database with a secret key, by the pattern of RFC 5297 (a tag over the
//! content, which then hides the content): the same certificate always has the same code, nothing can be read off it, and nobody
//! who lacks the key finds one in fewer than 2^128 tries on average. No table of codes is needed, and certificates from before
//! have theirs too. Never the running number, and never a part of it.

use super::issuer::Issuer;
use crate::store::CertificateId;
use hmac::{Hmac, KeyInit as _, Mac as _};
use sha2::Sha256;

/// Digits and small letters without i, l, o and u, which are mistaken for others.
// Source: D. Crockford, Base 32 encoding.
const ALPHABET: &[u8; 32] = b"0123456789abcdefghjkmnpqrstvwxyz";
/// Bytes of the tag: 128 bits (ASVS 5.0 11.5.1).
const TAG: usize = 16;
/// Bytes of the hidden place: a million million certificates.
const PLACE: usize = 5;
/// Characters of a code: 168 bits, five in each.
const LENGTH: usize = (TAG + PLACE) * 8 / 5 + 1;

impl Issuer {
    /// The code of a certificate, 34 characters.
    #[must_use]
    pub fn code_of(&self, certificate: CertificateId) -> String {
        let place = place_bytes(certificate);
        let tag = self.mac(b"tag", &place);
        let hidden = self.hidden(&tag[..TAG], place);
        letters(&[&tag[..TAG], &hidden[..]].concat())
    }

    /// The certificate of a code, as it is printed or typed: capitals, hyphens, and the letters o, i, l for the digits they look
    /// like do not matter. Nothing when it is none.
    #[must_use]
    pub fn certificate_of(&self, code: &str) -> Option<CertificateId> {
        let bytes = bytes(code)?;
        let (tag, hidden) = bytes.split_at(TAG);
        let place = self.hidden(tag, hidden.try_into().ok()?);
        let right = self.mac(b"tag", &place);
        let differences = right.iter().zip(tag).fold(0_u8, |sum, (a, b)| sum | (a ^ b));
        let number = place.iter().fold(0_i64, |number, byte| number << 8 | i64::from(*byte));
        (differences == 0).then_some(CertificateId(number))
    }

    /// What is hashed with the holder's address in the certificate's signed file.
    #[must_use]
    pub fn salt_of(&self, certificate: CertificateId) -> String {
        letters(&self.mac(b"salt", &place_bytes(certificate))[..TAG + 4])
    }

    fn mac(&self, purpose: &[u8], content: &[u8]) -> [u8; 32] {
        // HMAC takes a key of any length.
        let Ok(mut mac) = Hmac::<Sha256>::new_from_slice(&self.code_key) else { return [0; 32] };
        mac.update(purpose);
        mac.update(&[0]);
        mac.update(content);
        mac.finalize().into_bytes().into()
    }

    /// Hides a place behind its tag, or shows it again.
    fn hidden(&self, tag: &[u8], place: [u8; PLACE]) -> [u8; PLACE] {
        let stream = self.mac(b"place", tag);
        std::array::from_fn(|at| place[at] ^ stream[at])
    }
}

fn place_bytes(certificate: CertificateId) -> [u8; PLACE] {
    let bytes = certificate.0.to_be_bytes();
    std::array::from_fn(|at| bytes[bytes.len() - PLACE + at])
}

/// Five bits in each character, the last filled up with zeros.
fn letters(bytes: &[u8]) -> String {
    let mut text = String::new();
    let (mut held, mut bits) = (0_u32, 0);
    for byte in bytes {
        held = held << 8 | u32::from(*byte);
        bits += 8;
        while bits >= 5 {
            bits -= 5;
            text.push(char::from(ALPHABET[(held >> bits & 31) as usize]));
        }
    }
    if bits > 0 {
        text.push(char::from(ALPHABET[(held << (5 - bits) & 31) as usize]));
    }
    text
}

fn bytes(code: &str) -> Option<Vec<u8>> {
    let meant = code.chars().filter(|c| *c != '-').map(|c| match c.to_ascii_lowercase() {
        'o' => '0',
        'i' | 'l' => '1',
        c => c,
    });
    let values: Option<Vec<u32>> = meant
        .take(LENGTH + 1)
        .map(|c| ALPHABET.iter().position(|known| char::from(*known) == c).and_then(|at| u32::try_from(at).ok()))
        .collect();
    let values = values.filter(|values| values.len() == LENGTH)?;
    let mut bytes = Vec::new();
    let (mut held, mut bits) = (0_u32, 0);
    for value in values {
        held = held << 5 | value;
        bits += 5;
        if bits >= 8 {
            bits -= 8;
            bytes.push((held >> bits & 255) as u8);
            held &= (1 << bits) - 1;
        }
    }
    // What fills up the last character is zero, so that a certificate has one code only.
    (held == 0).then_some(bytes)
}

#[cfg(test)]
mod tests {
    use super::super::issuer::Issuer;
    use super::*;
    use proptest::prelude::*;

    fn issuer(seed: u8) -> Issuer {
        Issuer::for_tests([seed; 32])
    }

    proptest! {
        #[test]
        fn a_code_leads_back_and_no_other_does(id in 1_i64..1 << 40, at in 0_usize..LENGTH, letter in 0_usize..32) {
            let issuer = issuer(1);
            let code = issuer.code_of(CertificateId(id));
            prop_assert_eq!(code.len(), LENGTH);
            prop_assert_eq!(issuer.certificate_of(&code), Some(CertificateId(id)));
            prop_assert_eq!(issuer.certificate_of(&code.to_uppercase()), Some(CertificateId(id)));
            let mut other = code.clone().into_bytes();
            other[at] = ALPHABET[letter];
            let other = String::from_utf8(other).unwrap();
            prop_assert_eq!(issuer.certificate_of(&other).is_some(), other == code);
            prop_assert_eq!(super::super::check_code::tests::issuer(2).certificate_of(&code), None);
        }
    }

    #[test]
    fn a_code_is_read_as_it_is_typed_and_a_text_that_is_none_is_refused() {
        let issuer = issuer(1);
        let code = issuer.code_of(CertificateId(7));
        let typed = format!("{}-{}", &code[..6], &code[6..]).replace('0', "O").replace('1', "l");
        assert_eq!(issuer.certificate_of(&typed), Some(CertificateId(7)));
        for text in ["", "7", "2026-00001-X", &code[1..], &format!("{code}0"), &"z".repeat(34), &"ä".repeat(34)] {
            assert_eq!(issuer.certificate_of(text), None, "{text}");
        }
    }

    #[test]
    fn codes_and_salts_of_neighbours_have_nothing_in_common() {
        let issuer = issuer(1);
        let codes: Vec<String> = (1..=50).map(|id| issuer.code_of(CertificateId(id))).collect();
        for (at, code) in codes.iter().enumerate() {
            for other in &codes[at + 1..] {
                let alike = code.chars().zip(other.chars()).filter(|(a, b)| a == b).count();
                assert!(alike < 12, "{code} {other}");
            }
        }
        assert_ne!(issuer.salt_of(CertificateId(1)), issuer.salt_of(CertificateId(2)));
    }
}
