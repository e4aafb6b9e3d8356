//! A module: a few short lessons and the practice for some competences.

use super::BankDocument;
use crate::document::{Document, Problem};
use crate::units::Unit;

/// Lessons and practice for some competences.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Module {
    /// Its word in addresses and records.
    pub id: String,
    /// Its place among the modules, from 1.
    pub number: u32,
    /// What it is called.
    pub title: String,
    /// What it is for, in a sentence.
    pub says: String,
    /// How long it takes, in minutes.
    pub minutes: u32,
    /// The competences it is for.
    pub competences: Vec<String>,
    /// Its lessons, in order.
    pub lessons: Vec<Lesson>,
}

/// A lesson's text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lesson {
    /// Its word in addresses and records.
    pub id: String,
    /// Its title: the first heading.
    pub title: String,
    /// Markdown without the title.
    pub text: String,
    /// The version of its document.
    pub version: u32,
}

impl Module {
    /// Reads a module; its lessons are among the bank's documents.
    ///
    /// # Errors
    /// Every problem in the text, each with its line and field.
    pub fn read(
        key: &str,
        file: &str,
        text: &str,
        competences: &[String],
        documents: &[&BankDocument],
    ) -> Result<Self, Vec<Problem>> {
        let document = Document::parse(file, text);
        let root = document.root();
        let module = (|| {
            let id = root.text("id");
            let number = root.integer_within("number", 1..=99);
            let title = root.text("title");
            let says = root.text("says");
            let minutes = root.quantity_within("minutes", Unit::Minute, 1.0..=240.0);
            let known: Vec<&str> = competences.iter().map(String::as_str).collect();
            let find = |word: &str| competences.iter().find(|known| *known == word).cloned();
            let for_competences = root.list_of("competences", &known, find);
            let lessons = root.list("lessons").unwrap_or_default();
            let mut found = Vec::new();
            for item in &lessons {
                let stem = item.text.trim_end_matches(".md");
                let wanted = format!("{key}/{stem}");
                match documents.iter().find(|document| document.key == wanted) {
                    Some(document) => match lesson(stem, document) {
                        Some(lesson) => found.push(lesson),
                        None => root.report_item(item, "the lesson must begin with its title: `# Title`"),
                    },
                    None => root.report_item(item, format!("there is no lesson \"{}\" beside the module", item.text)),
                }
            }
            if lessons.is_empty() {
                root.report("lessons", "a module has at least one lesson");
            }
            if id.as_deref().is_some_and(|id| id != key) {
                root.report("id", format!("the id must be the folder's name, \"{key}\""));
            }
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 1 and 240")]
            let minutes = minutes.map(|minutes| minutes.round() as u32);
            Some(Self {
                id: id?,
                number: u32::try_from(number?).ok()?,
                title: title?,
                says: says?,
                minutes: minutes?,
                competences: for_competences?,
                lessons: found,
            })
        })();
        let problems = document.finish();
        match module {
            Some(module) if problems.is_empty() => Ok(module),
            _ => Err(problems),
        }
    }
}

fn lesson(id: &str, document: &BankDocument) -> Option<Lesson> {
    let text = document.text.trim_start();
    let (first, rest) = text.split_once('\n').unwrap_or((text, ""));
    let title = first.strip_prefix("# ")?.trim();
    (!title.is_empty()).then(|| Lesson {
        id: id.to_owned(),
        title: title.to_owned(),
        text: rest.trim_start().to_owned(),
        version: document.version,
    })
}
