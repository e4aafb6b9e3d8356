//! The answer of `sootmark log` as JSON.
//!
//! Has the judgement in the form that `sootmark judge` has it, so that a program reads both alike.

use super::Found;
use crate::cli::judge::{Answer, DEFERS_TO};
use crate::domain::aftertreatment::MODEL_VERSION;
use crate::domain::aftertreatment::machine_log::{Event, Happening, LineCount, Missing, Moment, Old, Span, Stretch};
use crate::domain::aftertreatment::signals::{
    ActiveRegeneration, ExhaustHotLamp, FilterLamp, FilterMessage, InhibitReason, RegenerationStatus, Triple,
};
use crate::domain::aftertreatment::situation::Situation;
use crate::domain::units::TemperatureUnit;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;

/// The answer.
#[derive(Serialize)]
pub(super) struct LogAnswer<'a> {
    machine: &'a str,
    model_version: u32,
    temperature_unit: TemperatureUnit,
    lines: &'a LineCount,
    seconds: Option<f64>,
    readings: BTreeMap<&'static str, Span>,
    events: Vec<Told>,
    journey: Vec<Stretch>,
    last: Option<Last<'a>>,
    judgement: Option<Answer<'a>>,
    problems: Vec<Wrong<'a>>,
    defers_to: &'static str,
}

#[derive(Serialize)]
struct Told {
    line: u32,
    at_s: Option<f64>,
    #[serde(flatten)]
    what: Happening,
    says: String,
}

#[derive(Serialize)]
struct Last<'a> {
    line: u32,
    at_s: Option<f64>,
    filter: Filter,
    situation: &'a Situation,
    said: &'a [&'static str],
    missing: &'a [Missing],
    old: &'a [Old],
}

/// The filter's message with the reasons by their names.
#[derive(Serialize)]
struct Filter {
    lamp: FilterLamp,
    exhaust_hot_lamp: ExhaustHotLamp,
    passive: Triple,
    active: ActiveRegeneration,
    status: RegenerationStatus,
    inhibited: Triple,
    held_back_by: Vec<InhibitReason>,
}

impl Filter {
    fn of(message: &FilterMessage) -> Self {
        let FilterMessage { lamp, passive, active, status, inhibited, exhaust_hot, .. } = *message;
        let held_back_by = message.held_back_by().collect();
        Self { lamp, exhaust_hot_lamp: exhaust_hot, passive, active, status, inhibited, held_back_by }
    }
}

/// How long a stretch of the journey lasts, in seconds; chosen by us: a filter warms up or cools down in minutes.
const STRETCH_S: f64 = 60.0;

#[derive(Serialize)]
struct Wrong<'a> {
    line: u32,
    field: &'a str,
    message: &'a str,
}

/// The answer for what was found.
pub(super) fn answer<'a>(found: &'a Found<'a>) -> LogAnswer<'a> {
    let log = &found.log;
    let told = |event: &Event| Told {
        line: event.line,
        at_s: log.since_start(event.at_us),
        what: event.what,
        says: event.what.to_string(),
    };
    let last = found.last.as_ref().map(|moment| Last {
        line: moment.line,
        at_s: log.since_start(moment.at_us),
        filter: Filter::of(&log.readings.last().map(|reading| reading.readout.filter).unwrap_or_default()),
        situation: &moment.situation,
        said: &moment.said,
        missing: &moment.missing,
        old: &moment.old,
    });
    LogAnswer {
        machine: &found.profile.id,
        model_version: MODEL_VERSION,
        temperature_unit: found.unit,
        lines: &log.lines,
        seconds: log.seconds(),
        readings: log.spans().into_iter().collect(),
        events: log.events.iter().map(told).collect(),
        journey: log.stretches(STRETCH_S),
        last,
        judgement: found.last.as_ref().map(|moment| judged(found, moment)),
        problems: found
            .problems
            .iter()
            .map(|problem| Wrong { line: problem.line, field: &problem.field, message: &problem.message })
            .collect(),
        defers_to: DEFERS_TO,
    }
}

fn judged<'a>(found: &'a Found<'a>, moment: &Moment) -> Answer<'a> {
    let mut answer = Answer::of(found.profile, &moment.situation, found.unit);
    answer.taken_as_usual = usual(moment).into_iter().collect();
    answer
}

/// What the log does not say, with what it was taken to be.
pub(super) fn usual(moment: &Moment) -> Vec<(String, Value)> {
    let values = serde_json::to_value(moment.situation).unwrap_or_default();
    moment.missing.iter().map(|missing| (missing.field.to_owned(), values[missing.field].clone())).collect()
}
