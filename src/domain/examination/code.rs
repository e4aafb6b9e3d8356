//! The code that an invigilator reads out and candidates type to begin.
//!
//! Never says to whom it opens what: it is a word of eight letters, made of random numbers that somebody else gives.

use std::fmt;

/// Letters and digits that nobody takes for another, read or heard across a room: no 0 O, 1 I L, 2 Z, 5 S, 8 B, U V.
const LETTERS: &[u8; 23] = b"34679ACDEFGHJKMNPQRTWXY";
/// How long a code is. 23^8 is 7.8e10; chosen by us: with the wait after wrong codes, four free and then one a minute, a
/// guesser tries some 240 in four hours, a chance of 1 in 300 million.
const LENGTH: usize = 8;

/// A code.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Code(String);

impl Code {
    /// Makes one of random words, each used for one letter; nothing when there are too few usable ones. A word beyond the last
    /// whole multiple of the letters would favour the first ones and is passed over.
    #[must_use]
    pub fn from_random(words: &[u32]) -> Option<Self> {
        let count = LETTERS.len() as u32;
        let zone = u32::MAX - u32::MAX % count;
        let usable = words.iter().filter(|word| **word < zone);
        let letters: String = usable.take(LENGTH).map(|word| char::from(LETTERS[(word % count) as usize])).collect();
        (letters.len() == LENGTH).then_some(Self(letters))
    }

    /// Reads what somebody typed: small letters, spaces and hyphens do not matter. Nothing when it cannot be a code.
    #[must_use]
    pub fn parse(typed: &str) -> Option<Self> {
        let letters: String =
            typed.chars().filter(|c| !matches!(c, ' ' | '-')).map(|c| c.to_ascii_uppercase()).collect();
        let known = letters.len() == LENGTH && letters.bytes().all(|letter| LETTERS.contains(&letter));
        known.then_some(Self(letters))
    }

    /// As it is kept.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Code {
    /// In two groups, as it is read out: `ACDE-FGHJ`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (first, second) = self.0.split_at(LENGTH / 2);
        write!(f, "{first}-{second}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_code_reads_back_however_it_is_typed() {
        let code = Code::from_random(&[0, 1, 2, 3, 4, 5, 6, 7]).unwrap();
        assert_eq!(code.to_string(), "3467-9ACD");
        for typed in ["3467-9ACD", "34679acd", " 3467 9acd "] {
            assert_eq!(Code::parse(typed), Some(code.clone()), "{typed}");
        }
        for typed in ["", "3467-9AC", "3467-9ACDE", "3467-9AC0", "3467-9ACI", "3467-9AC\u{e4}"] {
            assert_eq!(Code::parse(typed), None, "{typed}");
        }
    }

    #[test]
    fn no_letter_looks_like_another() {
        for pair in ["0O", "1I", "1L", "IL", "2Z", "5S", "8B", "UV"] {
            let both = pair.bytes().filter(|letter| LETTERS.contains(letter)).count();
            assert_eq!(both, 0, "{pair}");
        }
    }

    #[test]
    fn every_letter_is_equally_likely_and_too_few_words_give_none() {
        assert_eq!(Code::from_random(&[u32::MAX; 20]), None, "words of the incomplete last multiple are passed over");
        assert_eq!(Code::from_random(&[1; 7]), None);
        let zone = u32::MAX - u32::MAX % 23;
        assert_eq!(zone % 23, 0);
        assert!(Code::from_random(&[zone - 1; 8]).is_some() && Code::from_random(&[zone; 8]).is_none());
    }

    proptest! {
        #[test]
        fn a_code_reads_back_from_its_print_and_any_other_text_is_none(
            words in proptest::collection::vec(0_u32..4_000_000_000, LENGTH), text in ".{0,20}", near in "[ 0-9a-zA-Z-]{6,12}",
        ) {
            let code = Code::from_random(&words).unwrap();
            prop_assert_eq!(Code::parse(&code.to_string()), Some(code.clone()));
            prop_assert_eq!(Code::parse(&code.to_string().to_lowercase()), Some(code));
            for text in [text, near] {
                let read = Code::parse(&text);
                prop_assert!(read.is_none_or(|code| Code::parse(&code.to_string()) == Some(code)));
            }
        }
    }
}
