//! What changed from one text of a scenario to another, part by part, in words that a trainer uses.
//!
//! Never says whether a change is good, and never needs a text that reads well: drafts are compared too. How a line is
//! broken or indented is no change.

use super::sheet::{self, Section};

/// One part that is not the same in both texts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Difference {
    /// Which part, such as `The drawn value "load0"`.
    pub part: String,
    /// What it said; nothing when it is new.
    pub before: Option<String>,
    /// What it says now; nothing when it was taken away.
    pub after: Option<String>,
}

/// Every part that differs, in the order of the newer text; parts that were taken away follow those of their section. Those
/// of a case's later questions say which of them they belong to.
#[must_use]
pub fn differences(before: &str, after: &str) -> Vec<Difference> {
    // A text that cannot be cut (too large) has no parts; the check says so elsewhere.
    let (old, new) = (sheet::cut("", before, &mut Vec::new()), sheet::cut("", after, &mut Vec::new()));
    let (old, new) = (questions(&old), questions(&new));
    let mut found = Vec::new();
    for place in 0..old.len().max(new.len()) {
        let of = |all: &[&[Section]]| Parts::of(all.get(place).copied().unwrap_or_default());
        let mut own = Vec::new();
        between(&of(&old), &of(&new), &mut own);
        if place > 0 {
            own.iter_mut().for_each(|each| each.part = format!("Part {place}: {}", each.part));
        }
        found.append(&mut own);
    }
    pair(REMARKS, &remarks(before), &remarks(after), &mut found);
    found
}

/// What stands above the first `[part]`, then each part of a case.
fn questions(sections: &[Section]) -> Vec<&[Section]> {
    let mut cut = Vec::new();
    let mut from = 0;
    for (place, section) in sections.iter().enumerate() {
        if section.heading == "part" {
            cut.push(&sections[from..place]);
            from = place;
        }
    }
    cut.push(&sections[from..]);
    cut
}

fn between(old: &Parts, new: &Parts, found: &mut Vec<Difference>) {
    for heading in ["", "part", "draw", "let", "situation", "only if", "story", "question", "answer"] {
        compare(&old.named(heading), &new.named(heading), found);
    }
    options(&old.options, &new.options, found);
    compare(&old.others, &new.others, found);
}

fn remarks(text: &str) -> String {
    let remarks = text.lines().map(str::trim).filter(|line| line.starts_with('#'));
    remarks.map(|line| line.trim_start_matches('#').trim()).collect::<Vec<_>>().join("\n")
}

const REMARKS: &str = "The remarks";

/// A part's name and what it says.
type Said = Vec<(String, String)>;

#[derive(Default)]
struct Parts {
    sections: Vec<(String, Said)>,
    options: Vec<Said>,
    others: Said,
}

impl Parts {
    fn of(sections: &[Section]) -> Self {
        let mut parts = Self::default();
        for section in sections {
            match section.heading.as_str() {
                "option" => parts.options.push(entries(section)),
                "" | "part" | "draw" | "let" | "situation" | "answer" => {
                    let named = entries(section).into_iter().map(|(name, said)| (label(&section.heading, &name), said));
                    parts.sections.push((section.heading.clone(), named.collect()));
                }
                "only if" => {
                    let lines = section.lines.iter().map(|(_, line)| line.trim()).filter(|line| !line.is_empty());
                    parts.whole(section, "The conditions", lines.collect::<Vec<_>>().join("\n"));
                }
                "story" => parts.whole(section, "The story", prose(section)),
                "question" => parts.whole(section, "The question", prose(section)),
                other => parts.others.push((format!("The section [{other}]"), prose(section))),
            }
        }
        parts
    }

    fn whole(&mut self, section: &Section, name: &str, said: String) {
        self.sections.push((section.heading.clone(), vec![(name.to_owned(), said)]));
    }

    fn named(&self, heading: &str) -> Said {
        self.sections.iter().filter(|(name, _)| name == heading).flat_map(|(_, said)| said.clone()).collect()
    }
}

fn prose(section: &Section) -> String {
    section.paragraphs().into_iter().map(|(_, text)| text).collect::<Vec<_>>().join("\n")
}

