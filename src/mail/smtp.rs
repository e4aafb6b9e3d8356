//! The conversation with an SMTP server: one for each letter.
//!
//! The library's own transport calls a letter sent only when the server has answered the goodbye as well; here it is sent once
//! the server says that it has it. Never sets a limit to the whole: `transport` does.

use super::transport::MailError;
use crate::config::{Settings, SmtpTls};
use lettre::Message;
use lettre::transport::smtp::Error;
use lettre::transport::smtp::authentication::{Credentials, DEFAULT_MECHANISMS};
use lettre::transport::smtp::client::{AsyncSmtpConnection, Tls, TlsParameters};
use lettre::transport::smtp::extension::ClientId;
use lettre::transport::smtp::response::{Category, Code};
use std::time::Duration;

/// How long one address of the server may take to be reached; chosen by us, so that the next of its addresses gets a turn.
const ONE_ADDRESS: Duration = Duration::from_secs(10);
/// How long the server's goodbye is listened for, while other letters leave; chosen by us.
const GOODBYE: Duration = Duration::from_secs(10);

/// A server that takes letters, and how to speak to it.
#[derive(Clone)]
pub(super) struct Smtp {
    host: String,
    port: u16,
    tls: Tls,
    user: Option<Credentials>,
}

impl Smtp {
    /// The server of the settings; it is not spoken to yet.
    ///
    /// # Errors
    /// When a setting is missing or cannot work.
    pub(super) fn from_settings(settings: &Settings) -> Result<Self, MailError> {
        let host = settings.smtp_host.clone().ok_or_else(|| MailError::Settings("smtp_host is missing".to_owned()))?;
        let parameters = || TlsParameters::new(host.clone()).map_err(|error| MailError::Settings(error.to_string()));
        let (tls, usual_port) = match settings.smtp_tls {
            SmtpTls::StartTls => (Tls::Required(parameters()?), 587),
            SmtpTls::Tls => (Tls::Wrapper(parameters()?), 465),
            SmtpTls::None => (Tls::None, 25),
        };
        let user = match (&settings.smtp_user, &settings.smtp_password) {
            (Some(user), Some(password)) => Some(Credentials::new(user.clone(), password.reveal().to_owned())),
            _ => None,
        };
        Ok(Self { host, port: settings.smtp_port.unwrap_or(usual_port), tls, user })
    }

    /// Gives one letter to the server.
    ///
    /// # Errors
    /// When the server is not reached, or does not take it.
    pub(super) async fn send(&self, letter: &Message) -> Result<(), MailError> {
        let mut server = self.connect().await.map_err(|error| told(&error))?;
        server.send(letter.envelope(), &letter.formatted()).await.map_err(|error| told(&error))?;
        // It has the letter, whatever it says to the goodbye: nobody waits for that.
        tokio::spawn(async move { tokio::time::timeout(GOODBYE, server.abort()).await });
        Ok(())
    }

    /// Whether the server greets, and takes the user where there is one; nothing is sent.
    ///
    /// # Errors
    /// When it does not.
    pub(super) async fn greets(&self) -> Result<(), MailError> {
        let not_taken = |error: Error| MailError::NotTaken(error.to_string());
        let mut server = self.connect().await.map_err(not_taken)?;
        if !server.test_connected().await {
            return Err(MailError::NotTaken("the server greets, and then does not answer".to_owned()));
        }
        server.quit().await.map(drop).map_err(not_taken)
    }

    /// A connection on which letters can be sent: protected as the settings say, and with the user signed in.
    async fn connect(&self) -> Result<AsyncSmtpConnection, Error> {
        let (place, own_name) = ((self.host.as_str(), self.port), ClientId::default());
        let from_the_start = match &self.tls {
            Tls::Wrapper(parameters) => Some(parameters.clone()),
            _ => None,
        };
        let reached = AsyncSmtpConnection::connect_tokio1(place, Some(ONE_ADDRESS), &own_name, from_the_start, None);
        let mut server = reached.await?;
        if let Tls::Required(parameters) = &self.tls {
            server.starttls(parameters.clone(), &own_name).await?;
        }
        if let Some(user) = &self.user {
            server.auth(DEFAULT_MECHANISMS, user).await?;
        }
        Ok(server)
    }
}

/// What has become of a letter that was not taken.
fn told(error: &Error) -> MailError {
    let answered = error.is_permanent() || error.is_transient() || error.is_response();
    // The library's own complaint is about the letter too.
    match error {
        error if is_for_good(error) => MailError::Refused(error.to_string()),
        error if answered || error.is_client() => MailError::NotTaken(error.to_string()),
        error => MailError::NotReached(error.to_string()),
    }
}

/// Whether the mail server refuses this letter itself for good. Source: RFC 5321 section 4.2: a reply 55z is about the mailbox
/// or the message. Any other 5yz, such as 535 for our own password, says nothing about the letter: it waits until that is set
/// right.
fn is_for_good(error: &Error) -> bool {
    let about_the_mail = |code: Code| matches!(code.category, Category::MailSystem);
    error.is_permanent() && error.status().is_some_and(about_the_mail)
}
