//! What the forms of `cases.rs` need: everything that is there when addresses are walked, a few more people at the right point of
//! their way, and each form opened by who sends it.

use super::super::filled;
use super::Who;
use super::cases::Case;
use super::form::fields_to;
use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::client::{Client, Reply};
use crate::support::observed::{assessor, mark_all};
use crate::support::rows::{Row, Rows, counts, rows_of};
use crate::support::sittings::{Sat, begin, read_everything, sit};
use sootmark::actions::Token;
use sootmark::actions::one_time_code::code_at;
use sootmark::actions::set_up_codes::{WithCode, confirm_key, offer_key};
use sootmark::domain::certification::certificate::Number;
use sootmark::domain::letters::Kind;
use sootmark::domain::people::Role;
use sootmark::store::sessions::{self, Device, Session, WaitsFor};
use sootmark::store::{
    Db, ObservationId, PersonId, StoreError, attempts, letter_choices, one_time_codes, people, template_drafts, write,
};
use std::collections::BTreeMap;

/// Rows that are only ever added, and long.
const ONLY_ADDED: [&str; 2] = ["bank_document", "attempt_question"];

/// An application in which everything can be done, and the secret of a letter.
pub(super) struct World {
    app: TestApp,
    stop: Token,
}

/// A form that only has to be sent.
#[derive(Clone)]
pub(super) struct Opened {
    browser: Client,
    to: String,
    fields: Vec<(String, String)>,
}

impl Opened {
    pub(super) async fn send(mut self) -> Reply {
        self.browser.post_all(&self.to, &self.fields).await
    }
}

impl World {
    /// Beside what [`filled`] says: in attempt 8 somebody sits under invigilation 1, attempt 9 awaits a decision, and of
    /// observation 4 every step is marked.
    pub(super) async fn begin(db: Db) -> Self {
        let app = filled(TestApp::start_with_bank_on(db).await).await;
        for name in ["changer", "coded", "reader"] {
            app.person(&format!("Test {name}"), &format!("{name}@example.org"), Role::Technician).await;
        }
        app.person("Test reviewer", "reviewer@example.org", Role::Trainer).await;
        app.person("Test manager", "manager@example.org", Role::ServiceManager).await;
        let lost = app.person("Test lost", "lost@example.org", Role::Technician).await;
        offer_key(&app.deeds, lost).await.expect("the store");
        let code = code(&app, lost).await;
        let done = confirm_key(&app.deeds, lost, &code, Device::Phone).await.expect("the store");
        assert!(matches!(done, WithCode::Done(_)));
        let watched = app.person("Test watched", "watched@example.org", Role::Technician).await;
        assert_eq!(begin(&app, watched, "service-technician").await.0, 8);
        let ready = app.person("Test ready", "ready@example.org", Role::Technician).await;
        assert_eq!(sit(&app, ready, "first-day", Sat::Right).await.0, 9);
        let sitter = app.person("Test sitter", "sitter@example.org", Role::Technician).await;
        read_everything(&app, sitter, "first-day").await;
        mark_all(&app, assessor(&app, Role::ServiceManager).await, ObservationId(4), &[]).await;
        let (stop, now) = (Token::fresh().expect("random bytes"), app.clock.now());
        let hash = stop.hash();
        let kept = write::<_, StoreError, _>(&app.deeds.db, async |tx| {
            letter_choices::keep_link(tx, &hash, ready, Kind::Expiry, now).await
        });
        kept.await.expect("a link");
        Self { app, stop }
    }

    pub(super) async fn stop(self) {
        self.app.stop().await;
    }

    /// Everything that is there; of tables in [`ONLY_ADDED`] how many rows.
    pub(super) async fn rows(&self) -> Rows {
        let mut all = Rows::new();
        for (table, count) in self.counts().await {
            let found = match ONLY_ADDED.contains(&table.as_str()) {
                true => (0..count).map(|_| Row::new()).collect(),
                false => rows_of(&self.app.deeds.db, &table).await,
            };
            all.insert(table, found);
        }
        all
    }

    pub(super) async fn counts(&self) -> BTreeMap<String, i64> {
        counts(&self.app.deeds.db).await
    }

    /// Opens the page of a form half a minute later, and types into it; or says what is not there.
    pub(super) async fn opened(&self, case: &Case) -> Result<Opened, String> {
        self.app.clock.advance(31);
        let mut browser = self.browser(case.who).await;
        let (page, by) = case.page.split_once(' ').map_or((case.page, None), |(page, by)| (page, Some(by)));
        let path = self.worded(page, case.who).await;
        let mut page = browser.get(&path).await;
        if let Some(by) = by {
            let fields = self.filled_in(case, &page, by).await?;
            page = browser.post_all(by, &fields).await;
        }
        let to = self.worded(case.to, case.who).await;
        let fields = self.filled_in(case, &page, &to).await?;
        Ok(Opened { browser, to, fields })
    }

