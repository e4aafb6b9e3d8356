//! The program as it is measured: the real binary in a process of its own, on a database that it made itself, with people
//! whose sessions are open. Only on a loopback address.
//!
//! Sessions go in through the store's own function, because signing in costs a password's hash each, on purpose.

use crate::client::Window;
use sootmark::actions::Token;
use sootmark::bank_files;
use sootmark::clock::Clock;
use sootmark::domain::bank::Bank;
use sootmark::domain::people::{EmailAddress, PersonName, Role};
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::people::NewPerson;
use sootmark::store::sessions::{self, Device, Session, WaitsFor};
use sootmark::store::{Db, PersonId, StoreError, branches, connect, people, progress, write};
use std::io::{BufRead as _, BufReader};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread::JoinHandle;
use tempfile::TempDir;

/// The scheme that everybody sits: the longest one that nobody watches.
pub(crate) const SCHEME: &str = "field-technician";

/// A folder with a database, and the people in it.
pub(crate) struct Workshop {
    folder: TempDir,
    pub(crate) sitters: Vec<Sitter>,
}

/// Somebody who has read every lesson and is signed in.
pub(crate) struct Sitter {
    pub(crate) person: PersonId,
    pub(crate) token: Token,
    pub(crate) form_token: Token,
}

impl Sitter {
    /// A window in which they are signed in.
    pub(crate) fn window(&self, address: SocketAddr) -> Window {
        Window::new(address, self.token.as_str(), self.form_token.as_str())
    }
}

impl Workshop {
    /// Lets the program make its database and take its bank in, then adds so many people.
    pub(crate) async fn with_people(count: usize) -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        Served::start(folder.path()).stop();
        let mut workshop = Self { folder, sitters: Vec::new() };
        let db = workshop.open().await;
        workshop.sitters = write::<_, StoreError, _>(&db, async |tx| {
            let branch = branches::insert(tx, "Coldbrook", "UTC").await?;
            let (bank, _) = Bank::read(&bank_files::embedded());
            let now = Clock::system().now();
            let mut sitters = Vec::with_capacity(count);
            for number in 0..count {
                let new = NewPerson {
                    branch_id: branch,
                    email: EmailAddress::parse(&format!("sitter{number}@example.org")).expect("an address"),
                    display_name: PersonName::parse(&format!("Sitter {number}")).expect("a name"),
                    role: Role::Technician,
                    password_phc: None,
                    temperature_unit: TemperatureUnit::Celsius,
                    scheme_key: Some(SCHEME.to_owned()),
                    created_at: now,
                };
                let person = people::insert(tx, new).await?;
                for module in bank.modules() {
                    for lesson in &module.lessons {
                        progress::mark_read(tx, person, &module.id, &lesson.id, now).await?;
                    }
                }
                let (token, form_token) = (Token::fresh().expect("a token"), Token::fresh().expect("a token"));
                let session = Session {
                    waits_for: WaitsFor::Nothing,
                    device: Device::Unknown,
                    token_hash: token.hash(),
                    person_id: person,
                    form_token: form_token.as_str().to_owned(),
                    created_at: now,
                    last_seen_at: now,
                    expires_at: now.plus_seconds(12 * 3600),
                };
                sessions::insert(tx, session).await?;
                sitters.push(Sitter { person, token, form_token });
            }
            Ok(sitters)
        })
        .await
        .expect("people");
        db.close().await.expect("the database closes");
        workshop
    }

    /// The folder.
    pub(crate) fn path(&self) -> &Path {
        self.folder.path()
    }

    /// The database, opened beside or after the program.
    pub(crate) async fn open(&self) -> Db {
        let url = format!("sqlite:{}", self.path().join("sootmark.sqlite").display());
        connect(&url).await.expect("the database opens")
    }

    /// The program, serving from this folder.
    pub(crate) fn serve(&self) -> Served {
        Served::start(self.path())
    }
}

/// A server in a process of its own; it is killed when this goes, unless it was stopped before.
pub(crate) struct Served {
    child: Child,
    pub(crate) address: SocketAddr,
    /// Takes what the server logs, so that it never waits for a reader; gives it at the end.
    log: Option<JoinHandle<Vec<String>>>,
}

impl Served {
    /// Starts the program on the database of a folder; comes back when it says that it serves.
    pub(crate) fn start(folder: &Path) -> Self {
        let mut command = Command::new(PathBuf::from(env!("CARGO_BIN_EXE_sootmark")));
        command.arg("serve").env("SOOTMARK_DATA_FOLDER", folder);
        command.env("SOOTMARK_LISTEN", "127.0.0.1:0").env("SOOTMARK_SECURE_COOKIES", "false");
        Self::of(command)
    }

    /// Any program that says on stderr, in a line that ends so, that it serves `http://ADDRESS`.
    pub(crate) fn of(mut command: Command) -> Self {
        let mut child = command.stderr(Stdio::piped()).stdout(Stdio::null()).spawn().expect("the program starts");
        let mut lines = BufReader::new(child.stderr.take().expect("its stderr")).lines().map_while(Result::ok);
        let address = lines.find_map(|line| line.rsplit_once("serves http://")?.1.parse().ok());
        let address = address.expect("the program serves");
        Self { child, address, log: Some(std::thread::spawn(move || lines.collect())) }
    }

    /// Nanoseconds of processor time that the server has used, all of its threads together.
    pub(crate) fn processor_ns(&self) -> u64 {
        let tasks = std::fs::read_dir(format!("/proc/{}/task", self.child.id())).expect("the server runs");
        let used = tasks.flatten().filter_map(|task| {
            let line = std::fs::read_to_string(task.path().join("schedstat")).ok()?;
            line.split(' ').next()?.parse::<u64>().ok()
        });
        used.sum()
    }

    /// Asks the server to end in order and waits for it.
    pub(crate) fn stop(mut self) {
        let asked = Command::new("kill").arg(self.child.id().to_string()).status().expect("a signal");
        assert!(asked.success(), "the signal is sent");
        assert!(self.child.wait().expect("it ends").success(), "it ends in order");
    }

    /// Ends the server as a crash would, between two instructions, and gives what it logged.
    pub(crate) fn kill(mut self) -> Vec<String> {
        self.child.kill().expect("it is killed");
        self.child.wait().expect("it ends");
        self.log.take().and_then(|log| log.join().ok()).unwrap_or_default()
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        // Already gone after `stop` and `kill`; a measurement that failed leaves nothing behind.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
