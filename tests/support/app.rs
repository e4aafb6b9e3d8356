//! The program as a test sees it: a real server on a socket of its own, with a database of its own, a clock that stands
//! still until the test moves it, letters that can be read, and one person of each role.

use super::client::Client;
use super::database::OneDatabase;
use actix_web::dev::ServerHandle;
use actix_web::web::Data;
use sootmark::actions::load_bank::load_bank;
use sootmark::actions::{BankInUse, Deeds, Hashing, Seeds, Throttle};
use sootmark::bank_files;
use sootmark::clock::Clock;
use sootmark::config::Settings;
use sootmark::domain::people::{EmailAddress, PersonName, Role};
use sootmark::domain::units::{Moment, TemperatureUnit};
use sootmark::store::outbox::{self, NewMail};
use sootmark::store::people::{self, NewPerson};
use sootmark::store::{BranchId, Db, PersonId, StoreError, branches, record, write};
use sootmark::web::view::Views;
use sootmark::web::{App, server};
use std::net::{SocketAddr, TcpListener};
use std::sync::Arc;
use tokio::sync::Notify;
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

/// The password of everyone in a test.
pub(crate) const PASSWORD: &str = "straw barn lamp";

/// 24 Nov 2026, 08:00 UTC: when every test begins.
pub(crate) const BEGINNING: Moment = Moment(1_795_507_200_000_000);

/// What people do, on a database of the test's, without a server.
pub(crate) fn deeds_on(db: Db, clock: Clock, origin: String) -> Deeds {
    Deeds {
        db,
        clock,
        views: Views::load().expect("the templates"),
        hashing: Hashing::worthless_for_tests().expect("random bytes"),
        throttle: Throttle::default(),
        origin,
        // Tests of signing in turn it on; everybody else signs in with a password.
        codes_required: false,
        // The same questions in every run.
        seeds: Seeds::counted(*b"the seeds of a test, all counted"),
        bank: BankInUse::default(),
        letters: Arc::new(Notify::new()),
    }
}

/// A running program.
pub(crate) struct TestApp {
    /// What people do, with the test's database and clock.
    pub(crate) deeds: Deeds,
    /// The clock; it stands still until it is moved.
    pub(crate) clock: Clock,
    /// Where the program listens.
    pub(crate) address: SocketAddr,
    /// The branch that everyone belongs to.
    pub(crate) branch: BranchId,
    server: ServerHandle,
    /// Keeps the database's folder, when the database is the application's own.
    database: Option<OneDatabase>,
}

impl TestApp {
    /// Starts one, with the branch Coldbrook and one person of each role: see [`address_of`].
    pub(crate) async fn start() -> Self {
        Self::start_with(Settings { secure_cookies: false, ..Settings::default() }).await
    }

    /// The same with the built-in question bank in use, unchecked: `tests/bank` proves it.
    pub(crate) async fn start_with_bank() -> Self {
        Self::start().await.with_bank().await
    }

    /// The same on a database of the test's, which the test closes.
    pub(crate) async fn start_with_bank_on(db: Db) -> Self {
        let settings = Settings { secure_cookies: false, ..Settings::default() };
        Self::start_on(db, settings).await.with_bank().await
    }

    async fn with_bank(self) -> Self {
        load_bank(&self.deeds, bank_files::embedded(), Vec::new(), 0).await.expect("the bank");
        let read = self.deeds.bank.now();
        assert_eq!(read.problems, [], "the built-in bank is whole");
        assert!(read.bank.templates().count() > 20, "and not empty");
        self
    }

    /// The same with other settings.
    pub(crate) async fn start_with(settings: Settings) -> Self {
        let database = OneDatabase::fresh().await;
        let app = Self::start_on(database.db.clone(), settings).await;
        Self { database: Some(database), ..app }
    }

    /// The same in which roles that decide sign in with one-time codes.
    pub(crate) async fn start_requiring_codes(settings: Settings) -> Self {
        let database = OneDatabase::fresh().await;
        let app = Self::start_as(database.db.clone(), settings, true).await;
        Self { database: Some(database), ..app }
    }

    /// The same on a database of the test's, which the test closes.
    pub(crate) async fn start_on(db: Db, settings: Settings) -> Self {
        Self::start_as(db, settings, false).await
    }

