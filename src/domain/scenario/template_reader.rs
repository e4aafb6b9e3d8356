//! Reads a template from its text and reports everything that is wrong with it, each with its line.
//!
//! Decides nothing about the model: a template that reads well can still have no right answer.

use super::language::{Expr, Piece, Text, parse};
use super::misconception;
use super::question::Kind;
use super::sheet::{self, Entry, Section};
use super::template::{Answer, Ask, Draw, EdgeReading, Let, Lexicon, Located, Show, Template, WrittenOption};
use super::vocabulary::{FIGURES, Field, is_word};
use crate::document::{Problem, nearest};
use crate::units::{Quantity, Unit};

const SECTIONS: [&str; 8] = ["draw", "let", "situation", "only if", "story", "question", "answer", "option"];
/// Stretches of soot load that every machine has.
pub(super) const STRETCHES: [&str; 5] = ["work", "watch", "active", "parked", "stop"];

pub(super) fn read(id: &str, file: &str, text: &str, lexicon: &Lexicon) -> Result<Template, Vec<Problem>> {
    let mut problems = Vec::new();
    let sections = sheet::cut(file, text, &mut problems);
    let mut reader = Reader { file, lexicon, problems, names: Vec::new(), asking: Vec::new() };
    let template = reader.template(id, &sections);
    reader.problems.sort();
    match template {
        Some(template) if reader.problems.is_empty() => Ok(template),
        _ => Err(reader.problems),
    }
}

struct Reader<'a> {
    file: &'a str,
    lexicon: &'a Lexicon,
    problems: Vec<Problem>,
    /// Values that may be used from here on.
    names: Vec<String>,
    /// Those of them that ask the model.
    asking: Vec<String>,
}

