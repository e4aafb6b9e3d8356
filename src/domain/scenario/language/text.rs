//! Text with expressions in braces. `{{` and `}}` stand for the braces themselves.

use super::{Expr, Misread, parse};

/// A stretch of text.
#[derive(Clone, Debug, PartialEq)]
pub enum Piece {
    /// Words as they stand.
    Plain(String),
    /// An expression whose value is filled in.
    Filled(Expr),
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
        let mut pieces = Vec::new();
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
            let expr = parse(&after[..end]).map_err(|inner| Misread { at: here + 1 + inner.at, ..inner })?;
            if !plain.is_empty() {
                pieces.push(Piece::Plain(std::mem::take(&mut plain)));
            }
            pieces.push(Piece::Filled(expr));
            rest = &after[end + 1..];
        }
        plain.push_str(rest);
        if !plain.is_empty() {
            pieces.push(Piece::Plain(plain));
        }
        Ok(Self(pieces))
    }

    /// The expressions in it.
    pub fn expressions(&self) -> impl Iterator<Item = &Expr> {
        self.0.iter().filter_map(|piece| match piece {
            Piece::Filled(expr) => Some(expr),
            Piece::Plain(_) => None,
        })
    }

    /// Whether some text could have come of it: its words as they stand are all in there, one after the other.
    #[must_use]
    pub fn could_read(&self, text: &str) -> bool {
        let mut rest = text;
        self.0.iter().all(|piece| match piece {
            Piece::Plain(plain) => rest.split_once(plain.as_str()).map(|(_, after)| rest = after).is_some(),
            Piece::Filled(_) => true,
        })
    }

    /// Whether there is nothing in it.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.iter().all(|piece| matches!(piece, Piece::Plain(text) if text.trim().is_empty()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
        assert_eq!(Text::read("a {1 furlong}").unwrap_err().at, 4);
    }
}
