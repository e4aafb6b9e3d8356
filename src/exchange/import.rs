//! Takes the plain kinds of question out of a QTI 3.0 package, as drafts of scenarios that a trainer finishes.
//!
//! A draft is unfinished on purpose: its conditions are left open, and the check of the bank says so. Whatever is not
//! taken is reported with its file and line; nothing is left out silently.

mod draft;
mod flow;
mod item;
mod marks;

use super::xml::{self, Element, Tree};
use super::{ITEM_TYPE, ITEMS, MANIFEST_FILE, TEST_TYPE, archive};
use crate::domain::document::Problem;
use archive::Unpacked;
use std::collections::{BTreeMap, BTreeSet};

/// What a scenario may be long, in bytes: what the bank reads.
const LONGEST_DRAFT: usize = 64 * 1024;
/// Most findings that are told about one file; chosen by us: more of them help nobody.
const MOST_FINDINGS: usize = 100;
/// Longest name of a draft in letters; chosen by us.
const LONGEST_NAME: usize = 80;

/// A draft of a scenario.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Draft {
    /// What its file can be called, without ending: lower case letters, digits, `-` and `_`; no other draft of the
    /// package has it.
    pub name: String,
    /// The file of the package it comes from.
    pub from: String,
    /// Its text, in the shape of a scenario.
    pub text: String,
}

/// What came of a package.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Imported {
    /// The drafts, in the package's order.
    pub drafts: Vec<Draft>,
    /// What was not taken and why, by file and line of the package; where the file is empty, the package is meant.
    pub problems: Vec<Problem>,
}

/// Takes a package in.
#[must_use]
pub fn import(package: &[u8]) -> Imported {
    let mut problems = Vec::new();
    let unpacked = archive::unpack(package, &mut problems);
    let mut taking = Taking { unpacked, problems, ..Taking::default() };
    taking.manifest();
    taking.rest();
    taking.problems.sort();
    taking.problems.dedup();
    Imported { drafts: taking.drafts, problems: taking.problems }
}

#[derive(Default)]
struct Taking {
    unpacked: Unpacked,
    problems: Vec<Problem>,
    /// Files that the manifest names.
    seen: BTreeSet<String>,
    /// Names of drafts, and for each beginning the number that was given last.
    names: BTreeSet<String>,
    numbers: BTreeMap<String, usize>,
    drafts: Vec<Draft>,
}

impl Taking {
    fn problem(&mut self, file: &str, line: u32, field: &str, message: impl Into<String>) {
        self.problems.push(Problem::new(file, line, field, message));
    }

    /// The tree of a file of the package, when it can be read.
    fn tree(&mut self, file: &str) -> Option<Tree> {
        let text = self.unpacked.texts.get(file)?;
        match xml::read(text) {
            Ok(tree) => Some(tree),
            Err(refused) => {
                self.problem(file, refused.line, "xml", refused.message);
                None
            }
        }
    }

    fn manifest(&mut self) {
        if !self.unpacked.texts.contains_key(MANIFEST_FILE) {
            if !self.unpacked.unread.iter().any(|name| name == MANIFEST_FILE) && self.problems.is_empty() {
                self.problem(archive::WHOLE, 0, "manifest", "there is no imsmanifest.xml: this is no QTI package");
            }
            return;
        }
        self.seen.insert(MANIFEST_FILE.to_owned());
        let Some(tree) = self.tree(MANIFEST_FILE) else { return };
        let resources = tree.root.child("resources").map(|all| all.children().collect::<Vec<_>>()).unwrap_or_default();
        let resources: Vec<&Element> = resources.into_iter().filter(|each| each.name == "resource").collect();
        if tree.root.name != "manifest" || resources.is_empty() {
            self.problem(MANIFEST_FILE, tree.root.line, "resources", "this manifest names no file");
        }
        for resource in resources {
            self.resource(resource);
        }
    }

