//! `sootmark replay ATTEMPT`: makes an attempt again from versions and seed, and grades it again.
//!
//! Reads only. Never prints a seed, nor what an open examination asks.

use super::sheet::counted;
use super::{Failure, answer, say, start};
use crate::actions::PastBank;
use crate::actions::replay_attempt::{Replayed, replay_attempt};
use crate::domain::aftertreatment::MODEL_VERSION;
use crate::store::attempts::{AttemptKind, AttemptState};
use crate::store::{AttemptId, StoreError};
use clap::Args;
use std::path::Path;
use std::process::ExitCode;

/// The command line is wrong.
const WRONG_LINE: u8 = 2;
/// It could not be made again.
const CANNOT: u8 = 3;

/// Make an attempt again.
#[derive(Debug, Args)]
#[command(after_help = HELP)]
pub(super) struct Replay {
    /// The attempt's number, as in the address of its page.
    attempt: i64,
}

const HELP: &str = "The database is the one of the settings. It is only read, and may be served meanwhile.

Each question is made again from the template and the machine in the versions it was made from, the attempt's seed and
its temperature scale, and compared byte by byte with what was frozen. Each answer is graded again; an examination is
concluded again by its scheme's version. Works for examinations and for practice.

EXIT CODES: 0 the same; 1 something differs; 2 the command line is wrong or there is no such attempt; 3 it cannot be made
again: this program's model is another version (grades are still compared), or the database cannot be read.";

impl Replay {
    /// Runs the command.
    pub(super) async fn run(self, settings: Option<&Path>) -> Result<ExitCode, Failure> {
        let made = match replayed(settings, AttemptId(self.attempt)).await {
            Ok(Some(done)) => told(&done),
            Ok(None) => {
                say(&format!("Sootmark: ATTEMPT {}: there is no such attempt.", self.attempt));
                return Ok(ExitCode::from(WRONG_LINE));
            }
            Err(failure) => Err(failure),
        };
        made.or_else(|Failure(message)| {
            say(&format!("Sootmark: {message}. Nothing was made again."));
            Ok(ExitCode::from(CANNOT))
        })
    }
}

async fn replayed(settings: Option<&Path>, attempt: AttemptId) -> Result<Option<Replayed>, Failure> {
    let db = start::reader(&start::settings(settings)?).await?;
    let snapshot = db.snapshot().await?;
    let past = PastBank::read(&snapshot).await?;
    let done = match replay_attempt(&snapshot, &past, attempt).await {
        Ok(done) => Some(done),
        Err(StoreError::NotFound) => None,
        Err(error) => return Err(error.into()),
    };
    drop(snapshot);
    db.close().await?;
    Ok(done)
}

fn told(done: &Replayed) -> Result<ExitCode, Failure> {
    let kind = match done.kind {
        AttemptKind::Practice => "practice",
        AttemptKind::Examination => "examination",
    };
    let state = match done.state {
        AttemptState::Open => "open",
        AttemptState::Submitted => "handed in",
        AttemptState::Expired if done.ended => "ended by whoever watched",
        AttemptState::Expired => "handed in by the clock",
    };
    answer(&format!("Attempt {}: {kind}, {state}, {}.", done.attempt, counted(done.questions, "question")))?;
    answer(&format!("Questions made again, byte by byte the same: {}.", done.same_bytes))?;
    if let Some((count, version)) = done.other_model {
        answer(&format!(
            "Questions not made again: {count}. The filter model was version {version} then, and this program has version \
             {MODEL_VERSION}. Their grades were worked out from the frozen questions."
        ))?;
    }
    answer(&format!("Grades worked out again: {}.", done.regraded))?;
    if let Some(first) = done.differences.first() {
        answer(&format!("DIFFERS: {first}"))?;
        let more = done.differences.len() - 1;
        if more > 0 {
            answer(&format!("{} in all.", counted(more + 1, "difference")))?;
        }
        return Ok(ExitCode::FAILURE);
    }
    if done.other_model.is_some() {
        answer("Nothing that could be compared differs.")?;
        return Ok(ExitCode::from(CANNOT));
    }
    answer("Everything is the same.")?;
    Ok(ExitCode::SUCCESS)
}
