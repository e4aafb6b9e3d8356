//! The real program in a process of its own, on a folder of the test's: it can be killed between two instructions and
//! started again on what it left. Only on a loopback address.

use super::app::PASSWORD;
use super::database::OneDatabase;
use sootmark::actions::Hashing;
use sootmark::bank_files;
use sootmark::clock::Clock;
use sootmark::domain::bank::Bank;
use sootmark::domain::people::{EmailAddress, PersonName, Role};
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::people::NewPerson;
use sootmark::store::{Db, PersonId, StoreError, branches, connect, people, progress, write};
use std::io::{BufRead as _, BufReader};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc::Receiver;
use tempfile::TempDir;

/// A folder with a database that the program made, its bank taken in.
pub(crate) struct Workshop {
    folder: PathBuf,
    url: String,
    kept: Kept,
}

/// What of a workshop is its own, and goes with it.
enum Kept {
    Nothing,
    Folder(#[expect(dead_code, reason = "kept until the workshop goes")] TempDir),
    Database(OneDatabase),
}

impl Workshop {
    /// A fresh one, with so many technicians who have read every lesson: `sitter0@example.org`, `sitter1@...`.
    pub(crate) async fn with_technicians(count: usize, scheme: &str) -> (Self, Vec<PersonId>) {
        Self::empty().await.peopled(count, scheme).await
    }

    /// The same on SQLite in a folder of the test's.
    pub(crate) async fn in_folder(folder: &Path, count: usize, scheme: &str) -> (Self, Vec<PersonId>) {
        let url = format!("sqlite:{}", folder.join("sootmark.sqlite").display());
        Self { folder: folder.to_owned(), url, kept: Kept::Nothing }.peopled(count, scheme).await
    }

    /// The same on a database elsewhere.
    pub(crate) async fn on(url: &str, count: usize, scheme: &str) -> (Self, Vec<PersonId>) {
        let kept = tempfile::tempdir().expect("a folder");
        let workshop = Self { folder: kept.path().to_owned(), url: url.to_owned(), kept: Kept::Folder(kept) };
        workshop.peopled(count, scheme).await
    }

    /// A folder and a database without anything; of SQLite there is not even a file.
    pub(crate) async fn empty() -> Self {
        if OneDatabase::is_postgres() {
            let own = OneDatabase::empty().await;
            return Self { folder: own.folder.path().to_owned(), url: own.url.clone(), kept: Kept::Database(own) };
        }
        let kept = tempfile::tempdir().expect("a folder");
        let url = format!("sqlite:{}", kept.path().join("sootmark.sqlite").display());
        Self { folder: kept.path().to_owned(), url, kept: Kept::Folder(kept) }
    }

    /// Takes its own database away, after every program on it is gone. A test that fails leaves one of PostgreSQL behind to be
    /// looked at.
    pub(crate) async fn close(self) {
        if let Kept::Database(own) = self.kept {
            own.close().await;
        }
    }

    /// One on a database elsewhere, in which the program has not been yet.
    pub(crate) fn without_people(folder: &Path, url: &str) -> Self {
        Self { folder: folder.to_owned(), url: url.to_owned(), kept: Kept::Nothing }
    }

    async fn peopled(self, count: usize, scheme: &str) -> (Self, Vec<PersonId>) {
        let workshop = self;
        workshop.serve().kill();
        let db = workshop.open().await;
        let hashing = Hashing::worthless_for_tests().expect("random bytes");
        let hash = hashing.hash(PASSWORD.to_owned()).await.expect("a hash");
        let (bank, problems) = Bank::read(&bank_files::embedded());
        assert_eq!(problems, [], "the built-in bank is whole");
        let now = Clock::system().now();
        let sitters = write::<_, StoreError, _>(&db, async |tx| {
            let branch = branches::insert(tx, "Coldbrook", "UTC").await?;
            let mut sitters = Vec::new();
            for number in 0..count {
                let new = NewPerson {
                    branch_id: branch,
                    email: EmailAddress::parse(&format!("sitter{number}@example.org")).expect("an address"),
                    display_name: PersonName::parse(&format!("Sitter {number}")).expect("a name"),
                    role: Role::Technician,
                    password_phc: Some(hash.clone()),
                    temperature_unit: TemperatureUnit::Celsius,
                    scheme_key: Some(scheme.to_owned()),
                    created_at: now,
                };
                let person = people::insert(tx, new).await?;
                for module in bank.modules() {
                    for lesson in &module.lessons {
                        progress::mark_read(tx, person, &module.id, &lesson.id, now).await?;
                    }
                }
                sitters.push(person);
            }
            Ok(sitters)
        });
        let sitters = sitters.await.expect("people");
        db.close().await.expect("the database closes");
        (workshop, sitters)
    }

