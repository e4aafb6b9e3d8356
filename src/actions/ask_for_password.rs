//! Asking for a link to choose a new password, because the old one is forgotten.
//!
//! Never tells whether there is such a person: who asks is answered before this has run, and a letter goes to the address alone.

use super::invite_person::fresh_link;
use super::on_record::about_person;
use super::{ActionError, Deeds};
use crate::domain::people::EmailAddress;
use crate::mail::letter::{self, ForgottenPassword};
use crate::store::outbox::NewMail;
use crate::store::{branches, invitations, outbox, people, record, write};

/// How long the link is good. Source: OWASP ASVS 5.0 6.4.1 asks for a short time; the hour is chosen by us.
const VALID_FOR_S: i64 = 3600;
/// How long nobody gets another letter: whoever asks a hundred times fills no letter-box.
const QUIET_S: i64 = 600;

/// Writes the letter, when somebody who may sign in has this address and was not written to a moment ago.
///
/// # Errors
/// When the store does not answer or the letter cannot be written.
pub async fn ask_for_password(deeds: &Deeds, email: &str) -> Result<(), ActionError> {
    let Ok(email) = EmailAddress::parse(email) else { return Ok(()) };
    let now = deeds.clock.now();
    let written = write(&deeds.db, async |tx| {
        let Some(found) = people::find_by_email_norm(tx, &email.folded()).await? else { return Ok(false) };
        // Of two clicks the second finds the link of the first.
        people::in_turn(tx, found.id).await?;
        // Read only now: whose address was taken away meanwhile gets no letter at it.
        let again = people::find_by_email_norm(tx, &email.folded()).await?;
        let Some(person) = again.filter(|again| again.id == found.id && again.active) else { return Ok(false) };
        let links = invitations::of_person(tx, person.id).await?;
        if links.iter().any(|(link, _)| now.seconds_since(link.created_at) < QUIET_S) {
            return Ok(false);
        }
        let branch = branches::by_id(tx, person.branch_id).await?;
        // Who asks is not known, so no link that somebody was given stops working by it; each ends once a password is chosen.
        let (link, until) = fresh_link(deeds, tx, person.id, now, VALID_FOR_S).await?;
        let says = ForgottenPassword {
            name: &person.display_name,
            branch_name: &branch.name,
            link: &link,
            until: until.0,
            zone: &branch.time_zone,
        };
        let mail = letter::forgotten_password(&deeds.views, &person.email, &says, now)?;
        outbox::enqueue(tx, NewMail { person: Some(person.id), ..mail }).await?;
        record::append(tx, about_person(now, None, "password_link_asked_for", person.id)).await?;
        Ok::<_, ActionError>(true)
    });
    if written.await? {
        deeds.letters.notify_one();
    }
    Ok(())
}
