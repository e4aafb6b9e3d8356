//! Signing in with one-time codes, setting them up, recovery codes, and what happens when everything is lost.

use crate::support::app::{PASSWORD, TestApp, address_of, deeds_on};
use crate::support::client::{Client, Reply};
use crate::support::database::for_each_database;
use sootmark::actions::give_code::{CodeGiven, give_code};
use sootmark::actions::one_time_code::code_at;
use sootmark::actions::set_up_codes::{WithCode, confirm_key, offer_key};
use sootmark::actions::sign_in::{Claim, SignIn, sign_in};
use sootmark::clock::Clock;
use sootmark::config::Settings;
use sootmark::domain::people::{EmailAddress, PersonName, Role};
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::people::NewPerson;
use sootmark::store::sessions::{Device, WaitsFor};
use sootmark::store::{PersonId, StoreError, branches, one_time_codes, people, write};

/// An application in which deciding roles need codes.
async fn strict() -> TestApp {
    let settings = Settings { secure_cookies: false, ..Settings::default() };
    TestApp::start_requiring_codes(settings).await
}

async fn person(app: &TestApp, role: Role) -> PersonId {
    people::find_by_email_norm(&app.deeds.db, &address_of(role)).await.expect("the store").expect("a person").id
}

/// What the phone shows now.
async fn on_the_phone(app: &TestApp, person: PersonId) -> String {
    let key = one_time_codes::find(&app.deeds.db, person).await.expect("the store").expect("a key");
    code_at(&key.secret, app.clock.now())
}

async fn password(app: &TestApp, role: Role) -> (Client, Reply) {
    let mut browser = app.browser();
    let reply = browser.post("/sign-in", &[("email", &address_of(role)), ("password", PASSWORD)]).await;
    (browser, reply)
}

/// The text of the first letter, which is written after its reply.
async fn first_letter(app: &TestApp) -> String {
    // The other tasks of this thread run in between; nothing waits for a time.
    for _ in 0..100_000 {
        if let Some(letter) = app.letters().await.into_iter().next() {
            return letter.text_body;
        }
        tokio::task::yield_now().await;
    }
    panic!("a letter was to come")
}

/// Opens the page and sends its form.
async fn filled_in(browser: &mut Client, page: &str, fields: &[(&str, &str)]) -> Reply {
    browser.get(page).await;
    browser.post(page, fields).await
}

fn recovery_codes(reply: &Reply) -> Vec<String> {
    let list = reply.between("<ol class=\"recovery-codes\">", "</ol>").expect("a list");
    list.split("<code>").skip(1).filter_map(|rest| rest.split("</code>").next()).map(str::to_owned).collect()
}

/// Signs a deciding person in for the first time; gives the browser and their recovery codes.
async fn set_up(app: &TestApp, role: Role) -> (Client, Vec<String>) {
    let (mut browser, reply) = password(app, role).await;
    assert_eq!((reply.status, reply.location()), (303, "/sign-in/set-up"));
    browser.get("/sign-in/set-up").await;
    let code = on_the_phone(app, person(app, role).await).await;
    let done = filled_in(&mut browser, "/sign-in/set-up", &[("code", &code)]).await;
    assert_eq!(done.status, 200, "{}", done.text());
    let codes = recovery_codes(&done);
    (browser, codes)
}

#[tokio::test]
async fn whoever_decides_sets_codes_up_before_anything_else_opens() {
    let app = strict().await;
    let (mut browser, reply) = password(&app, Role::ServiceManager).await;
    assert_eq!((reply.status, reply.location()), (303, "/sign-in/set-up"));
    for path in ["/", "/decisions", "/account", "/qualified.csv", "/sign-in/code"] {
        let turned = browser.get(path).await;
        assert_eq!(turned.status, 303, "{path}");
        assert!(turned.location().starts_with("/sign-in/set-up"), "{path}: {}", turned.location());
    }
    assert_eq!(browser.post("/account/units", &[("unit", "fahrenheit")]).await.status, 401);
    let page = browser.get("/sign-in/set-up?next=/decisions").await;
    assert!(page.body.contains("<svg class=\"square-code\""), "{}", page.text());
    let key = one_time_codes::find(&app.deeds.db, person(&app, Role::ServiceManager).await).await;
    let key = key.expect("the store").expect("an offer");
    assert!(!key.confirmed);
    assert_eq!(browser.get("/sign-in/set-up").await.body, page.body.replace("value=\"/decisions\"", "value=\"\""));
    let wrong = filled_in(&mut browser, "/sign-in/set-up", &[("code", "000000")]).await;
    assert!(wrong.status == 422 && wrong.text().contains("This code does not count."), "{}", wrong.text());
    let code = code_at(&key.secret, app.clock.now());
    let done = filled_in(&mut browser, "/sign-in/set-up", &[("code", &code), ("next", "/decisions")]).await;
    let codes = recovery_codes(&done);
    assert_eq!(codes.len(), 10);
    assert!(done.body.contains("href=\"/decisions\""), "{}", done.text());
    assert_eq!(browser.get("/decisions").await.status, 200);
    assert!(app.deeds_about(&address_of(Role::ServiceManager)).await.contains(&"one_time_codes_set_up".to_owned()));
    // Who decides nothing needs none.
    let (_, technician) = password(&app, Role::Technician).await;
    assert_eq!(technician.location(), "/");
    app.stop().await;
}

