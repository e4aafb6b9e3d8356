//! Who is in the demo: an invented company, its branches, and people whose names belong to nobody.
//!
//! Only says who there is and how their past goes in outline; [`super::plan`] makes days of it.

use crate::domain::people::Role;
use Role::{Administrator, ServiceManager, Technician, Trainer};
use Story::{
    AwaitsDebrief, Debriefed, Expiring, Invited, Lapsed, Learning, Left, NewHire, Office, Refused, Resat, Sitting,
    Steady, Suspended, Unsafe, Waits, Withdrawn,
};

/// The company.
pub const ORGANISATION: &str = "Fennmark Plant Services";

pub(super) const DAY_US: i64 = 24 * 3600 * 1_000_000;

/// The branches with their time zones. Each name says that it is made up.
pub(super) const BRANCHES: [(&str, &str); 4] = [
    ("Harrow Lane (demo)", "Europe/London"),
    ("Coldbrook (demo)", "Europe/Dublin"),
    ("Saltmarsh (demo)", "Europe/Amsterdam"),
    ("Upper Tarn (demo)", "Europe/Berlin"),
];

/// How somebody's past goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Story {
    /// Works in the office and learns nothing here.
    Office,
    /// Came yesterday and has done nothing yet.
    NewHire,
    /// May be on site, and is half way to the next certificate.
    Learning,
    /// Qualified so many days ago, and nothing since.
    Steady(i64),
    /// Qualified after a first sitting that scored too little, so many days ago.
    Resat(i64),
    /// Missed a safety question so many days ago, went through it with the trainer, and passed.
    Debriefed(i64),
    /// Missed a safety question a few days ago; the talk is still to come.
    AwaitsDebrief(i64),
    /// Was qualified, then missed a safety question in a further examination so many days ago.
    Suspended(i64),
    /// Qualified so long ago that it runs out within 60 days: in so many.
    Expiring(i64),
    /// Qualified so long ago that it has run out: so many days since.
    Lapsed(i64),
    /// Passed so many days ago; nobody has decided yet.
    Waits(i64),
    /// Passed so many days ago, was refused all the same, and has appealed.
    Refused(i64),
    /// Was qualified, then did something unsafe so many days ago.
    Unsafe(i64),
    /// Was qualified; the certificate was withdrawn so many days ago.
    Withdrawn(i64),
    /// Sits an examination right now, since so many minutes.
    Sitting(i64),
    /// Has left; what was proved stays on record.
    Left,
    /// Was invited and has not answered.
    Invited,
}

/// Somebody of the demo.
#[derive(Clone, Copy, Debug)]
pub(super) struct Member {
    pub(super) name: &'static str,
    /// The place in [`BRANCHES`].
    pub(super) branch: usize,
    pub(super) role: Role,
    pub(super) scheme: Option<&'static str>,
    pub(super) story: Story,
    /// How often an answer is right when nothing wrong is believed, in percent.
    pub(super) skill: u64,
    /// The misconceptions somebody has.
    pub(super) beliefs: &'static [&'static str],
}

impl Member {
    /// The address, in a domain that nobody can have (RFC 2606).
    pub(super) fn email(&self) -> String {
        format!("{}@fennmark.example", self.name.to_lowercase().replace(' ', ".").replace('\'', ""))
    }
}

const fn office(name: &'static str, branch: usize, role: Role) -> Member {
    Member { name, branch, role, scheme: None, story: Office, skill: 95, beliefs: &[] }
}

const fn learner(
    name: &'static str,
    branch: usize,
    scheme: &'static str,
    story: Story,
    skill: u64,
    beliefs: &'static [&'static str],
) -> Member {
    Member { name, branch, role: Technician, scheme: Some(scheme), story, skill, beliefs }
}

const FIRST: &str = "first-day";
const OPERATOR: &str = "operator";
const FIELD: &str = "field-technician";
const SERVICE: &str = "service-technician";

