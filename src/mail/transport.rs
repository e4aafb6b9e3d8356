//! The two ways out: a file per letter in a folder, or an SMTP server.

use super::letter::one_line;
use crate::config::{MailTransport, Settings, SmtpTls};
use crate::store::outbox::NewMail;
use lettre::message::header::{HeaderName, HeaderValue};
use lettre::message::{Mailbox, MultiPart};
use lettre::transport::smtp::authentication::Credentials;
use lettre::transport::smtp::client::{Tls, TlsParameters};
use lettre::transport::smtp::response::{Category, Code};
use lettre::{Address, AsyncFileTransport, AsyncSmtpTransport, AsyncTransport as _, Message, Tokio1Executor};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long the mail server may take for one letter.
const TIMEOUT: Duration = Duration::from_secs(30);

/// A way out, with the sender that every letter carries.
#[derive(Clone)]
pub struct Transport {
    way: Way,
    from: Mailbox,
}

#[derive(Clone)]
enum Way {
    Folder(AsyncFileTransport<Tokio1Executor>),
    Smtp(AsyncSmtpTransport<Tokio1Executor>),
}

/// Why letters cannot leave, or one did not.
#[derive(Debug, thiserror::Error)]
pub enum MailError {
    /// The folder cannot be made.
    #[error("the folder for mail {0}: {1}")]
    Folder(PathBuf, #[source] std::io::Error),
    /// The settings do not work together.
    #[error("mail settings: {0}")]
    Settings(String),
    /// An address or a body that is no mail.
    #[error("the letter cannot be written: {0}")]
    Letter(String),
    /// The mail server refuses this letter for good (RFC 5321 section 4.2: a reply 55z).
    #[error("refused: {0}")]
    Refused(String),
    /// The mail server or the disk did not take it.
    #[error("not taken: {0}")]
    NotTaken(String),
    /// The connection to the mail server or its TLS failed: the words are this machine's, and name nobody.
    #[error("not taken: {0}")]
    NotReached(String),
}

impl MailError {
    /// What may stand in a log. A mail server repeats addresses in its replies; the page Letters shows those.
    #[must_use]
    pub fn without_addresses(&self) -> String {
        match self {
            Self::Folder(..) | Self::Settings(_) | Self::NotReached(_) => self.to_string(),
            Self::Letter(_) => "the letter cannot be written".to_owned(),
            Self::Refused(_) => "refused for good".to_owned(),
            Self::NotTaken(_) => "not taken now".to_owned(),
        }
    }
}

impl Transport {
    /// The way out that the settings name. Makes the folder, but does not speak to the server yet.
    ///
    /// # Errors
    /// When the folder cannot be made or a setting cannot work.
    pub fn from_settings(settings: &Settings) -> Result<Self, MailError> {
        let from =
            settings.mail_sender.parse().map_err(|error| MailError::Settings(format!("mail_sender: {error}")))?;
        let way = match settings.mail_transport {
            MailTransport::Folder => folder(&settings.data_folder.join("mail"))?,
            MailTransport::Smtp => smtp(settings)?,
        };
        Ok(Self { way, from })
    }

    /// Gives one letter out. `number` is its number in the outbox: a letter that is sent twice, because the program died
    /// between sending and writing it down, carries the same Message-ID both times.
    ///
    /// # Errors
    /// When it is no letter, or it was not taken.
    pub async fn deliver(&self, number: i64, letter: &NewMail) -> Result<(), MailError> {
        let message = self.message(number, letter)?;
        match &self.way {
            Way::Folder(way) => {
                way.send(message).await.map(drop).map_err(|error| MailError::NotTaken(error.to_string()))
            }
            Way::Smtp(way) => way.send(message).await.map(drop).map_err(|error| told(&error)),
        }
    }

    /// Whether the server greets, and takes the user where there is one; nothing is sent. A folder is always there.
    ///
    /// # Errors
    /// When it does not.
    pub async fn greets(&self) -> Result<(), MailError> {
        let Way::Smtp(way) = &self.way else { return Ok(()) };
        match way.test_connection().await {
            Ok(true) => Ok(()),
            Ok(false) => Err(MailError::NotTaken("the server greets, and then does not answer".to_owned())),
            Err(error) => Err(MailError::NotTaken(error.to_string())),
        }
    }

