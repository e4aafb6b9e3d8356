//! `sootmark bank coverage`: what a bank asks about, in tables of competences against the rest, and what it leaves out.
//!
//! Finds no fault: a hole may be meant.

use super::documents;
use crate::cli::sheet::{Sheet, counted};
use crate::cli::{Failure, say};
use crate::domain::bank::Bank;
use crate::domain::bank::coverage::{self, QUESTIONS, Table, Variety};
use clap::Args;
use std::path::PathBuf;
use std::process::ExitCode;

/// Show what the bank asks about, and what it leaves out.
#[derive(Debug, Args)]
#[command(after_help = "The tables count scenarios. A band counts when one of the questions falls into it.\n\n\
                  EXIT CODES: 0 printed; 1 the folder cannot be read; 2 the command line is wrong.")]
pub(crate) struct Coverage {
    /// The folder of the bank. Left out: the bank that is built into the program.
    dir: Option<PathBuf>,
    /// How many questions of each scenario are looked at; the machines that fit take turns.
    #[arg(long, default_value_t = QUESTIONS, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=100_000))]
    seeds: u64,
}

impl Coverage {
    /// Runs the command.
    pub(crate) fn run(self) -> Result<ExitCode, Failure> {
        let (documents, mut problems) = documents(self.dir.as_deref())?;
        let (bank, broken) = Bank::read(&documents);
        problems.extend(broken);
        for problem in &problems {
            say(&problem.to_string());
        }
        let coverage = coverage::Coverage::of(&bank, self.seeds);
        let mut sheet = Sheet::default();
        for table in &coverage.tables {
            write_table(&mut sheet, table);
            sheet.gap();
        }
        write_varieties(&mut sheet, &coverage.varieties);
        sheet.gap();
        let holes: &[String] = &coverage.holes;
        sheet.line(&format!("{}.", counted(holes.len(), "hole")));
        for hole in holes {
            sheet.line(hole);
        }
        sheet.hand_over()?;
        Ok(ExitCode::SUCCESS)
    }
}

/// A competence's name is at most this wide; longer ones push their numbers to the right.
const NAME: usize = 28;

fn write_table(sheet: &mut Sheet, Table { across, columns, rows }: &Table) {
    let wide = |column: &String| column.chars().count().max(4) + 2;
    let head: String = columns.iter().map(|column| format!("{column:>width$}", width = wide(column))).collect();
    sheet.line(&format!("{:NAME$}{head}", format!("Scenarios by {across}")));
    for row in rows {
        let name = format!("{}{}", row.competence, if row.mandatory { " *" } else { "" });
        let numbers = columns.iter().zip(&row.scenarios).map(|(column, scenarios)| {
            let number = if *scenarios == 0 { "none".to_owned() } else { scenarios.to_string() };
            format!("{number:>width$}", width = wide(column))
        });
        sheet.line(&format!("{name:NAME$}{}", numbers.collect::<String>()));
    }
    sheet.line("* mandatory");
}

fn write_varieties(sheet: &mut Sheet, varieties: &[Variety]) {
    sheet.line("Questions  Different  Answers  Scenario");
    for Variety { template, questions, different, answers, .. } in varieties {
        sheet.line(&format!("{questions:>9}  {different:>9}  {answers:>7}  {template}"));
    }
    sheet.line("Answers: right answers with their options, on one machine. Where it is 1, it can be learnt by heart.");
}
