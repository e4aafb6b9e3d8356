//! Broken scenarios, one fault in each file of `bad/`, and what must be found in them: every finding with its line, and
//! nothing else.

use super::{common_practice, files, lexicon};
use sootmark::domain::document::Problem;
use sootmark::domain::scenario::check::check;
use sootmark::domain::scenario::template::Template;

/// `# finding: LINE: part of the message`, as the first lines of a file say it.
fn expected(text: &str) -> Vec<(u32, &str)> {
    let lines = text.lines().map_while(|line| line.strip_prefix("# finding: "));
    lines
        .map(|line| {
            let (number, message) = line.split_once(": ").expect("a line and a message");
            (number.parse().expect("a line number"), message)
        })
        .collect()
}

fn found(file: &str, text: &str) -> Vec<Problem> {
    match Template::read(file, file, text, &lexicon()) {
        Ok(template) => check(file, &template, &[common_practice()], 40),
        Err(problems) => problems,
    }
}

#[test]
fn each_broken_scenario_is_found_out_and_for_nothing_else() {
    let mut wrong = Vec::new();
    let files = files("bad");
    assert!(files.len() >= 30, "{} broken scenarios", files.len());
    for path in files {
        let file = path.file_name().expect("a name").to_string_lossy();
        let text = std::fs::read_to_string(&path).expect("a scenario is text");
        let (expected, found) = (expected(&text), found(&file, &text));
        assert!(!expected.is_empty(), "{file} does not say what is wrong with it");
        let is =
            |problem: &Problem, (line, part): &(u32, &str)| problem.line == *line && problem.message.contains(part);
        for one in expected.iter().filter(|one| !found.iter().any(|problem| is(problem, one))) {
            wrong.push(format!("{file}: not found: {one:?}"));
        }
        let unexpected = found.iter().filter(|problem| !expected.iter().any(|one| is(problem, one)));
        wrong.extend(unexpected.map(|problem| format!("found without reason: {problem}")));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_scenario_that_is_too_large_is_not_read_at_all() {
    let text = format!("title: {}\n", "x".repeat(64 * 1024));
    let found = found("large", &text);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].message.contains("a scenario is at most 65536 bytes"), "{found:?}");
}
