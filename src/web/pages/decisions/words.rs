//! What speaks against a certificate, and who may not decide, in words.

use super::super::record::{competence_name, scheme_title};
use crate::domain::bank::Bank;
use crate::domain::certification::decision::{Bar, Flaw};
use crate::domain::certification::proposal::{Ground, Openness};
use crate::domain::examination::observation::Task;
use crate::domain::units::plain_number;

/// One thing that speaks against a certificate.
pub(super) fn ground(bank: &Bank, of: &Ground) -> String {
    match of {
        Ground::SafetyMiss { positions } => {
            let places: Vec<String> = positions.iter().map(ToString::to_string).collect();
            format!(
                "A mandatory safety question was missed (question {}). That alone forbids a certificate, whatever the score.",
                places.join(", ")
            )
        }
        Ground::MissedSince { competence } => format!(
            "{}: a mandatory safety question was missed in a later examination. That forbids a certificate on this one.",
            competence_name(bank, competence)
        ),
        Ground::Score { percent, cut_percent } => {
            format!("{} % right in all; {} % are needed.", plain_number(percent.floor()), plain_number(*cut_percent))
        }
        Ground::Part { competence, earned, asked, cut_percent } => format!(
            "{}: {earned} of {asked} right; {} % are needed, and no mandatory question missed.",
            competence_name(bank, competence),
            plain_number(*cut_percent)
        ),
        Ground::Prerequisite { scheme } => {
            format!("No certificate by \"{}\" is held, which has to come first.", scheme_title(bank, Some(scheme)))
        }
        Ground::Practical { task } => {
            let name = Task::from_id(task).map_or(task.as_str(), |task| task.name());
            format!("The practical task \"{name}\" has not been seen done.")
        }
    }
}

/// Why somebody may not decide.
pub(super) const fn bar(of: Bar) -> &'static str {
    match of {
        Bar::Oneself => "This is your own. Somebody else decides.",
        Bar::Trained => "You trained this person. Whoever trained somebody does not decide about their certificate.",
        Bar::OwnDecision => "You made the decision that is appealed against. Somebody else hears the appeal.",
        Bar::NotNamed => "The scheme names other roles to decide.",
    }
}

/// What is wrong with a decision.
pub(super) const fn flaw(of: Flaw) -> &'static str {
    match of {
        Flaw::NotProposed => "A certificate can only be granted where the rules propose it. Here they do not.",
        Flaw::NoReason => "You refuse what the rules propose to grant. Write down why.",
    }
}

/// Why a proposal can no longer be decided on.
pub(super) const fn closed(of: Openness) -> Option<&'static str> {
    match of {
        Openness::Waits => None,
        Openness::Superseded => Some("The person has been examined again since. Decide on the newer examination."),
        Openness::Expired => Some("The examination is more than 90 days ago. The person has to be examined again."),
    }
}
