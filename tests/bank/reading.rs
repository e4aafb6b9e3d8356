//! Reading a bank: what is broken is left out and reported with its file, and all the rest stays in use.

use sootmark::bank_files::embedded;
use sootmark::domain::bank::{Bank, BankDocument, DocumentKind};
use sootmark::domain::document::Problem;

/// The shipped bank with the text of one file changed.
fn read(file: &str, change: impl Fn(&str) -> String) -> (Bank, Vec<Problem>) {
    let mut documents = embedded();
    let document = documents.iter_mut().find(|document| document.file.ends_with(file));
    let document = document.unwrap_or_else(|| panic!("the bank has no {file}"));
    document.text = change(&document.text);
    Bank::read(&documents)
}

/// How many machines, modules, schemes and templates there are.
fn counts(bank: &Bank) -> [usize; 4] {
    [bank.machines().count(), bank.modules().len(), bank.schemes().count(), bank.templates().count()]
}

#[test]
fn the_shipped_bank_is_whole() {
    let documents = embedded();
    let (bank, problems) = Bank::read(&documents);
    assert_eq!(problems, []);
    let of = |kind| documents.iter().filter(|document| document.kind == kind).count();
    let kinds = [DocumentKind::Machine, DocumentKind::Module, DocumentKind::Scheme, DocumentKind::Template];
    assert_eq!(counts(&bank), kinds.map(of));
    assert!(documents.iter().all(|document| document.version == 1));
}

#[test]
fn a_broken_template_is_left_out_alone() {
    let whole = counts(&super::shipped());
    let file = "templates/fire/straw-under-the-boom.scenario";
    let (bank, problems) = read(file, |text| text.replace("level: 2", "level: 9"));
    assert_eq!(problems.len(), 1, "{problems:?}");
    assert!(problems[0].file.ends_with(file) && problems[0].line == 3, "{problems:?}");
    assert!(bank.template("fire/straw-under-the-boom").is_none());
    assert_eq!(counts(&bank), [whole[0], whole[1], whole[2], whole[3] - 1]);
}

#[test]
fn a_broken_machine_takes_only_what_names_it_along() {
    let whole = counts(&super::shipped());
    let (bank, problems) = read("machines/lunnock-9.toml", |text| text.replace("[stop]", "[stopp]"));
    assert!(bank.machine("lunnock-9").is_none() && bank.machine("tarrel-60").is_some());
    assert!(problems.iter().any(|problem| problem.file.ends_with("lunnock-9.toml")), "{problems:?}");
    // Whatever else is reported names the machine that is gone.
    let others = problems.iter().filter(|problem| !problem.file.ends_with("lunnock-9.toml"));
    for problem in others.clone() {
        assert!(problem.message.contains("lunnock-9"), "{problem}");
    }
    let lost: std::collections::BTreeSet<&str> = others.map(|problem| problem.file.as_str()).collect();
    let left: usize = counts(&bank).iter().sum();
    assert_eq!(left, whole.iter().sum::<usize>() - 1 - lost.len());
    assert!(bank.templates().count() > whole[3] / 2, "templates for all machines stay");
}

#[test]
fn a_lesson_that_is_missing_is_reported_at_its_module() {
    let mut documents = embedded();
    documents.retain(|document| !document.file.ends_with("modules/fire-and-burns/02-hot-metal.md"));
    let (bank, problems) = Bank::read(&documents);
    assert!(bank.module("fire-and-burns").is_none());
    let at_module = |problem: &&Problem| problem.file.ends_with("fire-and-burns/module.toml");
    let found: Vec<&Problem> = problems.iter().filter(at_module).collect();
    assert!(found.len() == 1 && found[0].message.contains("02-hot-metal"), "{problems:?}");
    assert_eq!(counts(&bank)[3], counts(&super::shipped())[3], "no template is lost");
}

#[test]
fn nothing_at_all_is_an_empty_bank_and_no_panic() {
    let (bank, problems) = Bank::read(&[]);
    assert_eq!((counts(&bank), problems), ([0; 4], Vec::new()));
}

#[test]
fn rubbish_in_any_file_is_reported_and_spares_the_others() {
    // Every tenth template stands for the others: each costs a reading of the whole bank.
    let documents = embedded();
    let templates = documents.iter().filter(|document| document.kind == DocumentKind::Template).step_by(10);
    let not_read_alone = [DocumentKind::Template, DocumentKind::Lesson];
    let others = documents.iter().filter(|document| !not_read_alone.contains(&document.kind));
    for document in others.chain(templates) {
        let (bank, problems) = read(&document.file, |_| "= [\u{0}".to_owned());
        let own: Vec<&Problem> = problems.iter().filter(|problem| problem.file == document.file).collect();
        assert!(!own.is_empty(), "{} is rubbish and nobody said so", document.file);
        if document.kind != DocumentKind::Competences {
            assert!(counts(&bank).iter().sum::<usize>() > 60, "{} takes the bank along", document.file);
        }
    }
}

#[test]
fn every_document_is_found_where_its_path_says() {
    for BankDocument { kind, key, file, .. } in embedded() {
        let path = file.strip_prefix("question-bank/").expect("below the bank");
        assert_eq!(DocumentKind::of_path(path), Some((kind, key.clone())));
        assert_eq!(kind.path(&key), path);
    }
    for path in ["notes.txt", "machines/a.json", "modules/a/b/c.md", "templates/loose.scenario", ""] {
        assert_eq!(DocumentKind::of_path(path), None, "{path}");
    }
}
