//! Questions whose options the trainer wrote; the model decides which of them hold.

use super::{Asked, Built, Miss};
use crate::scenario::draw::Draws;
use crate::scenario::misconception;
use crate::scenario::question::{Choice, Key, Kind};

pub(super) fn statements(asked: &Asked<'_>, draws: &mut Draws) -> Result<Built, Miss> {
    let mut lines: Vec<(bool, Choice)> = Vec::new();
    for option in &asked.template.answer.written {
        let broken = |message: String| Miss::Broken(option.line, message);
        let right = asked.scope.truth(&option.decides).map_err(|no| broken(no.to_string()))?;
        let text = asked.scope.fill(&option.text, asked.unit).map_err(|no| broken(no.to_string()))?;
        let why = asked.scope.fill(&option.because, asked.unit).map_err(|no| broken(no.to_string()))?;
        let believes = option.believes.map(|place| misconception::ALL[place].id.to_owned());
        lines.push((right, Choice { text, why, believes }));
    }
    let rights = lines.iter().filter(|(right, _)| *right).count();
    match asked.template.kind {
        // Which draws come here is the trainer's to say, under [only if]: a second right answer is never drawn away.
        Kind::ChooseOne if rights != 1 => {
            let message =
                format!("{rights} options are right for one draw; one must be: add a condition under [only if]");
            return Err(Miss::Broken(asked.template.answer.line, message));
        }
        Kind::ChooseSeveral if rights == 0 || rights == lines.len() => {
            return Err(Miss::Again("none of the options is right, or all are"));
        }
        _ => {}
    }
    draws.shuffle(&mut lines);
    let key = lines.iter().enumerate().filter(|(_, (right, _))| *right).map(|(place, _)| place).collect();
    let choices = lines.into_iter().map(|(_, choice)| choice).collect();
    Ok(Built { choices, key: Key::Options(key), wrong_numbers: Vec::new(), reasons: asked.reasons(), unit: None })
}
