//! The trainers' page on writing a scenario: its examples are scenarios that pass the check, one for each kind.

use super::shipped;
use sootmark::domain::scenario::Kind;
use sootmark::domain::scenario::check::check;
use sootmark::domain::scenario::generate::Machine;
use sootmark::domain::scenario::template::Template;

const PAGE: &str = include_str!("../../question-bank/GRAMMAR.md");

/// The fenced blocks that are whole scenarios, each with the page's line before it.
fn examples() -> Vec<(usize, String)> {
    let mut examples = Vec::new();
    let mut open: Option<(usize, String)> = None;
    for (line, text) in PAGE.lines().enumerate() {
        match (text.starts_with("```"), &mut open) {
            (true, None) => open = Some((line + 1, String::new())),
            (true, Some(_)) => examples.extend(open.take().filter(|(_, block)| block.starts_with("title:"))),
            (false, Some((_, block))) => {
                block.push_str(text);
                block.push('\n');
            }
            (false, None) => {}
        }
    }
    assert_eq!(open, None, "a block is left open");
    examples
}

#[test]
fn each_example_passes_the_check_and_every_kind_has_one() {
    let bank = shipped();
    let machines: Vec<Machine> = bank.machines().cloned().collect();
    let mut kinds = Vec::new();
    for (line, text) in examples() {
        let file = format!("GRAMMAR.md, the example below line {line}");
        let template = Template::read("example/of-the-page", &file, &text, &bank.lexicon());
        let template = template.unwrap_or_else(|problems| panic!("{problems:#?}"));
        assert_eq!(check(&file, &template, &machines, 200), [], "{file}");
        kinds.extend(template.kind());
    }
    for kind in Kind::ALL {
        assert!(kinds.contains(&kind), "there is no example of the kind \"{}\"", kind.words());
    }
}
