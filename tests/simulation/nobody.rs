//! An address that nobody has costs as much work as one that somebody has: whoever measures learns nothing from it. Here the
//! work is counted; how long both take is measured by the benches.

use crate::support::app::{TestApp, address_of};
use sootmark::actions::sign_in::{Claim, SignIn, sign_in};
use sootmark::actions::{Deeds, Throttle};
use sootmark::domain::people::Role;
use sootmark::store::sessions::Device;
use sootmark::store::{StoreError, people, write};

/// How often the work of a password was done before somebody was refused.
async fn work_until_refused(deeds: &Deeds, email: &str) -> u64 {
    // Nobody is made to wait.
    let deeds = Deeds { throttle: Throttle::default(), ..deeds.clone() };
    let before = deeds.hashing.worked();
    let password = "not the password at all";
    let claim = Claim { email, password, address: "192.0.2.1", before: None, browser: None, device: Device::Unknown };
    let refused = sign_in(&deeds, claim).await.expect("an answer");
    assert!(matches!(refused, SignIn::Refused), "{refused:?}");
    deeds.hashing.worked() - before
}

#[tokio::test]
async fn nobodys_address_takes_the_work_of_a_password_too() {
    let app = TestApp::start().await;
    let known = address_of(Role::Technician);
    let trainer = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Trainer)).await.expect("the store");
    app.suspend(trainer.expect("a trainer").id).await;
    let invited = write::<_, StoreError, _>(&app.deeds.db, async |tx| {
        let person = people::find_by_email_norm(tx, &address_of(Role::ServiceManager)).await?.expect("a person");
        people::anonymise(tx, person.id, "Nobody any more", "gone@example.org").await
    });
    invited.await.expect("the store");
    for email in
        [known.as_str(), "nobody.at.all@example.org", "no address", &address_of(Role::Trainer), "gone@example.org"]
    {
        assert_eq!(work_until_refused(&app.deeds, email).await, 1, "{email}");
    }
    app.stop().await;
}
