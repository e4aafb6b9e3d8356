//! `sootmark record export-xapi`: attempts and results as statements of xAPI 2.0, one JSON object a line.
//!
//! Never says what an open examination asks, and names people only when asked to.

use super::{Failure, answer, say, start};
use crate::actions::{PastBank, read_answer, read_question};
use crate::exchange::xapi::{Actor, Answered, Ended, Sitting, statements};
use crate::store::attempts::{self, Attempt, AttemptKind, AttemptState};
use crate::store::read::record_head::record_head;
use crate::store::{Db, PersonId, StoreError, people};
use clap::{Args, Subcommand};
use std::collections::BTreeMap;
use std::fs::OpenOptions;
use std::io::{BufWriter, Write as _};
use std::os::unix::fs::OpenOptionsExt as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Write out what is on record.
#[derive(Debug, Subcommand)]
pub(super) enum Record {
    /// Attempts and results as statements of xAPI 2.0 (IEEE 9274.1.1), one JSON object a line.
    ExportXapi(ExportXapi),
}

/// Statements of xAPI.
#[derive(Debug, Args)]
#[command(
    after_help = "Verbs: attempted; answered, for each graded answer; completed, and passed or failed, for each examination \
                  that was handed in. A person is the account with their number at the program's address (setting \
                  public_address). Ids stay the same each time, as long as that address does. Afterwards the record's \
                  head is printed: `sootmark audit verify --head` finds it again.\n\n\
                  EXIT CODES: 0 written; 1 it cannot be written or read; 2 the command line is wrong."
)]
pub(super) struct ExportXapi {
    /// The file. It must not be there yet; only its owner can read it.
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// Name people by their name and e-mail address instead of their number.
    #[arg(long)]
    with_email: bool,
}

impl Record {
    /// Runs the command.
    pub(super) async fn run(self, settings: Option<&Path>) -> Result<ExitCode, Failure> {
        let Self::ExportXapi(asked) = self;
        let settings = start::settings(settings)?;
        let origin = settings.public_origin();
        let db = start::reader(&settings).await?;
        let wrong = |error: std::io::Error| format!("--out {}: {error}", asked.out.display());
        let file = OpenOptions::new().write(true).create_new(true).mode(0o600).open(&asked.out).map_err(wrong)?;
        let mut file = BufWriter::new(file);
        let past = PastBank::read(&db).await?;
        let mut actors = BTreeMap::new();
        let mut count = 0;
        for attempt in attempts::all(&db).await? {
            let actor = actor(&db, &mut actors, attempt.person_id, asked.with_email).await?;
            for statement in statements(&origin, &sitting(&db, &past, &attempt, actor).await?) {
                writeln!(file, "{statement}").map_err(wrong)?;
                count += 1;
            }
        }
        file.flush().map_err(wrong)?;
        let head = record_head(&db).await?;
        db.close().await?;
        answer(&format!("Statements written to {}: {count}", asked.out.display()))?;
        say(&format!("Record head: {} ({} entries). Keep it with the file.", head.hash, head.entries));
        Ok(ExitCode::SUCCESS)
    }
}

async fn actor(
    db: &Db,
    known: &mut BTreeMap<PersonId, Actor>,
    person: PersonId,
    with_email: bool,
) -> Result<Actor, StoreError> {
    if let Some(actor) = known.get(&person) {
        return Ok(actor.clone());
    }
    let named = if with_email {
        let found = people::by_id(db, person).await?;
        Some((found.display_name, found.email))
    } else {
        None
    };
    let actor = Actor { number: person.0, named };
    known.insert(person, actor.clone());
    Ok(actor)
}

async fn sitting(db: &Db, past: &PastBank, attempt: &Attempt, actor: Actor) -> Result<Sitting, StoreError> {
    let (path, title) = match attempt.kind {
        AttemptKind::Practice => {
            let module = attempt.module_key.clone().unwrap_or_default();
            (format!("practise/{module}"), format!("Practice: {module}"))
        }
        AttemptKind::Examination => {
            let key = attempt.scheme_key.clone().unwrap_or_default();
            let version = attempt.scheme_version.unwrap_or_default();
            let scheme = past.scheme(&key, u32::try_from(version).unwrap_or_default());
            (format!("examine/{key}/{version}"), scheme.map_or_else(|_| key.clone(), |scheme| scheme.title))
        }
    };
    let open = attempt.kind == AttemptKind::Examination && attempt.state == AttemptState::Open;
    let result = attempts::find_result(db, attempt.id).await?;
    let ended = match (result, attempt.submitted_at) {
        (Some(result), Some(at)) => Some(Ended { at, share: result.score / 100.0, passed: result.passed }),
        _ => None,
    };
    Ok(Sitting {
        number: attempt.id.0,
        actor,
        path,
        title,
        began: attempt.started_at,
        answered: if open { Vec::new() } else { answered(db, attempt).await? },
        ended,
    })
}

async fn answered(db: &Db, attempt: &Attempt) -> Result<Vec<Answered>, StoreError> {
    let questions = attempts::questions(db, attempt.id).await?;
    let grades = attempts::grades(db, attempt.id).await?;
    let mut answered = Vec::new();
    for saved in attempts::responses(db, attempt.id).await? {
        let question = questions.iter().find(|question| question.position == saved.position);
        let grade = grades.iter().find(|grade| grade.position == saved.position);
        let (Some(question), Some(grade)) = (question, grade) else { continue };
        answered.push(Answered {
            position: saved.position,
            shown: read_question(question)?.shown,
            answer: read_answer(&saved)?,
            at: saved.saved_at,
            right: grade.correct,
            points: grade.points,
        });
    }
    Ok(answered)
}
