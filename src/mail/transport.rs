//! The two ways out: a file per letter in a folder, or an SMTP server.
//!
//! Never waits for either longer than a stated time, and never lets another user of this machine read a letter.

use super::letter::one_line;
use super::smtp::Smtp;
use crate::config::{MailTransport, Settings};
use crate::store::outbox::NewMail;
use lettre::message::header::{HeaderName, HeaderValue};
use lettre::message::{Mailbox, MultiPart};
use lettre::{Address, Message};
use std::fs::{DirBuilder, OpenOptions, Permissions};
use std::io::Write as _;
use std::os::unix::fs::{DirBuilderExt as _, OpenOptionsExt as _, PermissionsExt as _};
use std::path::{Path, PathBuf};
use std::time::Duration;
use uuid::Uuid;

/// How long one letter may take from the first word to the last. The sender's lease counts on it.
pub(super) const ONE_LETTER: Duration = Duration::from_secs(30);

/// A way out, with the sender that every letter carries.
#[derive(Clone)]
pub struct Transport {
    way: Way,
    from: Mailbox,
    patience: Duration,
}

#[derive(Clone)]
enum Way {
    Folder(PathBuf),
    Smtp(Smtp),
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
    /// The mail server or the disk was not done in the time that one letter gets.
    #[error("not taken: no answer within {} s", .0.as_secs_f64())]
    Silent(Duration),
}

impl MailError {
    /// What may stand in a log. A mail server repeats addresses in its replies; the page Letters shows those.
    #[must_use]
    pub fn without_addresses(&self) -> String {
        match self {
            Self::Folder(..) | Self::Settings(_) | Self::NotReached(_) | Self::Silent(_) => self.to_string(),
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
            MailTransport::Smtp => Way::Smtp(Smtp::from_settings(settings)?),
        };
        Ok(Self { way, from, patience: ONE_LETTER })
    }

    /// The same, waiting no longer than this for one letter, so that a test sees what comes of a silent server. Never longer than
    /// by itself.
    #[must_use]
    pub fn with_patience(self, patience: Duration) -> Self {
        Self { patience: patience.min(ONE_LETTER), ..self }
    }

    /// Gives one letter out. `number` is its number in the outbox: a letter that is sent twice, because the program died
    /// between sending and writing it down, carries the same Message-ID both times.
    ///
    /// # Errors
    /// When it is no letter, or it was not taken, or not in time: whether a silent server has it then is not known.
    pub async fn deliver(&self, number: i64, letter: &NewMail) -> Result<(), MailError> {
        let message = self.message(number, letter)?;
        match &self.way {
            Way::Folder(folder) => {
                let file = folder.join(format!("{}.eml", Uuid::now_v7()));
                self.in_time(into_file(file, message.formatted())).await
            }
            Way::Smtp(server) => self.in_time(server.send(&message)).await,
        }
    }

    /// Whether the server greets, and takes the user where there is one; nothing is sent. A folder is always there.
    ///
    /// # Errors
    /// When it does not.
    pub async fn greets(&self) -> Result<(), MailError> {
        match &self.way {
            Way::Folder(_) => Ok(()),
            Way::Smtp(server) => self.in_time(server.greets()).await,
        }
    }

    /// What comes of it, or that it took too long. The library limits nothing but the connecting.
    async fn in_time(&self, tried: impl Future<Output = Result<(), MailError>>) -> Result<(), MailError> {
        tokio::time::timeout(self.patience, tried).await.unwrap_or(Err(MailError::Silent(self.patience)))
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

/// The folder, closed to everybody else from its making: a letter in it may hold a link that opens an account.
fn folder(path: &Path) -> Result<Way, MailError> {
    let failed = |error| MailError::Folder(path.to_owned(), error);
    DirBuilder::new().recursive(true).mode(0o700).create(path).map_err(failed)?;
    let mode = std::fs::metadata(path).map_err(failed)?.permissions().mode();
    if mode & 0o077 != 0
        && let Err(error) = std::fs::set_permissions(path, Permissions::from_mode(mode & 0o7700))
    {
        // Somebody else's folder may be meant to be so; `sootmark doctor` says it too.
        tracing::warn!(cause = %error, "others may read the folder for mail, and it cannot be closed to them");
    }
    Ok(Way::Folder(path.to_owned()))
}

/// One letter as a file of its own, which only its owner reads from its making.
async fn into_file(file: PathBuf, letter: Vec<u8>) -> Result<(), MailError> {
    let written = tokio::task::spawn_blocking(move || {
        OpenOptions::new().write(true).create_new(true).mode(0o600).open(file)?.write_all(&letter)
    });
    let ended = written.await.map_err(std::io::Error::other).flatten();
    ended.map_err(|error| MailError::NotTaken(error.to_string()))
}
