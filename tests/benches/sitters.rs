//! A thousand people sit an examination at once: the real program in a process of its own, each person a connection of
//! their own that reads every question and saves every answer without stopping to think.
//!
//! What the program acknowledged is written down as it comes. At the end the program is killed without warning, and the
//! database is compared with the list: every acknowledged answer is there, once, as it was last saved. Ends with failure
//! when anything is lost, double or refused. Only on a loopback address; at most three minutes.
//!
//!     cargo bench --bench sitters

#![expect(clippy::print_stdout, reason = "the account of the run is what it is for")]

mod client;
mod compare;
mod served;
mod sitting;

use served::Workshop;
use sitting::{Desk, Sat};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::sync::{Barrier, Semaphore};

const PEOPLE: usize = 1000;
/// Requests under way at one time: more than enough to keep the program busy, as many as a room of people clicks at once.
const IN_FLIGHT: usize = 64;
const LIMIT: Duration = Duration::from_secs(180);

fn main() -> ExitCode {
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().expect("a runtime");
    runtime.block_on(run())
}

async fn run() -> ExitCode {
    let workshop = Workshop::with_people(PEOPLE).await;
    let served = workshop.serve();
    let desk = Arc::new(Desk {
        address: served.address,
        turns: Semaphore::new(IN_FLIGHT),
        everybody_sits: Barrier::new(PEOPLE),
        everybody_answered: Barrier::new(PEOPLE),
    });
    let began = Instant::now();
    let sittings: Vec<_> = workshop
        .sitters
        .iter()
        .enumerate()
        .map(|(number, sitter)| tokio::spawn(sitting::sit(desk.clone(), number, sitter.window(desk.address))))
        .collect();
    let everybody = async {
        let mut sat = Vec::with_capacity(PEOPLE);
        for sitting in sittings {
            sat.push(sitting.await.expect("nobody panics"));
        }
        sat
    };
    let Ok(sat) = tokio::time::timeout(LIMIT, everybody).await else {
        println!("not over after {LIMIT:?}");
        return ExitCode::FAILURE;
    };
    let taken = began.elapsed();
    let processor = Duration::from_nanos(served.processor_ns());
    let log = served.kill();
    tell(&sat, taken, processor);
    let troubles: Vec<&String> = log.iter().filter(|line| !line.contains("\"INFO\"")).collect();
    println!("{} lines of the program's log are warnings or errors", troubles.len());
    troubles.iter().take(5).for_each(|line| println!("  {line}"));
    let faults = compare::with_database(&workshop, &sat).await;
    println!("{} faults in the database", faults.len());
    faults.iter().take(10).for_each(|fault| println!("  {fault}"));
    let refused = sat.iter().any(|sat| !sat.errors.is_empty());
    if faults.is_empty() && troubles.is_empty() && !refused { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// Prints how many, how fast, how long somebody waited, and what went wrong.
fn tell(sat: &[Sat], taken: Duration, processor: Duration) {
    let requests: usize = sat.iter().map(|sat| sat.waits.iter().map(Vec::len).sum::<usize>()).sum();
    let saved: usize = sat.iter().flat_map(|sat| &sat.saved).map(|saved| saved.acknowledged).sum();
    let seconds = taken.as_secs_f64();
    #[expect(clippy::cast_precision_loss, reason = "some ten thousands")]
    let (each_second, answers_a_second) = (requests as f64 / seconds, saved as f64 / seconds);
    println!("{PEOPLE} people, {IN_FLIGHT} requests under way at a time, {seconds:.1} s");
    println!(
        "{requests} requests, {each_second:.0} a second; {saved} answers acknowledged, {answers_a_second:.0} a second"
    );
    println!("processor time of the program: {:.1} s", processor.as_secs_f64());
    for (place, what) in sitting::STEPS.iter().enumerate() {
        let mut waits: Vec<Duration> = sat.iter().flat_map(|sat| sat.waits[place].iter().copied()).collect();
        waits.sort();
        let within =
            |share: usize| waits.get(waits.len() * share / 100).copied().unwrap_or_default().as_secs_f64() * 1e3;
        let most = waits.last().copied().unwrap_or_default().as_secs_f64() * 1e3;
        let (half, nearly_all) = (within(50), within(99));
        println!("{what:<14} {:>6} p50 {half:>7.1} ms, p99 {nearly_all:>7.1} ms, longest {most:>7.1} ms", waits.len());
    }
    let errors: Vec<&String> = sat.iter().flat_map(|sat| &sat.errors).collect();
    println!("{} errors", errors.len());
    errors.iter().take(10).for_each(|error| println!("  {error}"));
}
