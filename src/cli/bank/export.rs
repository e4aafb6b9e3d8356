//! `sootmark bank export`: every scenario that is in use in the database, as files of a question bank.
//!
//! Writes each text byte by byte as it was published, and never writes over a file that says something else.

use crate::cli::sheet::counted;
use crate::cli::{Failure, answer, say, start};
use crate::domain::bank::DocumentKind as Kind;
use crate::store::bank_documents::{DocumentKind, latest_published_of_kind};
use clap::Args;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Write every scenario that is in use in the database as files.
#[derive(Debug, Args)]
#[command(
    after_help = "The files stand below FOLDER/templates, as in a question bank. Retired scenarios and drafts are left out.\n\n\
                        EXIT CODES: 0 written; 1 a file there says something else, or cannot be written; 2 the command line is wrong."
)]
pub(crate) struct Export {
    /// The folder. It is made when it is not there.
    folder: PathBuf,
}

impl Export {
    /// Runs the command.
    pub(crate) async fn run(self, settings: Option<&Path>) -> Result<ExitCode, Failure> {
        let settings = start::settings(settings)?;
        let deeds = start::deeds_on_what_is_there(&settings).await?;
        start::bank(&settings, &deeds).await?;
        let documents = latest_published_of_kind(&deeds.db, DocumentKind::Template).await?;
        deeds.db.close().await?;
        let files: Vec<(PathBuf, String)> = documents
            .into_iter()
            .map(|document| (self.folder.join(Kind::Template.path(&document.key)), document.source))
            .collect();
        let differs =
            |(file, text): &&(PathBuf, String)| std::fs::read(file).is_ok_and(|there| there != text.as_bytes());
        let differing: Vec<&(PathBuf, String)> = files.iter().filter(differs).collect();
        if !differing.is_empty() {
            for (file, _) in &differing {
                say(&format!("{}: says something else already", file.display()));
            }
            return Err("nothing was written. Name an empty folder, or move these files away.".into());
        }
        for (file, text) in &files {
            let written =
                file.parent().map_or(Ok(()), std::fs::create_dir_all).and_then(|()| std::fs::write(file, text));
            written.map_err(|error| format!("{}: {error}", file.display()))?;
        }
        answer(&format!("{} written to {}", counted(files.len(), "scenario"), self.folder.display()))?;
        Ok(ExitCode::SUCCESS)
    }
}
