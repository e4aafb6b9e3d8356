//! Questions with a list of things that are each so or not: actions, lamps, hazards, starting conditions.

use super::written::rights_among;
use super::{Asked, Built, Miss, Wrong, choose, shuffled};
use crate::aftertreatment::hazard::Hazard;
use crate::aftertreatment::judgement::{Action, Judgement};
use crate::aftertreatment::lamp::Lamp;
use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::situation::{Interlock, Regeneration, Situation};
use crate::scenario::draw::Draws;
use crate::scenario::question::{Choice, Key};
use crate::scenario::template::{Answer, Ask};

/// The last option of a lamp panel.
const NO_LAMP: &str = "No lamp";

/// Something that is so or not.
#[derive(Clone, Copy, PartialEq)]
enum Thing {
    Action(Action),
    Lamp(Lamp),
    Hazard(Hazard),
    Interlock(Interlock),
    /// That no lamp is lit.
    NoLamp,
}

/// One thing of the list.
#[derive(Clone, Copy)]
struct Line {
    thing: Thing,
    right: bool,
}

pub(super) fn several(asked: &Asked<'_>, draws: &mut Draws) -> Result<Built, Miss> {
    let lines = lines(asked);
    let believers = asked.believers(draws);
    let taken = pick(lines, &asked.template.answer, draws)?;
    Ok(built(asked, believers, &taken))
}

/// The whole panel: every lamp in its place, and at the end that none is lit, so that an empty answer stays no answer.
pub(super) fn panel(asked: &Asked<'_>, draws: &mut Draws) -> Built {
    let mut lines = lines(asked);
    lines.push(Line { thing: Thing::NoLamp, right: asked.judgement.lamps.is_empty() });
    built(asked, asked.believers(draws), &lines)
}

/// The lines as options, each with the misconception that sees it otherwise: the first of those that believe.
fn built(asked: &Asked<'_>, believers: Vec<usize>, lines: &[Line]) -> Built {
    let mut believes: Vec<Option<&str>> = vec![None; lines.len()];
    let permitted = asked.template.answer.ask == Ask::Permitted;
    for place in believers {
        if believes.iter().all(Option::is_some) {
            break;
        }
        let Some(believed) = asked.believed(place) else { continue };
        let view = (believed.profile, &believed.situation, &believed.judgement);
        for (line, believes) in lines.iter().zip(&mut believes).filter(|(_, believes)| believes.is_none()) {
            let otherwise = is_so(line.thing, view, permitted).is_some_and(|right| right != line.right);
            *believes = otherwise.then_some(believed.wrong.id);
        }
    }
    let as_choice = |(line, believes): (&Line, Option<&str>)| {
        let (text, why) = told(asked, *line);
        Choice { text, why, believes: believes.map(str::to_owned) }
    };
    let choices = lines.iter().zip(believes).map(as_choice).collect();
    let key = lines.iter().enumerate().filter(|(_, line)| line.right).map(|(place, _)| place).collect();
    Built { choices, key: Key::Options(key), wrong_numbers: Vec::new(), reasons: asked.reasons(), unit: None }
}

/// Takes some lines, at least one right and one wrong. Lamps, hazards and conditions keep their own order.
fn pick(lines: Vec<Line>, answer: &Answer, draws: &mut Draws) -> Result<Vec<Line>, Miss> {
    let (mut right, mut wrong): (Vec<_>, Vec<_>) = lines.into_iter().enumerate().partition(|(_, line)| line.right);
    if right.is_empty() || wrong.is_empty() {
        return Err(Miss::Again("nothing in the list is right, or everything is"));
    }
    draws.shuffle(&mut right);
    draws.shuffle(&mut wrong);
    let wanted = answer.options.max(4);
    let total = right.len() + wrong.len();
    if total < 3 {
        return Err(Miss::Again("there are fewer than three different options"));
    }
    let rights = rights_among(wanted, right.len(), wrong.len(), draws);
    right.truncate(rights);
    wrong.truncate(wanted - rights);
    let mut taken: Vec<(usize, Line)> = right.into_iter().chain(wrong).collect();
    if matches!(answer.ask, Ask::Permitted | Ask::Forbidden) {
        draws.shuffle(&mut taken);
    } else {
        taken.sort_by_key(|(place, _)| *place);
    }
    Ok(taken.into_iter().map(|(_, line)| line).collect())
}

