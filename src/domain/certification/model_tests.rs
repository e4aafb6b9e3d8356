//! Random careers: the standing worked out from append-only entries against a model that keeps one changing state.

use super::certificate::{Course, Event, EventKind};
use super::decision::{Verdict, may_follow};
use super::proposal::{Openness, Proposes, openness};
use super::trigger::{Kind, Trigger};
use super::{EXPIRING_WITHIN_DAYS, Evidence, Standing};
use crate::units::Moment;
use proptest::prelude::*;

const DAY: i64 = 86_400 * 1_000_000;
const VALID_DAYS: i64 = 400;

#[derive(Clone, Copy, Debug)]
enum Step {
    Days(i64),
    Pass,
    Fail,
    Miss,
    Decide(Verdict),
    Manage(EventKind),
    Happens(Kind),
}

fn steps() -> impl Strategy<Value = Vec<Step>> {
    use EventKind::{Reinstated, Suspended, Withdrawn};
    let step = prop_oneof![
        4 => (1_i64..120).prop_map(Step::Days),
        3 => Just(Step::Pass),
        1 => Just(Step::Fail),
        1 => Just(Step::Miss),
        4 => prop_oneof![3 => Just(Verdict::Granted), 1 => Just(Verdict::Refused)].prop_map(Step::Decide),
        2 => prop_oneof![Just(Suspended), Just(Reinstated), Just(Withdrawn)].prop_map(Step::Manage),
        1 => (0_usize..5).prop_map(|at| Step::Happens(Kind::ALL[at])),
    ];
    proptest::collection::vec(step, 1..40)
}

/// What the database keeps: only ever longer.
#[derive(Default)]
struct Ledger {
    entries: Vec<(bool, bool, Moment, Option<Moment>)>,
    certificates: Vec<(Moment, Moment, Vec<Event>)>,
    triggers: Vec<Trigger>,
    proposals: Vec<(Proposes, Moment, bool)>,
}

impl Ledger {
    fn course(&self, place: usize) -> Course<'_> {
        let (examined_at, valid_until, events) = &self.certificates[place];
        Course { examined_at: *examined_at, valid_until: *valid_until, machines: &[], events, triggers: &self.triggers }
    }

    fn waits(&self, now: Moment) -> Option<Moment> {
        let (proposes, at, decided) = self.proposals.last()?;
        let open = openness(*at, false, now) == Openness::Waits && !decided;
        (open && *proposes == Proposes::Grant).then_some(*at)
    }

    fn standing(&self, now: Moment) -> Standing {
        let mut granted = 0;
        let evidence = self.entries.iter().map(|(qualified, safety_miss, from, until)| {
            let certificate = qualified.then(|| {
                granted += 1;
                self.course(granted - 1).state(now)
            });
            Evidence { qualified: *qualified, safety_miss: *safety_miss, from: *from, until: *until, certificate }
        });
        Standing::of(&evidence.collect::<Vec<_>>(), self.waits(now), now)
    }

    fn does(&mut self, step: Step, now: Moment) {
        match step {
            Step::Days(_) => {}
            Step::Pass => self.proposals.push((Proposes::Grant, now, false)),
            Step::Fail | Step::Miss => {
                self.proposals.push((Proposes::Refuse, now, false));
                self.entries.push((false, matches!(step, Step::Miss), now, None));
            }
            Step::Decide(verdict) => {
                let Some((proposes, at, decided)) = self.proposals.last_mut() else { return };
                let open = openness(*at, false, now) == Openness::Waits && !*decided;
                if !open || may_follow(*proposes, verdict, "a reason").is_err() {
                    return;
                }
                *decided = true;
                if verdict == Verdict::Granted {
                    let until = at.plus_seconds(VALID_DAYS * 86_400);
                    if let Some((_, _, events)) = self.certificates.last_mut() {
                        events.push(Event { kind: EventKind::Renewed, at: now });
                    }
                    self.certificates.push((*at, until, Vec::new()));
                    self.entries.push((true, false, now, Some(until)));
                }
            }
            Step::Manage(kind) => {
                let Some(last) = self.certificates.len().checked_sub(1) else { return };
                if self.course(last).state(now).allows(kind) {
                    self.certificates[last].2.push(Event { kind, at: now });
                }
            }
            Step::Happens(kind) => self.triggers.push(Trigger { kind, at: now, machine: None }),
        }
    }
}

