//! Forms and practice over the shipped bank: what the scheme asks for, balanced, and the same again from the same seed.

use super::shipped;
use sootmark::domain::bank::Bank;
use sootmark::domain::examination::form::{NoForm, assemble};
use sootmark::domain::examination::practice::questions_at;
use sootmark::domain::examination::scheme::{Part, Scheme};
use sootmark::domain::scenario::Question;
use sootmark::domain::scenario::generate::{Seed, generate};
use sootmark::domain::scenario::question::Key;
use sootmark::domain::units::TemperatureUnit;

const CELSIUS: TemperatureUnit = TemperatureUnit::Celsius;

fn form(bank: &Bank, scheme: &Scheme, secret: [u8; 32]) -> Vec<Question> {
    assemble(bank, scheme, secret, CELSIUS).unwrap_or_else(|no| panic!("{}: {no}", scheme.id))
}

fn bytes(questions: &[Question]) -> Vec<Vec<u8>> {
    questions.iter().map(Question::bytes).collect()
}

#[test]
fn every_form_has_what_its_scheme_asks_for() {
    let bank = shipped();
    for entry in bank.schemes() {
        for byte in 0..20 {
            let form = form(&bank, &entry.scheme, [byte; 32]);
            for Part { competence, questions, .. } in &entry.scheme.parts {
                let found = form.iter().filter(|question| question.competence == *competence);
                assert_eq!(found.count(), *questions, "{} {competence}", entry.scheme.id);
            }
            assert_eq!(form.len(), entry.scheme.parts.iter().map(|part| part.questions).sum::<usize>());
            for question in &form {
                let mandatory = bank.competence(&question.competence).expect("a competence of the bank").mandatory;
                assert_eq!(question.mandatory, mandatory, "{}", question.source.template);
                let wanted = &entry.scheme.machines;
                assert!(wanted.is_empty() || wanted.contains(&question.source.machine), "{}", entry.scheme.id);
            }
        }
    }
}

/// A change to a question.
type Change = fn(&mut Question);

/// Common practice, no published source: a gauge is read at a glance to about five points, a thermometer to about twenty degrees.
#[test]
fn questions_are_alike_when_nobody_could_tell_one_from_the_other() {
    let bank = shipped();
    let entry = bank.template("fire/straw-under-the-boom").expect("a template of the bank");
    let machine = bank.machines().next().expect("a machine");
    let seed = Seed { secret: [9; 32], stream: 1 };
    let question = generate(&entry.template, 1, machine, seed, CELSIUS).expect("a question");
    let alike: [(&str, bool, Change); 9] = [
        ("itself", true, |_| ()),
        ("one scenario on one machine, whatever it reads", true, |other| other.situation.soot_percent += 40.0),
        ("another scenario that says the same", true, |other| other.source.template.push('2')),
        ("the same, read a little higher", true, |other| {
            other.source.template.push('2');
            other.situation.soot_percent += 4.9;
            other.situation.outlet_c += 19.0;
        }),
        ("the same on another machine", true, |other| other.source.machine.push('2')),
        ("the same with more soot", false, |other| {
            other.source.template.push('2');
            other.situation.soot_percent += 5.1;
        }),
        ("the same with a hotter outlet", false, |other| {
            other.source.machine.push('2');
            other.situation.outlet_c += 21.0;
        }),
        ("another story", false, |other| {
            other.source.template.push('2');
            other.shown.story[0].push_str(" It rains.");
        }),
        ("another right answer", false, |other| {
            other.source.template.push('2');
            let options = other.shown.options.len();
            let Key::Options(right) = &mut other.key else { panic!("one is to be chosen") };
            right[0] = (right[0] + 1) % options;
        }),
    ];
    for (what, expected, change) in alike {
        let mut other = question.clone();
        change(&mut other);
        assert_eq!((question.looks_like(&other), other.looks_like(&question)), (expected, expected), "{what}");
    }
}

