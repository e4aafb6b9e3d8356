//! An address that nobody has costs as much work as one that somebody has: whoever measures learns nothing from it.

use crate::support::app::{TestApp, address_of};
use sootmark::actions::sign_in::{Claim, SignIn, sign_in};
use sootmark::actions::{Deeds, Hashing, Throttle};
use sootmark::domain::people::Role;
use sootmark::store::{StoreError, people, write};
use std::time::{Duration, Instant};

/// How often each is tried; in turns, so that other work on the machine slows both.
const TRIES: usize = 15;

async fn refused_after(deeds: &Deeds, email: &str) -> Duration {
    let claim = Claim { email, password: "not the password at all", address: "192.0.2.1", before: None };
    let since = Instant::now();
    let refused = sign_in(deeds, claim).await.expect("an answer");
    assert!(matches!(refused, SignIn::Refused), "{refused:?}");
    since.elapsed()
}

#[tokio::test]
async fn nobodys_address_takes_the_work_of_a_password_too() {
    let app = TestApp::start().await;
    // The people of a test have passwords that cost nothing; this one has a real one.
    let email = address_of(Role::Technician);
    let person = people::find_by_email_norm(&app.deeds.db, &email).await.expect("the store").expect("a technician").id;
    let phc = Hashing::new().expect("random bytes").hash("a password".to_owned()).await.expect("a hash");
    let kept = async |tx: &_| people::set_password(tx, person, &phc).await;
    write::<_, StoreError, _>(&app.deeds.db, kept).await.expect("the store");
    let (mut known, mut unknown) = (Vec::new(), Vec::new());
    for turn in 0..TRIES {
        // Real work, and nobody is made to wait.
        let hashing = Hashing::new().expect("random bytes");
        let deeds = Deeds { hashing, throttle: Throttle::default(), ..app.deeds.clone() };
        // Whoever comes first pays for memory that is touched for the first time: they take turns in that too.
        let mut two = [(&mut known, email.as_str()), (&mut unknown, "nobody.at.all@example.org")];
        two.rotate_left(turn % 2);
        for (times, of) in two {
            times.push(refused_after(&deeds, of).await);
        }
    }
    known.sort_unstable();
    unknown.sort_unstable();
    let (known, unknown) = (known[TRIES / 2], unknown[TRIES / 2]);
    eprintln!("refused: known after {known:?}, unknown after {unknown:?} (medians of {TRIES})");
    // Without the work it would be a hundredth; how much alike they are is measured elsewhere.
    assert!(unknown * 2 > known && known * 2 > unknown, "{known:?} and {unknown:?}");
    app.stop().await;
}
