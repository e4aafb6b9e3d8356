//! One-time codes: six digits that a phone and the program work out from a shared key and the time.
//!
//! Sources: RFC 6238 (time-based codes: 30 s, SHA-1, and section 5.2: a code counts once), RFC 4226 (the six digits). The key
//! is kept as it is: whoever has the database has the keys that sign certificates too, and another key beside it would lie on
//! the same disk.

use super::throttle::Source;
use super::{ActionError, Token};
use crate::domain::units::Moment;
use crate::store::{PersonId, one_time_codes};
use rand::TryRng as _;
use rand::rngs::SysRng;
use sea_orm::ConnectionTrait;
use sha2::{Digest as _, Sha256};
use std::fmt::Write as _;
use totp_rs::{Builder, Secret, Totp};

/// Bytes of a key. Source: RFC 4226 section 4, requirement 6: 160 bits are recommended.
const KEY_BYTES: usize = 20;

/// Seconds of a step. Source: RFC 6238 section 4.1.
const STEP_S: u64 = 30;
/// How many recovery codes there are at a time; chosen by us.
const RECOVERY_CODES: usize = 10;
/// Letters of a recovery code: 120 bits, more than the 112 from which a plain hash is enough (ASVS 5.0 6.5.2).
const RECOVERY_LETTERS: usize = 24;
/// Letters and digits that are not taken for each other; every letter stands for five bits.
const ALPHABET: &[u8; 32] = b"0123456789abcdefghjkmnpqrstvwxyz";

/// A key for a phone.
pub(super) fn fresh_key() -> Result<Vec<u8>, ActionError> {
    random(KEY_BYTES)
}

fn random(count: usize) -> Result<Vec<u8>, ActionError> {
    let mut bytes = vec![0; count];
    SysRng.try_fill_bytes(&mut bytes).map_err(|error| ActionError::Randomness(error.to_string()))?;
    Ok(bytes)
}

/// A key as it is typed, in Base32 (RFC 4648).
pub(super) fn in_base32(key: &[u8]) -> String {
    Secret::from(key.to_vec()).to_base32()
}

fn codes_of(key: &[u8]) -> Totp {
    // Six digits, 30 s, SHA-1: what every program for such codes takes.
    Builder::new().with_secret(key.to_vec()).build_noncompliant()
}

/// The step whose code this is: the present one or the one before it, for whoever types slowly, and none that is still to come.
/// Source: RFC 6238 section 5.2 recommends at most one step for the delay.
pub(super) fn step_of(key: &[u8], typed: &str, now: Moment) -> Option<i64> {
    let digits: String = typed.chars().filter(|c| !c.is_whitespace()).take(7).collect();
    let is_code = digits.len() == 6 && digits.bytes().all(|byte| byte.is_ascii_digit());
    let seconds = u64::try_from(now.0.div_euclid(1_000_000)).ok()?;
    let present = seconds / STEP_S;
    let steps = [Some(present), present.checked_sub(1)].into_iter().flatten();
    let of_step = |step: u64| same(&codes_of(key).generate(step * STEP_S).to_string(), &digits);
    // Both are worked out whichever it is.
    let found = steps.fold(None, |found: Option<u64>, step| Some(step).filter(|_| of_step(step)).or(found));
    found.filter(|_| is_code).and_then(|step| i64::try_from(step).ok())
}

/// Compares in the same time whatever the digits are.
fn same(expected: &str, typed: &str) -> bool {
    let differences = expected.bytes().zip(typed.bytes()).fold(0_u8, |sum, (a, b)| sum | (a ^ b));
    expected.len() == typed.len() && differences == 0
}

/// The code of a moment, for tests and nobody else.
#[must_use]
pub fn code_at(key: &[u8], at: Moment) -> String {
    codes_of(key).generate(u64::try_from(at.0.div_euclid(1_000_000)).unwrap_or_default()).to_string()
}

/// Ten recovery codes in groups of four letters, each with the hash that is kept. They follow from `from`, as random as it is:
/// the same again gives the same.
pub(super) fn recovery_codes(from: &Token) -> Vec<(String, String)> {
    let code = |number| {
        // 64 hexadecimal digits; of each byte five bits make a letter.
        let derived = from.derived(&format!("recovery code {number}"));
        let pairs = derived.as_str().as_bytes().chunks(2).take(RECOVERY_LETTERS);
        let letter = |pair: &[u8]| {
            let byte = std::str::from_utf8(pair).ok().and_then(|pair| u8::from_str_radix(pair, 16).ok());
            char::from(ALPHABET[usize::from(byte.unwrap_or_default() & 31)])
        };
        let letters: Vec<char> = pairs.map(letter).collect();
        let groups: Vec<String> = letters.chunks(4).map(|group| group.iter().collect()).collect();
        let code = groups.join("-");
        let hash = recovery_hash(&code);
        (code, hash)
    };
    (0..RECOVERY_CODES).map(code).collect()
}