#[tokio::test]
async fn a_code_counts_once_and_a_password_alone_opens_nothing() {
    let app = strict().await;
    set_up(&app, Role::Administrator).await;
    let person = person(&app, Role::Administrator).await;
    let used = on_the_phone(&app, person).await;
    let (mut browser, reply) = password(&app, Role::Administrator).await;
    assert_eq!((reply.status, reply.location()), (303, "/sign-in/code"));
    assert_eq!(browser.get("/people").await.location(), "/sign-in/code?next=/people");
    // The code with which codes were set up counted once.
    let again = filled_in(&mut browser, "/sign-in/code", &[("code", &used)]).await;
    assert!(again.status == 422 && again.text().contains("each counts once"), "{}", again.text());
    app.clock.advance(30);
    let fresh = on_the_phone(&app, person).await;
    for token in ["", &"0".repeat(64)] {
        browser.form_token = token.to_owned();
        let forged = browser.post("/sign-in/code", &[("code", &fresh)]).await;
        assert_eq!(forged.status, 403, "with the token {token:?}");
    }
    let signed_in = filled_in(&mut browser, "/sign-in/code", &[("code", &fresh), ("next", "/people")]).await;
    assert_eq!((signed_in.status, signed_in.location()), (303, "/people"));
    assert_eq!(browser.get("/people").await.status, 200);
    assert_eq!(browser.get("/sign-in/code").await.location(), "/", "whoever is in needs no step");
    // Half a session ends after half an hour, whatever is asked with it.
    let (mut late, _) = password(&app, Role::Administrator).await;
    app.clock.advance(1799);
    assert_eq!(late.get("/people").await.location(), "/sign-in/code?next=/people");
    app.clock.advance(1);
    assert_eq!(late.get("/people").await.location(), "/sign-in?next=/people");
    app.stop().await;
}

#[tokio::test]
async fn wrong_codes_have_to_wait_longer_and_longer_and_never_for_good() {
    let app = strict().await;
    set_up(&app, Role::Administrator).await;
    app.clock.advance(60);
    let (mut browser, _) = password(&app, Role::Administrator).await;
    let mut replies = Vec::new();
    for _ in 0..6 {
        replies.push(filled_in(&mut browser, "/sign-in/code", &[("code", "123 456")]).await.text());
    }
    assert!(replies[5].contains("That was wrong several times. Wait "), "{}", replies[5]);
    app.clock.advance(60);
    let fresh = on_the_phone(&app, person(&app, Role::Administrator).await).await;
    assert_eq!(filled_in(&mut browser, "/sign-in/code", &[("code", &fresh)]).await.status, 303);
    app.stop().await;
}

