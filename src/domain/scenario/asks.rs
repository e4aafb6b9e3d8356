//! What can be asked of the model, and the options that come of it: the key from the model, the wrong ones from
//! misconceptions first and from the other lawful answers after them.

mod figures;
mod lists;
mod order;
mod written;

use super::draw::Draws;
use super::generate::Machine;
use super::misconception::{self, Misconception};
use super::question::{Choice, Key, Kind, WrongNumber};
use super::scope::Scope;
use super::shift::Shift;
use super::template::{Ask, Figure, Part};
use crate::aftertreatment::judgement::{Judgement, Route, judge, why_not};
use crate::aftertreatment::lamp::{Lamp, LampSet};
use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::situation::Situation;
use crate::units::{TemperatureUnit, Unit};
use std::sync::Arc;

/// A moment that is asked about.
pub(super) struct Asked<'a> {
    /// What asks: a template's only part, or one part of a case.
    pub template: &'a Part,
    pub machine: &'a Machine,
    /// Everything there is to say about the moment.
    pub scope: &'a Scope<'a>,
    /// The same before the situation, for a misconception to start from.
    pub plain: &'a Scope<'a>,
    pub situation: &'a Situation,
    pub judgement: &'a Judgement,
    pub unit: TemperatureUnit,
}

/// Options with a proven key.
pub(super) struct Built {
    pub choices: Vec<Choice>,
    pub key: Key,
    pub wrong_numbers: Vec<WrongNumber>,
    pub reasons: Vec<String>,
    pub unit: Option<Unit>,
}

/// Why this draw gives no question.
pub(super) enum Miss {
    /// Another draw may do better.
    Again(&'static str),
    /// The template is at fault.
    Broken(u32, String),
}

pub(super) fn build(asked: &Asked<'_>, draws: &mut Draws) -> Result<Built, Miss> {
    match (asked.template.answer.ask, asked.template.kind) {
        (Ask::Route, _) => route(asked, draws),
        (Ask::Band, _) => band(asked, draws),
        (Ask::Lamps, Kind::ChooseOne) => lamps(asked, draws),
        (Ask::Lamps, Kind::LampPanel) => Ok(lists::panel(asked, draws)),
        (Ask::BlockedBy, Kind::ChooseOne) => lists::one_open_interlock(asked, draws),
        (Ask::Lamps | Ask::Hazards | Ask::BlockedBy | Ask::Permitted | Ask::Forbidden, _) => {
            lists::several(asked, draws)
        }
        (Ask::Number, Kind::Number) => figures::number(asked),
        (Ask::Number, _) => figures::choice(asked, draws),
        (Ask::Statements, _) => written::statements(asked, draws),
        (Ask::Rank, _) => order::rank(asked, draws),
        (Ask::Procedure, _) => order::procedure(asked, draws),
    }
}

/// How somebody sees the moment who has a misconception.
pub(super) struct Believed<'a> {
    pub wrong: &'static Misconception,
    pub profile: &'a Profile,
    pub situation: Situation,
    pub judgement: Judgement,
    /// The time before the moment, where it runs otherwise on the machine that is believed in.
    shift: Option<Arc<Shift>>,
}

impl<'a> Asked<'a> {
    /// The misconceptions in the order in which their wrong answers are taken: those that the template names first, the
    /// others in a drawn order.
    pub(super) fn believers(&self, draws: &mut Draws) -> Vec<usize> {
        let named = &self.template.answer.believe;
        let mut others: Vec<usize> = (0..misconception::ALL.len()).filter(|place| !named.contains(place)).collect();
        draws.shuffle(&mut others);
        named.iter().copied().chain(others).collect()
    }

