//! Grading one answer: the key is right and nothing else is; what is no answer at all is said to be none.

use super::{common_practice, golden};
use sootmark::domain::scenario::Question;
use sootmark::domain::scenario::generate::{Seed, generate};
use sootmark::domain::scenario::grade::{Answer, Grade, NotAnAnswer, grade};
use sootmark::domain::scenario::question::{Key, Kind};
use sootmark::domain::scenario::share::Share;
use sootmark::domain::units::{Quantity, TemperatureUnit, Unit};

/// Some questions of each template, or of the one that is named.
fn questions(name: &str) -> Vec<Question> {
    let machine = common_practice();
    let templates: Vec<_> = golden().into_iter().filter(|template| name.is_empty() || template.id == name).collect();
    assert!(!templates.is_empty(), "there is no template {name}");
    let seeds = |stream| Seed { secret: [3; 32], stream };
    let make = |template, stream| generate(template, 1, &machine, seeds(stream), TemperatureUnit::Celsius);
    templates.iter().flat_map(|template| (0..20).map(|stream| make(template, stream).expect("a question"))).collect()
}

fn key(question: &Question) -> Answer {
    match &question.key {
        Key::Options(right) => Answer::Options(right.clone()),
        Key::Order(order) => Answer::Order(order.clone()),
        Key::Number { value, .. } => Answer::Number(value.value.to_string()),
    }
}

fn correct(question: &Question, answer: &Answer) -> bool {
    grade(question, answer).unwrap_or_else(|no| panic!("{answer:?}: {no}")).correct
}

#[test]
fn the_key_is_right_and_shows_no_misconception() {
    for question in questions("") {
        let right = Grade::of(Share::WHOLE, Vec::new());
        assert_eq!(grade(&question, &key(&question)), Ok(right), "{}", question.source.template);
    }
}

#[test]
fn every_other_choice_is_wrong() {
    for question in questions("") {
        let Key::Options(right) = &question.key else { continue };
        for place in 0..question.choices.len() {
            // One option more, one fewer, another one.
            let mut other = right.clone();
            match right.contains(&place) {
                true => other.retain(|each| *each != place),
                false if question.shown.kind == Kind::ChooseOne => other = vec![place],
                false => other.push(place),
            }
            if other.is_empty() {
                assert_eq!(grade(&question, &Answer::Options(other)), Err(NotAnAnswer::Nothing));
                continue;
            }
            let graded = grade(&question, &Answer::Options(other)).expect("an answer");
            assert!(!graded.correct, "{}", question.source.template);
            let believed: Vec<String> = match (question.shown.kind, &question.choices[place].believes) {
                (Kind::ChooseSeveral, Some(believes)) => vec![believes.clone()],
                (Kind::ChooseOne, _) => graded.misconceptions.clone(),
                _ => Vec::new(),
            };
            assert_eq!(graded.misconceptions, believed, "{}", question.source.template);
        }
    }
}

#[test]
fn an_option_that_a_misconception_picks_shows_it() {
    let mut shown = 0;
    for question in questions("first-thing") {
        for (place, choice) in question.choices.iter().enumerate() {
            let graded = grade(&question, &Answer::Options(vec![place])).expect("an answer");
            if let (false, Some(believes)) = (graded.correct, &choice.believes) {
                assert!(graded.misconceptions.contains(believes), "{believes} {graded:?}");
                shown += 1;
            }
        }
    }
    assert!(shown > 20, "{shown}");
}

#[test]
fn the_order_in_which_options_were_ticked_does_not_matter() {
    for question in questions("hazards") {
        let Answer::Options(mut right) = key(&question) else { panic!("a list") };
        right.reverse();
        right.push(right[0]);
        assert!(correct(&question, &Answer::Options(right)));
    }
}

#[test]
fn only_the_right_order_is_right() {
    for question in questions("rank").into_iter().chain(questions("procedure")) {
        let Answer::Order(right) = key(&question) else { panic!("an order") };
        for at in 1..right.len() {
            let mut other = right.clone();
            other.swap(at - 1, at);
            assert!(!correct(&question, &Answer::Order(other)));
        }
        let mut twice = right.clone();
        twice[0] = twice[1];
        for none in [twice, right[1..].to_vec(), Vec::new()] {
            assert_eq!(grade(&question, &Answer::Order(none)), Err(NotAnAnswer::NotAnOrder));
        }
    }
}