/// The lines `name: value`; a line that is none stands under its own words.
fn entries(section: &Section) -> Said {
    let mut problems = Vec::new();
    let mut said: Said =
        section.entries("", &mut problems).into_iter().map(|entry| (entry.name, entry.value)).collect();
    let lost = problems.iter().filter_map(|problem| section.lines.iter().find(|(line, _)| *line == problem.line));
    said.extend(lost.map(|(_, text)| (text.trim().to_owned(), text.trim().to_owned())));
    said
}

fn label(heading: &str, name: &str) -> String {
    match (heading, name) {
        ("", "title") => "The title".to_owned(),
        ("" | "part", "show") => "The readings that are shown".to_owned(),
        ("" | "part", "figure") => "The figures beside the story".to_owned(),
        ("" | "part", _) => format!("The {name}"),
        ("draw", _) => format!("The drawn value \"{name}\""),
        ("let", _) => format!("The worked-out value \"{name}\""),
        ("situation", _) => format!("The reading \"{name}\""),
        (_, "ask") => "What is asked".to_owned(),
        (_, "believe") => "The misconceptions".to_owned(),
        (_, "options") => "The number of options".to_owned(),
        _ => format!("The answer's {name}"),
    }
}

fn compare(old: &Said, new: &Said, found: &mut Vec<Difference>) {
    let said_in = |all: &Said, name: &str| {
        let lines: Vec<&str> = all.iter().filter(|(other, _)| other == name).map(|(_, said)| said.as_str()).collect();
        lines.join("\n")
    };
    let mut seen: Vec<&str> = Vec::new();
    for (name, _) in new.iter().chain(old) {
        if !seen.contains(&name.as_str()) {
            seen.push(name);
            pair(name, &said_in(old, name), &said_in(new, name), found);
        }
    }
}

fn pair(part: &str, before: &str, after: &str, found: &mut Vec<Difference>) {
    let given = |text: &str| (!text.is_empty()).then(|| text.to_owned());
    if before != after {
        found.push(Difference { part: part.to_owned(), before: given(before), after: given(after) });
    }
}

/// Options with the same words are the same option wherever they stand; of the rest, the first of one text is held
/// against the first of the other.
fn options(old: &[Said], new: &[Said], found: &mut Vec<Difference>) {
    let words = |option: &Said| option.iter().find(|(name, _)| name == "text").map(|(_, said)| said.clone());
    let mut left: Vec<&Said> = old.iter().filter(|option| !new.iter().any(|n| words(n) == words(option))).collect();
    for (place, option) in (1..).zip(new) {
        let part = format!("Option {place}");
        let same = old.iter().find(|other| words(other) == words(option));
        let before = same.or_else(|| (!left.is_empty()).then(|| left.remove(0)));
        match before {
            None => pair(&part, "", &whole(option), found),
            Some(before) => {
                let named = |option: &Said| option.iter().map(|(n, s)| (format!("{part}: {n}"), s.clone())).collect();
                compare(&named(before), &named(option), found);
            }
        }
    }
    for option in left {
        pair("An option", &whole(option), "", found);
    }
    let order = |all: &[Said], other: &[Said]| {
        let shared = |option: &&Said| other.iter().any(|o| words(o) == words(option));
        all.iter().filter(shared).filter_map(words).collect::<Vec<_>>().join("\n")
    };
    pair("The order of the options", &order(old, new), &order(new, old), found);
}

