//! The demo organisation: an invented company whose people have a past, so that every page has something to show.
//!
//! Everything in it was done by the program itself, through the same deeds as in service, with a clock that is moved by
//! hand over three years. Never touches a database that holds anybody else, and never leaves half a past behind: a
//! demo that was stopped while its past was made is found and said.

mod answers;
mod assigned;
mod cast;
mod certified;
mod history;
mod observed;
mod plan;

pub use cast::{EVERYONE, FEWEST, ORGANISATION, SignIn, sign_ins};

use crate::actions::{ActionError, Deeds};
use crate::domain::units::Moment;
use crate::mail::transport::Transport;
use crate::store::people::{PeopleFilter, list};
use crate::store::settings::{self, DEMO};
use crate::store::{Db, StoreError, write};

/// The password of everybody in the demo.
pub const PASSWORD: &str = "three dry bales of oat straw";

/// How long ago the past begins, in days: long enough that some certificates of 36 months have run out.
const DAYS: i64 = 1230;

const BEGUN: &str = "begun";
const WHOLE: &str = "whole";

/// What stands in a database.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found {
    /// Nobody: the demo can be made here.
    Nobody,
    /// The demo, whole.
    Demo,
    /// A demo that was stopped while it was made.
    HalfADemo,
    /// Somebody else's people.
    OtherPeople,
}

/// Looks whether the demo can be made in a database, or is there already.
///
/// # Errors
/// When the store does not answer.
pub async fn look(db: &Db) -> Result<Found, StoreError> {
    match settings::find(db, DEMO).await?.as_deref() {
        Some(WHOLE) => Ok(Found::Demo),
        Some(_) => Ok(Found::HalfADemo),
        None => {
            let people = list(db, &PeopleFilter::default(), 1, 1).await?;
            Ok(if people.total == 0 { Found::Nobody } else { Found::OtherPeople })
        }
    }
}

/// When the past of a demo made at `now` begins.
#[must_use]
pub const fn beginning(now: Moment) -> Moment {
    Moment(now.0 - now.0.rem_euclid(cast::DAY_US)).plus_seconds(-DAYS * 24 * 3600)
}

/// Makes the demo in an empty database: the first `people` of [`EVERYONE`] with their past up to `now`.
///
/// `deeds` work with a clock set by hand, standing at or after [`beginning`], counted seeds and the bank in use. The
/// same day, bank and people give the same past. Every letter of the past leaves on its day through `mail`.
///
/// # Errors
/// When the store does not answer or a letter cannot be left.
pub async fn make(deeds: &Deeds, now: Moment, people: usize, mail: Transport) -> Result<(), ActionError> {
    mark(&deeds.db, BEGUN).await?;
    history::History::new(deeds, now, people.min(EVERYONE), mail).await?.run().await?;
    deeds.clock.set(now);
    Ok(mark(&deeds.db, WHOLE).await?)
}

async fn mark(db: &Db, state: &str) -> Result<(), StoreError> {
    write::<_, StoreError, _>(db, async |tx| settings::set(tx, DEMO, state).await).await
}
