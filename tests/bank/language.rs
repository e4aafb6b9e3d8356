//! What the language of scenarios says: draws that follow weights and other draws, words that follow their numbers.
//!
//! Its findings are held by `broken`; what the model makes of a moment is asked elsewhere.

use super::{common_practice, lexicon};
use sootmark::domain::aftertreatment::lamp::Lamp;
use sootmark::domain::scenario::generate::{NoQuestion, Seed, generate};
use sootmark::domain::scenario::grade::{Answer, NotAnAnswer, grade};
use sootmark::domain::scenario::question::Key;
use sootmark::domain::scenario::template::Template;
use sootmark::domain::scenario::{Machine, Question};
use sootmark::domain::units::TemperatureUnit;
use std::sync::LazyLock;

static MACHINE: LazyLock<Machine> = LazyLock::new(common_practice);

/// A scenario that asks what to do first, with these draws and this story.
fn scenario(draws: &str, story: &str) -> String {
    format!(
        "title: What comes first\ncompetence: fire\nlevel: 2\nkind: choose one\nmachines: all\nshow: soot\n\n\
         [draw]\nload = inside parked keep 3 %\n{draws}\n\n[situation]\nsoot = load\nground = place\noutlet = 160 °C\n\
         standing = yes\npark_brake = yes\nneutral = yes\nattachment_down = yes\n\n[story]\n{story}\n\n\
         [question]\nWhat comes first?\n\n[answer]\nask: route\n"
    )
}

fn read(text: &str) -> Template {
    Template::read("own", "own", text, &lexicon()).unwrap_or_else(|problems| panic!("{problems:#?}"))
}

fn made(template: &Template, stream: u64, unit: TemperatureUnit) -> Result<Question, NoQuestion> {
    generate(template, 1, &MACHINE, Seed { secret: *b"what the language of texts says.", stream }, unit)
}

fn questions(text: &str, count: u64) -> Vec<Question> {
    let template = read(text);
    (0..count).map(|stream| made(&template, stream, TemperatureUnit::Celsius).expect("a question")).collect()
}

/// The story that comes of a scenario.
fn told(draws: &str, story: &str) -> String {
    questions(&scenario(draws, story), 1).remove(0).shown.story.join("\n")
}

#[test]
fn weights_are_how_often_each_comes_up() {
    let text = scenario("place = one of straw weight 3, gravel, concrete weight 4", "It stands on {place}.");
    let mut counts = [0.0; 3];
    for question in questions(&text, 4_000) {
        let story = &question.shown.story[0];
        let which = ["straw", "gravel", "concrete"].iter().position(|place| story.contains(place));
        counts[which.expect("one of the three")] += 1.0;
    }
    // Chi-squared with 2 degrees of freedom: 13.816 is passed once in a thousand.
    // Source: NIST/SEMATECH e-Handbook 1.3.6.7.4 (from memory, not confirmed).
    let wanted = [1_500.0, 500.0, 2_000.0];
    let chi_squared: f64 =
        counts.iter().zip(wanted).map(|(count, wanted): (&f64, f64)| (count - wanted).powi(2) / wanted).sum();
    assert!(chi_squared < 13.816, "{counts:?}");
}

#[test]
fn without_weights_the_draw_is_what_it_was() {
    let plain = questions(&scenario("place = one of straw, gravel, concrete", "It stands on {place}."), 60);
    let even = "place = one of straw weight 1, gravel weight 1, concrete weight 1";
    let weighted = questions(&scenario(even, "It stands on {place}."), 60);
    assert!(plain.iter().map(Question::bytes).eq(weighted.iter().map(Question::bytes)));
}

#[test]
fn a_draw_can_hang_on_another() {
    let draws = "place = one of straw, gravel, concrete\n\
                 crop = if place = straw then \"wheat\" else if place = gravel then one of \"oats\", \"rye\" else \"none\"\n\
                 rest = if load > 90 % then from 1 min to 5 min step 1 min else from load / 1 % * 1 h to load / 1 % * 2 h step 1 h";
    let mut seen = std::collections::BTreeSet::new();
    for question in questions(&scenario(draws, "{place} and {crop}, {rest}, {load}."), 300) {
        let story = question.shown.story[0].clone();
        let crop = story.split([' ', ',']).nth(2).expect("a crop");
        let fits = match story.split(' ').next() {
            Some("straw") => crop == "wheat",
            Some("gravel") => crop == "oats" || crop == "rye",
            _ => crop == "none",
        };
        assert!(fits, "{story}");
        assert_eq!(story.contains(" min,"), question.situation.soot_percent > 90.0, "{story}");
        seen.insert(crop.to_owned());
    }
    assert_eq!(seen.len(), 4, "{seen:?}");
}

