//! The repository's own rules, as tests: what stands where, who may use whom, how long a file is, which words are not used.
//!
//! Each rule is a function from files to breaches. Each is tried on the tree, where it must find nothing, and on a planted
//! breach, which it must find: a rule that cannot fail is none.

mod asvs;
mod code;
mod files;
mod layers;
mod layout;
mod numbers;
mod scripts;
mod words;

use std::path::Path;

/// A file with its path from the project's folder.
struct File {
    path: String,
    text: String,
}

/// A file that stands nowhere, to try a rule on.
fn planted(path: &str, text: &str) -> Vec<File> {
    vec![File { path: path.to_owned(), text: text.to_owned() }]
}

/// Every text file of the project below a folder; fonts and pictures are left out.
fn below(folder: &str) -> Vec<File> {
    let mut files = Vec::new();
    walk(&Path::new(env!("CARGO_MANIFEST_DIR")).join(folder), folder, &mut files);
    assert!(!files.is_empty(), "{folder} is empty: a rule that looks at nothing holds for nothing");
    files.sort_by(|a, b| a.path.cmp(&b.path));
    files
}

fn walk(folder: &Path, path: &str, files: &mut Vec<File>) {
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let entry = entry.expect("an entry");
        let path = format!("{path}/{}", entry.file_name().to_str().expect("names are UTF-8"));
        if entry.path().is_dir() {
            walk(&entry.path(), &path, files);
        } else if let Ok(text) = std::fs::read_to_string(entry.path()) {
            files.push(File { path, text });
        }
    }
}

/// Every Rust file of the project.
fn rust() -> Vec<File> {
    let folders = ["src", "migrations", "tests"].into_iter().flat_map(below);
    folders.filter(|file| file.path.ends_with(".rs")).collect()
}

/// What belongs to the project at its top level, files only.
fn top_level() -> Vec<File> {
    let names = ["Cargo.toml", "README.md", "DEVELOPERS.md", "clippy.toml", "rustfmt.toml"];
    let read = |name: &str| {
        let text = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).expect(name);
        File { path: name.to_owned(), text }
    };
    names.into_iter().map(read).collect()
}

#[track_caller]
fn none(breaches: &[String]) {
    assert!(breaches.is_empty(), "\n{}\n", breaches.join("\n"));
}

/// Exactly one breach, which says this.
#[track_caller]
fn one(breaches: &[String], says: &str) {
    assert!(matches!(breaches, [breach] if breach.contains(says)), "wanted one that says \"{says}\": {breaches:#?}");
}
