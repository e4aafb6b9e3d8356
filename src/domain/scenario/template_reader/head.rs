//! Reads the head of a scenario: title, competence, level, kind, machines, what is shown, how far from edges.

use super::{Reader, suggestion, words};
use crate::scenario::question::Kind;
use crate::scenario::sheet::{Entry, Section};
use crate::scenario::template::{Beside, CASE, EdgeReading, Figure};
use crate::scenario::vocabulary::Field;
use crate::units::{Quantity, Unit};

#[derive(Default)]
pub(super) struct Head {
    pub(super) title: String,
    pub(super) competence: String,
    pub(super) level: u8,
    pub(super) kind: Option<Kind>,
    /// Whether its kind is that it has parts, each with a kind of its own.
    pub(super) is_case: bool,
    pub(super) machines: Vec<String>,
    pub(super) guard: f64,
    pub(super) edges: Vec<EdgeReading>,
    pub(super) beside: Beside,
}

impl Reader<'_> {
    pub(super) fn head(&mut self, section: &Section) -> Head {
        let mut head = Head { guard: 1.0, ..Head::default() };
        let mut problems = Vec::new();
        let entries = section.entries(self.file, &mut problems);
        self.problems.append(&mut problems);
        self.each_once(&entries);
        for Entry { line, name, value } in &entries {
            self.head_entry(&mut head, *line, name, value);
        }
        for wanted in ["title", "competence", "level", "kind"] {
            if !entries.iter().any(|entry| entry.name == wanted) {
                self.problem(1, wanted, format!("the head needs a line `{wanted}: ...`"));
            }
        }
        head
    }

    fn head_entry(&mut self, head: &mut Head, line: u32, name: &str, value: &str) {
        match name {
            "title" if value.is_empty() => self.problem(line, name, "the title is empty"),
            "title" => head.title = value.to_owned(),
            "competence" | "level" if self.left_open(line, name, value) => {}
            "competence" => {
                let known: Vec<&str> = self.lexicon.competences.iter().map(|rules| rules.id.as_str()).collect();
                if !known.contains(&value) {
                    let hint = suggestion(value, known);
                    self.problem(line, name, format!("there is no competence \"{value}\"{hint}"));
                }
                head.competence = value.to_owned();
            }
            "level" => match value.parse() {
                Ok(level @ 1..=3) => head.level = level,
                _ => self.problem(line, name, "the level is 1 (knows), 2 (applies) or 3 (judges)"),
            },
            "kind" => {
                head.kind = Kind::from_words(value);
                head.is_case = value == CASE;
                if head.kind.is_none() && !head.is_case {
                    self.problem(
                        line,
                        name,
                        "the kind is choose one, choose several, put in order, number, lamp panel or case",
                    );
                }
            }
            "machines" => head.machines = self.machines(line, value),
            "show" => self.show(&mut head.beside, line, value),
            "figure" => self.figure(&mut head.beside, line, value),
            "guard" => match Quantity::parse(value) {
                Ok(Quantity { value, unit: Unit::Percent }) if value >= 0.0 => head.guard = value,
                _ => self.problem(line, name, "write the guard distance in percent, such as `guard: 2 %`"),
            },
            "edge" => {
                for word in words(value) {
                    match EdgeReading::from_id(word) {
                        Some(reading) => head.edges.push(reading),
                        None => self.problem(line, name, format!("\"{word}\" is not soot, outlet, speed or hours")),
                    }
                }
            }
            _ => {
                let known = ["title", "competence", "level", "kind", "machines", "show", "figure", "guard", "edge"];
                self.problem(line, name, format!("there is no such line in the head{}", suggestion(name, known)));
            }
        }
    }

    fn machines(&mut self, line: u32, value: &str) -> Vec<String> {
        if value == "all" {
            return Vec::new();
        }
        let machines: Vec<String> = words(value).map(str::to_owned).collect();
        if machines.is_empty() {
            self.problem(line, "machines", "name the machines, or write `all`");
        }
        for machine in &machines {
            if !self.lexicon.machines.contains(machine) {
                let hint = suggestion(machine, self.lexicon.machines.iter().map(String::as_str));
                self.problem(line, "machines", format!("there is no machine \"{machine}\"{hint}"));
            }
        }
        machines
    }

    pub(super) fn show(&mut self, beside: &mut Beside, line: u32, value: &str) {
        let mut shown = Vec::new();
        for word in words(value) {
            match (Field::find(word), Figure::from_id(word)) {
                _ if word == "none" => {}
                (Some(field), _) => shown.push(*field),
                // Read all the same, so that scenarios which are stored already stay what they were.
                (_, Some(figure @ (Figure::Gauge | Figure::Lamps))) => {
                    beside.figures.push(figure);
                    beside.figures_in_show = Some(line);
                }
                _ => {
                    let hint = suggestion(word, Field::all().map(|field| field.word));
                    self.problem(line, "show", format!("there is no reading \"{word}\"{hint}"));
                }
            }
        }
        beside.readings = Some(shown);
    }
}