#[test]
fn words_follow_the_number_as_it_is_read() {
    let draws = "place = one of straw, straw\nfew = one of 1, 1";
    assert_eq!(told(draws, "{few|# hour is|# hours are} left."), "1 hour is left.");
    assert_eq!(told(draws, "{few * 1.04|# hour is|# hours are} left."), "1 hour is left.");
    assert_eq!(told(draws, "{few * 1.06|# hour is|# hours are} left."), "1.1 hours are left.");
    assert_eq!(told(draws, "{90 min|# minute|# minutes} and {1 h|an hour|# hours}."), "90 minutes and an hour.");
    assert_eq!(told(draws, "{few - 1|no try|one try|# tries}."), "no try.");
    assert_eq!(told(draws, "{place = straw|Dry|Bare} ground."), "Dry ground.");
}

#[test]
fn numbers_in_words_are_in_the_readers_scale() {
    let template = read(&scenario("place = one of straw, straw", "It is at {20 °C|# degree|# degrees}."));
    for (unit, story) in
        [(TemperatureUnit::Celsius, "It is at 20 degrees."), (TemperatureUnit::Fahrenheit, "It is at 68 degrees.")]
    {
        assert_eq!(made(&template, 1, unit).expect("a question").shown.story, [story]);
    }
}

/// Asks for the lit lamps of a machine at work.
const PANEL: &str = "title: The panel\ncompetence: fire\nlevel: 1\nkind: lamp panel\nmachines: all\nshow: soot, outlet\n\n\
    [draw]\nload = one of 20 %, 95 %, 130 %\ngas = one of 250 °C, 480 °C\n\n[situation]\nsoot = load\noutlet = gas\n\n\
    [story]\nSoot {load}, outlet {gas}.\n\n[question]\nWhich lamps are lit?\n\n[answer]\nask: lamps\n";

#[test]
fn a_lamp_panel_is_lit_as_the_machine_lights_it() {
    let mut lit = std::collections::BTreeSet::new();
    for question in questions(PANEL, 60) {
        let Key::Options(right) = &question.key else { panic!("lamps are options") };
        assert_eq!(question.shown.options.len(), Lamp::ALL.len() + 1);
        let of = |lamp: Lamp| right.contains(&Lamp::ALL.iter().position(|known| *known == lamp).expect("a lamp"));
        let none = right.contains(&Lamp::ALL.len());
        let soot = question.situation.soot_percent;
        // Common practice, no published source: no lamp in normal work; the filter lamp with the amber one where a parked
        // regeneration is called for, with the red one from the stop level on; the exhaust-hot lamp by the outlet alone.
        assert_eq!(of(Lamp::Filter), soot > 90.0, "{soot} {right:?}");
        assert_eq!(of(Lamp::Warning), (90.0..125.0).contains(&soot), "{soot} {right:?}");
        assert_eq!(of(Lamp::Stop), soot > 125.0, "{soot} {right:?}");
        assert_eq!(of(Lamp::ExhaustHot), question.situation.outlet_c > 450.0, "{right:?}");
        assert_eq!(none, right.len() == 1 && soot < 50.0 && question.situation.outlet_c < 450.0, "{soot} {right:?}");
        lit.insert(right.clone());
    }
    assert_eq!(lit.len(), 6, "{lit:?}");
}

#[test]
fn a_panel_wants_lamps_or_that_none_is_lit() {
    let question = questions(PANEL, 1).remove(0);
    let of = |chosen: &[usize]| grade(&question, &Answer::Options(chosen.to_vec()));
    assert_eq!(of(&[]), Err(NotAnAnswer::Nothing));
    assert_eq!(of(&[1, 5]), Err(NotAnAnswer::LitAndNone));
    assert_eq!(of(&[6]), Err(NotAnAnswer::NotAnOption));
    assert!(of(&[5]).is_ok() && of(&[0, 1, 2, 3, 4]).is_ok());
}

