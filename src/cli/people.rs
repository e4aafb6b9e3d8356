//! `sootmark people`: brings everyone of a roster in, or reports every bad row; writes out all there is about a person;
//! takes a person's name away when the law asks for it.

use super::{Failure, answer, say, start};
use crate::actions::anonymise_person::{Anonymised, anonymise_person};
use crate::actions::export_person::export_person;
use crate::actions::import_people::{Import, UnknownBranches, import_people};
use crate::domain::people::EmailAddress;
use clap::Subcommand;
use std::io::{Read as _, Write as _};
use std::os::unix::fs::OpenOptionsExt as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Bring people in, write out what there is about one, take one's name away.
#[derive(Debug, Subcommand)]
pub(super) enum People {
    /// Bring everyone of a roster in, or nobody: a CSV file with the heading name,email,branch,role (and scheme).
    /// Each gets an invitation by mail.
    Import {
        /// The roster; - reads stdin.
        file: PathBuf,
        /// Add branches that are not there yet, in the time zone of the settings.
        #[arg(long)]
        add_branches: bool,
    },
    /// Write all there is about a person into a file, as JSON, for whoever has a right to it.
    #[command(after_help = EXPORTED)]
    Export {
        /// The person's e-mail address.
        email: String,
        /// The file. It must not be there yet; only its owner can read it.
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
    },
    /// Take a person's name, address, password, sessions, invitations and mails away for good, when the law asks for it.
    #[command(after_help = ANONYMISED)]
    Anonymise {
        /// The person's e-mail address.
        email: String,
        /// Yes, for good: it cannot be undone.
        #[arg(long)]
        yes: bool,
    },
}

/// In lines that the help does not break again: what begins after two spaces is a member.
const EXPORTED: &str = "The file is one JSON object:
  format          \"sootmark person 1\"
  person          number, name, email, role, branch, temperature_unit, may_sign_in,
                  has_password, works_towards, known_since
  sessions        began, last_seen, ends, on
  one_time_codes  set_up, recovery_codes_left
  invitations     written, ends, used
  lessons_read    module, lesson, at
  attempts        number, kind, scheme, scheme_version, module, state, seconds_more, ended_by,
                  began, ended, score_percent, passed, and questions: position, competence,
                  mandatory, shown, answer, flagged, answered, right, points, misconceptions
  qualifications  competence, outcome (true: qualified), safety_miss, reason, valid_from,
                  valid_until, attempt, record_entry
  decisions       about examinations: attempt, proposed, proposed_at, decision, appeal,
                  decision_on_appeal
  certificates    number, attempt, scheme, scheme_version, valid_from, valid_until, machines,
                  events
  asked_for_a_refresher
                  what happened that asks for one: kind, machine, text, by, at
  talks           about the person's attempts, and held by the person: attempt, held_by, at,
                  note
  incidents       what was noted down in the person's examinations: attempt, did, text,
                  noted_by, at
  observations    practical tasks in which the person was watched: number, task, machine,
                  machine_version, watched_by, opened, steps, signed
  observed_others
                  practical tasks in which the person watched others: number, task, machine,
                  opened
  time_in_examinations
                  more time that the person gets: gets, reason, set_by, at
  told_to_do      what the person, their branch or their role was told to do, and what they told
                  others: number, kind, thing, due, by, at, withdrawn
  trainers        whom the person trains or trained, and who trains them: person, trainer, by,
                  at
  opens           access_keys (label, branch, at, revoked), and calendar_address_made
  letters         kind, subject, text, written
  letters_not_wanted
                  kind, since
  written         documents (key, version, at, text) and drafts (number, key, text, remark) for
                  the question bank
  record          number, at, by, deed, about, about_number, detail
  record_head     the end of the record's chain, for `sootmark audit verify --head`
Moments are in UTC (ISO 8601). Left out is what opens something: the password's hash, tokens, seeds, keys of questions.

EXIT CODES: 0 written; 1 nobody has this address, or the file cannot be written; 2 the command line is wrong.";

const ANONYMISED: &str = "Afterwards the person is called by their number, as in \"Person 17\", and can sign in no more.
Attempts, results, decisions and the record stay: they name people by number, and `sootmark audit verify` still finds
them whole. What others wrote in their own words (notes of talks, remarks, reasons) stays as it was written; backups and
files that were written out earlier are yours to deal with. It is put on record. It is refused for the last administrator
and while an examination is open.

EXIT CODES: 0 done; 1 refused, or nobody has this address; 2 the command line is wrong, or --yes is missing.";

impl People {
    /// Runs the command.
    pub(super) async fn run(self, settings: Option<&Path>) -> Result<ExitCode, Failure> {
        match self {
            Self::Import { file, add_branches } => import(settings, file, add_branches).await,
            Self::Export { email, out } => export(settings, &email, &out).await,
            Self::Anonymise { email, yes } => anonymise(settings, &email, yes).await,
        }
    }
}

