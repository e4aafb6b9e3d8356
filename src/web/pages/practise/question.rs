//! A question of practice: open with its fields, or answered with its explanation.

use crate::actions::answer_practice_question::{Answered, answer_practice_question};
use crate::actions::{read_answer, read_question};
use crate::domain::scenario::Question;
use crate::domain::scenario::grade::Answer;
use crate::store::AttemptId;
use crate::store::attempts::{self, AttemptKind};
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::question_card::explained::Explained;
use crate::web::question_card::{Given, QuestionCard, wrong};
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

/// The page of an open question: nothing in it knows the answer.
#[derive(Serialize)]
struct Open {
    page: Page,
    number: String,
    module: Option<ModuleName>,
    module_words: Option<String>,
    href: String,
    card: QuestionCard,
    /// What helps, on request.
    hints: Vec<String>,
}

#[derive(Serialize)]
struct Closed {
    page: Page,
    number: String,
    module: Option<ModuleName>,
    module_words: Option<String>,
    verdict: &'static str,
    /// Whether the next question goes on with the same case.
    goes_on: bool,
    card: QuestionCard,
    explained: Explained,
}

/// The module that is practised; nothing when the bank has it no more.
#[derive(Serialize)]
struct ModuleName {
    id: String,
    number: u32,
    title: String,
}

impl ModuleName {
    fn words(&self) -> String {
        format!("Module {}, {}", self.number, self.title)
    }
}

/// A question of one's own practice.
struct Found {
    attempt: AttemptId,
    position: i32,
    module: Option<ModuleName>,
    question: Question,
    /// The answer, once it is graded.
    answer: Option<Answer>,
    /// Whether it is a later part of a case, and the part before it is not answered.
    waits: bool,
}

async fn find(app: &App, reader: &SignedIn, (attempt, position): (i64, i32)) -> Result<Found, PageError> {
    let db = &app.deeds.db;
    let own = attempts::by_id(db, reader.person, AttemptId(attempt)).await?;
    if own.kind != AttemptKind::Practice {
        return Err(PageError::NotFound);
    }
    let asked = attempts::question(db, own.id, position).await?;
    let question = read_question(&asked)?;
    let grades = attempts::grades(db, own.id).await?;
    let graded = |position: i32| grades.iter().any(|grade| grade.position == position);
    let waits = asked.question.follows() && !graded(position - 1);
    let responses = attempts::responses(db, own.id).await?;
    let saved = responses.iter().find(|response| response.position == position).filter(|_| graded(position));
    let in_use = app.deeds.bank.now();
    let module = own.module_key.as_deref().and_then(|key| in_use.bank.module(key));
    Ok(Found {
        attempt: own.id,
        position,
        module: module.map(|module| ModuleName {
            id: module.id.clone(),
            number: module.number,
            title: module.title.clone(),
        }),
        question,
        answer: saved.map(read_answer).transpose()?,
        waits,
    })
}

impl Found {
    fn open(self, reader: &SignedIn, given: &Given, errors: Vec<FieldError>) -> Open {
        let mut page = reader.page(&format!("Question {}", self.position), "/practise");
        page.errors = errors;
        Open {
            page,
            number: self.position.to_string(),
            module_words: self.module.as_ref().map(ModuleName::words),
            module: self.module,
            href: format!("/practise/question/{}/{}", self.attempt, self.position),
            card: QuestionCard::new(&self.question.shown, given),
            hints: self.question.hints,
        }
    }
}

/// The question: to be answered, or with its explanation when it was.
///
/// # Errors
/// No such question of one's own, or the program cannot do it now.
pub async fn show(
    app: web::Data<App>,
    reader: SignedIn,
    path: web::Path<(i64, i32)>,
) -> Result<HttpResponse, PageError> {
    let found = find(&app, &reader, path.into_inner()).await?;
    if found.waits {
        return Err(PageError::TooEarly);
    }
    let Some(answer) = &found.answer else {
        return reply::page(&app, "pages/practise/question.html", &found.open(&reader, &Given::default(), Vec::new()));
    };
    let explained = Explained::new(&found.question, Some(answer));
    let verdict = if explained.correct { "Right" } else { "Not right" };
    let closed = Closed {
        page: reader.page(&format!("Question {}: {}", found.position, verdict.to_lowercase()), "/practise"),
        number: found.position.to_string(),
        module_words: found.module.as_ref().map(ModuleName::words),
        verdict,
        goes_on: found.question.shown.case.as_ref().is_some_and(|case| case.part < case.of),
        card: QuestionCard::new(&found.question.shown, &Given::saved(answer)),
        module: found.module,
        explained,
    };
    reply::page(&app, "pages/practise/explained.html", &closed)
}

/// Saves and grades the answer; the first one stands.
///
/// # Errors
/// No such question of one's own, or the program cannot do it now.
pub async fn answer(
    app: web::Data<App>,
    reader: SignedIn,
    path: web::Path<(i64, i32)>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let found = find(&app, &reader, path.into_inner()).await?;
    if found.waits {
        return Err(PageError::TooEarly);
    }
    let kind = found.question.shown.kind;
    let given = Given::sent(&found.question.shown, &fields);
    let deeds = &app.deeds;
    match answer_practice_question(deeds, reader.person, found.attempt, found.position, &given.answer(kind)).await? {
        Answered::Graded => Ok(reply::see_other(&format!("/practise/question/{}/{}", found.attempt, found.position))),
        Answered::TooEarly => Err(PageError::TooEarly),
        Answered::NotAnAnswer(not) => {
            let again = found.open(&reader, &given, vec![wrong(kind, &not)]);
            reply::form_again(&app, "pages/practise/question.html", &again)
        }
    }
}
