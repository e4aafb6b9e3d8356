//! `sootmark demo`: comes up on a fresh folder, answers, stops in order at a signal, keeps what it had.

use crate::support::client::Client;
use std::io::{BufRead as _, BufReader};
use std::net::SocketAddr;
use std::path::Path;
use std::process::{Child, ChildStderr, Command, Stdio};

/// A demo that runs on a free port.
struct Demo {
    program: Child,
    messages: BufReader<ChildStderr>,
    address: SocketAddr,
}

impl Demo {
    fn start(folder: &Path, arguments: &[&str]) -> Self {
        let mut program = Command::new(env!("CARGO_BIN_EXE_sootmark"))
            .args(["demo", "--listen", "127.0.0.1:0", "--folder", "demo", "--people", "5"])
            .args(arguments)
            .current_dir(folder)
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let mut messages = BufReader::new(program.stderr.take().expect("its messages"));
        let address = loop {
            let mut line = String::new();
            assert!(messages.read_line(&mut line).expect("a message") > 0, "it ended before it served");
            assert!(!line.starts_with('{'), "no log between what is told: {line}");
            if let Some(address) = line.trim().strip_prefix("Sootmark serves http://") {
                break address.parse().expect("an address");
            }
        };
        Self { program, messages, address }
    }

    /// Sends a signal and gives the exit code.
    fn stop(mut self, signal: &str) -> Option<i32> {
        let sent = Command::new("kill").args([signal, &self.program.id().to_string()]).status();
        assert!(sent.expect("kill runs").success());
        let code = self.program.wait().expect("it ends").code();
        let rest: Vec<_> = self.messages.lines().map_while(Result::ok).collect();
        assert_eq!(
            rest,
            ["Sootmark stops; what is under way is finished first."],
            "nothing else is told, or went wrong"
        );
        code
    }
}

#[tokio::test]
async fn the_demo_comes_up_answers_and_stops_in_order() {
    let folder = tempfile::tempdir().expect("a folder");
    let demo = Demo::start(folder.path(), &[]);
    assert_eq!(Client::new(demo.address).get("/sign-in").await.status, 200);
    assert_eq!(Client::new(demo.address).get("/ready").await.status, 200);
    assert_eq!(demo.stop("-TERM"), Some(0));
    let database = folder.path().join("demo/sootmark.sqlite");
    assert!(database.exists());
    assert!(!folder.path().join("demo/sootmark.sqlite-wal").exists(), "the log is folded into the file");

    let demo = Demo::start(folder.path(), &["--fresh"]);
    assert_eq!(demo.stop("-INT"), Some(0));
}
