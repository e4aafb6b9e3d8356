//! Statements of xAPI 2.0 held against the rules of the standard, as its public text gives them.

use serde_json::{Map, Value, json};
use sootmark::domain::scenario::Kind;
use sootmark::domain::scenario::grade::Answer;
use sootmark::domain::scenario::question::Shown;
use sootmark::domain::units::Moment;
use sootmark::exchange::xapi::{Actor, Answered, Ended, Sitting, statements};
use std::collections::BTreeSet;

/// What breaks a rule in a statement.
// Source: adlnet/xAPI-Spec, xAPI-Data.md, 2.2 (formatting), 2.4 (properties) and its parts; the text that IEEE 9274.1.1
// standardises.
pub(crate) fn broken_rules(statement: &Value) -> Vec<String> {
    let mut broken = Vec::new();
    let mut rule = |holds: bool, says: &str| {
        if !holds {
            broken.push(says.to_owned());
        }
    };
    rule(!has_null(statement), "2.2: no null value outside extensions");
    let known =
        |of: &Value, keys: &[&str]| of.as_object().is_none_or(|of| of.keys().all(|key| keys.contains(&key.as_str())));
    rule(
        known(statement, &["id", "actor", "verb", "object", "result", "context", "timestamp"]),
        "2.2: unknown property",
    );
    rule(statement["id"].as_str().is_some_and(is_uuid), "2.4.1: id is a UUID in standard form");
    let actor = &statement["actor"];
    let identifiers = ["mbox", "mbox_sha1sum", "openid", "account"];
    let identified = identifiers.iter().filter(|key| actor.get(**key).is_some()).count();
    rule(identified == 1, "2.4.2.1: an Agent has exactly one identifier");
    rule(known(actor, &["objectType", "name", "mbox", "account"]), "2.2: unknown property of an Agent");
    if let Some(account) = actor.get("account") {
        rule(is_iri(&account["homePage"]), "2.4.2.4: homePage is an IRL");
        rule(account["name"].as_str().is_some_and(|name| !name.is_empty()), "2.4.2.4: an account has a name");
    }
    if let Some(mbox) = actor.get("mbox") {
        let mail = mbox.as_str().and_then(|mbox| mbox.strip_prefix("mailto:"));
        rule(mail.is_some_and(|mail| mail.contains('@')), "2.4.2.3: mbox is a mailto IRI");
    }
    rule(is_iri(&statement["verb"]["id"]), "2.4.3: a verb's id is an IRI");
    rule(is_language_map(&statement["verb"]["display"]), "2.4.3: display is a language map");
    for says in activity(&statement["object"]) {
        rule(false, &says);
    }
    for parent in statement["context"]["contextActivities"]["parent"].as_array().into_iter().flatten() {
        for says in activity(parent) {
            rule(false, &says);
        }
    }
    if let Some(result) = statement.get("result") {
        rule(
            known(result, &["score", "success", "completion", "response", "duration"]),
            "2.2: unknown part of a result",
        );
        let scaled = result.get("score").map(|score| score["scaled"].as_f64());
        rule(
            scaled.is_none_or(|scaled| scaled.is_some_and(|scaled| (-1.0..=1.0).contains(&scaled))),
            "2.4.5.1: scaled",
        );
        for flag in ["success", "completion"] {
            rule(result.get(flag).is_none_or(Value::is_boolean), "2.4.5: success and completion are Boolean");
        }
        rule(result.get("response").is_none_or(Value::is_string), "2.4.5: a response is a string");
        let duration = result.get("duration").map(|duration| duration.as_str().is_some_and(is_duration));
        rule(duration != Some(false), "4.6: a duration is one of ISO 8601");
    }
    rule(statement["timestamp"].as_str().is_some_and(is_timestamp), "4.5: a timestamp is one of RFC 3339");
    broken
}

fn activity(of: &Value) -> Vec<String> {
    let mut broken = Vec::new();
    if !is_iri(&of["id"]) {
        broken.push("2.4.4.1: an Activity's id is an IRI".to_owned());
    }
    let definition = &of["definition"];
    for key in ["name", "description"] {
        if definition.get(key).is_some_and(|map| !is_language_map(map)) {
            broken.push(format!("2.4.4.1: {key} is a language map"));
        }
    }
    if definition.get("type").is_some_and(|of_type| !is_iri(of_type)) {
        broken.push("2.4.4.1: a type is an IRI".to_owned());
    }
    let interactions = [
        "true-false",
        "choice",
        "fill-in",
        "long-fill-in",
        "matching",
        "performance",
        "sequencing",
        "likert",
        "numeric",
        "other",
    ];
    let interaction = definition.get("interactionType").map(|word| word.as_str().unwrap_or_default());
    if interaction.is_some_and(|word| !interactions.contains(&word)) {
        broken.push("2.4.4.1: an interactionType is one of ten".to_owned());
    }
    if let Some(choices) = definition.get("choices").and_then(Value::as_array) {
        let ids: BTreeSet<&str> = choices.iter().filter_map(|choice| choice["id"].as_str()).collect();
        if !matches!(interaction, Some("choice" | "sequencing")) || ids.len() != choices.len() || ids.contains("") {
            broken.push("2.4.4.1: choices belong to choice and sequencing, and have distinct ids".to_owned());
        }
    }
    broken
}

