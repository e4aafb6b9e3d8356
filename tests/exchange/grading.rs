//! An answer is worth the same in another system as it is here, and brings up the same explanations.

use super::processor::process;
use super::{QUESTIONS, files};
use sootmark::domain::scenario::Question;
use sootmark::domain::scenario::grade::{Answer, NotAnAnswer, grade};
use sootmark::domain::scenario::question::{Key, Kind, WrongNumber};
use sootmark::domain::scenario::share::Share;
use sootmark::exchange::{Form, Package, export};

fn item(question: &Question) -> String {
    let forms = vec![Form { title: "One".to_owned(), questions: vec![question.clone()] }];
    let package = export(&Package { identifier: "one".to_owned(), forms }).expect("a package");
    files(&package).into_iter().find(|(name, _)| name.starts_with("items/")).expect("an item").1
}

fn named(places: &[usize]) -> Vec<String> {
    places.iter().map(|place| format!("option-{}", place + 1)).collect()
}

/// Every choice, some orders, or numbers around each edge; with the answer as the other system writes it.
fn answers(question: &Question) -> Vec<(Answer, Vec<String>)> {
    let count = question.choices.len();
    match &question.key {
        Key::Options(_) if question.shown.kind == Kind::ChooseOne => {
            (0..count).map(|place| (Answer::Options(vec![place]), named(&[place]))).collect()
        }
        Key::Options(_) => {
            let chosen = |bits: usize| (0..count).filter(|place| bits >> place & 1 == 1).collect::<Vec<_>>();
            let reversed = |places: &[usize]| named(&places.iter().rev().copied().collect::<Vec<_>>());
            (1..1 << count).map(chosen).map(|chosen| (Answer::Options(chosen.clone()), reversed(&chosen))).collect()
        }
        Key::Order(right) => (0..count)
            .map(|turn| {
                let mut order = right.clone();
                order.rotate_left(turn);
                (Answer::Order(order.clone()), named(&order))
            })
            .collect(),
        Key::Number { value, tolerance } => {
            let from = std::iter::once(value.value).chain(question.wrong_numbers.iter().map(|wrong| wrong.value));
            from.flat_map(|from| [-1.01, -1.0, -0.5, 0.0, 1.0, 1.01].map(|off| from + off * tolerance.value))
                .map(|number| format!("{number:.6}"))
                .map(|typed| (Answer::Number(typed.clone()), vec![typed]))
                .collect()
        }
    }
}

#[test]
fn an_answer_is_worth_the_same_here_and_there() {
    let (mut right, mut wrong, mut believed) = (0, 0, 0);
    for mut question in QUESTIONS.iter().cloned() {
        if let Key::Number { value, tolerance } = &question.key {
            // Whichever misconceptions were drawn, one gives a number that is near to nothing else.
            let value = value.value + 40.0 * tolerance.value;
            question.wrong_numbers.push(WrongNumber { believes: "planted".into(), value, why: "Planted.".into() });
        }
        let question = &question;
        let item = item(question);
        for (answer, response) in answers(question) {
            let response: Vec<&str> = response.iter().map(String::as_str).collect();
            // A lit lamp and that none is lit are no answer here, and wrong there.
            let grade = match grade(question, &answer) {
                Err(NotAnAnswer::LitAndNone) => {
                    assert_ne!(process(&item, &response)["SCORE"], ["1"]);
                    continue;
                }
                graded => graded.expect("an answer"),
            };
            let there = process(&item, &response);
            let score: f64 = there["SCORE"][0].parse().expect("a number");
            let wanted = grade.share.points();
            assert!((score - wanted).abs() < 1e-12, "{}: {answer:?} {score}", question.source.template);
            assert_eq!(there["ANSWERED"], ["answered"]);
            match (&question.key, &answer) {
                (Key::Options(_), _) => assert_eq!(there["FEEDBACK"], response),
                (Key::Order(_), _) => assert_eq!(there["FEEDBACK"].len(), question.choices.len()),
                (Key::Number { .. }, _) => {
                    let told = there["FEEDBACK"][0].as_str();
                    let wanted = match grade.misconceptions.first() {
                        _ if grade.correct => "right".to_owned(),
                        None => "wrong".to_owned(),
                        Some(id) => {
                            believed += 1;
                            let place = question.wrong_numbers.iter().position(|wrong| wrong.believes == *id);
                            format!("wrong-{}", place.expect("a wrong number") + 1)
                        }
                    };
                    assert_eq!(told, wanted, "{}: {answer:?}", question.source.template);
                }
            }
            if grade.correct { right += 1 } else { wrong += 1 }
        }
    }
    assert!(right >= QUESTIONS.len() && wrong > right && believed > 0, "{right} {wrong} {believed}");
}

#[test]
fn a_part_is_worth_the_same_here_and_there() {
    let (mut whole, mut partly, mut nothing) = (0, 0, 0);
    let several = QUESTIONS
        .iter()
        .filter(|question| matches!(question.key, Key::Options(_)) && question.shown.kind != Kind::ChooseOne);
    for mut question in several.cloned() {
        question.shown.by_part = true;
        let item = item(&question);
        for (answer, response) in answers(&question) {
            let response: Vec<&str> = response.iter().map(String::as_str).collect();
            // A lit lamp and that none is lit are no answer here; another system may count them.
            let Ok(graded) = grade(&question, &answer) else { continue };
            let score: f64 = process(&item, &response)["SCORE"][0].parse().expect("a number");
            assert!((score - graded.share.points()).abs() < 1e-12, "{score} for {graded:?}");
            match graded.share {
                share if share.is_whole() => whole += 1,
                share if share == Share::NOTHING => nothing += 1,
                _ => partly += 1,
            }
        }
    }
    assert!(whole > 3 && partly > whole && nothing > whole, "{whole} {partly} {nothing}");
}

#[test]
fn without_an_answer_nothing_is_told() {
    for question in QUESTIONS.iter() {
        let there = process(&item(question), &[]);
        assert_eq!(there["SCORE"], ["0"]);
        assert!(there["ANSWERED"].is_empty() && there["FEEDBACK"].is_empty(), "{}", question.source.template);
    }
}
