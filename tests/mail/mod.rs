//! Letters leave, whatever the mail server does meanwhile.

mod assigned;
mod due;
mod protected;
mod refused;
mod twins;

use crate::support::app::{BEGINNING, TestApp};
use sootmark::config::{MailTransport, Settings, SmtpTls};
use sootmark::domain::people::Role;
use sootmark::mail::letter::{self, ExaminationResult};
use sootmark::mail::sender::{Round, Sender};
use sootmark::mail::transport::Transport;
use sootmark::store::outbox;
use std::fs::Permissions;
use std::os::unix::fs::PermissionsExt as _;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use tokio::io::{AsyncBufReadExt as _, AsyncWriteExt as _, BufReader};
use tokio::net::TcpListener;
use tokio::sync::mpsc;
use tokio_util::sync::CancellationToken;

/// Invites somebody, so that one letter lies in the outbox.
async fn invite(app: &TestApp, name: &str, email: &str) {
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let branch = app.branch.to_string();
    let fields = [("name", name), ("email", email), ("branch", branch.as_str()), ("role", "technician")];
    assert_eq!(manager.post("/people/invite", &fields).await.status, 303);
}

/// A mail server on loopback that takes no letter for now while `refuses`, and hands over what it took.
async fn mail_server(refuses: Arc<AtomicBool>) -> (u16, mpsc::UnboundedReceiver<String>) {
    let busy = move |line: &str| line.starts_with("MAIL") && refuses.load(Ordering::SeqCst);
    mail_server_that(move |line| busy(line).then_some("451 try later\r\n")).await
}

/// A mail server on loopback that answers some lines as it is told, and hands over what it took.
pub(crate) async fn mail_server_that(
    answers: impl Fn(&str) -> Option<&'static str> + Clone + Send + Sync + 'static,
) -> (u16, mpsc::UnboundedReceiver<String>) {
    let socket = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
    let port = socket.local_addr().expect("an address").port();
    let (taken, letters) = mpsc::unbounded_channel();
    tokio::spawn(async move {
        while let Ok((stream, _)) = socket.accept().await {
            let (answers, taken) = (answers.clone(), taken.clone());
            tokio::spawn(async move {
                let mut stream = BufReader::new(stream);
                stream.write_all(b"220 loopback\r\n").await.expect("a greeting");
                let (mut line, mut letter, mut in_letter) = (String::new(), String::new(), false);
                while stream.read_line(&mut line).await.is_ok_and(|read| read > 0) {
                    // Source: RFC 5321 sections 4.1.1 and 4.2: the replies that a letter needs.
                    let reply = match line.as_str() {
                        ".\r\n" if in_letter => {
                            in_letter = false;
                            taken.send(std::mem::take(&mut letter)).expect("the test listens");
                            "250 taken\r\n"
                        }
                        text if in_letter => {
                            letter.push_str(text);
                            ""
                        }
                        text if text.starts_with("DATA") => {
                            in_letter = true;
                            "354 go on\r\n"
                        }
                        text if text.starts_with("QUIT") => "221 bye\r\n",
                        text => answers(text).unwrap_or("250 ok\r\n"),
                    };
                    stream.write_all(reply.as_bytes()).await.expect("a reply");
                    line.clear();
                }
            });
        }
    });
    (port, letters)
}

fn by_smtp(port: u16) -> Transport {
    let settings = Settings {
        mail_transport: MailTransport::Smtp,
        smtp_host: Some("127.0.0.1".to_owned()),
        smtp_port: Some(port),
        smtp_tls: SmtpTls::None,
        mail_sender: "Fennmark training <training@fennmark.example>".to_owned(),
        ..Settings::default()
    };
    Transport::from_settings(&settings).expect("a way out")
}

fn sender(app: &TestApp, transport: Transport) -> Sender {
    Sender::new(&app.deeds, transport, CancellationToken::new())
}