    /// One misconception's view; nothing when the scenario's own values make no sense in it.
    pub(super) fn believed(&self, place: usize) -> Option<Believed<'a>> {
        let wrong = &misconception::ALL[place];
        let (profile, mut situation, mut shift) = (self.machine.believed(place), *self.situation, None);
        if wrong.bend_profile.is_some() && !self.template.shift.is_empty() {
            let worked = self.worked_as_believed(profile)?;
            situation = self.as_read(worked.end());
            shift = Some(Arc::new(worked));
        }
        if let Some(bend) = wrong.bend_situation {
            bend(&self.machine.profile, &mut situation);
        }
        let judgement = judge(profile, &situation);
        Some(Believed { wrong, profile, situation, judgement, shift })
    }

    /// The shift once more, on the machine that somebody believes in.
    fn worked_as_believed(&self, profile: &'a Profile) -> Option<Shift> {
        let before = *self.plain.shift.as_ref()?.before();
        let mut scope = self.plain.clone();
        scope.profile = profile;
        Shift::make(&self.template.shift, &scope, &before).ok()
    }

    /// A moment with everything that the reader sees beside the story: what is read is not worked out.
    fn as_read(&self, mut believed: Situation) -> Situation {
        let beside = &self.template.beside;
        let assigned = || self.template.situation.iter().map(|located| located.what.0).collect();
        for field in beside.readings.clone().unwrap_or_else(assigned) {
            field.copy(self.situation, &mut believed);
        }
        for figure in &beside.figures {
            match figure {
                Figure::Gauge => believed.soot_percent = self.situation.soot_percent,
                Figure::Plot => {
                    believed.soot_percent = self.situation.soot_percent;
                    believed.outlet_c = self.situation.outlet_c;
                }
                Figure::Lamps => {}
            }
        }
        believed
    }

    /// Everything there is to say about the moment as it is believed to be; nothing when the scenario's own values make no
    /// sense in it.
    pub(super) fn scope_of(&self, believed: &Believed<'a>) -> Option<Scope<'a>> {
        let mut scope = self.plain.clone();
        scope.profile = believed.profile;
        scope.law = believed.wrong.law;
        if believed.shift.is_some() {
            scope.shift.clone_from(&believed.shift);
        }
        scope.enter((believed.situation, believed.judgement), &self.template.lets).ok()?;
        Some(scope)
    }

    /// Why the model's answer is right, in sentences.
    pub(super) fn reasons(&self) -> Vec<String> {
        vec![self.judgement.reason.sentence(self.unit)]
    }
}

/// A wrong option before it is placed.
pub(super) struct Wrong {
    pub text: String,
    pub why: String,
    pub believes: Option<&'static Misconception>,
}

impl Wrong {
    pub(super) fn believed(text: String, wrong: &'static Misconception, why: &str) -> Self {
        Self { text, why: format!("{} {why}", wrong.teach).trim().to_owned(), believes: Some(wrong) }
    }
}

/// Takes as many wrong options as are wanted, each different from the key and from one another.
pub(super) fn choose(wanted: usize, right: Choice, wrong: Vec<Wrong>) -> Result<(Choice, Vec<Choice>), Miss> {
    let mut taken: Vec<Choice> = Vec::new();
    for Wrong { text, why, believes } in wrong {
        let same = |other: &str| other.eq_ignore_ascii_case(&text);
        if taken.len() + 1 < wanted && !same(&right.text) && !taken.iter().any(|choice| same(&choice.text)) {
            taken.push(Choice { text, why, believes: believes.map(|wrong| wrong.id.to_owned()) });
        }
    }
    // Three options are enough. Source: Rodriguez 2005, Educ. Meas.: Issues and Practice 24(2).
    if taken.len() < 2 { Err(Miss::Again("there are fewer than three different options")) } else { Ok((right, taken)) }
}

/// Puts the options into a drawn order and finds the key.
pub(super) fn shuffled(right: Choice, wrong: Vec<Choice>, draws: &mut Draws, reasons: Vec<String>) -> Built {
    let mut choices = wrong;
    let at = draws.below(choices.len() + 1);
    draws.shuffle(&mut choices);
    choices.insert(at, right);
    Built { choices, key: Key::Options(vec![at]), wrong_numbers: Vec::new(), reasons, unit: None }
}