/// A scenario that begins at a soot load, with this before the moment, and asks what to do first.
fn with_shift(soot: &str, shift: &str, story: &str) -> String {
    scenario("place = one of gravel, gravel", story)
        .replace("soot = load\n", &format!("soot = {soot}\nspeed = 1600 rpm\n"))
        .replace(
            "outlet = 160 °C\nstanding = yes\npark_brake = yes\nneutral = yes\nattachment_down = yes\n",
            "outlet = 235 °C\n",
        )
        .replace("\n[story]", &format!("\n[shift]\n{shift}\n\n[story]"))
}

// Common practice, no published source: active cleaning begins by itself at about 77 %, takes about half an hour, and leaves
// virtually nothing.
#[test]
fn a_shift_ends_where_the_machine_brings_it() {
    let story =
        "You did {shift.done}. Then {shift.events}. {shift.completed|# regeneration|# regenerations} in {shift.hours}.";
    let question = questions(&with_shift("76.5 %", "work: 3 h at 40 % with 1600 rpm", story), 1).remove(0);
    assert!(question.situation.soot_percent <= 8.0, "{:?}", question.situation);
    let told = &question.shown.story[0];
    for part in [
        "You did 3 h at 40 % engine load and 1600 rpm.",
        "an active regeneration began, ",
        "an active regeneration ended",
        "1 regeneration in 3 h.",
    ] {
        assert!(told.contains(part), "{part} in {told}");
    }
    assert!(question.shown.facts.iter().any(|(_, value)| *value == format!("{} %", question.situation.soot_percent)));
}

// Common practice, no published source: without the engine no soot comes and none burns; inhibit on holds a regeneration back.
#[test]
fn what_is_done_in_a_shift_counts() {
    let off = "do: key_off\nwork: 5 h at 0 % with 0 rpm\ndo: key_on";
    let question =
        questions(&with_shift("50 %", off, "{shift.done}. {shift.fuel|#|#} {shift.soot_before}"), 1).remove(0);
    assert!((question.situation.soot_percent - 50.0).abs() < 1e-9, "{:?}", question.situation);
    assert!(question.situation.outlet_c < 60.0, "{:?}", question.situation);
    assert_eq!(
        question.shown.story[0],
        "you switch the engine off; then 5 h standing switched off; then you switch the engine on. 0 50 %"
    );
    let held = "do: inhibit_on\nwork: 2 h at 40 % with 1600 rpm";
    let question =
        questions(&with_shift("76.5 %", held, "{shift.held_back|once|# times}: {shift.events}"), 1).remove(0);
    assert!(question.situation.inhibit_on && question.situation.inhibits >= 1, "{:?}", question.situation);
    assert!(question.shown.story[0].contains("a regeneration was held back"), "{:?}", question.shown.story);
}

#[test]
fn a_shift_can_be_asked_about_at_any_time_of_it() {
    let text = with_shift("60 %", "work: 4 h at 15 % with 1200 rpm", "{soot_at(0 h)} {soot_at(4 h)}")
        .replace("\n[story]", "\n[only if]\nsoot_at(0 h) < soot_at(2 h)\nsoot_at(2 h) < soot_at(4 h)\noutlet_at(1 h) <= shift.hottest\n\n[story]");
    let question = questions(&text, 1).remove(0);
    assert!(question.shown.story[0].starts_with("60 % "), "{:?}", question.shown.story);
    let beyond = text.replace("{soot_at(4 h)}", "{soot_at(5 h)}");
    let no = made(&read(&beyond), 0, TemperatureUnit::Celsius).expect_err("the shift is over by then");
    assert!(no.to_string().contains("a time within the shift"), "{no}");
}

#[test]
fn a_hint_is_kept_apart_from_what_is_shown() {
    let plain = scenario("place = one of straw, gravel", "It stands on {place}.");
    let hinted = plain.replace("\n[answer]", "\n[hint]\nLook at the {place}.\n\nIt is at {load}.\n\n[answer]");
    let (without, with) = (questions(&plain, 1).remove(0), questions(&hinted, 1).remove(0));
    assert_eq!(with.hints.len(), 2);
    assert_eq!(with.hints[1], format!("It is at {} %.", with.situation.soot_percent));
    // An examination page is made of what is shown alone; and a question without hints keeps its bytes.
    assert_eq!(with.shown, without.shown);
    assert_eq!(Question { hints: Vec::new(), ..with }.bytes(), without.bytes());
}
