//! Where the documents of a question bank come from: the bank that is built into the program, or a folder of files.
//!
//! Only finds and reads them. Never says whether a document is right: the domain does.

use crate::domain::bank::{BankDocument, DocumentKind};
use crate::domain::document::Problem;
use include_dir::{Dir, include_dir};
use std::io;
use std::path::Path;

static BUILT_IN: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/question-bank");

/// What messages put before a document's path.
const FOLDER: &str = "question-bank";

/// The folders that hold nothing but documents: any other file in them is a slip of whoever saved it.
const FOR_DOCUMENTS: [&str; 4] = ["machines/", "modules/", "schemes/", "templates/"];

/// Levels of folders that a document can be below; deeper ones are not walked, so that a link in a circle ends.
const DEEPEST: usize = 3;

/// The bank that is built into the program, in the order of its paths.
#[must_use]
pub fn embedded() -> Vec<BankDocument> {
    let mut documents = Vec::new();
    gather(&BUILT_IN, &mut documents);
    documents.sort_by(|a, b| a.file.cmp(&b.file));
    documents
}

fn gather(folder: &Dir<'_>, documents: &mut Vec<BankDocument>) {
    for file in folder.files() {
        let path = file.path().to_str().unwrap_or_default();
        documents.extend(file.contents_utf8().and_then(|text| document(path, text.to_owned())));
    }
    for inner in folder.dirs() {
        gather(inner, documents);
    }
}

/// The bank in a folder, in the order of its paths. A file that cannot be read, is not UTF-8 or stands among the
/// documents without being one is a problem; the others are still read.
///
/// # Errors
/// When the folder itself cannot be listed.
pub fn of_folder(folder: &Path) -> io::Result<(Vec<BankDocument>, Vec<Problem>)> {
    let mut found = Found::default();
    found.walk(folder, "", 1)?;
    found.documents.sort_by(|a, b| a.file.cmp(&b.file));
    found.problems.sort();
    Ok((found.documents, found.problems))
}

#[derive(Default)]
struct Found {
    documents: Vec<BankDocument>,
    problems: Vec<Problem>,
}

impl Found {
    fn walk(&mut self, folder: &Path, below: &str, level: usize) -> io::Result<()> {
        for entry in std::fs::read_dir(folder)? {
            let entry = entry?;
            let name = entry.file_name();
            let name = name.to_string_lossy();
            // Dotfiles are an editor's or a version control's, never the bank's.
            if name.starts_with('.') {
                continue;
            }
            let path = format!("{below}{name}");
            if entry.path().is_dir() {
                self.enter(&entry.path(), &path, level);
            } else {
                self.read(&entry.path(), &path);
            }
        }
        Ok(())
    }

    fn enter(&mut self, folder: &Path, path: &str, level: usize) {
        if level == DEEPEST {
            self.report(path, "no document stands this deep; move the files one folder up");
        } else if let Err(error) = self.walk(folder, &format!("{path}/"), level + 1) {
            self.report(path, &format!("the folder cannot be listed ({error}); make it readable"));
        }
    }

    fn read(&mut self, file: &Path, path: &str) {
        if DocumentKind::of_path(path).is_none() {
            if FOR_DOCUMENTS.iter().any(|folder| path.starts_with(folder)) {
                let message = "this is no document of the bank; machines, schemes and modules end in .toml, \
                               lessons in .md, scenarios in .scenario inside a folder of their competence";
                self.report(path, message);
            }
            return;
        }
        match std::fs::read(file).map(String::from_utf8) {
            Ok(Ok(text)) => self.documents.extend(document(path, text)),
            Ok(Err(broken)) => {
                let line =
                    broken.as_bytes()[..broken.utf8_error().valid_up_to()].iter().filter(|b| **b == b'\n').count();
                let line = u32::try_from(line + 1).unwrap_or(u32::MAX);
                let message = "this is not UTF-8; save the file as UTF-8";
                self.problems.push(Problem::new(named(path), line, "file", message));
            }
            Err(error) => self.report(path, &format!("the file cannot be read ({error}); make it readable")),
        }
    }

    fn report(&mut self, path: &str, message: &str) {
        self.problems.push(Problem::new(named(path), 0, "file", message));
    }
}

fn named(path: &str) -> String {
    format!("{FOLDER}/{path}")
}

fn document(path: &str, text: String) -> Option<BankDocument> {
    let (kind, key) = DocumentKind::of_path(path)?;
    Some(BankDocument { kind, key, version: 1, file: named(path), text })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_bank_holds_every_kind_of_document() {
        let documents = embedded();
        for path in [
            "competences.toml",
            "machines/tarrel-60.toml",
            "modules/lamps/module.toml",
            "modules/lamps/01-amber-and-red.md",
            "schemes/operator.toml",
            "templates/fire/straw-under-the-boom.scenario",
        ] {
            let file = named(path);
            assert!(documents.iter().any(|document| document.file == file && document.version == 1), "{file}");
        }
        assert!(!documents.iter().any(|document| document.file.ends_with("GRAMMAR.md")));
    }

    #[test]
    fn a_folder_gives_its_documents_and_every_problem() {
        let folder = tempfile::tempdir().unwrap();
        let put = |path: &str, bytes: &[u8]| {
            let file = folder.path().join(path);
            std::fs::create_dir_all(file.parent().unwrap()).unwrap();
            std::fs::write(file, bytes).unwrap();
        };
        put("competences.toml", b"x");
        put("templates/fire/good.scenario", b"title: good");
        put("templates/fire/bad.scenario", b"title: a\ntitle: \xff");
        put("templates/fire/typo.scenari", b"");
        put("templates/fire/deep/deeper/one.scenario", b"");
        put("templates/.swap", b"");
        put("GRAMMAR.md", b"\xff is nobody's business here");
        let (documents, problems) = of_folder(folder.path()).unwrap();
        let files: Vec<&str> = documents.iter().map(|document| document.file.as_str()).collect();
        assert_eq!(files, ["question-bank/competences.toml", "question-bank/templates/fire/good.scenario"]);
        let places: Vec<_> = problems.iter().map(|problem| (problem.file.as_str(), problem.line)).collect();
        assert_eq!(
            places,
            [
                ("question-bank/templates/fire/bad.scenario", 2),
                ("question-bank/templates/fire/deep", 0),
                ("question-bank/templates/fire/typo.scenari", 0),
            ]
        );
        assert!(of_folder(&folder.path().join("nowhere")).is_err());
    }
}
