//! `sootmark bank export-qti` and `sootmark bank import-qti`: questions for another system, and drafts from one.
//!
//! Its seed is its own: no question of an examination or of somebody's practice can be handed over with it. Writes a
//! draft only under a name that this program made, and never over a file that is there.

use super::documents;
use crate::cli::Failure;
use crate::cli::sheet::{counted, hand_over};
use crate::domain::bank::{Bank, TemplateEntry};
use crate::domain::document::nearest;
use crate::domain::scenario::generate::{Machine, Seed, generate_all};
use crate::domain::units::TemperatureUnit;
use crate::exchange::{self, Draft, Form, Package};
use clap::Args;
use std::fmt::Write as _;
use std::fs::{self, OpenOptions};
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Write questions, their answers and explanations as a QTI 3.0 package for another system.
#[derive(Debug, Args)]
#[command(
    after_help = "Each form asks every named scenario once; form by form the seed goes up by one. The package holds \
                  the right answers. It was not validated against the XSD of QTI 3.0, which was not to be had.\n\n\
                  EXIT CODES: 0 written; 1 no such scenario or machine, no question came out, or the file cannot be \
                  written; 2 the command line is wrong."
)]
pub(crate) struct Export {
    /// The scenarios, such as fire/straw-under-the-boom. Left out: every scenario that fits the machine.
    templates: Vec<String>,
    /// The package to write; a file that is there is replaced.
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// The machine's id.
    #[arg(long, value_name = "ID")]
    machine: String,
    /// The first form's seed.
    #[arg(long, default_value_t = 1, value_name = "N", value_parser = clap::value_parser!(u64).range(..1 << 62))]
    seed: u64,
    /// How many forms; each has the next seed.
    #[arg(long, default_value_t = 1, value_name = "K", value_parser = clap::value_parser!(u64).range(1..=100))]
    count: u64,
    /// The folder of the bank. Left out: the bank that is built into the program.
    #[arg(long, value_name = "DIR")]
    bank: Option<PathBuf>,
}

impl Export {
    /// Runs the command.
    pub(crate) fn run(self) -> Result<ExitCode, Failure> {
        let (documents, _) = documents(self.bank.as_deref())?;
        let (bank, _) = Bank::read(&documents);
        let machine = bank.machine(&self.machine).ok_or_else(|| {
            let ids: Vec<&str> = bank.machines().map(|machine| machine.profile.id.as_str()).collect();
            format!("--machine {}: there is no such machine; known are {}", self.machine, ids.join(", "))
        })?;
        let entries = self.entries(&bank)?;
        let forms = (self.seed..self.seed + self.count).map(|seed| form(&entries, machine, seed));
        let forms: Vec<Form> = forms.collect::<Result<_, _>>()?;
        let questions = forms.first().map_or(0, |form| form.questions.len());
        let identifier = format!("sootmark.{}.{}", self.machine, self.seed);
        let bytes = exchange::export(&Package { identifier, forms })?;
        fs::write(&self.out, bytes).map_err(|error| format!("--out {}: {error}", self.out.display()))?;
        hand_over(&format!(
            "{}: {}, {} each.\n",
            self.out.display(),
            counted(usize::try_from(self.count).unwrap_or(usize::MAX), "form"),
            counted(questions, "question")
        ))?;
        Ok(ExitCode::SUCCESS)
    }

    /// The scenarios that are asked; a named one that does not fit is an error, not left out.
    fn entries<'b>(&self, bank: &'b Bank) -> Result<Vec<&'b TemplateEntry>, Failure> {
        let fits = |entry: &TemplateEntry| entry.template.fits(&self.machine);
        let mut entries = Vec::new();
        for wanted in &self.templates {
            let Some(entry) = bank.template(wanted) else {
                let known = bank.templates().map(|entry| entry.template.id.as_str());
                let meant = nearest(wanted, known).map(|meant| format!("; did you mean {meant}?")).unwrap_or_default();
                let hint = "sootmark bank check lists those that are broken";
                return Err(format!("there is no scenario {wanted} in order{meant} ({hint})").into());
            };
            if !fits(entry) {
                return Err(format!("the scenario {wanted} does not fit --machine {}", self.machine).into());
            }
            if !entries.iter().any(|known: &&TemplateEntry| known.template.id == *wanted) {
                entries.push(entry);
            }
        }
        if self.templates.is_empty() {
            entries.extend(bank.templates().filter(|entry| fits(entry)));
        }
        if entries.is_empty() {
            return Err(format!("no scenario of the bank fits --machine {}", self.machine).into());
        }
        Ok(entries)
    }
}

fn form(entries: &[&TemplateEntry], machine: &Machine, seed: u64) -> Result<Form, Failure> {
    let secret = *b"handing over questions to others";
    let mut questions = Vec::new();
    for entry in entries {
        let drawn = Seed { secret, stream: seed };
        let made = generate_all(&entry.template, entry.version, machine, drawn, TemperatureUnit::Celsius)
            .map_err(|error| format!("{} (on {}, seed {seed}): {error}", entry.file, machine.profile.id))?;
        questions.extend(made);
    }
    Ok(Form { title: format!("{}, form {seed}", machine.profile.name), questions })
}

/// Take the plain questions of a QTI 3.0 package in, as drafts of scenarios that you finish.
#[derive(Debug, Args)]
#[command(
    after_help = "A draft has the story, the question, the options and their explanations. What is right is left open: \
                  the model supplies it, so you write how it knows. Put finished drafts into templates/<competence>/ of a \
                  bank; sootmark bank check reports what is still open.\n\n\
                  EXIT CODES: 0 everything was taken; 1 something was not, or a file cannot be read or written; 2 the \
                  command line is wrong."
)]
pub(crate) struct Import {
    /// The package.
    package: PathBuf,
    /// The folder for the drafts; it is made when it is not there, and no file in it is replaced.
    #[arg(long, value_name = "FOLDER")]
    out: PathBuf,
}

impl Import {
    /// Runs the command.
    pub(crate) fn run(self) -> Result<ExitCode, Failure> {
        let package = fs::read(&self.package).map_err(|error| format!("{}: {error}", self.package.display()))?;
        let taken = exchange::import(&package);
        let place = |draft: &Draft| self.out.join(format!("{}.scenario", draft.name));
        if let Some(there) = taken.drafts.iter().map(place).find(|path| path.symlink_metadata().is_ok()) {
            return Err(format!("{} is there already; name another folder with --out", there.display()).into());
        }
        if !taken.drafts.is_empty() {
            fs::create_dir_all(&self.out).map_err(|error| format!("--out {}: {error}", self.out.display()))?;
        }
        let mut report = String::new();
        for draft in &taken.drafts {
            let path = place(draft);
            write_new(&path, &draft.text).map_err(|error| format!("{}: {error}", path.display()))?;
            let _ = writeln!(report, "{}: draft of {}", path.display(), draft.from);
        }
        let package = self.package.display();
        for problem in &taken.problems {
            let between = if problem.file.is_empty() { "" } else { "/" };
            let _ = writeln!(report, "{package}{between}{problem}");
        }
        let not_taken = counted(taken.problems.len(), "finding");
        let _ = writeln!(report, "{}, {not_taken}.", counted(taken.drafts.len(), "draft"));
        hand_over(&report)?;
        let whole = taken.problems.is_empty() && !taken.drafts.is_empty();
        Ok(if whole { ExitCode::SUCCESS } else { ExitCode::FAILURE })
    }
}

fn write_new(path: &Path, text: &str) -> std::io::Result<()> {
    OpenOptions::new().write(true).create_new(true).open(path)?.write_all(text.as_bytes())
}
