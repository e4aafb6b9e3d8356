//! Whether the bank's answers can be guessed without reading them, and whether its words keep to their limits.
//!
//! The guesser is trained on half of ten thousand questions and tried on the other half. It sees where an option stands,
//! how long it is beside the others, and whether it has digits; never a word of it.

use super::shipped;
use sootmark::actions::publish_template::problems_of;
use sootmark::domain::scenario::generate::{Seed, generate};
use sootmark::domain::scenario::question::{Key, Question};
use sootmark::domain::scenario::{Kind, Machine};
use sootmark::domain::units::TemperatureUnit;
use std::collections::HashMap;
use std::sync::LazyLock;

const QUESTIONS: usize = 10_000;

/// How far a guess may beat chance, in shares of one; chosen by us. The options of a written scenario keep their lengths
/// from seed to seed, so that some thirty scenarios to choose one in are thirty throws of a die with four faces: their
/// share scatters by 0.08 (standard error). A guesser that gains more than that on the whole bank has found a habit.
const GAIN_AT_MOST: f64 = 0.08;
/// The share of numbers that may be met by copying one that is shown; chosen by us.
const COPIED_AT_MOST: f64 = 0.1;

/// Questions of the whole bank, those to learn from and those to try.
static SAMPLE: LazyLock<[Vec<Question>; 2]> = LazyLock::new(|| {
    let bank = shipped();
    let machines: Vec<&Machine> = bank.machines().collect();
    let pairs: Vec<_> = bank
        .templates()
        .flat_map(|entry| machines.iter().map(move |machine| (&entry.template, *machine)))
        .filter(|(template, machine)| template.fits(&machine.profile.id))
        .collect();
    let mut halves = [Vec::new(), Vec::new()];
    // Whole rounds: what one more scenario cuts off must not decide.
    for number in 0..QUESTIONS.next_multiple_of(2 * pairs.len()) {
        let (round, (template, machine)) = (number / pairs.len(), pairs[number % pairs.len()]);
        let seed = Seed { secret: *b"somebody guesses without reading", stream: round as u64 };
        let question = generate(template, 1, machine, seed, TemperatureUnit::Celsius).expect("a question");
        halves[round % 2].push(question);
    }
    halves
});

/// What a guesser sees of an option.
#[derive(Clone, Copy, Debug)]
enum Sees {
    Place,
    Length,
    Digits,
    Everything,
}

const EYES: [Sees; 4] = [Sees::Place, Sees::Length, Sees::Digits, Sees::Everything];

/// One thing that it sees of an option, as one of not many cases.
type Case = (u8, usize, usize);

fn cases(question: &Question, place: usize, sees: Sees) -> Vec<Case> {
    let options = &question.shown.options;
    let length = |option: &String| option.chars().count();
    let shorter = options.iter().filter(|other| length(other) < length(&options[place])).count();
    let digits = usize::from(options[place].contains(|c: char| c.is_ascii_digit()));
    let all = [(0, options.len(), place), (1, options.len(), shorter), (2, options.len(), digits)];
    match sees {
        Sees::Place => vec![all[0]],
        Sees::Length => vec![all[1]],
        Sees::Digits => vec![all[2]],
        Sees::Everything => all.to_vec(),
    }
}

/// Whether an option is what a guesser looks for: right or, of an order, the one that comes first.
fn wanted(question: &Question, place: usize) -> bool {
    match &question.key {
        Key::Options(right) => right.contains(&place),
        Key::Order(order) => order.first() == Some(&place),
        Key::Number { .. } => false,
    }
}

fn of_kind(half: &[Question], kind: Kind) -> impl Iterator<Item = &Question> {
    half.iter().filter(move |question| question.shown.kind == kind)
}

/// How often options of each case were wanted, learnt from one half. It weighs what it sees as if each thing told
/// something of its own: all together would only tell it which of the scenarios it has before it.
struct Guesser {
    sees: Sees,
    learnt: HashMap<Case, (f64, f64)>,
    whole: f64,
}

impl Guesser {
    fn trained(kind: Kind, sees: Sees) -> Self {
        let mut learnt: HashMap<Case, (f64, f64)> = HashMap::new();
        let (mut right, mut all) = (0.0, 0.0);
        for question in of_kind(&SAMPLE[0], kind) {
            for place in 0..question.shown.options.len() {
                let is = f64::from(u8::from(wanted(question, place)));
                (right, all) = (right + is, all + 1.0);
                for case in cases(question, place, sees) {
                    let (hits, seen) = learnt.entry(case).or_default();
                    (*hits, *seen) = (*hits + is, *seen + 1.0);
                }
            }
        }
        Self { sees, learnt, whole: right / all }
    }