#[tokio::test]
async fn a_recovery_code_opens_once_is_on_record_and_new_ones_end_the_old() {
    let app = strict().await;
    let (mut browser, codes) = set_up(&app, Role::ServiceManager).await;
    let (mut other, _) = password(&app, Role::ServiceManager).await;
    let typed = codes[3].to_uppercase().replace('-', " ");
    assert_eq!(filled_in(&mut other, "/sign-in/code", &[("code", &typed)]).await.status, 303);
    let (mut third, _) = password(&app, Role::ServiceManager).await;
    assert_eq!(filled_in(&mut third, "/sign-in/code", &[("code", &typed)]).await.status, 422);
    let deeds = app.deeds_about(&address_of(Role::ServiceManager)).await;
    assert_eq!(deeds.iter().filter(|deed| *deed == "recovery_code_used").count(), 1);
    assert!(browser.get("/account/one-time-codes").await.text().contains("Recovery codes left: 9 of 10."));
    app.clock.advance(30);
    let code = on_the_phone(&app, person(&app, Role::ServiceManager).await).await;
    let page = browser.get("/account/one-time-codes").await;
    let click = page.between("name=\"click\" value=\"", "\"").expect("a sign of the click").to_owned();
    let asked = [("recovery_code", code.as_str()), ("click", &click)];
    let made = browser.post("/account/one-time-codes/recovery", &asked).await;
    let fresh = recovery_codes(&made);
    assert_eq!(
        recovery_codes(&browser.post("/account/one-time-codes/recovery", &asked).await),
        fresh,
        "twice, one list"
    );
    assert!(fresh.len() == 10 && fresh.iter().all(|code| !codes.contains(code)));
    assert_eq!(filled_in(&mut third, "/sign-in/code", &[("code", &codes[4])]).await.status, 422);
    assert_eq!(filled_in(&mut third, "/sign-in/code", &[("code", &fresh[4])]).await.status, 303);
    // Nothing of them is kept that could be typed.
    let kept = one_time_codes::recovery_left(&app.deeds.db, person(&app, Role::ServiceManager).await).await;
    assert_eq!(kept.expect("the store"), 9);
    // The role cannot do without.
    app.clock.advance(30);
    let code = on_the_phone(&app, person(&app, Role::ServiceManager).await).await;
    let kept = browser.post("/account/one-time-codes/remove", &[("remove_code", &code)]).await;
    assert_eq!(kept.location(), "/account/one-time-codes");
    let (_, reply) = password(&app, Role::ServiceManager).await;
    assert_eq!(reply.location(), "/sign-in/code");
    app.stop().await;
}

#[tokio::test]
async fn the_link_for_a_forgotten_password_does_not_pass_by_the_code() {
    let app = strict().await;
    set_up(&app, Role::ServiceManager).await;
    let mut browser = app.browser();
    browser.get("/forgotten").await;
    browser.post("/forgotten", &[("email", &address_of(Role::ServiceManager))]).await;
    let letter = first_letter(&app).await;
    let token = letter.split_whitespace().find_map(|word| word.split_once("/invitation/")).expect("a link").1;
    let fields = [("token", token), ("password", "mill pond lantern"), ("again", "mill pond lantern")];
    let reply = browser.post("/invitation", &fields).await;
    assert_eq!((reply.status, reply.location()), (303, "/sign-in/code"));
    assert_eq!(browser.get("/decisions").await.location(), "/sign-in/code?next=/decisions", "not signed in yet");
    app.clock.advance(30);
    let code = on_the_phone(&app, person(&app, Role::ServiceManager).await).await;
    assert_eq!(filled_in(&mut browser, "/sign-in/code", &[("code", &code)]).await.status, 303);
    assert_eq!(browser.get("/decisions").await.status, 200);
    app.stop().await;
}

#[tokio::test]
async fn others_may_have_codes_and_take_them_away_again() {
    let app = strict().await;
    let mut browser = app.signed_in(Role::Technician).await;
    let elsewhere = app.signed_in(Role::Technician).await;
    assert!(browser.get("/account/one-time-codes").await.body.contains("square-code"));
    let person = person(&app, Role::Technician).await;
    let code = on_the_phone(&app, person).await;
    // Whoever only finds a session open cannot set them up.
    for typed in ["", "not the password"] {
        let refused = browser.post("/account/one-time-codes", &[("code", &code), ("password", typed)]).await;
        assert!(refused.status == 422 && refused.text().contains("This is not your password."), "{}", refused.text());
    }
    let key = one_time_codes::find(&app.deeds.db, person).await.expect("the store").expect("an offer");
    assert!(!key.confirmed);
    let done = browser.post("/account/one-time-codes", &[("code", &code), ("password", PASSWORD)]).await;
    assert_eq!(recovery_codes(&done).len(), 10);
    assert_eq!(elsewhere.clone().get("/learn").await.location(), "/sign-in?next=/learn", "signed out elsewhere");
    assert_eq!(browser.get("/learn").await.status, 200, "and signed in here");
    let (_, reply) = password(&app, Role::Technician).await;
    assert_eq!(reply.location(), "/sign-in/code");
    app.clock.advance(30);
    let code = on_the_phone(&app, person).await;
    let removed = browser.post("/account/one-time-codes/remove", &[("remove_code", &code)]).await;
    assert_eq!(removed.location(), "/account/one-time-codes?done=removed");
    let (_, reply) = password(&app, Role::Technician).await;
    assert_eq!(reply.location(), "/");
    app.stop().await;
}

