//! Text with expressions in braces. `{{` and `}}` stand for the braces themselves.
//!
//! Behind an expression, divided by `|`, stand the words that depend on its value: `{n|lamp is|lamps are}`. Never guesses a
//! plural: whoever writes the text writes both.

use super::{Expr, Misread, parse};
use crate::scenario::limits::MOST_PARTS;
use crate::units::plain_number;
use std::ops::Range;

/// A stretch of text.
#[derive(Clone, Debug, PartialEq)]
pub enum Piece {
    /// Words as they stand.
    Plain(String),
    /// An expression whose value is filled in.
    Filled(Expr),
    /// An expression whose value chooses the words.
    Chosen(Expr, Forms),
}

/// Words that depend on a value. `#` in them stands for the number without its unit.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Forms {
    /// For the number 0; without it, 0 is spoken of as more than one.
    pub none: Option<String>,
    /// For the number 1 as a reader sees it, or for yes.
    pub one: String,
    /// For every other number, or for no.
    pub other: String,
}

impl Forms {
    /// Two forms, or three with one for nothing before them.
    fn read(parts: &[&str]) -> Option<Self> {
        match *parts {
            [one, other] => Some(Self { none: None, one: one.to_owned(), other: other.to_owned() }),
            [none, one, other] => {
                Some(Self { none: Some(none.to_owned()), one: one.to_owned(), other: other.to_owned() })
            }
            _ => None,
        }
    }

    /// The words for a number as a reader sees it.
    #[must_use]
    pub fn of_number(&self, number: f64) -> String {
        let plain = plain_number(number);
        let form = match (plain.as_str(), &self.none) {
            ("0", Some(none)) => none,
            ("1" | "-1", _) => &self.one,
            _ => &self.other,
        };
        form.replace('#', &plain)
    }

    /// The words for yes or no.
    #[must_use]
    pub fn of_truth(&self, truth: bool) -> &str {
        if truth { &self.one } else { &self.other }
    }
}

/// A trainer's text.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Text(pub Vec<Piece>);

impl Text {
    /// Reads text with expressions in braces.
    ///
    /// # Errors
    /// A brace without its partner, or an expression that is not understood; `at` counts bytes of the text.
    pub fn read(text: &str) -> Result<Self, Misread> {
        Self::read_placed(text).map(|(read, _)| read)
    }

    /// Reads text, and says for each of its [`expressions`](Self::expressions) the bytes of the text that it stands in.
    ///
    /// # Errors
    /// As [`read`](Self::read).
    pub fn read_placed(text: &str) -> Result<(Self, Vec<Range<usize>>), Misread> {
        let mut pieces = Vec::new();
        let mut places = Vec::new();
        let mut plain = String::new();
        let mut rest = text;
        while let Some(at) = rest.find(['{', '}']) {
            plain.push_str(&rest[..at]);
            let here = text.len() - rest.len() + at;
            let misread = |message: &str| Misread {
                at: here,
                near: rest[at..].chars().take(20).collect(),
                message: message.to_owned(),
            };
            let brace = &rest[at..=at];
            let after = &rest[at + 1..];
            if let Some(doubled) = after.strip_prefix(brace) {
                plain.push_str(brace);
                rest = doubled;
                continue;
            }
            if brace == "}" {
                return Err(misread("a closing brace without an opening one; write }} for a brace"));
            }
            let Some(end) = after.find('}') else {
                return Err(misread("an opening brace without a closing one; write {{ for a brace"));
            };
            if places.len() >= MOST_PARTS {
                return Err(misread(&format!("a text has at most {MOST_PARTS} braces; write less, or fill in less")));
            }
            let parts = divided(&after[..end]);
            let (value, forms) = parts.split_first().unwrap_or((&"", &[]));
            let expr = parse(value).map_err(|inner| Misread { at: here + 1 + inner.at, ..inner })?;
            if !plain.is_empty() {
                pieces.push(Piece::Plain(std::mem::take(&mut plain)));
            }
            places.push(here + 1..here + 1 + value.len());
            pieces.push(match (forms.is_empty(), Forms::read(forms)) {
                (true, _) => Piece::Filled(expr),
                (false, Some(forms)) => Piece::Chosen(expr, forms),
                (false, None) => {
                    return Err(misread("write two forms, as {n|hour|hours}, or three, as {n|none|one|many}"));
                }
            });
            rest = &after[end + 1..];
        }
        plain.push_str(rest);
        if !plain.is_empty() {
            pieces.push(Piece::Plain(plain));
        }
        Ok((Self(pieces), places))
    }

