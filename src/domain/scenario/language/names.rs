//! Finds the names in an expression's text, also in one that cannot be read.
//!
//! Understands nothing: a unit and a function look like names here.

/// A name and where it stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Named<'t> {
    /// Byte in the text.
    pub at: usize,
    /// The name.
    pub name: &'t str,
    /// Whether it stands behind a point, as a figure of the machine or of the shift does.
    pub figure: bool,
}

/// Every name outside quotes.
pub fn names(text: &str) -> impl Iterator<Item = Named<'_>> {
    let mut quoted = false;
    let mut before = None;
    let mut rest = text;
    std::iter::from_fn(move || {
        loop {
            let letter = rest.chars().next()?;
            let at = text.len() - rest.len();
            if quoted || !letter.is_ascii_alphanumeric() {
                quoted ^= letter == '"';
                if !letter.is_whitespace() {
                    before = Some(letter);
                }
                rest = &rest[letter.len_utf8()..];
                continue;
            }
            let end = rest.find(|c: char| !c.is_ascii_alphanumeric() && c != '_').unwrap_or(rest.len());
            let (name, after) = rest.split_at(end);
            rest = after;
            let figure = before.replace('a') == Some('.');
            if letter.is_ascii_lowercase() {
                return Some(Named { at, name, figure });
            }
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_stand_outside_quotes() {
        let found: Vec<_> = names("a1 + \"b c\" > machine . top - 5 h").map(|n| (n.at, n.name, n.figure)).collect();
        assert_eq!(found, [(0, "a1", false), (13, "machine", false), (23, "top", true), (31, "h", false)]);
    }
}