#[tokio::test]
async fn an_administrator_takes_lost_codes_away_with_a_reason_and_never_their_own() {
    let app = strict().await;
    let (mut administrator, _) = set_up(&app, Role::Administrator).await;
    let (mut manager, _) = set_up(&app, Role::ServiceManager).await;
    let (of, own) = (person(&app, Role::ServiceManager).await, person(&app, Role::Administrator).await);
    let path = format!("/people/{of}/one-time-codes");
    administrator.get(&format!("/people/{of}")).await;
    let without = administrator.post(&path, &[("codes_reason", " ")]).await;
    assert!(without.status == 422 && without.text().contains("Say how you know"), "{}", without.text());
    assert_eq!(manager.get("/decisions").await.status, 200);
    let done = administrator.post(&path, &[("codes_reason", "I rang the branch, and she answered.")]).await;
    assert_eq!(done.location(), format!("/people/{of}?done=codes"));
    assert_eq!(manager.get("/decisions").await.location(), "/sign-in?next=/decisions", "signed out");
    let (_, reply) = password(&app, Role::ServiceManager).await;
    assert_eq!(reply.location(), "/sign-in/set-up");
    assert!(app.deeds_about(&address_of(Role::ServiceManager)).await.contains(&"one_time_codes_reset".to_owned()));
    let twice = administrator.post(&path, &[("codes_reason", "Again.")]).await;
    assert!(twice.status == 422 && twice.text().contains("has no one-time codes"), "{}", twice.text());
    let path = format!("/people/{own}/one-time-codes");
    let own = administrator.post(&path, &[("codes_reason", "It is me.")]).await;
    assert!(own.status == 422 && own.text().contains("Another administrator"), "{}", own.text());
    app.stop().await;
}

#[tokio::test]
async fn an_invitation_leads_a_deciding_person_to_set_up_too() {
    let app = strict().await;
    let (mut administrator, _) = set_up(&app, Role::Administrator).await;
    let of = person(&app, Role::ServiceManager).await;
    administrator.get(&format!("/people/{of}")).await;
    administrator.post(&format!("/people/{of}/invitation"), &[]).await;
    let letters = app.letters().await;
    let token =
        letters[0].text_body.split_whitespace().find_map(|word| word.split_once("/invitation/")).expect("a link").1;
    let mut browser = app.browser();
    let fields = [("token", token), ("password", "mill pond lantern"), ("again", "mill pond lantern")];
    let reply = browser.post("/invitation", &fields).await;
    assert_eq!((reply.status, reply.location()), (303, "/sign-in/set-up"));
    assert_eq!(browser.get("/decisions").await.status, 303, "not signed in yet");
    app.stop().await;
}

#[tokio::test]
async fn of_three_windows_with_one_code_one_gets_in_on_both_databases() {
    for_each_database(async |db| {
        let mut deeds = deeds_on(db, Clock::manual(crate::support::app::BEGINNING), "http://localhost".to_owned());
        deeds.codes_required = true;
        let phc = deeds.hashing.hash(PASSWORD.to_owned()).await.expect("a hash");
        let person = write::<_, StoreError, _>(&deeds.db, async |tx| {
            let branch = branches::insert(tx, "Coldbrook", "UTC").await?;
            let new = NewPerson {
                branch_id: branch,
                email: EmailAddress::parse("ann@example.org").expect("an address"),
                display_name: PersonName::parse("Ann Lovell").expect("a name"),
                role: Role::ServiceManager,
                password_phc: Some(phc.clone()),
                temperature_unit: TemperatureUnit::Celsius,
                scheme_key: None,
                created_at: deeds.clock.now(),
            };
            people::insert(tx, new).await
        });
        let person = person.await.expect("a person");
        offer_key(&deeds, person).await.expect("the store").expect("an offer");
        let key = one_time_codes::find(&deeds.db, person).await.expect("the store").expect("a key").secret;
        let code = code_at(&key, deeds.clock.now());
        let done = confirm_key(&deeds, person, &code, Device::Phone).await.expect("the store");
        assert!(matches!(done, WithCode::Done(_)));
        deeds.clock.advance(30);
        let code = code_at(&key, deeds.clock.now());
        let mut halves = Vec::new();
        for _ in 0..3 {
            let claim = Claim {
                email: "ann@example.org",
                password: PASSWORD,
                address: "192.0.2.1",
                before: None,
                browser: None,
                device: Device::Computer,
            };
            let SignIn::Begun(half, WaitsFor::Code) = sign_in(&deeds, claim).await.expect("the store") else {
                panic!("a code is needed")
            };
            halves.push(half);
        }
        let all = futures_util::future::join_all(halves.iter().map(|half| give_code(&deeds, half, &code))).await;
        let inside = all.iter().filter(|given| matches!(given, Ok(CodeGiven::SignedIn(_)))).count();
        assert_eq!(inside, 1, "{all:?}");
    })
    .await;
}
