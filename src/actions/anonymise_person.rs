//! Taking a person's name, address, password, sessions, invitations and mails away, when the law asks for it. Attempts,
//! results and the chained record stay, under a number. Why somebody got more time in examinations goes too, and so do a
//! calendar's address, from where they signed in, and which letters were not wanted; keys for programs that the person made open
//! nothing any more, since they cannot sign in.
//!
//! Never changes what is on record: entries name people by number. What trainers wrote about someone in their own words
//! (notes of talks, remarks on practical tasks, reasons) is on record too and stays as it was written; the outcome says how many there are.

use super::on_record::about_person_with;
use super::{ActionError, Deeds};
use crate::domain::people::{EmailAddress, Role};
use crate::store::attempts::{self, AttemptKind, AttemptState};
use crate::store::{
    AttemptId, PersonId, StoreError, calendar_feeds, debriefs, extra_times, incidents, invitations, known_places,
    letter_choices, observations, one_time_codes, outbox, people, record, sessions, write,
};
use sea_orm::ConnectionTrait;
use serde_json::json;

/// What comes of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Anonymised {
    /// Done, and on record.
    Done {
        /// What the person is called from now on.
        name: String,
        /// How many mails went.
        mails: u64,
        /// How many notes of talks about this person's attempts, of incidents in them, and remarks on their practical tasks,
        /// stay as they were written.
        notes: usize,
    },
    /// Nobody would be left who can bring people in.
    LastAdministrator,
    /// An examination is open: its result would go to nobody. It ends with its time.
    SittingOpen,
    /// Nobody has this address.
    NoSuchPerson,
}

/// Anonymises the person of an address; done on the command line, so nobody is named as who did it.
///
/// # Errors
/// When the store does not answer.
pub async fn anonymise_person(deeds: &Deeds, email: &EmailAddress) -> Result<Anonymised, ActionError> {
    let now = deeds.clock.now();
    let account = deeds.account_hash(&email.folded()).await?;
    write(&deeds.db, async |tx| {
        let Some(found) = people::find_by_email_norm(tx, &email.folded()).await? else {
            return Ok(Anonymised::NoSuchPerson);
        };
        // What is under way for them ends before anything is read, and no other administrator goes while they are counted.
        people::in_turn_beside(tx, found.id, Role::Administrator).await?;
        let again = people::find_by_email_norm(tx, &email.folded()).await?;
        let Some(person) = again.filter(|again| again.id == found.id) else {
            return Ok(Anonymised::NoSuchPerson);
        };
        let administers = person.role == Role::Administrator && person.active;
        if administers && people::count_active(tx, Role::Administrator).await? < 2 {
            return Ok(Anonymised::LastAdministrator);
        }
        let own = attempts::of_person(tx, person.id).await?;
        if own.iter().any(|own| own.kind == AttemptKind::Examination && own.state == AttemptState::Open) {
            return Ok(Anonymised::SittingOpen);
        }
        let name = format!("Person {}", person.id);
        // RFC 2606 keeps .invalid free for ever: no mail to it arrives anywhere.
        let address = format!("person-{}@anonymous.invalid", person.id);
        people::anonymise(tx, person.id, &name, &address).await?;
        sessions::delete_all_for_person(tx, person.id).await?;
        known_places::forget_account(tx, &account).await?;
        invitations::delete_all_for_person(tx, person.id).await?;
        calendar_feeds::delete(tx, person.id).await?;
        letter_choices::forget(tx, person.id).await?;
        one_time_codes::remove(tx, person.id).await?;
        let in_html = as_in_html(&person.display_name);
        let mails = outbox::forget(tx, &person.email, &person.display_name, &in_html, &name).await?;
        extra_times::forget_reasons(tx, person.id).await?;
        let notes = notes_about(tx, person.id).await?;
        let detail = json!({ "mails": mails });
        record::append(tx, about_person_with(now, None, "person_anonymised", person.id, detail)).await?;
        Ok(Anonymised::Done { name, mails, notes })
    })
    .await
}

/// A name as the letters' templates write it in HTML.
fn as_in_html(name: &str) -> String {
    let escapes = [('&', "&amp;"), ('<', "&lt;"), ('>', "&gt;"), ('"', "&quot;"), ('\'', "&#x27;")];
    name.chars().fold(String::new(), |mut html, letter| {
        match escapes.iter().find(|(escaped, _)| *escaped == letter) {
            Some((_, escape)) => html.push_str(escape),
            None => html.push(letter),
        }
        html
    })
}

async fn notes_about(db: &impl ConnectionTrait, person: PersonId) -> Result<usize, StoreError> {
    let own = attempts::of_person(db, person).await?;
    let talks = debriefs::all(db).await?;
    let talks = talks.iter().filter(|talk| own.iter().any(|own| own.id == talk.attempt_id)).count();
    let sittings: Vec<AttemptId> = own.iter().map(|own| own.id).collect();
    let mut remarks = 0;
    for of in observations::of_person(db, person).await? {
        remarks += observations::steps(db, of.id).await?.iter().filter(|step| !step.marked.remark.is_empty()).count();
    }
    Ok(talks + incidents::of_attempts(db, &sittings).await?.len() + remarks)
}
