//! Which entries about a competence count for one machine: a certificate says nothing about a machine outside its scope.

/// What an entry is, seen from one machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sort {
    /// A certificate was granted with the machine in its scope.
    GrantedFor,
    /// A certificate was granted for other machines.
    GrantedElsewhere,
    /// A fail, or a safety question missed: it speaks about the person, whatever the machine.
    Missed,
}

/// The entries that count for a machine, from those about one competence, oldest first.
///
/// A grant elsewhere is left out together with the fails before it: a pass wipes out what came before it in the same
/// competence, whatever machine it was for. The grants for the machine stay.
#[must_use]
pub fn for_machine<T>(entries: Vec<T>, sort: impl Fn(&T) -> Sort) -> Vec<T> {
    let mut count = Vec::with_capacity(entries.len());
    for entry in entries {
        match sort(&entry) {
            Sort::GrantedFor | Sort::Missed => count.push(entry),
            Sort::GrantedElsewhere => count.retain(|kept| sort(kept) == Sort::GrantedFor),
        }
    }
    count
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(entries: &str, expected: &str) {
        let sort = |entry: &char| match entry {
            'H' => Sort::GrantedFor,
            'E' => Sort::GrantedElsewhere,
            _ => Sort::Missed,
        };
        let found: String = for_machine(entries.chars().collect(), sort).into_iter().collect();
        assert_eq!(found, expected, "{entries}");
    }

    #[test]
    fn a_grant_for_other_machines_neither_qualifies_nor_hides_an_older_one() {
        check("", "");
        check("E", "");
        check("HE", "H");
        check("EH", "H");
        // The miss was closed by the later pass.
        check("HmE", "H");
        // A miss after it is open for every machine.
        check("HEm", "Hm");
        check("mH", "mH");
        check("Em", "m");
    }
}
