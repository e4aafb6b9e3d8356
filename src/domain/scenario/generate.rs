//! Makes a question from a template, a machine and a seed.
//!
//! Draws until everything holds: the conditions, the distance from edges, a proven key, enough different options. Never
//! lowers any of these to get a question out.

use super::asks::{self, Asked, Built, Miss};
use super::course::Course;
use super::draw::Draws;
use super::language::{Text, Value};
use super::misconception::{self, Misconception};
use super::question::{CasePlace, CautionWords, Gauge, Question, Shown, Source};
use super::scope::{NoValue, Scope};
use super::shift::Shift;
use super::template::{Draw, EdgeReading, Figure, Located, Part, Template};
use super::template_reader::STRETCHES;
use super::vocabulary::Field;
use crate::aftertreatment::MODEL_VERSION;
use crate::aftertreatment::explain::Verdict;
use crate::aftertreatment::hazard::{BURNS_SKIN_FROM_C, DRY_PLANTS_IGNITE_FROM_C};
use crate::aftertreatment::judgement::{Judgement, judge};
use crate::aftertreatment::kinetics::balance_percent;
use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::situation::Situation;
use crate::units::{Quantity, TemperatureUnit, Unit};
use std::sync::Arc;

/// Draws tried for one question before giving up; chosen by us so that one in a hundred good draws is enough.
const TRIES: usize = 600;
/// How far readings other than soot stay away from an edge; chosen by us as what a gauge can be read to.
pub(super) const GUARD_C: f64 = 5.0;
pub(super) const GUARD_RPM: f64 = 50.0;
const GUARD_H: f64 = 2.0;
const GUARD_BALANCE_PERCENT: f64 = 3.0;

/// A machine as questions use it: its profile and what each misconception makes of it.
#[derive(Clone, Debug)]
pub struct Machine {
    /// The profile.
    pub profile: Profile,
    /// The profile's version in the bank.
    pub version: u32,
    bent: Vec<Option<Profile>>,
}

impl Machine {
    /// Prepares a profile for questions.
    #[must_use]
    pub fn new(profile: Profile, version: u32) -> Self {
        let bent = misconception::ALL.iter().map(|wrong| {
            wrong.bend_profile.map(|bend| {
                let mut profile = profile.clone();
                bend(&mut profile);
                profile
            })
        });
        Self { bent: bent.collect(), profile, version }
    }

    /// The machine and the situation as somebody sees them who has a misconception.
    pub(super) fn believed(
        &self,
        place: usize,
        situation: &Situation,
    ) -> (&Profile, Situation, &'static Misconception) {
        let wrong = &misconception::ALL[place];
        let profile = self.bent[place].as_ref().unwrap_or(&self.profile);
        let mut bent = *situation;
        if let Some(bend) = wrong.bend_situation {
            bend(&self.profile, &mut bent);
        }
        (profile, bent, wrong)
    }
}

/// Where a question's draws come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Seed {
    /// The sitting's secret.
    pub secret: [u8; 32],
    /// The question's own stream.
    pub stream: u64,
}

/// Why a template gives no question.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoQuestion {
    /// The template does not claim to fit this machine.
    #[error("it does not fit this machine")]
    DoesNotFit,
    /// An expression went wrong.
    #[error("line {line}: {message}")]
    Broken {
        /// The template's line.
        line: u32,
        /// What went wrong.
        message: String,
    },
    /// No draw was good enough.
    #[error("none of {TRIES} draws gave a question; most often {most_often}")]
    NoDraw {
        /// What most often stood in the way.
        most_often: String,
    },
}

/// Makes the first question of a seed, which of a plain template is the only one; see [`generate_all`].
///
/// # Errors
/// When the template does not fit, is broken, or no draw is good enough.
pub fn generate(
    template: &Template,
    template_version: u32,
    machine: &Machine,
    seed: Seed,
    unit: TemperatureUnit,
) -> Result<Question, NoQuestion> {
    generate_all(template, template_version, machine, seed, unit).map(|mut questions| questions.swap_remove(0))
}