    async fn start_as(db: Db, settings: Settings, codes_required: bool) -> Self {
        let socket = TcpListener::bind("127.0.0.1:0").expect("a free port");
        let address = socket.local_addr().expect("an address");
        let clock = Clock::manual(BEGINNING);
        let deeds = Deeds { codes_required, ..deeds_on(db, clock.clone(), settings.public_origin()) };
        let (views, stop) = (deeds.views.clone(), CancellationToken::new());
        let under_way = TaskTracker::new();
        let app = App { views, deeds: deeds.clone(), settings, stop, under_way, metrics: Arc::default() };
        let server = server::start(Data::new(app), socket, 1).expect("the server starts");
        let handle = server.handle();
        tokio::spawn(server);
        let branch = write::<_, StoreError, _>(&deeds.db, async |tx| branches::insert(tx, "Coldbrook", "UTC").await);
        let branch = branch.await.expect("a branch");
        let app = Self { deeds, clock, address, branch, server: handle, database: None };
        for role in Role::ALL {
            app.person(&format!("Test {}", role.name()), &address_of(role), role).await;
        }
        app
    }

    /// Adds a person who can sign in with [`PASSWORD`].
    pub(crate) async fn person(&self, name: &str, email: &str, role: Role) -> PersonId {
        self.person_with(name, email, role, None).await
    }

    /// Adds a technician who works towards a scheme.
    pub(crate) async fn person_towards(&self, name: &str, email: &str, scheme: &str) -> PersonId {
        self.person_with(name, email, Role::Technician, Some(scheme.to_owned())).await
    }

    /// Adds a technician of a branch of their own, in another time zone.
    pub(crate) async fn person_in(&self, zone: &str, name: &str, email: &str) -> PersonId {
        let branch = write::<_, StoreError, _>(&self.deeds.db, async |tx| branches::insert(tx, zone, zone).await);
        let branch = branch.await.expect("a branch");
        self.person_at(branch, name, email, Role::Technician, None).await
    }

    async fn person_with(&self, name: &str, email: &str, role: Role, scheme_key: Option<String>) -> PersonId {
        self.person_at(self.branch, name, email, role, scheme_key).await
    }

    async fn person_at(
        &self,
        branch_id: BranchId,
        name: &str,
        email: &str,
        role: Role,
        scheme_key: Option<String>,
    ) -> PersonId {
        let new = NewPerson {
            branch_id,
            email: EmailAddress::parse(email).expect("an address"),
            display_name: PersonName::parse(name).expect("a name"),
            role,
            password_phc: Some(self.deeds.hashing.hash(PASSWORD.to_owned()).await.expect("a hash")),
            temperature_unit: TemperatureUnit::Celsius,
            scheme_key,
            created_at: self.clock.now(),
        };
        let added = write::<_, StoreError, _>(&self.deeds.db, async |tx| people::insert(tx, new).await);
        added.await.expect("a person")
    }

    /// Suspends somebody.
    pub(crate) async fn suspend(&self, person: PersonId) {
        let done = write::<_, StoreError, _>(&self.deeds.db, async |tx| people::set_active(tx, person, false).await);
        done.await.expect("suspended");
    }

    /// A browser that nobody has signed in with.
    pub(crate) fn browser(&self) -> Client {
        Client::new(self.address)
    }

    /// A browser with which the person of a role has signed in.
    pub(crate) async fn signed_in(&self, role: Role) -> Client {
        self.signed_in_as(&address_of(role)).await
    }

    /// A browser with which the person of an address has signed in.
    pub(crate) async fn signed_in_as(&self, email: &str) -> Client {
        let mut browser = self.browser();
        let reply = browser.post("/sign-in", &[("email", email), ("password", PASSWORD)]).await;
        assert_eq!(reply.status, 303, "{email} signs in: {}", reply.text());
        browser.get("/account").await;
        browser
    }

    /// Whether an address and a password open a session.
    pub(crate) async fn signs_in(&self, email: &str, password: &str) -> bool {
        let fields = [("email", email), ("password", password)];
        self.browser().post("/sign-in", &fields).await.status == 303
    }

    /// The deeds on record about a person, oldest first.
    pub(crate) async fn deeds_about(&self, email: &str) -> Vec<String> {
        let person = people::find_by_email_norm(&self.deeds.db, email).await.expect("the store").expect("a person");
        let entries = record::of_subject(&self.deeds.db, "person", person.id.0).await.expect("the record");
        entries.into_iter().map(|entry| entry.deed).collect()
    }

    /// Every letter that has not been sent, oldest first.
    pub(crate) async fn letters(&self) -> Vec<NewMail> {
        let now = self.clock.now();
        // A claim of no length: the letters stay due.
        let claimed = write::<_, StoreError, _>(&self.deeds.db, async |tx| outbox::claim_due(tx, now, 0, 1000).await);
        claimed.await.expect("the outbox").into_iter().map(|claimed| claimed.mail).collect()
    }

    /// Stops the server and closes its own database, as the end of every test.
    pub(crate) async fn stop(self) {
        self.server.stop(true).await;
        if let Some(database) = self.database {
            database.close().await;
        }
    }
}

/// The address of the test's person of a role, as in `technician@example.org`.
pub(crate) fn address_of(role: Role) -> String {
    format!("{}@example.org", role.id())
}