fn whole(option: &Said) -> String {
    option.iter().map(|(name, said)| format!("{name}: {said}")).collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    const BEFORE: &str = "title: Straw\nlevel: 2\n\n# first try\n[draw]\nload0 = inside parked keep 3 %\nfloor = one of straw\n\n\
        [situation]\nsoot = load0\n\n[only if]\nload0 > 80 %\n\n[story]\nIt stands\non straw.\n\nIt is late.\n\n[question]\nWhat now?\n\n\
        [answer]\nask: statements\n\n[option]\ntext: Wait\nright if: load0 < 90 %\n\n[option]\ntext: Go\nright if: load0 > 90 %\n";

    /// The parts that differ, as `part: before -> after`, a part that is not there as `-`.
    fn check(change: impl Fn(&str) -> String, expected: &[&str]) {
        let said = |text: Option<String>| text.map_or_else(|| "-".to_owned(), |text| text.replace('\n', " / "));
        let found = differences(BEFORE, &change(BEFORE)).into_iter();
        let found: Vec<_> = found.map(|d| format!("{}: {} -> {}", d.part, said(d.before), said(d.after))).collect();
        assert_eq!(found, expected);
    }

    #[test]
    fn the_same_text_has_no_difference_however_it_is_broken_into_lines() {
        check(str::to_owned, &[]);
        check(|text| text.replace("It stands\non straw.", "It stands on straw.").replace("title: ", "title:   "), &[]);
        check(|text| text.replace('\n', "\r\n"), &[]);
    }

    #[test]
    fn each_part_is_called_by_its_name() {
        check(|text| text.replace("Straw\n", "Hay\n"), &["The title: Straw -> Hay"]);
        check(
            |text| text.replace("keep 3 %", "keep 5 %"),
            &["The drawn value \"load0\": inside parked keep 3 % -> inside parked keep 5 %"],
        );
        check(
            |text| text.replace("soot = load0\n", "soot = load0\nspeed = 900 rpm\n"),
            &["The reading \"speed\": - -> 900 rpm"],
        );
        check(|text| text.replace("floor = one of straw\n", ""), &["The drawn value \"floor\": one of straw -> -"]);
        check(
            |text| text.replace("load0 > 80 %\n", "load0 > 85 %\n"),
            &["The conditions: load0 > 80 % -> load0 > 85 %"],
        );
        check(
            |text| text.replace("It is late.", "It is early."),
            &["The story: It stands on straw. / It is late. -> It stands on straw. / It is early."],
        );
        check(|text| text.replace("# first try", "# second try"), &["The remarks: first try -> second try"]);
        check(|text| format!("{text}[extra]\nmore\n"), &["The section [extra]: - -> more"]);
    }

    #[test]
    fn what_belongs_to_a_part_of_a_case_says_so() {
        let case = |second: &str| {
            format!(
                "{BEFORE}\n[part]\nkind: choose one\n\n[story]\n{second}\n\n[part]\nkind: number\n\n[story]\nLater.\n"
            )
        };
        let found = differences(&case("It burns."), &case("It smokes.").replace("kind: number", "kind: lamp panel"));
        let found: Vec<_> = found.iter().map(|each| (each.part.as_str(), each.after.as_deref())).collect();
        assert_eq!(found, [("Part 1: The story", Some("It smokes.")), ("Part 2: The kind", Some("lamp panel"))]);
        let fewer = differences(&case("It burns."), BEFORE);
        assert_eq!(fewer.iter().filter(|each| each.after.is_none()).count(), fewer.len(), "{fewer:?}");
        assert_eq!(fewer.len(), 4, "a kind and a story of each part: {fewer:?}");
    }

    #[test]
    fn an_option_is_known_by_its_words() {
        check(
            |text| text.replace("load0 < 90 %", "load0 < 91 %"),
            &["Option 1: right if: load0 < 90 % -> load0 < 91 %"],
        );
        check(|text| text.replace("text: Go", "text: Drive"), &["Option 2: text: Go -> Drive"]);
        check(
            |text| text.replace("[option]\ntext: Wait", "[option]\ntext: Call\n\n[option]\ntext: Wait"),
            &["Option 1: - -> text: Call"],
        );
        check(
            |text| text.replace("\n[option]\ntext: Go\nright if: load0 > 90 %\n", ""),
            &["An option: text: Go / right if: load0 > 90 % -> -"],
        );
        let swapped = |text: &str| {
            let (head, options) = text.split_once("[option]\n").unwrap();
            let (first, second) = options.split_once("[option]\n").unwrap();
            format!("{head}[option]\n{second}\n[option]\n{first}")
        };
        check(swapped, &["The order of the options: Wait / Go -> Go / Wait"]);
    }
}