    fn message(&self, number: i64, letter: &NewMail) -> Result<Message, MailError> {
        let wrong = |error: &dyn std::fmt::Display| MailError::Letter(error.to_string());
        let address: Address = one_line(&letter.to_address).parse().map_err(|error| wrong(&error))?;
        let name = Some(one_line(&letter.to_name)).filter(|name| !name.is_empty());
        let bodies = MultiPart::alternative_plain_html(letter.text_body.clone(), letter.html_body.clone());
        let mut builder = Message::builder();
        for (name, value) in one_click(letter.unsubscribe_link.as_deref()) {
            builder = builder.raw_header(HeaderValue::new(HeaderName::new_from_ascii_str(name), value));
        }
        builder
            .from(self.from.clone())
            .to(Mailbox::new(name, address))
            .subject(one_line(&letter.subject))
            .message_id(Some(format!("<outbox-{number}@{}>", self.from.email.domain())))
            .multipart(bodies)
            .map_err(|error| wrong(&error))
    }
}

/// What has become of a letter that was not taken.
fn told(error: &lettre::transport::smtp::Error) -> MailError {
    let answered = error.is_permanent() || error.is_transient() || error.is_response();
    // The library's own complaint is about the letter too.
    match error {
        error if is_for_good(error) => MailError::Refused(error.to_string()),
        error if answered || error.is_client() => MailError::NotTaken(error.to_string()),
        error => MailError::NotReached(error.to_string()),
    }
}

/// Whether the mail server refuses this letter itself for good. Source: RFC 5321 section 4.2: a reply 55z is about the mailbox
/// or the message. Any other 5yz, such as 535 for our own password, says nothing about the letter: it waits until that is set right.
fn is_for_good(error: &lettre::transport::smtp::Error) -> bool {
    let about_the_mail = |code: Code| matches!(code.category, Category::MailSystem);
    error.is_permanent() && error.status().is_some_and(about_the_mail)
}

/// The two header lines with which a mail program ends such letters in one click. Source: RFC 8058 section 3.1. They need an
/// https address; a server without one leaves it to the link in the letter.
fn one_click(link: Option<&str>) -> Vec<(&'static str, String)> {
    match link.map(one_line).filter(|link| link.starts_with("https://")) {
        Some(link) => vec![
            ("List-Unsubscribe", format!("<{link}>")),
            ("List-Unsubscribe-Post", "List-Unsubscribe=One-Click".to_owned()),
        ],
        None => Vec::new(),
    }
}

fn folder(path: &Path) -> Result<Way, MailError> {
    std::fs::create_dir_all(path).map_err(|error| MailError::Folder(path.to_owned(), error))?;
    Ok(Way::Folder(AsyncFileTransport::new(path)))
}

fn smtp(settings: &Settings) -> Result<Way, MailError> {
    let host = settings.smtp_host.clone().ok_or_else(|| MailError::Settings("smtp_host is missing".to_owned()))?;
    let parameters = || TlsParameters::new(host.clone()).map_err(|error| MailError::Settings(error.to_string()));
    let (tls, usual_port) = match settings.smtp_tls {
        SmtpTls::StartTls => (Tls::Required(parameters()?), 587),
        SmtpTls::Tls => (Tls::Wrapper(parameters()?), 465),
        SmtpTls::None => (Tls::None, 25),
    };
    let mut builder = AsyncSmtpTransport::<Tokio1Executor>::builder_dangerous(host)
        .port(settings.smtp_port.unwrap_or(usual_port))
        .tls(tls)
        .timeout(Some(TIMEOUT));
    if let (Some(user), Some(password)) = (&settings.smtp_user, &settings.smtp_password) {
        builder = builder.credentials(Credentials::new(user.clone(), password.reveal().to_owned()));
    }
    Ok(Way::Smtp(builder.build()))
}
