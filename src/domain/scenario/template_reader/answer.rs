//! Reads what is asked: [answer] and the [option]s that the trainer wrote.

use super::{Reader, suggestion, words};
use crate::scenario::language::parse;
use crate::scenario::misconception;
use crate::scenario::question::Kind;
use crate::scenario::sheet::{Entry, Section};
use crate::scenario::template::{Answer, Ask, Let, Located, WrittenOption};
use crate::units::Unit;

/// Most options that a pool may have; chosen by us: what a trainer can still keep apart.
const MOST_WRITTEN: usize = 12;

impl Reader<'_> {
    pub(super) fn answer(&mut self, sections: &[Section], kind: Kind) -> Option<Answer> {
        let Some(section) = sections.iter().find(|section| section.heading == "answer") else {
            self.problem(self.at, "[answer]", "this section is missing");
            return None;
        };
        let line = section.line;
        let mut answer = Answer {
            line,
            ask: Ask::Route,
            options: 4,
            pool: None,
            steps: 5,
            believe: Vec::new(),
            key: None,
            step: None,
            tolerance: None,
            unit: None,
            by_part: false,
            written: Vec::new(),
        };
        let mut ask = None;
        let entries = self.entries(sections, "answer");
        self.each_once(&entries);
        for entry in &entries {
            self.answer_entry(&mut answer, &mut ask, entry);
        }
        let Some(ask) = ask else {
            if !entries.iter().any(|entry| entry.name == "ask") {
                self.problem(line, "[answer]", "the answer needs a line `ask: ...`");
            }
            return None;
        };
        answer.ask = ask;
        if !ask.suits(kind) {
            self.problem(line, "ask", format!("this cannot be asked in a question of the kind \"{}\"", kind.words()));
        }
        answer.written = self.written(sections, ask);
        self.answer_whole(&answer, &entries, sections, kind);
        Some(answer)
    }

    fn answer_entry(&mut self, answer: &mut Answer, ask: &mut Option<Ask>, entry: &Entry) {
        let Entry { line, name, value } = entry;
        match name.as_str() {
            "ask" => {
                *ask = Ask::WORDS.iter().find(|(word, _)| word == value).map(|(_, ask)| *ask);
                if ask.is_none() {
                    let hint = suggestion(value, Ask::WORDS.iter().map(|(word, _)| *word));
                    self.problem(*line, name, format!("\"{value}\" cannot be asked{hint}"));
                }
            }
            "options" | "steps" => match value.parse() {
                Ok(count @ 3..=6) if name == "options" => {
                    answer.options = count;
                    answer.pool = Some(count);
                }
                Ok(count @ 3..=8) if name == "steps" => answer.steps = count,
                _ => self.problem(*line, name, "write 3 to 6 options, 3 to 8 steps"),
            },
            "believe" => answer.believe = words(value).filter_map(|id| self.misconception(*line, id)).collect(),
            "key" => {
                answer.key = self.expression(*line, name, value).map(|what| Located { line: *line, what });
            }
            "step" => answer.step = self.expression(*line, name, value),
            "tolerance" => answer.tolerance = self.expression(*line, name, value),
            "unit" => match Unit::from_text(value) {
                Some(unit) => answer.unit = Some(unit),
                None => self.problem(*line, name, format!("the unit \"{value}\" is not known")),
            },
            "grading" => match value.as_str() {
                "by part" => answer.by_part = true,
                "whole" => {}
                _ => self.problem(*line, name, "the grading is `whole` or `by part`"),
            },
            _ => {
                let known = ["ask", "options", "steps", "believe", "key", "step", "tolerance", "unit", "grading"];
                self.problem(*line, name, format!("there is no such line in [answer]{}", suggestion(name, known)));
            }
        }
    }

    fn misconception(&mut self, line: u32, id: &str) -> Option<usize> {
        let place = misconception::ALL.iter().position(|known| known.id == id);
        if place.is_none() {
            let hint = suggestion(id, misconception::ALL.iter().map(|known| known.id));
            self.problem(line, "believe", format!("there is no misconception \"{id}\"{hint}"));
        }
        place
    }

    /// What the answer as a whole must have. Says nothing about what stands there and could not be read.
    fn answer_whole(&mut self, answer: &Answer, entries: &[Entry], sections: &[Section], kind: Kind) {
        let line = answer.line;
        if answer.by_part && !matches!(kind, Kind::ChooseSeveral | Kind::LampPanel) {
            self.problem(line, "grading", "only `choose several` and `lamp panel` are graded by part");
        }
        if answer.ask == Ask::Number {
            let wanted = [
                ("key", true),
                ("step", kind == Kind::ChooseOne),
                ("unit", kind == Kind::Number),
                ("tolerance", kind == Kind::Number),
            ];
            let stands = |name: &str| entries.iter().any(|entry| entry.name == name);
            for (name, _) in wanted.iter().filter(|(name, wanted)| *wanted && !stands(name)) {
                self.problem(line, name, format!("[answer] needs a line `{name} = ...` here"));
            }
        }
        let (lets, all_read) = self.lets_quietly(sections);
        if let Some(key) = answer.key.as_ref().filter(|_| all_read)
            && !self.asks_model_or_machine(&key.what, &lets)
        {
            self.problem(key.line, "key", "the key must ask the model or the machine, not only drawn numbers");
        }
        if matches!(answer.ask, Ask::Statements | Ask::Rank) {
            let options = sections.iter().filter(|section| section.heading == "option").count();
            self.count_of_written(line, options, answer.pool);
            if options == answer.written.len()
                && !answer.written.iter().any(|option| self.asks_model_or_machine(&option.decides, &lets))
            {
                self.problem(line, "[option]", "at least one condition must ask the model or the machine");
            }
        } else if !answer.written.is_empty() {
            self.problem(line, "[option]", "options are written only for `ask: statements` and `ask: rank`");
        }
    }

    /// Whether there are as many written options as a question needs.
    fn count_of_written(&mut self, line: u32, options: usize, pool: Option<usize>) {
        match pool {
            None if (3..=6).contains(&options) => {}
            None if (7..=MOST_WRITTEN).contains(&options) => self.problem(
                line,
                "[option]",
                format!("there are {options} options; say with `options: 4` how many of them a question shows"),
            ),
            Some(shown) if (shown..=MOST_WRITTEN).contains(&options) => {}
            Some(shown) => self.problem(
                line,
                "[option]",
                format!("there are {options} options; a question shows {shown}, so write {shown} to {MOST_WRITTEN}"),
            ),
            None => self.problem(line, "[option]", format!("there are {options} options; write 3 to 6")),
        }
    }

    /// The [let] lines once more, for what they ask, and whether all could be read; their problems are reported already.
    fn lets_quietly(&self, sections: &[Section]) -> (Vec<Let>, bool) {
        let section = sections.iter().find(|section| section.heading == "let");
        let entries = section.map(|section| section.entries(self.file, &mut Vec::new())).unwrap_or_default();
        let count = entries.len();
        let lets: Vec<Let> = entries
            .into_iter()
            .filter_map(|entry| {
                let expr = parse(&entry.value).ok()?;
                Some(Let { line: entry.line, asks_model: self.asks_model(&expr), name: entry.name, expr })
            })
            .collect();
        let all_read = lets.len() == count;
        (self.earlier.iter().cloned().chain(lets).collect(), all_read)
    }

    fn written(&mut self, sections: &[Section], ask: Ask) -> Vec<WrittenOption> {
        let decides_by = if ask == Ask::Rank { "rank" } else { "right if" };
        let mut written = Vec::new();
        for section in sections.iter().filter(|section| section.heading == "option") {
            let mut problems = Vec::new();
            let entries = section.entries(self.file, &mut problems);
            self.problems.append(&mut problems);
            self.each_once(&entries);
            let (mut text, mut decides, mut because, mut believes) = (None, None, None, None);
            for Entry { line, name, value } in &entries {
                match name.as_str() {
                    "text" => text = self.text(*line, name, value),
                    "because" => because = self.text(*line, name, value),
                    "believes" => believes = self.misconception(*line, value),
                    _ if name == decides_by => decides = self.expression(*line, name, value),
                    _ => {
                        let hint = suggestion(name, ["text", decides_by, "because", "believes"]);
                        self.problem(*line, name, format!("there is no such line in this [option]{hint}"));
                    }
                }
            }
            for wanted in ["text", decides_by, "because"] {
                if !entries.iter().any(|entry| entry.name == wanted) {
                    self.problem(section.line, "[option]", format!("this option needs a line `{wanted}: ...`"));
                }
            }
            if let (Some(text), Some(decides), Some(because)) = (text, decides, because) {
                written.push(WrittenOption { line: section.line, text, decides, because, believes });
            }
        }
        written
    }
}
