//! Statements for learning record stores, as xAPI 2.0 (IEEE 9274.1.1) describes them: one JSON object each.
//!
//! Never sends anything, never names a question's key, and names a person by number unless the caller gives more. The
//! same attempt gives the same statements with the same ids, for ever: a store that gets one twice knows it.

use crate::domain::scenario::Kind;
use crate::domain::scenario::grade::Answer;
use crate::domain::scenario::question::Shown;
use crate::domain::units::{Moment, Quantity};
use jiff::{SignedDuration, Timestamp};
use serde_json::{Value, json};
use uuid::Uuid;

// Source: adlnet/xAPI-Spec, vocabulary of ADL verbs: attempted, answered, completed, failed. "passed": from memory, not
// confirmed.
const VERBS: &str = "http://adlnet.gov/expapi/verbs/";
// Source: adlnet/xAPI-Spec, xAPI-Data.md, 2.4.4.1.
const INTERACTION: &str = "http://adlnet.gov/expapi/activities/cmi.interaction";
/// The language of everything that is shown.
const LANGUAGE: &str = "en";

/// Whose attempt it is.
#[derive(Clone, Debug)]
pub struct Actor {
    /// The person's number here: the name of their account.
    pub number: i64,
    /// Name and e-mail address, when they were asked for. The address then takes the account's place: a statement
    /// identifies a person in one way only.
    pub named: Option<(String, String)>,
}

/// An attempt with what is known of it.
#[derive(Clone, Debug)]
pub struct Sitting {
    /// Its number.
    pub number: i64,
    /// Whose it is.
    pub actor: Actor,
    /// Where it leads, below the program's address: `examine/first-day/1` for version 1 of a scheme.
    pub path: String,
    /// What people call it.
    pub title: String,
    /// When it began.
    pub began: Moment,
    /// The graded answers.
    pub answered: Vec<Answered>,
    /// Of a concluded examination: when it ended, and what it came to.
    pub ended: Option<Ended>,
}

/// A graded answer.
#[derive(Clone, Debug)]
pub struct Answered {
    /// The question's place, from 1.
    pub position: i32,
    /// The question as it was shown.
    pub shown: Shown,
    /// What was answered.
    pub answer: Answer,
    /// When it was saved.
    pub at: Moment,
    /// Whether it is right.
    pub right: bool,
    /// What it earned, 0 to 1.
    pub points: f64,
}

/// How an examination ended.
#[derive(Clone, Copy, Debug)]
pub struct Ended {
    /// When.
    pub at: Moment,
    /// The share of points, 0 to 1.
    pub share: f64,
    /// Whether the scheme's rules were met.
    pub passed: bool,
}

/// The statements of an attempt, in the order in which things happened. `origin` is the address of the program, without a
/// slash at its end.
#[must_use]
pub fn statements(origin: &str, sitting: &Sitting) -> Vec<Value> {
    let maker = Maker { origin, sitting, namespace: Uuid::new_v5(&Uuid::NAMESPACE_URL, origin.as_bytes()) };
    let mut all = vec![maker.statement("attempted", None, maker.activity(), sitting.began)];
    let mut answered: Vec<&Answered> = sitting.answered.iter().collect();
    answered.sort_by_key(|answered| (answered.at, answered.position));
    all.extend(answered.into_iter().map(|answered| maker.answered(answered)));
    if let Some(ended) = sitting.ended {
        let verb = if ended.passed { "passed" } else { "failed" };
        for verb in ["completed", verb] {
            let mut statement = maker.statement(verb, None, maker.activity(), ended.at);
            let mut result = json!({ "duration": duration(sitting.began, ended.at), "completion": true });
            if verb != "completed" {
                result["score"] = json!({ "scaled": ended.share });
                result["success"] = json!(ended.passed);
            }
            statement["result"] = result;
            all.push(statement);
        }
    }
    all
}

struct Maker<'a> {
    origin: &'a str,
    sitting: &'a Sitting,
    namespace: Uuid,
}

impl Maker<'_> {
    fn statement(&self, verb: &str, position: Option<i32>, object: Value, at: Moment) -> Value {
        let place = position.map_or_else(String::new, |position| format!("/{position}"));
        let name = format!("attempt/{}/{verb}{place}", self.sitting.number);
        json!({
            "id": Uuid::new_v5(&self.namespace, name.as_bytes()).to_string(),
            "actor": self.actor(),
            "verb": { "id": format!("{VERBS}{verb}"), "display": { LANGUAGE: verb } },
            "object": object,
            "timestamp": Timestamp::from_microsecond(at.0).map(|at| at.to_string()).unwrap_or_default(),
        })
    }

    fn actor(&self) -> Value {
        match &self.sitting.actor {
            Actor { named: Some((name, email)), .. } => {
                json!({ "objectType": "Agent", "name": name, "mbox": format!("mailto:{email}") })
            }
            Actor { number, named: None } => {
                let account = json!({ "homePage": self.origin, "name": number.to_string() });
                json!({ "objectType": "Agent", "account": account })
            }
        }
    }

    fn activity(&self) -> Value {
        json!({
            "objectType": "Activity",
            "id": format!("{}/{}", self.origin, self.sitting.path),
            "definition": { "name": { LANGUAGE: self.sitting.title } },
        })
    }

    fn answered(&self, answered: &Answered) -> Value {
        let (shown, position) = (&answered.shown, answered.position);
        let components: Vec<Value> = (0_usize..)
            .zip(&shown.options)
            .map(|(place, text)| json!({ "id": place.to_string(), "description": { LANGUAGE: text } }))
            .collect();
        let mut definition = json!({
            "type": INTERACTION,
            "name": { LANGUAGE: format!("Question {position}") },
            "description": { LANGUAGE: shown.prompt },
            "interactionType": match shown.kind {
                Kind::ChooseOne | Kind::ChooseSeveral | Kind::LampPanel => "choice",
                Kind::PutInOrder => "sequencing",
                Kind::Number => "numeric",
            },
        });
        if !components.is_empty() {
            definition["choices"] = json!(components);
        }
        // Each attempt's questions are its own.
        let id = format!("{}/attempt/{}/{position}", self.origin, self.sitting.number);
        let object = json!({ "objectType": "Activity", "id": id, "definition": definition });
        let mut statement = self.statement("answered", Some(position), object, answered.at);
        let mut result = json!({ "score": { "scaled": answered.points }, "success": answered.right });
        if let Some(response) = response(&answered.answer) {
            result["response"] = json!(response);
        }
        statement["result"] = result;
        statement["context"] = json!({ "contextActivities": { "parent": [self.activity()] } });
        statement
    }
}

/// The answer in the standard's words: places joined by `[,]`, or a bare number.
// Source: adlnet/xAPI-Spec, xAPI-Data.md, 2.4.4.1, response patterns.
fn response(answer: &Answer) -> Option<String> {
    match answer {
        Answer::Options(places) | Answer::Order(places) => {
            Some(places.iter().map(usize::to_string).collect::<Vec<_>>().join("[,]"))
        }
        Answer::Number(typed) => {
            Quantity::parse(&typed.trim().replace(',', ".")).ok().map(|quantity| quantity.value.to_string())
        }
    }
}

/// How long it took, as ISO 8601 writes it.
fn duration(from: Moment, to: Moment) -> String {
    SignedDuration::from_micros((to.0 - from.0).max(0)).to_string()
}
