//! What makes a refresher necessary before a certificate ends, and whether the certificate rests until then.
//!
//! Source: 29 CFR 1910.178(l)(4)(ii) (secondary) as an analogue, since it is written for lift trucks: refresher training
//! after unsafe work, an accident or near miss, an evaluation that shows unsafe work, another machine, changed conditions.
//! Which of them rest the certificate at once is our choice: those that show the person working unsafely now.

use crate::units::Moment;
use serde::{Deserialize, Serialize};

/// How long somebody may go on working until they are examined again, in days; chosen by us, as long as a resit takes to plan.
pub const REFRESHER_WITHIN_DAYS: i64 = 30;

/// What happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Something nearly went wrong.
    NearMiss,
    /// The person did something unsafe.
    UnsafeAct,
    /// Somebody watched the person work and it was not good enough.
    PoorEvaluation,
    /// The person is to work with a machine that is new to them.
    NewEquipment,
    /// The profile of a machine in the certificate's scope has changed.
    ChangedMachine,
}

/// What it does to a certificate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Effect {
    /// It rests until a new examination.
    Suspends,
    /// It asks for a new examination within [`REFRESHER_WITHIN_DAYS`]; after that the certificate rests.
    AsksForRefresher,
}

impl Kind {
    /// Every kind.
    pub const ALL: [Self; 5] =
        [Self::NearMiss, Self::UnsafeAct, Self::PoorEvaluation, Self::NewEquipment, Self::ChangedMachine];

    /// The rule.
    #[must_use]
    pub const fn effect(self) -> Effect {
        match self {
            Self::UnsafeAct | Self::PoorEvaluation => Effect::Suspends,
            Self::NearMiss | Self::NewEquipment | Self::ChangedMachine => Effect::AsksForRefresher,
        }
    }

    /// Its word in the record and in forms.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::NearMiss => "near_miss",
            Self::UnsafeAct => "unsafe_act",
            Self::PoorEvaluation => "poor_evaluation",
            Self::NewEquipment => "new_equipment",
            Self::ChangedMachine => "changed_machine",
        }
    }

    /// What people call it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::NearMiss => "near miss",
            Self::UnsafeAct => "unsafe act",
            Self::PoorEvaluation => "poor evaluation",
            Self::NewEquipment => "new equipment",
            Self::ChangedMachine => "changed machine profile",
        }
    }
}

/// A version of a machine profile.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct MachineVersion {
    /// The machine.
    pub machine: String,
    /// The version of its profile, from 1.
    pub version: i32,
}

/// Something that happened, about one person.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trigger {
    /// What.
    pub kind: Kind,
    /// When it was recorded.
    pub at: Moment,
    /// The machine and the version of its profile from which it counts; only a changed machine has one for certain.
    pub machine: Option<MachineVersion>,
}

impl Trigger {
    /// Whether it touches a certificate: recorded after the examination that the certificate rests on, and, for a changed
    /// machine, with an older version in the certificate's scope. A new examination clears it.
    #[must_use]
    pub fn touches(&self, examined_at: Moment, scope: &[MachineVersion]) -> bool {
        let concerned = match (self.kind, &self.machine) {
            (Kind::ChangedMachine, Some(changed)) => {
                scope.iter().any(|known| known.machine == changed.machine && known.version < changed.version)
            }
            _ => true,
        };
        self.at > examined_at && concerned
    }

    /// From when a certificate that it touches rests.
    #[must_use]
    pub const fn rests_from(&self) -> Moment {
        match self.kind.effect() {
            Effect::Suspends => self.at,
            Effect::AsksForRefresher => self.at.plus_seconds(REFRESHER_WITHIN_DAYS * 86_400),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DAY: i64 = 86_400 * 1_000_000;

    #[test]
    fn each_occasion_of_the_regulation_has_a_kind() {
        // Source: 29 CFR 1910.178(l)(4)(ii)(A) to (E) (secondary): unsafe operation; accident or near miss; an evaluation
        // that reveals unsafe operation; a different type of truck; a changed condition of the workplace.
        let told = ["unsafe_act", "near_miss", "poor_evaluation", "new_equipment", "changed_machine"];
        for word in told {
            assert!(Kind::ALL.into_iter().any(|kind| kind.id() == word), "{word}");
        }
        assert_eq!(Kind::ALL.len(), told.len());
    }

    #[test]
    fn unsafe_work_rests_the_certificate_at_once_and_the_others_give_time() {
        let on = |kind| Trigger { kind, at: Moment(10 * DAY), machine: None }.rests_from();
        assert_eq!(on(Kind::UnsafeAct), Moment(10 * DAY));
        assert_eq!(on(Kind::PoorEvaluation), Moment(10 * DAY));
        for kind in [Kind::NearMiss, Kind::NewEquipment, Kind::ChangedMachine] {
            assert_eq!(on(kind), Moment(40 * DAY), "{kind:?}");
        }
    }

    #[test]
    fn a_changed_machine_touches_only_those_examined_on_an_older_version() {
        let at = |machine: &str, version| MachineVersion { machine: machine.into(), version };
        let changed = Trigger { kind: Kind::ChangedMachine, at: Moment(10 * DAY), machine: Some(at("tarrel-60", 3)) };
        assert!(changed.touches(Moment(0), &[at("tarrel-60", 2)]));
        assert!(!changed.touches(Moment(0), &[at("tarrel-60", 3)]));
        assert!(!changed.touches(Moment(0), &[at("hobrek-40", 1)]));
        assert!(!changed.touches(Moment(10 * DAY), &[at("tarrel-60", 2)]), "examined since");
    }
}