    /// The odds that an option is wanted; above 1 it rather is than not.
    fn odds(&self, question: &Question, place: usize) -> f64 {
        let odds = |hits: f64, seen: f64| (hits + 0.5) / (seen - hits + 0.5);
        let whole = odds(self.whole * 1.0e6, 1.0e6);
        cases(question, place, self.sees)
            .iter()
            .filter_map(|case| self.learnt.get(case))
            .fold(whole, |so_far, (hits, seen)| so_far * odds(*hits, *seen) / whole)
    }
}

/// How much more often the guesser picks the wanted option than luck does, on the half it has not seen.
fn gain_of_picking(kind: Kind, sees: Sees) -> f64 {
    let guesser = Guesser::trained(kind, sees);
    let (mut gain, mut tried) = (0.0, 0.0);
    for question in of_kind(&SAMPLE[1], kind) {
        let places = 0..question.shown.options.len();
        let all: Vec<f64> = places.clone().map(|place| guesser.odds(question, place)).collect();
        let best = all.iter().copied().fold(0.0, f64::max);
        // Among equals it throws a die.
        let equals: Vec<usize> = places.filter(|place| all[*place] >= best * (1.0 - 1e-12)).collect();
        let hits = equals.iter().filter(|place| wanted(question, **place)).count();
        gain += hits as f64 / equals.len() as f64 - 1.0 / all.len() as f64;
        tried += 1.0;
    }
    assert!(tried > 100.0, "{kind:?}: only {tried}");
    gain / tried
}

/// How many more options it calls right or wrong rightly than somebody who calls all of them what most are.
fn gain_of_calling(kind: Kind, sees: Sees) -> f64 {
    let guesser = Guesser::trained(kind, sees);
    let (mut called, mut most, mut options) = (0.0, 0.0, 0.0);
    for question in of_kind(&SAMPLE[1], kind) {
        for place in 0..question.shown.options.len() {
            let is = wanted(question, place);
            called += f64::from(u8::from((guesser.odds(question, place) > 1.0) == is));
            most += f64::from(u8::from((guesser.whole > 0.5) == is));
            options += 1.0;
        }
    }
    assert!(options > 100.0, "{kind:?}: only {options}");
    (called - most) / options
}

#[test]
fn the_right_answer_cannot_be_guessed_from_place_length_or_digits() {
    let mut too_good = Vec::new();
    for sees in EYES {
        let gains = [
            (Kind::ChooseOne, gain_of_picking(Kind::ChooseOne, sees)),
            (Kind::ChooseSeveral, gain_of_calling(Kind::ChooseSeveral, sees)),
        ];
        too_good.extend(gains.into_iter().filter(|(_, gain)| *gain > GAIN_AT_MOST).map(|gain| (sees, gain)));
    }
    let first = gain_of_picking(Kind::PutInOrder, Sees::Place);
    assert!(first <= GAIN_AT_MOST, "the first step stands in a place of its own: {first}");
    assert!(too_good.is_empty(), "somebody who does not read gains: {too_good:?}");
}

/// What the options are put in order by.
type By<'b> = &'b dyn Fn(&String) -> f64;

