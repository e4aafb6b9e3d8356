//! Random keys that are handed out once: a session's cookie, an invitation's link. Only their hashes are kept.

use super::ActionError;
use rand::TryRng as _;
use rand::rngs::SysRng;
use sha2::{Digest as _, Sha256};
use std::fmt;
use std::fmt::Write as _;

/// 256 random bits, written as 64 hexadecimal digits. Not printed by `Debug`.
#[derive(Clone, PartialEq, Eq)]
pub struct Token(String);

impl Token {
    /// A new one, from the system's random source (ASVS 5.0 11.5.1 asks for at least 128 bits).
    ///
    /// # Errors
    /// When the system gives no random bytes.
    pub fn fresh() -> Result<Self, ActionError> {
        let mut bytes = [0_u8; 32];
        SysRng.try_fill_bytes(&mut bytes).map_err(|error| ActionError::Randomness(error.to_string()))?;
        Ok(Self(hexadecimal(&bytes)))
    }

    /// Reads one that was handed out; `None` when the text cannot be one.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        let is_ours = text.len() == 64 && text.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b));
        is_ours.then(|| Self(text.to_owned()))
    }

    /// Another token that follows from this one for a purpose, and from which nobody finds this one.
    #[must_use]
    pub fn derived(&self, purpose: &str) -> Self {
        Self(hexadecimal(&Sha256::digest(format!("{purpose}\n{}", self.0).as_bytes())))
    }

    /// The token itself, for the one it is handed to.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// What the store keeps: its SHA-256. A fast hash is enough, since nobody can guess 256 bits.
    #[must_use]
    pub fn hash(&self) -> String {
        hexadecimal(&Sha256::digest(self.0.as_bytes()))
    }
}

impl fmt::Debug for Token {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Token(hidden)")
    }
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn tokens_are_long_different_and_read_back() {
        let (one, other) = (Token::fresh().unwrap(), Token::fresh().unwrap());
        assert_ne!(one, other);
        assert_eq!(Token::from_text(one.as_str()), Some(one.clone()));
        assert_ne!(one.hash(), one.as_str());
        assert!(!format!("{one:?}").contains(one.as_str()));
        let derived = one.derived("a purpose");
        assert_eq!(Token::from_text(derived.as_str()), Some(derived.clone()));
        assert!(derived == one.derived("a purpose") && derived != one.derived("another") && derived != one);
        for text in ["", "abc", &"g".repeat(64), &"A".repeat(64), &"a".repeat(65)] {
            assert_eq!(Token::from_text(text), None, "{text}");
        }
    }

    #[test]
    fn what_is_kept_is_the_sha256() {
        // Source: FIPS 180-4 example, SHA-256 of "abc".
        assert_eq!(
            hexadecimal(&Sha256::digest(b"abc")),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }

    proptest! {
        #[test]
        fn any_text_is_a_token_as_it_stands_or_none(text in ".{0,70}", near in "[0-9a-fA-F]{62,66}") {
            for text in [text, near] {
                if let Some(token) = Token::from_text(&text) {
                    prop_assert_eq!(token.as_str(), text.as_str());
                    prop_assert_eq!(token.hash().len(), 64);
                }
            }
        }
    }
}
