//! The permission table: what each role may do. The routes of the web are built on it, and so is the line of places.

use super::Role;

/// One kind of thing that a signed-in person may or may not do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Permission {
    /// Read lessons and practise.
    StudyModules,
    /// Sit examinations.
    SitExaminations,
    /// See one's own record.
    SeeOwnRecord,
    /// Write and check scenario templates, send them to review, retire them.
    WriteTemplates,
    /// Approve what another has written, or send it back; never one's own.
    ReviewTemplates,
    /// Write, check and publish machine profiles.
    DescribeMachines,
    /// Go through a missed safety question with a person and write it down.
    HoldDebriefs,
    /// See who is qualified for what, and anyone's record.
    SeeQualifications,
    /// Decide about certificates and appeals, suspend and withdraw.
    DecideCertification,
    /// Write down what happened with a person that asks for a refresher, and see who needs one.
    RecordTriggers,
    /// Watch examinations at one's own branch.
    Invigilate,
    /// Set how much more time somebody gets in examinations.
    GrantExtraTime,
    /// Take the list of who is qualified out as a file.
    ExportQualifications,
    /// See the list of people.
    SeePeople,
    /// Invite one person by mail.
    InvitePeople,
    /// Bring people in from a roster.
    ImportPeople,
    /// Change a person's role or branch, suspend them, let them back in.
    ChangePeople,
    /// Set up branches.
    ManageBranches,
    /// Tell people what to do by a day, and take it back.
    AssignWork,
    /// Name somebody's trainer.
    NameTrainers,
    /// Make and revoke the keys with which other programs ask who is qualified.
    ManageAccessKeys,
    /// Watch practical tasks at one's own branch and sign what was seen; never one's own.
    ObservePractice,
    /// See which letters were written to whom, and what became of them.
    SeeLetters,
}

impl Permission {
    /// Every permission.
    pub const ALL: [Self; 23] = [
        Self::StudyModules,
        Self::SitExaminations,
        Self::SeeOwnRecord,
        Self::WriteTemplates,
        Self::ReviewTemplates,
        Self::DescribeMachines,
        Self::HoldDebriefs,
        Self::SeeQualifications,
        Self::DecideCertification,
        Self::RecordTriggers,
        Self::Invigilate,
        Self::GrantExtraTime,
        Self::ExportQualifications,
        Self::SeePeople,
        Self::InvitePeople,
        Self::ImportPeople,
        Self::ChangePeople,
        Self::ManageBranches,
        Self::AssignWork,
        Self::NameTrainers,
        Self::ManageAccessKeys,
        Self::ObservePractice,
        Self::SeeLetters,
    ];
}

/// Whether a role may do something. This match is the whole table; there is no other.
///
/// | | technician | trainer | service manager | administrator |
/// |---|---|---|---|---|
/// | study, sit examinations, see the own record | yes | yes | | |
/// | write templates, review another's, describe machines, hold debriefs | | yes | | |
/// | write down what asks for a refresher | | yes | yes | |
/// | see and export who is qualified | | | yes | |
/// | decide about certificates and appeals | | | yes | yes |
/// | watch examinations and practical tasks at the own branch | | yes | yes | |
/// | set more time in examinations | | | yes | yes |
/// | see people, invite one | | | yes | yes |
/// | assign work | | | yes | |
/// | name somebody's trainer, make keys for other programs | | | yes | yes |
/// | see what became of letters: to the own branch, to everyone | | | yes | yes |
/// | import a roster, change people, manage branches | | | | yes |
///
/// Who decides about a certificate is not the person's trainer (ISO/IEC 17024), so a trainer has no say in
/// qualifications. An administrator decides where a branch has no service manager who may, and hears appeals; of a record
/// they see what the decision rests on, and nothing else.
#[must_use]
pub const fn allows(role: Role, permission: Permission) -> bool {
    use Role::{Administrator, ServiceManager, Technician, Trainer};
    match permission {
        Permission::StudyModules | Permission::SitExaminations | Permission::SeeOwnRecord => {
            matches!(role, Technician | Trainer)
        }
        Permission::WriteTemplates
        | Permission::ReviewTemplates
        | Permission::DescribeMachines
        | Permission::HoldDebriefs => matches!(role, Trainer),
        Permission::SeeQualifications | Permission::ExportQualifications => matches!(role, ServiceManager),
        Permission::DecideCertification => matches!(role, ServiceManager | Administrator),
        Permission::RecordTriggers | Permission::Invigilate | Permission::ObservePractice => {
            matches!(role, Trainer | ServiceManager)
        }
        Permission::AssignWork => matches!(role, ServiceManager),
        Permission::SeePeople
        | Permission::InvitePeople
        | Permission::GrantExtraTime
        | Permission::NameTrainers
        | Permission::ManageAccessKeys
        | Permission::SeeLetters => matches!(role, ServiceManager | Administrator),
        Permission::ImportPeople | Permission::ChangePeople | Permission::ManageBranches => {
            matches!(role, Administrator)
        }
    }
}

