//! Grading a concluded attempt once more, from its frozen questions and saved answers, and saying where what is stored
//! differs.
//!
//! Never stores anything. Practice is graded answer by answer; an examination as a whole and by its scheme's version.

use super::conclude::{read_question, worth_of};
use crate::domain::examination::outcome::{Graded, Outcome, conclude};
use crate::domain::examination::scheme::Scheme;
use crate::store::attempts::{
    self, Attempt, AttemptKind, AttemptQuestion, AttemptResult, AttemptState, Grade, Response,
};
use crate::store::{AttemptId, StoreError};
use sea_orm::ConnectionTrait;

/// Everything stored of one attempt.
#[derive(Debug)]
pub(super) struct Rows {
    pub(super) attempt: Attempt,
    pub(super) questions: Vec<AttemptQuestion>,
    pub(super) responses: Vec<Response>,
    pub(super) grades: Vec<Grade>,
    pub(super) result: Option<AttemptResult>,
}

impl Rows {
    pub(super) async fn of(db: &impl ConnectionTrait, id: AttemptId) -> Result<Self, StoreError> {
        Ok(Self {
            attempt: attempts::by_id_of_anyone(db, id).await?,
            questions: attempts::questions(db, id).await?,
            responses: attempts::responses(db, id).await?,
            grades: attempts::grades(db, id).await?,
            result: attempts::find_result(db, id).await?,
        })
    }

    /// Whether it is an examination that was handed in.
    pub(super) fn is_concluded(&self) -> bool {
        self.attempt.kind == AttemptKind::Examination && self.attempt.state != AttemptState::Open
    }

    /// What binds these rows to the record, in a making; nothing before there is a result.
    pub(super) fn digest(&self, making: i64) -> Option<String> {
        let result = self.result.as_ref()?;
        attempts::digest_of(making, &self.attempt, &self.questions, &self.responses, &self.grades, result)
    }
}

/// What grading once more gave.
#[derive(Debug, Default)]
pub(super) struct Regraded {
    /// Answers, and questions without one, that were graded again.
    pub(super) questions: usize,
    /// The grades as the outcome is made of them.
    pub(super) graded: Vec<Graded>,
    /// Where what is stored differs, in words.
    pub(super) differences: Vec<String>,
}

/// Grades every question again and compares.
pub(super) fn regrade(rows: &Rows) -> Regraded {
    let mut again = Regraded::default();
    for asked in &rows.questions {
        let at = asked.position;
        let stored = rows.grades.iter().find(|grade| grade.position == at);
        let saved = rows.responses.iter().any(|response| response.position == at);
        if let Some(differs) = column_that_differs(asked) {
            again.differences.push(format!("question {at}: its column {differs} is not what the frozen question says"));
        }
        let (worth, share) = match worth_of(asked, &rows.responses) {
            Ok(graded) => graded,
            Err(error) => {
                again.differences.push(format!("question {at}: {error}"));
                continue;
            }
        };
        let wanted = if rows.attempt.kind == AttemptKind::Practice { saved } else { rows.is_concluded() };
        match stored {
            None if wanted => again.differences.push(format!("question {at}: it has no grade")),
            Some(_) if !wanted => again.differences.push(format!("question {at}: it has a grade and no answer")),
            Some(stored) if *stored != worth => again.differences.push(format!(
                "question {at}: stored as {}, graded again it is {}",
                in_words(stored),
                in_words(&worth)
            )),
            _ => {}
        }
        again.questions += usize::from(wanted);
        again.graded.push(Graded {
            position: u32::try_from(at).unwrap_or_default(),
            competence: asked.question.competence_key.clone(),
            mandatory: asked.question.mandatory,
            share,
        });
    }
    let asked = |position: i32| rows.questions.iter().any(|asked| asked.position == position);
    for grade in rows.grades.iter().filter(|grade| !asked(grade.position)) {
        again.differences.push(format!("question {}: it has a grade and is not there", grade.position));
    }
    again
}

/// The column beside a frozen question that says something else than it.
fn column_that_differs(asked: &AttemptQuestion) -> Option<&'static str> {
    let frozen = read_question(asked).ok()?;
    let (beside, source) = (&asked.question, &frozen.source);
    let same = |column: i32, frozen: u32| i64::from(column) == i64::from(frozen);
    let columns = [
        ("template_key", beside.template_key == source.template),
        ("template_version", same(beside.template_version, source.template_version)),
        ("machine_key", beside.machine_key == source.machine),
        ("machine_version", same(beside.machine_version, source.machine_version)),
        ("model_version", same(beside.model_version, source.model_version)),
        ("competence_key", beside.competence_key == frozen.competence),
        ("mandatory", beside.mandatory == frozen.mandatory),
    ];
    columns.into_iter().find(|(_, same)| !same).map(|(column, _)| column)
}

fn in_words(grade: &Grade) -> String {
    let word = if grade.correct { "right" } else { "not right" };
    let believes = if grade.misconceptions.is_empty() {
        String::new()
    } else {
        format!(", misconceptions {}", grade.misconceptions.join(" "))
    };
    format!("{word} with {} points{believes}", grade.points)
}

/// The outcome by the scheme once more, and where the stored result differs.
pub(super) fn outcome_again(rows: &Rows, scheme: &Scheme, again: &mut Regraded) -> Outcome {
    let outcome = conclude(scheme, &again.graded);
    match &rows.result {
        None => again.differences.push("it was handed in and has no result".to_owned()),
        Some(stored) => {
            let word = |passed: bool| if passed { "passed" } else { "not passed" };
            if stored.passed != outcome.passed {
                let (stored, now) = (word(stored.passed), word(outcome.passed));
                again.differences.push(format!("the result is stored as {stored}, concluded again it is {now}"));
            }
            if stored.score.to_bits() != outcome.score_percent().to_bits() {
                let (stored, now) = (stored.score, outcome.score_percent());
                again.differences.push(format!("the score is stored as {stored} %, concluded again it is {now} %"));
            }
            if serde_json::from_str::<Outcome>(&stored.outcome).ok().as_ref() != Some(&outcome) {
                again.differences.push("the stored outcome is not what the grades come to".to_owned());
            }
        }
    }
    outcome
}
