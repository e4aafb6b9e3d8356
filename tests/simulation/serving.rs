//! The program in a process of its own, as whoever runs it sees it: how it stops, and what it writes into its log.

use crate::mail::mail_server_that;
use crate::support::app::PASSWORD;
use crate::support::client::{Client, FORM, encoded};
use crate::support::program::{Program, Workshop};
use sootmark::domain::scenario::Question;
use sootmark::domain::scenario::question::Kind;
use sootmark::store::{attempts, outbox};
use std::os::unix::fs::PermissionsExt as _;
use std::path::Path;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::{TcpListener, TcpStream};

const SCHEME: &str = "first-day";

async fn signed_in(address: std::net::SocketAddr) -> Client {
    let mut client = Client::new(address);
    client.get("/sign-in").await;
    let signed = client.post("/sign-in", &[("email", "sitter0@example.org"), ("password", PASSWORD)]).await;
    assert_eq!(signed.status, 303, "{}", signed.text());
    client
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_answer_that_is_under_way_when_it_is_told_to_stop_is_saved_and_said_to_be() {
    let (workshop, people) = Workshop::with_technicians(1, SCHEME).await;
    let mut program = workshop.serve();
    let mut client = signed_in(program.address).await;
    client.get("/examine").await;
    let begun = client.post(&format!("/examine/{SCHEME}"), &[]).await;
    let sitting = begun.location().rsplit_once('/').expect("a sitting").0.to_owned();
    let db = workshop.open().await;
    let attempt = attempts::of_person(&db, people[0]).await.expect("attempts").pop().expect("one");
    let asked = attempts::questions(&db, attempt.id).await.expect("the questions");
    let of_choice = asked.iter().find(|asked| {
        let question: Question = serde_json::from_str(&asked.question.json).expect("a question");
        question.shown.kind == Kind::ChooseOne && question.shown.case.is_none()
    });
    let position = of_choice.expect("a question with a choice").position;
    db.close().await.expect("it closes");

    // The head is sent, and answered with 100 (RFC 9110 section 10.1.1): the server is in the middle of this request.
    let body = encoded(&[("form_token", &client.form_token), ("choice", "0")]);
    let cookie = client.cookie.clone().expect("a session");
    let head = format!(
        "POST {sitting}/{position} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nCookie: {cookie}\r\nExpect: 100-continue\r\n\
         {}: {}\r\n{}: {}\r\nContent-Length: {}\r\n\r\n",
        program.address,
        FORM[0].0,
        FORM[0].1,
        FORM[1].0,
        FORM[1].1,
        body.len()
    );
    let mut stream = TcpStream::connect(program.address).await.expect("a connection");
    stream.write_all(head.as_bytes()).await.expect("sent");
    let mut go_on = [0_u8; 25];
    stream.read_exact(&mut go_on).await.expect("told to go on");
    assert_eq!(&go_on, b"HTTP/1.1 100 Continue\r\n\r\n");
    program.terminate();
    assert!(program.says("Sootmark stops"), "it has heard");
    stream.write_all(body.as_bytes()).await.expect("sent");
    let mut reply = String::new();
    stream.read_to_string(&mut reply).await.expect("a reply");
    assert!(reply.starts_with("HTTP/1.1 303 See Other\r\n"), "{reply}");
    assert_eq!(program.end().code(), Some(0), "it ended in order");
    let db = workshop.open().await;
    let saved = attempts::responses(&db, attempt.id).await.expect("the answers");
    assert!(matches!(saved.as_slice(), [answer] if answer.position == position), "{saved:?}");
    db.close().await.expect("it closes");
    workshop.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn no_secret_of_a_path_a_form_or_a_header_reaches_the_log_however_much_is_logged() {
    let (workshop, _) = Workshop::with_technicians(2, SCHEME).await;
    // A mail server that repeats the address in its reply, and tells when it has.
    let (heard, mut asked) = tokio::sync::mpsc::unbounded_channel();
    let refuses = move |line: &str| {
        let asked = line.starts_with("RCPT").then(|| heard.send(()));
        asked.map(|_| "550 5.1.1 <sitter0@example.org> <sitter1@example.org>: Sitter 0 is unknown here\r\n")
    };
    let (port, _taken) = mail_server_that(refuses).await;
    let port = port.to_string();
    // Each asks once: a second letter would not be written so soon.
    for (level, forgetful) in [("info", "sitter0@example.org"), ("trace", "sitter1@example.org")] {
        let program = workshop.serve_with(&[
            ("SOOTMARK_LOG_LEVEL", level),
            ("SOOTMARK_MAIL_TRANSPORT", "smtp"),
            ("SOOTMARK_SMTP_HOST", "127.0.0.1"),
            ("SOOTMARK_SMTP_PORT", &port),
            ("SOOTMARK_SMTP_TLS", "none"),
        ]);
        let mut client = signed_in(program.address).await;
        for path in [
            "/invitation/S3CRET-of-an-invitation",
            "/calendar/S3CRET-of-a-calendar.ics",
            "/letters/stop/S3CRET-of-a-letter",
            "/check/S3CRET-of-a-code",
            "/no/such/S3CRET-place?key=S3CRET-in-a-query",
        ] {
            client.get(path).await;
        }
        client.send("GET", "/qualified/who", &[("Authorization", "Bearer S3CRET-key")], "").await;
        client.post("/sign-in", &[("email", "S3CRET@example.org"), ("password", "S3CRET-password")]).await;
        assert_eq!(client.post("/forgotten", &[("email", forgetful)]).await.status, 200);
        asked.recv().await.expect("a letter was refused");
        let account = client.get("/account").await;
        let id = account.header("x-request-id").expect("an id").to_owned();
        let session = client.cookie.clone().expect("a session");
        program.terminate();
        let log = program.log();
        let mut never = vec!["S3CRET", "sitter0@", "sitter1@", "Sitter 0", "Sitter 1", PASSWORD];
        never.push(session.split_once('=').expect("a cookie").1);
        for never in never {
            let line = log.iter().find(|line| line.contains(never));
            assert!(line.is_none(), "{level}: {never}: {line:?}");
        }
        assert!(
            log.iter().any(|line| line.contains("a letter was not taken")),
            "{level}: it is logged that it was not"
        );
        // The log is not empty by mistake: a request is found by the id that its reply carried, with its pattern.
        let found = log.iter().find(|line| line.contains(&id) && line.contains("/account"));
        let found: serde_json::Value = serde_json::from_str(found.expect("the request is logged")).expect("JSON");
        assert_eq!(found["span"]["route"], "/account", "{found}");
        assert_eq!(found["span"]["status"], 200, "{found}");
        assert!(log.iter().any(|line| line.contains("/invitation/{token}")), "routes are named by their pattern");
    }
    workshop.close().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_log_in_words_that_goes_to_no_terminal_has_no_colours() {
    let (workshop, _) = Workshop::with_technicians(1, SCHEME).await;
    let program = workshop.serve_with(&[("SOOTMARK_LOG_LEVEL", "info"), ("SOOTMARK_LOG_FORMAT", "text")]);
    assert_eq!(Client::new(program.address).get("/health").await.status, 200);
    program.terminate();
    let log = program.log();
    assert!(log.iter().any(|line| line.contains("route=\"/health\"")), "{log:?}");
    let coloured = log.iter().find(|line| line.contains('\u{1b}'));
    assert_eq!(coloured, None);
    workshop.close().await;
}

#[tokio::test]
async fn sign_ins_and_refused_access_stand_in_the_log_with_a_number_and_no_name() {
    let (workshop, people) = Workshop::with_technicians(1, SCHEME).await;
    let program = workshop.serve_with(&[("SOOTMARK_LOG_LEVEL", "info")]);
    let mut client = signed_in(program.address).await;
    let mut requests = Vec::new();
    for (email, password) in [("sitter0@example.org", "not the password"), ("nobody@example.org", PASSWORD)] {
        let refused = Client::new(program.address).post("/sign-in", &[("email", email), ("password", password)]).await;
        assert_eq!(refused.status, 422);
        requests.push(refused.header("x-request-id").expect("an id").to_owned());
    }
    let kept_out = client.get("/people").await;
    assert_eq!(kept_out.status, 404);
    requests.push(kept_out.header("x-request-id").expect("an id").to_owned());
    program.terminate();
    let log = program.log();
    let lines: Vec<serde_json::Value> = log.iter().filter_map(|line| serde_json::from_str(line).ok()).collect();
    let said = |id: Option<&str>, message: &str| -> Vec<&serde_json::Value> {
        let of = |line: &&serde_json::Value| {
            line["fields"]["message"] == message && id.is_none_or(|id| line["span"]["id"] == id)
        };
        lines.iter().filter(of).collect()
    };
    let right = said(None, "a password was right");
    assert_eq!(right.len(), 1, "{log:?}");
    assert_eq!(right[0]["fields"]["person"], people[0].0);
    let wrong = said(Some(&requests[0]), "a sign-in was refused");
    assert_eq!(wrong.len(), 1, "{log:?}");
    assert_eq!(wrong[0]["fields"]["person"], people[0].0, "whose account it was");
    let nobodys = said(Some(&requests[1]), "a sign-in was refused");
    assert_eq!(nobodys.len(), 1, "{log:?}");
    assert!(nobodys[0]["fields"]["person"].is_null(), "nobody has that address");
    let kept_out = said(Some(&requests[2]), "somebody was refused what is not for their role");
    assert_eq!(kept_out.len(), 1, "{log:?}");
    assert_eq!(kept_out[0]["fields"]["person"], people[0].0);
    for never in ["sitter0", "nobody@", "Sitter", "not the password", PASSWORD] {
        assert!(!log.iter().any(|line| line.contains(never)), "{never}");
    }
    workshop.close().await;
}

/// A mail server that takes the connection and says nothing.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_silent_mail_server_keeps_the_program_from_nothing() {
    let (workshop, _) = Workshop::with_technicians(1, SCHEME).await;
    let silent = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
    let port = silent.local_addr().expect("an address").port().to_string();
    let mut program = workshop.serve_with(&[
        ("SOOTMARK_MAIL_TRANSPORT", "smtp"),
        ("SOOTMARK_SMTP_HOST", "127.0.0.1"),
        ("SOOTMARK_SMTP_PORT", &port),
        ("SOOTMARK_SMTP_TLS", "none"),
    ]);
    let mut client = Client::new(program.address);
    client.get("/forgotten").await;
    assert_eq!(client.post("/forgotten", &[("email", "sitter0@example.org")]).await.status, 200);
    let held = silent.accept().await.expect("it comes with the letter");
    assert_eq!(client.get("/ready").await.status, 200);
    program.terminate();
    assert_eq!(program.end().code(), Some(0), "it ended in order, with the connection open");
    drop(held);
    let db = workshop.open().await;
    assert_eq!(outbox::waiting(&db).await.expect("the outbox"), 1, "the letter is not lost");
    db.close().await.expect("it closes");
    workshop.close().await;
}

/// Whatever the umask, and whichever setting names the database.
#[tokio::test]
async fn what_the_program_makes_is_closed_to_other_users() {
    let place = tempfile::tempdir().expect("a folder");
    let database = place.path().join("our data.sqlite");
    // Source: RFC 3986 section 2.1: %20 is a space.
    let url = format!("sqlite:{}", place.path().join("our%20data.sqlite").display());
    let made = place.path().join("made");
    let workshop = Workshop::without_people(&made, &url);
    let program = Program::start(workshop.command(&["sh", "-c", "umask 0; exec \"$0\" \"$@\""], "127.0.0.1:0"));
    let program = program.expect("the program serves");
    let mode = |path: &Path| std::fs::metadata(path).expect("it is there").permissions().mode() & 0o777;
    let beside = |end: &str| place.path().join(format!("our data.sqlite{end}"));
    assert_eq!([mode(&database), mode(&beside("-wal")), mode(&beside("-shm"))], [0o600; 3]);
    assert_eq!([mode(&made), mode(&made.join("mail"))], [0o700; 2]);
    program.kill();

    // The database in the data folder, too.
    let whole = place.path().join("whole");
    let mut command = workshop.command(&["sh", "-c", "umask 0; exec \"$0\" \"$@\""], "127.0.0.1:0");
    command.env_remove("SOOTMARK_DATABASE_URL").env("SOOTMARK_DATA_FOLDER", &whole);
    let program = Program::start(command).expect("the program serves");
    assert_eq!([mode(&whole), mode(&whole.join("mail"))], [0o700; 2]);
    assert_eq!(mode(&whole.join("sootmark.sqlite")), 0o600);
    program.kill();
}