#[test]
fn a_number_is_right_within_its_tolerance_and_wrong_beyond() {
    let mut believed = 0;
    for question in ["a-number", "a-temperature", "what-is-left"].into_iter().flat_map(questions) {
        let Key::Number { value, tolerance } = &question.key else { panic!("a number") };
        for (off, right) in [(0.99, true), (-0.99, true), (1.01, false), (-1.01, false)] {
            let typed = (value.value + off * tolerance.value).to_string();
            assert_eq!(correct(&question, &Answer::Number(typed.clone())), right, "{typed} for {value}");
        }
        for wrong in &question.wrong_numbers {
            let graded = grade(&question, &Answer::Number(wrong.value.to_string())).expect("a number");
            assert_eq!(graded, Grade::of(Share::NOTHING, vec![wrong.believes.clone()]));
            believed += 1;
        }
    }
    assert!(believed > 20, "{believed} numbers of misconceptions");
}

#[test]
fn a_number_may_be_typed_as_people_write_it() {
    for question in questions("a-number") {
        let Key::Number { value, .. } = &question.key else { panic!("a number") };
        let hours = (value.value * 10.0).round() / 10.0;
        let minutes = (hours * 60.0).round();
        let comma = hours.to_string().replace('.', ",");
        for typed in [format!(" {hours} "), comma, format!("{hours} h"), format!("{hours}h"), format!("{minutes} min")]
        {
            assert!(correct(&question, &Answer::Number(typed.clone())), "{typed} for {value}");
        }
    }
}

/// A question of the tests' own that asks for a number.
fn asking(value: f64, tolerance: f64, unit: Unit) -> Question {
    let mut question = questions("a-number").remove(0);
    question.wrong_numbers.clear();
    question.key = Key::Number { value: Quantity::new(value, unit), tolerance: Quantity::new(tolerance, unit) };
    question
}

#[test]
fn a_number_may_be_written_in_another_unit_of_its_kind() {
    // Source: NIST SP 811 (from memory, not confirmed): 70 °C = 158 °F = 343.15 K, 600 °C = 1112 °F, 1 h = 60 min = 3600 s,
    // 1 kg = 1000 g; a step of 10 K is one of 10 °C or 18 °F.
    let cases: [(f64, Unit, &[&str], &[&str]); 7] = [
        (
            70.0,
            Unit::Celsius,
            &["70", "70 °C", "158 °F", "343.15 K", "158F", "343,15 k"],
            &["158", "343", "71 °C", "70 °F"],
        ),
        (158.0, Unit::Fahrenheit, &["158", "70 °C", "343.15 K"], &["70", "158 °C"]),
        (1112.0, Unit::Fahrenheit, &["600 °C", "1112"], &["600"]),
        (0.5, Unit::Hour, &["0.5", "0,5", "30 min", "30 minutes", "1800 s", "0.5 h"], &["30", "31 min"]),
        (1.25, Unit::Kilogram, &["1250 g", "1.25 kg", "1,25"], &["1250", "1251 g"]),
        (10.0, Unit::Kelvin, &["10 K", "10 °C", "18 °F"], &["10 °F", "283.15 K"]),
        (40.0, Unit::Percent, &["40", "40 %", "40 percent"], &["0.4", "0.4 %"]),
    ];
    for (value, unit, right, wrong) in cases {
        let question = asking(value, 1e-6, unit);
        for (typed, is) in right.iter().map(|typed| (typed, true)).chain(wrong.iter().map(|typed| (typed, false))) {
            assert_eq!(correct(&question, &Answer::Number((*typed).to_owned())), is, "{typed} for {value} {unit}");
        }
    }
    let refused = |unit, typed: &str| grade(&asking(1.0, 0.1, unit), &Answer::Number(typed.to_owned()));
    let other = |units: &str| Err(NotAnAnswer::WrongUnit(units.to_owned()));
    assert_eq!(refused(Unit::Celsius, "3 h"), other("°C, °F or K"));
    assert_eq!(refused(Unit::Gram, "3 %"), other("g or kg"));
    assert_eq!(refused(Unit::Percent, "3 g"), other("%"));
    assert_eq!(refused(Unit::One, "3 %"), other("digits alone"));
}

