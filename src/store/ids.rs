//! The numbers that name things, each its own type so that a person's is never taken for an attempt's.

use sea_orm::DeriveValueType;
use serde::{Deserialize, Serialize};
use std::{fmt, num::ParseIntError, str::FromStr};

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident;)+) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, DeriveValueType)]
        #[serde(transparent)]
        pub struct $name(pub i64);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }

        impl FromStr for $name {
            type Err = ParseIntError;
            fn from_str(text: &str) -> Result<Self, Self::Err> {
                text.parse().map(Self)
            }
        }
    )+};
}

ids! {
    /// A branch.
    BranchId;
    /// A person.
    PersonId;
    /// One version of a document of the bank.
    DocumentId;
    /// A draft of a scenario template.
    DraftId;
    /// One person's sitting, or one stretch of practice.
    AttemptId;
    /// One entry about a competence of a person.
    QualificationId;
    /// One entry of the record.
    RecordEntryId;
    /// What the rules propose after a sitting.
    ProposalId;
    /// One certificate.
    CertificateId;
    /// Something that asks for a refresher.
    TriggerId;
    /// A time in which sittings at a branch are watched.
    InvigilationId;
    /// Something that people are to do by a day.
    AssignmentId;
    /// A practical task seen at a machine.
    ObservationId;
    /// A key with which another program asks.
    AccessKeyId;
    /// One mail in the outbox.
    MailId;
}
