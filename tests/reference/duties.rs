//! Machines and random duties for the checks of journeys. The same number gives the same duty for ever.
//!
//! Expects nothing and checks nothing.

use sootmark::domain::aftertreatment::journey::Stretch;
use sootmark::domain::aftertreatment::operator::OperatorAction;
use sootmark::domain::aftertreatment::profile::Profile;
use sootmark::domain::aftertreatment::situation::Situation;
use sootmark::domain::scenario::draw::Draws;

/// The three machines of the bank and the profile of common practice.
pub(super) fn machines() -> [Profile; 4] {
    [
        ("tarrel-60.toml", include_str!("../../question-bank/machines/tarrel-60.toml")),
        ("hobrek-40.toml", include_str!("../../question-bank/machines/hobrek-40.toml")),
        ("lunnock-9.toml", include_str!("../../question-bank/machines/lunnock-9.toml")),
        ("common_practice.toml", include_str!("common_practice.toml")),
    ]
    .map(|(file, text)| Profile::read(file, text).expect("a whole profile"))
}

pub(super) fn common_practice() -> Profile {
    let [.., common] = machines();
    common
}

/// A whole number of steps between two values.
fn between(draws: &mut Draws, from: f64, to: f64, steps: u16) -> f64 {
    let step = u16::try_from(draws.below(usize::from(steps) + 1)).expect("no more than steps");
    from + (to - from) * f64::from(step) / f64::from(steps)
}

/// A start and a duty of one to eight stretches with whatever an operator may do in between.
pub(super) fn random(number: u64) -> (Situation, Vec<Stretch>) {
    let mut draws = Draws::new([11; 32], number);
    let draws = &mut draws;
    let start = Situation {
        soot_percent: between(draws, 0.0, 125.0, 1000),
        ash_percent: between(draws, 0.0, 100.0, 100),
        outlet_c: between(draws, 10.0, 520.0, 200),
        engine_warm: draws.below(4) > 0,
        standing: draws.below(2) > 0,
        park_brake: draws.below(2) > 0,
        neutral: draws.below(2) > 0,
        attachment_down: draws.below(2) > 0,
        inhibit_on: draws.below(4) == 0,
        hours_since_parked: between(draws, 0.0, 100.0, 100),
        ..Situation::default()
    };
    let duty = (0..=draws.below(8)).map(|_| stretch(draws)).collect();
    (start, duty)
}

fn stretch(draws: &mut Draws) -> Stretch {
    let actions = (0..draws.below(4)).map(|_| OperatorAction::ALL[draws.below(OperatorAction::ALL.len())]).collect();
    let longest = [3.0, 60.0, 600.0][draws.below(3)];
    Stretch {
        minutes: between(draws, 0.0, longest, 997),
        load_percent: between(draws, 0.0, 110.0, 110),
        speed_rpm: between(draws, 600.0, 2800.0, 220),
        ambient_c: between(draws, -25.0, 45.0, 70),
        actions,
    }
}
