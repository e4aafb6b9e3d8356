//! `sootmark bank export` and `import`: scenarios as files and as documents of the database are one thing.

use crate::support::database::OneDatabase;
use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, Output};

/// Runs the program in the folder of a database, and with it.
fn run(home: &OneDatabase, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_sootmark"))
        .args(arguments)
        .current_dir(home.folder.path())
        .env_remove("SOOTMARK_SETTINGS")
        .env("SOOTMARK_DATABASE_URL", &home.url)
        .output()
        .expect("the program runs")
}

fn said(output: &Output) -> String {
    format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr))
}

/// A fresh machine with a trainer and a technician.
async fn home() -> OneDatabase {
    let home = OneDatabase::empty().await;
    let roster =
        "name,email,branch,role\nAda,ada@example.org,Coldbrook,trainer\nBen,ben@example.org,Coldbrook,technician\n";
    std::fs::write(home.folder.path().join("roster.csv"), roster).expect("a roster");
    let done = run(&home, &["people", "import", "roster.csv", "--add-branches"]);
    assert!(done.status.success(), "{}", said(&done));
    home
}

/// Every file below a folder with its bytes.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    for topic in std::fs::read_dir(folder.join("templates")).expect("templates") {
        let topic = topic.expect("a folder").path();
        for file in std::fs::read_dir(&topic).expect("a topic") {
            let file = file.expect("a file").path();
            let name = file.strip_prefix(folder).expect("below").display().to_string();
            found.insert(name, std::fs::read(&file).expect("bytes"));
        }
    }
    found
}

#[tokio::test]
async fn what_is_exported_and_imported_elsewhere_and_exported_again_is_the_same_bytes() {
    let (here, there) = (home().await, home().await);
    let out = run(&here, &["bank", "export", "out"]);
    assert!(out.status.success(), "{}", said(&out));
    let whole = files(&here.folder.path().join("out"));
    let own = Path::new(env!("CARGO_MANIFEST_DIR")).join("question-bank");
    assert_eq!(whole, files(&own), "the built-in bank is the first version of everything");

    // One that is changed here, with line ends and a last line as an editor of another system leaves them.
    let file = "templates/fire/straw-under-the-boom.scenario";
    let changed = String::from_utf8(whole[file].clone()).expect("UTF-8").replace("Straw under", "Straw \u{2013} under");
    let changed = changed.trim_end().replace('\n', "\r\n");
    std::fs::write(here.folder.path().join("out").join(file), &changed).expect("written");
    let import = ["bank", "import", "out", "--by", "ada@example.org", "--publish"];
    let taken = run(&here, &import);
    assert!(taken.status.success(), "{}", said(&taken));
    assert!(said(&taken).contains("fire/straw-under-the-boom: version 2\n"), "{}", said(&taken));
    assert!(said(&taken).contains("fire/chaff-in-the-corner: unchanged\n"), "{}", said(&taken));
    let out = run(&here, &["bank", "export", "second"]);
    assert!(out.status.success(), "{}", said(&out));
    let exported = files(&here.folder.path().join("second"));
    assert_eq!(exported[file], changed.as_bytes());

    std::fs::create_dir(there.folder.path().join("out")).expect("a folder");
    for (name, bytes) in &exported {
        let place = there.folder.path().join("out").join(name);
        std::fs::create_dir_all(place.parent().expect("a folder")).expect("made");
        std::fs::write(place, bytes).expect("written");
    }
    let taken = run(&there, &import);
    assert!(taken.status.success(), "{}", said(&taken));
    let out = run(&there, &["bank", "export", "again"]);
    assert!(out.status.success(), "{}", said(&out));
    assert_eq!(files(&there.folder.path().join("again")), exported);

    // A file that says something else is never written over.
    let refused = run(&there, &["bank", "export", "out"]);
    assert!(refused.status.success(), "the same bytes may stand there: {}", said(&refused));
    std::fs::write(there.folder.path().join("out").join(file), "mine").expect("written");
    let refused = run(&there, &["bank", "export", "out"]);
    assert_eq!(refused.status.code(), Some(1));
    assert!(said(&refused).contains("says something else"), "{}", said(&refused));
    assert_eq!(std::fs::read(there.folder.path().join("out").join(file)).expect("bytes"), b"mine");
    here.close().await;
    there.close().await;
}

#[tokio::test]
async fn files_become_a_trainers_drafts_and_nobody_elses() {
    let home = home().await;
    let folder = home.folder.path().join("in/templates/fire");
    std::fs::create_dir_all(&folder).expect("a folder");
    std::fs::write(folder.join("new.scenario"), "title: half a scenario\n").expect("written");
    let import = |by: &str, more: &[&str]| run(&home, &[&["bank", "import", "in", "--by", by], more].concat());
    for by in ["ben@example.org", "nobody@example.org"] {
        let refused = import(by, &[]);
        assert_eq!(refused.status.code(), Some(1), "{by}");
        assert!(said(&refused).contains(&format!("--by {by}: nobody of this address writes scenarios here")));
    }
    let taken = import("Ada@example.org", &[]);
    assert!(said(&taken).starts_with("fire/new: draft 1\n"), "{}", said(&taken));
    assert!(said(&import("ada@example.org", &[])).starts_with("fire/new: draft 1\n"), "twice is once");
    std::fs::write(folder.join("new.scenario"), "title: another half\n").expect("written");
    let left = import("ada@example.org", &[]);
    assert_eq!(left.status.code(), Some(1));
    assert!(said(&left).contains("fire/new: left out"), "{}", said(&left));
    // What the model finds wrong is not published, and the messages name the file.
    let refused = import("ada@example.org", &["--publish"]);
    assert_eq!(refused.status.code(), Some(1));
    assert!(said(&refused).contains("in/templates/fire/new.scenario:"), "{}", said(&refused));
    assert!(said(&refused).contains("Nothing was taken in."));
    home.close().await;
}