impl Reader<'_> {
    fn problem(&mut self, line: u32, field: &str, message: impl Into<String>) {
        self.problems.push(Problem::new(self.file, line, field, message));
    }

    fn template(&mut self, id: &str, sections: &[Section]) -> Option<Template> {
        for section in sections.iter().skip(1) {
            if !SECTIONS.contains(&section.heading.as_str()) {
                let hint = suggestion(&section.heading, SECTIONS);
                self.problem(section.line, &section.field(), format!("there is no such section{hint}"));
            }
        }
        let mut repeated: Vec<&str> = Vec::new();
        for section in sections.iter().filter(|section| section.heading != "option") {
            if repeated.contains(&section.heading.as_str()) {
                self.problem(section.line, &section.field(), "this section stands twice; put its lines into one");
            }
            repeated.push(&section.heading);
        }
        let head = self.head(sections.first()?);
        let draws = self.draws(sections);
        let lets = self.lets(sections);
        let situation = self.situation(sections);
        let conditions = self.conditions(sections);
        let story = self.texts(sections, "story");
        let question = self.texts(sections, "question").into_iter().next();
        let answer = self.answer(sections, head.kind?);
        Some(Template {
            id: id.to_owned(),
            title: head.title,
            mandatory: self.lexicon.competences.iter().any(|(id, mandatory)| *id == head.competence && *mandatory),
            competence: head.competence,
            level: head.level,
            kind: head.kind?,
            machines: head.machines,
            guard_percent: head.guard,
            edges: head.edges,
            show: head.show,
            draws,
            lets,
            situation,
            conditions,
            story,
            question: question?,
            answer: answer?,
        })
    }

    fn entries(&mut self, sections: &[Section], heading: &str) -> Vec<Entry> {
        let Some(section) = sections.iter().find(|section| section.heading == heading) else { return Vec::new() };
        let mut problems = Vec::new();
        let entries = section.entries(self.file, &mut problems);
        self.problems.append(&mut problems);
        entries
    }

    fn head(&mut self, section: &Section) -> Head {
        let mut head = Head { guard: 1.0, ..Head::default() };
        let mut problems = Vec::new();
        let entries = section.entries(self.file, &mut problems);
        self.problems.append(&mut problems);
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
            "competence" => {
                let known: Vec<&str> = self.lexicon.competences.iter().map(|(id, _)| id.as_str()).collect();
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
                if head.kind.is_none() {
                    self.problem(line, name, "the kind is choose one, choose several, put in order or number");
                }
            }
            "machines" => head.machines = self.machines(line, value),
            "show" => head.show = Some(self.show(line, value)),
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
                let known = ["title", "competence", "level", "kind", "machines", "show", "guard", "edge"];
                self.problem(line, name, format!("there is no such line in the head{}", suggestion(name, known)));
            }
        }
    }

    fn machines(&mut self, line: u32, value: &str) -> Vec<String> {
        if value == "all" {
            return Vec::new();
        }
        let machines: Vec<String> = words(value).map(str::to_owned).collect();
        for machine in &machines {
            if !self.lexicon.machines.contains(machine) {
                let hint = suggestion(machine, self.lexicon.machines.iter().map(String::as_str));
                self.problem(line, "machines", format!("there is no machine \"{machine}\"{hint}"));
            }
        }
        machines
    }

    fn show(&mut self, line: u32, value: &str) -> Vec<Show> {
        let mut shows = Vec::new();
        for word in words(value) {
            match (word, Field::find(word)) {
                ("none", _) => {}
                ("lamps", _) => shows.push(Show::Lamps),
                ("gauge", _) => shows.push(Show::Gauge),
                (_, Some(field)) => shows.push(Show::Reading(*field)),
                (_, None) => {
                    let hint = suggestion(word, Field::all().map(|field| field.word));
                    self.problem(line, "show", format!("there is no reading \"{word}\"{hint}"));
                }
            }
        }
        shows
    }

    fn draws(&mut self, sections: &[Section]) -> Vec<Located<(String, Draw)>> {
        let mut draws = Vec::new();
        for entry in self.entries(sections, "draw") {
            let draw = self.draw(&entry);
            if self.new_name(&entry)
                && let Some(draw) = draw
            {
                draws.push(Located { line: entry.line, what: (entry.name, draw) });
            }
        }
        draws
    }

    /// Takes a name into use; false when it cannot be.
    fn new_name(&mut self, entry: &Entry) -> bool {
        let name = &entry.name;
        let well_formed = name.starts_with(|c: char| c.is_ascii_lowercase())
            && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_');
        let taken = is_word(name) || matches!(name.as_str(), "route" | "band" | "derated" | "yes" | "no" | "machine" | "and" | "or" | "not");
        let message = if !well_formed {
            "a name has lower case letters, digits and _, and begins with a letter"
        } else if taken {
            "this word has a meaning of its own; choose another name"
        } else if self.names.contains(name) {
            "this name is there already; choose another one"
        } else {
            self.names.push(name.clone());
            return true;
        };
        self.problem(entry.line, name, message);
        false
    }

    fn draw(&mut self, entry: &Entry) -> Option<Draw> {
        let (line, name, value) = (entry.line, entry.name.as_str(), entry.value.as_str());
        if let Some(rest) = value.strip_prefix("one of ") {
            let choices: Vec<Expr> =
                split_outside_quotes(rest).into_iter().map(|part| self.plain(line, name, part)).collect::<Option<_>>()?;
            if choices.len() < 2 {
                self.problem(line, name, "`one of` needs at least two choices, divided by commas");
                return None;
            }
            return Some(Draw::OneOf(choices));
        }
        if let Some(rest) = value.strip_prefix("from ") {
            let Some((from, rest)) = rest.split_once(" to ") else {
                self.problem(line, name, "write `from A to B step C`");
                return None;
            };
            let Some((to, step)) = rest.split_once(" step ") else {
                self.problem(line, name, "write `from A to B step C`; the step is missing");
                return None;
            };
            let (from, to, step) = (self.plain(line, name, from), self.plain(line, name, to), self.plain(line, name, step));
            return Some(Draw::Range { from: from?, to: to?, step: step? });
        }
        if let Some(rest) = value.strip_prefix("inside ") {
            let (rest, step) = rest.split_once(" step ").map_or((rest, "1 %"), |(rest, step)| (rest, step));
            let (stretch, keep) = rest.split_once(" keep ").map_or((rest, "1 %"), |(stretch, keep)| (stretch, keep));
            let stretch = stretch.trim();
            if !STRETCHES.contains(&stretch) && !self.lexicon.bands.iter().any(|band| band == stretch) {
                let hint = suggestion(stretch, STRETCHES.into_iter().chain(self.lexicon.bands.iter().map(String::as_str)));
                self.problem(line, name, format!("there is no stretch or band \"{stretch}\"{hint}"));
                return None;
            }
            let (keep, step) = (self.plain(line, name, keep), self.plain(line, name, step));
            return Some(Draw::Inside { stretch: stretch.to_owned(), keep: keep?, step: step? });
        }
        self.problem(line, name, "write `from A to B step C`, `inside STRETCH keep K` or `one of A, B, C`");
        None
    }

    fn lets(&mut self, sections: &[Section]) -> Vec<Let> {
        let mut lets = Vec::new();
        for entry in self.entries(sections, "let") {
            let expr = self.expression(entry.line, &entry.name, &entry.value);
            if self.new_name(&entry)
                && let Some(expr) = expr
            {
                let asks_model = self.asks_model(&expr);
                if asks_model {
                    self.asking.push(entry.name.clone());
                }
                lets.push(Let { line: entry.line, name: entry.name, expr, asks_model });
            }
        }
        lets
    }

    fn situation(&mut self, sections: &[Section]) -> Vec<Located<(Field, Expr)>> {
        let mut set: Vec<Located<(Field, Expr)>> = Vec::new();
        for entry in self.entries(sections, "situation") {
            let Some(field) = Field::find(&entry.name) else {
                let hint = suggestion(&entry.name, Field::all().map(|field| field.word));
                self.problem(entry.line, &entry.name, format!("there is no such reading{hint}"));
                continue;
            };
            if set.iter().any(|earlier| earlier.what.0 == *field) {
                self.problem(entry.line, &entry.name, "this reading is set twice");
            }
            if let Some(expr) = self.plain(entry.line, &entry.name, &entry.value) {
                set.push(Located { line: entry.line, what: (*field, expr) });
            }
        }
        set
    }

    fn conditions(&mut self, sections: &[Section]) -> Vec<Located<Expr>> {
        let Some(section) = sections.iter().find(|section| section.heading == "only if") else { return Vec::new() };
        let mut conditions = Vec::new();
        for (line, text) in section.lines.iter().filter(|(_, text)| !text.trim().is_empty()) {
            if let Some(what) = self.expression(*line, "[only if]", text) {
                conditions.push(Located { line: *line, what });
            }
        }
        conditions
    }

    fn texts(&mut self, sections: &[Section], heading: &str) -> Vec<Located<Text>> {
        let Some(section) = sections.iter().find(|section| section.heading == heading) else {
            self.problem(0, &format!("[{heading}]"), "this section is missing");
            return Vec::new();
        };
        let paragraphs = section.paragraphs();
        if paragraphs.is_empty() {
            self.problem(section.line, &section.field(), "this section is empty");
        }
        if heading == "question" && paragraphs.len() > 1 {
            self.problem(section.line, &section.field(), "the question is one paragraph; the rest belongs to the [story]");
        }
        let mut texts = Vec::new();
        for (line, text) in paragraphs {
            if let Some(what) = self.text(line, &section.field(), &text) {
                texts.push(Located { line, what });
            }
        }
        texts
    }

    pub(super) fn text(&mut self, line: u32, field: &str, text: &str) -> Option<Text> {
        match Text::read(text) {
            Ok(read) => {
                let mut known = true;
                for piece in &read.0 {
                    if let Piece::Filled(expr) = piece {
                        known &= self.names_known(line, field, expr);
                    }
                }
                known.then_some(read)
            }
            Err(misread) => {
                self.problem(line, field, misread.to_string());
                None
            }
        }
    }

    /// An expression that may ask the model.
    fn expression(&mut self, line: u32, field: &str, text: &str) -> Option<Expr> {
        match parse(text) {
            Ok(expr) => self.names_known(line, field, &expr).then_some(expr),
            Err(misread) => {
                self.problem(line, field, misread.to_string());
                None
            }
        }
    }

    /// An expression that must not ask the model, because there is no situation yet.
    fn plain(&mut self, line: u32, field: &str, text: &str) -> Option<Expr> {
        let expr = self.expression(line, field, text.trim())?;
        if self.asks_model(&expr) {
            self.problem(line, field, "the model cannot be asked here, because the situation is not there yet");
            return None;
        }
        Some(expr)
    }

    fn asks_model(&self, expr: &Expr) -> bool {
        let mut asks = false;
        expr.walk(&mut |inner| {
            asks |= match inner {
                Expr::Call(function, _) => function.asks_model(),
                Expr::Name(name) => {
                    matches!(name.as_str(), "route" | "band" | "derated") || self.asking.contains(name)
                }
                _ => false,
            };
        });
        asks
    }

    /// Whether an expression asks the model or the machine, as every key must.
    fn asks_model_or_machine(&self, expr: &Expr, lets: &[Let]) -> bool {
        let mut asks = self.asks_model(expr);
        expr.walk(&mut |inner| {
            asks |= match inner {
                Expr::Machine(_) => true,
                Expr::Name(name) => {
                    lets.iter().any(|earlier| earlier.name == *name && self.asks_model_or_machine(&earlier.expr, &[]))
                }
                _ => false,
            };
        });
        asks
    }

    fn names_known(&mut self, line: u32, field: &str, expr: &Expr) -> bool {
        let mut unknown: Vec<(String, String)> = Vec::new();
        expr.walk(&mut |inner| match inner {
            Expr::Name(name) => {
                let special = matches!(name.as_str(), "route" | "band" | "derated" | "yes" | "no");
                let band = self.lexicon.bands.contains(name);
                if !(special || band || is_word(name) || self.names.contains(name)) {
                    let hint = suggestion(name, self.names.iter().map(String::as_str));
                    unknown.push((name.clone(), format!("there is no value or word \"{name}\"{hint}")));
                }
            }
            Expr::Machine(figure) if !FIGURES.contains(&figure.as_str()) => {
                let hint = suggestion(figure, FIGURES.iter().copied());
                unknown.push((figure.clone(), format!("a machine has no figure \"{figure}\"{hint}")));
            }
            _ => {}
        });
        for (_, message) in &unknown {
            self.problem(line, field, message.clone());
        }
        unknown.is_empty()
    }

    fn answer(&mut self, sections: &[Section], kind: Kind) -> Option<Answer> {
        let Some(section) = sections.iter().find(|section| section.heading == "answer") else {
            self.problem(0, "[answer]", "this section is missing");
            return None;
        };
        let line = section.line;
        let mut answer = Answer {
            line,
            ask: Ask::Route,
            options: 4,
            steps: 5,
            believe: Vec::new(),
            key: None,
            step: None,
            tolerance: None,
            unit: None,
            written: Vec::new(),
        };
        let mut ask = None;
        for entry in self.entries(sections, "answer") {
            self.answer_entry(&mut answer, &mut ask, &entry);
        }
        let Some(ask) = ask else {
            self.problem(line, "[answer]", "the answer needs a line `ask: ...`");
            return None;
        };
        answer.ask = ask;
        if !ask.suits(kind) {
            self.problem(line, "ask", format!("this cannot be asked in a question of the kind \"{}\"", kind.words()));
        }
        answer.written = self.written(sections, ask);
        self.answer_whole(&answer, sections, kind);
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
                Ok(count @ 3..=6) if name == "options" => answer.options = count,
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
            _ => {
                let known = ["ask", "options", "steps", "believe", "key", "step", "tolerance", "unit"];
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

    /// What the answer as a whole must have.
    fn answer_whole(&mut self, answer: &Answer, sections: &[Section], kind: Kind) {
        let line = answer.line;
        if answer.ask == Ask::Number {
            let missing = [
                ("key", answer.key.is_none()),
                ("step", kind == Kind::ChooseOne && answer.step.is_none()),
                ("unit", kind == Kind::Number && answer.unit.is_none()),
                ("tolerance", kind == Kind::Number && answer.tolerance.is_none()),
            ];
            for (name, _) in missing.iter().filter(|(_, missing)| *missing) {
                self.problem(line, name, format!("[answer] needs a line `{name} = ...` here"));
            }
        }
        let lets = self.lets_quietly(sections);
        if let Some(key) = &answer.key
            && !self.asks_model_or_machine(&key.what, &lets)
        {
            self.problem(key.line, "key", "the key must ask the model or the machine, not only drawn numbers");
        }
        if matches!(answer.ask, Ask::Statements | Ask::Rank) {
            if !(3..=6).contains(&answer.written.len()) {
                self.problem(line, "[option]", format!("there are {} options; write 3 to 6", answer.written.len()));
            }
            if !answer.written.iter().any(|option| self.asks_model_or_machine(&option.decides, &lets)) {
                self.problem(line, "[option]", "at least one condition must ask the model or the machine");
            }
        } else if !answer.written.is_empty() {
            self.problem(line, "[option]", "options are written only for `ask: statements` and `ask: rank`");
        }
    }

    /// The [let] lines once more, for what they ask; their problems have been reported already.
    fn lets_quietly(&self, sections: &[Section]) -> Vec<Let> {
        let section = sections.iter().find(|section| section.heading == "let");
        let entries = section.map(|section| section.entries(self.file, &mut Vec::new())).unwrap_or_default();
        entries
            .into_iter()
            .filter_map(|entry| {
                let expr = parse(&entry.value).ok()?;
                Some(Let { line: entry.line, asks_model: self.asks_model(&expr), name: entry.name, expr })
            })
            .collect()
    }

    fn written(&mut self, sections: &[Section], ask: Ask) -> Vec<WrittenOption> {
        let decides_by = if ask == Ask::Rank { "rank" } else { "right if" };
        let mut written = Vec::new();
        for section in sections.iter().filter(|section| section.heading == "option") {
            let mut problems = Vec::new();
            let entries = section.entries(self.file, &mut problems);
            self.problems.append(&mut problems);
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

#[derive(Default)]
struct Head {
    title: String,
    competence: String,
    level: u8,
    kind: Option<Kind>,
    machines: Vec<String>,
    guard: f64,
    edges: Vec<EdgeReading>,
    show: Option<Vec<Show>>,
}

fn words(value: &str) -> impl Iterator<Item = &str> {
    value.split(',').map(str::trim).filter(|word| !word.is_empty())
}

fn split_outside_quotes(text: &str) -> Vec<&str> {
    let mut quoted = false;
    text.split(move |letter| {
        quoted ^= letter == '"';
        letter == ',' && !quoted
    })
    .map(str::trim)
    .collect()
}

fn suggestion<'w>(word: &str, known: impl IntoIterator<Item = &'w str>) -> String {
    nearest(word, known).map(|near| format!("; did you mean \"{near}\"?")).unwrap_or_default()
}
