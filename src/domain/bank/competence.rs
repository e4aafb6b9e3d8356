//! A competence: one thing a person can be qualified in.

use crate::document::{Document, Problem};

/// One thing a person can be qualified in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Competence {
    /// Its word in templates, schemes and records.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// What somebody can do who has it, as a sentence.
    pub says: String,
    /// Whether a wrong answer forbids a certificate.
    pub mandatory: bool,
    /// The school grade from which its questions can be read; see [`crate::scenario::wording::reading_grade`].
    pub reading_grade: u8,
}

impl Competence {
    /// Reads the list of all competences.
    ///
    /// # Errors
    /// Every problem in the text, each with its line and field.
    pub fn read_all(file: &str, text: &str) -> Result<Vec<Self>, Vec<Problem>> {
        let document = Document::parse(file, text);
        let mut all: Vec<Self> = Vec::new();
        let tables = document.root().tables("competence");
        if tables.is_empty() {
            document.root().report(
                "competence",
                "there is no competence; write [[competence]] with id, name, says, mandatory, reading_grade",
            );
        }
        for table in tables {
            let (id, name, says) = (table.text("id"), table.text("name"), table.text("says"));
            let mandatory = table.bool("mandatory");
            let grade = table.integer_within("reading_grade", 1..=18).and_then(|grade| u8::try_from(grade).ok());
            if let (Some(id), Some(name), Some(says), Some(mandatory), Some(reading_grade)) =
                (id, name, says, mandatory, grade)
            {
                if all.iter().any(|known| known.id == id) {
                    table.report("id", format!("the competence \"{id}\" stands twice"));
                }
                all.push(Self { id, name, says, mandatory, reading_grade });
            }
        }
        let problems = document.finish();
        if problems.is_empty() { Ok(all) } else { Err(problems) }
    }
}
