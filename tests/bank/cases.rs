//! Cases: several questions from one draw, the moments of which follow from one another, asked whole or not at all.

use super::{common_practice, lexicon, shipped};
use proptest::prelude::*;
use sootmark::bank_files::embedded;
use sootmark::domain::bank::{Bank, BankDocument, DocumentKind, TemplateEntry};
use sootmark::domain::examination::form::{NoForm, assemble};
use sootmark::domain::examination::practice::questions_at;
use sootmark::domain::scenario::Question;
use sootmark::domain::scenario::check::check;
use sootmark::domain::scenario::generate::{Seed, generate_all};
use sootmark::domain::scenario::template::Template;
use sootmark::domain::units::TemperatureUnit;
use std::sync::LazyLock;

static BANK: LazyLock<Bank> = LazyLock::new(shipped);
const CELSIUS: TemperatureUnit = TemperatureUnit::Celsius;

fn cases(bank: &Bank) -> Vec<&TemplateEntry> {
    bank.templates().filter(|entry| entry.template.part_count() > 1).collect()
}

/// That these are the parts of one case, all of them, in order.
fn is_whole(parts: &[Question]) -> bool {
    let numbered = parts.iter().enumerate().all(|(place, part)| part.part() == (place + 1, parts.len()));
    numbered && parts.iter().all(|part| part.source == parts[0].source)
}

/// Cuts a row of questions into what belongs together.
fn groups(questions: &[Question]) -> Vec<&[Question]> {
    questions.chunk_by(|_, next| next.part().0 > 1).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 120, ..ProptestConfig::default() })]

    #[test]
    fn all_parts_are_of_one_draw_and_tell_what_came_before(
        (secret, stream) in (any::<[u8; 32]>(), any::<u64>()),
        (which, on) in (any::<proptest::sample::Index>(), any::<proptest::sample::Index>()),
        fahrenheit in any::<bool>(),
    ) {
        let cases = cases(&BANK);
        let entry = which.get(&cases);
        let machines: Vec<_> = BANK.machines().filter(|machine| entry.template.fits(&machine.profile.id)).collect();
        let machine = on.get(&machines);
        let unit = if fahrenheit { TemperatureUnit::Fahrenheit } else { CELSIUS };
        let make = || generate_all(&entry.template, entry.version, machine, Seed { secret, stream }, unit);
        let parts = make().map_err(|no| TestCaseError::fail(format!("{}: {no}", entry.template.id)))?;
        prop_assert_eq!(parts.len(), entry.template.part_count());
        prop_assert!(is_whole(&parts));
        let mut told: Vec<String> = Vec::new();
        for part in &parts {
            prop_assert_eq!(&part.shown.machine_name, &machine.profile.name);
            prop_assert_eq!(&part.shown.case.as_ref().expect("its place").so_far, &told);
            told.extend(part.shown.story.iter().cloned());
            let read: Question = serde_json::from_slice(&part.bytes()).expect("what was frozen is read");
            prop_assert_eq!(&read, part);
        }
        prop_assert_eq!(make().expect("the same again"), parts);
    }
}

#[test]
fn a_question_that_stands_alone_says_nothing_of_cases() {
    for entry in BANK.templates().filter(|entry| entry.template.part_count() == 1) {
        let machine = BANK.machines().find(|machine| entry.template.fits(&machine.profile.id)).expect("a machine");
        let seed = Seed { secret: [2; 32], stream: 7 };
        let made = generate_all(&entry.template, entry.version, machine, seed, CELSIUS).expect("a question");
        assert_eq!(made.len(), 1);
        assert!(!String::from_utf8_lossy(&made[0].bytes()).contains("\"case\""), "{}", entry.template.id);
    }
}

/// A case whose parts only say what the gauges show.
fn gauges(parts: &str) -> Template {
    let text = format!(
        "title: Gauges\ncompetence: fire\nlevel: 1\nkind: case\nmachines: all\nedge: soot, outlet, speed, hours\n\n\
         [draw]\nload0 = from 10 % to 15 % step 1 %\nlong = from 20 min to 40 min step 10 min\n\n[story]\nIt works.\n{parts}"
    );
    Template::read("gauges", "gauges", &text, &lexicon()).unwrap_or_else(|problems| panic!("{problems:#?}"))
}

const ASKS: &str =
    "\n[question]\nWhat is it?\n\n[answer]\nask: number\nkey = soot_after(1 h)\nunit: %\ntolerance = 2 %\n";

fn made(template: &Template, stream: u64) -> Vec<Question> {
    let seed = Seed { secret: *b"how the parts of a case follow. ", stream };
    generate_all(template, 1, &common_practice(), seed, CELSIUS).unwrap_or_else(|no| panic!("{no}"))
}

#[test]
fn a_later_shift_runs_on_from_where_the_part_before_ended() {
    let situation = "\n[situation]\nsoot = load0\noutlet = 200 °C\n";
    let work = "\n[shift]\nwork: long at 30 % with 1500 rpm\n";
    let twice = "\n[shift]\nwork: long at 30 % with 1500 rpm\nwork: long at 30 % with 1500 rpm\n";
    let then = "\n[story]\nIt worked on.\n";
    let part = "\n[part]\nkind: number\n";
    let in_two = gauges(&format!("{situation}{work}{part}{ASKS}{part}{work}{then}{ASKS}"));
    let at_once = gauges(&format!("{situation}{twice}{part}{ASKS}{part}{then}{ASKS}"));
    for stream in 0..20 {
        let (in_two, at_once) = (made(&in_two, stream), made(&at_once, stream));
        let (end, whole) = (in_two[1].situation, at_once[0].situation);
        // The gauge is read in between, to a whole percent and a whole degree.
        assert!((end.soot_percent - whole.soot_percent).abs() <= 1.0, "{end:?} {whole:?}");
        assert!((end.outlet_c - whole.outlet_c).abs() <= 2.0, "{end:?} {whole:?}");
        assert_ne!(in_two[0].situation.outlet_c, end.outlet_c, "it went on");
        assert_eq!(at_once[0].situation, at_once[1].situation, "nothing happened in between");
    }
}

