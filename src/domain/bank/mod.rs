//! The question bank as a whole: competences, machines, modules with their lessons, schemes and scenario templates,
//! each read from its text and held with its version.
//!
//! A document that is broken is left out and reported; the others work on. Never opens a file.

mod competence;
pub mod coverage;
pub mod effect;
mod module;

pub use competence::Competence;
pub use module::{Lesson, Module};

use crate::aftertreatment::profile::Profile;
use crate::document::{Document, Problem};
use crate::examination::scheme::{Known, Scheme};
use crate::scenario::template::{CompetenceRules, Lexicon};
use crate::scenario::{Machine, Template};
use std::collections::BTreeMap;

/// What a document of the bank is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum DocumentKind {
    /// `competences.toml`.
    Competences,
    /// A machine profile.
    Machine,
    /// A module's list of lessons.
    Module,
    /// A lesson's text.
    Lesson,
    /// A scheme.
    Scheme,
    /// A scenario template.
    Template,
}

impl DocumentKind {
    /// The kind's word in the record.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::Competences => "competences",
            Self::Machine => "machine",
            Self::Module => "module",
            Self::Lesson => "lesson",
            Self::Scheme => "scheme",
            Self::Template => "template",
        }
    }

    /// What a file below `question-bank/` is and what it is called there; nothing when it is no document.
    #[must_use]
    pub fn of_path(path: &str) -> Option<(Self, String)> {
        let parts: Vec<&str> = path.split('/').collect();
        let stem = |name: &str, ending: &str| name.strip_suffix(ending).map(str::to_owned);
        match parts.as_slice() {
            ["competences.toml"] => Some((Self::Competences, "competences".to_owned())),
            ["machines", name] => Some((Self::Machine, stem(name, ".toml")?)),
            ["schemes", name] => Some((Self::Scheme, stem(name, ".toml")?)),
            ["modules", module, "module.toml"] => Some((Self::Module, (*module).to_owned())),
            ["modules", module, lesson] => Some((Self::Lesson, format!("{module}/{}", stem(lesson, ".md")?))),
            ["templates", topic, name] => Some((Self::Template, format!("{topic}/{}", stem(name, ".scenario")?))),
            _ => None,
        }
    }

    /// Where a document of this kind stands below `question-bank/`; the reverse of [`Self::of_path`].
    #[must_use]
    pub fn path(self, key: &str) -> String {
        match self {
            Self::Competences => "competences.toml".to_owned(),
            Self::Machine => format!("machines/{key}.toml"),
            Self::Module => format!("modules/{key}/module.toml"),
            Self::Lesson => format!("modules/{key}.md"),
            Self::Scheme => format!("schemes/{key}.toml"),
            Self::Template => format!("templates/{key}.scenario"),
        }
    }
}

/// A document of the bank as it is stored.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BankDocument {
    /// What it is.
    pub kind: DocumentKind,
    /// What it is called.
    pub key: String,
    /// Its version.
    pub version: u32,
    /// Where it stands, for messages.
    pub file: String,
    /// Its text.
    pub text: String,
}

/// A template with its version.
#[derive(Clone, Debug)]
pub struct TemplateEntry {
    /// The template.
    pub template: Template,
    /// Its version.
    pub version: u32,
    /// Where it stands, for messages.
    pub file: String,
}

/// A scheme with its version.
#[derive(Clone, Debug)]
pub struct SchemeEntry {
    /// The scheme.
    pub scheme: Scheme,
    /// Its version.
    pub version: u32,
}

/// The bank in use.
#[derive(Clone, Debug, Default)]
pub struct Bank {
    competences: Vec<Competence>,
    machines: BTreeMap<String, Machine>,
    modules: Vec<Module>,
    schemes: BTreeMap<String, SchemeEntry>,
    templates: BTreeMap<String, TemplateEntry>,
}

