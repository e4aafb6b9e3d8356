//! What is drawn beside a story: the gauge, the lamps and the course of a shift, as questions hold them.
//!
//! How they are drawn is for `pages`; what the course shows is compared with the story and with lines drawn by hand.

use super::{common_practice, lexicon, shipped};
use sootmark::domain::scenario::generate::{Seed, generate, generate_all};
use sootmark::domain::scenario::question::Key;
use sootmark::domain::scenario::template::Template;
use sootmark::domain::scenario::{Kind, Question};
use sootmark::domain::units::TemperatureUnit;

/// A scenario with these lines in its head and this shift.
fn scenario(head: &str, shift: &str) -> String {
    format!(
        "title: A shift\ncompetence: fire\nlevel: 2\nkind: choose one\nmachines: all\n{head}\n\n[draw]\n\
         more = one of 0 %, 0.2 %\n\n[situation]\nsoot = 76.5 % + more\noutlet = 235 °C\nspeed = 1600 rpm\n{shift}\n[story]\n\
         It is at work.\n\n[question]\nWhat comes first?\n\n[answer]\nask: route\n"
    )
}

fn made(text: &str, unit: TemperatureUnit) -> Question {
    let template = Template::read("own", "own", text, &lexicon()).unwrap_or_else(|problems| panic!("{problems:#?}"));
    let seed = Seed { secret: *b"what stands beside the questions", stream: 1 };
    generate(&template, 1, &common_practice(), seed, unit).expect("a question")
}

const WORK: &str = "\n[shift]\nwork: 3 h at 40 % with 1600 rpm\n";

// Common practice, no published source: active cleaning begins by itself at about 77 %, takes about half an hour, and leaves
// virtually nothing; the outlet is then far hotter than work makes it.
#[test]
fn the_plot_shows_a_regeneration_and_ends_at_the_moment_asked_about() {
    let question = made(&scenario("show: soot, outlet\nfigure: plot", WORK), TemperatureUnit::Celsius);
    let points = question.shown.course.as_ref().expect("a course").points.clone();
    assert!(points.len() <= 50, "{} points", points.len());
    assert!(points.is_sorted_by(|a, b| a.seconds < b.seconds), "{points:?}");
    assert!(points.iter().all(|point| point.soot_percent.fract() == 0.0 && point.outlet.fract() == 0.0), "{points:?}");
    let (first, last) = (points[0], points[points.len() - 1]);
    assert_eq!((first.seconds, last.seconds), (0, 3 * 3600));
    assert!((first.soot_percent - 77.0).abs() <= 1.0 && first.outlet == 235.0, "{first:?}");
    // What is read at its end is what is judged.
    assert_eq!((last.soot_percent, last.outlet), (question.situation.soot_percent, question.situation.outlet_c));
    assert!(last.soot_percent <= 8.0, "{last:?}");
    let hottest = points.iter().map(|point| point.outlet).fold(0.0, f64::max);
    assert!(hottest > last.outlet + 200.0, "{hottest} against {last:?}");
    let falling = points.windows(2).filter(|pair| pair[1].soot_percent < pair[0].soot_percent);
    let minutes: u32 = falling.map(|pair| (pair[1].seconds - pair[0].seconds) / 60).sum();
    assert!((15..=60).contains(&minutes), "the soot load falls for {minutes} min");
}

// Source: the definition of the scales, t/°F = 1.8 t/°C + 32 (NIST SP 811, B.8).
#[test]
fn the_plot_is_in_the_readers_scale() {
    let text = scenario("figure: plot", WORK);
    let of = |unit| made(&text, unit).shown.course.expect("a course");
    let (celsius, fahrenheit) = (of(TemperatureUnit::Celsius), of(TemperatureUnit::Fahrenheit));
    for (c, f) in celsius.points.iter().zip(&fahrenheit.points) {
        assert_eq!((f.seconds, f.soot_percent, f.outlet), (c.seconds, c.soot_percent, (1.8 * c.outlet + 32.0).round()));
    }
    assert!(celsius.words().starts_with("0 min: 77 %, 235 °C; "), "{}", celsius.words());
    assert!(fahrenheit.words().contains("455 °F; 30 min: "), "{}", fahrenheit.words());
}

#[test]
fn a_figure_changes_nothing_but_what_stands_beside_the_story() {
    let plain = made(&scenario("show: soot", WORK), TemperatureUnit::Celsius);
    for (figures, gauge, lamps, plot) in [
        ("gauge", true, false, false),
        ("lamps", false, true, false),
        ("plot", false, false, true),
        ("gauge, lamps, plot", true, true, true),
    ] {
        let mut with = made(&scenario(&format!("show: soot\nfigure: {figures}"), WORK), TemperatureUnit::Celsius);
        let shown = &mut with.shown;
        let there = (shown.gauge.take().is_some(), shown.lamps.take().is_some(), shown.course.take().is_some());
        assert_eq!(there, (gauge, lamps, plot), "{figures}");
        assert_eq!(with.bytes(), plain.bytes(), "{figures}");
    }
}

