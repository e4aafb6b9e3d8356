//! What can be asked of the model, and the options that come of it: the key from the model, the wrong ones from
//! misconceptions first and from the other lawful answers after them.

mod figures;
mod lists;
mod order;
mod written;

use super::draw::Draws;
use super::generate::Machine;
use super::misconception::{self, Law, Misconception};
use super::question::{Choice, Key, Kind, WrongNumber};
use super::scope::Scope;
use super::template::{Ask, Part};
use crate::aftertreatment::judgement::{Judgement, Route, judge, why_not};
use crate::aftertreatment::lamp::LampSet;
use crate::aftertreatment::situation::Situation;
use crate::units::{TemperatureUnit, Unit};

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

/// What somebody answers who has a misconception.
pub(super) struct Believed<'a> {
    pub wrong: &'static Misconception,
    pub situation: Situation,
    pub judgement: Judgement,
    pub scope: Scope<'a>,
}

impl<'a> Asked<'a> {
    /// Every misconception's view of the moment: those that the template names first, the others in a drawn order.
    pub(super) fn beliefs(&self, draws: &mut Draws) -> Vec<Believed<'a>> {
        let named = &self.template.answer.believe;
        let mut others: Vec<usize> = (0..misconception::ALL.len()).filter(|place| !named.contains(place)).collect();
        draws.shuffle(&mut others);
        named.iter().copied().chain(others).filter_map(|place| self.believed(place)).collect()
    }

    /// One misconception's view; nothing when the scenario's own values make no sense in it.
    pub(super) fn believed(&self, place: usize) -> Option<Believed<'a>> {
        let (profile, situation, wrong) = self.machine.believed(place, self.situation);
        let judgement = judge(profile, &situation);
        let mut scope = self.plain.clone();
        scope.profile = profile;
        scope.law = wrong.law;
        let lets = &self.template.lets;
        scope.enter((situation, judgement), lets).ok()?;
        Some(Believed { wrong, situation, judgement, scope })
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

fn route(asked: &Asked<'_>, draws: &mut Draws) -> Result<Built, Miss> {
    let key = asked.judgement.route;
    let mut wrong: Vec<Wrong> = Vec::new();
    for believed in asked.beliefs(draws) {
        let route = believed.judgement.route;
        if apart(key, route) {
            wrong.push(Wrong::believed(route.instruction().to_owned(), believed.wrong, &why_wrong(asked, route)));
        }
    }
    let mut others: Vec<Route> = Route::ALL.into_iter().filter(|route| apart(key, *route)).collect();
    draws.shuffle(&mut others);
    wrong.extend(others.into_iter().map(|route| Wrong {
        text: route.instruction().to_owned(),
        why: why_wrong(asked, route),
        believes: None,
    }));
    let right =
        Choice { text: key.instruction().to_owned(), why: asked.judgement.reason.sentence(asked.unit), believes: None };
    let (right, wrong) = choose(asked.template.answer.options, right, wrong)?;
    Ok(shuffled(right, wrong, draws, asked.reasons()))
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
    let mut wrong: Vec<(usize, Option<&'static Misconception>)> = Vec::new();
    for believed in
        asked.beliefs(draws).iter().filter(|believed| believed.situation.soot_percent != asked.situation.soot_percent)
    {
        wrong.push((believed.judgement.band, Some(believed.wrong)));
    }
    let mut others: Vec<usize> = (0..bands.len()).collect();
    draws.shuffle(&mut others);
    wrong.extend(others.into_iter().map(|place| (place, None)));
    let wrong = wrong.into_iter().filter(|(place, _)| *place != key);
    let wrong = wrong.map(|(place, believes)| Wrong { text: bands[place].name.clone(), why: runs(place), believes });
    let right = Choice { text: bands[key].name.clone(), why: runs(key), believes: None };
    let (right, mut choices) = choose(asked.template.answer.options, right, wrong.collect())?;
    let text = right.text.clone();
    choices.push(right);
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
    let mut wrong: Vec<Wrong> = Vec::new();
    for believed in asked.beliefs(draws) {
        wrong.push(Wrong::believed(in_words(believed.judgement.lamps), believed.wrong, ""));
    }
    let mut others: Vec<LampSet> = Vec::new();
    for band in &profile.bands {
        let hot = band.lamps.with(crate::aftertreatment::lamp::Lamp::ExhaustHot);
        others.extend([band.lamps, hot, hot.with(crate::aftertreatment::lamp::Lamp::Filter)]);
    }
    draws.shuffle(&mut others);
    wrong.extend(others.into_iter().map(|set| {
        Wrong {
            text: in_words(set),
            why: format!(
                "{} That is not what these readings light. {}",
                if set.is_empty() { "No lamp would be lit." } else { "" },
                meaning(set)
            )
            .trim()
            .to_owned(),
            believes: None,
        }
    }));
    let right = Choice {
        text: in_words(key),
        why: format!("These readings light exactly this. {}", meaning(key)).trim().to_owned(),
        believes: None,
    };
    let reasons = vec![right.why.clone()];
    let (right, wrong) = choose(asked.template.answer.options, right, wrong)?;
    Ok(shuffled(right, wrong, draws, reasons))
}

/// A set of lamps as a phrase.
fn in_words(set: LampSet) -> String {
    let names: Vec<&str> = set.iter().map(crate::aftertreatment::lamp::Lamp::name).collect();
    match names.as_slice() {
        [] => "No lamp".to_owned(),
        [one] => format!("Only the {one}"),
        [first @ .., last] => format!("The {} and the {last}", first.join(", the ")),
    }
}

/// Numbers come out of the model's law unless the misconception has its own.
pub(super) fn changes_numbers(believed: &Believed<'_>, asked: &Asked<'_>) -> bool {
    believed.wrong.law != Law::Model || believed.situation != *asked.situation
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
