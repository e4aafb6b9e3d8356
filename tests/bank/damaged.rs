//! Files of the bank that were damaged on the way, whatever their kind: read, or refused with reasons at lines that are there.
//!
//! Never says which reason is the right one; what is wrong in a whole bank is `broken`'s, what is wrong in a scenario `tests/bank/bad`'s.

use proptest::prelude::*;
use sootmark::domain::bank::{Bank, BankDocument, DocumentKind};
use sootmark::domain::document::Problem;
use sootmark::domain::units::TemperatureUnit;
use sootmark::web::lesson::{parts, problems};
use std::sync::LazyLock;

/// What the bank has beside scenarios: those are tried in `hostile`.
static FILES: LazyLock<Vec<BankDocument>> = LazyLock::new(|| {
    let files = sootmark::bank_files::embedded().into_iter();
    files.filter(|file| file.kind != DocumentKind::Template).collect()
});

/// What a slip of the hand, another editor or a bad copy leaves behind.
fn put() -> impl Strategy<Value = String> {
    let known = [
        "",
        "\n",
        "\r\n",
        "=",
        "[",
        "]",
        "[[",
        "]]",
        "\"",
        "\"\"\"",
        "'",
        "#",
        "{",
        "}",
        ",",
        "-",
        "1e400",
        "-1",
        "99999999999999999999",
        "true",
        "nan",
        "\u{FEFF}",
        "\0",
        "°C",
        "%",
        "```lamps\n",
        "```",
        "<script>",
        "all",
        " min",
    ];
    prop_oneof![4 => prop::sample::select(known.to_vec()).prop_map(str::to_owned), 1 => "\\PC{0,8}"]
}

/// A text with a stretch of it replaced.
fn changed(text: &str, at: usize, length: usize, put: &str) -> String {
    let letters: Vec<char> = text.chars().collect();
    let from = at % (letters.len() + 1);
    let to = (from + length).min(letters.len());
    let (before, after) = (letters[..from].iter(), letters[to..].iter());
    before.copied().chain(put.chars()).chain(after.copied()).collect()
}

fn are_there(problems: &[Problem], file: &str, text: &str) {
    for problem in problems.iter().filter(|problem| problem.file == file) {
        assert!(problem.line as usize <= text.lines().count() + 1, "{problem}");
        assert!(!problem.message.is_empty() && !problem.to_string().contains('\n'), "{problem:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_file_that_was_changed_anyhow_is_read_or_refused_at_lines_that_are_there(
        which in any::<prop::sample::Index>(),
        changes in proptest::collection::vec((any::<usize>(), 0_usize..40, put()), 1..5),
    ) {
        let mut files = FILES.clone();
        let file = &mut files[which.index(FILES.len())];
        file.text = changes.iter().fold(file.text.clone(), |text, (at, length, put)| changed(&text, *at, *length, put));
        let (name, text, kind) = (file.file.clone(), file.text.clone(), file.kind);
        let (bank, found) = Bank::read(&files);
        are_there(&found, &name, &text);
        if kind == DocumentKind::Lesson {
            let told = problems(&name, &text, &bank);
            are_there(&told, &name, &text);
            prop_assert_eq!(told.is_empty(), !format!("{:?}", parts(&text, &bank, TemperatureUnit::Celsius)).contains("Missing"));
        }
    }
}
