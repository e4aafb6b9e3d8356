//! The power goes: an ext4 file system in a file is shut down under the running program without flushing its log, so that what
//! was not synced is gone, and mounted again. Whoever was told "saved" finds that answer.
//!
//! `SOOTMARK_POWER_CUTS` says how often, 5 when it is not set. Skipped, and said so, where no loop device may be mounted.

use super::disk::Mounted;
use super::oracle::{SCHEME, Sitter, below, is_sound, kill_after_blow};
use crate::support::program::Workshop;
use rand::SeedableRng as _;
use rand::rngs::ChaCha8Rng;
use std::path::Path;
use std::process::Command;
use std::sync::atomic::Ordering;

const SITTERS: usize = 3;

/// Shuts a file system down as a power cut would. The tool speaks for us, because this package has no unsafe code.
// Source: Linux, fs/ext4/ioctl.c: EXT4_IOC_SHUTDOWN is _IOR('X', 125, __u32), and flag 2 (EXT4_GOING_FLAGS_NOLOGFLUSH)
// leaves the journal as it is on the disk.
fn cut(at: &Path) {
    let script = "import fcntl, os, struct, sys\n\
                  folder = os.open(sys.argv[1], os.O_RDONLY)\n\
                  fcntl.ioctl(folder, 0x8004587d, struct.pack('I', 2))\n";
    let done = Command::new("python3").args(["-c", script]).arg(at).status().expect("python3");
    assert!(done.success(), "the file system shuts down");
}

fn is_there(tool: &str) -> bool {
    Command::new(tool).arg("--version").output().is_ok() || Command::new(tool).arg("-V").output().is_ok()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn whatever_was_called_saved_outlives_a_power_cut() {
    let cuts: usize = std::env::var("SOOTMARK_POWER_CUTS").map_or(5, |count| count.parse().expect("a number of cuts"));
    if !is_there("python3") || !is_there("mkfs.ext4") {
        eprintln!("skipped: python3 or mkfs.ext4 is missing");
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let disk = folder.path().join("disk");
    std::fs::File::create(&disk).and_then(|file| file.set_len(128 << 20)).expect("a file");
    let made = Command::new("mkfs.ext4").args(["-q", "-F"]).arg(&disk).status().expect("mkfs.ext4");
    assert!(made.success());
    let text = disk.to_str().expect("a path");
    // Mounted always at the same place, below a mount of the test's own: the program's folder stays what it was.
    let Some(mut mounted) = Mounted::new(&["-o", "loop", text]) else { return };
    let (workshop, _) = Workshop::in_folder(mounted.path(), SITTERS, SCHEME).await;
    let mut program = workshop.serve();
    let address = program.address;
    let db = workshop.open().await;
    let mut sitters = Vec::new();
    for number in 0..SITTERS {
        sitters.push(Sitter::begin(address, number, &db).await);
    }
    db.close().await.expect("it closes");
    let mut draws = ChaCha8Rng::seed_from_u64(17);
    for cut_number in 0..cuts {
        let place = mounted.path().to_owned();
        sitters = kill_after_blow(program, sitters, 1 + below(&mut draws, 60), |gone| {
            gone.store(true, Ordering::SeqCst);
            cut(&place);
        })
        .await;
        mounted.again(text);
        let db = workshop.open().await;
        is_sound(&db).await;
        for sitter in &mut sitters {
            sitter.compare(&db).await;
        }
        db.close().await.expect("it closes");
        program = workshop.serve_again(address);
        assert_eq!(sitters[0].client.get("/examine").await.status, 200, "after cut {cut_number}");
    }
    let acknowledged: i32 = sitters.iter().flat_map(|sitter| sitter.known.values()).map(|known| known.revision).sum();
    eprintln!("{cuts} power cuts, {acknowledged} answers acknowledged, none lost");
    assert!(acknowledged > 0);
    program.kill();
}
