//! What a change does, in words: whose keys change, what no longer fits, who was certified on the old numbers.

use super::{Fact, capital};
use crate::actions::publish_machine::{CertifiedOn, Change, SEEDS};
use crate::domain::bank::Bank;
use crate::domain::bank::effect::{ChangedKeys, Told, Unfit};
use crate::web::dates::day;
use crate::web::error::PageError;
use serde::Serialize;

/// A template some of whose questions have another key.
#[derive(Serialize)]
struct Changed {
    href: String,
    title: String,
    /// The competence, and whether it is mandatory.
    about: String,
    /// "12 of 40 questions have another key, 9 of them about the same situation."
    count: String,
    before: Words,
    after: Words,
}

/// A question in words.
#[derive(Serialize)]
struct Words {
    readings: String,
    prompt: String,
    answer: String,
}

/// Something that no longer works.
#[derive(Serialize)]
struct Row {
    href: Option<String>,
    title: String,
    reason: String,
}

/// Somebody who was certified on the old numbers.
#[derive(Serialize)]
struct Person {
    name: String,
    branch: String,
    competences: String,
    version: i32,
    until: String,
}

/// The whole of it.
#[derive(Serialize)]
pub(super) struct Shown {
    /// Given back when publishing.
    seen: String,
    facts: Vec<Fact>,
    changed: Vec<Changed>,
    unfit: Vec<Row>,
    schemes: Vec<Row>,
    people: Vec<Person>,
    seeds: u64,
}

impl Shown {
    /// In the words of the bank in use; days are those of the zone. `sections` are those that differ from the version in
    /// use; nothing for a new machine.
    pub(super) fn new(
        change: Change,
        sections: Option<Vec<String>>,
        bank: &Bank,
        zone: &str,
    ) -> Result<Self, PageError> {
        let Change { effect, certified, seen } = change;
        let same: u64 = effect.changed.iter().map(|each| each.same_situation).sum();
        let keys: u64 = effect.changed.iter().map(|each| each.changed).sum();
        let fact = |label: &str, value: String| Fact { label: label.to_owned(), value };
        let listed = |labels: Vec<String>| if labels.is_empty() { "none".to_owned() } else { labels.join(", ") };
        let mut facts = vec![fact("Scenarios tried", effect.templates.to_string())];
        // A machine that is not in use yet changes no key, and nobody was asked about it.
        if let Some(labels) = sections {
            facts.insert(0, fact("Sections you changed", listed(labels)));
            facts.push(fact("Questions with another key", format!("{keys} of {}", effect.questions)));
            facts.push(fact("Of these about the same situation", same.to_string()));
            facts.push(fact("Certified on the old numbers", people_in_words(certified.len())));
        }
        facts.push(fact("Scenarios that do not fit", effect.unfit.len().to_string()));
        let people: Result<Vec<Person>, PageError> =
            certified.into_iter().map(|each| person(each, bank, zone)).collect();
        Ok(Self {
            seen,
            facts,
            changed: effect.changed.into_iter().map(|each| changed(each, bank)).collect(),
            unfit: effect.unfit.into_iter().map(|each| row(each, Some("/templates/"))).collect(),
            schemes: effect.schemes.into_iter().map(|each| row(each, None)).collect(),
            people: people?,
            seeds: SEEDS,
        })
    }
}

fn people_in_words(count: usize) -> String {
    match count {
        0 => "nobody".to_owned(),
        1 => "1 person".to_owned(),
        _ => format!("{count} people"),
    }
}

fn changed(each: ChangedKeys, bank: &Bank) -> Changed {
    let mandatory = if each.mandatory { ", mandatory" } else { "" };
    Changed {
        href: format!("/templates/{}", each.template),
        title: each.title.clone(),
        about: format!("{}{mandatory}", competence_name(bank, &each.competence)),
        count: format!("{} of {} questions have another key, {}.", each.changed, each.compared, same_situation(&each)),
        before: words(&each.before),
        after: words(&each.after),
    }
}

fn same_situation(each: &ChangedKeys) -> String {
    match each.same_situation {
        0 => "each because the seed draws another situation now".to_owned(),
        all if all == each.changed => "all about the same situation".to_owned(),
        some => format!("{some} of them about the same situation; in the others the seed draws another situation now"),
    }
}

fn words(told: &Told) -> Words {
    let readings: Vec<String> = told.readings.iter().map(|(label, value)| format!("{label}: {value}")).collect();
    let end = |text: &str| text.trim_end_matches('.').to_owned();
    let answer: Vec<String> = told.answer.iter().map(|text| end(text)).collect();
    Words { readings: readings.join("; "), prompt: told.prompt.clone(), answer: format!("{}.", answer.join("; ")) }
}

fn row(unfit: Unfit, below: Option<&str>) -> Row {
    let end = if unfit.reason.ends_with(['.', '?']) { "" } else { "." };
    let href = below.map(|below| format!("{below}{}", unfit.id));
    let title = if unfit.mandatory { format!("{}, mandatory", unfit.title) } else { unfit.title };
    Row { href, title, reason: capital(&unfit.reason) + end }
}

fn person(each: CertifiedOn, bank: &Bank, zone: &str) -> Result<Person, PageError> {
    let names: Vec<String> = each.competences.iter().map(|key| competence_name(bank, key)).collect();
    Ok(Person {
        name: each.name,
        branch: each.branch,
        competences: names.join(", "),
        version: each.machine_version,
        until: each.until.map(|until| day(until, zone)).transpose()?.unwrap_or_default(),
    })
}

fn competence_name(bank: &Bank, key: &str) -> String {
    bank.competence(key).map_or_else(|| key.to_owned(), |known| known.name.clone())
}
