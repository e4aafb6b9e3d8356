//! Whose wrong tries are counted together, and what stands for them in the database.
//!
//! Never keeps an account or an address as it is: only a hash under the key of the installation.

use crate::actions::Token;
use crate::store::PersonId;
use hmac::{Hmac, KeyInit as _, Mac as _};
use sha2::Sha256;
use std::fmt::Write as _;
use std::net::IpAddr;

/// Whose wrong tries are counted together. Given in this order, so that no two wait for each other's rows.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(in crate::actions) enum Source {
    /// An account from one network address, or in one browser.
    Place {
        /// The account, whether it exists or not, by its folded address.
        account: String,
        /// The network address, or what the browser is known by.
        from: String,
    },
    /// One person's tries for one thing.
    Person(String),
    /// An account from everywhere.
    Account(String),
    /// A network address, or a person who types for others, whatever they try.
    Everybody(String),
}

/// Where somebody signs in from, to an account that exists or not: a browser that is known tells more than an address that many
/// share, and comes first.
pub(in crate::actions) fn signing_in(account: &str, address: &str, browser: Option<&Token>) -> Vec<Source> {
    // More is nobody's address, and need not be hashed.
    let account: String = account.chars().take(254).collect();
    let address = network_of(address);
    let place = |from: String| Source::Place { account: account.clone(), from };
    let browser = browser.map(|browser| place(format!("browser {}", browser.hash())));
    let elsewhere = [place(address.clone()), Source::Account(account.clone()), Source::Everybody(address)];
    browser.into_iter().chain(elsewhere).collect()
}

/// Somebody who is signed in types the password of a person: their own, or that of whoever stands beside them.
pub(in crate::actions) fn signed_in(by: PersonId, of: PersonId) -> [Source; 2] {
    [Source::Person(format!("password of {of} by {by}")), Source::Everybody(format!("passwords by {by}"))]
}

/// What counts as one network address: of IPv6 a /64, the least that a site gets (RFC 6177); within it a device takes another
/// address every day (RFC 8981); both from memory, not confirmed.
fn network_of(address: &str) -> String {
    match address.parse::<IpAddr>().map(|address| address.to_canonical()) {
        Ok(IpAddr::V6(address)) => {
            let [a, b, c, d, ..] = address.segments();
            format!("{a:x}:{b:x}:{c:x}:{d:x}::/64")
        }
        Ok(IpAddr::V4(address)) => address.to_string(),
        Err(_) => address.to_owned(),
    }
}

impl Source {
    /// What stands for it in the database.
    pub(super) fn hashed(&self, key: &Token) -> String {
        let text = match self {
            // No address of a network has a line end in it.
            Self::Place { account, from } => format!("place\n{from}\n{account}"),
            Self::Person(text) => format!("person\n{text}"),
            Self::Account(text) => format!("account\n{text}"),
            Self::Everybody(text) => format!("address\n{text}"),
        };
        // HMAC takes a key of any length.
        let Ok(mut mac) = Hmac::<Sha256>::new_from_slice(key.as_str().as_bytes()) else { return String::new() };
        mac.update(text.as_bytes());
        mac.finalize().into_bytes().iter().fold(String::new(), |mut text, byte| {
            let _ = write!(text, "{byte:02x}");
            text
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_network_is_an_address_or_what_one_site_has_of_them() {
        for (address, network) in [
            ("192.0.2.7", "192.0.2.7"),
            ("::ffff:192.0.2.7", "192.0.2.7"),
            ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
            ("2001:db8:1:2::", "2001:db8:1:2::/64"),
            ("2001:db8:1:3::", "2001:db8:1:3::/64"),
            ("unix", "unix"),
            ("", ""),
        ] {
            assert_eq!(network_of(address), network, "{address}");
        }
    }

    #[test]
    fn what_is_kept_hangs_on_the_key_the_kind_and_the_text() {
        let (key, other) = (Token::fresh().unwrap(), Token::fresh().unwrap());
        let account = |text: &str| Source::Account(text.to_owned());
        let hash = account("ann@example.org").hashed(&key);
        assert_eq!(hash.len(), 64);
        assert_eq!(hash, account("ann@example.org").hashed(&key));
        assert_ne!(hash, account("ann@example.org").hashed(&other));
        assert_ne!(hash, account("ben@example.org").hashed(&key));
        assert_ne!(hash, Source::Everybody("ann@example.org".to_owned()).hashed(&key));
        assert_ne!(hash, Source::Person("ann@example.org".to_owned()).hashed(&key));
        let [here, there] = ["192.0.2.7", "192.0.2.8"].map(|address| signing_in("ann@example.org", address, None));
        assert_ne!(here[0].hashed(&key), there[0].hashed(&key));
        assert_eq!(here[1].hashed(&key), there[1].hashed(&key));
    }
}
