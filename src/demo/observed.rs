//! The practical tasks of the demo: seen by a trainer before each examination that asks for them, one failed on a critical
//! step, and one still open.
//!
//! Every step is a deed of [`crate::actions`], as in [`super::history`].

use super::cast::{Story, trainer_of};
use super::history::History;
use crate::actions::ActionError;
use crate::actions::observe::{Assessor, Opened, ToWatch, mark_step, open_observation};
use crate::actions::sign_observation::{Passwords, sign_observation};
use crate::domain::examination::observation::{Mark, Marked, Task};
use crate::store::observations;
use crate::store::read::trained::practical_seen;

/// The machine that stands at every branch of the demo.
const MACHINE: &str = "tarrel-60";
/// How long a step takes.
const STEP_S: i64 = 45;
/// What the trainer writes beside the step that failed.
const MISSED: &str = "Parked it beside the straw bales and went for the switch. We moved it and began again.";

impl History<'_> {
    /// What a scheme asks to see and nobody has seen yet is watched now.
    pub(super) async fn is_watched(&self, who: usize, scheme: &str) -> Result<(), ActionError> {
        let seen = practical_seen(&self.deeds.db, self.person(who)?).await?;
        let bank = self.deeds.bank.now();
        let asked = bank.bank.scheme(scheme).map(|entry| entry.scheme.practical.clone()).unwrap_or_default();
        for task in asked.iter().filter(|task| !seen.contains(*task)).filter_map(|task| Task::from_id(task)) {
            let resits = matches!(self.cast[who].story, Story::Resat(_) | Story::Debriefed(_));
            if resits && task == Task::ParkedRegeneration {
                self.watches(who, task, Some("ground"), true).await?;
            }
            self.watches(who, task, None, true).await?;
        }
        Ok(())
    }

    /// A task is watched, one step perhaps not seen; `signed` when both sign it, otherwise it stays half done.
    pub(super) async fn watches(
        &self,
        who: usize,
        task: Task,
        missed: Option<&str>,
        signed: bool,
    ) -> Result<(), ActionError> {
        let member = &self.cast[who];
        let trainer = trainer_of(member.branch, self.cast).and_then(|place| self.people.get(&place).copied());
        // Trainers travel to the branch.
        let Some(person) = trainer.filter(|trainer| self.people.get(&who) != Some(trainer)) else { return Ok(()) };
        let by = Assessor { person, branch: self.branches[member.branch] };
        let key = format!("demo-{who}-{}", self.deeds.clock.now().0);
        let what = ToWatch { person: self.person(who)?, task, machine: MACHINE, key: &key };
        let Opened::Open(id) = open_observation(self.deeds, by, what).await? else { return Ok(()) };
        let list = observations::by_id_of_anyone(&self.deeds.db, id).await?.list()?;
        let steps = if signed { list.steps.len() } else { list.steps.len() / 2 };
        for (position, step) in (1..).zip(&list.steps[..steps]) {
            self.deeds.clock.advance(STEP_S);
            let marked = if missed == Some(step.id.as_str()) {
                Marked { mark: Mark::NotSeen, remark: MISSED.to_owned() }
            } else {
                Marked { mark: Mark::Seen, remark: String::new() }
            };
            mark_step(self.deeds, by, id, position, &marked).await?;
        }
        if signed {
            let password = super::PASSWORD;
            let both = Passwords { assessor: password, candidate: password };
            sign_observation(self.deeds, by, id, both).await?;
        }
        Ok(())
    }
}