impl Bank {
    /// Reads the documents. What is broken is left out and reported.
    #[must_use]
    pub fn read(documents: &[BankDocument]) -> (Self, Vec<Problem>) {
        let mut bank = Self::default();
        let mut problems = Vec::new();
        let of = |kind| documents.iter().filter(move |document| document.kind == kind);
        for document in of(DocumentKind::Competences) {
            keep(Competence::read_all(&document.file, &document.text), &mut problems, |all| bank.competences = all);
        }
        for document in of(DocumentKind::Machine) {
            keep(Profile::read(&document.file, &document.text), &mut problems, |profile| {
                bank.machines.insert(document.key.clone(), Machine::new(profile, document.version));
            });
        }
        let competences: Vec<String> = bank.competences.iter().map(|competence| competence.id.clone()).collect();
        let lessons: Vec<&BankDocument> = of(DocumentKind::Lesson).collect();
        for document in of(DocumentKind::Module) {
            let module = Module::read(&document.key, &document.file, &document.text, &competences, &lessons);
            keep(module, &mut problems, |module| bank.modules.push(module));
        }
        bank.modules.sort_by_key(|module| module.number);
        let modules: Vec<String> = bank.modules.iter().map(|module| module.id.clone()).collect();
        let machines: Vec<String> = bank.machines.keys().cloned().collect();
        let known = Known { competences: &competences, modules: &modules, machines: &machines };
        for document in of(DocumentKind::Scheme) {
            keep(Scheme::read(&document.file, &document.text, &known), &mut problems, |scheme| {
                bank.schemes.insert(document.key.clone(), SchemeEntry { scheme, version: document.version });
            });
        }
        for document in of(DocumentKind::Scheme) {
            problems.extend(prerequisites_in_order(&bank.schemes, document));
        }
        let lexicon = bank.lexicon();
        for document in of(DocumentKind::Template) {
            let template = Template::read(&document.key, &document.file, &document.text, &lexicon);
            keep(template, &mut problems, |template| {
                let entry = TemplateEntry { template, version: document.version, file: document.file.clone() };
                bank.templates.insert(document.key.clone(), entry);
            });
        }
        problems.sort();
        (bank, problems)
    }

    /// The names that templates may use.
    #[must_use]
    pub fn lexicon(&self) -> Lexicon {
        let bands = self.machines().flat_map(|machine| machine.profile.bands.iter().map(|band| band.id.clone()));
        let mut bands: Vec<String> = bands.collect();
        bands.sort();
        bands.dedup();
        Lexicon {
            competences: self.competences.iter().map(rules).collect(),
            machines: self.machines.keys().cloned().collect(),
            bands,
        }
    }

    /// The competences, in their order.
    #[must_use]
    pub fn competences(&self) -> &[Competence] {
        &self.competences
    }

    /// A competence by its word.
    #[must_use]
    pub fn competence(&self, id: &str) -> Option<&Competence> {
        self.competences.iter().find(|competence| competence.id == id)
    }

    /// The machines, by name.
    pub fn machines(&self) -> impl Iterator<Item = &Machine> {
        self.machines.values()
    }

    /// A machine by its word.
    #[must_use]
    pub fn machine(&self, id: &str) -> Option<&Machine> {
        self.machines.get(id)
    }

    /// The modules, in their order.
    #[must_use]
    pub fn modules(&self) -> &[Module] {
        &self.modules
    }

    /// A module by its word.
    #[must_use]
    pub fn module(&self, id: &str) -> Option<&Module> {
        self.modules.iter().find(|module| module.id == id)
    }

    /// The schemes, by name.
    pub fn schemes(&self) -> impl Iterator<Item = &SchemeEntry> {
        self.schemes.values()
    }

    /// A scheme by its word.
    #[must_use]
    pub fn scheme(&self, id: &str) -> Option<&SchemeEntry> {
        self.schemes.get(id)
    }

    /// The templates, by name.
    pub fn templates(&self) -> impl Iterator<Item = &TemplateEntry> {
        self.templates.values()
    }

    /// A template by its name.
    #[must_use]
    pub fn template(&self, id: &str) -> Option<&TemplateEntry> {
        self.templates.get(id)
    }
}

/// What is wrong with a scheme's prerequisites: each must be a scheme of the bank, and none may lead back to the scheme.
fn prerequisites_in_order(schemes: &BTreeMap<String, SchemeEntry>, document: &BankDocument) -> Option<Problem> {
    let needs = |id: &str| schemes.get(id).map(|entry| entry.scheme.prerequisites.as_slice()).unwrap_or_default();
    let problem = |message: String| {
        let line = Document::parse(&document.file, &document.text).root().line_of("prerequisites");
        Some(Problem::new(document.file.clone(), line, "prerequisites", message))
    };
    let (mut seen, mut ahead) = (Vec::new(), needs(&document.key).to_vec());
    while let Some(next) = ahead.pop() {
        if !schemes.contains_key(&next) {
            return problem(format!("\"{next}\" is no scheme of the bank"));
        }
        if next == document.key {
            return problem(format!("it leads back to \"{next}\" itself; nobody could ever begin"));
        }
        if !seen.contains(&next) {
            ahead.extend(needs(&next).iter().cloned());
            seen.push(next);
        }
    }
    None
}

fn rules(of: &Competence) -> CompetenceRules {
    CompetenceRules { id: of.id.clone(), mandatory: of.mandatory, reading_grade: of.reading_grade }
}

fn keep<T>(read: Result<T, Vec<Problem>>, problems: &mut Vec<Problem>, take: impl FnOnce(T)) {
    match read {
        Ok(good) => take(good),
        Err(found) => problems.extend(found),
    }
}
