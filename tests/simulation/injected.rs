//! The disk fails at the Nth write, and at the Nth sync, for growing N, until a run passes untouched: each time the program
//! either does not start, and says why, or serves; whoever it told "saved" finds that answer, and the file is whole.
//!
//! Skipped, and said so, where `strace` is missing or nothing may be traced.

use super::oracle::{SCHEME, Sitter, is_sound};
use crate::support::program::{Program, Workshop};
use std::fs;
use std::process::Command;

/// No run has as many of these calls in one thread.
const AT_MOST: usize = 200;

pub(super) fn may_trace() -> bool {
    let tried = Command::new("strace").args(["-D", "-f", "-o", "/dev/null", "true"]).output();
    let may = tried.as_ref().is_ok_and(|said| said.status.success());
    if !may {
        eprintln!("skipped: nothing can be traced here: {tried:?}");
    }
    may
}

/// What became of the runs.
#[derive(Debug, Default)]
struct Seen {
    did_not_start: usize,
    refused: usize,
    stopped: usize,
    saved: usize,
}

/// Runs with the Nth call failing, for growing N.
async fn fails_for_growing_n(call: &str) -> (usize, Seen) {
    // The calls are those of the program itself, so the file has to be its own.
    let folder = tempfile::tempdir().expect("a folder");
    let (workshop, _) = Workshop::in_folder(folder.path(), 1, SCHEME).await;
    let program = workshop.serve();
    let address = program.address;
    let db = workshop.open().await;
    let mut sitter = Sitter::begin(address, 0, &db).await;
    db.close().await.expect("it closes");
    program.kill();
    let trace = tempfile::NamedTempFile::new().expect("a file");
    let traced = trace.path().to_str().expect("a path");
    let mut seen = Seen::default();
    for nth in 1..=AT_MOST {
        let inject = format!("inject={call}:error=EIO:when={nth}");
        let filter = format!("trace={call}");
        // The tracer stands aside (-D), so that the child that is killed is the program.
        let before = ["strace", "-D", "-f", "--seccomp-bpf", "-qq", "-o", traced, "-e", &filter, "-e", &inject];
        match Program::start(workshop.command(&before, &address.to_string())) {
            Err(said) => {
                assert!(said.contains("Sootmark"), "it says why: {said}");
                seen.did_not_start += 1;
            }
            Ok(program) => answered(&mut sitter, program, &mut seen).await,
        }
        let db = workshop.open().await;
        is_sound(&db).await;
        sitter.compare(&db).await;
        db.close().await.expect("it closes");
        if !fs::read_to_string(trace.path()).expect("what was traced").contains("(INJECTED)") {
            return (nth, seen);
        }
    }
    panic!("{call} failed {AT_MOST} times: {seen:?}")
}

/// A few answers under a disk that fails.
async fn answered(sitter: &mut Sitter, program: Program, seen: &mut Seen) {
    for _ in 0..3 {
        match sitter.answer().await {
            Ok(None) => seen.saved += 1,
            Ok(Some(reply)) => {
                assert_eq!(reply.status, 503, "{}", reply.text());
                seen.refused += 1;
                break;
            }
            Err(_) => {
                seen.stopped += 1;
                break;
            }
        }
    }
    program.kill();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_write_that_fails_loses_nothing_that_was_called_saved() {
    if !may_trace() {
        return;
    }
    let (runs, seen) = fails_for_growing_n("pwrite64").await;
    eprintln!("writes: {runs} runs, the last untouched: {seen:?}");
    assert!(seen.refused + seen.did_not_start + seen.stopped > 0, "the fault was felt");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_sync_that_fails_loses_nothing_that_was_called_saved() {
    if !may_trace() {
        return;
    }
    let (runs, seen) = fails_for_growing_n("fsync,fdatasync").await;
    eprintln!("syncs: {runs} runs, the last untouched: {seen:?}");
    assert!(seen.refused + seen.did_not_start + seen.stopped > 0, "the fault was felt");
}