/// Whether somebody of one role may bring in somebody of another. A service manager brings in those who learn and teach;
/// who brings in more could make themselves an administrator under a second address.
#[must_use]
pub const fn brings_in(role: Role, newcomer: Role) -> bool {
    match role {
        Role::Administrator => true,
        Role::ServiceManager => matches!(newcomer, Role::Technician | Role::Trainer),
        Role::Technician | Role::Trainer => false,
    }
}

/// Whether whoever has this role can change what others are trusted with, and so signs in with a second proof: they decide about
/// certificates, or change people.
#[must_use]
pub const fn needs_one_time_codes(role: Role) -> bool {
    allows(role, Permission::DecideCertification) || allows(role, Permission::ChangePeople)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What a role may do, in the order of the table.
    fn check(role: Role, expected: &[Permission]) {
        let has: Vec<_> = Permission::ALL.into_iter().filter(|permission| allows(role, *permission)).collect();
        assert_eq!(has, expected, "{role}");
    }

    #[test]
    fn each_role_may_do_its_own_work_and_no_more() {
        use Permission::*;
        check(Role::Technician, &[StudyModules, SitExaminations, SeeOwnRecord]);
        check(
            Role::Trainer,
            &[
                StudyModules,
                SitExaminations,
                SeeOwnRecord,
                WriteTemplates,
                ReviewTemplates,
                DescribeMachines,
                HoldDebriefs,
                RecordTriggers,
                Invigilate,
                ObservePractice,
            ],
        );
        check(
            Role::ServiceManager,
            &[
                SeeQualifications,
                DecideCertification,
                RecordTriggers,
                Invigilate,
                GrantExtraTime,
                ExportQualifications,
                SeePeople,
                InvitePeople,
                AssignWork,
                NameTrainers,
                ManageAccessKeys,
                ObservePractice,
                SeeLetters,
            ],
        );
        check(
            Role::Administrator,
            &[
                DecideCertification,
                GrantExtraTime,
                SeePeople,
                InvitePeople,
                ImportPeople,
                ChangePeople,
                ManageBranches,
                NameTrainers,
                ManageAccessKeys,
                SeeLetters,
            ],
        );
    }

    #[test]
    fn who_teaches_does_not_decide() {
        // Source: ISO/IEC 17024 (secondary): whoever decides on certification is not the person's trainer.
        for role in Role::ALL {
            let teaches = allows(role, Permission::HoldDebriefs);
            let decides = allows(role, Permission::DecideCertification);
            assert!(!(teaches && decides), "{role}");
        }
    }

    #[test]
    fn nothing_is_left_that_nobody_may_do() {
        for permission in Permission::ALL {
            assert!(Role::ALL.into_iter().any(|role| allows(role, permission)), "{permission:?}");
        }
    }

    #[test]
    fn nobody_brings_in_somebody_who_may_do_more() {
        for (role, newcomer) in Role::ALL.into_iter().flat_map(|role| Role::ALL.map(|newcomer| (role, newcomer))) {
            let invites = allows(role, Permission::InvitePeople);
            assert!(!brings_in(role, newcomer) || invites, "{role} invites nobody");
            let changes = allows(newcomer, Permission::ChangePeople) && !allows(role, Permission::ChangePeople);
            assert!(!(brings_in(role, newcomer) && changes), "{role} brings in {newcomer}");
        }
    }
}
