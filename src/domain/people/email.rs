//! A person's e-mail address, which is also what they sign in with.

use serde::{Deserialize, Serialize};
use std::fmt;

/// An address that mail can be sent to: one `@`, a local part, a domain; no spaces, no control characters.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct EmailAddress(String);

/// Why a text is not an address we can use.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum EmailProblem {
    /// Nothing was written.
    #[error("Write an e-mail address.")]
    Empty,
    /// It does not have the form of an address.
    #[error("Write an e-mail address in the form name@example.org, without spaces.")]
    Malformed,
    /// Longer than mail allows.
    #[error("Write an e-mail address of at most 254 characters.")]
    TooLong,
}

impl EmailAddress {
    /// Reads an address as somebody typed it; spaces around it are dropped.
    ///
    /// Only ASCII addresses are taken: not every mail server carries others.
    ///
    /// # Errors
    /// When it is empty, too long (RFC 5321: 254 characters, local part 64), or not of the form `local@domain`.
    pub fn parse(text: &str) -> Result<Self, EmailProblem> {
        let text = text.trim();
        if text.is_empty() {
            return Err(EmailProblem::Empty);
        }
        if text.len() > 254 {
            return Err(EmailProblem::TooLong);
        }
        let (local, domain) = text.rsplit_once('@').ok_or(EmailProblem::Malformed)?;
        if is_local_part(local) && is_domain(domain) { Ok(Self(text.to_owned())) } else { Err(EmailProblem::Malformed) }
    }

    /// The address as it was written.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The form that is compared and kept unique: lower case throughout.
    ///
    /// RFC 5321 would let a server tell `Ann@` from `ann@`; nobody means two people by it.
    #[must_use]
    pub fn folded(&self) -> String {
        self.0.to_ascii_lowercase()
    }
}

fn is_local_part(local: &str) -> bool {
    let allowed = |c: char| c.is_ascii_alphanumeric() || "!#$%&'*+-/=?^_`{|}~.".contains(c);
    !local.is_empty()
        && local.len() <= 64
        && local.chars().all(allowed)
        && !local.starts_with('.')
        && !local.ends_with('.')
        && !local.contains("..")
}

fn is_domain(domain: &str) -> bool {
    let label = |label: &str| {
        !label.is_empty()
            && label.len() <= 63
            && label.chars().all(|c| c.is_ascii_alphanumeric() || c == '-')
            && !label.starts_with('-')
            && !label.ends_with('-')
    };
    domain.contains('.') && domain.split('.').all(label)
}

impl fmt::Display for EmailAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl TryFrom<String> for EmailAddress {
    type Error = EmailProblem;
    fn try_from(text: String) -> Result<Self, Self::Error> {
        Self::parse(&text)
    }
}

impl From<EmailAddress> for String {
    fn from(address: EmailAddress) -> Self {
        address.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn addresses_that_mail_accepts() {
        for text in ["ann@example.org", " Ann.Lee+dpf@mail.example.org ", "o'neill@example.org", "a@b.co"] {
            assert_eq!(EmailAddress::parse(text).map(|e| e.as_str().to_owned()), Ok(text.trim().to_owned()));
        }
        assert_eq!(EmailAddress::parse("Ann@Example.ORG").unwrap().folded(), "ann@example.org");
    }

    #[test]
    fn everything_else_is_refused() {
        assert_eq!(EmailAddress::parse("  "), Err(EmailProblem::Empty));
        // RFC 5321 section 4.5.3.1: 64 for the local part, 254 for the whole path without its brackets.
        assert_eq!(EmailAddress::parse(&format!("a@{}.org", "b".repeat(260))), Err(EmailProblem::TooLong));
        let long_local = format!("{}@example.org", "a".repeat(65));
        for text in [
            "ann",
            "ann@",
            "@example.org",
            "ann@example",
            "ann lee@example.org",
            "ann@exa mple.org",
            "ann@@example.org",
            "ann@example..org",
            ".ann@example.org",
            "ann.@example.org",
            "a..b@example.org",
            "ann@-example.org",
            "ann@example.org\r\nBcc: b@example.org",
            "ann\0@example.org",
            "<ann@example.org>",
            &long_local,
        ] {
            assert_eq!(EmailAddress::parse(text), Err(EmailProblem::Malformed), "{text:?}");
        }
    }

    proptest! {
        #[test]
        fn any_text_is_an_address_that_reads_the_same_again_or_is_refused(
            text in ".{0,80}", local in "[ a-zA-Z0-9.+'@_-]{0,70}", domain in "[a-zA-Z0-9.-]{0,200}",
        ) {
            for text in [text, format!("{local}@{domain}")] {
                let Ok(address) = EmailAddress::parse(&text) else { continue };
                prop_assert_eq!(EmailAddress::parse(address.as_str()), Ok(address.clone()));
                prop_assert_eq!(&EmailAddress::try_from(String::from(address.clone())).unwrap(), &address);
                prop_assert!(address.as_str().len() <= 254 && address.as_str().bytes().all(|b| b.is_ascii_graphic()));
                let folded = EmailAddress::parse(&address.folded()).unwrap();
                prop_assert_eq!(folded.folded(), folded.as_str());
            }
        }
    }
}
