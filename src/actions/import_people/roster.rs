//! Reading a roster: a CSV text with one person per row. Reports every row that cannot be used, not only the first.
//!
//! Never looks into the database or the bank: whether a branch or a scheme exists or an address is taken is the deed's
//! question.

use crate::domain::document::RowLines;
use crate::domain::people::{BranchName, EmailAddress, PersonName, Role};
use std::collections::HashMap;
use std::fmt::Display;

/// The columns that a roster has, in any order. The last may be left out.
pub const COLUMNS: [&str; 5] = ["name", "email", "branch", "role", "scheme"];
const NEEDED: usize = 4;
/// People that one roster may bring; the rest go into a second.
const MOST_ROWS: usize = 5000;

/// One person of a roster.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Entry {
    /// The line of the file where the row begins.
    pub(super) line: u64,
    pub(super) name: PersonName,
    pub(super) email: EmailAddress,
    pub(super) branch: BranchName,
    pub(super) role: Role,
    pub(super) scheme: Option<String>,
}

/// What is wrong with one row, and what to do.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
pub struct RowProblem {
    /// The line of the file, counted from 1; the heading is a line too.
    pub line: u64,
    /// The column, or empty when it is about the whole row or file.
    pub column: String,
    /// What is wrong and what to write instead.
    pub message: String,
}

impl Display for RowProblem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "row {}", self.line)?;
        if !self.column.is_empty() {
            write!(f, ", {}", self.column)?;
        }
        write!(f, ": {}", self.message)
    }
}

pub(super) fn problem(line: u64, column: &str, message: impl Display) -> RowProblem {
    RowProblem { line, column: column.to_owned(), message: message.to_string() }
}

/// Reads a roster, with commas or semicolons between the columns.
pub(super) fn read(text: &str) -> (Vec<Entry>, Vec<RowProblem>) {
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    let heading = text.lines().next().unwrap_or_default();
    let delimiter = if heading.contains(';') && !heading.contains(',') { b';' } else { b',' };
    let mut reader =
        csv::ReaderBuilder::new().delimiter(delimiter).trim(csv::Trim::All).flexible(true).from_reader(text.as_bytes());
    let lines = RowLines::of(text);
    let line_of = |at: Option<&csv::Position>| at.map_or(0, |at| u64::from(lines.line(at.byte())));
    let columns = match reader.headers().map(Columns::find) {
        Ok(Ok(columns)) => columns,
        Ok(Err(problems)) => return (Vec::new(), problems),
        Err(error) => return (Vec::new(), vec![problem(1, "", error)]),
    };
    let (mut entries, mut problems) = (Vec::new(), Vec::new());
    let (mut seen, mut names) = (HashMap::new(), HashMap::new());
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                problems.push(problem(line_of(error.position()), "", format!("cannot be read as CSV: {error}")));
                continue;
            }
        };
        if record.iter().all(str::is_empty) {
            continue;
        }
        if entries.len() >= MOST_ROWS {
            let line = line_of(record.position());
            problems.push(problem(line, "", format!("more than {MOST_ROWS} people: put the rest into a second file")));
            break;
        }
        if let Some(entry) = columns.entry(&record, line_of(record.position()), &mut problems) {
            let same_address = seen.insert(entry.email.folded(), entry.line);
            let told_apart = (entry.name.as_str().to_lowercase(), entry.branch.folded());
            let same_name = names.insert(told_apart, entry.line);
            if let Some(first) = same_address {
                problems.push(problem(entry.line, "email", format!("is in row {first} already: keep one of the two")));
            } else if let Some(first) = same_name {
                problems.push(problem(entry.line, "name", alike(&format!("in row {first}"))));
            }
            entries.push(entry);
        }
    }
    if entries.is_empty() && problems.is_empty() {
        problems.push(problem(1, "", "there is nobody below the heading: add one row per person"));
    }
    (entries, problems)
}

/// Two people whom nobody could tell apart on a list of who may be sent.
pub(super) fn alike(place: &str) -> String {
    format!(
        "stands {place} already, at the same branch: take the row out, or, if they are two people, write the names so that \
         they can be told apart"
    )
}

/// Where each column stands.
struct Columns {
    at: [Option<usize>; COLUMNS.len()],
    count: usize,
}