    async fn filled_in(&self, case: &Case, page: &Reply, to: &str) -> Result<Vec<(String, String)>, String> {
        let found = fields_to(page, to);
        let mut fields = found.ok_or_else(|| format!("{} and no form to {to}: {}", page.status, page.text()))?;
        for (name, text) in case.typed {
            let there = fields.iter_mut().find(|(field, _)| field == name);
            let change = text.strip_prefix('{').and_then(|text| text.strip_suffix('}')?.split_once('='));
            match (there, change) {
                (Some((_, value)), Some((this, that))) => *value = value.replace(this, that),
                (Some((_, value)), None) => *value = self.worded(text, case.who).await,
                (None, _) => fields.push(((*name).to_owned(), self.worded(text, case.who).await)),
            }
        }
        Ok(fields)
    }

    async fn browser(&self, who: Who) -> Client {
        match who {
            Who::Nobody => self.app.browser(),
            Who::Of(role) => self.app.signed_in(role).await,
            Who::As(email) => self.app.signed_in_as(email).await,
            Who::HalfWay(email) => {
                let mut browser = self.app.browser();
                let reply = browser.post("/sign-in", &[("email", email), ("password", PASSWORD)]).await;
                assert_eq!(reply.location(), "/sign-in/code", "{email}: {}", reply.text());
                browser
            }
            Who::Coded(email) => {
                let mut browser = Box::pin(self.browser(Who::HalfWay(email))).await;
                browser.get("/sign-in/code").await;
                let code = code(&self.app, self.person(email).await).await;
                assert_eq!(browser.post("/sign-in/code", &[("code", &code)]).await.status, 303);
                // Each code counts once.
                self.app.clock.advance(31);
                browser
            }
            Who::SettingUp(email) => {
                let (token, mut browser) = (Token::fresh().expect("random bytes"), self.app.browser());
                let now = self.app.clock.now();
                let half = Session {
                    token_hash: token.hash(),
                    person_id: self.person(email).await,
                    form_token: Token::fresh().expect("random bytes").as_str().to_owned(),
                    created_at: now,
                    last_seen_at: now,
                    expires_at: now.plus_seconds(600),
                    waits_for: WaitsFor::SetUp,
                    device: Device::Computer,
                };
                let begun = async |tx: &_| sessions::insert(tx, half.clone()).await;
                write::<_, StoreError, _>(&self.app.deeds.db, begun).await.expect("a session");
                browser.cookie = Some(format!("sootmark={}", token.as_str()));
                browser
            }
        }
    }

    async fn person(&self, email: &str) -> PersonId {
        people::find_by_email_norm(&self.app.deeds.db, email).await.expect("the store").expect("a person").id
    }

    /// A text with the words of this world in the place of those in braces.
    async fn worded(&self, text: &str, who: Who) -> String {
        let Some((before, rest)) = text.split_once('{') else { return text.to_owned() };
        let (word, after) = rest.split_once('}').expect("a word in braces");
        let word = match word {
            "stop" => self.stop.as_str().to_owned(),
            "lost" => self.person("lost@example.org").await.to_string(),
            "certificate" => Number { year: 2026, running: 1 }.to_string(),
            "practice" => {
                let of = attempts::of_person(&self.app.deeds.db, self.person("reader@example.org").await).await;
                of.expect("the store").last().expect("an attempt").id.to_string()
            }
            // PostgreSQL gives a number to the beginning that loses, too; to a draft as well.
            "sitting" => {
                let of = attempts::of_person(&self.app.deeds.db, self.person("sitter@example.org").await).await;
                of.expect("the store").last().expect("a sitting").id.to_string()
            }
            "draft" => {
                let trainer = self.person(&address_of(Role::Trainer)).await;
                let of = template_drafts::all_of(&self.app.deeds.db, trainer).await.expect("the store");
                of.last().expect("a draft").id.to_string()
            }
            "letter" => {
                let letters = self.app.letters().await;
                let words = letters.last().expect("a letter").text_body.split_whitespace();
                let mut links = words.filter_map(|word| word.split_once("/invitation/"));
                links.next().expect("a link").1.to_owned()
            }
            "code" => {
                let (Who::As(email) | Who::Coded(email) | Who::HalfWay(email) | Who::SettingUp(email)) = who else {
                    panic!("{who:?} has no codes")
                };
                code(&self.app, self.person(email).await).await
            }
            other => panic!("no word {other}"),
        };
        format!("{before}{word}{after}")
    }
}

/// What somebody's phone shows now.
async fn code(app: &TestApp, person: PersonId) -> String {
    let key = one_time_codes::find(&app.deeds.db, person).await.expect("the store").expect("a key");
    code_at(&key.secret, app.clock.now())
}
