//! Forms: what was sent, read once into the right types, with every problem named beside its field.
//!
//! Never stops at the first problem, and never lets a control character through to a type or a table.

use super::error::PageError;
use super::view::FieldError;
use crate::actions::Token;
use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpMessage as _, HttpRequest, web};
use std::fmt::Display;
use std::future::{Ready, ready};

/// The fields of the form that was sent, in its order. The guard reads them before the handler runs.
#[derive(Clone, Debug, Default)]
pub struct Fields(Vec<(String, String)>);

impl Fields {
    /// Reads a form's body or a query string.
    ///
    /// # Errors
    /// When it is not of the form `name=value&name=value`.
    pub fn from_text(text: &str) -> Result<Self, PageError> {
        let read = web::Query::<Vec<(String, String)>>::from_query(text);
        Ok(Self(read.map_err(|_| PageError::Malformed("fields are not name=value"))?.into_inner()))
    }

    /// What was typed into a field; empty when the field was not sent.
    #[must_use]
    pub fn typed(&self, name: &str) -> &str {
        self.0.iter().find(|(field, _)| field == name).map_or("", |(_, value)| value)
    }

    /// Which click the form was sent by: a token that its page brought along.
    ///
    /// # Errors
    /// When there is none, or it is none of ours.
    pub fn click(&self) -> Result<Token, PageError> {
        Token::from_text(self.typed("click")).ok_or(PageError::Malformed("no sign of which click it was"))
    }

    /// Every field with what was typed into it, in order.
    pub fn every(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0.iter().map(|(name, value)| (name.as_str(), value.as_str()))
    }

    /// Everything that was chosen in a field that can be chosen several times.
    pub fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a str> {
        self.0.iter().filter(move |(field, _)| field == name).map(|(_, value)| value.as_str())
    }
}

impl FromRequest for Fields {
    type Error = PageError;
    type Future = Ready<Result<Self, PageError>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let found = request.extensions().get::<Self>().cloned();
        ready(found.ok_or(PageError::Malformed("not a form")))
    }
}

/// Reads fields into types and collects what is wrong with them.
#[derive(Debug)]
pub struct Reader<'a> {
    fields: &'a Fields,
    errors: Vec<FieldError>,
}

impl<'a> Reader<'a> {
    /// A reader that has found nothing wrong yet.
    #[must_use]
    pub const fn new(fields: &'a Fields) -> Self {
        Self { fields, errors: Vec::new() }
    }

    /// Reads a field of one line.
    pub fn line<T, E: Display>(&mut self, field: &str, parse: impl FnOnce(&'a str) -> Result<T, E>) -> Option<T> {
        self.read(field, |c| c.is_control(), parse)
    }

    /// Reads a field of several lines: line ends and tabs are allowed.
    pub fn lines<T, E: Display>(&mut self, field: &str, parse: impl FnOnce(&'a str) -> Result<T, E>) -> Option<T> {
        self.read(field, |c| c.is_control() && !matches!(c, '\n' | '\r' | '\t'), parse)
    }

    fn read<T, E: Display>(
        &mut self,
        field: &str,
        refused: impl Fn(char) -> bool,
        parse: impl FnOnce(&'a str) -> Result<T, E>,
    ) -> Option<T> {
        let typed: &'a str = self.fields.typed(field);
        if typed.contains(refused) {
            self.wrong(field, "There is a hidden character in this field. Type it again.");
            return None;
        }
        match parse(typed) {
            Ok(value) => Some(value),
            Err(problem) => {
                self.wrong(field, problem);
                None
            }
        }
    }

    /// Names one more thing that is wrong.
    pub fn wrong(&mut self, field: &str, message: impl Display) {
        self.errors.push(FieldError { field: field.to_owned(), message: message.to_string() });
    }

    /// Everything that is wrong, in the order of reading.
    #[must_use]
    pub fn into_errors(self) -> Vec<FieldError> {
        self.errors
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn every_problem_is_named_at_its_field() {
        let fields = Fields::from_text("count=x&name=a%00b&note=a%0Ab&twice=1&twice=2").unwrap();
        let mut form = Reader::new(&fields);
        assert_eq!(form.line("count", str::parse::<i32>), None);
        assert_eq!(form.line("name", |text| Ok::<_, String>(text.to_owned())), None);
        assert_eq!(form.lines("note", |text| Ok::<_, String>(text.to_owned())), Some("a\nb".to_owned()));
        assert_eq!(form.line("note", |text| Ok::<_, String>(text.to_owned())), None);
        assert_eq!(fields.all("twice").collect::<Vec<_>>(), ["1", "2"]);
        assert_eq!(fields.typed("never sent"), "");
        let named: Vec<_> = form.into_errors().into_iter().map(|error| error.field).collect();
        assert_eq!(named, ["count", "name", "note"]);
    }

    #[test]
    fn what_was_escaped_twice_is_read_once() {
        let fields = Fields::from_text("name=%253Cb%253E&note=%2500&a%2526b=%2B+%252B&html=%26lt%3B").unwrap();
        let mut form = Reader::new(&fields);
        assert_eq!(form.line("name", |text| Ok::<_, String>(text.to_owned())), Some("%3Cb%3E".to_owned()));
        // No hidden character either: looked for after the one reading, and there is none.
        assert_eq!(form.line("note", |text| Ok::<_, String>(text.to_owned())), Some("%00".to_owned()));
        assert_eq!((fields.typed("a%26b"), fields.typed("html")), ("+ %2B", "&lt;"));
    }

    proptest! {
        #[test]
        fn any_text_is_fields_or_refused_and_no_control_character_comes_through(
            text in ".{0,60}", near in "[a-z%0-9A-F&=+;]{0,60}",
        ) {
            for text in [text, near] {
                let Ok(fields) = Fields::from_text(&text) else { continue };
                for (name, value) in fields.every() {
                    let mut form = Reader::new(&fields);
                    let line = form.line(name, |text| Ok::<_, String>(text.to_owned()));
                    let first = fields.typed(name);
                    prop_assert_eq!(line.is_none(), first.chars().any(char::is_control));
                    prop_assert!(fields.all(name).any(|typed| typed == value));
                }
            }
        }
    }
}