#[test]
fn what_a_part_settled_is_a_value_in_the_next_and_readings_are_set_after_its_shift() {
    let first =
        "\n[situation]\nsoot = load0\n\n[part]\nkind: number\n\n[let]\nlater = round_to(soot_after(2 h), 1 %)\n";
    let then = "\n[part]\nkind: number\nshow: soot, ground\n\n[shift]\nwork: 10 min at 90 % with 2200 rpm\n\n\
                [situation]\nsoot = later\nground = gravel\n\n[story]\nIt read {later}, and {shift.minutes} went by.\n";
    let template = gauges(&format!("{first}{ASKS}{then}{ASKS}"));
    for stream in 0..20 {
        let parts = made(&template, stream);
        let told = format!("It read {} %, and 10 min went by.", parts[1].situation.soot_percent);
        assert_eq!(parts[1].shown.story, [told]);
        assert!(parts[1].situation.soot_percent > parts[0].situation.soot_percent, "two hours of work leave soot");
        assert_eq!(parts[1].situation.load_percent, 90.0, "what is not set again is as the shift left it");
        assert_ne!(parts[0].key, parts[1].key, "each is asked at its own moment");
        assert_eq!(parts[0].shown.facts.len(), 1, "without `show:` what is set is shown");
    }
}

#[test]
fn a_form_takes_a_case_whole_or_not_at_all() {
    let scheme = |id: &str| BANK.scheme(id).expect("the scheme").scheme.clone();
    let mut taken = 0;
    for id in ["operator", "service-technician"] {
        for byte in 0..40 {
            let form = assemble(&BANK, &scheme(id), [byte; 32], CELSIUS).expect("a form");
            let groups = groups(&form);
            assert!(groups.iter().all(|group| is_whole(group)), "{id} {byte}");
            taken += groups.iter().filter(|group| group.len() > 1).count();
        }
    }
    assert!(taken > 0, "no form had a case");
    let mut short = scheme("operator");
    short.parts.iter_mut().for_each(|part| part.questions = 1);
    for byte in 0..20 {
        let form = assemble(&BANK, &short, [byte; 32], CELSIUS).expect("a form");
        assert!(form.iter().all(|question| question.shown.case.is_none()), "there is no room for a case");
    }
}

#[test]
fn where_only_cases_are_left_a_form_says_what_is_missing_instead_of_cutting_one() {
    let mut documents = embedded();
    let case = cases(&BANK)[0];
    let competence = case.template.competence.clone();
    documents.retain(|document: &BankDocument| {
        document.kind != DocumentKind::Template
            || document.key == case.template.id
            || !document.text.contains(&format!("\ncompetence: {competence}\n"))
    });
    let (bank, problems) = Bank::read(&documents);
    assert_eq!(problems, []);
    let mut scheme = BANK.scheme("operator").expect("the scheme").scheme.clone();
    scheme.parts.retain(|part| part.competence == competence);
    let parts = case.template.part_count();
    for wanted in [parts, 2 * parts] {
        scheme.parts[0].questions = wanted;
        let form = assemble(&bank, &scheme, [1; 32], CELSIUS).expect("a form");
        assert!(form.len() == wanted && groups(&form).iter().all(|group| is_whole(group)));
    }
    scheme.parts[0].questions = parts + 1;
    let missing = NoForm::TooFew { competence, wanted: parts + 1, found: parts };
    assert_eq!(assemble(&bank, &scheme, [1; 32], CELSIUS), Err(missing));
}

#[test]
fn practice_gives_a_case_whole_in_one_turn() {
    for module in BANK.modules() {
        let suits = |entry: &&TemplateEntry| module.competences.contains(&entry.template.competence);
        let turns: Vec<Vec<Question>> = (1..=BANK.templates().filter(suits).count())
            .map(|turn| u32::try_from(turn).expect("a turn"))
            .map(|turn| questions_at(&BANK, module, [3; 32], turn, CELSIUS).expect("a question"))
            .collect();
        assert!(turns.iter().all(|turn| is_whole(turn)), "{}", module.id);
        let of_module = cases(&BANK).into_iter().filter(|entry| suits(entry)).count();
        assert_eq!(turns.iter().filter(|turn| turn.len() > 1).count(), of_module, "{}", module.id);
    }
}

#[test]
fn the_case_in_the_grammar_is_in_order() {
    let grammar = include_str!("../../question-bank/GRAMMAR.md");
    let (_, section) = grammar.split_once("\n## Cases: ").expect("a section about cases");
    let (_, rest) = section.split_once("```\ntitle: ").expect("a whole one");
    let (case, _) = rest.split_once("\n```").expect("its end");
    let template = Template::read("grammar", "grammar", &format!("title: {case}\n"), &BANK.lexicon());
    let template = template.unwrap_or_else(|problems| panic!("{problems:#?}"));
    let machines: Vec<_> = BANK.machines().cloned().collect();
    assert_eq!(check("grammar", &template, &machines, 100), []);
    assert_eq!(template.part_count(), 3);
}
