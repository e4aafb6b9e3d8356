//! How somebody of the demo answers: rightly as often as their skill says, else by what they believe.
//!
//! Knows the key, as only an inventor of pasts may. Never used for anybody real.

use super::cast::Member;
use crate::domain::scenario::draw::Draws;
use crate::domain::scenario::grade::Answer;
use crate::domain::scenario::question::{Key, Question};
use crate::domain::units::plain_number;

/// An answer that is right with a chance of so many percent.
pub(super) fn answer(question: &Question, member: &Member, right_percent: u64, draws: &mut Draws) -> Answer {
    if chance(draws, right_percent) { right(question) } else { wrong(question, member, draws) }
}

/// Whether something happens that happens so often in a hundred.
fn chance(draws: &mut Draws, percent: u64) -> bool {
    (draws.below(100) as u64) < percent
}

/// The right answer.
pub(super) fn right(question: &Question) -> Answer {
    match &question.key {
        Key::Options(right) => Answer::Options(right.clone()),
        Key::Order(order) => Answer::Order(order.clone()),
        Key::Number { value, .. } => Answer::Number(plain_number(value.value)),
    }
}

/// A wrong answer: the one that a belief of the person gives, where there is one.
pub(super) fn wrong(question: &Question, member: &Member, draws: &mut Draws) -> Answer {
    let held = |believes: &Option<String>| believes.as_deref().is_some_and(|id| member.beliefs.contains(&id));
    match &question.key {
        Key::Options(right) => {
            let several = question.shown.kind != crate::domain::scenario::Kind::ChooseOne;
            // With several right ones, a wrong answer takes one too many or leaves one out.
            let flips: Vec<usize> =
                (0..question.choices.len()).filter(|place| several || !right.contains(place)).collect();
            let believed: Vec<usize> =
                flips.iter().copied().filter(|place| held(&question.choices[*place].believes)).collect();
            let among = if believed.is_empty() { &flips } else { &believed };
            let flip = draws.pick(among).copied().unwrap_or_default();
            if !several {
                return Answer::Options(vec![flip]);
            }
            let mut chosen: Vec<usize> = right.iter().copied().filter(|place| *place != flip).collect();
            if !right.contains(&flip) {
                chosen.push(flip);
            }
            // A lit lamp and that none is lit are no answer together: what was flipped stays.
            if question.shown.kind == crate::domain::scenario::Kind::LampPanel && chosen.len() > 1 {
                let none = question.choices.len() - 1;
                chosen.retain(|place| if flip == none { *place == none } else { *place != none });
            }
            // Leaving out the only right one would be no answer at all.
            if chosen.is_empty() {
                chosen.extend((0..question.choices.len()).find(|place| !right.contains(place)));
            }
            chosen.sort_unstable();
            Answer::Options(chosen)
        }
        Key::Order(order) => {
            let mut order = order.clone();
            if order.len() > 1 {
                let at = draws.below(order.len() - 1);
                order.swap(at, at + 1);
            }
            Answer::Order(order)
        }
        Key::Number { value, tolerance } => {
            let off: Vec<f64> = question.wrong_numbers.iter().map(|wrong| wrong.value).collect();
            let guess = draws.pick(&off).copied().unwrap_or(value.value + 3.0 * tolerance.value);
            Answer::Number(plain_number(guess))
        }
    }
}
