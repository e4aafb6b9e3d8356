//! Every drawn and worked-out value of a scenario with the names that it uses: what to say of one that is used before it
//! is there.
//!
//! Goes by the names alone, so that it can speak of lines that cannot be read.

use crate::scenario::language::names;
use crate::scenario::limits::MOST_LINES;
use crate::scenario::sheet::Section;
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// Words of a draw's own, which are no names of values.
const OF_DRAWS: [&str; 12] =
    ["one", "of", "weight", "from", "to", "step", "inside", "keep", "if", "then", "else", "not"];

/// What is defined where.
#[derive(Debug, Default)]
pub(super) struct Definitions {
    all: Vec<Definition>,
    /// The place of each name among them.
    places: BTreeMap<String, usize>,
}

#[derive(Debug)]
struct Definition {
    name: String,
    line: u32,
    heading: &'static str,
    /// The places of what it needs.
    needs: Vec<usize>,
}

impl Definitions {
    pub(super) fn of(sections: &[Section]) -> Self {
        let mut all = Self::default();
        let mut values = Vec::new();
        for section in sections {
            let heading = match section.heading.as_str() {
                "draw" => "draw",
                "let" => "let",
                _ => continue,
            };
            for entry in section.entries("", &mut Vec::new()).into_iter().take(MOST_LINES) {
                // The first of two alike is the one that counts; the second is reported where it stands.
                if !all.places.contains_key(&entry.name) {
                    all.places.insert(entry.name.clone(), values.len());
                    all.all.push(Definition { name: entry.name, line: entry.line, heading, needs: Vec::new() });
                    values.push(entry.value);
                }
            }
        }
        for (definition, value) in all.all.iter_mut().zip(&values) {
            let of_draws = |name: &str| definition.heading == "draw" && OF_DRAWS.contains(&name);
            let found = names(value).filter(|found| !found.figure && !of_draws(found.name));
            let needs: BTreeSet<usize> = found.filter_map(|found| all.places.get(found.name).copied()).collect();
            definition.needs = needs.into_iter().collect();
        }
        all
    }

    fn get(&self, name: &str) -> Option<(usize, &Definition)> {
        let place = *self.places.get(name)?;
        Some((place, self.all.get(place)?))
    }

    /// What to say where `user` uses a name that is not there yet; nothing when it is nowhere.
    pub(super) fn of_later(&self, user: &str, name: &str) -> Option<String> {
        let (place, there) = self.get(name)?;
        let user_there = self.get(user);
        if let Some(way) = user_there.and_then(|(user, _)| self.way(place, user)) {
            let mut from = user;
            let mut steps = Vec::new();
            for to in way {
                steps.push(format!("{from} needs {}", if to == from { "itself" } else { to }));
                from = to;
            }
            let around = steps.join(", ");
            return Some(format!("this goes round in a circle: {around}; work one of them out from something else"));
        }
        Some(match (user_there.map(|(_, user)| user.heading), there.heading) {
            (Some("draw"), "let") => format!(
                "\"{name}\" is worked out under [let], and draws come first; write here what it is worked out from"
            ),
            _ => format!("\"{name}\" stands below, in line {}; move that line above this one", there.line),
        })
    }

    /// The shortest way from one place to another along what each needs, in names, both ends in it.
    fn way(&self, from: usize, to: usize) -> Option<Vec<&str>> {
        let mut came_from: Vec<Option<usize>> = vec![None; self.all.len()];
        let mut next = VecDeque::from([from]);
        while let Some(here) = next.pop_front() {
            if here == to {
                let back = std::iter::successors(Some(here), |place| came_from[*place]);
                let mut way: Vec<&str> = back.map(|place| self.all[place].name.as_str()).collect();
                way.reverse();
                return Some(way);
            }
            for needed in &self.all[here].needs {
                if *needed != from && came_from[*needed].is_none() {
                    came_from[*needed] = Some(here);
                    next.push_back(*needed);
                }
            }
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::sheet;

    fn check(text: &str, user: &str, name: &str, expected: &str) {
        let definitions = Definitions::of(&sheet::cut("f", text, &mut Vec::new()));
        let said = definitions.of_later(user, name).unwrap_or_default();
        assert!(said.contains(expected) && said.is_empty() == expected.is_empty(), "{said}");
    }

    #[test]
    fn a_circle_is_told_by_its_way() {
        let text = "[let]\na = b + 1 %\nb = c * 2\nc = a - machine.d\nd = d\ne = b";
        check(text, "a", "b", "a needs b, b needs c, c needs a;");
        check(text, "d", "d", "circle: d needs itself;");
        check(text, "e", "b", "line 3");
        check(text, "a", "machine", "");
    }

    #[test]
    fn what_only_stands_in_the_wrong_place_is_to_be_moved() {
        check("[draw]\nx = from y to 9 step 1\ny = one of 1, \"x\"", "x", "y", "in line 3; move");
        check("[draw]\nx = from y to 9 step 1\n[let]\ny = 1", "x", "y", "draws come first");
        check("[draw]\nx = from y to 9 step 1\nto = one of x, 2\ny = from 1 to 2 step 1", "x", "y", "in line 4");
    }
}