/// Makes the questions of a seed: one, or of a case every part in order, all from one draw. The same arguments give the
/// same questions, byte for byte.
///
/// # Errors
/// When the template does not fit, is broken, or no draw is good enough.
pub fn generate_all(
    template: &Template,
    template_version: u32,
    machine: &Machine,
    seed: Seed,
    unit: TemperatureUnit,
) -> Result<Vec<Question>, NoQuestion> {
    if !template.fits(&machine.profile.id) {
        return Err(NoQuestion::DoesNotFit);
    }
    let mut draws = Draws::new(seed.secret, seed.stream);
    let mut misses: Vec<(String, usize)> = Vec::new();
    for _ in 0..TRIES {
        match attempt(template, machine, &mut draws, unit) {
            Ok((drawn, built)) => {
                let source = Source {
                    template: template.id.clone(),
                    template_version,
                    machine: machine.profile.id.clone(),
                    machine_version: machine.version,
                    model_version: MODEL_VERSION,
                    stream: seed.stream,
                    temperature_unit: unit,
                };
                return freeze_all(template, &drawn, built, &source).map_err(|(line, no)| broken(line, &no));
            }
            Err((part, Miss::Again(reason))) => {
                let reason = if template.parts.len() > 1 {
                    format!("in part {}, {reason}", part + 1)
                } else {
                    reason.to_owned()
                };
                match misses.iter_mut().find(|(known, _)| *known == reason) {
                    Some((_, count)) => *count += 1,
                    None => misses.push((reason, 1)),
                }
            }
            Err((_, Miss::Broken(line, message))) => return Err(NoQuestion::Broken { line, message }),
        }
    }
    let most_often = misses.into_iter().max_by_key(|(_, count)| *count).map(|(reason, _)| reason).unwrap_or_default();
    Err(NoQuestion::NoDraw { most_often })
}

fn broken(line: u32, no: &NoValue) -> NoQuestion {
    NoQuestion::Broken { line, message: no.to_string() }
}

/// Never is a reason to draw again; anything else is a fault of the template.
fn miss(line: u32) -> impl Fn(NoValue) -> Miss {
    move |no| match no {
        NoValue::Never => Miss::Again("the model says that this never happens"),
        other => Miss::Broken(line, other.to_string()),
    }
}

/// A drawn moment, before the conditions under `[only if]` are asked.
pub(super) struct Drawn<'a> {
    /// Everything there is to say about the moment.
    pub scope: Scope<'a>,
    /// The same before the situation.
    plain: Scope<'a>,
    situation: Situation,
    judgement: Judgement,
}

/// Every part's moment and options; a miss comes with the place of its part.
fn attempt<'a>(
    template: &'a Template,
    machine: &'a Machine,
    draws: &mut Draws,
    unit: TemperatureUnit,
) -> Result<(Vec<Drawn<'a>>, Vec<Built>), (usize, Miss)> {
    let moments = drawn(template, machine, draws)?;
    let parts = || template.parts.iter().zip(&moments).enumerate();
    for (place, (part, moment)) in parts() {
        for condition in &part.conditions {
            if !moment.scope.truth(&condition.what).map_err(|no| (place, miss(condition.line)(no)))? {
                return Err((place, Miss::Again("a condition under [only if] does not hold")));
            }
        }
    }
    let mut built = Vec::with_capacity(moments.len());
    for (place, (part, Drawn { scope, plain, situation, judgement })) in parts() {
        let asked = Asked { template: part, machine, scope, plain, situation, judgement, unit };
        built.push(asks::build(&asked, draws).map_err(|miss| (place, miss))?);
    }
    Ok((moments, built))
}

