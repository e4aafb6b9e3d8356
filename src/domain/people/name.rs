//! A person's name as it stands on lists, mails and certificates.

use crate::visible::{is_hidden, says_something};
use serde::{Deserialize, Serialize};
use std::fmt;

/// A name: 1 to 100 characters, one line, nothing invisible in it and something that shows.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct PersonName(String);

/// Why a text cannot stand as a name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NameProblem {
    /// Nothing was written, or nothing that shows.
    #[error("Write the person's name.")]
    Empty,
    /// Longer than fits a list or a certificate.
    #[error("Write a name of at most 100 characters.")]
    TooLong,
    /// A character that cannot be seen, or that turns the direction of the text around.
    #[error("The name has a hidden character in it. Type it again.")]
    Hidden,
}

impl PersonName {
    /// Reads a name; spaces around it are dropped and several in a row become one.
    ///
    /// # Errors
    /// When nothing that shows is left, when it is longer than 100 characters, or when a hidden character is in it.
    pub fn parse(text: &str) -> Result<Self, NameProblem> {
        let name = text.split(' ').filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ");
        if name.chars().any(is_hidden) {
            return Err(NameProblem::Hidden);
        }
        let name = name.trim();
        match name.chars().count() {
            _ if !says_something(name) => Err(NameProblem::Empty),
            1..=100 => Ok(Self(name.to_owned())),
            _ => Err(NameProblem::TooLong),
        }
    }

    /// A name as it was taken once, whatever was taken then.
    #[must_use]
    pub fn kept(name: &str) -> Self {
        Self(name.to_owned())
    }

    /// The name.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for PersonName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl TryFrom<String> for PersonName {
    type Error = NameProblem;
    fn try_from(text: String) -> Result<Self, Self::Error> {
        Self::parse(&text)
    }
}

impl From<PersonName> for String {
    fn from(name: PersonName) -> Self {
        name.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn check(text: &str, expected: Result<&str, NameProblem>) {
        assert_eq!(PersonName::parse(text).as_ref().map(PersonName::as_str), expected.as_ref().copied(), "{text:?}");
    }

    #[test]
    fn names_are_tidied_and_checked() {
        check("  Ada   Lovell ", Ok("Ada Lovell"));
        check("Jürgen Größenwahn-O’Neill", Ok("Jürgen Größenwahn-O’Neill"));
        check("", Err(NameProblem::Empty));
        check("   ", Err(NameProblem::Empty));
        check(&"x".repeat(101), Err(NameProblem::TooLong));
        check("Ada\r\nBcc: b@example.org", Err(NameProblem::Hidden));
        check("Ada\0", Err(NameProblem::Hidden));
        check("Ada\u{202E}llevoL", Err(NameProblem::Hidden));
        for hidden in ["\u{2060}", "Ada\u{AD}", "\u{3164}", "Ada\u{2800}Lovell"] {
            check(hidden, Err(NameProblem::Hidden));
        }
        for nothing in ["\u{301}", "\u{200D}", " \u{FE0F} "] {
            check(nothing, Err(NameProblem::Empty));
        }
        check("E\u{301}va", Ok("E\u{301}va"));
        assert_eq!(PersonName::kept("Ada\u{AD}").as_str(), "Ada\u{AD}", "what was taken before is still a name");
    }

    proptest! {
        #[test]
        fn any_text_is_a_name_that_reads_the_same_again_or_is_refused(
            text in ".{0,120}", near in "[ a-zA-ZäÖ'\u{a0}\u{3000}\u{200b}\u{200d}\u{2028}\u{2060}\u{301}\t-]{0,110}",
        ) {
            for text in [text, near] {
                let Ok(name) = PersonName::parse(&text) else { continue };
                prop_assert_eq!(PersonName::parse(name.as_str()), Ok(name.clone()));
                prop_assert!((1..=100).contains(&name.as_str().chars().count()));
                prop_assert!(!name.as_str().chars().any(is_hidden) && !name.as_str().contains("  "));
                prop_assert_eq!(name.as_str().trim(), name.as_str());
            }
        }
    }
}