/// What the head of a case says holds for each part that says nothing, and only for those.
#[test]
fn a_part_of_a_case_has_its_own_figures_or_those_of_the_head() {
    let part = |line: &str, after: &str| {
        format!(
            "\n[part]\nkind: choose one\nshow: soot\n{line}{after}\n[story]\nIt works on.\n\n[question]\nWhat comes first?\n\n[answer]\nask: route\n"
        )
    };
    let head = scenario("figure: gauge", "").replace("kind: choose one", "kind: case").replace("76.5 %", "40 %");
    let beginning = head.split("\n[story]").next().expect("a beginning");
    let text = [
        beginning,
        &part("", ""),
        &part("figure: lamps\n", WORK),
        &part("figure: none\n", ""),
        &part("figure: gauge, plot\n", WORK),
    ]
    .concat();
    let template = Template::read("own", "own", &text, &lexicon()).unwrap_or_else(|problems| panic!("{problems:#?}"));
    let seed = Seed { secret: *b"what stands beside the questions", stream: 1 };
    let made = generate_all(&template, 1, &common_practice(), seed, TemperatureUnit::Celsius).expect("a case");
    let there =
        made.iter().map(|part| (part.shown.gauge.is_some(), part.shown.lamps.is_some(), part.shown.course.is_some()));
    let wanted = [(true, false, false), (false, true, false), (false, false, false), (true, false, true)];
    assert_eq!(there.collect::<Vec<_>>(), wanted);
}

/// Scenarios and questions that were stored before figures had a line of their own are what they were.
#[test]
fn what_was_stored_before_is_still_read() {
    let (old, new) = ("show: soot, lamps, gauge", "show: soot\nfigure: lamps, gauge");
    let [old, new] = [old, new].map(|head| made(&scenario(head, WORK), TemperatureUnit::Celsius));
    assert_eq!(old.bytes(), new.bytes());
    let json = String::from_utf8(old.bytes()).expect("a text");
    assert!(!json.contains("\"course\""), "{json}");
    let read: Question = serde_json::from_str(&json).expect("a question without a course");
    assert_eq!(read, old);
}

/// Somebody who carries the plotted line on with a ruler is right within the tolerance.
#[test]
fn a_line_carried_on_by_hand_meets_the_key() {
    let bank = shipped();
    let wanted = |id: &str| bank.templates().find(|entry| entry.template.id == id).expect("it is shipped");
    let entry = wanted("passive/where-the-line-goes");
    let mut asked = 0;
    for machine in bank.machines().filter(|machine| entry.template.fits(&machine.profile.id)) {
        for stream in 0..40 {
            let seed = Seed { secret: [3; 32], stream };
            let question = generate(&entry.template, 1, machine, seed, TemperatureUnit::Celsius).expect("a question");
            let points = &question.shown.course.as_ref().expect("a course").points;
            let (first, last) = (points[0], points[points.len() - 1]);
            let hours = f64::from(last.seconds) / 3600.0;
            let each_hour = (last.soot_percent - first.soot_percent) / hours;
            let by_hand = (machine.profile.active.from_percent - last.soot_percent) / each_hour;
            let Key::Number { value, tolerance } = &question.key else { panic!("it asks for a number") };
            let off = (by_hand - value.value).abs();
            assert!(off <= tolerance.value, "{} {stream}: {by_hand} for {value}", machine.profile.id);
            asked += 1;
        }
    }
    assert!(asked >= 100, "{asked} questions");
}

#[test]
fn three_shipped_scenarios_or_more_plot_their_shift() {
    let bank = shipped();
    let plots = bank.templates().filter(|entry| entry.template.kind().is_some()).filter(|entry| {
        let machine = bank.machines().find(|machine| entry.template.fits(&machine.profile.id)).expect("a machine");
        let seed = Seed { secret: [3; 32], stream: 0 };
        let made = generate(&entry.template, 1, machine, seed, TemperatureUnit::Celsius).expect("a question");
        // A number that the plot shows at its end would be no question.
        let asks_for_the_end = matches!(&made.key, Key::Number { value, .. } if made.shown.kind == Kind::Number
            && value.unit == sootmark::domain::units::Unit::Percent
            && (value.value - made.situation.soot_percent).abs() < 0.5);
        assert!(made.shown.course.is_none() || !asks_for_the_end, "{}", entry.template.id);
        made.shown.course.is_some()
    });
    assert!(plots.count() >= 3);
}