fn has_null(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::Array(items) => items.iter().any(has_null),
        Value::Object(fields) => fields.values().any(has_null),
        _ => false,
    }
}

fn is_uuid(text: &str) -> bool {
    let groups: Vec<usize> = text.split('-').map(str::len).collect();
    groups == [8, 4, 4, 4, 12] && text.bytes().all(|byte| byte == b'-' || matches!(byte, b'0'..=b'9' | b'a'..=b'f'))
}

/// An absolute IRI: one with a scheme.
fn is_iri(value: &Value) -> bool {
    let scheme = value.as_str().and_then(|text| text.split_once("://"));
    scheme.is_some_and(|(scheme, rest)| !scheme.is_empty() && !rest.is_empty() && !rest.contains(' '))
}

fn is_language_map(value: &Value) -> bool {
    let fits =
        |map: &Map<String, Value>| !map.is_empty() && map.iter().all(|(tag, text)| tag == "en" && text.is_string());
    value.as_object().is_some_and(fits)
}

/// PnDTnHnMnS with at least one part; only the seconds may have a fraction here.
fn is_duration(text: &str) -> bool {
    let Some(rest) = text.strip_prefix("PT") else { return false };
    let mut last = None;
    let mut digits = String::new();
    for letter in rest.chars() {
        match (letter, "HMS".find(letter)) {
            ('0'..='9', _) => digits.push(letter),
            ('.', _) if !digits.is_empty() => digits.push(letter),
            (_, Some(place)) if !digits.is_empty() && last < Some(place) => {
                if digits.contains('.') && letter != 'S' {
                    return false;
                }
                (last, digits) = (Some(place), String::new());
            }
            _ => return false,
        }
    }
    last.is_some() && digits.is_empty()
}

fn is_timestamp(text: &str) -> bool {
    let shape: String = text.chars().map(|letter| if letter.is_ascii_digit() { '9' } else { letter }).collect();
    let (moment, fraction) = shape.split_at(shape.len().min(19));
    moment == "9999-99-99T99:99:99"
        && (fraction == "Z" || fraction.starts_with(".9") && fraction[1..fraction.len() - 1].bytes().all(|b| b == b'9'))
        && fraction.ends_with('Z')
}

/// 24 Nov 2026, 08:00 UTC.
const MORNING: Moment = Moment(1_795_507_200_000_000);

fn shown(kind: Kind, options: &[&str]) -> Shown {
    Shown {
        kind,
        machine_name: "Tarrel 60".to_owned(),
        machine_kind: "telehandler".to_owned(),
        facts: Vec::new(),
        lamps: None,
        gauge: None,
        story: Vec::new(),
        prompt: "What first?".to_owned(),
        options: options.iter().map(|&text| text.to_owned()).collect(),
        unit: None,
        by_part: false,
        case: None,
        course: None,
    }
}

fn sitting() -> Sitting {
    let answered = |position: i32, kind, options: &[&str], answer, right| Answered {
        position,
        shown: shown(kind, options),
        answer,
        at: MORNING.plus_seconds(60 * i64::from(position)),
        right,
        points: if right { 1.0 } else { 0.25 },
    };
    Sitting {
        number: 12,
        actor: Actor { number: 17, named: None },
        path: "examine/first-day/1".to_owned(),
        title: "First day on site".to_owned(),
        began: MORNING,
        answered: vec![
            answered(1, Kind::ChooseOne, &["a", "b"], Answer::Options(vec![1]), true),
            answered(2, Kind::ChooseSeveral, &["a", "b", "c"], Answer::Options(vec![0, 2]), false),
            answered(3, Kind::PutInOrder, &["a", "b", "c"], Answer::Order(vec![2, 0, 1]), true),
            answered(4, Kind::Number, &[], Answer::Number("12,5 h".to_owned()), true),
        ],
        ended: Some(Ended { at: MORNING.plus_seconds(754), share: 0.8125, passed: true }),
    }
}

const ORIGIN: &str = "https://training.fennmark.example";

