//! A disk that is full: a small file system in memory, filled up while somebody sits an examination. Whoever is not saved is
//! told so in words, what was saved stays, and when there is room again all goes on.
//!
//! Skipped, and said so, where no file system may be mounted.

use super::oracle::{SCHEME, Sitter, is_sound};
use crate::support::client::Reply;
use crate::support::program::{Program, Workshop};
use sootmark::actions::back_up::back_up;
use sootmark::actions::keep_backups::{Keeping, keep_backups};
use sootmark::clock::Clock;
use sootmark::store::attempts;
use std::fs::{self, OpenOptions};
use std::io::Write as _;
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use tempfile::TempDir;

/// A file system of a test's own; it is taken away when this goes.
pub(super) struct Mounted {
    at: TempDir,
}

impl Mounted {
    /// `None`, with the reason printed, where this machine does not allow it.
    pub(super) fn new(arguments: &[&str]) -> Option<Self> {
        let at = tempfile::tempdir().expect("a folder");
        let said = Command::new("mount").args(arguments).arg(at.path()).output();
        match said {
            Ok(said) if said.status.success() => Some(Self { at }),
            Ok(said) => skipped(&String::from_utf8_lossy(&said.stderr)),
            Err(error) => skipped(&error.to_string()),
        }
    }

    /// Taken away and mounted again at the same place, as after a power cut.
    pub(super) fn again(&mut self, device: &str) {
        let away = Command::new("umount").arg(self.at.path()).output().expect("umount");
        assert!(away.status.success(), "{}", String::from_utf8_lossy(&away.stderr));
        let back = Command::new("mount").args(["-o", "loop", device]).arg(self.at.path()).output().expect("mount");
        assert!(back.status.success(), "{}", String::from_utf8_lossy(&back.stderr));
    }

    pub(super) fn path(&self) -> &Path {
        self.at.path()
    }
}

fn skipped(why: &str) -> Option<Mounted> {
    eprintln!("skipped: no file system can be mounted here: {}", why.trim());
    None
}

impl Drop for Mounted {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("--lazy").arg(self.at.path()).status();
    }
}

/// Takes all the room there is; gives the file that holds it.
fn filled(folder: &Path) -> PathBuf {
    let path = folder.join("filler");
    let mut file = OpenOptions::new().create(true).append(true).open(&path).expect("a file");
    for size in [1 << 16, 1 << 12, 1 << 8, 1] {
        while file.write_all(&vec![0; size]).is_ok() {}
    }
    path
}

fn told_in_words(text: &str) {
    let words = ["Nothing was saved", "Not known whether it was saved"];
    assert!(words.iter().any(|words| text.contains(words)), "{text}");
}

