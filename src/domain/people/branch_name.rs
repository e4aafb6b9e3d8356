//! A branch's name as it stands on lists, mails and certificates.

use super::PersonName;
use std::fmt;

/// A name: 1 to 100 characters, one line, nothing invisible in it; spaces as in a person's name.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct BranchName(String);

/// A text that cannot stand as a branch's name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("Write the branch's name, at most 100 characters.")]
pub struct NotABranchName;

impl BranchName {
    /// Reads a name by the rules of [`PersonName::parse`].
    ///
    /// # Errors
    /// When nothing that shows is left, when it is longer than 100 characters, or when a hidden character is in it.
    pub fn parse(text: &str) -> Result<Self, NotABranchName> {
        PersonName::parse(text).map(|name| Self(name.into())).map_err(|_| NotABranchName)
    }

    /// The name.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The form in which two names are compared: nobody tells "Coldbrook" from "coldbrook" on a list.
    #[must_use]
    pub fn folded(&self) -> String {
        self.0.to_lowercase()
    }
}

impl fmt::Display for BranchName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_read_as_people_write_it() {
        assert_eq!(BranchName::parse("  Upper   Tarn ").unwrap().as_str(), "Upper Tarn");
        assert_eq!(BranchName::parse("Upper TARN").unwrap().folded(), "upper tarn");
        for none in ["", "   ", "a\nb", "a\u{200B}b", "a\u{2060}b", "\u{3164}", "\u{301}", &"x".repeat(101)] {
            assert_eq!(BranchName::parse(none), Err(NotABranchName), "{none:?}");
        }
    }
}