/// The same, as somebody would keep it in their head.
#[derive(Default)]
struct Head {
    passed: Option<Moment>,
    failed_last: bool,
    held: Option<Held>,
    miss_open: bool,
    happened: Vec<(Kind, Moment)>,
}

#[derive(Clone, Copy)]
struct Held {
    examined: Moment,
    until: Moment,
    rests: bool,
    withdrawn: bool,
}

impl Head {
    /// The earliest moment from which what happened since the examination rests the certificate.
    fn pressing(&self, held: Held) -> Option<Moment> {
        let days = |kind| if matches!(kind, Kind::UnsafeAct | Kind::PoorEvaluation) { 0 } else { 30 };
        let since = self.happened.iter().filter(|(_, at)| *at > held.examined);
        since.map(|(kind, at)| Moment(at.0 + days(*kind) * DAY)).min()
    }

    fn letter(&self, now: Moment) -> char {
        let held = self.held_letter(now);
        let waiting = !self.failed_last && self.passed.is_some_and(|at| now.0 - at.0 < 90 * DAY);
        if waiting && !matches!(held, 'Q' | 'E' | 'R') { 'W' } else { held }
    }

    fn held_letter(&self, now: Moment) -> char {
        let Some(held) = self.held else { return 'M' };
        let pressing = self.pressing(held);
        if held.withdrawn || held.until <= now {
            'M'
        } else if self.miss_open || held.rests || pressing.is_some_and(|from| from <= now) {
            'S'
        } else if pressing.is_some_and(|from| from < held.until) {
            'R'
        } else if held.until.0 - now.0 < EXPIRING_WITHIN_DAYS * DAY {
            'E'
        } else {
            'Q'
        }
    }

    fn does(&mut self, step: Step, now: Moment) {
        match step {
            Step::Days(_) => {}
            Step::Pass => (self.passed, self.failed_last) = (Some(now), false),
            Step::Fail | Step::Miss => {
                (self.passed, self.failed_last) = (None, true);
                self.miss_open |= matches!(step, Step::Miss);
            }
            Step::Decide(verdict) => {
                let Some(examined) = self.passed.filter(|at| now.0 - at.0 < 90 * DAY) else { return };
                self.passed = None;
                if verdict == Verdict::Granted {
                    let until = Moment(examined.0 + VALID_DAYS * DAY);
                    self.held = Some(Held { examined, until, rests: false, withdrawn: false });
                    self.miss_open = false;
                }
            }
            Step::Manage(kind) => {
                let pressed = self.held.and_then(|held| self.pressing(held)).is_some_and(|from| from <= now);
                let Some(held) = self.held.as_mut().filter(|held| !held.withdrawn && held.until > now) else { return };
                match kind {
                    EventKind::Suspended if !pressed => held.rests = true,
                    EventKind::Reinstated => held.rests = false,
                    EventKind::Withdrawn => held.withdrawn = true,
                    _ => {}
                }
            }
            Step::Happens(kind) => self.happened.push((kind, now)),
        }
    }
}

proptest! {
    #[test]
    fn every_career_comes_to_the_same_by_entries_and_by_heart(steps in steps()) {
        let (mut ledger, mut head) = (Ledger::default(), Head::default());
        let mut now = Moment(0);
        for step in steps {
            // No two things happen in the same moment.
            now = Moment(now.0 + 1);
            if let Step::Days(days) = step {
                now = Moment(now.0 + days * DAY);
            }
            ledger.does(step, now);
            head.does(step, now);
            let standing = ledger.standing(now);
            prop_assert_eq!(standing.letter(), head.letter(now), "{:?} at {:?}: {:?}", step, now, standing);
            // Worked out again it is the same, and whoever never passed is never qualified.
            prop_assert_eq!(ledger.standing(now), standing);
            prop_assert!(!standing.is_qualified() || !ledger.certificates.is_empty());
        }
    }
}