    /// The database's address.
    pub(crate) fn url(&self) -> &str {
        &self.url
    }

    /// The database, opened beside the program or after it.
    pub(crate) async fn open(&self) -> Db {
        connect(&self.url).await.expect("the database opens")
    }

    /// The program, serving from this folder on a free port.
    pub(crate) fn serve(&self) -> Program {
        Program::start(self.command(&[], "127.0.0.1:0")).expect("the program serves")
    }

    /// The same, with other settings.
    pub(crate) fn serve_with(&self, settings: &[(&str, &str)]) -> Program {
        let mut command = self.command(&[], "127.0.0.1:0");
        command.envs(settings.iter().copied());
        Program::start(command).expect("the program serves")
    }

    /// The program, serving where it served before.
    pub(crate) fn serve_again(&self, address: SocketAddr) -> Program {
        Program::start(self.command(&[], &address.to_string())).expect("the program serves")
    }

    /// What starts the program, after other words such as those of a tracer.
    pub(crate) fn command(&self, before: &[&str], listen: &str) -> Command {
        let program = env!("CARGO_BIN_EXE_sootmark");
        let mut command = match before.split_first() {
            Some((first, rest)) => {
                let mut command = Command::new(first);
                command.args(rest).arg(program);
                command
            }
            None => Command::new(program),
        };
        command
            .arg("serve")
            .env("SOOTMARK_DATA_FOLDER", &self.folder)
            .env("SOOTMARK_DATABASE_URL", &self.url)
            .env("SOOTMARK_LISTEN", listen)
            .env("SOOTMARK_SECURE_COOKIES", "false")
            .env("SOOTMARK_LOG_LEVEL", "warn")
            .stdout(Stdio::null())
            .stderr(Stdio::piped());
        command
    }
}

/// A program that serves; it is killed when this goes.
pub(crate) struct Program {
    child: Child,
    /// What it says on stderr, line by line, from after it said that it serves.
    lines: Receiver<String>,
    pub(crate) address: SocketAddr,
}

impl Program {
    /// Comes back when the program says that it serves, or with what it said instead.
    pub(crate) fn start(mut command: Command) -> Result<Self, String> {
        let mut child = command.spawn().expect("the program starts");
        let mut lines = BufReader::new(child.stderr.take().expect("its messages")).lines().map_while(Result::ok);
        let mut said = Vec::new();
        let address = lines.find_map(|line| {
            let address = line.rsplit_once("serves http://").and_then(|(_, address)| address.parse().ok());
            said.push(line);
            address
        });
        // The rest of what it says is read so that it never blocks on a full pipe.
        let (keep, kept) = std::sync::mpsc::channel();
        // Nobody may want to hear them any more.
        std::thread::spawn(move || lines.for_each(|line| keep.send(line).unwrap_or_default()));
        match address {
            Some(address) => Ok(Self { child, lines: kept, address }),
            None => {
                child.wait().expect("it ends");
                Err(said.join("\n"))
            }
        }
    }

    /// One that says nothing: where it listens is known.
    pub(crate) fn start_silent(mut command: Command, address: SocketAddr) -> Self {
        let (_, lines) = std::sync::mpsc::channel();
        Self { child: command.spawn().expect("the program starts"), lines, address }
    }

    /// Tells it to stop, as whoever watches over it does.
    pub(crate) fn terminate(&self) {
        let told = Command::new("kill").args(["-TERM", &self.child.id().to_string()]).status();
        assert!(told.expect("kill runs").success());
    }

    /// Waits until it says this; not, when it ends without.
    pub(crate) fn says(&self, what: &str) -> bool {
        self.lines.iter().any(|line| line.contains(what))
    }

    /// Waits until it has ended, and gives everything that it said.
    pub(crate) fn log(mut self) -> Vec<String> {
        self.child.wait().expect("it ends");
        self.lines.iter().collect()
    }

    /// How it ended, when it has.
    pub(crate) fn ended(&mut self) -> Option<ExitStatus> {
        self.child.try_wait().expect("it is our child")
    }

    /// Waits until it has ended by itself.
    pub(crate) fn end(&mut self) -> ExitStatus {
        self.child.wait().expect("it ends")
    }

    /// Ends it as a crash would, between two instructions.
    pub(crate) fn kill(mut self) {
        self.child.kill().expect("it is killed");
        self.child.wait().expect("it ends");
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        // Already gone after `kill`; a test that failed leaves nothing behind.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
