//! From the last moment of a machine's log to the text of a scenario that asks about such a moment.
//!
//! Writes a beginning for a trainer and nothing final: the place, the story and what is asked are theirs. Never hands over
//! a text that the check of the bank would refuse. Never types the right answer: the model supplies it.

use super::check::check;
use super::template::{CompetenceRules, Lexicon, Template};
use super::{Machine, generate};
use crate::aftertreatment::hazard::{BURNS_SKIN_FROM_C, DRY_PLANTS_IGNITE_FROM_C};
use crate::aftertreatment::judgement::judge;
use crate::aftertreatment::machine_log::Moment;
use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::situation::{Regeneration, Situation};
use crate::document::Problem;
use crate::units::{Unit, plain_number};
use std::fmt::Write as _;

/// Seeds that the text is tried with, as many as the check of the bank takes when nobody says how many.
const SEEDS: u64 = 200;
/// Distance of soot and ash from an edge in percent, as every scenario has it that says nothing else.
const GUARD_PERCENT: f64 = 1.0;

/// A reading that is drawn around what the log says.
struct Spread {
    /// The drawn value's name in the template.
    name: &'static str,
    /// The reading that it sets.
    field: &'static str,
    unit: Unit,
    value: f64,
    /// How far a draw may lie from the value; chosen by us: what changes nothing for who reads a gauge.
    around: f64,
    step: f64,
    /// Distance from an edge.
    guard: f64,
    edges: Vec<f64>,
    most: f64,
}

impl Spread {
    /// `from A to B step C`: around the value, on its side of every edge, at the guard's distance from them.
    fn drawn(&self) -> Option<String> {
        let below = self.edges.iter().copied().filter(|edge| *edge <= self.value).fold(f64::NEG_INFINITY, f64::max);
        let above = self.edges.iter().copied().filter(|edge| *edge > self.value).fold(f64::INFINITY, f64::min);
        let low = (self.value - self.around).max(below + self.guard).max(0.0);
        let high = (self.value + self.around).min(above - self.guard).min(self.most);
        // Where edges lie close together, only finer steps fall between them.
        let (from, to, step) = [self.step, self.step / 10.0, self.step / 100.0].into_iter().find_map(|step| {
            let (from, to) = ((low / step - 1e-9).ceil() * step, (high / step + 1e-9).floor() * step);
            (from <= to).then_some((from, to, step))
        })?;
        let [from, to, step] =
            [from, to, step].map(|number| format!("{} {}", plain_number(number), self.unit.symbol()));
        Some(format!("from {from} to {to} step {step}"))
    }
}

/// School grade from which the text must be readable: the strictest that the built-in bank asks of a competence.
const READING_GRADE: u8 = 8;

/// The text of a scenario about a moment such as the log's last one, for a competence of the bank.
///
/// # Errors
/// Every reason why no question comes of it, each with the line of the text that was tried.
pub fn scenario_of(profile: &Profile, moment: &Moment, competence: &str) -> Result<String, Vec<Problem>> {
    let file = "scenario from the log";
    if !moment.said.contains(&"soot_percent") {
        let message = "the log does not say the soot load at its end, so there is nothing to ask about";
        return Err(vec![Problem::new(file, 0, "soot_percent", message)]);
    }
    let text = written(profile, moment, competence);
    let lexicon = Lexicon {
        competences: vec![CompetenceRules {
            id: competence.to_owned(),
            mandatory: false,
            reading_grade: READING_GRADE,
        }],
        machines: vec![profile.id.clone()],
        bands: profile.bands.iter().map(|band| band.id.clone()).collect(),
    };
    let template = Template::read("from-a-log", file, &text, &lexicon)?;
    let problems = check(file, &template, &[Machine::new(profile.clone(), 1)], SEEDS);
    if problems.is_empty() { Ok(text) } else { Err(problems) }
}

