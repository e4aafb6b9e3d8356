//! The part of the model that watches: codes, sittings that are ended, flags, more time.

use super::model::Model;
use super::world::{SCHEME, World};
use super::{Dice, Tally};
use sootmark::actions::flag_question::flag_question;
use sootmark::actions::invigilate::{Invigilator, Opened, open_invigilation};
use sootmark::actions::note_incident::{Noted, Seen, note_incident};
use sootmark::actions::set_extra_time::{ExtraTimeSet, Setter, set_extra_time};
use sootmark::domain::examination::extra_time::ExtraTime;
use sootmark::domain::people::Role;
use sootmark::domain::units::Moment;
use sootmark::store::attempts;
use sootmark::store::incidents::IncidentKind;
use sootmark::store::{InvigilationId, invigilations};

/// An invigilation as it should be.
pub(super) struct Watch {
    pub(super) id: InvigilationId,
    pub(super) code: String,
    until: Moment,
}

impl Model {
    fn invigilator(world: &World) -> Invigilator {
        Invigilator { person: world.trainer, branch: world.branch }
    }

    /// The open invigilation; the trainer opens another when the last one has run out.
    pub(super) async fn watched(&mut self, world: &World) -> &Watch {
        let now = world.clock.now();
        if self.watch.as_ref().is_none_or(|watch| now >= watch.until) {
            let key = format!("opened at {}", now.0);
            let opened = open_invigilation(&world.deeds, Self::invigilator(world), SCHEME, &key).await;
            let Opened::Open(id) = opened.expect("the store") else { panic!("the scheme is watched") };
            let stored = invigilations::by_id(&world.deeds.db, world.branch, id).await.expect("the invigilation");
            // Four hours, as is said on the page.
            self.watch = Some(Watch { id, code: stored.code.to_string(), until: now.plus_seconds(4 * 3600) });
        }
        self.watch.as_ref().expect("opened above")
    }

    /// The trainer ends the newest sitting, or finds that it is over.
    pub(super) async fn end(&mut self, world: &World, dice: &mut Dice, tally: &mut Tally) {
        let Some(sitting) = self.sittings.last_mut() else { return };
        let now = world.clock.now();
        let kind = if dice.below(3) == 0 { IncidentKind::Noted } else { IncidentKind::Ended };
        let key = format!("seen at {} {}", now.0, dice.below(1_000_000));
        let seen = Seen { under: sitting.under, attempt: sitting.id, kind, text: "A second screen.", key: &key };
        let done = note_incident(&world.deeds, Self::invigilator(world), seen).await.expect("the store");
        sitting.incidents += 1;
        if kind == IncidentKind::Noted {
            assert_eq!(done, Noted::Done);
            return;
        }
        if sitting.is_overdue(now) {
            sitting.graded = Some((now, None));
            assert_eq!(done, Noted::Over);
            sitting.incidents -= 1;
        } else if sitting.graded.is_some() {
            assert_eq!(done, Noted::Over);
            sitting.incidents -= 1;
        } else {
            assert_eq!(done, Noted::Done);
            sitting.graded = Some((now, None));
            sitting.ended = true;
            tally.ended += 1;
        }
    }

    /// Somebody flags a question or takes the flag off; nothing that counts may move.
    pub(super) async fn flag(&mut self, world: &World, dice: &mut Dice, who: usize) {
        let Some(sitting) = self.sittings.iter_mut().rev().find(|sitting| sitting.who == who) else { return };
        let now = world.clock.now();
        let (position, flagged) = (1 + i32::try_from(dice.below(4)).expect("small"), dice.below(3) > 0);
        let person = world.technicians[who];
        let open = flag_question(&world.deeds, person, sitting.id, position, flagged).await.expect("the store");
        if sitting.is_overdue(now) {
            sitting.graded = Some((now, None));
        }
        assert_eq!(open, sitting.graded.is_none());
        if open && flagged {
            sitting.flags.insert(position);
        } else if open {
            sitting.flags.remove(&position);
        }
    }

    /// The administrator sets how much more time somebody gets from the next sitting on.
    pub(super) async fn set_time(&mut self, world: &World, dice: &mut Dice, who: usize) {
        let extra = [ExtraTime::None, ExtraTime::Percent(25), ExtraTime::Minutes(7)][dice.place(3)];
        let by = Setter { person: world.administrator, role: Role::Administrator, branch: world.branch };
        let key = format!("set at {} {}", world.clock.now().0, dice.below(1_000_000));
        let set = set_extra_time(&world.deeds, by, world.technicians[who], extra, "A reason.", &key).await;
        assert_eq!(set.expect("the store"), ExtraTimeSet::Done);
        // A quarter of 15 min is 225 s.
        self.extra_s[who] = match extra {
            ExtraTime::None => 0,
            ExtraTime::Percent(_) => 225,
            ExtraTime::Minutes(_) => 420,
        };
    }

    /// Terms, flags and incidents of every sitting are as they should be.
    pub(super) async fn compare_watched(&self, world: &World, history: u64) {
        let db = &world.deeds.db;
        for sitting in &self.sittings {
            let stored = attempts::by_id_of_anyone(db, sitting.id).await.expect("the attempt");
            let ended_by = sitting.ended.then_some(world.trainer);
            let terms = (stored.extra_s, stored.invigilation_id, stored.ended_by);
            assert_eq!(terms, (sitting.extra_s, Some(sitting.under), ended_by), "history {history}");
            assert_eq!(attempts::flags(db, sitting.id).await.expect("the flags"), sitting.flags, "history {history}");
            let written = sootmark::store::incidents::of_attempts(db, &[sitting.id]).await.expect("the incidents");
            assert_eq!(written.len(), sitting.incidents, "history {history}");
        }
    }
}
