//! A profile's text cut into its sections, so that each is written in a field of its own with what is wrong beside it.
//!
//! Never loses a byte: joined again, the sections are the text. Knows no section by name.

use super::heading;

/// Sections of one name that follow each other: `[filter]`, or all of `[[band]]`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Part {
    /// Its name in the text; empty for what stands before the first heading.
    pub(super) name: String,
    /// Its text, with the remarks above its heading.
    pub(super) text: String,
    /// The line of the whole text that it begins on.
    pub(super) first_line: u32,
}

impl Part {
    /// What people call it.
    pub(super) fn label(&self) -> String {
        if self.name.is_empty() { "The machine".to_owned() } else { heading(&self.name) }
    }
}

/// Cuts a text into its parts; there is always one.
pub(super) fn cut(text: &str) -> Vec<Part> {
    let mut parts = vec![Part { name: String::new(), text: String::new(), first_line: 1 }];
    // Remarks right above a heading belong to it.
    let mut waiting = String::new();
    for (line, whole) in (1..).zip(text.split_inclusive('\n')) {
        let trimmed = whole.trim();
        let named = header(trimmed);
        if let Some(name) = named.filter(|name| parts.last().is_none_or(|last| last.name != *name)) {
            let above = u32::try_from(waiting.lines().count()).unwrap_or_default();
            parts.push(Part { name: name.to_owned(), text: std::mem::take(&mut waiting), first_line: line - above });
        }
        waiting.push_str(whole);
        let remark = trimmed.starts_with('#');
        if let Some(last) = parts.last_mut().filter(|_| !remark) {
            last.text.push_str(&std::mem::take(&mut waiting));
        }
    }
    if let Some(last) = parts.last_mut() {
        last.text.push_str(&waiting);
    }
    parts.retain(|part| !part.text.is_empty() || part.first_line == 1);
    parts
}

/// The name of the section that a line begins: `[filter]`, `[filter.cells]` and `[[filter]]` are all "filter".
fn header(line: &str) -> Option<&str> {
    let line = line.split('#').next().unwrap_or_default().trim();
    let inner = line.strip_prefix('[')?.strip_suffix(']')?;
    let inner = inner.strip_prefix('[').and_then(|rest| rest.strip_suffix(']')).unwrap_or(inner).trim();
    let name = inner.split('.').next().unwrap_or_default();
    let word = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    (!name.is_empty() && name.chars().all(word)).then_some(name)
}

/// The parts as one text. A part whose last line end was typed away gets it back, or the next heading would join it.
pub(super) fn join<'t>(parts: impl IntoIterator<Item = &'t str>) -> String {
    let mut text = String::new();
    for part in parts.into_iter().filter(|part| !part.is_empty()) {
        if !text.is_empty() && !text.ends_with('\n') {
            text.push('\n');
        }
        text.push_str(part);
    }
    text
}

/// The place of the part in which a line of the whole text stands, and the line's number in it. Line 0, the whole file,
/// is its first.
pub(super) fn place(parts: &[Part], line: u32) -> (usize, u32) {
    let line = line.max(1);
    let at = parts.partition_point(|part| part.first_line <= line).saturating_sub(1);
    (at, (line + 1).saturating_sub(parts.get(at).map_or(1, |part| part.first_line)))
}

/// Everything that stands under a name, without the blank lines around it; empty when nothing does.
pub(super) fn named(parts: &[Part], name: &str) -> String {
    let named = parts.iter().filter(|part| part.name == name);
    named.map(|part| part.text.trim()).collect::<Vec<_>>().join("\n")
}

/// What people call the sections that differ, come or go.
pub(super) fn changed(before: &[Part], after: &[Part]) -> Vec<String> {
    let mut labels: Vec<String> = Vec::new();
    for part in after.iter().chain(before) {
        if named(before, &part.name) != named(after, &part.name) && !labels.contains(&part.label()) {
            labels.push(part.label());
        }
    }
    labels
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "# A machine.\nid = \"m\"\n\n# The filter.\n[filter]\nvolume = \"7 L\"\n\n[[band]]\nid = \"low\"\n\n\
        # More.\n[[band]] # high\nid = \"high\"\n[soot]\nrows = [\n  [1, 2],\n]\n# The end.";

    #[test]
    fn sections_of_one_name_stay_together_with_their_remarks() {
        let parts = cut(TEXT);
        let named: Vec<(&str, u32)> = parts.iter().map(|part| (part.name.as_str(), part.first_line)).collect();
        assert_eq!(named, [("", 1), ("filter", 4), ("band", 8), ("soot", 14)]);
        assert!(parts[1].text.starts_with("# The filter.\n[filter]"), "{:?}", parts[1].text);
        assert!(parts[3].text.ends_with("# The end."));
        assert_eq!(place(&parts, 6), (1, 3));
        assert_eq!(place(&parts, 13), (2, 6));
        assert_eq!(place(&parts, 0), (0, 1));
    }

    #[test]
    fn joined_again_they_are_the_text() {
        for text in [TEXT, "", "\n\n", "[a]", "x = 1", "[a]\n[b]\n[a]\n", "# only a remark\n"] {
            let parts = cut(text);
            assert_eq!(join(parts.iter().map(|part| part.text.as_str())), text);
            assert!(!parts.is_empty());
        }
        assert_eq!(join(["a = 1", "[b]\n", "", "[c]"]), "a = 1\n[b]\n[c]");
    }

    #[test]
    fn sections_that_differ_come_or_go_are_named() {
        let changed = |after: &str| changed(&cut(TEXT), &cut(after));
        assert_eq!(changed(TEXT), [] as [&str; 0]);
        assert_eq!(changed(&TEXT.replace("7 L", "8 L")), ["Filter"]);
        assert_eq!(changed(&TEXT.replace("[soot]", "[ash]\nx = 1")), ["Ash", "Soot"]);
        assert_eq!(changed(&TEXT.replace("# A machine.\n", "")), ["The machine"]);
    }
}