/// A wrong answer, and the misconception that gives it.
type Offered<T> = (T, Option<&'static Misconception>);

/// As many wrong answers as go beside the key, each once and none of them the key; those that come first are taken.
fn beside<T: PartialEq>(
    wanted: usize,
    key: &T,
    offered: impl Iterator<Item = Offered<T>>,
) -> Result<Vec<Offered<T>>, Miss> {
    let mut taken: Vec<Offered<T>> = Vec::with_capacity(wanted);
    for (answer, believes) in offered {
        if answer != *key && !taken.iter().any(|(known, _)| *known == answer) {
            taken.push((answer, believes));
        }
        if taken.len() + 1 == wanted {
            break;
        }
    }
    // Three options are enough. Source: Rodriguez 2005, Educ. Meas.: Issues and Practice 24(2).
    if taken.len() < 2 { Err(Miss::Again("there are fewer than three different options")) } else { Ok(taken) }
}

fn route(asked: &Asked<'_>, draws: &mut Draws) -> Result<Built, Miss> {
    let key = asked.judgement.route;
    let believers = asked.believers(draws);
    let mut others: Vec<Route> = Route::ALL.into_iter().filter(|route| apart(key, *route)).collect();
    draws.shuffle(&mut others);
    let believed = believers.into_iter().filter_map(|place| asked.believed(place));
    let believed = believed.map(|believed| (believed.judgement.route, Some(believed.wrong)));
    let offered = believed.filter(|(route, _)| apart(key, *route)).chain(others.into_iter().map(|route| (route, None)));
    let wrong = beside(asked.template.answer.options, &key, offered)?;
    let wrong = wrong.into_iter().map(|(route, believes)| {
        let why = why_wrong(asked, route);
        choice(route.instruction().to_owned(), believes, why)
    });
    let right =
        Choice { text: key.instruction().to_owned(), why: asked.judgement.reason.sentence(asked.unit), believes: None };
    Ok(shuffled(right, wrong.collect(), draws, asked.reasons()))
}

/// A wrong option; what is to be taught stands before why it does not fit here.
fn choice(text: String, believes: Option<&'static Misconception>, why: String) -> Choice {
    match believes {
        None => Choice { text, why, believes: None },
        Some(wrong) => Choice {
            text,
            why: format!("{} {why}", wrong.teach).trim().to_owned(),
            believes: Some(wrong.id.to_owned()),
        },
    }
}

/// Whether a route cannot be argued to be right as well, where `key` is. What comes to nearly the same, or does more than
/// is needed without doing harm, is never offered beside the key.
const fn apart(key: Route, other: Route) -> bool {
    use Route::{BreakOffParked, HoldBackAndMove, LetActiveRun, MoveFirst, RaiseSpeed, WorkHarder, WorkOn};
    match (key, other) {
        // All three take the heat away from what it can hurt.
        (MoveFirst | HoldBackAndMove | BreakOffParked, MoveFirst | HoldBackAndMove | BreakOffParked)
        // All of these go on working; the one that asks for more can still be a wrong answer's opposite, not its twin.
        | (WorkOn, LetActiveRun | WorkHarder)
        | (LetActiveRun, WorkOn | RaiseSpeed)
        // More speed is more heat from work, too.
        | (WorkHarder, RaiseSpeed) => false,
        _ => key as u8 != other as u8,
    }
}

fn why_wrong(asked: &Asked<'_>, route: Route) -> String {
    let Some(finding) = why_not(&asked.machine.profile, asked.situation, route) else { return String::new() };
    match finding.missing(asked.unit) {
        Some(missing) => format!("It does not fit here: {}", lower_first(&missing)),
        None => format!("Something else comes first: {}", lower_first(&asked.judgement.reason.sentence(asked.unit))),
    }
}

fn lower_first(sentence: &str) -> String {
    let mut letters = sentence.chars();
    letters.next().into_iter().flat_map(char::to_lowercase).chain(letters).collect()
}

fn band(asked: &Asked<'_>, draws: &mut Draws) -> Result<Built, Miss> {
    let bands = &asked.machine.profile.bands;
    let key = asked.judgement.band;
    let soot = format!("{} %", crate::units::plain_number(asked.situation.soot_percent));
    let runs = |place: usize| {
        let band = &bands[place];
        if band.to_percent.is_finite() {
            format!(
                "\"{}\" runs from {} % to {} %; the soot load is {soot}.",
                band.name, band.from_percent, band.to_percent
            )
        } else {
            format!("\"{}\" begins at {} %; the soot load is {soot}.", band.name, band.from_percent)
        }
    };
    let believers = asked.believers(draws);
    let mut others: Vec<usize> = (0..bands.len()).collect();
    draws.shuffle(&mut others);
    let believed = believers.into_iter().filter_map(|place| asked.believed(place));
    let believed = believed.filter(|believed| believed.situation.soot_percent != asked.situation.soot_percent);
    let believed = believed.map(|believed| (believed.judgement.band, Some(believed.wrong)));
    let offered = believed.chain(others.into_iter().map(|place| (place, None)));
    let wrong = beside(asked.template.answer.options, &key, offered)?;
    let as_choice = |(place, believes): Offered<usize>| Choice {
        text: bands[place].name.clone(),
        why: runs(place),
        believes: believes.map(|wrong| wrong.id.to_owned()),
    };
    let mut choices: Vec<Choice> = wrong.into_iter().map(as_choice).collect();
    let text = bands[key].name.clone();
    choices.push(as_choice((key, None)));
    // Bands have an order of their own; readers find them in it.
    choices.sort_by_key(|choice| bands.iter().position(|band| band.name == choice.text));
    let at = choices.iter().position(|choice| choice.text == text).unwrap_or_default();
    Ok(Built { choices, key: Key::Options(vec![at]), wrong_numbers: Vec::new(), reasons: vec![runs(key)], unit: None })
}

fn lamps(asked: &Asked<'_>, draws: &mut Draws) -> Result<Built, Miss> {
    let key = asked.judgement.lamps;
    let profile = &asked.machine.profile;
    let meaning = |set: LampSet| {
        let meant = profile.lamps.iter().filter(|meaning| set.contains(meaning.lamp));
        meant.map(|meaning| format!("The {}: {}", meaning.lamp.name(), meaning.means)).collect::<Vec<_>>().join(" ")
    };
    let believers = asked.believers(draws);
    let mut others: Vec<LampSet> = Vec::new();
    for band in &profile.bands {
        let hot = band.lamps.with(Lamp::ExhaustHot);
        others.extend([band.lamps, hot, hot.with(Lamp::Filter)]);
    }
    draws.shuffle(&mut others);
    let believed = believers.into_iter().filter_map(|place| asked.believed(place));
    let believed = believed.map(|believed| (believed.judgement.lamps, Some(believed.wrong)));
    let offered = believed.chain(others.into_iter().map(|set| (set, None)));
    let wrong = beside(asked.template.answer.options, &key, offered)?;
    let wrong = wrong.into_iter().map(|(set, believes)| {
        let none = if set.is_empty() { "No lamp would be lit." } else { "" };
        let why = match believes {
            Some(_) => String::new(),
            None => format!("{none} That is not what these readings light. {}", meaning(set)).trim().to_owned(),
        };
        choice(in_words(set), believes, why)
    });
    let right = Choice {
        text: in_words(key),
        why: format!("These readings light exactly this. {}", meaning(key)).trim().to_owned(),
        believes: None,
    };
    let reasons = vec![right.why.clone()];
    Ok(shuffled(right, wrong.collect(), draws, reasons))
}

/// A set of lamps as a phrase.
fn in_words(set: LampSet) -> String {
    let names: Vec<&str> = set.iter().map(Lamp::name).collect();
    match names.as_slice() {
        [] => "No lamp".to_owned(),
        [one] => format!("Only the {one}"),
        [first @ .., last] => format!("The {} and the {last}", first.join(", the ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pairs of routes that must never stand beside each other with the first as the key.
    const CLOSE: [(Route, Route); 5] = [
        (Route::WorkOn, Route::LetActiveRun),
        (Route::LetActiveRun, Route::WorkOn),
        (Route::MoveFirst, Route::HoldBackAndMove),
        (Route::HoldBackAndMove, Route::BreakOffParked),
        (Route::WorkOn, Route::WorkHarder),
    ];

    #[test]
    fn what_comes_to_the_same_is_not_offered_beside_the_key() {
        for (key, other) in CLOSE {
            assert!(!apart(key, other), "{key:?} {other:?}");
        }
        assert!(Route::ALL.into_iter().all(|route| !apart(route, route)));
    }

    #[test]
    fn the_mistakes_that_matter_can_still_be_offered() {
        // Common practice, no published source: light work is not enough, an active one needs speed, red is not amber.
        for (key, other) in [
            (Route::WorkHarder, Route::WorkOn),
            (Route::RaiseSpeed, Route::LetActiveRun),
            (Route::MoveFirst, Route::StartParked),
            (Route::HoldBackAndMove, Route::LetActiveRun),
            (Route::BreakOffParked, Route::StayWithParked),
            (Route::StopAndCall, Route::StartParked),
            (Route::MeetConditions, Route::StartParked),
        ] {
            assert!(apart(key, other), "{key:?} {other:?}");
        }
        for key in Route::ALL {
            let others = Route::ALL.into_iter().filter(|other| apart(key, *other)).count();
            assert!(others >= 9, "{key:?} leaves {others}");
        }
    }
}
