//! One table of a file: typed questions, each of which notes what is wrong and answers `None` then.

use super::{Document, Place, join, nearest, numbered};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// One table of a file. Each question names a key; a wrong or missing value is noted in the document and answered `None`.
#[derive(Clone, Debug)]
pub struct Section<'d> {
    document: &'d Document<'d>,
    path: String,
    table: &'d DeTable<'d>,
    at: Place,
}

/// One entry of a list of texts, with the place to name when it is wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Item {
    /// The text.
    pub text: String,
    /// Its place in the file.
    pub at: Place,
    /// Its dotted field, such as `parked.interlocks[2]`.
    pub field: String,
}

impl<'d> Section<'d> {
    pub(super) fn new(document: &'d Document<'d>, path: String, table: &'d DeTable<'d>, at: Place) -> Self {
        // Notes that this section was entered, even when it turns out that nothing in it is asked for.
        document.asked.borrow_mut().entry(path.clone()).or_default();
        Self { document, path, table, at }
    }

    /// The section's dotted name; empty at the top level.
    #[must_use]
    pub fn path(&self) -> &str {
        &self.path
    }

    /// The line the section starts at.
    #[must_use]
    pub fn line(&self) -> u32 {
        self.at.line
    }

    /// The line of a key, or the section's own when the key is not there.
    #[must_use]
    pub fn line_of(&self, key: &str) -> u32 {
        self.place_of(key).line
    }

    /// The place of what stands behind a key, of the key when that is a section, or the section's own when the key is
    /// not there.
    fn place_of(&self, key: &str) -> Place {
        let Some((name, value)) = self.table.get_key_value(key) else { return self.at };
        let span = if value.get_ref().is_table() { name.span() } else { value.span() };
        let (at, key) = (self.document.place_at(span.start), self.document.place_at(name.span().start));
        if at.line == key.line { at } else { key }
    }

    /// Whether the key is there. Asking makes it known.
    #[must_use]
    pub fn has(&self, key: &str) -> bool {
        self.document.note_asked(&self.path, key);
        self.table.contains_key(key)
    }

    /// The keys that are there, in the file's order, for sections whose keys are free words. Does not make them known.
    #[must_use]
    pub fn keys(&self) -> Vec<String> {
        let mut keys: Vec<_> = self.table.keys().collect();
        keys.sort_by_key(|key| key.span().start);
        keys.into_iter().map(|key| key.get_ref().to_string()).collect()
    }

    /// Notes a problem with a key (or with the whole section, when `key` is empty).
    pub fn report(&self, key: &str, message: impl Into<String>) {
        let field = if key.is_empty() { self.path.clone() } else { join(&self.path, key) };
        self.document.push(self.place_of(key), field, message.into());
    }

    /// Notes a problem with an entry of a list.
    pub fn report_item(&self, item: &Item, message: impl Into<String>) {
        self.document.push(item.at, item.field.clone(), message.into());
    }

    /// A text that is not blank, without the white space around it.
    #[must_use]
    pub fn text(&self, key: &str) -> Option<String> {
        let text = self.required(key, "a text in quotes")?.as_str();
        self.non_blank(key, text)
    }

    /// A text that may be left out.
    #[must_use]
    pub fn optional_text(&self, key: &str) -> Option<String> {
        self.has(key).then(|| self.text(key)).flatten()
    }

    /// `true` or `false`.
    #[must_use]
    pub fn bool(&self, key: &str) -> Option<bool> {
        let value = self.required(key, "true or false")?;
        let truth = value.as_bool();
        if truth.is_none() {
            self.report(key, format!("{} is neither true nor false; write one of them without quotes", shown(value)));
        }
        truth
    }

    /// `true` or `false`, may be left out.
    #[must_use]
    pub fn optional_bool(&self, key: &str) -> Option<bool> {
        self.has(key).then(|| self.bool(key)).flatten()
    }

    /// One of some known words. `known` is what to suggest when it is none of them.
    #[must_use]
    pub fn one_of<T>(&self, key: &str, known: &[&str], from_id: impl Fn(&str) -> Option<T>) -> Option<T> {
        let text = self.text(key)?;
        let found = from_id(&text);
        if found.is_none() {
            self.report(key, unknown_word(&text, known));
        }
        found
    }

    /// One of some known words, may be left out.
    #[must_use]
    pub fn optional_one_of<T>(&self, key: &str, known: &[&str], from_id: impl Fn(&str) -> Option<T>) -> Option<T> {
        self.has(key).then(|| self.one_of(key, known, from_id)).flatten()
    }

