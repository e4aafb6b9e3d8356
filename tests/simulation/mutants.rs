//! The planted faults below `tests/simulation/mutants` fit the sources as they are now, and each says which tests catch it.
//! `tests/simulation/mutants/run` plants them; that takes long, so it is no test.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

fn patches() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/simulation/mutants");
    let entries = fs::read_dir(folder).expect("the folder").map(|entry| entry.expect("an entry").path());
    let mut patches: Vec<_> = entries.filter(|path| path.extension().is_some_and(|end| end == "patch")).collect();
    patches.sort();
    patches
}

#[test]
fn every_planted_fault_fits_the_sources() {
    let patches = patches();
    assert!(patches.len() >= 20, "{} faults", patches.len());
    for patch in patches {
        let text = fs::read_to_string(&patch).expect("a patch");
        let mut lines = text.lines();
        assert!(lines.next().is_some_and(|what| what.ends_with('.')), "{}: says what it does", patch.display());
        let caught = lines.next().and_then(|line| line.strip_prefix("Caught by: ")).unwrap_or_default();
        assert!(caught.contains("test("), "{}: says what catches it", patch.display());
        let fits = Command::new("git")
            .args(["apply", "--check"])
            .arg(&patch)
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .output()
            .expect("git");
        assert!(fits.status.success(), "{}: {}", patch.display(), String::from_utf8_lossy(&fits.stderr));
    }
}