fn written(profile: &Profile, moment: &Moment, competence: &str) -> String {
    let mut text = String::new();
    let mut line = |words: &str| {
        text.push_str(words);
        text.push('\n');
    };
    line(
        "# Written from a machine's log. Put the place in, tell the story, and look at what is asked, before you publish it.",
    );
    line(&format!("title: From the log of a {}", profile.name));
    line(&format!("competence: {competence}"));
    line("level: 2\nkind: choose one");
    line(&format!("machines: {}", profile.id));
    let spreads = spreads(profile, moment);
    line("\n[draw]");
    let drawn: Vec<(&Spread, String)> = spreads.iter().filter_map(|spread| Some((spread, spread.drawn()?))).collect();
    for (spread, draw) in &drawn {
        line(&format!("{} = {draw}", spread.name));
    }
    line("\n[situation]");
    for (spread, _) in &drawn {
        line(&format!("{} = {}", spread.field, spread.name));
    }
    for (field, word) in plain_fields(moment) {
        line(&format!("{field} = {word}"));
    }
    line(
        "# The log does not say these. Take the sign away and put in what was so; until then they are as they stand here.",
    );
    for missing in &moment.missing {
        line(&usual(missing.field));
    }
    let route = judge(profile, &moment.situation).route;
    let _ = write!(
        text,
        "\n[only if]\nroute = {}\n\n[story]\nA log was read out of a {{machine.name}}. You look at the last moment in it.\n\n\
         [question]\nWhat is the first thing to do?\n\n[answer]\nask: route\n",
        route.id()
    );
    text
}

fn spreads(profile: &Profile, moment: &Moment) -> Vec<Spread> {
    let s = &moment.situation;
    let said = |field: &str| moment.said.contains(&field);
    let outlet_edges = vec![profile.exhaust_hot_at_c, DRY_PLANTS_IGNITE_FROM_C, BURNS_SKIN_FROM_C];
    let percent = |name, field, value, edges| Spread {
        name,
        field,
        unit: Unit::Percent,
        value,
        around: 3.0,
        step: 1.0,
        guard: GUARD_PERCENT,
        edges,
        most: 250.0,
    };
    let mut spreads = vec![percent("soot_read", "soot", s.soot_percent, profile.soot_edges())];
    if said("ash_percent") {
        spreads.push(percent("ash_read", "ash", s.ash_percent, vec![profile.ash_service_percent]));
    }
    let other = |name, field, unit, value, (around, step, guard), edges, most| Spread {
        name,
        field,
        unit,
        value,
        around,
        step,
        guard,
        edges,
        most,
    };
    if said("outlet_c") {
        let guards = (15.0, 5.0, generate::GUARD_C);
        spreads.push(other("gas_read", "outlet", Unit::Celsius, s.outlet_c, guards, outlet_edges, 1000.0));
    }
    if said("speed_rpm") && s.engine_running {
        let edges = vec![profile.active.min_speed_rpm];
        let guards = (100.0, 50.0, generate::GUARD_RPM);
        spreads.push(other("speed_read", "speed", Unit::Rpm, s.speed_rpm, guards, edges, 8000.0));
    }
    if said("load_percent") {
        let guards = (5.0, 5.0, 0.0);
        spreads.push(other("load_read", "load", Unit::Percent, s.load_percent, guards, Vec::new(), 125.0));
    }
    spreads
}

/// What the log says and is not drawn.
fn plain_fields(moment: &Moment) -> Vec<(&'static str, &'static str)> {
    let Situation { engine_running, engine_warm, standing, park_brake, neutral, inhibit_on, regeneration, .. } =
        moment.situation;
    let truths = [
        ("engine_running", engine_running),
        ("engine_warm", engine_warm),
        ("standing", standing),
        ("park_brake", park_brake),
        ("neutral", neutral),
        ("inhibit_on", inhibit_on),
    ];
    let said = truths.into_iter().filter(|(field, _)| moment.said.contains(field));
    let mut fields: Vec<_> = said.map(|(field, yes)| (field, if yes { "yes" } else { "no" })).collect();
    if regeneration != Regeneration::None || moment.said.contains(&"regeneration") {
        fields.push(("regeneration", regeneration.id()));
    }
    fields
}

