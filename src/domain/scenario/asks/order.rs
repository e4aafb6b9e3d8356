//! Questions that ask for an order: the machine's procedure, or what the model ranks.

use super::{Asked, Built, Miss};
use crate::scenario::draw::Draws;
use crate::scenario::question::{Choice, Key};
use crate::units::{Quantity, Unit};

pub(super) fn procedure(asked: &Asked<'_>, draws: &mut Draws) -> Result<Built, Miss> {
    let steps = &asked.machine.profile.procedure;
    let mut places: Vec<usize> = (0..steps.len()).collect();
    draws.shuffle(&mut places);
    places.truncate(asked.template.answer.steps);
    places.sort_unstable();
    let right = places.iter().map(|place| {
        let step = &steps[*place];
        Choice { text: step.action.clone(), why: step.reason.clone(), believes: None }
    });
    let reasons =
        vec!["This is the order of the machine's own procedure; the reason of each step stands beside it.".to_owned()];
    mixed(right.collect(), reasons, draws)
}

pub(super) fn rank(asked: &Asked<'_>, draws: &mut Draws) -> Result<Built, Miss> {
    let mut ranked: Vec<(Quantity, Choice)> = Vec::new();
    for option in &asked.template.answer.written {
        let broken = |message: String| Miss::Broken(option.line, message);
        let value = asked.scope.value(&option.decides).map_err(|no| broken(no.to_string()))?;
        let rank = value.number().map_err(|error| broken(error.to_string()))?;
        let text = asked.scope.fill(&option.text, asked.unit).map_err(|no| broken(no.to_string()))?;
        let why = asked.scope.fill(&option.because, asked.unit).map_err(|no| broken(no.to_string()))?;
        if ranked.iter().any(|(other, _)| other.unit.dimension() != rank.unit.dimension()) {
            return Err(broken(format!("this rank is {rank}, another kind of number than the others'")));
        }
        ranked.push((rank, Choice { text, why, believes: None }));
    }
    ranked.sort_by(|(a, _), (b, _)| a.own().total_cmp(&b.own()));
    let largest = ranked.last().map_or(0.0, |(rank, _)| rank.own().abs());
    // Ranks nearer than a hundredth of the largest could be argued about.
    let close = ranked.windows(2).any(|pair| pair[1].0.own() - pair[0].0.own() <= 0.01 * largest);
    if close {
        return Err(Miss::Again("two ranks are too near to each other"));
    }
    let shown = |rank: &Quantity| {
        let places = if matches!(rank.unit, Unit::Percent | Unit::One) { 10.0 } else { 1.0 };
        Quantity::new((rank.value * places).round() / places, rank.unit).for_reader(asked.unit).to_string()
    };
    let reasons = vec![format!(
        "The model gives, in this order: {}.",
        ranked.iter().map(|(rank, _)| shown(rank)).collect::<Vec<_>>().join(", ")
    )];
    mixed(ranked.into_iter().map(|(_, choice)| choice).collect(), reasons, draws)
}

/// Shows the steps in another order than the right one.
fn mixed(right: Vec<Choice>, reasons: Vec<String>, draws: &mut Draws) -> Result<Built, Miss> {
    if right.len() < 3 {
        return Err(Miss::Again("there are fewer than three steps to put in order"));
    }
    let mut order: Vec<usize> = (0..right.len()).collect();
    while order.is_sorted() {
        draws.shuffle(&mut order);
    }
    // `order[shown]` is the step's right place; the key says which shown step comes first, second ...
    let mut key = vec![0; order.len()];
    for (shown, place) in order.iter().enumerate() {
        key[*place] = shown;
    }
    let choices = order.iter().map(|place| right[*place].clone()).collect();
    Ok(Built { choices, key: Key::Order(key), wrong_numbers: Vec::new(), reasons, unit: None })
}
