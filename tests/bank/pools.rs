//! Pools of written options: a question shows some of them, as many as it says, and each of them gets its turn.

use super::{common_practice, golden};
use sootmark::domain::scenario::Question;
use sootmark::domain::scenario::generate::{Seed, generate};
use sootmark::domain::scenario::question::Key;
use sootmark::domain::units::TemperatureUnit;
use std::collections::{BTreeMap, BTreeSet};

const QUESTIONS: u64 = 3_000;

fn questions(name: &str) -> Vec<Question> {
    let machine = common_practice();
    let template = golden().into_iter().find(|template| template.id == name).expect("a golden template");
    let make = |stream| generate(&template, 1, &machine, Seed { secret: [8; 32], stream }, TemperatureUnit::Celsius);
    (0..QUESTIONS).map(|stream| make(stream).expect("a question")).collect()
}

/// How often each option was shown, and how often it was right.
fn turns(questions: &[Question]) -> BTreeMap<&str, (u64, u64)> {
    let mut turns: BTreeMap<&str, (u64, u64)> = BTreeMap::new();
    for question in questions {
        let Key::Options(right) = &question.key else { panic!("options") };
        for (place, choice) in question.choices.iter().enumerate() {
            let (shown, held) = turns.entry(&choice.text).or_default();
            *shown += 1;
            *held += u64::from(right.contains(&place));
        }
    }
    turns
}

/// Right below this machine's stop level of 120 %, and right from there on; the others hold nowhere in the scenario.
const PARKED: [&str; 2] = ["Start a parked regeneration.", "Press the parked switch, now."];
const SERVICE: [&str; 2] = ["Stop and call service.", "Leave it to a technician."];

#[test]
fn to_choose_one_in_exactly_one_is_right_and_each_gets_its_turn() {
    let questions = questions("one-of-a-pool");
    for question in &questions {
        let Key::Options(right) = &question.key else { panic!("options") };
        assert_eq!((question.choices.len(), right.len()), (4, 1));
        let stop = question.situation.soot_percent >= 120.0;
        let rights = if stop { SERVICE } else { PARKED };
        assert!(rights.contains(&question.choices[right[0]].text.as_str()), "{:?}", question.shown.options);
        // The other one that holds would be a second right answer.
        let holding = question.shown.options.iter().filter(|text| rights.contains(&text.as_str())).count();
        assert_eq!(holding, 1, "{:?}", question.shown.options);
    }
    let turns = turns(&questions);
    assert_eq!(turns.len(), 7, "{turns:?}");
    for (one, other) in [PARKED, SERVICE].map(|[a, b]| (turns[a].1 as f64, turns[b].1 as f64)).into_iter() {
        // Chi-squared with 1 degree of freedom: 10.83 is passed once in a thousand.
        // Source: NIST/SEMATECH e-Handbook 1.3.6.7.4 (from memory, not confirmed).
        assert!((one - other).powi(2) / (one + other) < 10.83, "{turns:?}");
    }
    // Three of the five that do not hold are shown: those that never hold come up in three of five questions, give or take
    // five standard errors of a share.
    for never in ["Work on.", "Ask for more engine load.", "Put the hand on the outlet."] {
        let share = turns[never].0 as f64 / QUESTIONS as f64;
        assert!((share - 0.6).abs() < 5.0 * (0.24_f64 / QUESTIONS as f64).sqrt(), "{never}: {share}");
    }
}

#[test]
fn to_choose_several_in_at_least_one_is_right_and_one_is_not() {
    let questions = questions("some-of-a-pool");
    let mut rights = BTreeSet::new();
    for question in &questions {
        let Key::Options(right) = &question.key else { panic!("options") };
        assert_eq!(question.choices.len(), 4);
        assert!(!right.is_empty() && right.len() < 4, "{right:?}");
        rights.insert(right.len());
    }
    // Two of the seven hold at a time: one of them or both are shown.
    assert_eq!(rights, BTreeSet::from([1, 2]));
    assert_eq!(turns(&questions).len(), 7);
}

#[test]
fn an_order_takes_ranks_that_are_apart() {
    let questions = questions("rank-of-a-pool");
    let mut seen = BTreeSet::new();
    for question in &questions {
        let Key::Order(order) = &question.key else { panic!("an order") };
        assert_eq!(order.len(), 3);
        let texts = &question.shown.options;
        // Both stand at 120 % on this machine.
        assert!(!(texts.contains(&"Stop".into()) && texts.contains(&"The last parked one".into())), "{texts:?}");
        let place = |text: &str| order.iter().position(|shown| texts[*shown] == text);
        if let (Some(active), Some(stop)) = (place("Active"), place("Stop")) {
            assert!(active < stop, "{texts:?} {order:?}");
        }
        seen.extend(texts.iter().cloned());
    }
    assert_eq!(seen.len(), 7, "{seen:?}");
}