/// Everyone. The first eight show one of each main thing, for tests.
pub(super) const CAST: [Member; EVERYONE] = [
    office("Odile Marchbank", 0, Administrator),
    office("Henrike Aldous", 0, ServiceManager),
    office("Ruben Castellane", 1, Trainer),
    learner("Jonah Pellow", 0, OPERATOR, NewHire, 70, &["anywhere_is_safe"]),
    learner("Safiya Dunmore", 1, OPERATOR, Learning, 78, &["inhibit_protects", "speed_does_not_matter"]),
    learner("Lorcan Westerby", 0, OPERATOR, Debriefed(140), 82, &["anywhere_is_safe"]),
    learner("Brigid Tanqueray", 1, OPERATOR, Lapsed(24), 88, &[]),
    learner("Anselm Okoro", 0, FIRST, Sitting(6), 80, &["interrupting_is_harmless"]),
    office("Maud Ferreby", 2, Trainer),
    office("Tomasz Wrenfield", 2, ServiceManager),
    learner("Ilse Harkaway", 0, SERVICE, Steady(320), 93, &[]),
    learner("Davit Rosebery", 0, OPERATOR, Expiring(17), 90, &["parked_cures_all"]),
    learner("Niamh Colclough", 1, SERVICE, Suspended(9), 84, &["stop_level_is_advice"]),
    learner("Pieter Vanstone", 2, OPERATOR, Waits(5), 87, &["inhibit_protects"]),
    learner("Yara Lindqvist", 2, SERVICE, Steady(610), 95, &[]),
    learner("Callum Brackenridge", 3, OPERATOR, Resat(430), 68, &["scales_mixed_up", "parked_cures_all"]),
    learner("Mireille Stokes", 3, OPERATOR, AwaitsDebrief(4), 80, &["anywhere_is_safe"]),
    learner("Tobias Merriweather", 0, FIELD, Steady(700), 86, &[]),
    learner("Priya Hallam", 1, FIELD, Steady(210), 91, &[]),
    learner("Gethin Sorley", 1, OPERATOR, Expiring(41), 85, &["speed_does_not_matter"]),
    learner("Annika Draycott", 2, OPERATOR, Debriefed(510), 83, &["stop_level_is_advice"]),
    learner("Emeka Thornbury", 2, OPERATOR, Lapsed(8), 84, &["conditions_are_optional"]),
    learner("Rosalind Achterberg", 3, SERVICE, Steady(150), 94, &[]),
    learner("Finbar Quillan", 3, OPERATOR, Steady(820), 79, &["interrupting_is_harmless"]),
    learner("Zofia Pemberley", 0, OPERATOR, Waits(7), 72, &["inhibit_protects"]),
    learner("Hamish Oduya", 0, FIRST, Steady(33), 82, &["parked_cures_all"]),
    learner("Leonie Strand", 1, OPERATOR, Sitting(3), 88, &[]),
    learner("Marek Hollins", 1, OPERATOR, Withdrawn(60), 90, &["conditions_are_optional"]),
    learner("Sunniva Gatley", 2, OPERATOR, Learning, 74, &["parked_cures_all", "anywhere_is_safe"]),
    learner("Desmond Aravena", 2, SERVICE, Suspended(16), 86, &["anywhere_is_safe"]),
    learner("Katarzyna Loveday", 3, OPERATOR, Expiring(52), 89, &[]),
    learner("Owen Birkenshaw", 3, OPERATOR, Refused(8), 81, &["speed_does_not_matter"]),
    learner("Adaeze Finnerty", 0, OPERATOR, Left, 85, &[]),
    learner("Joris Whitcombe", 1, OPERATOR, AwaitsDebrief(11), 76, &["stop_level_is_advice"]),
    learner("Elin Mossgrove", 2, FIRST, Learning, 71, &["interrupting_is_harmless"]),
    learner("Bartholomew Kyd", 3, OPERATOR, Lapsed(47), 83, &[]),
    learner("Imke Satterfield", 0, SERVICE, Expiring(30), 92, &["conditions_are_optional"]),
    learner("Rhodri Vance", 1, OPERATOR, Unsafe(20), 88, &[]),
    learner("Noor Tillotson", 2, OPERATOR, NewHire, 75, &["inhibit_protects"]),
    learner("Silas Underhay", 3, OPERATOR, Invited, 80, &[]),
];

/// How many people the demo has.
pub const EVERYONE: usize = 40;

/// How few people a demo can have: those of [`sign_ins`].
pub const FEWEST: usize = 5;

/// A way into the demo.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SignIn {
    /// What the person is there.
    pub who: &'static str,
    /// Their name.
    pub name: &'static str,
    /// Their address.
    pub email: String,
}

/// One sign-in for each role, and two for technicians: one at the beginning, one half way.
#[must_use]
pub fn sign_ins() -> Vec<SignIn> {
    let of = |who, place: usize| SignIn { who, name: CAST[place].name, email: CAST[place].email() };
    vec![
        of("technician, first day", 3),
        of("technician, half way", 4),
        of("trainer", 2),
        of("service manager", 1),
        of("administrator", 0),
    ]
}

/// The trainer who looks after a branch: the first pair of branches has one, the second the other.
pub(super) fn trainer_of(branch: usize, among: &[Member]) -> Option<usize> {
    let trainers = || (0..among.len()).filter(|place| among[*place].role == Trainer);
    trainers().find(|place| among[*place].branch / 2 == branch / 2).or_else(|| trainers().next())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::people::{EmailAddress, PersonName};
    use crate::domain::scenario::misconception;
    use std::collections::BTreeSet;

    #[test]
    fn everyone_can_be_brought_in_and_believes_something_that_exists() {
        let addresses: BTreeSet<String> = CAST.iter().map(Member::email).collect();
        assert_eq!(addresses.len(), CAST.len(), "an address of their own");
        for member in &CAST {
            PersonName::parse(member.name).unwrap();
            EmailAddress::parse(&member.email()).unwrap();
            for belief in member.beliefs {
                assert!(misconception::find(belief).is_some(), "{belief}");
            }
        }
    }

    #[test]
    fn each_way_in_is_of_the_role_it_says() {
        for sign_in in sign_ins() {
            let member = CAST.iter().find(|member| member.name == sign_in.name).unwrap();
            assert!(sign_in.who.starts_with(member.role.name()), "{sign_in:?}");
            assert!(CAST[..FEWEST].iter().any(|few| few.name == member.name), "{sign_in:?}");
        }
    }
}
