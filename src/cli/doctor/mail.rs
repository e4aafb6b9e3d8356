//! The way letters leave, without sending one, and how many wait.

use super::{Finding, look, ok, wrong};
use crate::config::{MailTransport, Settings};
use crate::mail::transport::Transport;
use crate::store::Db;
use crate::store::read::vitals::vitals;
use std::path::Path;

/// The folder or the server that takes letters.
pub(super) async fn way_out(settings: &Settings) -> Finding {
    match settings.mail_transport {
        MailTransport::Folder => folder(&settings.data_folder.join("mail")),
        MailTransport::Smtp => {
            let greeted = match Transport::from_settings(settings) {
                Ok(transport) => transport.greets().await,
                Err(error) => Err(error),
            };
            match greeted {
                Ok(()) => ok("Mail", "the SMTP server greets, and takes the user where one is set; nothing was sent"),
                Err(error) => wrong(
                    "Mail",
                    error.to_string(),
                    "Look at smtp_host, smtp_port, smtp_tls, smtp_user and the network. Letters wait meanwhile; none is lost.",
                ),
            }
        }
    }
}

fn folder(folder: &Path) -> Finding {
    let shown = folder.display();
    if !folder.exists() {
        return ok("Mail", format!("letters stay as files in {shown}, which is made at the first start"));
    }
    // Made and gone again: what the permissions come to for this user is not read off them.
    let trial = folder.join(".looked-at");
    let written = std::fs::File::create_new(&trial).and_then(|_| std::fs::remove_file(&trial));
    match written {
        Ok(()) => look(
            "Mail",
            format!("letters stay as files in {shown} and reach nobody"),
            "Set mail_transport to smtp, unless somebody carries them on from there.",
        ),
        Err(error) => wrong("Mail", format!("{shown}: {error}"), "Let the program's user write into the folder."),
    }
}

/// What waits and what is stuck.
pub(super) async fn letters(db: &Db) -> Finding {
    let vitals = match vitals(db).await {
        Ok(vitals) => vitals,
        Err(cause) => return wrong("Letters", cause.to_string(), "Look into the database's own log."),
    };
    let (waiting, failing, left) = (vitals.letters_waiting, vitals.letters_failing, vitals.letters_left);
    let says = format!("{waiting} wait, {failing} of them were not taken before, {left} were given up");
    match failing + left {
        0 => ok("Letters", says),
        _ => look(
            "Letters",
            says,
            "The page Letters says to whom and why. An address that is wrong is changed under People.",
        ),
    }
}
