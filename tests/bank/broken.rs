//! Broken scenarios, one fault in each file of `bad/`, and what must be found in them: every finding with its line and,
//! where one word is at fault, its column, and nothing else.

use super::{common_practice, files, lexicon};
use sootmark::domain::document::Problem;
use sootmark::domain::scenario::check::check;
use sootmark::domain::scenario::template::Template;

/// What a file says is to be found in it.
#[derive(Debug)]
struct Expected<'t> {
    line: u32,
    /// Where the file says it.
    column: Option<u32>,
    part: &'t str,
}

impl Expected<'_> {
    fn is(&self, problem: &Problem) -> bool {
        let column = self.column.is_none_or(|column| column == problem.column);
        problem.line == self.line && column && problem.message.contains(self.part)
    }
}

/// `# finding: LINE: part of the message` or `# finding: LINE:COLUMN: part`, as the first lines of a file say it.
fn expected(text: &str) -> Vec<Expected<'_>> {
    let lines = text.lines().map_while(|line| line.strip_prefix("# finding: "));
    lines
        .map(|line| {
            let (place, part) = line.split_once(": ").expect("a place and a message");
            let (line, column) = place.split_once(':').map_or((place, None), |(line, column)| (line, Some(column)));
            let number = |digits: &str| digits.parse().expect("a number");
            Expected { line: number(line), column: column.map(number), part }
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
        for one in expected.iter().filter(|one| !found.iter().any(|problem| one.is(problem))) {
            wrong.push(format!("{file}: not found: {one:?}"));
        }
        let unexpected = found.iter().filter(|problem| !expected.iter().any(|one| one.is(problem)));
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
