//! "Did you mean ...?": the known word that a mistyped one is closest to.
//!
//! Never corrects anything; it only suggests.

/// Longer words are not compared: nobody types one by a slip. Chosen by us.
const LONGEST: usize = 40;

/// The known word that is at most a third of its letters (and at least one) away from `word`; `None` when none is.
#[must_use]
pub fn nearest<'w>(word: &str, known: impl IntoIterator<Item = &'w str>) -> Option<&'w str> {
    let letters = word.chars().count();
    if letters > LONGEST {
        return None;
    }
    let could_be = |candidate: &&str| {
        let length = candidate.chars().count();
        length <= LONGEST && length.abs_diff(letters) <= most_slips(length)
    };
    known
        .into_iter()
        .filter(could_be)
        .map(|candidate| (slips(word, candidate), candidate.chars().count(), candidate))
        .filter(|(slips, length, _)| *slips <= most_slips(*length) && slips < length)
        .min()
        .map(|(_, _, candidate)| candidate)
}

const fn most_slips(length: usize) -> usize {
    if length < 6 { 1 } else { length / 3 }
}

/// Fewest letters to insert, delete, change, or swap with their neighbour (optimal string alignment distance).
fn slips(from: &str, to: &str) -> usize {
    let (from, to): (Vec<char>, Vec<char>) = (from.chars().collect(), to.chars().collect());
    let mut rows: Vec<Vec<usize>> = vec![(0..=to.len()).collect()];
    for (r, letter) in from.iter().enumerate() {
        let mut row = vec![r + 1];
        for (c, other) in to.iter().enumerate() {
            let mut fewest = (rows[r][c] + usize::from(letter != other)).min(row[c] + 1).min(rows[r][c + 1] + 1);
            if r > 0 && c > 0 && from[r - 1] == *other && *letter == to[c - 1] {
                fewest = fewest.min(rows[r - 1][c - 1] + 1);
            }
            row.push(fewest);
        }
        rows.push(row);
    }
    rows[from.len()][to.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_of_the_finger_is_recognised() {
        assert_eq!(nearest("volme", ["volume", "coating"]), Some("volume"));
        assert_eq!(nearest("form", ["from", "to"]), Some("from"), "neighbours swapped");
        assert_eq!(nearest("frog", ["from", "to"]), Some("from"));
        assert_eq!(nearest("farm", ["from", "to"]), None, "two letters out of four make another word");
        assert_eq!(nearest("colour", ["volume", "coating"]), None);
        assert_eq!(nearest("m", ["n"]), None, "nothing of the word is left");
    }

    #[test]
    fn slips_are_counted() {
        // From memory, not confirmed: the textbook pair of the edit distance.
        assert_eq!(slips("kitten", "sitting"), 3);
        assert_eq!(slips("ca", "ac"), 1);
        assert_eq!(slips("", "abc"), 3);
        assert_eq!(slips("abc", "abc"), 0);
    }
}
