//! Words and shapes that are not used: names that say nothing, manners that a workshop does not need, paths of one
//! machine, waiting in tests, style and script inside a page.

use super::code::bare;
use super::{File, below, none, one, planted, rust, top_level};

/// A name made of one of these says nothing about what is inside. The role `service_manager` is a word of the trade.
const SAY_NOTHING: [&str; 9] = ["util", "utils", "helper", "helpers", "manager", "managers", "data", "info", "misc"];

fn says_nothing(name: &str) -> bool {
    let name = name.replace('-', "_").replace("service_manager", "");
    name.split(['_', '.']).any(|part| SAY_NOTHING.contains(&part))
}

fn empty_names(files: &[File]) -> Vec<String> {
    let mut breaches = Vec::new();
    for file in files {
        if file.path.split('/').any(says_nothing) {
            breaches.push(format!("{}: name it by what is inside", file.path));
        }
        if file.path.ends_with(".rs") {
            let bare = bare(&file.text);
            let modules = bare.lines().filter_map(|line| line.trim().trim_start_matches("pub ").strip_prefix("mod "));
            let names = modules.filter_map(|rest| rest.split([';', ' ', '{']).next());
            breaches.extend(names.filter(|name| says_nothing(name)).map(|name| format!("{}: mod {name}", file.path)));
        }
    }
    breaches
}

fn everything() -> Vec<File> {
    let folders = ["src", "migrations", "templates", "question-bank", "tests"].into_iter().flat_map(below);
    folders.chain(top_level()).collect()
}

#[test]
fn every_name_says_what_is_inside() {
    none(&empty_names(&everything()));
}

#[test]
fn a_name_that_says_nothing_is_found() {
    for path in ["src/web/utils.rs", "src/data/mod.rs", "templates/pages/user-info.html", "src/bank_manager.rs"] {
        one(&empty_names(&planted(path, "")), path);
    }
    one(&empty_names(&planted("src/a.rs", "pub mod helpers {\n}")), "mod helpers");
    none(&empty_names(&planted("src/service_manager/database.rs", "mod information;")));
}

/// Words that a screen or a letter never says.
const NEVER_SAID: [&str; 2] = ["please", "oops"];

fn said(files: &[File]) -> Vec<String> {
    let mut breaches = Vec::new();
    for file in files {
        for (number, line) in file.text.lines().enumerate() {
            // What somebody in a story says is theirs.
            let own = line.split('"').step_by(2).collect::<Vec<_>>().join(" ");
            let line =
                if file.path.ends_with(".scenario") || file.path.ends_with(".md") { own } else { line.to_owned() };
            let words = line.split(|letter: char| !letter.is_alphabetic());
            for word in words.filter(|word| NEVER_SAID.contains(&word.to_lowercase().as_str())) {
                breaches.push(format!("{}:{}: \"{word}\" is not said here", file.path, number + 1));
            }
        }
    }
    breaches
}

#[test]
fn screens_letters_and_lessons_are_plain() {
    none(&said(&["templates", "question-bank"].into_iter().flat_map(below).collect::<Vec<_>>()));
}

#[test]
fn a_word_that_is_not_said_is_found() {
    one(&said(&planted("templates/a.html", "<p>Please wait.</p>")), "templates/a.html:1");
    one(&said(&planted("templates/a.txt", "ok\nOops!")), "templates/a.txt:2");
    none(&said(&planted("templates/a.html", "<p>You are pleased.</p>")));
}

/// The page's policy refuses style and script inside it: they would be dead in a browser.
fn inside_the_page(files: &[File]) -> Vec<String> {
    let mut breaches = Vec::new();
    for file in files.iter().filter(|file| file.path.ends_with(".html")) {
        for (number, line) in file.text.to_lowercase().lines().enumerate() {
            let mut breach = |what: &str| breaches.push(format!("{}:{}: {what}", file.path, number + 1));
            if line.contains("<style") {
                breach("style belongs in templates/assets");
            }
            if line.match_indices("<script").any(|(at, _)| !line[at..].starts_with("<script src=")) {
                breach("script belongs in templates/assets");
            }
            let attributes = || line.split_whitespace().filter_map(|word| word.split_once('=')).map(|(name, _)| name);
            if attributes().any(|name| name == "style" || name.starts_with("on")) {
                breach("no style and no handler as an attribute");
            }
        }
    }
    breaches
}