#[test]
fn an_order_is_not_that_of_lengths_or_numbers() {
    let length = |text: &String| text.chars().count() as f64;
    let number = |text: &String| numbers(text).first().copied().unwrap_or(0.0);
    let orders: [(&str, By<'_>); 4] = [
        ("short to long", &length),
        ("long to short", &|text| -length(text)),
        ("small to large", &number),
        ("as shown", &|_| 0.0),
    ];
    for (name, by) in orders {
        let (mut right, mut tried) = (0.0, 0.0);
        for question in SAMPLE.iter().flat_map(|half| of_kind(half, Kind::PutInOrder)) {
            let Key::Order(key) = &question.key else { panic!("an order has an order for its key") };
            let options = &question.shown.options;
            let mut guess: Vec<usize> = (0..options.len()).collect();
            guess.sort_by(|a, b| by(&options[*a]).total_cmp(&by(&options[*b])));
            right += f64::from(u8::from(guess == *key));
            tried += 1.0;
        }
        assert!(tried > 100.0 && right <= COPIED_AT_MOST * tried, "{name}: {right} of {tried}");
    }
}

/// The numbers in a text, in their order.
fn numbers(text: &str) -> Vec<f64> {
    text.split(|c: char| !c.is_ascii_digit() && c != '.').filter_map(|word| word.parse().ok()).collect()
}

#[test]
fn a_number_that_is_shown_is_not_the_one_that_is_asked_for() {
    // One way of copying for each place among the numbers shown, from the front and from the back.
    let copied = |question: &Question, way: usize| {
        let shown = &question.shown;
        let texts = shown.facts.iter().map(|(_, value)| value).chain(&shown.story).chain([&shown.prompt]);
        let mut all: Vec<f64> = texts.flat_map(|text| numbers(text)).collect();
        if way % 2 == 1 {
            all.reverse();
        }
        all.get(way / 2).copied()
    };
    let share = |half: &[Question], way: usize| {
        let asked: Vec<&Question> = of_kind(half, Kind::Number).collect();
        assert!(asked.len() > 100, "only {}", asked.len());
        let hits = asked.iter().filter(|question| {
            let Key::Number { value, tolerance } = &question.key else { panic!("a number has a number for its key") };
            copied(question, way).is_some_and(|number| (number - value.value).abs() <= tolerance.value)
        });
        hits.count() as f64 / asked.len() as f64
    };
    let best = (0..16).max_by(|a, b| share(&SAMPLE[0], *a).total_cmp(&share(&SAMPLE[0], *b))).expect("a way");
    assert!(share(&SAMPLE[1], best) <= COPIED_AT_MOST, "way {best}: {}", share(&SAMPLE[1], best));
}

/// A scenario that is in order; each case below spoils one thing.
const GOOD: &str = "title: What to do in the yard
competence: parked
level: 2
kind: choose one
machines: all
show: soot
figure: lamps

[draw]
load0 = inside parked keep 3 % step 1 %

[situation]
soot = load0
outlet = 160 °C
speed = 900 rpm
load = 5 %
standing = yes
park_brake = yes
neutral = yes
attachment_down = yes

[only if]
load0 > 10 %

[story]
The {machine.name} stands on bare soil in the open at {load0}.

[question]
What do you do first?

[answer]
ask: statements

[option]
text: Start the cleaning here, and stay beside it.
right if: route = start_parked
because: It is called for.

[option]
text: Work on as before until the lamp goes out.
right if: route = work_on
because: It does not go out by itself.

[option]
text: Shut the machine down and call for service.
right if: route = stop_and_call
because: That is for the stop level.
";

/// What is found in a scenario after one text in it was changed.
#[track_caller]
fn check(from: &str, to: &str, expected: &[(u32, &str)]) {
    assert!(GOOD.contains(from), "{from}");
    let found = problems_of(&shipped(), "parked/in-the-yard", &GOOD.replacen(from, to, 1), 40);
    assert_eq!(found.len(), expected.len(), "{found:#?}");
    for ((line, part), problem) in expected.iter().zip(&found) {
        assert!(problem.line == *line && problem.message.contains(part), "{line} {part}: {problem}");
    }
}

#[test]
fn a_scenario_in_order_has_no_finding() {
    check("", "", &[]);
}

#[test]
fn each_fault_of_wording_is_found_on_its_line() {
    let on_each_machine = |line, part| vec![(line, part); 3];
    check("What do you do first?", "What is not right?", &on_each_machine(29, "\"not\""));
    check("What do you do first?", "What is NOT right?", &[]);
    check("Work on as before until", "Never stop work until", &on_each_machine(39, "\"never\""));
    check("Shut the machine down and call for service.", "None of the above.", &on_each_machine(44, "other options"));
    let long =
        "Start a regeneration here, stay beside it, keep people away, and look at the ground when it has cooled.";
    check("Start the cleaning here, and stay beside it.", long, &[(31, "told by its length in 120 of 120")]);
    let hard = "Considerable particulate accumulation necessitates immediate regeneration notwithstanding \
                contradictory organizational expectations, administrative difficulties and operational commitments.";
    check(
        "The {machine.name} stands on bare soil",
        &format!("{hard} The {{machine.name}} stands on bare soil"),
        &[(26, "school grade")],
    );
}

#[test]
fn too_little_variety_and_a_condition_that_hardly_holds_are_found() {
    check("step 1 %", "step 15 %", &[(26, "different ones, fewer than 8")]);
    // The parked stretch is widest on one machine, so that one step of it is rarest there.
    check("load0 > 10 %", "load0 < machine.parked_from + 3.5 %", &[(23, "[lunnock-9]")]);
}
