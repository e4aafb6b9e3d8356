//! Which passwords are taken. Length and guessability only: no composition rules, nothing that forces a change by date.
//!
//! Sources: OWASP ASVS 5.0 section 6.2 and NIST SP 800-63B-4 (FACTS of the project): at least 8 characters, at least 64
//! allowed, common passwords refused, never cut short.

use super::{EmailAddress, PersonName};

/// Characters that a password has at least.
pub const SHORTEST_PASSWORD: usize = 8;
/// Characters that a password has at most; the limit only keeps the hashing work bounded.
pub const LONGEST_PASSWORD: usize = 256;

/// Why a password is not taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PasswordProblem {
    /// Fewer than 8 characters.
    #[error("Use at least 8 characters. Three or four unrelated words do well.")]
    TooShort,
    /// More than 256 characters.
    #[error("Use at most 256 characters.")]
    TooLong,
    /// One of the first that anyone would try.
    #[error("This password is among the first that others would try. Choose another.")]
    Common,
    /// Short work for who guesses: a word and a digit, keys beside each other, a date.
    #[error("This password is quickly guessed. Three or four unrelated words do well.")]
    Guessable,
    /// The person's name, e-mail address or the program's name, perhaps with digits around it.
    #[error("This is your name or your e-mail address with little else. Choose another.")]
    Own,
}

/// Checks a new password for a person.
///
/// # Errors
/// The first reason for which the password is not taken.
pub fn check_password(password: &str, name: &PersonName, email: &EmailAddress) -> Result<(), PasswordProblem> {
    match password.chars().count() {
        0..SHORTEST_PASSWORD => return Err(PasswordProblem::TooShort),
        SHORTEST_PASSWORD..=LONGEST_PASSWORD => {}
        _ => return Err(PasswordProblem::TooLong),
    }
    let folded = password.to_lowercase();
    if is_one_pattern(&folded) || COMMON.contains(&folded.as_str()) {
        return Err(PasswordProblem::Common);
    }
    if is_own(&folded, name, email) { Err(PasswordProblem::Own) } else { Ok(()) }
}

/// One or two characters over and over, or a run such as 23456789.
fn is_one_pattern(folded: &str) -> bool {
    let codes: Vec<u32> = folded.chars().map(u32::from).collect();
    let repeats = |step: usize| codes.iter().zip(codes.iter().skip(step)).all(|(a, b)| a == b);
    let runs = |by: i64| codes.windows(2).all(|pair| i64::from(pair[1]) - i64::from(pair[0]) == by);
    repeats(1) || repeats(2) || runs(1) || runs(-1)
}

fn is_own(folded: &str, name: &PersonName, email: &EmailAddress) -> bool {
    let letters = |text: &str| text.chars().filter(|c| c.is_alphabetic()).collect::<String>().to_lowercase();
    let email = email.folded();
    let (local, domain) = email.split_once('@').unwrap_or((&email, ""));
    let mut own: Vec<String> = [email.as_str(), local, domain, name.as_str(), "sootmark"].map(letters).to_vec();
    own.extend(name.as_str().split(' ').map(letters));
    own.push(letters(&name.as_str().split(' ').rev().collect::<String>()));
    let core = letters(folded);
    // Digits and signs around one's own name do not make it hard to guess; words beside it do.
    core.chars().count() >= 3 && own.contains(&core) || folded == email
}

/// Passwords of eight and more characters that lists of leaked passwords agree on as the most frequent.
/// From memory, not confirmed against one list; shorter ones are refused by length, runs and repeats by pattern.
const COMMON: [&str; 82] = [
    "password",
    "password1",
    "password12",
    "password123",
    "passw0rd",
    "p@ssw0rd",
    "p@ssword",
    "pa55word",
    "password!",
    "password1!",
    "mypassword",
    "yourpassword",
    "newpassword",
    "thepassword",
    "changeme",
    "changeme1",
    "changeme123",
    "letmein1",
    "letmein123",
    "welcome1",
    "welcome12",
    "welcome123",
    "welcome1!",
    "qwertyui",
    "qwertyuiop",
    "qwerty12",
    "qwerty123",
    "qwerty1234",
    "qwertz123",
    "1q2w3e4r",
    "1q2w3e4r5t",
    "1qaz2wsx",
    "zaq12wsx",
    "q1w2e3r4",
    "asdfghjk",
    "asdfghjkl",
    "asdf1234",
    "zxcvbnm1",
    "zxcvbnm123",
    "1234567890",
    "123456789a",
    "12345678a",
    "a12345678",
    "a123456789",
    "12341234",
    "11223344",
    "12121212",
    "123123123",
    "123321123",
    "147258369",
    "987654321",
    "0987654321",
    "00000000",
    "69696969",
    "abcd1234",
    "abc12345",
    "abcdefg1",
    "iloveyou",
    "iloveyou1",
    "iloveyou2",
    "sunshine",
    "sunshine1",
    "princess",
    "princess1",
    "football",
    "football1",
    "baseball",
    "baseball1",
    "trustno1",
    "whatever",
    "computer",
    "internet",
    "dragon123",
    "monkey123",
    "master123",
    "shadow123",
    "admin123",
    "administrator",
    "adminadmin",
    "workshop1",
    "default1",
    "testtest",
];

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn check(password: &str, expected: Result<(), PasswordProblem>) {
        let name = PersonName::parse("Ada Lovell").unwrap();
        let email = EmailAddress::parse("a.lovell@example.org").unwrap();
        assert_eq!(check_password(password, &name, &email), expected, "{password:?}");
    }

    #[test]
    fn length_counts_and_composition_does_not() {
        check("straw barn lamp", Ok(()));
        check("ümläutß1", Ok(()));
        check("short77", Err(PasswordProblem::TooShort));
        check(&"straw barn ".repeat(23), Ok(()));
        check(&"straw barn ".repeat(24), Err(PasswordProblem::TooLong));
    }

    #[test]
    fn what_anyone_would_try_is_refused() {
        for password in ["Password1", "PASSWORD", "23456789", "hgfedcba", "aaaaaaaaaa", "abababab", "1Q2w3e4r"] {
            check(password, Err(PasswordProblem::Common));
        }
    }

    #[test]
    fn the_own_name_is_refused_but_may_be_part_of_a_phrase() {
        for password in ["Ada Lovell", "adalovell77", "lovell-ada!", "lovell1815", "a.lovell@example.org", "Sootmark1"]
        {
            check(password, Err(PasswordProblem::Own));
        }
        check("lovell drives past the mill", Ok(()));
        // Nothing alphabetic is not "nothing but the own name".
        check("47110815", Ok(()));
    }

    proptest! {
        #[test]
        fn any_text_is_taken_or_refused_and_the_limits_hold(
            password in ".{0,300}", near in "[a-z0-9 ]{0,20}", name in "[A-Za-z ]{1,40}",
        ) {
            let email = EmailAddress::parse("a.lovell@example.org").unwrap();
            let Ok(name) = PersonName::parse(&name) else { return Ok(()) };
            for password in [password, near] {
                let length = password.chars().count();
                match check_password(&password, &name, &email) {
                    Err(PasswordProblem::TooShort) => prop_assert!(length < SHORTEST_PASSWORD),
                    Err(PasswordProblem::TooLong) => prop_assert!(length > LONGEST_PASSWORD),
                    _ => prop_assert!((SHORTEST_PASSWORD..=LONGEST_PASSWORD).contains(&length)),
                }
            }
        }
    }
}
