//! PostgreSQL itself is restarted in the middle, as by a crash and as by an administrator, while several people save answers:
//! whoever was told "saved" finds that answer once, and the program saves again without anybody's help.
//!
//! Skipped, and said so, where no PostgreSQL can be started.

use super::oracle::{SCHEME, Sitter, blow_after, is_sound};
use super::servers::answer_in_the_end;
use crate::support::cluster::Cluster;
use crate::support::program::Workshop;
use sootmark::store::connect;
use std::time::Instant;

/// Who answers when the blow comes; one more has nothing under way and is the first to save again.
const SITTERS: usize = 4;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_database_that_is_restarted_costs_no_saved_answer() {
    let Some(cluster) = Cluster::start() else { return };
    let (workshop, _) = Workshop::on(&cluster.url, SITTERS + 1, SCHEME).await;
    let mut program = workshop.serve();
    let db = connect(&cluster.url).await.expect("it opens");
    let mut sitters = Vec::new();
    for number in 0..=SITTERS {
        sitters.push(Sitter::begin(program.address, number, &db).await);
    }
    db.close().await.expect("it closes");
    let mut first = sitters.pop().expect("one more");
    for (mode, count) in [("immediate", 40), ("fast", 60), ("immediate", 75), ("immediate", 98), ("fast", 111)] {
        let before = Instant::now();
        sitters = blow_after(sitters, count, |_| cluster.restart(mode)).await;
        let accepts = Instant::now();
        let db = connect(&cluster.url).await.expect("it opens");
        let ended = program.ended().is_some();
        let tries = answer_in_the_end(&mut first, &mut program, &workshop, &db).await;
        let again = accepts.elapsed();
        let which = if ended { "the program ended, and its replacement saved" } else { "the program saved" };
        eprintln!("{mode}, back after {:?}: {which} {again:?} later, at try {tries}", accepts - before);
        is_sound(&db).await;
        for sitter in &mut sitters {
            sitter.compare(&db).await;
            answer_in_the_end(sitter, &mut program, &workshop, &db).await;
            sitter.compare(&db).await;
        }
        db.close().await.expect("it closes");
    }
    let db = connect(&cluster.url).await.expect("it opens");
    sitters.push(first);
    for sitter in &mut sitters {
        assert_eq!(sitter.hand_in().await.status, 303);
        sitter.compare(&db).await;
    }
    is_sound(&db).await;
    db.close().await.expect("it closes");
    let acknowledged: i32 = sitters.iter().flat_map(|sitter| sitter.known.values()).map(|known| known.revision).sum();
    eprintln!("5 restarts, {acknowledged} answers acknowledged, none lost");
    program.kill();
}
