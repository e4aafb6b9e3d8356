//! The part of the model that certifies: granting, suspending, reinstating, withdrawing, and a newer certificate in an
//! older one's place.

use super::model::Model;
use super::world::World;
use super::{Dice, Tally};
use sootmark::actions::change_certificate::{CertificateChange, change_certificate};
use sootmark::actions::decide::{Asked, Decided, Decider, decide};
use sootmark::domain::certification::certificate::{EventKind, Number, State};
use sootmark::domain::certification::decision::Verdict;
use sootmark::domain::certification::proposal::DECIDE_WITHIN_DAYS;
use sootmark::domain::people::Role;
use sootmark::store::read::certification;

/// How a certificate should stand; no history lasts long enough for one to lapse.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stands {
    Valid,
    Rests,
    Withdrawn,
    Renewed,
}

/// A certificate as it should be.
pub(super) struct Certified {
    pub(super) number: Number,
    pub(super) who: usize,
    pub(super) stands: Stands,
    /// What was done to it last, and why: the same again is the same click.
    pub(super) last: Option<(EventKind, &'static str)>,
}

fn decider(world: &World) -> Decider {
    Decider { person: world.administrator, role: Role::Administrator, branch: world.branch }
}

impl Model {
    /// The administrator grants what the last sitting of somebody has earned.
    pub(super) async fn grant(&mut self, world: &World, who: usize) {
        let now = world.clock.now();
        let Some(last) = self.sittings.iter_mut().rev().find(|sitting| sitting.who == who) else { return };
        let Some((graded, _)) = last.graded else { return };
        if !last.passes() || last.granted || now.seconds_since(graded) >= DECIDE_WITHIN_DAYS * 86_400 {
            return;
        }
        let asked = Asked { attempt: last.id, verdict: Verdict::Granted, reason: "", key: "of a history" };
        let done = decide(&world.deeds, decider(world), asked).await.expect("the store");
        let Decided::Done(Some(number)) = done else { panic!("{done:?}") };
        last.granted = true;
        for older in self.certificates.iter_mut().filter(|of| of.who == who && of.stands != Stands::Withdrawn) {
            older.stands = Stands::Renewed;
            older.last = None;
        }
        self.certificates.push(Certified { number, who, stands: Stands::Valid, last: None });
    }

    /// What is earned is granted, and then much is done to certificates.
    pub(super) async fn certify(&mut self, world: &World, dice: &mut Dice, who: usize, tally: &mut Tally) {
        self.grant(world, who).await;
        for _ in 0..3 {
            self.change_certificate(world, dice, tally).await;
        }
    }

    /// Something is done to one of the certificates, whether it can be or not.
    async fn change_certificate(&mut self, world: &World, dice: &mut Dice, tally: &mut Tally) {
        if self.certificates.is_empty() {
            return;
        }
        let place = dice.place(self.certificates.len());
        let certificate = &mut self.certificates[place];
        let kind = [EventKind::Suspended, EventKind::Reinstated, EventKind::Withdrawn][dice.place(3)];
        let reason = ["Of a history.", "Of the same history."][dice.place(2)];
        let done = change_certificate(&world.deeds, decider(world), certificate.number, kind, reason).await;
        let wanted = match (certificate.stands, kind) {
            (Stands::Valid, EventKind::Suspended) => Some(Stands::Rests),
            (Stands::Rests, EventKind::Reinstated) => Some(Stands::Valid),
            (Stands::Valid | Stands::Rests, EventKind::Withdrawn) => Some(Stands::Withdrawn),
            _ => None,
        };
        let done = done.expect("the store");
        if certificate.last == Some((kind, reason)) {
            assert_eq!(done, CertificateChange::Done, "a second click");
        } else if let Some(stands) = wanted {
            assert_eq!(done, CertificateChange::Done);
            certificate.stands = stands;
            certificate.last = Some((kind, reason));
            tally.certificates_changed += 1;
        } else {
            assert!(matches!(done, CertificateChange::NotNow(_)), "{done:?}");
            tally.refused += 1;
        }
    }

    pub(super) async fn compare_certificates(&self, world: &World, history: u64) {
        let now = world.clock.now();
        for (who, person) in world.technicians.iter().enumerate() {
            let stored = certification::of_person(&world.deeds.db, *person).await.expect("the store");
            let found = stored.certificates.iter().map(|certificate| {
                let stands = match stored.state_of(certificate, now) {
                    State::Valid => Stands::Valid,
                    State::Suspended { .. } => Stands::Rests,
                    State::Withdrawn { .. } => Stands::Withdrawn,
                    State::Renewed { .. } => Stands::Renewed,
                    other => panic!("history {history}: {other:?}"),
                };
                (certificate.number, stands)
            });
            let wanted = self.certificates.iter().filter(|of| of.who == who).map(|of| (of.number, of.stands));
            assert_eq!(found.collect::<Vec<_>>(), wanted.collect::<Vec<_>>(), "history {history}");
        }
    }
}