/// Saves until the disk refuses; what was refused was told in words, and stands on that page. Gives how many were saved
/// before, and the page.
async fn save_until_refused(sitter: &mut Sitter) -> (usize, Reply) {
    for saved in 0..2000 {
        // A server that stopped because it does not know says so to whoever was waiting, and then to nobody.
        if let Some(reply) = sitter.answer().await.expect("a reply") {
            assert_eq!(reply.status, 503, "{}", reply.text());
            told_in_words(&reply.text());
            assert!(reply.text().contains("What you sent is kept on this page."), "{}", reply.text());
            return (saved, reply);
        }
    }
    panic!("a full disk takes everything")
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_full_disk_is_told_and_costs_nothing_that_was_saved() {
    let Some(small) = Mounted::new(&["-t", "tmpfs", "-o", "size=48m", "tmpfs"]) else { return };
    let (workshop, _) = Workshop::in_folder(small.path(), 1, SCHEME).await;
    let mut program = workshop.serve();
    let address = program.address;
    let db = workshop.open().await;
    let mut sitter = Sitter::begin(address, 0, &db).await;
    db.close().await.expect("it closes");
    for _ in 0..3 {
        assert!(sitter.answer().await.expect("it serves").is_none());
    }
    let (mut said, mut kept) = (Vec::new(), None);
    for round in 0..3 {
        let filler = filled(small.path());
        let ends;
        if round < 2 {
            let (saved, page) = save_until_refused(&mut sitter).await;
            said.push(format!("refused after {saved} more answers"));
            ends = stops_after(&page);
            kept = Some(page);
        } else {
            let reply = sitter.hand_in().await;
            // It fits into what the log has room for already, or it is refused in words.
            if reply.status != 303 {
                assert_eq!(reply.status, 503, "{}", reply.text());
                told_in_words(&reply.text());
            }
            ends = stops_after(&reply);
            said.push(format!("handing in: {}", reply.status));
        }
        fs::remove_file(filler).expect("room again");
        if ends {
            // As whoever watches over it does.
            assert!(!program.end().success(), "it stops only when it does not know");
            program = workshop.serve_again(address);
        }
        let db = workshop.open().await;
        is_sound(&db).await;
        sitter.compare(&db).await;
        db.close().await.expect("it closes");
        if let Some(page) = kept.take() {
            let again = sitter.send_again(&page).await.expect("it serves");
            assert_eq!(again.status, 303, "what stood on the page is saved: {}", again.text());
            assert!(sitter.answer().await.expect("it serves").is_none(), "all goes on");
        }
    }
    let db = workshop.open().await;
    if attempts::find_result(&db, sitter.attempt).await.expect("the store").is_none() {
        assert_eq!(sitter.hand_in().await.status, 303, "and is handed in");
    }
    assert!(attempts::find_result(&db, sitter.attempt).await.expect("the store").is_some());
    is_sound(&db).await;
    sitter.compare(&db).await;
    db.close().await.expect("it closes");
    eprintln!("full disk: {}", said.join("; "));
    program.kill();
}

/// Whether the program stops after it has said this: it does not know what the database holds.
fn stops_after(reply: &Reply) -> bool {
    reply.text().contains("Not known whether it was saved")
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_backup_that_does_not_fit_is_refused_leaves_nothing_and_costs_no_earlier_one() {
    let Some(small) = Mounted::new(&["-t", "tmpfs", "-o", "size=4m", "tmpfs"]) else { return };
    let (workshop, _) = Workshop::with_technicians(1, SCHEME).await;
    let earlier = small.path().join("sootmark-20261101T080000Z.sqlite");
    fs::write(&earlier, "an earlier one").expect("it fits");
    filled(small.path());
    let file = small.path().join("whole.sqlite");
    let refused = back_up(workshop.url(), &file).await.expect_err("there is no room");
    assert!(!refused.to_string().is_empty());
    let left: Vec<_> =
        fs::read_dir(small.path()).expect("a folder").map(|entry| entry.expect("an entry").file_name()).collect();
    assert!(!left.iter().any(|name| name.to_string_lossy().starts_with("whole")), "{left:?}");
    // By itself, too: what there is stays when the new one does not fit.
    let keeping = Keeping { folder: small.path().to_owned(), every_hours: 1, kept: 1 };
    assert!(keep_backups(workshop.url(), &keeping, Clock::system().now()).await.is_err());
    assert!(earlier.exists());
    // With room again it is made.
    fs::remove_file(small.path().join("filler")).expect("room again");
    let elsewhere = tempfile::tempdir().expect("a folder");
    back_up(workshop.url(), &elsewhere.path().join("whole.sqlite")).await.expect("a backup");
    workshop.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_log_that_cannot_be_written_stops_nobody() {
    let (workshop, _) = Workshop::with_technicians(1, SCHEME).await;
    let socket = TcpListener::bind("127.0.0.1:0").expect("a free port");
    let address = socket.local_addr().expect("an address");
    drop(socket);
    let mut command = workshop.command(&[], &address.to_string());
    // Source: the Linux manual, full(4): every write to it fails as on a full disk.
    let full = OpenOptions::new().write(true).open("/dev/full").expect("Linux has it");
    command.env("SOOTMARK_LOG_LEVEL", "trace").stderr(Stdio::from(full));
    let program = Program::start_silent(command, address);
    // It says nothing, so it is asked until it answers.
    let mut asks = crate::support::client::Client::new(address);
    let mut looks = tokio::time::interval(std::time::Duration::from_millis(50));
    for look in 0.. {
        looks.tick().await;
        if asks.try_get("/ready").await.is_ok_and(|ready| ready.status == 200) {
            break;
        }
        assert!(look < 1200, "it does not serve without a log");
    }
    let db = workshop.open().await;
    let mut sitter = Sitter::begin(address, 0, &db).await;
    for _ in 0..5 {
        assert!(sitter.answer().await.expect("it serves").is_none());
    }
    assert_eq!(sitter.hand_in().await.status, 303);
    sitter.compare(&db).await;
    is_sound(&db).await;
    db.close().await.expect("it closes");
    program.kill();
    workshop.close().await;
}
