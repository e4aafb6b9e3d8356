//! From what is due to the words of a letter.

use crate::actions::{ActionError, Deeds};
use crate::domain::units::Moment;
use crate::mail::digest::{self, Digest, Part};
use crate::mail::letter::About;
use crate::mail::notices::{self, Assigned, Expiry, Reminder, Waits};
use crate::store::PersonId;
use crate::store::outbox::NewMail;
use crate::store::read::assigned::Learner;
use crate::store::read::service_managers::ServiceManager;

/// Somebody to write to.
#[derive(Clone, Copy)]
pub(super) struct To<'a> {
    pub(super) person: PersonId,
    name: &'a str,
    email: &'a str,
    branch_name: &'a str,
    zone: &'a str,
}

impl<'a> From<&'a Learner> for To<'a> {
    fn from(of: &'a Learner) -> Self {
        let (name, email) = (&of.display_name, &of.email);
        Self { person: of.person_id, name, email, branch_name: &of.branch_name, zone: &of.time_zone }
    }
}

impl<'a> From<&'a ServiceManager> for To<'a> {
    fn from(of: &'a ServiceManager) -> Self {
        let (name, email) = (&of.display_name, &of.email);
        Self { person: of.person_id, name, email, branch_name: &of.branch_name, zone: &of.time_zone }
    }
}

/// What a letter says.
pub(super) enum Says {
    Ends { scheme: String, number: String, until: Moment },
    Waits { waits: Waits, thing: String, at: Moment, place: String },
    Assigned { thing: String, due: Moment, place: String },
    Week { parts: Vec<Part> },
}

/// The letter; `stop` is the link that ends letters of its kind, empty when they may not be refused.
pub(super) fn drawn(deeds: &Deeds, to: To<'_>, says: &Says, stop: &str, now: Moment) -> Result<NewMail, ActionError> {
    let about = About { to: to.email, name: to.name, branch_name: to.branch_name, now };
    let (views, origin, name, zone) = (&deeds.views, &deeds.origin, to.name, to.zone);
    Ok(match says {
        Says::Ends { scheme, number, until } => {
            let days = until.seconds_since(now) / 86_400;
            let link = &format!("{origin}/examine");
            notices::expiry(views, about, &Expiry { name, scheme, number, until: until.0, zone, days, link, stop })?
        }
        Says::Waits { waits, thing, at, place } => {
            let link = &format!("{origin}{place}");
            notices::reminder(views, about, &Reminder { name, waits: *waits, thing, at: at.0, zone, link, stop })?
        }
        Says::Assigned { thing, due, place } => {
            let link = &format!("{origin}{place}");
            notices::assignment(views, about, &Assigned { name, thing, due: due.0, zone, link })?
        }
        Says::Week { parts } => {
            digest::digest(views, about, &Digest { name, branch: to.branch_name, parts, origin, zone, stop })?
        }
    })
}
