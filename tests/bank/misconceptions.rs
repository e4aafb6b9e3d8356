//! The misconceptions: each is a wrong model that can be run, and each gives a wrong answer somewhere in the bank.

use super::{common_practice, lexicon, shipped};
use sootmark::domain::scenario::Template;
use sootmark::domain::scenario::generate::{Seed, generate};
use sootmark::domain::scenario::misconception::ALL;
use sootmark::domain::units::TemperatureUnit;
use std::collections::BTreeSet;

#[test]
fn there_are_twenty_at_least_and_each_says_what_to_teach() {
    assert!(ALL.len() >= 20, "{}", ALL.len());
    let ids: BTreeSet<&str> = ALL.iter().map(|each| each.id).collect();
    assert_eq!(ids.len(), ALL.len(), "two have one word");
    for each in ALL {
        let sentence = |text: &str| text.ends_with('.') && text.chars().count() > 30;
        assert!(sentence(each.believes) && sentence(each.teach) && !each.name.is_empty(), "{}", each.id);
    }
}

#[test]
fn each_gives_a_wrong_answer_in_the_bank() {
    let bank = shipped();
    let mut given: BTreeSet<String> = BTreeSet::new();
    for entry in bank.templates() {
        for machine in bank.machines().filter(|machine| entry.template.fits(&machine.profile.id)) {
            for stream in 0..20 {
                let seed = Seed { secret: *b"what somebody believes who erred", stream };
                let made = generate(&entry.template, 1, machine, seed, TemperatureUnit::Celsius).expect("a question");
                given.extend(made.choices.into_iter().filter_map(|choice| choice.believes));
                given.extend(made.wrong_numbers.into_iter().map(|wrong| wrong.believes));
            }
        }
    }
    let missing: Vec<&str> = ALL.iter().map(|each| each.id).filter(|id| !given.contains(*id)).collect();
    assert!(missing.is_empty(), "no scenario gives a wrong answer of {missing:?}");
}

/// A machine at work from just above where an active regeneration begins.
const SHIFT: &str = "title: What a shift leaves
competence: fire
level: 2
kind: number
machines: all
show: none

[draw]
full = from machine.active_from + 1 % to machine.active_from + 2 % step 0.5 %

[situation]
soot = full
outlet = 300 °C
speed = machine.speed_floor + 300 rpm

[shift]
work: 60 min at 60 % with machine.speed_floor + 300 rpm

[only if]
shift.completed = 1

[story]
You work for an hour from {full}.

[question]
What is the soot load now?

[answer]
ask: number
key = soot_at(60 min)
unit: %
tolerance = 3 %
";

#[test]
fn a_misconception_is_run_through_the_whole_shift() {
    let template =
        Template::read("shift", "shift", SHIFT, &lexicon()).unwrap_or_else(|problems| panic!("{problems:#?}"));
    let machine = common_practice();
    for stream in 0..20 {
        let seed = Seed { secret: [2; 32], stream };
        let made = generate(&template, 1, &machine, seed, TemperatureUnit::Celsius).unwrap_or_else(|no| panic!("{no}"));
        // On a machine that somebody believes never begins an active regeneration, none cleans the filter: what is left is
        // about what was there. Only a shift of its own can give that number. Common practice, no published source.
        let full = made.wrong_numbers.iter().any(|wrong| wrong.value > 50.0);
        assert!(full, "{:?} {:?}", made.key, made.wrong_numbers);
    }
}
