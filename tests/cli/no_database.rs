//! Commands in a folder where no workshop has its data: those that need a database refuse, and make none.

use std::path::Path;
use std::process::Command;

const PERSON: &str = "ann@example.org";

/// Stdout, stderr and the exit code in a folder, with this address of a database, or the embedded one.
fn run(folder: &Path, url: Option<&str>, arguments: &[&str]) -> (String, String, i32) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_sootmark"));
    command.args(arguments).current_dir(folder);
    for name in ["SETTINGS", "DATABASE_URL", "DATA_FOLDER", "BANK_FOLDER"] {
        command.env_remove(format!("SOOTMARK_{name}"));
    }
    if let Some(url) = url {
        command.env("SOOTMARK_DATABASE_URL", url);
    }
    let output = command.output().expect("the program runs");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    (text(output.stdout), text(output.stderr), output.status.code().expect("an exit code"))
}

/// Every command that works on what a workshop has, and its exit code when there is nothing.
const COMMANDS: [(&[&str], i32); 11] = [
    (&["issuer", "keys"], 1),
    (&["issuer", "renew-key"], 1),
    (&["bank", "export", "out"], 1),
    (&["bank", "import", "in", "--by", PERSON], 1),
    (&["bank", "import", "in", "--by", PERSON, "--publish"], 1),
    (&["people", "anonymise", PERSON, "--yes"], 1),
    (&["people", "export", PERSON, "--out", "person.json"], 1),
    (&["record", "export-xapi", "--out", "statements.json"], 1),
    (&["backup", "backup.sqlite"], 1),
    (&["audit", "verify"], 3),
    (&["replay", "1"], 3),
];

#[test]
fn a_command_that_needs_a_database_makes_none_and_says_where_it_was_looked_for() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path().canonicalize().expect("a real path");
    // So that nothing but the database is missing.
    let scenario = folder.join("in/templates/fire/new.scenario");
    std::fs::create_dir_all(scenario.parent().expect("a folder")).expect("made");
    std::fs::write(&scenario, "title: half a scenario\n").expect("written");
    let elsewhere = format!("sqlite:{}", folder.join("no-such.sqlite").display());
    for (url, looked_for) in [(None, "data/sootmark.sqlite"), (Some(elsewhere.as_str()), "no-such.sqlite")] {
        let missing = format!(
            "Sootmark: the database cannot be opened: there is no {}; set data_folder or database_url ",
            folder.join(looked_for).display()
        );
        for (arguments, code) in COMMANDS {
            let (said, told, ended) = run(&folder, url, arguments);
            assert_eq!((said.as_str(), ended), ("", code), "{arguments:?}: {told}");
            assert!(told.starts_with(&missing) && told.lines().count() == 1, "{arguments:?}: {told}");
            let entries = std::fs::read_dir(&folder).expect("the folder");
            let left: Vec<_> = entries.map(|entry| entry.expect("an entry").file_name()).collect();
            assert_eq!(left, ["in"], "{arguments:?}");
        }
    }
}

#[test]
fn a_file_without_tables_is_no_workshop_and_stays_as_it_is() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("empty.sqlite");
    std::fs::write(&file, "").expect("written");
    let url = format!("sqlite:{}", file.display());
    for arguments in [&["issuer", "renew-key"][..], &["issuer", "keys"], &["bank", "export", "out"]] {
        let (said, told, code) = run(folder.path(), Some(&url), arguments);
        assert_eq!((said.as_str(), code), ("", 1), "{arguments:?}: {told}");
        assert!(told.contains("there are no tables of Sootmark in it"), "{arguments:?}: {told}");
        assert_eq!(std::fs::read(&file).expect("the file"), b"", "{arguments:?}");
    }
}