/// Letters are drawn by mail programs, which know no style sheets beside the letter.
fn pages() -> Vec<File> {
    below("templates").into_iter().filter(|file| !file.path.starts_with("templates/mail/")).collect()
}

#[test]
fn no_page_carries_style_or_script_inside() {
    none(&inside_the_page(&pages()));
}

#[test]
fn style_and_script_inside_a_page_are_found() {
    let found = |text: &str| inside_the_page(&planted("templates/a.html", text));
    one(&found("<p style=\"color: red\">"), "attribute");
    one(&found("<button onclick=\"go()\">"), "attribute");
    one(&found("<style>p { color: red }</style>"), "style belongs");
    one(&found("<script>go()</script>"), "script belongs");
    none(&found("<script src=\"{{ asset(name=\"site.js\") }}\" defer></script> <p class=\"one\">"));
}

/// Places on somebody's own machine, and where packages are fetched from. Written in parts: this file is looked at too.
fn places() -> Vec<String> {
    let of_machine = ["home", "Users", "root", "work", "mnt"].map(|folder| format!("/{folder}/"));
    let of_packages = [["crates", "io"], ["npmjs", "org"], ["npmjs", "com"], ["pypi", "org"], ["pythonhosted", "org"]];
    of_machine
        .into_iter()
        .chain(of_packages.map(|parts| parts.join(".")))
        .chain(["C:\\".to_owned() + "Users"])
        .collect()
}

fn tied_to_a_place(files: &[File]) -> Vec<String> {
    let places = places();
    let mut breaches = Vec::new();
    for file in files {
        for (number, line) in file.text.lines().enumerate() {
            for place in &places {
                // "pages/home/home.html" is a path of the project: nothing stands before a path of the machine.
                let absolute = |at: usize| {
                    let before = line[..at].chars().next_back();
                    !place.starts_with('/') || before.is_none_or(|b| !b.is_alphanumeric() && !"._-}/".contains(b))
                };
                if line.match_indices(place.as_str()).any(|(at, _)| absolute(at)) {
                    breaches.push(format!("{}:{}: names {place}", file.path, number + 1));
                }
            }
        }
    }
    breaches
}

#[test]
fn nothing_is_tied_to_one_machine_or_one_registry() {
    none(&tied_to_a_place(&everything()));
}

#[test]
fn a_path_of_one_machine_and_a_registry_are_found() {
    for place in places() {
        one(&tied_to_a_place(&planted("src/a.rs", &format!("let folder = \"{place}x\";"))), "src/a.rs:1");
    }
    none(&tied_to_a_place(&planted("src/a.rs", "let page = \"pages/home/home.html\";")));
}

/// A test that waits for time to pass is slow on a good day and wrong on a bad one.
fn waiting(files: &[File]) -> Vec<String> {
    let mut breaches = Vec::new();
    for file in files.iter().filter(|file| file.path.ends_with(".rs")) {
        let bare = bare(&file.text);
        let in_tests = file.path.starts_with("tests/") || file.path.ends_with("/tests.rs");
        let from = if in_tests { 0 } else { bare.find("#[cfg(test)]").unwrap_or(bare.len()) };
        for (at, _) in bare.match_indices("sleep") {
            let word = bare[..at].chars().next_back().is_none_or(|before| !before.is_alphanumeric() && before != '_');
            let called = bare[at + "sleep".len()..].starts_with(['(', ';', '_', ',', '}']);
            if at >= from && word && called {
                let line = bare[..at].matches('\n').count() + 1;
                breaches.push(format!("{}:{line}: a test never sleeps; let the test set the clock", file.path));
            }
        }
    }
    breaches
}

#[test]
fn no_test_sleeps() {
    none(&waiting(&rust()));
}

#[test]
fn a_test_that_sleeps_is_found() {
    one(&waiting(&planted("tests/a.rs", "fn f() {\n    tokio::time::sleep(SHORT).await;\n}")), "tests/a.rs:2");
    one(&waiting(&planted("src/a.rs", "#[cfg(test)]\nmod tests {\n use std::thread::sleep;\n}")), "src/a.rs:3");
    none(&waiting(&planted("src/a.rs", "tokio::time::sleep(SHORT).await;\n#[cfg(test)]\nmod tests {}")));
    none(&waiting(&planted("tests/a.rs", "// sleep(1)\nlet text = \"sleep(1)\"; asleep();")));
}