/// Draws the moments of every part: the values once, then each situation and the model's answer.
pub(super) fn drawn<'a>(
    template: &'a Template,
    machine: &'a Machine,
    draws: &mut Draws,
) -> Result<Vec<Drawn<'a>>, (usize, Miss)> {
    let mut scope = Scope::new(&machine.profile);
    for located in &template.draws {
        let (name, draw) = &located.what;
        let value = draw_value(draw, &scope, draws).map_err(|no| (0, miss(located.line)(no)))?;
        scope.values.push((name, value));
    }
    let mut moments: Vec<Drawn<'a>> = Vec::with_capacity(template.parts.len());
    let mut first = Some(scope);
    for (place, part) in template.parts.iter().enumerate() {
        let before = moments.last().map(|earlier| earlier.situation);
        let scope = first.take().or_else(|| moments.last().map(|earlier| earlier.scope.clone()));
        let scope = scope.unwrap_or_else(|| Scope::new(&machine.profile));
        moments.push(moment(template, part, scope, before).map_err(|miss| (place, miss))?);
    }
    Ok(moments)
}

/// One part's moment. The first begins with its readings and is worked on; a later one is worked on from where the part
/// before it ended, and its readings are what has changed since.
fn moment<'a>(
    template: &Template,
    part: &'a Part,
    mut scope: Scope<'a>,
    before: Option<Situation>,
) -> Result<Drawn<'a>, Miss> {
    for each in part.lets.iter().filter(|each| !each.asks_model) {
        let value = scope.value(&each.expr).map_err(miss(each.line))?;
        scope.values.push((&each.name, value));
    }
    let situation = match before {
        None => {
            let begun = readings(part, &scope, Situation::default())?;
            worked(part, &mut scope, begun)?
        }
        Some(before) => {
            let worked = worked(part, &mut scope, before)?;
            readings(part, &scope, worked)?
        }
    };
    let plain = scope.clone();
    if near_edge(template, scope.profile, &situation) {
        return Err(Miss::Again("a reading is too near to an edge"));
    }
    let judgement = judge(scope.profile, &situation);
    scope.enter((situation, judgement), &part.lets).map_err(miss(part.answer.line))?;
    Ok(Drawn { scope, plain, situation, judgement })
}

/// A situation with the part's readings set.
fn readings(part: &Part, scope: &Scope<'_>, mut situation: Situation) -> Result<Situation, Miss> {
    for located in &part.situation {
        let (field, expr) = &located.what;
        let value = scope.value(expr).map_err(miss(located.line))?;
        field.set(&mut situation, &value).map_err(|error| Miss::Broken(located.line, error.to_string()))?;
    }
    match situation.problems().into_iter().next() {
        Some(problem) => Err(Miss::Broken(part.answer.line, problem)),
        None => Ok(situation),
    }
}

/// A situation after the part's shift, which the scope then knows.
fn worked(part: &Part, scope: &mut Scope<'_>, situation: Situation) -> Result<Situation, Miss> {
    let Some(first) = part.shift.first() else { return Ok(situation) };
    let shift = Shift::make(&part.shift, scope, &situation).map_err(miss(first.line))?;
    let end = shift.end();
    scope.shift = Some(Arc::new(shift));
    Ok(end)
}

fn draw_value(draw: &Draw, scope: &Scope<'_>, draws: &mut Draws) -> Result<Value, NoValue> {
    match draw {
        Draw::OneOf(choices) => {
            let mut ticket = draws.below(choices.iter().map(|(_, weight)| weight).sum());
            let drawn = choices.iter().find(|(_, weight)| match ticket.checked_sub(*weight) {
                Some(left) => {
                    ticket = left;
                    false
                }
                None => true,
            });
            drawn.map_or(Err(NoValue::TooEarly), |(choice, _)| scope.value(choice))
        }
        Draw::If { condition, then, otherwise } => {
            draw_value(if scope.truth(condition)? { then } else { otherwise }, scope, draws)
        }
        Draw::Fixed(expr) => scope.value(expr),
        Draw::Range { from, to, step } => {
            let from = scope.value(from)?.number()?;
            let to = scope.value(to)?.in_unit(from.unit)?;
            let step = step_in(scope.value(step)?, from.unit)?;
            stepped(draws, from.value, to, step).map(|value| Value::Number(Quantity::new(value, from.unit)))
        }
        Draw::Inside { stretch, keep, step } => {
            let (low, high) = ends(scope.profile, stretch)?;
            let keep = scope.value(keep)?.in_unit(Unit::Percent)?;
            let step = scope.value(step)?.in_unit(Unit::Percent)?;
            // Whole steps inside the kept ends, so that readers see round numbers.
            let from = ((low + keep) / step).ceil() * step;
            stepped(draws, from, high - keep, step).map(|value| Value::Number(Quantity::new(value, Unit::Percent)))
        }
    }
}

