//! A text of a scenario that knows where each of its words stands in the file, also when it goes on over several lines.
//!
//! Understands no word of what it says.

use crate::document::Place;
use std::fmt;
use std::ops::Deref;

/// Lines of a file put together to one text.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Passage {
    text: String,
    /// The byte of the text at which each line begins, and where that is in the file.
    begins: Vec<(usize, Place)>,
}

impl Passage {
    /// A part of a line; `whole` is that line, of which `part` is a slice.
    pub(super) fn of_line(number: u32, whole: &str, part: &str) -> Self {
        Self { text: part.to_owned(), begins: vec![(0, place_in(number, whole, part))] }
    }

    /// Adds a part of a later line behind a blank.
    pub(super) fn goes_on(&mut self, number: u32, whole: &str, part: &str) {
        self.text.push(' ');
        self.begins.push((self.text.len(), place_in(number, whole, part)));
        self.text.push_str(part);
    }

    /// Its first word's place.
    pub(super) fn place(&self) -> Place {
        self.begins.first().map(|(_, place)| *place).unwrap_or_default()
    }

    /// The place of a byte of it; beyond its end, of its end.
    pub(super) fn place_at(&self, byte: usize) -> Place {
        let byte = self.text.floor_char_boundary(byte);
        let line = self.begins.partition_point(|(begin, _)| *begin <= byte).saturating_sub(1);
        let Some((begin, place)) = self.begins.get(line) else { return Place::default() };
        let along = self.text[*begin..byte].chars().count();
        Place { column: place.column.saturating_add(u32::try_from(along).unwrap_or(u32::MAX)), ..*place }
    }

    /// The place of a slice of it; of what is no slice of it, its own.
    pub(super) fn place_of(&self, part: &str) -> Place {
        offset_of(part, &self.text).map_or_else(|| self.place(), |byte| self.place_at(byte))
    }

    pub(super) fn into_text(self) -> String {
        self.text
    }
}

impl Deref for Passage {
    type Target = str;

    fn deref(&self) -> &str {
        &self.text
    }
}

impl fmt::Display for Passage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

impl From<&Passage> for Place {
    fn from(passage: &Passage) -> Self {
        passage.place()
    }
}

/// The place of a slice of a line.
pub(super) fn place_in(number: u32, whole: &str, part: &str) -> Place {
    let before = offset_of(part, whole).and_then(|byte| whole.get(..byte)).unwrap_or_default();
    Place { line: number, column: u32::try_from(before.chars().count() + 1).unwrap_or(u32::MAX) }
}

/// How many bytes of `whole` stand before `part`, if that is a slice of it.
pub(super) fn offset_of(part: &str, whole: &str) -> Option<usize> {
    let before = (part.as_ptr() as usize).checked_sub(whole.as_ptr() as usize)?;
    (before + part.len() <= whole.len()).then_some(before)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_is_found_on_its_own_line() {
        let (first, second) = ("gap = 600 °C - x", "    + y");
        let mut passage = Passage::of_line(7, first, &first[6..]);
        passage.goes_on(8, second, second.trim());
        assert_eq!(&*passage, "600 °C - x + y");
        let place = |word| passage.place_of(passage.split_at(passage.find(word).unwrap()).1).to_string();
        assert_eq!([place("600"), place("x"), place("+"), place("y")], ["7:7", "7:16", "8:5", "8:7"]);
        assert_eq!(passage.place_of("elsewhere"), passage.place());
        assert_eq!(passage.place_at(6).to_string(), "7:12", "inside a letter of two bytes is at that letter");
        assert_eq!(passage.place_at(999).to_string(), "8:8");
    }
}
