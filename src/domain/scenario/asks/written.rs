//! Questions whose options the trainer wrote; the model decides which of them hold.
//!
//! A pool has more options than a question shows. Which of them come up is drawn evenly, so that each gets its turn.

use super::{Asked, Built, Miss};
use crate::scenario::draw::Draws;
use crate::scenario::misconception;
use crate::scenario::question::{Choice, Key, Kind};
use crate::scenario::template::WrittenOption;

/// A written option, with whether it holds.
type Decided<'a> = (bool, &'a WrittenOption);

pub(super) fn statements(asked: &Asked<'_>, draws: &mut Draws) -> Result<Built, Miss> {
    let mut lines = decided(asked)?;
    match asked.template.answer.pool {
        Some(wanted) => lines = picked(asked, lines, wanted, draws)?,
        None => all(asked, &lines)?,
    }
    draws.shuffle(&mut lines);
    let key = lines.iter().enumerate().filter(|(_, (right, _))| *right).map(|(place, _)| place).collect();
    let choices = lines.into_iter().map(|(_, option)| choice(asked, option)).collect::<Result<_, _>>()?;
    Ok(Built { choices, key: Key::Options(key), wrong_numbers: Vec::new(), reasons: asked.reasons(), unit: None })
}

/// Every written option, with whether it holds.
fn decided<'a>(asked: &Asked<'a>) -> Result<Vec<Decided<'a>>, Miss> {
    let decide = |option: &'a WrittenOption| {
        let truth = asked.scope.truth(&option.decides);
        truth.map(|right| (right, option)).map_err(|no| Miss::Broken(option.line, no.to_string()))
    };
    asked.template.answer.written.iter().map(decide).collect()
}

/// An option in words.
pub(super) fn choice(asked: &Asked<'_>, option: &WrittenOption) -> Result<Choice, Miss> {
    let told = |text| asked.scope.fill(text, asked.unit).map_err(|no| Miss::Broken(option.line, no.to_string()));
    let believes = option.believes.map(|place| misconception::ALL[place].id.to_owned());
    Ok(Choice { text: told(&option.text)?, why: told(&option.because)?, believes })
}

/// Whether a question can be made of all of them.
fn all(asked: &Asked<'_>, lines: &[Decided<'_>]) -> Result<(), Miss> {
    let rights = lines.iter().filter(|(right, _)| *right).count();
    match asked.template.kind {
        // Which draws come here is the trainer's to say, under [only if]: a second right answer is never drawn away.
        Kind::ChooseOne if rights != 1 => {
            let message =
                format!("{rights} options are right for one draw; one must be: add a condition under [only if]");
            Err(Miss::Broken(asked.template.answer.line, message))
        }
        Kind::ChooseSeveral if rights == 0 || rights == lines.len() => {
            Err(Miss::Again("none of the options is right, or all are"))
        }
        _ => Ok(()),
    }
}

/// As many of a pool as are wanted: to choose one in, one that is right; to choose several in, at least one that is and
/// one that is not.
fn picked<'a>(
    asked: &Asked<'_>,
    lines: Vec<Decided<'a>>,
    wanted: usize,
    draws: &mut Draws,
) -> Result<Vec<Decided<'a>>, Miss> {
    let (mut right, mut wrong): (Vec<_>, Vec<_>) = lines.into_iter().partition(|(right, _)| *right);
    let one = asked.template.kind == Kind::ChooseOne;
    if !one && (right.is_empty() || wrong.is_empty()) {
        return Err(Miss::Again("none of the options is right, or all are"));
    }
    if one && (right.is_empty() || wrong.len() + 1 < wanted) {
        let message = format!(
            "for one draw {} of the options are right and {} are not, which is too few to show {wanted}: write more of them, or add a condition under [only if]",
            right.len(),
            wrong.len()
        );
        return Err(Miss::Broken(asked.template.answer.line, message));
    }
    draws.shuffle(&mut right);
    draws.shuffle(&mut wrong);
    let rights = if one { 1 } else { rights_among(wanted, right.len(), wrong.len(), draws) };
    right.truncate(rights);
    wrong.truncate(wanted - rights);
    right.append(&mut wrong);
    Ok(right)
}

/// How many of those shown are right: any number that leaves a wrong one is as likely as any other.
pub(super) fn rights_among(wanted: usize, right: usize, wrong: usize, draws: &mut Draws) -> usize {
    let most = right.min(wanted - 1);
    let least = wanted.saturating_sub(wrong).max(1).min(most);
    least + draws.below(most - least + 1)
}