    /// A list of texts, which may be empty.
    #[must_use]
    pub fn list(&self, key: &str) -> Option<Vec<Item>> {
        let value = self.required(key, "a list of texts, such as [\"one\", \"two\"]")?;
        let Some(entries) = value.as_array() else {
            self.report(key, format!("{} is not a list; write texts between [ and ]", shown(value)));
            return None;
        };
        let mut items = Vec::new();
        let mut whole = true;
        for (index, entry) in entries.iter().enumerate() {
            let (at, field) = (self.document.place_at(entry.span().start), numbered(&join(&self.path, key), index));
            match entry.get_ref().as_str().map(str::trim) {
                Some(text) if !text.is_empty() => items.push(Item { text: text.to_owned(), at, field }),
                _ => {
                    let message = format!("{} is not a text; write it in quotes", shown(entry.get_ref()));
                    self.document.push(at, field, message);
                    whole = false;
                }
            }
        }
        whole.then_some(items)
    }

    /// A list of texts that may be left out.
    #[must_use]
    pub fn optional_list(&self, key: &str) -> Option<Vec<Item>> {
        self.has(key).then(|| self.list(key)).flatten()
    }

    /// A list of known words, none of them twice.
    #[must_use]
    pub fn list_of<T: PartialEq>(
        &self,
        key: &str,
        known: &[&str],
        from_id: impl Fn(&str) -> Option<T>,
    ) -> Option<Vec<T>> {
        let items = self.list(key)?;
        let mut values = Vec::new();
        let mut whole = true;
        for item in &items {
            let problem = match from_id(&item.text) {
                Some(value) if values.contains(&value) => format!("\"{}\" stands here twice; leave one", item.text),
                Some(value) => {
                    values.push(value);
                    continue;
                }
                None => unknown_word(&item.text, known),
            };
            self.report_item(item, problem);
            whole = false;
        }
        whole.then_some(values)
    }

    /// A table that must be there.
    #[must_use]
    pub fn section(&self, key: &str) -> Option<Section<'d>> {
        let value = self.required(key, &format!("a section [{}]", join(&self.path, key)))?;
        let Some(table) = value.as_table() else {
            self.report(key, format!("{} is not a section; write [{}]", shown(value), join(&self.path, key)));
            return None;
        };
        Some(Section::new(self.document, join(&self.path, key), table, self.place_of(key)))
    }

    /// A table that may be left out.
    #[must_use]
    pub fn optional_section(&self, key: &str) -> Option<Section<'d>> {
        self.has(key).then(|| self.section(key)).flatten()
    }

    /// The tables of a list of tables (`[[key]]`), in the file's order. Empty when there is none: whoever needs one says so.
    #[must_use]
    pub fn tables(&self, key: &str) -> Vec<Section<'d>> {
        if !self.has(key) {
            return Vec::new();
        }
        let path = join(&self.path, key);
        let Some(entries) = self.table.get(key).and_then(|value| value.get_ref().as_array()) else {
            self.report(key, format!("this is not a list of sections; write [[{path}]] above each"));
            return Vec::new();
        };
        let mut sections = Vec::new();
        for (index, entry) in entries.iter().enumerate() {
            let (at, field) = (self.document.place_at(entry.span().start), numbered(&path, index));
            match entry.get_ref().as_table() {
                Some(table) => sections.push(Section::new(self.document, field, table, at)),
                None => {
                    let message = format!("{} is not a section; write [[{path}]] above it", shown(entry.get_ref()));
                    self.document.push(at, field, message);
                }
            }
        }
        sections
    }

    pub(super) fn required(&self, key: &str, wanted: &str) -> Option<&'d DeValue<'d>> {
        self.document.note_asked(&self.path, key);
        let found = self.table.get(key).map(Spanned::get_ref);
        if found.is_none() && !self.document.syntax_broken {
            self.report(key, format!("this is missing; write {wanted}"));
        }
        found
    }

    pub(super) fn non_blank(&self, key: &str, text: Option<&str>) -> Option<String> {
        let text = text.map(str::trim);
        match text {
            None => self.report(key, "this is not a text; write it in quotes"),
            Some("") => self.report(key, "this is empty; write something or leave the field out"),
            Some(_) => {}
        }
        text.filter(|text| !text.is_empty()).map(str::to_owned)
    }
}

fn unknown_word(word: &str, known: &[&str]) -> String {
    match nearest(word, known.iter().copied()) {
        Some(meant) => format!("\"{word}\" is not known here; did you mean \"{meant}\"?"),
        None => format!("\"{word}\" is not known here; known are {}", known.join(", ")),
    }
}

pub(super) fn shown(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => format!("\"{text}\""),
        DeValue::Integer(number) => number.as_str().to_owned(),
        DeValue::Float(number) => number.as_str().to_owned(),
        DeValue::Boolean(truth) => truth.to_string(),
        DeValue::Datetime(date) => date.to_string(),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a section".to_owned(),
    }
}