    /// The expressions in it.
    pub fn expressions(&self) -> impl Iterator<Item = &Expr> {
        self.0.iter().filter_map(|piece| match piece {
            Piece::Filled(expr) | Piece::Chosen(expr, _) => Some(expr),
            Piece::Plain(_) => None,
        })
    }

    /// Whether some text could have come of it: its words as they stand are all in there, one after the other.
    #[must_use]
    pub fn could_read(&self, text: &str) -> bool {
        let mut rest = text;
        self.0.iter().all(|piece| match piece {
            Piece::Plain(plain) => rest.split_once(plain.as_str()).map(|(_, after)| rest = after).is_some(),
            Piece::Filled(_) | Piece::Chosen(..) => true,
        })
    }

    /// Whether there is nothing in it.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.iter().all(|piece| matches!(piece, Piece::Plain(text) if text.trim().is_empty()))
    }
}

/// The parts between bars that do not stand in quotes.
fn divided(text: &str) -> Vec<&str> {
    let mut quoted = false;
    let outside = |letter: char| {
        quoted ^= letter == '"';
        letter == '|' && !quoted
    };
    text.split(outside).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_text_is_recognized_by_its_plain_words() {
        let text = Text::read("From {from} on it is {what}.").unwrap();
        assert!(text.could_read("From 80 % on it is full."));
        assert!(!text.could_read("It is full. From 80 % on"));
    }

    #[test]
    fn braces_are_filled_or_doubled() {
        let text = Text::read("Load {load} of {{100 %}}.").unwrap();
        assert_eq!(
            text.0,
            [
                Piece::Plain("Load ".into()),
                Piece::Filled(Expr::Name("load".into())),
                Piece::Plain(" of {100 %}.".into())
            ]
        );
        assert_eq!(Text::read("a {b").unwrap_err().at, 2);
        assert_eq!(Text::read("a b}").unwrap_err().at, 3);
        assert_eq!(Text::read("a {1 furlong}").unwrap_err().at, 5);
    }

    #[test]
    fn words_follow_their_number() {
        let forms = |text: &str| match Text::read(text).unwrap().0.as_slice() {
            [Piece::Chosen(_, forms)] => forms.clone(),
            other => panic!("{other:?}"),
        };
        let two = forms("{n|# lamp is|# lamps are}");
        assert_eq!(
            [0.0, 1.0, 1.5, 2.0].map(|n| two.of_number(n)),
            ["0 lamps are", "1 lamp is", "1.5 lamps are", "2 lamps are"]
        );
        let three = forms("{n|no lamp is|one lamp is|# lamps are}");
        assert_eq!([0.0, 1.0, 3.0].map(|n| three.of_number(n)), ["no lamp is", "one lamp is", "3 lamps are"]);
        let truth = forms("{a = \"x|y\"|full|reduced}");
        assert_eq!([truth.of_truth(true), truth.of_truth(false)], ["full", "reduced"]);
        assert!(Text::read("{n|one}").is_err() && Text::read("{n|a|b|c|d}").is_err());
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused_at_a_place_that_is_there(text in ".{0,60}", near in "[a-z0-9 #+|{}(\"é]{0,60}") {
            for text in [text, near] {
                match Text::read_placed(&text) {
                    Ok((read, places)) => {
                        prop_assert_eq!(read.expressions().count(), places.len());
                        prop_assert!(places.iter().all(|place| text.get(place.clone()).is_some()));
                    }
                    Err(misread) => prop_assert!(misread.at <= text.len() && !misread.message.is_empty()),
                }
            }
        }

        #[test]
        fn words_with_doubled_braces_are_the_words(words in "[a-z {}]{0,40}") {
            let read = Text::read(&words.replace('{', "{{").replace('}', "}}")).unwrap();
            let back = if words.is_empty() { Vec::new() } else { vec![Piece::Plain(words)] };
            prop_assert_eq!(read.0, back);
        }
    }
}
