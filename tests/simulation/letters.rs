//! A mail server that refuses, hangs, answers 4xx and 5xx, or goes away in the middle of a letter: pages go on, and each letter
//! arrives at least once, and once more at most for each time that somebody died while sending.

use crate::support::app::TestApp;
use sea_orm::ConnectionTrait as _;
use sootmark::config::{MailTransport, Settings, SmtpTls};
use sootmark::domain::people::Role;
use sootmark::mail::sender::{Round, Sender};
use sootmark::mail::transport::Transport;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::io::{AsyncBufReadExt as _, AsyncWriteExt as _, BufReader};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::Notify;
use tokio_util::sync::CancellationToken;

/// How the peer behaves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Mood {
    Takes,
    /// Hangs up at once.
    HangsUp,
    /// Says nothing at all.
    Hangs,
    /// A reply of its own to MAIL.
    ToMail(&'static str),
    /// A reply of its own to RCPT.
    ToRcpt(&'static str),
    /// A reply of its own after the letter.
    ToLetter(&'static str),
    /// Hangs up while the letter comes.
    DropsInTheLetter,
    /// Takes the letter and hangs up before it says so.
    TakesAndDrops,
    /// Takes the letter, says so, and then says nothing to the goodbye.
    HangsAtTheEnd,
}

struct Peer {
    mood: Mutex<Mood>,
    /// How often each letter was taken, by its Message-ID.
    taken: Mutex<BTreeMap<String, usize>>,
    /// Somebody is kept waiting.
    hanging: Notify,
}

impl Peer {
    async fn listen(mood: Mood) -> (Arc<Self>, Transport) {
        let socket = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
        let port = socket.local_addr().expect("an address").port();
        let peer = Arc::new(Self { mood: Mutex::new(mood), taken: Mutex::default(), hanging: Notify::new() });
        let listening = peer.clone();
        tokio::spawn(async move {
            while let Ok((stream, _)) = socket.accept().await {
                let peer = listening.clone();
                // A client that goes away ends only its own conversation.
                tokio::spawn(async move { drop(peer.converse(stream).await) });
            }
        });
        let settings = Settings {
            mail_transport: MailTransport::Smtp,
            smtp_host: Some("127.0.0.1".to_owned()),
            smtp_port: Some(port),
            smtp_tls: SmtpTls::None,
            ..Settings::default()
        };
        (peer, Transport::from_settings(&settings).expect("a way out"))
    }

    fn is(&self, mood: Mood) {
        *self.mood.lock().expect("the mood") = mood;
    }

    fn taken(&self) -> BTreeMap<String, usize> {
        self.taken.lock().expect("the letters").clone()
    }

    fn take(&self, letter: &str) {
        let id = letter.lines().find_map(|line| line.strip_prefix("Message-ID: ")).expect("a letter has one");
        *self.taken.lock().expect("the letters").entry(id.to_owned()).or_default() += 1;
    }

    /// Source: RFC 5321 sections 3.3, 4.1.1 and 4.2: greeting, commands, the letter up to a line with one dot, replies.
    async fn converse(&self, stream: TcpStream) -> std::io::Result<()> {
        let mood = *self.mood.lock().expect("the mood");
        let mut stream = BufReader::new(stream);
        match mood {
            Mood::HangsUp => return Ok(()),
            Mood::Hangs => {
                self.hanging.notify_one();
                std::future::pending::<()>().await;
            }
            _ => stream.write_all(b"220 loopback\r\n").await?,
        }
        let (mut line, mut letter, mut in_letter) = (String::new(), String::new(), false);
        while stream.read_line(&mut line).await? > 0 {
            let reply = match (line.as_str(), mood) {
                (".\r\n", _) if in_letter => {
                    in_letter = false;
                    match mood {
                        Mood::ToLetter(reply) => reply,
                        _ => {
                            self.take(&std::mem::take(&mut letter));
                            if mood == Mood::TakesAndDrops {
                                return Ok(());
                            }
                            "250 taken\r\n"
                        }
                    }
                }
                (_, Mood::DropsInTheLetter) if in_letter => return Ok(()),
                (text, _) if in_letter => {
                    letter.push_str(text);
                    ""
                }
                (text, Mood::ToMail(reply)) if text.starts_with("MAIL") => reply,
                (text, Mood::ToRcpt(reply)) if text.starts_with("RCPT") => reply,
                (text, _) if text.starts_with("DATA") => {
                    in_letter = true;
                    "354 go on\r\n"
                }
                (text, Mood::HangsAtTheEnd) if text.starts_with("QUIT") => {
                    std::future::pending::<()>().await;
                    ""
                }
                (text, _) if text.starts_with("QUIT") => "221 bye\r\n",
                _ => "250 ok\r\n",
            };
            stream.write_all(reply.as_bytes()).await?;
            line.clear();
        }
        Ok(())
    }
}

impl Mood {
    /// Whether the reply says that asking again will not help. Source: RFC 5321 section 4.2.1: 5yz.
    fn is_for_good(self) -> bool {
        matches!(self, Self::ToMail(reply) | Self::ToRcpt(reply) | Self::ToLetter(reply) if reply.starts_with('5'))
    }
}

/// Longer than the first wait after such a reply, in seconds.
const FOR_GOOD_S: i64 = 3600;

/// Invites somebody, so that one letter more lies in the outbox.
async fn invite(app: &TestApp, number: usize) {
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let (branch, email) = (app.branch.to_string(), format!("ada{number}@example.org"));
    let fields = [("name", "Ada"), ("email", email.as_str()), ("branch", branch.as_str()), ("role", "technician")];
    assert_eq!(manager.post("/people/invite", &fields).await.status, 303);
}

/// Moods in which no letter is taken.
const WITHOUT: [Mood; 9] = [
    Mood::HangsUp,
    Mood::ToMail("421 closing\r\n"),
    Mood::ToMail("451 later\r\n"),
    Mood::ToMail("550 never\r\n"),
    Mood::ToRcpt("452 too many\r\n"),
    Mood::ToRcpt("550 unknown\r\n"),
    Mood::ToLetter("451 later\r\n"),
    Mood::ToLetter("554 no\r\n"),
    Mood::DropsInTheLetter,
];

#[tokio::test]
async fn whatever_the_mail_server_does_each_letter_arrives() {
    let app = TestApp::start().await;
    let (peer, transport) = Peer::listen(Mood::Takes).await;
    let sender = Sender::new(&app.deeds, transport, CancellationToken::new());
    for (number, mood) in WITHOUT.into_iter().enumerate() {
        peer.is(mood);
        invite(&app, number).await;
        let before = peer.taken();
        assert_eq!(sender.send_due().await.expect("a round"), Round { sent: 0, put_off: 1 }, "{mood:?}");
        assert_eq!(peer.taken(), before, "{mood:?}");
        // Better again: a longer wait than the first, and then it goes. What is refused for good waits ten minutes first.
        peer.is(Mood::Takes);
        app.clock.advance(if mood.is_for_good() { FOR_GOOD_S } else { 60 });
        assert_eq!(sender.send_due().await.expect("a round"), Round { sent: 1, put_off: 0 }, "{mood:?}");
    }
    assert_eq!(peer.taken().values().copied().collect::<Vec<_>>(), [1; WITHOUT.len()], "each of them once");

    // Whoever dies between taking and saying so: once more, under the same Message-ID, and no more than that.
    peer.is(Mood::TakesAndDrops);
    invite(&app, 100).await;
    assert_eq!(sender.send_due().await.expect("a round"), Round { sent: 0, put_off: 1 });
    peer.is(Mood::Takes);
    app.clock.advance(60);
    assert_eq!(sender.send_due().await.expect("a round"), Round { sent: 1, put_off: 0 });
    app.clock.advance(30 * 24 * 3600);
    assert_eq!(sender.send_due().await.expect("a round"), Round::default());
    let taken = peer.taken();
    assert_eq!((taken.len(), taken.values().sum::<usize>()), (WITHOUT.len() + 1, WITHOUT.len() + 2), "{taken:?}");
    app.stop().await;
}

#[tokio::test]
async fn a_mail_server_that_hangs_slows_no_page_and_a_sender_that_dies_costs_no_letter() {
    let app = TestApp::start().await;
    let (peer, transport) = Peer::listen(Mood::Hangs).await;
    let stop = CancellationToken::new();
    let sending = tokio::spawn(Sender::new(&app.deeds, transport.clone(), stop).run());
    invite(&app, 0).await;
    peer.hanging.notified().await;
    // The sender waits for the peer, and stays there; every one of these pages answers meanwhile.
    for number in 1..=10 {
        invite(&app, number).await;
    }
    assert!(!sending.is_finished() && peer.taken().is_empty(), "nothing was sent while pages were");
    // The server dies; another begins, and takes the letter over when the lease is at its end.
    sending.abort();
    assert!(sending.await.is_err(), "it is gone");
    peer.is(Mood::Takes);
    let next = Sender::new(&app.deeds, transport, CancellationToken::new());
    let first = next.send_due().await.expect("a round");
    app.clock.advance(3600);
    let second = next.send_due().await.expect("a round");
    assert_eq!((first.sent + second.sent, first.put_off + second.put_off), (11, 0));
    assert_eq!(peer.taken().values().copied().collect::<Vec<_>>(), [1; 11], "each of them once");
    app.stop().await;
}

#[tokio::test]
async fn a_letter_that_a_silent_mail_server_keeps_is_put_off_and_holds_up_no_other() {
    let app = TestApp::start().await;
    let (peer, transport) = Peer::listen(Mood::Hangs).await;
    let impatient = transport.clone().with_patience(Duration::from_millis(5));
    for number in 0..2 {
        invite(&app, number).await;
    }
    let letter = app.letters().await.remove(0);
    let sender = Sender::new(&app.deeds, impatient.clone(), CancellationToken::new());
    assert_eq!(sender.send_due().await.expect("a round"), Round { sent: 0, put_off: 2 }, "each had its turn");
    assert_eq!(sender.send_due().await.expect("a round"), Round::default(), "not again at once");
    // What the log and the page Letters say of it, and what `sootmark doctor` hears.
    let error = impatient.deliver(1, &letter).await.expect_err("it says nothing");
    assert_eq!(error.without_addresses(), "not taken: no answer within 0.005 s");
    let error = impatient.greets().await.expect_err("it says nothing");
    assert_eq!(error.to_string(), "not taken: no answer within 0.005 s");
    let page = app.signed_in(Role::Administrator).await.get("/letters").await.body;
    assert!(page.contains("no answer within 0.005 s"), "{page}");

    peer.is(Mood::Takes);
    app.clock.advance(60);
    let sender = Sender::new(&app.deeds, transport, CancellationToken::new());
    assert_eq!(sender.send_due().await.expect("a round"), Round { sent: 2, put_off: 0 });
    assert_eq!(peer.taken().values().copied().collect::<Vec<_>>(), [1; 2], "each of them once");
    app.stop().await;
}

#[tokio::test]
async fn a_letter_that_is_deleted_while_it_leaves_holds_up_no_other() {
    let app = TestApp::start().await;
    let (peer, transport) = Peer::listen(Mood::Hangs).await;
    invite(&app, 0).await;
    invite(&app, 1).await;
    let impatient = transport.with_patience(Duration::from_millis(200));
    let sender = Sender::new(&app.deeds, impatient, CancellationToken::new());
    let deleted = async {
        peer.hanging.notified().await;
        app.deeds.db.execute_unprepared("DELETE FROM outbox WHERE id = (SELECT min(id) FROM outbox)").await
    };
    let (round, deleted) = futures_util::future::join(sender.send_due(), deleted).await;
    deleted.expect("deleted");
    assert_eq!(round.expect("a round"), Round { sent: 0, put_off: 2 }, "the second had its turn");
    app.stop().await;
}

#[tokio::test]
async fn a_letter_is_sent_once_the_mail_server_says_so_whatever_it_says_to_the_goodbye() {
    let app = TestApp::start().await;
    let (peer, transport) = Peer::listen(Mood::HangsAtTheEnd).await;
    for number in 0..2 {
        invite(&app, number).await;
    }
    let sender = Sender::new(&app.deeds, transport, CancellationToken::new());
    assert_eq!(sender.send_due().await.expect("a round"), Round { sent: 2, put_off: 0 });
    app.clock.advance(30 * 24 * 3600);
    assert_eq!(sender.send_due().await.expect("a round"), Round::default());
    assert_eq!(peer.taken().values().copied().collect::<Vec<_>>(), [1; 2], "each of them once");
    app.stop().await;
}

/// The same way a program stops that does not know what became of a COMMIT.
#[tokio::test]
async fn who_is_told_to_stop_waits_for_no_mail_server_and_the_letter_goes_later() {
    let app = TestApp::start().await;
    let (peer, transport) = Peer::listen(Mood::Hangs).await;
    let stop = CancellationToken::new();
    invite(&app, 0).await;
    let sending = tokio::spawn(Sender::new(&app.deeds, transport.clone(), stop.clone()).run());
    peer.hanging.notified().await;
    stop.cancel();
    sending.await.expect("it ends, and in order");
    peer.is(Mood::Takes);
    let next = Sender::new(&app.deeds, transport, CancellationToken::new());
    assert_eq!(next.send_due().await.expect("a round"), Round::default(), "its lease holds");
    app.clock.advance(3600);
    assert_eq!(next.send_due().await.expect("a round"), Round { sent: 1, put_off: 0 });
    assert_eq!(peer.taken().values().copied().collect::<Vec<_>>(), [1]);
    app.stop().await;
}
