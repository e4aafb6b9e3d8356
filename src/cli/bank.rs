//! `sootmark bank`: check a question bank, see what it asks about, look at the questions that come out of it, hand them
//! to other systems, take drafts in, list the misconceptions; scenarios out of the database as files, and files in.
//!
//! Only `export` and `import` touch the database, and no command changes a file that is there.

mod check;
mod coverage;
mod export;
mod import;
mod qti;
mod sample;

use super::Failure;
use super::sheet::Sheet;
use crate::bank_files;
use crate::domain::bank::BankDocument;
use crate::domain::document::Problem;
use crate::domain::scenario::misconception;
use clap::Subcommand;
use std::path::Path;
use std::process::ExitCode;

/// Check a question bank, look at what it asks, take scenarios out of the database and in again.
#[derive(Debug, Subcommand)]
pub(super) enum Bank {
    /// Try every scenario on every machine it fits, over many seeds, and report every problem with file and line.
    Check(check::Check),
    /// Show what the bank asks about, and what it leaves out.
    Coverage(coverage::Coverage),
    /// Print questions of one scenario with the right answer and the reasons.
    Sample(sample::Sample),
    /// Write every scenario that is in use in the database as files.
    Export(export::Export),
    /// Take scenarios from files into the database, as a trainer's drafts or published.
    Import(import::Import),
    /// Write questions, their answers and explanations as a QTI 3.0 package for another system.
    ExportQti(qti::Export),
    /// Take the plain questions of a QTI 3.0 package in, as drafts of scenarios that you finish.
    ImportQti(qti::Import),
    /// List the misconceptions that scenarios can name, in plain words.
    Misconceptions,
}

impl Bank {
    /// Runs the command.
    pub(super) async fn run(self, settings: Option<&Path>) -> Result<ExitCode, Failure> {
        match self {
            Self::Check(check) => check.run(),
            Self::Coverage(coverage) => coverage.run(),
            Self::Sample(sample) => sample.run(),
            Self::Export(export) => export.run(settings).await,
            Self::Import(import) => import.run(settings).await,
            Self::ExportQti(export) => export.run(),
            Self::ImportQti(import) => import.run(),
            Self::Misconceptions => misconceptions(),
        }
    }
}

fn misconceptions() -> Result<ExitCode, Failure> {
    let mut sheet = Sheet::default();
    for (place, each) in misconception::ALL.iter().enumerate() {
        if place > 0 {
            sheet.gap();
        }
        sheet.line(&format!("{}: {}", each.id, each.name));
        sheet.beside("Believes", each.believes);
        sheet.beside("Teach", each.teach);
    }
    sheet.hand_over()?;
    Ok(ExitCode::SUCCESS)
}

/// The documents of the built-in bank or, where a folder is named, of that folder; messages then name the folder.
fn documents(folder: Option<&Path>) -> Result<(Vec<BankDocument>, Vec<Problem>), Failure> {
    let Some(folder) = folder else { return Ok((bank_files::embedded(), Vec::new())) };
    let (mut documents, mut problems) =
        bank_files::of_folder(folder).map_err(|error| format!("{}: {error}. Name a folder.", folder.display()))?;
    let files = documents.iter_mut().map(|document| &mut document.file);
    for file in files.chain(problems.iter_mut().map(|problem| &mut problem.file)) {
        if let Some(path) = file.strip_prefix("question-bank/") {
            *file = folder.join(path).display().to_string();
        }
    }
    Ok((documents, problems))
}