/// What is kept of a recovery code, however it was typed: its SHA-256, without spaces and hyphens and in small letters.
pub(super) fn recovery_hash(typed: &str) -> String {
    let letters = typed.chars().filter(char::is_ascii_alphanumeric).take(64).map(|c| c.to_ascii_lowercase());
    Sha256::digest(letters.collect::<String>().as_bytes()).iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// Whose codes are counted together when they are wrong.
pub(super) fn source(person: PersonId) -> [Source; 1] {
    [Source::Person(format!("one-time code of {}", person.0))]
}

/// Uses up the code that was typed, of a confirmed key, inside a deed's transaction; gives whether it was right.
pub(super) async fn use_code(
    tx: &impl ConnectionTrait,
    person: PersonId,
    typed: &str,
    now: Moment,
) -> Result<bool, ActionError> {
    let Some(key) = one_time_codes::find(tx, person).await?.filter(|key| key.confirmed) else { return Ok(false) };
    match step_of(&key.secret, typed, now) {
        Some(step) => Ok(one_time_codes::use_step(tx, person, step).await?),
        None => Ok(false),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    // Source: RFC 4226 appendix D: the secret "12345678901234567890" and the codes of the counts 0 to 9; with RFC 6238's steps
    // of 30 s the count is the time in seconds over 30.
    #[test]
    fn codes_are_those_of_the_standard() {
        let key = b"12345678901234567890";
        let expected =
            ["755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583", "399871", "520489"];
        for (count, code) in (0_i64..).zip(expected) {
            let now = Moment(count * 30 * 1_000_000 + 29_999_999);
            assert_eq!(code_at(key, now), code);
            assert_eq!(step_of(key, code, now), Some(count));
            // One step later, and no more; and not before its time.
            assert_eq!(step_of(key, code, Moment(now.0 + 30_000_000)), Some(count));
            assert_eq!(step_of(key, code, Moment(now.0 + 60_000_000)), None);
            if count > 0 {
                assert_eq!(step_of(key, code, Moment(now.0 - 30_000_000)), None);
            }
        }
        // Source: RFC 6238 appendix B, SHA-1, at 1111111109 s and 20000000000 s: the last six of its eight digits.
        assert_eq!(code_at(key, Moment(1_111_111_109_000_000)), "081804");
        assert_eq!(code_at(key, Moment(20_000_000_000_000_000)), "353130");
    }

    #[test]
    fn what_is_no_code_is_none() {
        let key = b"12345678901234567890";
        let now = Moment(15_000_000);
        assert_eq!(step_of(key, " 755 224 ", now), Some(0), "however it is spaced");
        for typed in ["", "75522", "7552240", "75522a", "-755224", "٧٥٥٢٢٤", "000000"] {
            assert_eq!(step_of(key, typed, now), None, "{typed}");
        }
    }

    // Source: RFC 4648 section 10: Base32 of "foobar".
    #[test]
    fn keys_are_typed_in_base32() {
        assert_eq!(in_base32(b"foobar").trim_end_matches('='), "MZXW6YTBOI");
        assert_eq!(fresh_key().unwrap().len(), 20);
    }

    #[test]
    fn recovery_codes_differ_and_are_the_same_however_they_are_typed() {
        let from = Token::fresh().unwrap();
        let codes = recovery_codes(&from);
        assert_eq!(codes, recovery_codes(&from), "one click, one list");
        assert_ne!(codes, recovery_codes(&Token::fresh().unwrap()));
        assert_eq!(codes.len(), 10);
        for (code, hash) in &codes {
            assert_eq!(code.len(), 29, "{code}");
            assert_eq!(&recovery_hash(&code.to_uppercase().replace('-', " ")), hash);
        }
        let different: std::collections::BTreeSet<_> = codes.iter().map(|(_, hash)| hash).collect();
        assert_eq!(different.len(), 10);
    }

    proptest! {
        #[test]
        fn no_typed_text_panics_and_only_six_digits_can_be_a_code(
            text in ".{0,20}", near in " ?[0-9]{3} ?[0-9]{2,4}", key in proptest::collection::vec(any::<u8>(), 0..40), now in any::<i64>(),
        ) {
            for typed in [text, near] {
                let digits = typed.chars().filter(|c| !c.is_whitespace());
                let six = digits.clone().count() == 6 && digits.clone().all(|c| c.is_ascii_digit());
                prop_assert!(six || step_of(&key, &typed, Moment(now)).is_none());
                prop_assert_eq!(recovery_hash(&typed).len(), 64);
            }
        }

        #[test]
        fn every_code_is_the_code_of_its_step(key in proptest::collection::vec(any::<u8>(), 20), step in 1_i64..200_000_000) {
            let now = Moment(step * 30 * 1_000_000);
            let found = step_of(&key, &code_at(&key, now), now);
            // The steps beside it may happen to have the same code.
            prop_assert!(found.is_some_and(|found| (step - 1..=step + 1).contains(&found)));
        }
    }
}
