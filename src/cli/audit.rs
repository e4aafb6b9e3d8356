//! `sootmark audit verify`: follows the chained record and holds what it tells of against the database.
//!
//! Reads only, and never says that something is proved which cannot be: it names what the record does not bind.

use super::{Failure, answer, say, start};
use crate::actions::check_record::{RecordChecked, check_record};
use crate::store::record::{ChainFault, Verification};
use clap::{Args, Subcommand};
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::Path;
use std::process::ExitCode;

/// It could not be checked.
const NOT_CHECKED: u8 = 3;

/// How many characters of a hash an entry of the record has.
const HASH_LENGTH: usize = 64;

/// How one is recognised.
const A_HEAD: &str = "A head has 64 digits of 0-9 a-f.";

/// Check the record.
#[derive(Debug, Subcommand)]
pub(super) enum Audit {
    /// Follow the record's chain from its first entry to its end, and grade every examination again.
    Verify(Verify),
}

/// Follows the chain and grades again.
#[derive(Debug, Args)]
#[command(after_help = HELP)]
pub(super) struct Verify {
    /// A head that was printed or exported earlier, or a file in which one stands; may be given more than once.
    #[arg(long, value_name = "HASH or FILE")]
    head: Vec<String>,
}

const HELP: &str = "The database is the one of the settings. It is only read, and may be served meanwhile.

Checked is: that each entry of the record follows on the one before and says what it said when it was written; that
each head given with --head is in the chain; that each examination that was handed in has the questions, answers and
grades that were put on record, and that grading it again gives the same; that what was proposed on it, its decisions
and certificates follow from that and from the record; that the talks and the documents of the question bank are those
on record; that each person's role, branch and permission to sign in are those of the last entry that tells of them.

A chain that somebody has written anew to its end, or cut short with its end, looks whole. Only a head that was kept
elsewhere shows it: the lists and files of who is qualified name one, and so does this command. In a JSON file with a
record_head, as `sootmark people export` writes it, that is the head; in another file only one hash may stand.

Not checked, because it is not on record:
- practice, answers of examinations that are still open, and people's names;
- of examinations whose entry tells of no proposal, as in older releases: what somebody brought (a certificate by another
  scheme, a practical task), where the scheme asks for it, until the decision; and which machines no question asked about;
- role and branch of people who were brought in before their invitation told them, until they are first changed; and
  whether a person was put into the table past the program.

EXIT CODES: 0 everything fits; 1 something does not; 2 the command line is wrong; 3 it could not be checked.";

impl Audit {
    /// Runs the command.
    pub(super) async fn run(self, settings: Option<&Path>) -> Result<ExitCode, Failure> {
        let Self::Verify(verify) = self;
        let heads = match heads(&verify.head) {
            Ok(heads) => heads,
            Err(wrong) => {
                say(&format!("Sootmark: {wrong}"));
                return Ok(ExitCode::from(2));
            }
        };
        let told = checked(settings, &heads).await.and_then(|found| told(&found, heads.len()));
        told.or_else(|Failure(message)| {
            say(&format!("Sootmark: {message}. Nothing was checked."));
            Ok(ExitCode::from(NOT_CHECKED))
        })
    }
}

async fn checked(settings: Option<&Path>, heads: &[String]) -> Result<RecordChecked, Failure> {
    let db = start::reader(&start::settings(settings)?).await?;
    let found = check_record(&db.snapshot().await?, heads).await?;
    db.close().await?;
    Ok(found)
}

/// The heads that were given: each a hash, or a file in which one stands.
fn heads(given: &[String]) -> Result<Vec<String>, String> {
    given.iter().map(|text| if is_hash(text) { Ok(text.to_lowercase()) } else { head_in(text) }).collect()
}

