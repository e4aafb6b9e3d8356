//! Writes questions and forms as a QTI 3.0 package: one file for each question, one for each form, and the manifest.
//!
//! A package holds the keys. Never hand one over that was made with the seed of an examination or of somebody's practice.

mod frame;
mod item;
mod scoring;

use super::xml::{self, Element};
use super::{MANIFEST_FILE, archive};
use crate::domain::scenario::Question;
use std::collections::{BTreeMap, BTreeSet};

/// Questions that are asked together.
#[derive(Clone, Debug, PartialEq)]
pub struct Form {
    /// What people call it.
    pub title: String,
    /// Its questions, in order.
    pub questions: Vec<Question>,
}

/// What is handed over.
#[derive(Clone, Debug, PartialEq)]
pub struct Package {
    /// Its name in the other system; letters that an identifier cannot have are replaced.
    pub identifier: String,
    /// Its forms. A question that several of them ask is written once.
    pub forms: Vec<Form>,
}

/// The package as bytes: the same bytes for the same package.
///
/// # Errors
/// When the package is too large for a zip file.
pub fn export(package: &Package) -> std::io::Result<Vec<u8>> {
    let mut items: Vec<Named> = Vec::new();
    let mut known: BTreeMap<Vec<u8>, usize> = BTreeMap::new();
    let mut taken = BTreeSet::new();
    let mut forms: Vec<(Named, Vec<usize>)> = Vec::new();
    for (number, form) in (1..).zip(&package.forms) {
        let mut asked = Vec::new();
        for question in &form.questions {
            let place = *known.entry(question.bytes()).or_insert_with(|| {
                let identifier = unused(&item_identifier(question), &mut taken);
                let root = item::item(&identifier, question);
                items.push(Named::new("items", identifier, root));
                items.len() - 1
            });
            asked.push(place);
        }
        let identifier = unused(&format!("form-{number}"), &mut taken);
        let root = frame::test(&identifier, form, &asked, &items);
        forms.push((Named::new("tests", identifier, root), asked));
    }
    let manifest = frame::manifest(&unused(&as_identifier(&package.identifier), &mut taken), &items, &forms);
    let mut files = vec![(MANIFEST_FILE.to_owned(), xml::write(&manifest)?)];
    for named in items.iter().chain(forms.iter().map(|(form, _)| form)) {
        files.push((named.href.clone(), xml::write(&named.root)?));
    }
    archive::pack(&files)
}

/// A file of the package.
#[derive(Debug)]
struct Named {
    identifier: String,
    href: String,
    root: Element,
}

impl Named {
    fn new(folder: &str, identifier: String, root: Element) -> Self {
        Self { href: format!("{folder}/{identifier}.xml"), identifier, root }
    }
}

/// What a question is called: scenario, machine and seed, and in a case its part.
fn item_identifier(question: &Question) -> String {
    let source = &question.source;
    let part = question.shown.case.as_ref().map(|case| format!(".part-{}", case.part)).unwrap_or_default();
    as_identifier(&format!("{}.{}.{}{part}", source.template.replace('/', "."), source.machine, source.stream))
}

/// A text as a QTI identifier: it begins with a letter or _, and has letters, digits, `_`, `-` and `.` only.
// From memory, not confirmed: 1EdTech QTI 3.0 information model, identifier (an NCName without a colon).
fn as_identifier(text: &str) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() || matches!(c, '_' | '-' | '.') { c } else { '_' };
    let identifier: String = text.chars().map(plain).collect();
    if identifier.starts_with(|c: char| c.is_ascii_alphabetic() || c == '_') {
        identifier
    } else {
        format!("_{identifier}")
    }
}

/// The identifier, or the first that follows it and is not taken yet. Differences of case do not count: some disks do
/// not see them.
fn unused(wanted: &str, taken: &mut BTreeSet<String>) -> String {
    let mut identifier = wanted.to_owned();
    let mut next = 2;
    while !taken.insert(identifier.to_ascii_lowercase()) {
        identifier = format!("{wanted}-{next}");
        next += 1;
    }
    identifier
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identifiers_are_lawful_and_never_the_same() {
        assert_eq!(as_identifier("fire/straw ä.1"), "fire_straw__.1");
        assert_eq!(as_identifier("7"), "_7");
        assert_eq!(as_identifier(""), "_");
        let mut taken = BTreeSet::new();
        let given: Vec<String> = ["a", "A", "a-2", "a"].iter().map(|wanted| unused(wanted, &mut taken)).collect();
        assert_eq!(given, ["a", "A-2", "a-2-2", "a-3"]);
    }
}
