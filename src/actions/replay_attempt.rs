//! Making an attempt again, years later: its questions from versions and seed, its grades from the answers, each compared
//! with what is stored.
//!
//! Reads only. Never tells what an examination's questions say while it is open.

use super::past_bank::PastBank;
use super::regrade::{Rows, outcome_again, regrade};
use crate::domain::aftertreatment::MODEL_VERSION;
use crate::domain::scenario::Question;
use crate::store::attempts::{AttemptKind, AttemptQuestion, AttemptState};
use crate::store::{AttemptId, StoreError};
use sea_orm::ConnectionTrait;
use serde_json::Value;

/// What came of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Replayed {
    /// Which attempt.
    pub attempt: AttemptId,
    /// What it was for.
    pub kind: AttemptKind,
    /// Where it stands.
    pub state: AttemptState,
    /// Whether whoever watched ended it.
    pub ended: bool,
    /// How many questions it has.
    pub questions: usize,
    /// How many of them came out again byte by byte.
    pub same_bytes: usize,
    /// How many cannot come out again, because another version of the model made them; with that version.
    pub other_model: Option<(usize, i32)>,
    /// How many grades were worked out again.
    pub regraded: usize,
    /// Where what is stored differs, in words, by question.
    pub differences: Vec<String>,
}

/// Makes an attempt again and compares.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such attempt, or when the store does not answer.
pub async fn replay_attempt(db: &impl ConnectionTrait, past: &PastBank, id: AttemptId) -> Result<Replayed, StoreError> {
    let rows = Rows::of(db, id).await?;
    let hidden = rows.attempt.kind == AttemptKind::Examination && rows.attempt.state == AttemptState::Open;
    let mut done = Replayed {
        attempt: id,
        kind: rows.attempt.kind,
        state: rows.attempt.state,
        ended: rows.attempt.ended_by.is_some(),
        questions: rows.questions.len(),
        same_bytes: 0,
        other_model: None,
        regraded: 0,
        differences: Vec::new(),
    };
    for asked in &rows.questions {
        if i64::from(asked.question.model_version) != i64::from(MODEL_VERSION) {
            let (count, version) = done.other_model.unwrap_or((0, asked.question.model_version));
            done.other_model = Some((count + 1, version));
            continue;
        }
        match difference(&rows, past, asked) {
            None => done.same_bytes += 1,
            Some(_) if hidden => done.differences.push(format!("question {}: it is another", asked.position)),
            Some(differs) => done.differences.push(format!("question {}: {differs}", asked.position)),
        }
    }
    let mut again = regrade(&rows);
    if rows.is_concluded() {
        match scheme_of(&rows, past) {
            Ok(scheme) => {
                outcome_again(&rows, &scheme, &mut again);
            }
            Err(missing) => again.differences.push(missing),
        }
    }
    done.regraded = again.questions;
    done.differences.append(&mut again.differences);
    Ok(done)
}

pub(super) fn scheme_of(rows: &Rows, past: &PastBank) -> Result<crate::domain::examination::scheme::Scheme, String> {
    let key = rows.attempt.scheme_key.as_deref().unwrap_or_default();
    let version = rows.attempt.scheme_version.and_then(|version| u32::try_from(version).ok()).unwrap_or_default();
    past.scheme(key, version)
}

/// In what a question that is made again differs from the frozen one; nothing when they are the same bytes.
fn difference(rows: &Rows, past: &PastBank, asked: &AttemptQuestion) -> Option<String> {
    let frozen = &asked.question.json;
    let (source, part) = match serde_json::from_str::<Question>(frozen) {
        Ok(question) => {
            let part = question.part().0;
            (question.source, part)
        }
        Err(error) => return Some(format!("the frozen question does not read back: {error}")),
    };
    let attempt = &rows.attempt;
    if source.temperature_unit != attempt.temperature_unit {
        return Some("it is in another temperature scale than the attempt".to_owned());
    }
    let made =
        past.question((&source, part), attempt.seed, attempt.started_at, |made| made.bytes() == frozen.as_bytes());
    match made {
        Ok(made) if made.bytes() == frozen.as_bytes() => None,
        Ok(made) => Some(first_difference(frozen, &String::from_utf8_lossy(&made.bytes()))),
        Err(missing) => Some(missing),
    }
}

/// The first place where two JSON texts part, in words.
fn first_difference(frozen: &str, made: &str) -> String {
    let read = |text: &str| serde_json::from_str::<Value>(text).unwrap_or_default();
    parting("", &read(frozen), &read(made)).unwrap_or_else(|| {
        let at = frozen.bytes().zip(made.bytes()).take_while(|(frozen, made)| frozen == made).count();
        format!("it says the same in other bytes, from byte {at} on")
    })
}

fn parting(path: &str, frozen: &Value, made: &Value) -> Option<String> {
    let short = |value: &Value| {
        let text = value.to_string();
        if text.chars().count() > 60 { format!("{}...", text.chars().take(60).collect::<String>()) } else { text }
    };
    match (frozen, made) {
        (Value::Object(of_frozen), Value::Object(of_made)) => {
            let keys = of_frozen.keys().chain(of_made.keys().filter(|key| !of_frozen.contains_key(*key)));
            let at = |key: &String| if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
            let side = |of: &serde_json::Map<String, Value>, key: &String| of.get(key).cloned().unwrap_or_default();
            keys.into_iter().find_map(|key| parting(&at(key), &side(of_frozen, key), &side(of_made, key)))
        }
        (Value::Array(of_frozen), Value::Array(of_made)) if of_frozen.len() == of_made.len() => {
            let both = of_frozen.iter().zip(of_made).enumerate();
            both.into_iter().find_map(|(place, (frozen, made))| parting(&format!("{path}[{place}]"), frozen, made))
        }
        _ if frozen == made => None,
        _ => Some(format!("{path} is frozen as {}, made again it is {}", short(frozen), short(made))),
    }
}
