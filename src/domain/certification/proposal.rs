//! What the scheme's rules propose after a sitting: to grant, or to refuse and why.
//!
//! Never grants anything: that is a person's decision ([`super::decision`]).

use crate::examination::outcome::Outcome;
use crate::examination::scheme::Scheme;
use crate::units::Moment;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// How long a sitting can carry a decision, in days; chosen by us: what somebody knew a quarter ago says little about today.
pub const DECIDE_WITHIN_DAYS: i64 = 90;

/// What the rules propose.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Proposes {
    /// A certificate.
    Grant,
    /// None.
    Refuse,
}

/// One thing that speaks against a certificate, with what was compared.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "against")]
pub enum Ground {
    /// Mandatory safety questions were missed. That alone forbids a certificate, whatever the score.
    SafetyMiss {
        /// Their places in the form, from 1.
        positions: Vec<u32>,
    },
    /// A mandatory safety question was missed in a later examination. That forbids a certificate on this one.
    MissedSince {
        /// The competence.
        competence: String,
    },
    /// Too little was right in all.
    Score {
        /// What was earned, in percent of all questions.
        percent: f64,
        /// What the scheme asks for, in percent.
        cut_percent: f64,
    },
    /// Too little was right in one competence.
    Part {
        /// The competence.
        competence: String,
        /// What was earned, in questions.
        earned: String,
        /// Questions asked.
        asked: usize,
        /// What the scheme asks for, in percent.
        cut_percent: f64,
    },
    /// A certificate that has to be held first is not.
    Prerequisite {
        /// By which scheme.
        scheme: String,
    },
    /// A practical task has not been seen done.
    Practical {
        /// Which.
        task: String,
    },
}

/// What the person brings beside the sitting, for and against, at the moment of the proposal.
#[derive(Clone, Debug, Default)]
pub struct Brought {
    /// The schemes by which they hold a certificate that stands.
    pub schemes: BTreeSet<String>,
    /// The practical tasks that an assessor has seen them do.
    pub practical: BTreeSet<String>,
    /// The competences in which they missed a mandatory safety question after the sitting, and that no certificate on a later
    /// sitting has made good.
    pub missed_since: BTreeSet<String>,
}

/// A proposal.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Proposal {
    /// What is proposed.
    pub proposes: Proposes,
    /// Whether a mandatory safety question was missed, in the sitting or since.
    pub safety_miss: bool,
    /// Everything that speaks against a certificate; empty exactly when one is proposed. The gravest comes first.
    pub grounds: Vec<Ground>,
}

/// Works a proposal out.
#[must_use]
pub fn propose(scheme: &Scheme, outcome: &Outcome, brought: &Brought) -> Proposal {
    let mut grounds = Vec::new();
    if !outcome.safety_misses.is_empty() {
        grounds.push(Ground::SafetyMiss { positions: outcome.safety_misses.clone() });
    }
    let asked = scheme.parts.iter().map(|part| &part.competence);
    let since = asked.filter(|competence| brought.missed_since.contains(*competence));
    grounds.extend(since.map(|competence| Ground::MissedSince { competence: competence.clone() }));
    let safety_miss = !grounds.is_empty();
    let percent = outcome.score_percent();
    if outcome.asked == 0 || percent < outcome.cut_percent {
        grounds.push(Ground::Score { percent, cut_percent: outcome.cut_percent });
    }
    grounds.extend(outcome.parts.iter().filter(|part| !part.passed).map(|part| Ground::Part {
        competence: part.competence.clone(),
        earned: part.earned(),
        asked: part.asked,
        cut_percent: part.cut_percent,
    }));
    let lacking = |wanted: &[String], has: &BTreeSet<String>| {
        wanted.iter().filter(|word| !has.contains(*word)).cloned().collect::<Vec<_>>()
    };
    let schemes = lacking(&scheme.prerequisites, &brought.schemes);
    grounds.extend(schemes.into_iter().map(|scheme| Ground::Prerequisite { scheme }));
    let tasks = lacking(&scheme.practical, &brought.practical);
    grounds.extend(tasks.into_iter().map(|task| Ground::Practical { task }));
    let proposes = if grounds.is_empty() && outcome.passed { Proposes::Grant } else { Proposes::Refuse };
    Proposal { proposes, safety_miss, grounds }
}

/// Whether a proposal can still be decided on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Openness {
    /// It waits for a decision.
    Waits,
    /// A later sitting by the same scheme has taken its place.
    Superseded,
    /// The sitting is too long ago.
    Expired,
}

