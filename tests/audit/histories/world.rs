//! The program that a history happens to: the deeds on a database of its own, copied from one that was prepared once.

use crate::support::app::{BEGINNING, deeds_on};
use sootmark::actions::load_bank::{load_bank, refresh_bank};
use sootmark::actions::{BankInUse, Deeds};
use sootmark::bank_files;
use sootmark::clock::Clock;
use sootmark::domain::bank::{BankDocument, DocumentKind};
use sootmark::domain::people::{EmailAddress, PersonName, Role};
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::people::{self, NewPerson};
use sootmark::store::{self, BranchId, PersonId, StoreError, branches, write};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// The scheme of the histories: two questions on lamps, of which one must be right, and two on fire, which are mandatory.
pub(super) const SCHEME: &str = "yard";
/// The module to read before, and to practise.
pub(super) const MODULE: &str = "fire-and-burns";
/// How long a sitting may take, and how long a resit waits, in seconds.
pub(super) const TIME_LIMIT_S: i64 = 900;
pub(super) const RESIT_AFTER_S: i64 = 3600;
pub(super) const QUESTIONS: i32 = 4;

const SCHEME_TEXT: &str = r#"id = "yard"
title = "Yard"
says = "You may move a machine in the yard."
modules = ["fire-and-burns"]
time_limit = "15 min"
cut = "60 %"
valid_for_months = 12
resit_after = "1 h"
debrief_after_safety_miss = true
attempts_allowed = 20
invigilated = true
decided_by = ["administrator"]
machines = ["all"]

[[part]]
competence = "lamps"
questions = 2
cut = "50 %"

[[part]]
competence = "fire"
questions = 2
cut = "100 %"
"#;

/// A small bank: two competences' templates, two machines, one module, one scheme.
fn small_bank() -> Vec<BankDocument> {
    let wanted = |document: &BankDocument| match document.kind {
        DocumentKind::Competences => true,
        DocumentKind::Machine => document.key != "lunnock-9",
        DocumentKind::Module | DocumentKind::Lesson => document.key.starts_with(MODULE),
        DocumentKind::Template => document.key.starts_with("fire/") || document.key.starts_with("lamps/"),
        DocumentKind::Scheme => false,
    };
    let mut bank: Vec<BankDocument> = bank_files::embedded().into_iter().filter(wanted).collect();
    bank.push(BankDocument {
        kind: DocumentKind::Scheme,
        key: SCHEME.to_owned(),
        version: 0,
        file: "question-bank/schemes/yard.toml".to_owned(),
        text: SCHEME_TEXT.to_owned(),
    });
    bank
}

/// A database with people and a bank, to be copied.
pub(super) struct Prepared {
    folder: TempDir,
    branch: BranchId,
    /// Two technicians, a trainer, an administrator.
    people: [PersonId; 4],
    /// All but the database, the clock and the bank, made once: reading the pages' templates takes long.
    rest: Deeds,
}

impl Prepared {
    pub(super) async fn new() -> Self {
        // A folder in memory where there is one: here nothing is learnt from waiting for a disk.
        let memory = Path::new("/dev/shm");
        let folder = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() };
        let folder = folder.expect("a folder");
        let db = store::connect(&format!("sqlite://{}/first.db", folder.path().display())).await.expect("SQLite opens");
        store::migrate(&db).await.expect("SQLite migrates");
        let deeds = deeds_on(db, Clock::manual(BEGINNING), String::new());
        let branch = write::<_, StoreError, _>(&deeds.db, async |tx| branches::insert(tx, "Coldbrook", "UTC").await);
        let branch = branch.await.expect("a branch");
        let mut people = Vec::new();
        for (name, role) in [
            ("Ines Varga", Role::Technician),
            ("Owen Lisle", Role::Technician),
            ("Mara Tindle", Role::Trainer),
            ("Piet Hallam", Role::Administrator),
        ] {
            let new = NewPerson {
                branch_id: branch,
                email: EmailAddress::parse(&format!("{}@fennmark.example", &name[..4])).expect("an address"),
                display_name: PersonName::parse(name).expect("a name"),
                role,
                password_phc: None,
                temperature_unit: TemperatureUnit::Celsius,
                scheme_key: None,
                created_at: BEGINNING,
            };
            let added = write::<_, StoreError, _>(&deeds.db, async |tx| people::insert(tx, new).await);
            people.push(added.await.expect("a person"));
        }
        load_bank(&deeds, small_bank(), Vec::new(), 0).await.expect("the bank");
        assert_eq!(deeds.bank.now().problems, [], "the small bank is whole");
        let rest = deeds.clone();
        deeds.db.close().await.expect("closed");
        Self { folder, branch, people: people.try_into().expect("four"), rest }
    }

    fn file(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }
}

/// The program in one history.
pub(super) struct World {
    pub(super) deeds: Deeds,
    pub(super) clock: Clock,
    pub(super) branch: BranchId,
    pub(super) technicians: [PersonId; 2],
    pub(super) trainer: PersonId,
    pub(super) administrator: PersonId,
    bank: Vec<BankDocument>,
}

impl World {
    pub(super) async fn open(prepared: &Prepared) -> Self {
        for ending in ["-wal", "-shm"] {
            // What the history before has left beside its database.
            let _ = std::fs::remove_file(prepared.file(&format!("now.db{ending}")));
        }
        std::fs::copy(prepared.file("first.db"), prepared.file("now.db")).expect("a copy");
        let url = format!("sqlite://{}", prepared.file("now.db").display());
        let clock = Clock::manual(BEGINNING);
        let db = store::connect(&url).await.expect("SQLite opens");
        let deeds = Deeds { db, clock: clock.clone(), bank: BankInUse::default(), ..prepared.rest.clone() };
        refresh_bank(&deeds).await.expect("the bank");
        let [one, other, trainer, administrator] = prepared.people;
        let branch = prepared.branch;
        Self { deeds, clock, branch, technicians: [one, other], trainer, administrator, bank: small_bank() }
    }

    /// Somebody changes a document: for a template or a machine another text that means the same, for the competences
    /// another name.
    pub(super) async fn change_bank(&mut self, which: usize) {
        let place = which % self.bank.len();
        let document = &mut self.bank[place];
        match document.kind {
            DocumentKind::Competences => {
                document.text = document.text.replacen("name = \"Lamps", "name = \"Lamps again", 1);
            }
            _ => document.text.push('\n'),
        }
        load_bank(&self.deeds, self.bank.clone(), Vec::new(), 0).await.expect("the bank");
        assert_eq!(self.deeds.bank.now().problems, [], "the changed bank is whole");
    }

    pub(super) async fn close(self) {
        self.deeds.db.close().await.expect("closed");
    }
}
