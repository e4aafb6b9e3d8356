//! Somebody's past as days: when they came, studied, sat and left.
//!
//! Only dates and intentions. What really came of each is found by doing it, in [`super::history`].

use super::cast::{Member, Story};
use crate::domain::examination::observation::Task;

/// How somebody sits an examination.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Manner {
    /// With care.
    Ready,
    /// With care, except that one safety question is answered by what the person believes.
    Hasty,
    /// Without having learned enough; the safety questions are right.
    Unready,
}

/// One thing that somebody does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Deed {
    /// Is invited.
    Invited,
    /// Tells others what to do by a day, and names their trainers.
    Assigns,
    /// Takes the invitation up.
    Accepts,
    /// Reads a module's lessons and answers so many questions of practice.
    Studies { module: String, questions: usize },
    /// Sits an examination; `until_passed` means that they come again.
    Sits { scheme: &'static str, manner: Manner, until_passed: bool },
    /// Goes through the last sitting with the trainer.
    Debriefed,
    /// Begins an examination and answers so many questions.
    BeginsToSit { scheme: &'static str, answers: usize },
    /// The last sitting is decided on.
    IsDecided,
    /// Appeals against the refusal after the last sitting.
    Appeals,
    /// Does something unsafe, which the trainer writes down.
    ActsUnsafely,
    /// Loses the certificate for good.
    LosesCertificate,
    /// Begins a practical task under the trainer's eyes, and does not come to its end.
    IsWatched(Task),
    /// May no longer sign in.
    Leaves,
}

/// When something is done: so many days before today, or so many minutes before now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum When {
    DaysAgo(i64),
    MinutesAgo(i64),
}

/// Days from coming to the first examination.
const STUDY_DAYS: i64 = 26;
/// A certificate of 36 months is that many days old when it runs out, give or take one.
const VALID_DAYS: i64 = 1096;

/// Everything that somebody plans to do. `modules` gives the modules of a scheme.
pub(super) fn plan(member: &Member, modules: impl Fn(&str) -> Vec<String>) -> Vec<(When, Deed)> {
    let mut plan = Plan { steps: Vec::new(), modules };
    let scheme = member.scheme.unwrap_or("operator");
    let sits = |manner, until_passed| Deed::Sits { scheme, manner, until_passed };
    match member.story {
        Story::Office => plan.comes(super::DAYS - 2),
        Story::Invited => plan.on(2, Deed::Invited),
        Story::NewHire => plan.comes(1),
        Story::Learning => {
            plan.studies(45, "first-day", usize::MAX, 2);
            plan.on(19, Deed::Sits { scheme: "first-day", manner: Manner::Ready, until_passed: true });
            plan.reads(14, scheme, 6, 4);
            plan.on(1, Deed::IsWatched(Task::DailyCheck));
        }
        Story::Steady(days) => plan.qualifies(days, scheme),
        Story::Expiring(days) => plan.qualifies(VALID_DAYS - days, scheme),
        Story::Lapsed(days) => plan.qualifies(VALID_DAYS + days, scheme),
        Story::Resat(days) => {
            plan.studies(days + STUDY_DAYS + 3, scheme, usize::MAX, 2);
            plan.on(days + 3, sits(Manner::Unready, false));
            plan.on(days, sits(Manner::Ready, true));
        }
        Story::Debriefed(days) => {
            plan.studies(days + STUDY_DAYS + 4, scheme, usize::MAX, 2);
            plan.on(days + 4, sits(Manner::Hasty, true));
        }
        Story::AwaitsDebrief(days) => {
            plan.studies(days + STUDY_DAYS, scheme, usize::MAX, 2);
            plan.on(days, sits(Manner::Hasty, false));
        }
        Story::Suspended(days) => {
            plan.qualifies(days + 400, "operator");
            plan.reads(days + 20, scheme, usize::MAX, 2);
            plan.on(days, sits(Manner::Hasty, false));
        }
        Story::Waits(days) | Story::Refused(days) => plan.qualifies(days, scheme),
        Story::Unsafe(days) => {
            plan.qualifies(days + 230, scheme);
            plan.on(days, Deed::ActsUnsafely);
        }
        Story::Withdrawn(days) => {
            plan.qualifies(days + 410, scheme);
            plan.on(days, Deed::LosesCertificate);
        }
        Story::Sitting(minutes) => {
            plan.studies(STUDY_DAYS + 2, scheme, usize::MAX, 2);
            plan.steps.push((When::MinutesAgo(minutes), Deed::BeginsToSit { scheme, answers: 4 }));
        }
        Story::Left => {
            plan.qualifies(480, scheme);
            plan.on(60, Deed::Leaves);
        }
    }
    plan.steps
}

struct Plan<M> {
    steps: Vec<(When, Deed)>,
    modules: M,
}

impl<M: Fn(&str) -> Vec<String>> Plan<M> {
    fn on(&mut self, days: i64, deed: Deed) {
        self.steps.push((When::DaysAgo(days.max(1)), deed));
    }

    fn comes(&mut self, days: i64) {
        self.on(days, Deed::Invited);
        self.on(days, Deed::Accepts);
    }

    /// Comes, studies everything, and passes so many days ago.
    fn qualifies(&mut self, days: i64, scheme: &'static str) {
        if matches!(scheme, "field-technician" | "service-technician") {
            // Who goes out to machines, or looks after filters for others, was a new operator first.
            let before = days + STUDY_DAYS + 14;
            self.studies(before + STUDY_DAYS, "operator", usize::MAX, 2);
            self.on(before, Deed::Sits { scheme: "operator", manner: Manner::Ready, until_passed: true });
            self.reads(days + STUDY_DAYS, scheme, usize::MAX, 2);
        } else {
            self.studies(days + STUDY_DAYS, scheme, usize::MAX, 2);
        }
        self.on(days, Deed::Sits { scheme, manner: Manner::Ready, until_passed: true });
    }

    /// Comes, and studies the first modules of a scheme in the days after.
    fn studies(&mut self, days: i64, scheme: &str, modules: usize, questions: usize) {
        self.comes(days);
        self.reads(days - 1, scheme, modules, questions);
    }

    /// Studies a module every other day.
    fn reads(&mut self, from: i64, scheme: &str, modules: usize, questions: usize) {
        for (day, module) in (0..).zip((self.modules)(scheme).into_iter().take(modules)) {
            self.on(from - 2 * day, Deed::Studies { module, questions });
        }
    }
}
