//! Whether whoever measures learns from the time of a refusal that an address is known: a thousand tries for an address that
//! somebody has, in turns with a thousand for one that nobody has, each with the real work of a password.

use crate::served::Workshop;
use crate::{quantile, row};
use sootmark::actions::sign_in::{Claim, SignIn, sign_in};
use sootmark::actions::{BankInUse, Deeds, Hashing, Seeds, Throttle};
use sootmark::clock::Clock;
use sootmark::store::sessions::Device;
use sootmark::store::{StoreError, people, write, wrong_tries};
use sootmark::web::view::Views;
use std::sync::Arc;
use std::time::Instant;

/// Tries of each of the two.
const TRIES: usize = 1000;

/// Prints the medians, and how often a try for the unknown address took longer than one for the known: half of all pairs when
/// the two cannot be told apart.
pub(crate) async fn measure() {
    let workshop = Workshop::with_people(1).await;
    let db = workshop.open().await;
    let person = workshop.sitters[0].person;
    let hashing = Hashing::new().expect("random bytes");
    let phc = hashing.hash("a password that is kept".to_owned()).await.expect("a hash");
    write::<_, StoreError, _>(&db, async |tx| people::set_password(tx, person, &phc).await).await.expect("the store");
    let known = people::by_id(&db, person).await.expect("a person").email;
    let deeds = Deeds {
        codes_required: false,
        db,
        clock: Clock::system(),
        views: Views::load().expect("the templates"),
        hashing,
        throttle: Throttle::default(),
        origin: "http://127.0.0.1".to_owned(),
        seeds: Seeds::system(),
        bank: BankInUse::default(),
        letters: Arc::default(),
    };
    let mut of_known = Vec::with_capacity(TRIES);
    let mut of_unknown = Vec::with_capacity(TRIES);
    for turn in 0..TRIES {
        // Whoever comes first in a turn may pay for both: they take turns in that too.
        let mut two = [(&mut of_known, known.as_str()), (&mut of_unknown, "nobody.at.all@example.org")];
        two.rotate_left(turn % 2);
        for (times, email) in two {
            times.push(refused_after(&deeds, email).await);
        }
    }
    let share = unknown_longer(&of_known, &of_unknown);
    // Source: Mann and Whitney 1947: the standard deviation of that share when both come from one distribution.
    #[expect(clippy::cast_precision_loss, reason = "a thousand")]
    let n = TRIES as f64;
    let deviation = ((2.0 * n + 1.0) / (12.0 * n * n)).sqrt();
    row(
        "refused at an unknown address, median, beside a known",
        quantile(&mut of_unknown, 0.5),
        quantile(&mut of_known, 0.5),
        "1",
    );
    let z = (share - 0.5) / deviation;
    println!(
        "  the unknown one took longer in {:.1} of 100 pairs; {z:.1} standard deviations from half",
        share * 100.0
    );
    deeds.db.close().await.expect("the database closes");
}

async fn refused_after(deeds: &Deeds, email: &str) -> f64 {
    // Nobody is made to wait.
    let now = deeds.clock.now();
    let forgotten = write::<_, StoreError, _>(&deeds.db, async |tx| wrong_tries::sweep(tx, now).await).await;
    forgotten.expect("the store");
    let password = "not the password at all";
    let claim = Claim { email, password, address: "192.0.2.1", before: None, browser: None, device: Device::Unknown };
    let began = Instant::now();
    let refused = sign_in(deeds, claim).await.expect("an answer");
    let took = began.elapsed().as_secs_f64() * 1e6;
    assert!(matches!(refused, SignIn::Refused), "{refused:?}");
    took
}

/// The share of all pairs in which the unknown address took longer.
fn unknown_longer(known: &[f64], unknown: &[f64]) -> f64 {
    let longer = unknown.iter().map(|of| known.iter().filter(|other| of > other).count()).sum::<usize>();
    #[expect(clippy::cast_precision_loss, reason = "a million")]
    let share = longer as f64 / (known.len() * unknown.len()) as f64;
    share
}