/// Everything that the list may name, with whether it is so.
fn lines(asked: &Asked<'_>) -> Vec<Line> {
    let view = (asked.scope.profile, asked.situation, asked.judgement);
    let ask = asked.template.answer.ask;
    let line = |thing| is_so(thing, view, ask == Ask::Permitted).map(|right| Line { thing, right });
    match ask {
        Ask::Lamps => Lamp::ALL.into_iter().map(Thing::Lamp).filter_map(line).collect(),
        Ask::Hazards => Hazard::ALL.into_iter().map(Thing::Hazard).filter_map(line).collect(),
        Ask::BlockedBy => {
            let interlocks = asked.scope.profile.parked.interlocks.iter().copied();
            interlocks.map(Thing::Interlock).filter_map(line).collect()
        }
        _ => Action::ALL.into_iter().map(Thing::Action).filter_map(line).collect(),
    }
}

/// Whether something is so in a view of the moment; nothing where the list does not name it.
fn is_so(thing: Thing, (profile, s, judgement): (&Profile, &Situation, &Judgement), permitted: bool) -> Option<bool> {
    match thing {
        // Only what somebody could really do: a switch cannot be switched to where it is.
        Thing::Action(action) => {
            let possible = match action {
                Action::SwitchInhibitOn => !s.inhibit_on,
                Action::SwitchInhibitOff => s.inhibit_on,
                Action::SwitchEngineOff | Action::RaiseLoad => s.engine_running,
                Action::StartParked => s.regeneration != Regeneration::Parked,
                _ => true,
            };
            possible.then(|| judgement.permitted.contains(action) == permitted)
        }
        Thing::Lamp(lamp) => Some(judgement.lamps.contains(lamp)),
        Thing::Hazard(hazard) => Some(judgement.hazards.contains(hazard)),
        Thing::Interlock(interlock) => profile.parked.interlocks.contains(&interlock).then(|| !s.meets(interlock)),
        // Whoever sees a lamp lit or out otherwise is known by that lamp.
        Thing::NoLamp => None,
    }
}

/// A line in words, and why it is so or not.
fn told(asked: &Asked<'_>, Line { thing, right }: Line) -> (String, String) {
    let profile = &asked.machine.profile;
    let capital = |name: &str| name[..1].to_uppercase() + &name[1..];
    match thing {
        Thing::Action(action) => {
            let why = match action.forbidden_by(asked.scope.profile, asked.situation) {
                Some(comparison) => {
                    let because = crate::aftertreatment::explain::sentence(&[comparison.clause(asked.unit)]);
                    format!("This is forbidden now. {because}")
                }
                None => "Nothing in this situation forbids it.".to_owned(),
            };
            (capital(action.phrase()), why)
        }
        Thing::Lamp(lamp) => {
            let explained = profile.lamps.iter().find(|meaning| meaning.lamp == lamp);
            let state = if right { "It is lit." } else { "It is out." };
            let why = format!("{state} {}", explained.map_or("", |meaning| meaning.means.as_str()));
            (capital(lamp.name()), why.trim().to_owned())
        }
        Thing::Hazard(hazard) => {
            let why = match (right, profile.caution(hazard)) {
                (true, Some(caution)) => format!("It is present. {}", caution.what),
                (true, None) => "It is present.".to_owned(),
                (false, _) => "Nothing in this situation brings it about.".to_owned(),
            };
            (capital(hazard.name()), why)
        }
        Thing::Interlock(interlock) => {
            let why = if right { "This condition is missing." } else { "This condition is met." };
            (capital(interlock.name()), why.to_owned())
        }
        Thing::NoLamp => {
            let why = if right { "These readings light no lamp." } else { "These readings light at least one lamp." };
            (NO_LAMP.to_owned(), why.to_owned())
        }
    }
}

/// The one starting condition that is missing.
pub(super) fn one_open_interlock(asked: &Asked<'_>, draws: &mut Draws) -> Result<Built, Miss> {
    let (right, mut wrong): (Vec<_>, Vec<_>) = lines(asked).into_iter().partition(|line| line.right);
    let [right]: [Line; 1] = right.try_into().map_err(|_| Miss::Again("not exactly one condition is missing"))?;
    draws.shuffle(&mut wrong);
    let wrong = wrong.into_iter().map(|line| {
        let (text, why) = told(asked, line);
        Wrong { text, why, believes: None }
    });
    let wrong = wrong.collect();
    let (text, why) = told(asked, right);
    let right = Choice { text, why, believes: None };
    let reasons = vec![format!(
        "Everything else that this machine asks for is met; what is missing: {}.",
        super::lower_first(&right.text)
    )];
    let (right, wrong) = choose(asked.template.answer.options, right, wrong)?;
    Ok(shuffled(right, wrong, draws, reasons))
}
