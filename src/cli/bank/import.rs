//! `sootmark bank import`: scenarios from files into the database, as a trainer's drafts or published in their name.
//!
//! Takes scenarios only: competences, machines, modules and schemes come from the server's own bank.

use super::documents;
use crate::actions::Deeds;
use crate::actions::import_templates::{Taken, take_as_drafts, take_published};
use crate::cli::{Failure, answer, say, start};
use crate::domain::bank::{BankDocument, DocumentKind};
use crate::domain::people::{Permission, allows};
use crate::store::{PersonId, people};
use clap::Args;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Take scenarios from files into the database, as a trainer's drafts or published.
#[derive(Debug, Args)]
#[command(
    after_help = "A draft goes its way in the program: its trainer sends it to review, another one publishes it. \
                        With --publish you answer for the review yourself.\n\n\
                        EXIT CODES: 0 taken in; 1 a file has a problem, or one was left out; 2 the command line is wrong."
)]
pub(crate) struct Import {
    /// The folder of a question bank; what stands below its templates folder is taken.
    folder: PathBuf,
    /// The e-mail address of the trainer in whose name they are taken.
    #[arg(long, value_name = "EMAIL")]
    by: String,
    /// Publish them instead, when the model finds nothing wrong with any of them.
    #[arg(long)]
    publish: bool,
}

impl Import {
    /// Runs the command.
    pub(crate) async fn run(self, settings: Option<&Path>) -> Result<ExitCode, Failure> {
        let (mut files, problems) = documents(Some(&self.folder))?;
        files.retain(|file| file.kind == DocumentKind::Template);
        if !problems.is_empty() {
            return Ok(refused(&problems));
        }
        if files.is_empty() {
            let folder = self.folder.display();
            return Err(format!("{folder}: there is no scenario below templates/. Name the folder above it.").into());
        }
        let settings = start::settings(settings)?;
        let deeds = start::deeds_on_what_is_there(&settings).await?;
        start::bank(&settings, &deeds).await?;
        let done = self.take(&deeds, &files).await;
        deeds.db.close().await?;
        done
    }

    async fn take(&self, deeds: &Deeds, files: &[BankDocument]) -> Result<ExitCode, Failure> {
        let trainer = self.trainer(deeds).await?;
        let taken = if self.publish {
            match take_published(deeds, trainer, files).await? {
                Ok(taken) => taken,
                Err(problems) => return Ok(refused(&problems)),
            }
        } else {
            take_as_drafts(deeds, trainer, files).await?
        };
        for (key, done) in &taken {
            let words = match done {
                Taken::Draft(draft) => format!("draft {draft}"),
                Taken::Version(version) => format!("version {version}"),
                Taken::Unchanged => "unchanged".to_owned(),
                Taken::Left => "left out: it is being written or was published just now".to_owned(),
            };
            answer(&format!("{key}: {words}"))?;
        }
        let left = taken.iter().any(|(_, done)| *done == Taken::Left);
        Ok(if left { ExitCode::FAILURE } else { ExitCode::SUCCESS })
    }

    async fn trainer(&self, deeds: &Deeds) -> Result<PersonId, Failure> {
        let found = people::find_by_email_norm(&deeds.db, &self.by.trim().to_lowercase()).await?;
        let writes = found.filter(|person| person.active && allows(person.role, Permission::WriteTemplates));
        Ok(writes.ok_or_else(|| format!("--by {}: nobody of this address writes scenarios here", self.by))?.id)
    }
}

fn refused(problems: &[crate::domain::document::Problem]) -> ExitCode {
    for problem in problems {
        say(&problem.to_string());
    }
    say("Nothing was taken in.");
    ExitCode::FAILURE
}
