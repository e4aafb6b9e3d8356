//! A letter leaves by TLS only, unless the settings say that the mail server is on the same machine.

use super::{BEGINNING, invite, mail_server_that, sender};
use crate::support::app::TestApp;
use crate::support::certificates::own_made;
use sootmark::config::{MailTransport, Settings, SmtpTls};
use sootmark::mail::sender::Round;
use sootmark::mail::transport::Transport;
use std::io::{BufRead as _, BufReader};
use std::process::{Command, Stdio};
use tokio::sync::mpsc;

/// A way out by a port of loopback, with a password, protected as the settings say when nobody says anything.
fn protected(port: u16) -> Transport {
    assert_eq!(Settings::default().smtp_tls, SmtpTls::StartTls, "what it is when nobody says anything");
    with_tls(port, SmtpTls::StartTls)
}

/// The same, protected in this way.
fn with_tls(port: u16, smtp_tls: SmtpTls) -> Transport {
    let settings = Settings {
        mail_transport: MailTransport::Smtp,
        smtp_host: Some("127.0.0.1".to_owned()),
        smtp_port: Some(port),
        smtp_user: Some("ann".to_owned()),
        smtp_password: Some(sootmark::config::Secret::new("straw barn".to_owned())),
        smtp_tls,
        mail_sender: "Fennmark training <training@fennmark.example>".to_owned(),
        ..Settings::default()
    };
    Transport::from_settings(&settings).expect("a way out")
}

#[tokio::test]
async fn nothing_of_a_letter_goes_to_a_mail_server_that_does_not_begin_tls() {
    // Source: RFC 3207, sections 4 and 6: one offers no TLS, one takes the wish back, one says yes and goes on in the clear.
    for (offer, begin) in [
        ("250 loopback\r\n", "502 no\r\n"),
        ("250-loopback\r\n250 STARTTLS\r\n", "454 not now\r\n"),
        ("250-loopback\r\n250-STARTTLS\r\n250 AUTH PLAIN LOGIN\r\n", "220 go on\r\n250 in the clear\r\n"),
    ] {
        let app = TestApp::start().await;
        assert_eq!(app.clock.now(), BEGINNING);
        invite(&app, "Ada Lovell", "ada@example.org").await;
        let (heard, mut said) = mpsc::unbounded_channel();
        let answers = move |line: &str| {
            // Who has gone is told nothing more; the test still reads what was said before.
            let _ = heard.send(line.to_owned());
            match line.split(' ').next().map(str::trim) {
                Some("EHLO") => Some(offer),
                Some("STARTTLS") => Some(begin),
                _ => None,
            }
        };
        let (port, _letters) = mail_server_that(answers).await;
        let round = sender(&app, protected(port)).send_due().await.expect("a round");
        assert_eq!(round, Round { sent: 0, put_off: 1 }, "{offer:?}");
        let mut lines = 0;
        while let Ok(line) = said.try_recv() {
            lines += 1;
            for never in ["MAIL", "RCPT", "AUTH", "DATA", "ada@", "Lovell"] {
                assert!(!line.contains(never), "{offer:?}: {line:?}");
            }
        }
        assert!(lines > 0, "{offer:?}: nobody came");
        app.stop().await;
    }
}

#[tokio::test]
async fn the_log_says_why_the_mail_server_was_not_reached_and_names_nobody() {
    let app = TestApp::start().await;
    invite(&app, "Ada Lovell", "ada@example.org").await;
    let letter = app.letters().await.remove(0);
    let nobody = std::net::TcpListener::bind("127.0.0.1:0").and_then(|socket| socket.local_addr()).expect("a port");
    let error = protected(nobody.port()).deliver(1, &letter).await.expect_err("nobody listens");
    assert!(error.without_addresses().contains("Connection error"), "{error}");
    // What a server says may hold an address, and stands on the page Letters only.
    let (port, _letters) = mail_server_that(|_| Some("554 5.7.1 <ada@example.org> is not welcome\r\n")).await;
    let error = protected(port).deliver(1, &letter).await.expect_err("it is refused");
    assert!(error.to_string().contains("ada@example.org"), "{error}");
    assert!(!error.without_addresses().contains("ada@"), "{}", error.without_addresses());
    app.stop().await;
}

/// A mail server whose certificate nobody vouches for hears nothing but the beginning of TLS.
#[tokio::test]
async fn nothing_goes_to_a_mail_server_that_nobody_vouches_for() {
    let Some(own) = own_made("IP:127.0.0.1") else { return };
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("both.pem");
    std::fs::write(&file, own.certificate + &own.key).expect("written");
    let mut server = Command::new("openssl")
        .args(["s_server", "-accept", "127.0.0.1:0", "-naccept", "1", "-cert"])
        .arg(&file)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it serves");
    let mut lines = BufReader::new(server.stdout.take().expect("what it hears")).lines().map_while(Result::ok);
    let port = lines.find_map(|line| line.strip_prefix("ACCEPT ")?.rsplit(':').next()?.parse().ok()).expect("a port");
    let transport = with_tls(port, SmtpTls::Tls);
    let app = TestApp::start().await;
    invite(&app, "Ada Lovell", "ada@example.org").await;
    let letter = app.letters().await.remove(0);
    let error = transport.deliver(1, &letter).await.expect_err("nobody vouches for it");
    assert!(error.to_string().contains("certificate"), "{error}");
    app.stop().await;
    let told = server.wait_with_output().expect("it ends after one");
    let mut heard: Vec<String> = lines.collect();
    heard.push(String::from_utf8_lossy(&told.stderr).into_owned());
    // Source: RFC 8446 section 6.2: alert 48, unknown_ca.
    assert!(heard.iter().any(|line| line.contains("unknown ca")), "{heard:?}");
    for never in ["EHLO", "MAIL", "AUTH", "ada@"] {
        assert!(!heard.iter().any(|line| line.contains(never)), "{never}: {heard:?}");
    }
}