/// Whether a proposal about a sitting can still be decided on.
#[must_use]
pub const fn openness(examined_at: Moment, superseded: bool, now: Moment) -> Openness {
    if superseded {
        Openness::Superseded
    } else if now.seconds_since(examined_at) >= DECIDE_WITHIN_DAYS * 86_400 {
        Openness::Expired
    } else {
        Openness::Waits
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::examination::outcome::{Graded, conclude};
    use crate::examination::scheme::Known;
    use crate::scenario::share::Share;

    const TEXT: &str = "id = \"s\"\ntitle = \"S\"\nsays = \"S.\"\nmodules = []\ntime_limit = \"15 min\"\ncut = \"75 %\"\n\
        valid_for_months = 36\nresit_after = \"1 h\"\ndebrief_after_safety_miss = true\nmachines = [\"all\"]\n\
        prerequisites = [\"before\"]\npractical = [\"parked-regeneration\"]\n\
        [[part]]\ncompetence = \"lamps\"\nquestions = 2\ncut = \"50 %\"\n\
        [[part]]\ncompetence = \"fire\"\nquestions = 2\ncut = \"100 %\"\n";

    fn proposal(right: [bool; 4], brought: &Brought) -> Proposal {
        let competences = ["lamps".to_owned(), "fire".to_owned()];
        let known = Known { competences: &competences, modules: &[], machines: &[] };
        let scheme = Scheme::read("s.toml", TEXT, &known).unwrap();
        let graded: Vec<Graded> = (1..)
            .zip(right)
            .map(|(position, right)| Graded {
                position,
                competence: if position <= 2 { "lamps".to_owned() } else { "fire".to_owned() },
                mandatory: position > 2,
                share: if right { Share::WHOLE } else { Share::NOTHING },
            })
            .collect();
        propose(&scheme, &conclude(&scheme, &graded), brought)
    }

    fn everything() -> Brought {
        let one = |word: &str| BTreeSet::from([word.to_owned()]);
        Brought { schemes: one("before"), practical: one("parked-regeneration"), missed_since: BTreeSet::new() }
    }

    #[test]
    fn a_pass_with_everything_brought_is_proposed_to_be_granted() {
        // One of two on lamps is enough there, and three of four in all.
        let proposal = proposal([true, false, true, true], &everything());
        assert_eq!(proposal, Proposal { proposes: Proposes::Grant, safety_miss: false, grounds: Vec::new() });
    }

    #[test]
    fn a_safety_miss_is_refused_whatever_the_score_and_comes_first() {
        let proposal = proposal([true, true, true, false], &everything());
        assert_eq!((proposal.proposes, proposal.safety_miss), (Proposes::Refuse, true));
        assert_eq!(proposal.grounds[0], Ground::SafetyMiss { positions: vec![4] });
    }

    #[test]
    fn a_safety_miss_since_is_refused_where_the_scheme_asks_for_the_competence() {
        let missed =
            |competence: &str| Brought { missed_since: BTreeSet::from([competence.to_owned()]), ..everything() };
        let since = proposal([true; 4], &missed("fire"));
        assert_eq!((since.proposes, since.safety_miss), (Proposes::Refuse, true));
        assert_eq!(since.grounds, [Ground::MissedSince { competence: "fire".into() }]);
        assert_eq!(proposal([true; 4], &missed("closed_spaces")).proposes, Proposes::Grant);
    }

    #[test]
    fn everything_that_is_missing_is_said() {
        let proposal = proposal([false, false, true, true], &Brought::default());
        assert_eq!(
            proposal.grounds,
            [
                Ground::Score { percent: 50.0, cut_percent: 75.0 },
                Ground::Part { competence: "lamps".into(), earned: "0".into(), asked: 2, cut_percent: 50.0 },
                Ground::Prerequisite { scheme: "before".into() },
                Ground::Practical { task: "parked-regeneration".into() },
            ]
        );
        assert_eq!((proposal.proposes, proposal.safety_miss), (Proposes::Refuse, false));
    }

    #[test]
    fn a_proposal_goes_stale() {
        let day = |days: i64| Moment(days * 86_400 * 1_000_000);
        assert_eq!(openness(day(0), false, day(89)), Openness::Waits);
        assert_eq!(openness(day(0), false, day(90)), Openness::Expired);
        assert_eq!(openness(day(0), true, day(1)), Openness::Superseded);
    }
}
