//! "Did you mean ...?": the known word that a mistyped one is closest to.
//!
//! Never corrects anything; it only suggests.

/// The known word at most a third of its letters (and at least one) away from `word`; `None` when nothing is that close.
pub(super) fn nearest<'w>(word: &str, known: impl IntoIterator<Item = &'w str>) -> Option<&'w str> {
    known
        .into_iter()
        .map(|candidate| (edits(word, candidate), candidate))
        .filter(|(distance, candidate)| *distance <= (candidate.chars().count() / 3).max(1))
        .min()
        .map(|(_, candidate)| candidate)
}

/// Fewest letters to insert, delete or change (Levenshtein distance).
fn edits(from: &str, to: &str) -> usize {
    let to: Vec<char> = to.chars().collect();
    let mut row: Vec<usize> = (0..=to.len()).collect();
    for (line, letter) in from.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = line + 1;
        for (column, other) in to.iter().enumerate() {
            let changed = diagonal + usize::from(letter != *other);
            diagonal = row[column + 1];
            row[column + 1] = changed.min(row[column] + 1).min(diagonal + 1);
        }
    }
    row[to.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_of_the_finger_is_recognised() {
        assert_eq!(nearest("volme", ["volume", "coating"]), Some("volume"));
        assert_eq!(nearest("form", ["from", "to"]), None, "two letters out of four is another word");
        assert_eq!(nearest("froom", ["from", "to"]), Some("from"));
        assert_eq!(nearest("colour", ["volume", "coating"]), None);
    }

    #[test]
    fn edits_are_counted() {
        // Textbook example of the Levenshtein distance, from memory, not confirmed by a source.
        assert_eq!(edits("kitten", "sitting"), 3);
        assert_eq!(edits("", "abc"), 3);
        assert_eq!(edits("abc", "abc"), 0);
    }
}
