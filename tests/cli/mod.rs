//! The program on the command line.

mod audit;
mod backup;
mod bank;
mod bank_files;
mod demo;
mod doctor;
mod forecast;
mod issuer;
mod journey;
mod judge;
mod log;
mod no_database;
mod people;
mod person;
mod qti;
mod record;
mod removed;

use std::io::Write as _;
use std::process::{Command, Stdio};

/// What somebody sees who types this: stdout, stderr, exit code. Files are named as from the project's folder.
fn seen(arguments: &[&str], stdin: &str) -> String {
    let mut program = Command::new(env!("CARGO_BIN_EXE_sootmark"))
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env_remove("SOOTMARK_SETTINGS")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    // A program that never reads its stdin has closed it; what it says then is what is looked at.
    let _ = program.stdin.take().expect("its stdin").write_all(stdin.as_bytes());
    let output = program.wait_with_output().expect("it ends");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    let code = output.status.code().expect("an exit code");
    format!("{}--- stderr\n{}--- exit {code}", text(output.stdout), text(output.stderr))
}

/// The long help and the module's own documentation both name the field.
#[track_caller]
fn documented(help: &[&str], module: &str, field: &str) {
    for text in [seen(help, "").as_str(), module] {
        assert!(text.split([' ', ',', '\n', '`', ';']).any(|word| word == field), "nothing says what {field} is");
    }
}
