//! The program is killed at random moments while several people save answers, over and over on one database. Whoever was
//! told "saved" finds that answer once; what nobody was told is there whole or not at all.
//!
//! `SOOTMARK_KILLS` says how often, 20 when it is not set.

use super::oracle::{SCHEME, Sitter, below, is_sound, kill_after};
use crate::support::program::Workshop;
use rand::SeedableRng as _;
use rand::rngs::ChaCha8Rng;
use sootmark::store::attempts;
use std::time::{Duration, Instant};

const SITTERS: usize = 4;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn whatever_was_called_saved_outlives_a_kill_at_any_moment() {
    let kills: usize = std::env::var("SOOTMARK_KILLS").map_or(20, |count| count.parse().expect("a number of kills"));
    let (workshop, _) = Workshop::with_technicians(SITTERS, SCHEME).await;
    let mut draws = ChaCha8Rng::seed_from_u64(9);
    let mut program = workshop.serve();
    let address = program.address;
    let mut sitters = Vec::new();
    let db = workshop.open().await;
    for number in 0..SITTERS {
        sitters.push(Sitter::begin(address, number, &db).await);
    }
    db.close().await.expect("it closes");
    let mut starts = Vec::new();
    for kill in 0..kills {
        sitters = kill_after(program, sitters, 1 + below(&mut draws, 120)).await;
        let db = workshop.open().await;
        is_sound(&db).await;
        for sitter in &mut sitters {
            sitter.compare(&db).await;
        }
        db.close().await.expect("it closes");
        // The sessions hold on: nobody signs in again.
        let started = Instant::now();
        program = workshop.serve_again(address);
        assert_eq!(sitters[0].client.get("/examine").await.status, 200, "after kill {kill}");
        starts.push(started.elapsed());
    }
    let acknowledged: i32 = sitters.iter().flat_map(|sitter| sitter.known.values()).map(|known| known.revision).sum();
    assert!(usize::try_from(acknowledged).expect("positive") > kills, "{acknowledged} answers in all");
    for sitter in &mut sitters {
        assert_eq!(sitter.hand_in().await.status, 303);
    }
    let db = workshop.open().await;
    is_sound(&db).await;
    for sitter in &mut sitters {
        sitter.compare(&db).await;
        let result = attempts::find_result(&db, sitter.attempt).await.expect("the store");
        assert!(result.is_some(), "graded once it was handed in");
    }
    db.close().await.expect("it closes");
    program.kill();
    workshop.close().await;
    starts.sort_unstable();
    let (middle, slowest) = (starts[starts.len() / 2], starts[starts.len() - 1]);
    eprintln!(
        "{kills} kills, {acknowledged} answers acknowledged; serving again after {middle:?}, at worst {slowest:?}"
    );
    // The goal is 1 s with a release on a machine of its own; a test binary on a busy one is given more.
    assert!(middle < Duration::from_secs(10), "{starts:?}");
}