/// The head in a file. Other SHA-256 may stand in an export beside it: whoever took those for heads would raise a false alarm.
fn head_in(file: &str) -> Result<String, String> {
    let read = std::fs::read(file).map_err(|error| format!("--head {file}: is no hash, and as a file: {error}"))?;
    let json = serde_json::from_slice::<Value>(&read).unwrap_or_default();
    if let Some(head) = json.get("record_head") {
        let head = head.as_str().filter(|head| is_hash(head)).map(str::to_lowercase);
        return head.ok_or_else(|| format!("--head {file}: what stands there as record_head is no head. {A_HEAD}"));
    }
    let read = String::from_utf8_lossy(&read);
    let words = read.split(|letter: char| !letter.is_ascii_alphanumeric()).filter(|word| is_hash(word));
    let found: BTreeSet<String> = words.map(str::to_lowercase).collect();
    let mut found = found.into_iter();
    let first = found.next().ok_or_else(|| format!("--head {file}: no head stands in the file. {A_HEAD}"))?;
    let others: Vec<String> = found.collect();
    if others.is_empty() {
        return Ok(first);
    }
    Err(format!(
        "--head {file}: more than one hash stands in the file, and any could be the head: {first}, {}. Give each that is \
         one by itself, with a --head of its own.",
        others.join(", ")
    ))
}

fn is_hash(text: &str) -> bool {
    text.len() == HASH_LENGTH && text.bytes().all(|byte| byte.is_ascii_hexdigit())
}

fn told(found: &RecordChecked, heads: usize) -> Result<ExitCode, Failure> {
    match &found.chain {
        Verification::Whole { entries, last_hash } => {
            answer(&format!("The chain is whole. Entries: {entries}, each follows on the one before."))?;
            if heads > 0 {
                answer(&format!("Heads given with --head: {heads}, all in the chain."))?;
            }
            answer(&format!("Head: {last_hash}"))?;
            answer("Keep this head outside the database, and give it with --head at the next check.")?;
        }
        broken => answer(&broken_in_words(broken))?,
    }
    answer(&format!("Examinations handed in and graded again: {}. Still open: {}.", found.concluded, found.open))?;
    if found.not_bound > 0 {
        answer(&format!(
            "{} of them from before digests were put on record: graded again, but not bound to the record. `sootmark \
             replay` compares their questions with versions and seed.",
            found.not_bound
        ))?;
    }
    let (talks, documents) = (found.talks, found.documents);
    answer(&format!("Compared with the record: {talks} talks, {documents} versions of documents."))?;
    if found.documents_not_bound > 0 {
        answer(&format!("{} of the documents from before digests were put on record.", found.documents_not_bound))?;
    }
    for fault in &found.faults {
        answer(&format!("DOES NOT FIT: {fault}"))?;
    }
    if found.is_whole() {
        answer("Everything that is on record fits.")?;
        return Ok(ExitCode::SUCCESS);
    }
    answer(
        "What to do: change nothing, keep this database as it is, and compare it with the last backup that was whole. \
         Until then, trust no qualification that rests on what is named here.",
    )?;
    Ok(ExitCode::FAILURE)
}

fn broken_in_words(chain: &Verification) -> String {
    match chain {
        Verification::Whole { .. } => String::new(),
        Verification::Broken { entry, fault: ChainFault::Changed } => format!(
            "DOES NOT FIT: entry {entry} of the record does not say what it said when it was written. Nothing from it on \
             is proved."
        ),
        Verification::Broken { entry, fault: ChainFault::DoesNotFollow } => format!(
            "DOES NOT FIT: entry {entry} of the record does not follow on the one before it: an entry was removed, put \
             in or moved. Nothing from it on is proved."
        ),
        Verification::HeadMissing { head, entries } => format!(
            "DOES NOT FIT: the chain holds in itself with {entries} entries, but the head {head} is the hash of none of \
             them. The record was written anew or cut short since that head was kept, or the head is of another database."
        ),
        Verification::CutShort { found, expected } => format!(
            "DOES NOT FIT: the chain has {found} entries and should have {expected}, or its end is not the end that was \
             noted: its last entries are gone or were added past the program."
        ),
    }
}
