//! Who may decide about a certificate, what they may decide, and what an appeal can change.
//!
//! Source: ISO/IEC 17024 (secondary): a decision on certification is not made by whoever trained or examined the person,
//! and an appeal is not heard by whoever made the decision. Never lets a missed safety question be overruled.

use super::proposal::Proposes;
use serde::{Deserialize, Serialize};

/// What was decided.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// A certificate.
    Granted,
    /// None.
    Refused,
}

/// What somebody who wants to decide has to do with the person already.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Involvement {
    /// They are the person.
    pub is_the_person: bool,
    /// They trained the person: held a talk with them, watched their practical task, or look after them.
    pub trained: bool,
    /// They made the decision that is appealed against.
    pub decided: bool,
    /// Their role is not among those that the scheme names.
    pub not_named: bool,
}

/// Why somebody may not decide.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Bar {
    /// Nobody decides about themselves.
    Oneself,
    /// Nobody decides about whom they trained.
    Trained,
    /// Nobody hears an appeal against their own decision.
    OwnDecision,
    /// The scheme names other roles.
    NotNamed,
}

impl Involvement {
    /// What bars this somebody, the gravest first.
    #[must_use]
    pub const fn bar(self) -> Option<Bar> {
        if self.is_the_person {
            Some(Bar::Oneself)
        } else if self.trained {
            Some(Bar::Trained)
        } else if self.decided {
            Some(Bar::OwnDecision)
        } else if self.not_named {
            Some(Bar::NotNamed)
        } else {
            None
        }
    }
}

/// What is wrong with a decision.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Flaw {
    /// A certificate needs a proposal to grant one.
    NotProposed,
    /// A refusal against the proposal needs a reason in words.
    NoReason,
}

/// Whether a verdict may follow on a proposal. A grant follows only on a proposal to grant, so that a missed safety
/// question cannot be granted away; a refusal against the proposal says why.
///
/// # Errors
/// What is wrong with it.
pub fn may_follow(proposes: Proposes, verdict: Verdict, reason: &str) -> Result<(), Flaw> {
    match (proposes, verdict) {
        (Proposes::Refuse, Verdict::Granted) => Err(Flaw::NotProposed),
        (Proposes::Grant, Verdict::Refused) if reason.trim().is_empty() => Err(Flaw::NoReason),
        _ => Ok(()),
    }
}

/// What was decided on an appeal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Finding {
    /// The refusal does not stand.
    Upheld,
    /// It stands.
    Dismissed,
}

/// What an appeal that is upheld leads to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Remedy {
    /// The certificate that had been proposed.
    Certificate,
    /// The sitting does not count against the person: no waiting time, not one of the attempts allowed. It still gives no
    /// certificate, and a missed safety question is still gone through with a trainer.
    Annulled,
}

/// What upholding an appeal leads to. A sitting is overtaken when a mandatory safety question in one of its competences was missed
/// since, or when a later sitting by the same scheme led to a certificate.
#[must_use]
pub const fn remedy(proposes: Proposes, overtaken: bool) -> Remedy {
    match proposes {
        Proposes::Grant if !overtaken => Remedy::Certificate,
        Proposes::Grant | Proposes::Refuse => Remedy::Annulled,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_is_involved_does_not_decide() {
        // Source: ISO/IEC 17024 (secondary): the decision is not the trainer's, and an appeal is heard by somebody else.
        let free = Involvement::default();
        assert_eq!(free.bar(), None);
        assert_eq!(Involvement { is_the_person: true, trained: true, ..free }.bar(), Some(Bar::Oneself));
        assert_eq!(Involvement { trained: true, decided: true, ..free }.bar(), Some(Bar::Trained));
        assert_eq!(Involvement { decided: true, ..free }.bar(), Some(Bar::OwnDecision));
        assert_eq!(Involvement { not_named: true, ..free }.bar(), Some(Bar::NotNamed));
    }

    #[test]
    fn only_a_proposal_to_grant_can_be_granted() {
        use {Proposes::*, Verdict::*};
        assert_eq!(may_follow(Grant, Granted, ""), Ok(()));
        assert_eq!(may_follow(Refuse, Granted, "a good fellow"), Err(Flaw::NotProposed));
        assert_eq!(may_follow(Refuse, Refused, ""), Ok(()));
        assert_eq!(may_follow(Grant, Refused, "  "), Err(Flaw::NoReason));
        assert_eq!(may_follow(Grant, Refused, "Sat with somebody else's papers."), Ok(()));
    }

    #[test]
    fn an_appeal_never_makes_a_certificate_of_a_proposal_to_refuse() {
        assert_eq!(remedy(Proposes::Grant, false), Remedy::Certificate);
        assert_eq!(remedy(Proposes::Refuse, false), Remedy::Annulled);
    }

    #[test]
    fn an_appeal_gives_no_certificate_on_what_is_overtaken() {
        assert_eq!(remedy(Proposes::Grant, true), Remedy::Annulled);
        assert_eq!(remedy(Proposes::Refuse, true), Remedy::Annulled);
    }
}
