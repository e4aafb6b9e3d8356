//! What the demo's service manager has told people to do, and who trains whom.

use super::cast::trainer_of;
use super::history::History;
use super::plan::Deed;
use crate::actions::ActionError;
use crate::actions::assign::{ToDo, assign};
use crate::actions::name_trainer::name_trainer;
use crate::domain::certification::assignment::Kind;
use crate::domain::people::Role;
use crate::store::StoreError;
use crate::store::assignments::ToWhom;
use jiff::{Timestamp, ToSpan as _, tz::TimeZone};

/// How many days ago it was assigned.
const DAYS_AGO: i64 = 25;

impl History<'_> {
    /// Plans it.
    pub(super) fn plan_assignments(&mut self) {
        if let Some(who) = (0..self.cast.len()).find(|who| self.cast[*who].role == Role::ServiceManager) {
            self.add(self.on_the_day(who, DAYS_AGO), who, Deed::Assigns);
        }
    }

    /// One thing that is overdue by now for whoever has not done it, one that is not, and a trainer for each technician.
    pub(super) async fn assigns(&self, who: usize) -> Result<(), ActionError> {
        let by = self.person(who)?;
        let told = [
            (ToWhom::Branch(self.branches[self.cast[who].branch]), Kind::Module, "fire-and-burns", 20, "demo 1"),
            (ToWhom::Role(Role::Technician), Kind::Scheme, "first-day", 55, "demo 2"),
        ];
        for (to, kind, thing_key, days, key) in told {
            let due_day = self.day_in(days)?;
            assign(self.deeds, by, ToDo { to, kind, thing_key, due_day: &due_day, key }).await?;
        }
        for (place, member) in self.cast.iter().enumerate().filter(|(_, member)| member.role == Role::Technician) {
            let trainer = trainer_of(member.branch, self.cast).and_then(|place| self.people.get(&place).copied());
            if let (Some(person), Some(trainer)) = (self.people.get(&place).copied(), trainer) {
                name_trainer(self.deeds, by, person, Some(trainer)).await?;
            }
        }
        Ok(())
    }

    /// The day that is so many days from the moment the clock stands at, as forms write it.
    fn day_in(&self, days: i64) -> Result<String, StoreError> {
        let outside = |error: jiff::Error| StoreError::Corrupt(format!("the demo's days: {error}"));
        let now = Timestamp::from_microsecond(self.deeds.clock.now().0).map_err(outside)?;
        let day = now.to_zoned_datetime(TimeZone::UTC).date().checked_add(days.days()).map_err(outside)?;
        Ok(day.to_string())
    }
}
