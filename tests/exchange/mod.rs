//! Questions that leave for other systems and come from them, as QTI 3.0 packages.
//!
//! What is written is read back by an XML reader of another make, and the zip file by the few lines below.

mod grading;
mod hostile;
mod processor;
mod round_trip;
mod strangers;
mod structure;

use sootmark::bank_files::embedded;
use sootmark::domain::bank::Bank;
use sootmark::domain::scenario::generate::{Seed, generate_all};
use sootmark::domain::scenario::{Kind, Question};
use sootmark::domain::units::TemperatureUnit;
use sootmark::exchange::{Form, Package, export};
use std::collections::BTreeMap;
use std::io::{Cursor, Write as _};
use std::sync::LazyLock;
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

/// One question of every scenario, or every part of one case, on every machine that it fits.
static QUESTIONS: LazyLock<Vec<Question>> = LazyLock::new(|| {
    let (bank, problems) = Bank::read(&embedded());
    assert_eq!(problems, []);
    let mut questions = Vec::new();
    for machine in bank.machines() {
        for entry in bank.templates().filter(|entry| entry.template.fits(&machine.profile.id)) {
            let seed = Seed { secret: [7; 32], stream: 3 };
            let made = generate_all(&entry.template, entry.version, machine, seed, TemperatureUnit::Celsius);
            questions.extend(made.expect("the bank is in order"));
        }
    }
    for kind in Kind::ALL {
        assert!(questions.iter().any(|question| question.shown.kind == kind), "{kind:?} is tried");
    }
    questions
});

/// Two forms: one with every question, one with some of them once more.
fn package() -> Package {
    let form = |title: &str, questions: Vec<Question>| Form { title: title.to_owned(), questions };
    let some = QUESTIONS.iter().step_by(9).cloned().collect();
    let forms = vec![form("All <of> them & \"more\"", QUESTIONS.clone()), form("Some of them", some)];
    Package { identifier: "7 everything".to_owned(), forms }
}

fn exported() -> Vec<u8> {
    export(&package()).expect("a package")
}

/// The files of a zip file that compresses nothing, and the time that each claims to be of.
// Source: APPNOTE.TXT - .ZIP File Format Specification, 4.3.7 (local file header), field by field.
fn files(zip: &[u8]) -> BTreeMap<String, String> {
    let number = |at: usize, bytes: usize| {
        zip[at..at + bytes].iter().rev().fold(0_usize, |number, byte| number << 8 | usize::from(*byte))
    };
    let mut files = BTreeMap::new();
    let mut at = 0;
    while zip[at..].starts_with(b"PK\x03\x04") {
        assert_eq!(number(at + 8, 2), 0, "stored, not compressed");
        // 1 January 1980 (year 0, month 1, day 1), midnight: the first moment that the format can say.
        assert_eq!((number(at + 10, 2), number(at + 12, 2)), (0, 1 << 5 | 1), "the same time in every package");
        let (size, name, extra) = (number(at + 22, 4), number(at + 26, 2), number(at + 28, 2));
        let text = |from: usize, bytes: usize| String::from_utf8(zip[from..from + bytes].to_vec()).expect("UTF-8");
        let content = at + 30 + name + extra;
        assert!(files.insert(text(at + 30, name), text(content, size)).is_none(), "each name once");
        at = content + size;
    }
    assert!(zip[at..].starts_with(b"PK\x01\x02"), "after the files comes the directory");
    files
}

/// A package as a stranger makes it: compressed, in any order.
fn zipped<B: AsRef<[u8]>>(files: &[(&str, B)]) -> Vec<u8> {
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in files {
        writer.start_file(*name, SimpleFileOptions::default()).expect("a file");
        writer.write_all(bytes.as_ref()).expect("its bytes");
    }
    writer.finish().expect("a package").into_inner()
}

/// A manifest that names these files as questions.
fn manifest(items: &[&str]) -> String {
    let resource = |(number, href): (usize, &&str)| {
        format!(
            "<resource identifier=\"r{number}\" type=\"imsqti_item_xmlv3p0\" href=\"{href}\"><file href=\"{href}\"/></resource>\n"
        )
    };
    let resources: String = items.iter().enumerate().map(resource).collect();
    format!(
        "<manifest xmlns=\"http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1\" identifier=\"m\">\n<resources>\n{resources}</resources>\n</manifest>\n"
    )
}

/// A package with one question: its children, given below the head that every question has.
fn one_item(inside: &str) -> Vec<u8> {
    let item = format!(
        "<qti-assessment-item xmlns=\"http://www.imsglobal.org/xsd/imsqtiasi_v3p0\" identifier=\"q1\" title=\"A title\">\n{inside}</qti-assessment-item>\n"
    );
    zipped(&[("imsmanifest.xml", manifest(&["q.xml"])), ("q.xml", item)])
}
