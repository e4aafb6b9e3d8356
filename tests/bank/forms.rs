//! Forms and practice over the shipped bank: what the scheme asks for, balanced, and the same again from the same seed.

use super::shipped;
use sootmark::domain::bank::Bank;
use sootmark::domain::examination::difficulty::{Answers, of_form};
use sootmark::domain::examination::form::{
    ENOUGH_FOR_BANDS, MOST_OF_ONE_BAND, NoForm, PARALLEL_WITHIN, Wanted, assemble, assemble_for,
};
use sootmark::domain::examination::practice::{questions_at, questions_unlike};
use sootmark::domain::examination::scheme::{Part, Scheme};
use sootmark::domain::scenario::Question;
use sootmark::domain::scenario::generate::{Seed, generate};
use sootmark::domain::scenario::question::Key;
use sootmark::domain::statistics::Answered;
use sootmark::domain::units::TemperatureUnit;
use std::collections::{BTreeMap, BTreeSet};

const CELSIUS: TemperatureUnit = TemperatureUnit::Celsius;

/// A secret that comes again for a number.
fn secret(number: u32) -> [u8; 32] {
    let mut secret = [0x5a; 32];
    secret[..4].copy_from_slice(&number.to_be_bytes());
    secret
}

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
    let missing = assemble(&bank, &scheme, [0; 32], CELSIUS).expect_err("too few");
    let NoForm::TooFew { competence, wanted, found } = missing else { panic!("{missing}") };
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

/// Forms of each scheme that are compared.
const PARALLEL: u32 = 1_500;

/// Over so many seeds: how far the difficulty of two forms is apart at most, and the largest share of one band.
fn furthest(bank: &Bank, scheme: &Scheme, answers: &Answers) -> (f64, f64) {
    let (mut least, mut most, mut of_band) = (f64::INFINITY, f64::NEG_INFINITY, 0.0_f64);
    for number in 0..PARALLEL {
        let wanted = Wanted { scheme, secret: secret(number), unit: CELSIUS, seen: &[], answers };
        let form = assemble_for(bank, &wanted).unwrap_or_else(|no| panic!("{} {number}: {no}", scheme.id));
        let difficulty = of_form(&form, answers);
        (least, most) = (least.min(difficulty), most.max(difficulty));
        let mut bands: BTreeMap<&str, f64> = BTreeMap::new();
        form.iter().for_each(|question| *bands.entry(&question.verdict.band).or_default() += 1.0);
        let form_len = f64::from(u32::try_from(form.len()).expect("small"));
        of_band = bands.values().map(|count| count / form_len).fold(of_band, f64::max);
    }
    (most - least, of_band)
}

#[test]
fn parallel_forms_are_as_difficult_as_each_other_and_no_band_fills_one() {
    let bank = shipped();
    for entry in bank.schemes() {
        let (apart, of_band) = furthest(&bank, &entry.scheme, &Answers::default());
        assert!(apart < PARALLEL_WITHIN, "{}: {apart}", entry.scheme.id);
        assert!(entry.scheme.questions() < ENOUGH_FOR_BANDS || of_band <= MOST_OF_ONE_BAND, "{of_band}");
    }
}

#[test]
fn parallel_forms_stay_so_once_answers_tell_how_difficult_a_scenario_is() {
    let bank = shipped();
    let mut answers = Answers::default();
    // Every third scenario is nearly always answered rightly, every third nearly never.
    for (place, entry) in bank.templates().enumerate() {
        let right = [95, 60, 20][place % 3];
        answers.add(entry.template.id.clone(), entry.version, Answered { right, asked: 100 });
    }
    for entry in bank.schemes().filter(|entry| ["first-day", "operator"].contains(&entry.scheme.id.as_str())) {
        let (apart, _) = furthest(&bank, &entry.scheme, &answers);
        assert!(apart < PARALLEL_WITHIN, "{}: {apart}", entry.scheme.id);
    }
}

#[test]
fn a_form_without_the_bound_would_not_be_parallel() {
    // What the drafts of one seed are like before one is chosen: the bound is no empty promise.
    let bank = shipped();
    let scheme = &bank.scheme("first-day").expect("a scheme").scheme;
    let later = |form: &[Question]| form.iter().any(|question| question.source.stream >= 1 << 32);
    let redrawn = (0..200).filter(|number| later(&form(&bank, scheme, secret(*number)))).count();
    assert!(redrawn > 5, "only {redrawn} of 200 forms were drawn again");
}

#[test]
fn an_examination_never_asks_what_was_practised_nor_practice_what_was_examined() {
    let bank = shipped();
    let answers = Answers::default();
    for (nth, entry) in (0_u32..).zip(bank.schemes()) {
        let scheme = &entry.scheme;
        let mut practised = Vec::new();
        for (place, id) in (0_u32..).zip(&scheme.modules) {
            let module = bank.module(id).expect("the module");
            let turns =
                (1..=40).filter_map(|turn| questions_at(&bank, module, secret(100 * nth + place), turn, CELSIUS));
            practised.extend(turns.flatten());
        }
        let mut asked_again_unless_avoided = 0;
        for number in 0..8 {
            let secret = secret(9_000 + number);
            let blind = form(&bank, scheme, secret);
            let known = |question: &&Question| practised.iter().any(|other| question.asks_again(other));
            asked_again_unless_avoided += blind.iter().filter(known).count();
            let wanted = Wanted { scheme, secret, unit: CELSIUS, seen: &practised, answers: &answers };
            let form = assemble_for(&bank, &wanted).unwrap_or_else(|no| panic!("{}: {no}", scheme.id));
            assert_eq!(form.iter().filter(known).count(), 0, "{}", scheme.id);
            // And the other way round, for what is practised after the examination.
            let module = bank.module(&scheme.modules[0]).expect("the module");
            for turn in 1..=30 {
                let next = questions_unlike(&form, &bank, module, secret, turn, CELSIUS).expect("a question");
                assert!(!next.iter().any(|question| form.iter().any(|asked| asked.asks_again(question))));
                // Even of one secret the streams are others.
                let streams: BTreeSet<u64> = form.iter().map(|question| question.source.stream).collect();
                assert!(next.iter().all(|question| !streams.contains(&question.source.stream)));
            }
        }
        assert!(asked_again_unless_avoided > 0, "{}: nothing would have come twice, so nothing is proved", scheme.id);
    }
}