#[tokio::test]
async fn no_letter_is_lost_while_the_mail_server_is_away() {
    let app = TestApp::start().await;
    invite(&app, "Ada Größe", "ada@example.org").await;

    // Nobody listens at all.
    let nobody = std::net::TcpListener::bind("127.0.0.1:0").and_then(|socket| socket.local_addr()).expect("a port");
    let away = sender(&app, by_smtp(nobody.port()));
    assert_eq!(away.send_due().await.expect("a round"), Round { sent: 0, put_off: 1 });
    assert_eq!(away.send_due().await.expect("a round"), Round::default(), "not again at once");

    // Somebody listens and refuses.
    let refuses = Arc::new(AtomicBool::new(true));
    let (port, mut letters) = mail_server(refuses.clone()).await;
    let there = sender(&app, by_smtp(port));
    app.clock.advance(30);
    assert_eq!(there.send_due().await.expect("a round"), Round { sent: 0, put_off: 1 });

    refuses.store(false, Ordering::SeqCst);
    app.clock.advance(30);
    assert_eq!(there.send_due().await.expect("a round"), Round::default(), "the second wait is longer");
    app.clock.advance(30);
    assert_eq!(there.send_due().await.expect("a round"), Round { sent: 1, put_off: 0 });
    let letter = letters.recv().await.expect("a letter");
    let link = |text: &str| text.split_once("/invitation/").map(|(_, rest)| rest.chars().take(10).collect::<String>());
    let kept = &outbox::to_address(&app.deeds.db, "ada@example.org").await.expect("the outbox")[0];
    assert_eq!(link(&kept.text_body).as_deref(), Some("(not kept)"), "what opens an account goes with the letter");
    assert!(!kept.html_body.contains(&link(&letter).expect("a link in the letter")), "{}", kept.html_body);
    for line in [
        "To: ",
        "ada@example.org",
        "Subject: Choose your Sootmark password",
        "Message-ID: <outbox-1@fennmark.example>",
        "multipart/alternative",
    ] {
        assert!(letter.contains(line), "{line} in {letter}");
    }
    app.clock.advance(24 * 3600);
    assert_eq!(there.send_due().await.expect("a round"), Round::default(), "and only once");
    app.stop().await;
}

#[tokio::test]
async fn two_senders_send_a_letter_once() {
    let app = TestApp::start().await;
    for n in 0..6 {
        invite(&app, "Ada", &format!("ada{n}@example.org")).await;
    }
    let (port, mut letters) = mail_server(Arc::new(AtomicBool::new(false))).await;
    let (one, other) = (sender(&app, by_smtp(port)), sender(&app, by_smtp(port)));
    let (one, other) = tokio::join!(one.send_due(), other.send_due());
    assert_eq!(one.expect("a round").sent + other.expect("a round").sent, 6);
    letters.close();
    let mut taken = 0;
    while letters.recv().await.is_some() {
        taken += 1;
    }
    assert_eq!(taken, 6);
    app.stop().await;
}

#[tokio::test]
async fn without_a_mail_server_letters_are_files() {
    let app = TestApp::start().await;
    invite(&app, "Ada", "ada@example.org").await;
    let folder = tempfile::tempdir().expect("a folder");
    // As an earlier program has made it: open to everybody.
    let (mail, open) = (folder.path().join("mail"), Permissions::from_mode(0o755));
    std::fs::create_dir(&mail).and_then(|()| std::fs::set_permissions(&mail, open)).expect("a folder");
    let settings = Settings { data_folder: folder.path().to_owned(), ..Settings::default() };
    let there = sender(&app, Transport::from_settings(&settings).expect("a way out"));
    assert_eq!(there.send_due().await.expect("a round"), Round { sent: 1, put_off: 0 });
    let mode = |path: &Path| std::fs::metadata(path).expect("it is there").permissions().mode() & 0o777;
    assert_eq!(mode(&mail), 0o700, "a link in a letter opens an account");
    let files: Vec<_> = std::fs::read_dir(&mail).expect("the folder").collect();
    assert_eq!(files.len(), 1);
    let file = files[0].as_ref().expect("a file").path();
    assert_eq!(file.extension().and_then(|ending| ending.to_str()), Some("eml"));
    assert_eq!(mode(&file), 0o600);
    assert!(std::fs::read_to_string(file).expect("a letter").contains("ada@example.org"));
    app.stop().await;
}

#[tokio::test]
async fn an_invitation_reads_as_a_person_would_write_it() {
    let app = TestApp::start().await;
    invite(&app, "Ada Größe", "ada@example.org").await;
    let text = app.letters().await.remove(0).text_body;
    let key = text.split_whitespace().find_map(|word| word.split_once("/invitation/")).expect("a link").1;
    insta::assert_snapshot!(text.replace(key, "KEY"));
    app.stop().await;
}

#[tokio::test]
async fn the_letter_after_an_examination_says_what_the_score_cannot_make_up_for() {
    let app = TestApp::start().await;
    let misses = ["fire and burns".to_owned()];
    let of = |passed: bool| ExaminationResult {
        name: "Ada <Größe>",
        branch_name: "Coldbrook",
        scheme: "First day",
        passed,
        score: "9 of 10",
        safety_misses: if passed { &[] } else { &misses },
        at: BEGINNING.0,
        zone: "Europe/Berlin",
        link: "https://training.example.org/attempts/7",
    };
    let letter = |passed| letter::examination_result(&app.deeds.views, "ada@example.org", &of(passed), BEGINNING);
    let (passed, failed) = (letter(true).expect("a letter"), letter(false).expect("a letter"));
    assert_eq!(passed.subject, "First day: passed");
    assert_eq!(failed.subject, "First day: not passed");
    assert!(!passed.text_body.contains("safety"), "{}", passed.text_body);
    assert!(failed.html_body.contains("Ada &lt;Größe&gt;"), "{}", failed.html_body);
    insta::assert_snapshot!(failed.text_body);
    app.stop().await;
}