async fn import(settings: Option<&Path>, file: PathBuf, add_branches: bool) -> Result<ExitCode, Failure> {
    let settings = start::settings(settings)?;
    let text = text_of(&file)?;
    let deeds = start::deeds(&settings).await?;
    // A roster names schemes: those of the bank that `serve` works with.
    start::bank(&settings, &deeds).await?;
    let origin = settings.public_origin();
    let unknown =
        if add_branches { UnknownBranches::Add { time_zone: settings.time_zone } } else { UnknownBranches::Refuse };
    let done = import_people(&deeds, None, &text, unknown).await?;
    deeds.db.close().await?;
    told(&file, &origin, done)
}

async fn export(settings: Option<&Path>, email: &str, out: &Path) -> Result<ExitCode, Failure> {
    let address = EmailAddress::parse(email)?;
    let db = start::reader(&start::settings(settings)?).await?;
    let found = export_person(&db.snapshot().await?, &address).await?;
    db.close().await?;
    let Some(person) = found else { return Err(nobody(email)) };
    let text = format!("{}\n", serde_json::to_string_pretty(&person)?);
    let made = std::fs::OpenOptions::new().write(true).create_new(true).mode(0o600).open(out);
    made.and_then(|mut file| file.write_all(text.as_bytes()))
        .map_err(|error| format!("--out {}: {error}", out.display()))?;
    answer(&format!("All there is about {email}: {}", out.display()))?;
    Ok(ExitCode::SUCCESS)
}

async fn anonymise(settings: Option<&Path>, email: &str, yes: bool) -> Result<ExitCode, Failure> {
    let address = EmailAddress::parse(email)?;
    if !yes {
        say(&format!("Nothing was changed. This takes {email} away for good: repeat it with --yes."));
        return Ok(ExitCode::from(2));
    }
    let settings = start::settings(settings)?;
    let deeds = start::deeds_on_what_is_there(&settings).await?;
    let done = anonymise_person(&deeds, &address).await?;
    let emptied = deeds.db.empty_log().await;
    deeds.db.close().await?;
    match done {
        Anonymised::Done { name, mails, notes } => {
            answer(&format!("{email} is called {name} from now on and can sign in no more. Mails removed: {mails}."))?;
            let letters = settings.data_folder.join("mail");
            if letters.is_dir() {
                let letters = letters.display();
                say(&format!("Letters were also written as files in {letters}; delete those to {email} yourself."));
            }
            if !matches!(emptied, Ok(true)) {
                say(
                    "The database's write-ahead log (the file beside it that ends in -wal) still holds what was taken \
                     away, because others read meanwhile. It goes when the last of them ends: stop `sootmark serve` and \
                     start it again.",
                );
            }
            if notes > 0 {
                say(&format!("Notes of talks that stay as they were written, because they are on record: {notes}."));
            }
            Ok(ExitCode::SUCCESS)
        }
        Anonymised::LastAdministrator => {
            Err("refused: this is the last administrator. Make somebody else one first.".into())
        }
        Anonymised::SittingOpen => {
            Err("refused: an examination is open. It must be handed in, or its time be over, first.".into())
        }
        Anonymised::NoSuchPerson => Err(nobody(email)),
    }
}

fn nobody(email: &str) -> Failure {
    Failure(format!("{email}: nobody has this address"))
}

fn told(file: &Path, origin: &str, done: Import) -> Result<ExitCode, Failure> {
    match done {
        Import::Done { people, branches } => {
            for branch in branches {
                answer(&format!("branch added: {branch}"))?;
            }
            answer(&format!("people brought in: {people}"))?;
            say(&format!("Their invitations link to {origin}, and leave as soon as `sootmark serve` runs."));
            Ok(ExitCode::SUCCESS)
        }
        Import::Refused(problems) => {
            for problem in &problems {
                say(&format!("{}: {problem}", file.display()));
            }
            let count =
                if problems.len() == 1 { "one problem".to_owned() } else { format!("{} problems", problems.len()) };
            say(&format!("Nobody was brought in: {count}."));
            Ok(ExitCode::FAILURE)
        }
    }
}

fn text_of(file: &Path) -> Result<String, Failure> {
    let mut bytes = Vec::new();
    let read = if file == Path::new("-") {
        std::io::stdin().read_to_end(&mut bytes)
    } else {
        std::fs::File::open(file).and_then(|mut open| open.read_to_end(&mut bytes))
    };
    read.map_err(|error| format!("{}: {error}", file.display()))?;
    String::from_utf8(bytes).map_err(|_| format!("{}: is not UTF-8. Save it as CSV UTF-8.", file.display()).into())
}