#[test]
fn an_attempt_becomes_statements_that_keep_the_standards_rules() {
    let all = statements(ORIGIN, &sitting());
    let verbs: Vec<&str> = all.iter().map(|statement| statement["verb"]["id"].as_str().expect("a verb")).collect();
    // Source: adlnet/xAPI-Spec, the vocabulary of ADL verbs. "passed": from memory, not confirmed.
    let wanted = ["attempted", "answered", "answered", "answered", "answered", "completed", "passed"];
    assert_eq!(verbs, wanted.map(|verb| format!("http://adlnet.gov/expapi/verbs/{verb}")));
    for statement in &all {
        assert_eq!(broken_rules(statement), Vec::<String>::new(), "{statement:#}");
        let account = json!({ "homePage": ORIGIN, "name": "17" });
        assert_eq!(statement["actor"], json!({ "objectType": "Agent", "account": account }));
    }
    let responses: Vec<&Value> = all[1..5].iter().map(|statement| &statement["result"]["response"]).collect();
    // Source: adlnet/xAPI-Spec, xAPI-Data.md, 2.4.4.1: items joined by [,], one item without it, a number bare.
    assert_eq!(responses, ["1", "0[,]2", "2[,]0[,]1", "12.5"]);
    assert_eq!(all[2]["result"]["score"]["scaled"], 0.25);
    let last = &all[6];
    assert_eq!(last["timestamp"], "2026-11-24T08:12:34Z");
    // 754 s are 12 min 34 s.
    assert_eq!(last["result"]["duration"], "PT12M34S");
    assert_eq!((&last["result"]["score"]["scaled"], &last["result"]["success"]), (&json!(0.8125), &json!(true)));
    let text = serde_json::to_string(&all).expect("JSON");
    assert!(!text.contains("correctResponsesPattern"), "no key leaves");
}

#[test]
fn ids_come_again_and_no_two_are_the_same() {
    let ids = |origin: &str, sitting: &Sitting| -> Vec<String> {
        let all = statements(origin, sitting);
        all.iter().map(|statement| statement["id"].as_str().expect("an id").to_owned()).collect()
    };
    let one = ids(ORIGIN, &sitting());
    assert_eq!(one, ids(ORIGIN, &Sitting { title: "Another title".to_owned(), ..sitting() }));
    assert_eq!(one.iter().collect::<BTreeSet<_>>().len(), 7);
    // Source: RFC 9562, 5.5: a name-based UUID over SHA-1 has version 5 and variant 10.
    assert!(one.iter().all(|id| id.as_bytes()[14] == b'5' && b"89ab".contains(&id.as_bytes()[19])), "{one:?}");
    let mut all: BTreeSet<String> = one.into_iter().collect();
    all.extend(ids(ORIGIN, &Sitting { number: 13, ..sitting() }));
    all.extend(ids("https://elsewhere.example", &sitting()));
    assert_eq!(all.len(), 21);
}

#[test]
fn names_only_when_asked_and_failures_as_failures() {
    let named = Some(("Ines Varga".to_owned(), "ines@fennmark.example".to_owned()));
    let ended = Some(Ended { at: MORNING.plus_seconds(10), share: 0.0, passed: false });
    let failed = Sitting { actor: Actor { number: 17, named }, ended, ..sitting() };
    let all = statements(ORIGIN, &failed);
    assert!(all.iter().all(|statement| broken_rules(statement).is_empty()));
    let actor = json!({ "objectType": "Agent", "name": "Ines Varga", "mbox": "mailto:ines@fennmark.example" });
    assert_eq!(all[0]["actor"], actor);
    let last = all.last().expect("a statement");
    assert_eq!(last["verb"]["id"], "http://adlnet.gov/expapi/verbs/failed");
    assert_eq!((&last["result"]["success"], &last["result"]["score"]["scaled"]), (&json!(false), &json!(0.0)));
    let open = Sitting { answered: Vec::new(), ended: None, ..sitting() };
    assert_eq!(statements(ORIGIN, &open).len(), 1);
}

#[test]
fn the_check_finds_what_breaks_a_rule() {
    let good = statements(ORIGIN, &sitting()).remove(6);
    for (pointer, wrong, says) in [
        ("/id", json!("12345678"), "2.4.1"),
        ("/actor/mbox", json!("mailto:a@b.example"), "2.4.2.1"),
        ("/actor/account/homePage", json!("fennmark"), "2.4.2.4"),
        ("/verb/id", json!("passed"), "2.4.3"),
        ("/verb/display", json!("passed"), "2.4.3"),
        ("/object/id", json!("/examine"), "2.4.4.1"),
        ("/object/definition/interactionType", json!("multiple"), "2.4.4.1"),
        ("/result/score/scaled", json!(81.25), "2.4.5.1"),
        ("/result/success", json!("true"), "2.4.5"),
        ("/result/duration", json!("754 s"), "4.6"),
        ("/result/duration", json!("PT1.5M"), "4.6"),
        ("/timestamp", json!("2026-11-24 08:12:34"), "4.5"),
        ("/result/response", Value::Null, "2.2"),
        ("/more", json!(1), "2.2"),
    ] {
        let mut bad = good.clone();
        let (parent, key) = pointer.rsplit_once('/').expect("a pointer");
        bad.pointer_mut(parent).expect("a place")[key] = wrong;
        let broken = broken_rules(&bad);
        assert!(broken.iter().any(|broken| broken.starts_with(says)), "{pointer}: {broken:?}");
    }
}
