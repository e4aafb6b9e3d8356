//! Reads what was worked and done before the moment that is asked about: [shift].

use super::{Reader, suggestion};
use crate::aftertreatment::operator::OperatorAction;
use crate::scenario::passage::Passage;
use crate::scenario::sheet::Section;
use crate::scenario::template::{Located, ShiftLine};

/// Most lines of a shift; chosen by us: a story that still fits on a page.
const MOST: usize = 16;

impl Reader<'_> {
    pub(super) fn shift(&mut self, sections: &[Section]) -> Vec<Located<ShiftLine>> {
        let mut lines = Vec::new();
        let Some(section) = sections.iter().find(|section| section.heading == "shift") else { return lines };
        let entries = self.entries(sections, "shift");
        if entries.len() > MOST {
            self.problem(section.at, "[shift]", format!("a shift has at most {MOST} lines"));
            return lines;
        }
        for entry in &entries {
            let what = match entry.name.as_str() {
                "work" => self.work(&entry.value),
                "do" => self.action(&entry.value),
                _ => {
                    let hint = suggestion(&entry.name, ["work", "do"]);
                    self.problem(entry.at, &entry.name, format!("there is no such line in [shift]{hint}"));
                    None
                }
            };
            lines.extend(what.map(|what| Located { line: entry.line, what }));
        }
        if entries.is_empty() {
            self.problem(section.at, "[shift]", "this section is empty");
        }
        lines
    }

    /// `work: 45 min at 60 % with 1800 rpm in 5 °C`.
    fn work(&mut self, value: &Passage) -> Option<ShiftLine> {
        let parts = value.split_once(" at ").and_then(|(minutes, rest)| {
            let (load, rest) = rest.split_once(" with ")?;
            let (speed, ambient) = rest.split_once(" in ").map_or((rest, None), |(speed, air)| (speed, Some(air)));
            Some((minutes, load, speed, ambient))
        });
        let Some((minutes, load, speed, ambient)) = parts else {
            self.problem(
                value,
                "work",
                "write `work: TIME at LOAD with SPEED`, such as `work: 45 min at 60 % with 1800 rpm`",
            );
            return None;
        };
        let (minutes, load, speed) =
            (self.plain(value, "work", minutes), self.plain(value, "work", load), self.plain(value, "work", speed));
        let ambient = match ambient {
            Some(air) => Some(self.plain(value, "work", air)?),
            None => None,
        };
        Some(ShiftLine::Work { minutes: minutes?, load: load?, speed: speed?, ambient })
    }

    fn action(&mut self, value: &Passage) -> Option<ShiftLine> {
        let action = OperatorAction::from_id(value);
        if action.is_none() {
            let hint = suggestion(value, OperatorAction::ALL.into_iter().map(OperatorAction::id));
            self.problem(value, "do", format!("nobody can do \"{value}\" here{hint}"));
        }
        action.map(ShiftLine::Do)
    }
}
