//! `sootmark bank check`: every problem of a bank, then one line with the count.
//!
//! Never says that an empty bank is in order.

use super::documents;
use crate::cli::Failure;
use crate::cli::sheet::{counted, hand_over};
use crate::domain::bank::{Bank, TemplateEntry};
use crate::domain::document::Problem;
use crate::domain::scenario::Machine;
use crate::domain::scenario::check::{check, twins};
use clap::Args;
use std::fmt::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Try every scenario on every machine it fits, over many seeds, and report every problem with file and line.
#[derive(Debug, Args)]
#[command(
    after_help = "EXIT CODES: 0 no problem; 1 problems, or the folder cannot be read; 2 the command line is wrong."
)]
pub(crate) struct Check {
    /// The folder of the bank. Left out: the bank that is built into the program.
    dir: Option<PathBuf>,
    /// How many seeds each scenario is tried with on each machine.
    #[arg(long, default_value_t = 200, value_name = "N", value_parser = clap::value_parser!(u64).range(1..))]
    seeds: u64,
}

impl Check {
    /// Runs the command.
    pub(crate) fn run(self) -> Result<ExitCode, Failure> {
        let (documents, mut problems) = documents(self.dir.as_deref())?;
        let (bank, broken) = Bank::read(&documents);
        problems.extend(broken);
        let templates: Vec<&TemplateEntry> = bank.templates().collect();
        let machines: Vec<Machine> = bank.machines().cloned().collect();
        problems.extend(tried(&templates, &machines, self.seeds));
        let all: Vec<_> = templates.iter().map(|entry| (entry.file.as_str(), &entry.template)).collect();
        problems.extend(twins(&all, &machines));
        if templates.is_empty() {
            let place = self.dir.map_or_else(|| "question-bank".to_owned(), |dir| dir.display().to_string());
            let message = "there is no scenario that could be tried; put files that end in .scenario into templates/<competence>/";
            problems.push(Problem::new(place, 0, "templates", message));
        }
        problems.sort();
        problems.dedup();
        let mut report = String::new();
        for problem in &problems {
            let _ = writeln!(report, "{problem}");
        }
        let _ = writeln!(
            report,
            "{} on {}, {} each: {}.",
            counted(templates.len(), "scenario"),
            counted(machines.len(), "machine"),
            counted(usize::try_from(self.seeds).unwrap_or(usize::MAX), "seed"),
            counted(problems.len(), "problem")
        );
        hand_over(&report)?;
        Ok(if problems.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE })
    }
}

/// What is wrong with the templates. All cores take the next one that nobody has taken.
fn tried(templates: &[&TemplateEntry], machines: &[Machine], seeds: u64) -> Vec<Problem> {
    let next = AtomicUsize::new(0);
    let work = || {
        let mut problems = Vec::new();
        while let Some(entry) = templates.get(next.fetch_add(1, Ordering::Relaxed)) {
            problems.extend(check(&entry.file, &entry.template, machines, seeds));
        }
        problems
    };
    let cores = std::thread::available_parallelism().map_or(2, usize::from);
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..cores).map(|_| scope.spawn(work)).collect();
        workers
            .into_iter()
            .flat_map(|worker| worker.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
            .collect()
    })
}