#[test]
fn a_comma_that_can_be_read_in_two_ways_is_asked_back_about() {
    let question = asking(1500.0, 1.0, Unit::Rpm);
    let typed = |text: &str| grade(&question, &Answer::Number(text.to_owned()));
    for (text, thousands, decimal) in
        [("1,500", "1500", "1.5"), ("12,345 rpm", "12345", "12.345"), ("-2,000", "-2000", "-2")]
    {
        let two = NotAnAnswer::TwoReadings {
            typed: text.to_owned(),
            thousands: thousands.to_owned(),
            decimal: decimal.to_owned(),
        };
        assert_eq!(typed(text), Err(two));
    }
    // These have one reading: too many digits before it, or not three after it, or nothing before it but a nought.
    for text in ["1500,000", "1,5", "1,50", "1,5000", "0,500", "1500"] {
        assert!(typed(text).is_ok(), "{text}: {:?}", typed(text));
    }
    assert!(matches!(typed("1,500,000"), Err(NotAnAnswer::NotANumber(_))));
    // What was answered before anybody was asked back keeps the grade that it had.
    let mut older = asking(1.5, 0.01, Unit::Hour);
    older.source.model_version = 2;
    assert!(correct(&older, &Answer::Number("1,500".to_owned())));
}

#[test]
fn what_is_no_answer_is_not_graded_as_wrong() {
    let [number, one, several] = ["a-number", "first-thing", "hazards"].map(|name| questions(name).remove(0));
    let typed = |text: &str| grade(&number, &Answer::Number(text.to_owned()));
    assert_eq!(typed("  "), Err(NotAnAnswer::Nothing));
    assert_eq!(typed("10 rpm"), Err(NotAnAnswer::WrongUnit("h, s or min".to_owned())));
    for text in ["soon", "ten", "NaN", "inf", "1 2", "3 fortnights"] {
        assert!(matches!(typed(text), Err(NotAnAnswer::NotANumber(_))), "{text}: {:?}", typed(text));
    }
    let count = one.choices.len();
    assert_eq!(grade(&one, &Answer::Options(Vec::new())), Err(NotAnAnswer::Nothing));
    assert_eq!(grade(&one, &Answer::Options(vec![0, 1])), Err(NotAnAnswer::NotAnOption));
    assert_eq!(grade(&one, &Answer::Options(vec![count])), Err(NotAnAnswer::NotAnOption));
    assert_eq!(grade(&several, &Answer::Options(vec![0, 99])), Err(NotAnAnswer::NotAnOption));
    assert_eq!(grade(&several, &Answer::Number("3".into())), Err(NotAnAnswer::NotAnOption));
    assert_eq!(grade(&number, &Answer::Options(vec![0])), Err(NotAnAnswer::NotAnOption));
}

#[test]
fn by_part_each_right_option_counts_and_each_wrong_one_takes_away() {
    for question in questions("hazards").into_iter().chain(questions("permitted")) {
        let Key::Options(right) = question.key.clone() else { panic!("a list") };
        let mut by_part = question.clone();
        by_part.shown.by_part = true;
        for bits in 1..1_usize << question.choices.len() {
            let chosen: Vec<usize> = (0..question.choices.len()).filter(|place| bits >> place & 1 == 1).collect();
            let [whole, parts] =
                [&question, &by_part].map(|each| grade(each, &Answer::Options(chosen.clone())).expect("an answer"));
            // Worked out once more in thirds, quarters and so on, without sixtieths.
            let hits = chosen.iter().filter(|place| right.contains(place)).count() as f64;
            let wanted = ((hits - (chosen.len() as f64 - hits)) / right.len() as f64).max(0.0);
            assert!((parts.share.points() - wanted).abs() < 1e-12, "{chosen:?} of {right:?}: {parts:?}");
            assert_eq!((parts.correct, &parts.misconceptions), (whole.correct, &whole.misconceptions));
            assert_eq!(whole.share, Share::whole_if(whole.correct));
        }
    }
}