impl Columns {
    fn find(heading: &csv::StringRecord) -> Result<Self, Vec<RowProblem>> {
        let mut problems = Vec::new();
        let mut at = [None; COLUMNS.len()];
        for (position, word) in heading.iter().enumerate() {
            let word = word.to_lowercase();
            match COLUMNS.iter().position(|column| *column == word) {
                Some(column) if at[column].is_some() => {
                    problems.push(problem(1, &word, "stands twice in the heading: keep one"));
                }
                Some(column) => at[column] = Some(position),
                None => problems.push(problem(
                    1,
                    &word,
                    "is no column of a roster. The heading is: name,email,branch,role (and scheme, if you want)",
                )),
            }
        }
        for (column, _) in COLUMNS.iter().zip(at).take(NEEDED).filter(|(_, found)| found.is_none()) {
            problems.push(problem(1, column, "is missing in the heading, which is: name,email,branch,role"));
        }
        if problems.is_empty() { Ok(Self { at, count: heading.len() }) } else { Err(problems) }
    }

    /// The person of a row; every problem of the row is added.
    fn entry(&self, record: &csv::StringRecord, line: u64, problems: &mut Vec<RowProblem>) -> Option<Entry> {
        if record.len() != self.count {
            let message =
                format!("has {} columns where the heading has {}: check the commas", record.len(), self.count);
            problems.push(problem(line, "", message));
            return None;
        }
        let cell = |column: usize| self.at[column].and_then(|at| record.get(at)).unwrap_or_default();
        let mut read = Read { line, problems };
        let name = read.cell(COLUMNS[0], PersonName::parse(cell(0)));
        let email = read.cell(COLUMNS[1], EmailAddress::parse(cell(1)));
        let branch = read.cell(COLUMNS[2], BranchName::parse(cell(2)));
        let role = read.cell(COLUMNS[3], role(cell(3)));
        let scheme = read.cell(COLUMNS[4], scheme(cell(4)));
        Some(Entry { line, name: name?, email: email?, branch: branch?, role: role?, scheme: scheme? })
    }
}

struct Read<'a> {
    line: u64,
    problems: &'a mut Vec<RowProblem>,
}

impl Read<'_> {
    fn cell<T, E: Display>(&mut self, column: &str, read: Result<T, E>) -> Option<T> {
        read.map_err(|message| self.problems.push(problem(self.line, column, message))).ok()
    }
}

fn role(cell: &str) -> Result<Role, String> {
    Role::from_id(cell)
        .ok_or_else(|| format!("\"{cell}\" is no role: write technician, trainer, service manager or administrator"))
}