/// A remark with what a reading is taken to be while nobody says it.
fn usual(field: &str) -> String {
    let values = serde_json::to_value(Situation::default()).unwrap_or_default();
    let value = match &values[field] {
        serde_json::Value::Bool(yes) => if *yes { "yes" } else { "no" }.to_owned(),
        serde_json::Value::String(word) => word.clone(),
        number => plain_number(number.as_f64().unwrap_or_default()),
    };
    let units = [("_percent", " %"), ("_c", " °C"), ("_rpm", " rpm"), ("hours_since_parked", " h")];
    let unit = units.into_iter().find(|(end, _)| field.ends_with(end));
    let word = unit.map_or(field, |(end, _)| field.strip_suffix(end).filter(|word| !word.is_empty()).unwrap_or(field));
    format!("# {word} = {value}{}", unit.map_or("", |(_, unit)| unit))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::aftertreatment::machine_log::MachineLog;

    fn profile() -> Profile {
        Profile::read("good.toml", include_str!("../aftertreatment/profile_reader/good.toml")).unwrap()
    }

    fn moment(heading: &str, row: &str) -> Moment {
        MachineLog::read("machine.csv", &format!("{heading}\n{row}\n")).last_moment().unwrap()
    }

    /// On every edge and off it, cold, on an edge of the temperature and hot: what is written passes the check.
    #[test]
    fn whatever_the_log_ends_with_the_scenario_is_sound() {
        let profile = profile();
        let mut refused = Vec::new();
        for soot in profile.soot_edges().into_iter().chain([0.0, 33.0, 62.4, 74.5, 150.0]) {
            for (outlet, speed, load) in [(20.0, 0.0, 0.0), (204.0, 900.0, 10.0), (330.0, 1800.0, 55.0)] {
                let row = format!("{soot},4,{outlet},{speed},{load},no,not_active");
                let moment =
                    moment("soot_percent,ash_percent,outlet_c,speed_rpm,load_percent,inhibit_switch,active", &row);
                if let Err(problems) = scenario_of(&profile, &moment, "parked") {
                    refused.push((row, problems[0].to_string()));
                }
            }
        }
        assert!(refused.is_empty(), "{} refused: {refused:#?}", refused.len());
    }

    /// A trainer takes a sign away: what then stands there is understood.
    #[test]
    fn every_remark_about_what_is_missing_can_be_put_in() {
        let moment = moment("soot_percent", "60");
        let text = scenario_of(&profile(), &moment, "parked").unwrap();
        let put_in: Vec<String> = text
            .lines()
            .map(|line| match line.strip_prefix("# ") {
                Some(entry) if entry.contains(" = ") => entry.to_owned(),
                _ => line.to_owned(),
            })
            .collect();
        assert_eq!(put_in.iter().zip(text.lines()).filter(|(now, before)| now != before).count(), 19);
        let parked = CompetenceRules { id: "parked".to_owned(), mandatory: true, reading_grade: READING_GRADE };
        let lexicon = Lexicon { competences: vec![parked], machines: vec![profile().id], bands: Vec::new() };
        assert_eq!(Template::read("a", "a", &put_in.join("\n"), &lexicon).err(), None);
    }

    #[test]
    fn a_log_without_soot_gives_no_scenario() {
        let problems = scenario_of(&profile(), &moment("outlet_c,soot_percent", "200,"), "parked").unwrap_err();
        assert_eq!(problems[0].field, "soot_percent");
    }

    #[test]
    fn it_reads_as_a_trainer_would_write_it() {
        let moment = moment(
            "soot_percent,outlet_c,speed_rpm,load_percent,inhibit_switch,active,park_brake",
            "84,182,900,6,yes,not_active,yes",
        );
        insta::assert_snapshot!(scenario_of(&profile(), &moment, "inhibit").unwrap());
    }
}