#[test]
fn no_two_questions_of_a_form_look_alike_and_no_stream_is_drawn_twice() {
    let bank = shipped();
    for entry in bank.schemes() {
        for byte in 0..20 {
            let form = form(&bank, &entry.scheme, [byte; 32]);
            for (place, question) in form.iter().enumerate() {
                let alike = form[..place].iter().find(|other| other.looks_like(question));
                assert!(alike.is_none(), "{} {}", entry.scheme.id, question.source.template);
                // The parts of a case come from one draw, and stand side by side.
                let before = question.part().0 - 1;
                let case = &form[place - before..place];
                assert!(case.iter().map(|part| part.part().0).eq(1..=before), "{}", question.source.template);
                assert!(case.iter().all(|part| part.source == question.source), "{}", question.source.template);
                let drawn = form[..place - before].iter().any(|other| other.source.stream == question.source.stream);
                assert!(!drawn, "{} draws stream {} twice", entry.scheme.id, question.source.stream);
            }
        }
    }
}

#[test]
fn the_machines_of_a_form_are_in_balance() {
    let bank = shipped();
    for entry in bank.schemes().filter(|entry| entry.scheme.machines.is_empty()) {
        let form = form(&bank, &entry.scheme, [7; 32]);
        let counts: Vec<usize> = bank
            .machines()
            .map(|machine| form.iter().filter(|question| question.source.machine == machine.profile.id).count())
            .collect();
        let (least, most) = (counts.iter().min().expect("machines"), counts.iter().max().expect("machines"));
        // A template that fits one machine only can tip the balance by one or two.
        assert!(most - least <= 2, "{}: {counts:?}", entry.scheme.id);
    }
}

#[test]
fn a_seed_gives_its_form_again_and_another_seed_another() {
    let (bank, again) = (shipped(), shipped());
    for entry in bank.schemes() {
        let first = bytes(&form(&bank, &entry.scheme, [1; 32]));
        assert_eq!(first, bytes(&form(&again, &entry.scheme, [1; 32])), "{}", entry.scheme.id);
        assert_ne!(first, bytes(&form(&bank, &entry.scheme, [2; 32])), "{}", entry.scheme.id);
    }
}

#[test]
fn a_bank_that_is_too_small_gives_no_form() {
    let bank = shipped();
    let mut scheme = bank.schemes().next().expect("a scheme").scheme.clone();
    scheme.parts = vec![Part { competence: "lamps".into(), questions: 1_000, cut_percent: 50.0 }];
    let of_lamps = bank.templates().filter(|entry| entry.template.competence == "lamps");
    let templates: usize = of_lamps.map(|entry| entry.template.part_count()).sum();
    let machines = bank.machines().count();
    let NoForm::TooFew { competence, wanted, found } = assemble(&bank, &scheme, [0; 32], CELSIUS).expect_err("too few");
    assert_eq!((competence.as_str(), wanted), ("lamps", 1_000));
    assert!(found <= templates * machines && found >= templates, "{found} of {templates} on each machine");
}

#[test]
fn practice_asks_every_scenario_once_before_any_twice() {
    let bank = shipped();
    for module in bank.modules() {
        let suits = |competence: &String| module.competences.contains(competence);
        let count = bank.templates().filter(|entry| suits(&entry.template.competence)).count();
        let at = |turn| questions_at(&bank, module, [6; 32], turn, CELSIUS);
        for round in 0..2 {
            let positions = (1..=count).map(|place| u32::try_from(round * count + place).expect("a position"));
            let of = |questions: Vec<Question>| questions[0].source.template.clone();
            let mut asked: Vec<String> = positions.map(|each| of(at(each).expect("a question"))).collect();
            asked.sort();
            asked.dedup();
            assert_eq!(asked.len(), count, "{} in round {round}", module.id);
        }
        assert!(at(0).is_none(), "turns count from 1");
        assert_eq!(at(3).map(|questions| bytes(&questions)), at(3).map(|questions| bytes(&questions)));
    }
}