/// A step; for temperatures a difference may be written as `10 °C` or `10 °F`.
fn step_in(step: Value, unit: Unit) -> Result<f64, NoValue> {
    let quantity = step.number()?;
    Ok(match (unit, quantity.unit) {
        (Unit::Celsius, Unit::Celsius | Unit::Kelvin) | (Unit::Fahrenheit, Unit::Fahrenheit) => quantity.value,
        (Unit::Celsius, Unit::Fahrenheit) => quantity.value / 1.8,
        (Unit::Fahrenheit, Unit::Celsius | Unit::Kelvin) => quantity.value * 1.8,
        _ => step.in_unit(unit)?,
    })
}

fn stepped(draws: &mut Draws, from: f64, to: f64, step: f64) -> Result<f64, NoValue> {
    let count = ((to - from) / step + 1e-9).floor();
    if step <= 0.0 || !(0.0..=1.0e6).contains(&count) {
        return Err(NoValue::Type(super::language::TypeError::Kind {
            found: format!("a draw from {from} to {to} by {step}"),
            wanted: "a range that is not empty",
        }));
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and a million")]
    let count = count as usize;
    #[expect(clippy::cast_precision_loss, reason = "at most a million")]
    let steps = draws.below(count + 1) as f64;
    Ok(from + steps * step)
}

/// The ends of a stretch of soot load on this machine, in percent.
fn ends(profile: &Profile, stretch: &str) -> Result<(f64, f64), NoValue> {
    let p = profile;
    let [work, watch, active, parked, stop] = STRETCHES;
    let last = p.stop_above_percent + 40.0;
    if let Some(band) = p.band_by_id(stretch).filter(|_| !STRETCHES.contains(&stretch)) {
        return Ok((band.from_percent, band.to_percent.min(last)));
    }
    Ok(match stretch {
        s if s == work => (0.0, p.passive.advise_from_percent),
        s if s == watch => (p.passive.advise_from_percent, p.active.from_percent),
        s if s == active => (p.active.from_percent, p.parked.from_percent),
        s if s == parked => (p.parked.from_percent, p.stop_above_percent),
        s if s == stop => (p.stop_above_percent, last),
        other => return Err(NoValue::Word(other.to_owned())),
    })
}

/// Whether a reading is so near to an edge that the right answer could be argued about.
pub(super) fn near_edge(template: &Template, profile: &Profile, s: &Situation) -> bool {
    let guarded = |reading| !template.edges.contains(&reading);
    let near = |value: f64, edge: f64, guard: f64| (value - edge).abs() < guard - 1e-9;
    let soot = guarded(EdgeReading::Soot)
        && (profile.soot_edges().iter().any(|edge| near(s.soot_percent, *edge, template.guard_percent))
            || near(s.ash_percent, profile.ash_service_percent, template.guard_percent));
    let outlet_edges = [profile.exhaust_hot_at_c, DRY_PLANTS_IGNITE_FROM_C, BURNS_SKIN_FROM_C];
    let outlet = guarded(EdgeReading::Outlet) && outlet_edges.iter().any(|edge| near(s.outlet_c, *edge, GUARD_C));
    let speed = guarded(EdgeReading::Speed) && near(s.speed_rpm, profile.active.min_speed_rpm, GUARD_RPM);
    let hours = guarded(EdgeReading::Hours) && near(s.hours_since_parked, profile.parked.min_hours_between, GUARD_H);
    // Where the work would settle matters only between the advised level and the active one.
    let advised = s.engine_running
        && (profile.passive.advise_from_percent..profile.active.from_percent).contains(&s.soot_percent);
    let balance = || {
        let balance = balance_percent(profile, s);
        near(balance, profile.active.from_percent, GUARD_BALANCE_PERCENT)
    };
    soot || outlet || speed || hours || (advised && balance())
}

fn freeze_all(
    template: &Template,
    moments: &[Drawn<'_>],
    built: Vec<Built>,
    source: &Source,
) -> Result<Vec<Question>, (u32, NoValue)> {
    let mut questions: Vec<Question> = Vec::with_capacity(moments.len());
    let mut so_far = Vec::new();
    // Readings that a later part does not set again are still what its reader works with.
    let mut assigned: Vec<Field> = Vec::new();
    for (place, ((part, drawn), built)) in template.parts.iter().zip(moments).zip(built).enumerate() {
        for located in &part.situation {
            let reading = located.what.0;
            if !assigned.contains(&reading) {
                assigned.push(reading);
            }
        }
        let mut question = freeze((template, part), drawn, built, source.clone(), &assigned)?;
        if moments.len() > 1 {
            let case = CasePlace { part: place + 1, of: moments.len(), so_far };
            so_far = case.so_far.iter().chain(&question.shown.story).cloned().collect();
            question.shown.case = Some(case);
        } else {
            so_far = Vec::new();
        }
        questions.push(question);
    }
    Ok(questions)
}

fn freeze(
    (template, part): (&Template, &Part),
    drawn: &Drawn<'_>,
    built: Built,
    source: Source,
    assigned: &[Field],
) -> Result<Question, (u32, NoValue)> {
    let Drawn { scope, situation, judgement, .. } = drawn;
    let profile = scope.profile;
    let unit = source.temperature_unit;
    let told = |paragraph: &Located<Text>| scope.fill(&paragraph.what, unit).map_err(|no| (paragraph.line, no));
    let story = part.story.iter().map(told).collect::<Result<_, _>>()?;
    let hints = part.hints.iter().map(told).collect::<Result<_, _>>()?;
    let prompt = told(&part.question)?;
    let readings = part.beside.readings.as_deref().unwrap_or(assigned);
    let reading = |field: &Field| {
        let (label, value) = field.shown(situation, unit);
        (label.to_owned(), value)
    };
    let mut shown = Shown {
        kind: part.kind,
        machine_name: profile.name.clone(),
        machine_kind: profile.kind.clone(),
        facts: readings.iter().map(reading).collect(),
        lamps: None,
        gauge: None,
        course: None,
        story,
        prompt,
        options: built.choices.iter().map(|choice| choice.text.clone()).collect(),
        unit: built.unit.map(|unit| unit.symbol().to_owned()),
        by_part: part.answer.by_part,
        case: None,
    };
    for figure in &part.beside.figures {
        match figure {
            Figure::Lamps => shown.lamps = Some(judgement.lamps),
            Figure::Gauge => shown.gauge = Some(gauge(profile, situation)),
            Figure::Plot => shown.course = scope.shift.as_deref().map(|shift| Course::of(shift, unit)),
        }
    }
    Ok(Question {
        source,
        competence: template.competence.clone(),
        mandatory: template.mandatory,
        level: template.level,
        shown,
        choices: built.choices,
        key: built.key,
        wrong_numbers: built.wrong_numbers,
        situation: *situation,
        verdict: Verdict::of(profile, situation, judgement, unit),
        reasons: built.reasons,
        hints,
        cautions: judgement.cautions(profile).into_iter().map(|caution| CautionWords::of(caution, unit)).collect(),
    })
}

fn gauge(profile: &Profile, situation: &Situation) -> Gauge {
    let bands = profile.bands.iter().map(|band| (band.name.clone(), band.from_percent)).collect();
    Gauge { soot_percent: situation.soot_percent, bands }
}