fn scheme(cell: &str) -> Result<Option<String>, String> {
    let is_key = cell.len() <= 60 && cell.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-');
    if !is_key {
        return Err(format!("\"{cell}\" is no scheme's id, such as first-day: correct it or leave it empty"));
    }
    Ok((!cell.is_empty()).then(|| cell.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// What a roster gives: who, and what is wrong.
    fn check(text: &str, expected: (&[&str], &[&str])) {
        let (entries, problems) = read(text);
        let names: Vec<_> = entries.iter().map(|entry| entry.name.as_str()).collect();
        let problems: Vec<_> = problems.iter().map(ToString::to_string).collect();
        assert_eq!((names.as_slice(), problems.iter().map(String::as_str).collect::<Vec<_>>().as_slice()), expected);
    }

    #[test]
    fn a_good_roster_in_any_order_and_with_either_delimiter() {
        check(
            "name,email,branch,role,scheme\nAda Lovell,ada@example.org,Coldbrook,technician,first-day\n\
             \"Rook, Ben\",ben@example.org,Coldbrook,Service manager,\n\n",
            (&["Ada Lovell", "Rook, Ben"], &[]),
        );
        check("\u{FEFF}Role;Branch;Email;Name\r\ntrainer;Upper Tarn;c@example.org;Cleo\r\n", (&["Cleo"], &[]));
    }

    #[test]
    fn every_bad_row_is_reported_with_what_to_do() {
        check(
            "name,email,branch,role\n,ada,Coldbrook,boss\nBen,ben@example.org,,technician\nCleo,cleo@example.org\n\
             Dan,dan@example.org,Coldbrook,trainer\nDana,DAN@example.org,Coldbrook,trainer\n",
            (
                &["Dan", "Dana"],
                &[
                    "row 2, name: Write the person's name.",
                    "row 2, email: Write an e-mail address in the form name@example.org, without spaces.",
                    "row 2, role: \"boss\" is no role: write technician, trainer, service manager or administrator",
                    "row 3, branch: Write the branch's name, at most 100 characters.",
                    "row 4: has 2 columns where the heading has 4: check the commas",
                    "row 6, email: is in row 5 already: keep one of the two",
                ],
            ),
        );
    }

    #[test]
    fn a_row_is_named_by_its_line_whatever_ends_the_lines() {
        for ends in ["\n", "\r\n", "\r"] {
            let text = ["name,email,branch,role", "Ada,ada@example.org,Coldbrook,boss", "", "Ben,b,Coldbrook,trainer"]
                .join(ends);
            let lines: Vec<u64> = read(&text).1.into_iter().map(|problem| problem.line).collect();
            assert_eq!(lines, [2, 4], "{ends:?}");
        }
    }

    #[test]
    fn two_people_whom_nobody_could_tell_apart_are_refused() {
        check(
            "name,email,branch,role\nAda Lovell,ada@example.org,Coldbrook,technician\nada  lovell,al@example.org,coldbrook,trainer\n\
             Ada Lovell,ada@example.net,Upper Tarn,technician\n",
            (
                &["Ada Lovell", "ada lovell", "Ada Lovell"],
                &[
                    "row 3, name: stands in row 2 already, at the same branch: take the row out, or, if they are two people, write the \
                   names so that they can be told apart",
                ],
            ),
        );
    }

    #[test]
    fn a_heading_that_is_none_is_said_so() {
        check(
            "Ada Lovell,ada@example.org\n",
            (
                &[],
                &[
                    "row 1, ada lovell: is no column of a roster. The heading is: name,email,branch,role (and scheme, if you want)",
                    "row 1, ada@example.org: is no column of a roster. The heading is: name,email,branch,role (and scheme, if you want)",
                    "row 1, name: is missing in the heading, which is: name,email,branch,role",
                    "row 1, email: is missing in the heading, which is: name,email,branch,role",
                    "row 1, branch: is missing in the heading, which is: name,email,branch,role",
                    "row 1, role: is missing in the heading, which is: name,email,branch,role",
                ],
            ),
        );
        check("name,email,branch,role\n", (&[], &["row 1: there is nobody below the heading: add one row per person"]));
    }

    /// The same people as a spreadsheet would write them.
    fn written(entries: &[Entry]) -> String {
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record(COLUMNS).unwrap();
        for entry in entries {
            let scheme = entry.scheme.as_deref().unwrap_or_default();
            let row = [entry.name.as_str(), entry.email.as_str(), entry.branch.as_str(), entry.role.id(), scheme];
            writer.write_record(row).unwrap();
        }
        String::from_utf8(writer.into_inner().unwrap()).unwrap()
    }

    /// A cell that is right more often than not, with whatever people paste beside it.
    fn cell(right: &'static str) -> impl Strategy<Value = String> {
        prop_oneof![
            3 => Just(right.to_owned()),
            1 => "[ a-zA-Z0-9@.,;'é\"-]{0,12}",
            1 => "\\PC{0,8}",
        ]
    }

    fn row() -> impl Strategy<Value = String> {
        let cells = (
            cell("Ada Lovell"),
            "[a-z]{1,9}",
            cell("@example.org"),
            cell("Coldbrook"),
            cell("trainer"),
            cell("first-day"),
        );
        cells.prop_map(|(name, local, domain, branch, role, scheme)| {
            format!("{name} {local},{local}{domain},{branch},{role},{scheme}")
        })
    }

    proptest! {
        #[test]
        fn every_row_is_a_person_or_a_problem_and_who_was_read_reads_the_same_again(
            rows in proptest::collection::vec(row(), 0..6), text in ".{0,80}", ends in prop_oneof![Just("\n"), Just("\r\n"), Just("\r")],
        ) {
            for text in [format!("name,email,branch,role,scheme{ends}{}", rows.join(ends)), text] {
                let (entries, problems) = read(&text);
                prop_assert!(!entries.is_empty() || !problems.is_empty(), "nobody, and not a word why");
                let lines = text.split(['\r', '\n']).count() as u64;
                prop_assert!(problems.iter().all(|problem| (1..=lines).contains(&problem.line)), "{problems:?}");
                if problems.is_empty() {
                    let (again, problems) = read(&written(&entries));
                    prop_assert_eq!(problems, []);
                    let alike = again.into_iter().zip(&entries).filter(|(again, entry)| Entry { line: entry.line, ..again.clone() } == **entry);
                    prop_assert_eq!(alike.count(), entries.len());
                }
            }
        }
    }
}
