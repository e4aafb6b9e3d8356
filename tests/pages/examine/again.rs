//! What somebody practises is never in their examination, and what they were examined in is never practised after it.

use super::{SCHEME, person};
use crate::support::app::TestApp;
use crate::support::sittings::{begin, questions_of, right};
use sootmark::actions::answer_practice_question::answer_practice_question;
use sootmark::actions::ask_practice_question::{Asked, ask_practice_question};
use sootmark::domain::people::Role;
use sootmark::domain::scenario::Question;
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::{PersonId, attempts};

/// Answers so many questions in each module of the scheme; gives them.
async fn practise(app: &TestApp, person: PersonId, each: usize) -> Vec<Question> {
    let read = app.deeds.bank.now();
    let mut practised = Vec::new();
    for module in &read.bank.scheme(SCHEME).expect("the scheme").scheme.modules {
        for _ in 0..each {
            let unit = TemperatureUnit::Celsius;
            let asked = ask_practice_question(&app.deeds, person, unit, module).await.expect("the store");
            let Asked::Question(attempt, position) = asked else { panic!("{asked:?}") };
            let frozen = attempts::question(&app.deeds.db, attempt, position).await.expect("the question");
            let question: Question = serde_json::from_str(&frozen.question.json).expect("a question");
            answer_practice_question(&app.deeds, person, attempt, position, &right(&question))
                .await
                .expect("the store");
            practised.push(question);
        }
    }
    practised
}

#[tokio::test]
async fn practice_and_examination_of_one_person_never_ask_the_same() {
    let app = TestApp::start_with_bank().await;
    let technician = person(&app, Role::Technician).await;
    let before = practise(&app, technician, 25).await;
    let attempt = begin(&app, technician, SCHEME).await;
    let examined = questions_of(&app, attempt).await;
    let after = practise(&app, technician, 25).await;
    for practised in before.iter().chain(&after) {
        for asked in &examined {
            let template = &asked.source.template;
            assert!(!practised.asks_again(asked) && !asked.asks_again(practised), "{template} comes twice");
        }
    }
    // The same scenarios do come: it is the moment that is another.
    let shared =
        examined.iter().filter(|asked| before.iter().any(|p| p.source.template == asked.source.template)).count();
    assert!(shared > 0, "nothing could have come twice, so nothing is proved");
    app.stop().await;
}
