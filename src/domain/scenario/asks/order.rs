//! Questions that ask for an order: the machine's procedure, or what the model ranks.

use super::written::choice;
use super::{Asked, Built, Miss};
use crate::scenario::draw::Draws;
use crate::scenario::question::{Choice, Key};
use crate::scenario::template::WrittenOption;
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
    let mut ranked = ranks(asked)?;
    let largest = ranked.iter().map(|(rank, _)| rank.own()).fold(f64::NEG_INFINITY, f64::max).abs();
    // Ranks nearer than a hundredth of the largest could be argued about.
    let close = |a: &Quantity, b: &Quantity| (a.own() - b.own()).abs() <= 0.01 * largest;
    if let Some(wanted) = asked.template.answer.pool {
        draws.shuffle(&mut ranked);
        let mut taken: Vec<(Quantity, &WrittenOption)> = Vec::new();
        for (rank, option) in ranked {
            if taken.len() < wanted && !taken.iter().any(|(other, _)| close(other, &rank)) {
                taken.push((rank, option));
            }
        }
        if taken.len() < wanted {
            return Err(Miss::Again("too few ranks are far enough from one another"));
        }
        ranked = taken;
    }
    ranked.sort_by(|(a, _), (b, _)| a.own().total_cmp(&b.own()));
    if ranked.windows(2).any(|pair| close(&pair[0].0, &pair[1].0)) {
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
    let right = ranked.into_iter().map(|(_, option)| Ok(Choice { believes: None, ..choice(asked, option)? }));
    mixed(right.collect::<Result<_, _>>()?, reasons, draws)
}

/// Every written option with its rank.
fn ranks<'a>(asked: &Asked<'a>) -> Result<Vec<(Quantity, &'a WrittenOption)>, Miss> {
    let mut ranked: Vec<(Quantity, &WrittenOption)> = Vec::new();
    for option in &asked.template.answer.written {
        let broken = |message: String| Miss::Broken(option.line, message);
        let value = asked.scope.value(&option.decides).map_err(|no| broken(no.to_string()))?;
        let rank = value.number().map_err(|error| broken(error.to_string()))?;
        if ranked.iter().any(|(other, _)| other.unit.dimension() != rank.unit.dimension()) {
            return Err(broken(format!("this rank is {rank}, another kind of number than the others'")));
        }
        ranked.push((rank, option));
    }
    Ok(ranked)
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
