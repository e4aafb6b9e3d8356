//! What becomes of the examinations of the demo: decisions, an appeal, something unsafe, a certificate withdrawn.
//!
//! Every step is a deed of [`crate::actions`], as in [`super::history`].

use super::cast::{Story, trainer_of};
use super::history::History;
use super::plan::Deed;
use crate::actions::ActionError;
use crate::actions::appeal::lodge_appeal;
use crate::actions::change_certificate::change_certificate;
use crate::actions::decide::{Asked, Decider, decide};
use crate::actions::record_trigger::{Happened, record_trigger};
use crate::domain::certification::certificate::EventKind;
use crate::domain::certification::decision::Verdict;
use crate::domain::certification::proposal::Proposes;
use crate::domain::certification::trigger::Kind;
use crate::domain::people::Role;
use crate::store::read::decisions::{DecisionLine, lines};
use crate::store::{StoreError, certificates};

impl History<'_> {
    /// Who decides about somebody: their branch's service manager, or the administrator where there is none.
    fn decider(&self, who: usize) -> Result<Decider, StoreError> {
        let of = |role: Role| {
            let is = |place: &usize| {
                let member = &self.cast[*place];
                member.role == role && (role == Role::Administrator || member.branch == self.cast[who].branch)
            };
            (0..self.cast.len()).find(is)
        };
        let place = of(Role::ServiceManager).or_else(|| of(Role::Administrator));
        let place = place.ok_or_else(|| StoreError::Corrupt("the demo has nobody to decide".to_owned()))?;
        let member = &self.cast[place];
        Ok(Decider { person: self.person(place)?, role: member.role, branch: self.branches[member.branch] })
    }

    async fn last_line(&self, who: usize) -> Result<Option<DecisionLine>, ActionError> {
        Ok(lines(&self.deeds.db, Some(self.person(who)?)).await?.into_iter().next())
    }

    /// The last sitting is decided on as the rules propose; in one case it is not.
    pub(super) async fn is_decided(&mut self, who: usize) -> Result<(), ActionError> {
        let Some(line) = self.last_line(who).await? else { return Ok(()) };
        let against = matches!(self.cast[who].story, Story::Refused(_)) && line.proposes == Proposes::Grant;
        let (verdict, reason) = match line.proposes {
            Proposes::Grant if against => {
                let reason = "The operator's papers were on the desk while the examination ran, so it proves nothing.";
                (Verdict::Refused, reason)
            }
            Proposes::Grant => (Verdict::Granted, ""),
            Proposes::Refuse => (Verdict::Refused, ""),
        };
        let key = format!("demo-{}", line.attempt_id);
        let asked = Asked { attempt: line.attempt_id, verdict, reason, key: &key };
        decide(self.deeds, self.decider(who)?, asked).await?;
        if against {
            self.add(self.deeds.clock.now().plus_seconds(26 * 3600), who, Deed::Appeals);
        }
        Ok(())
    }

    pub(super) async fn appeals(&mut self, who: usize) -> Result<(), ActionError> {
        let Some(line) = self.last_line(who).await? else { return Ok(()) };
        let text =
            "The papers on the desk were the day's job cards, not the manual. The trainer saw them and can say so.";
        lodge_appeal(self.deeds, self.person(who)?, line.attempt_id, text).await?;
        Ok(())
    }

    pub(super) async fn acts_unsafely(&mut self, who: usize) -> Result<(), ActionError> {
        let trainer = trainer_of(self.cast[who].branch, self.cast);
        let trainer = trainer.ok_or_else(|| StoreError::Corrupt("the demo has no trainer".to_owned()))?;
        let happened = Happened {
            person: self.person(who)?,
            kind: Kind::UnsafeAct,
            machine: None,
            text: "Started a parked regeneration beside the straw stack and walked off to the office.",
            key: "demo",
        };
        record_trigger(self.deeds, self.person(trainer)?, happened).await?;
        Ok(())
    }

    pub(super) async fn loses_certificate(&mut self, who: usize) -> Result<(), ActionError> {
        let held = certificates::of_person(&self.deeds.db, self.person(who)?).await?;
        let Some(last) = held.last() else { return Ok(()) };
        let reason = "Took the filter's sensor off to keep the machine going, twice, after being told not to.";
        change_certificate(self.deeds, self.decider(who)?, last.number, EventKind::Withdrawn, reason).await?;
        Ok(())
    }
}