    fn resource(&mut self, resource: &Element) {
        let (line, kind) = (resource.line, resource.attribute("type").unwrap_or_default());
        let files = resource.children().filter(|child| child.name == "file").filter_map(|file| file.attribute("href"));
        let href = resource.attribute("href");
        if kind == TEST_TYPE {
            let message = "a form is not taken, only its questions; how many are asked is said by a scheme of the bank";
            self.problem(href.unwrap_or(MANIFEST_FILE), 0, "test", message);
            self.seen.extend(href.into_iter().chain(files).map(str::to_owned));
            return;
        }
        if kind != ITEM_TYPE {
            let message = if kind.starts_with("imsqti_") && !kind.contains("v3p0") {
                format!("\"{kind}\" is another version of QTI; only 3.0 is taken")
            } else {
                format!("a resource of the type \"{kind}\" is not taken")
            };
            self.problem(MANIFEST_FILE, line, "resource", message);
            self.seen.extend(href.into_iter().chain(files).map(str::to_owned));
            return;
        }
        let Some(href) = href else {
            self.problem(MANIFEST_FILE, line, "href", "this question has no href, so there is no file to take");
            return;
        };
        if !self.seen.insert(href.to_owned()) {
            self.problem(MANIFEST_FILE, line, "href", format!("{} is named twice; it is taken once", shortened(href)));
        } else if self.unpacked.texts.contains_key(href) {
            self.item(href);
        } else if !self.unpacked.unread.iter().any(|name| name == href) {
            let message = format!("there is no XML file {} in the package", shortened(href));
            self.problem(MANIFEST_FILE, line, "href", message);
        }
    }

    fn item(&mut self, file: &str) {
        let Some(tree) = self.tree(file) else { return };
        let line = tree.root.line;
        if tree.root.name != "qti-assessment-item" || tree.namespace != ITEMS {
            let message = format!(
                "<{}> of the namespace \"{}\" is no question of QTI 3.0",
                shortened(&tree.root.name),
                shortened(&tree.namespace)
            );
            self.problem(file, line, "item", message);
            return;
        }
        let mut found = item::Findings::default();
        let taken = item::take(&tree.root, &mut found);
        let more = found.0.len().saturating_sub(MOST_FINDINGS);
        if more > 0 {
            // The last one stays: where the question is not taken, it says why.
            found.0.drain(MOST_FINDINGS - 1..found.0.len() - 1);
            self.problem(file, line, "item", format!("there are {more} findings more in this file"));
        }
        for (line, field, message) in found.0 {
            self.problem(file, line, field, message);
        }
        let Some(taken) = taken else { return };
        let text = draft::text(&taken, file);
        if text.len() > LONGEST_DRAFT {
            let message = format!("as a scenario it would have {} bytes; {LONGEST_DRAFT} are the most", text.len());
            self.problem(file, line, "item", message);
            return;
        }
        let name = self.name(&taken.identifier);
        self.drafts.push(Draft { name, from: file.to_owned(), text });
    }

    /// A name for a draft, made of its identifier: the first of that beginning that no other draft has.
    fn name(&mut self, identifier: &str) -> String {
        let plain = |c: char| if c.is_ascii_alphanumeric() || c == '_' { c.to_ascii_lowercase() } else { '-' };
        let name: String = identifier.chars().map(plain).take(LONGEST_NAME).collect();
        let name = name.trim_matches('-');
        let beginning = if name.is_empty() { "question" } else { name };
        let mut name = beginning.to_owned();
        while !self.names.insert(name.clone()) {
            let number = self.numbers.entry(beginning.to_owned()).or_insert(1);
            *number += 1;
            name = format!("{beginning}-{number}");
        }
        name
    }

    /// What stands in the package and was never asked for.
    fn rest(&mut self) {
        for name in std::mem::take(&mut self.unpacked.others) {
            self.problem(&name, 0, "media", "pictures, sounds, styles and scripts are not taken; only plain text is");
        }
        let unnamed: Vec<String> =
            self.unpacked.texts.keys().filter(|name| !self.seen.contains(*name)).cloned().collect();
        for name in unnamed {
            self.problem(&name, 0, "manifest", "the manifest does not name this file as a question; it is not taken");
        }
    }
}

/// A stranger's words in a message: on one line, not too long.
fn shortened(text: &str) -> String {
    let line: String = flow::on_one_line(text).chars().take(80).collect();
    line
}
