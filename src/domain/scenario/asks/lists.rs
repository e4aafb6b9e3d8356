//! Questions with a list of things that are each so or not: actions, lamps, hazards, starting conditions.

use super::written::rights_among;
use super::{Asked, Believed, Built, Miss, Wrong, choose, shuffled};
use crate::aftertreatment::hazard::Hazard;
use crate::aftertreatment::judgement::Action;
use crate::aftertreatment::lamp::Lamp;
use crate::aftertreatment::rules::open_interlocks;
use crate::aftertreatment::situation::Regeneration;
use crate::scenario::draw::Draws;
use crate::scenario::question::{Choice, Key};
use crate::scenario::template::{Answer, Ask};

/// The last option of a lamp panel.
const NO_LAMP: &str = "No lamp";

/// One thing of the list.
struct Line {
    text: String,
    right: bool,
    why: String,
}

pub(super) fn several(asked: &Asked<'_>, draws: &mut Draws) -> Result<Built, Miss> {
    let lines = lines(asked, asked.template.answer.ask);
    let beliefs: Vec<_> = asked.beliefs(draws);
    let taken = pick(lines, &asked.template.answer, draws)?;
    Ok(built(asked, &beliefs, taken))
}

/// The whole panel: every lamp in its place, and at the end that none is lit, so that an empty answer stays no answer.
pub(super) fn panel(asked: &Asked<'_>, draws: &mut Draws) -> Built {
    let mut lines = lamps(asked);
    let none = asked.judgement.lamps.is_empty();
    let why = if none { "These readings light no lamp." } else { "These readings light at least one lamp." };
    lines.push(Line { text: NO_LAMP.to_owned(), right: none, why: why.to_owned() });
    built(asked, &asked.beliefs(draws), lines)
}

/// The lines as options, each with the misconception that sees it otherwise.
fn built(asked: &Asked<'_>, beliefs: &[Believed<'_>], lines: Vec<Line>) -> Built {
    let mut choices = Vec::new();
    let mut key = Vec::new();
    for (place, line) in lines.into_iter().enumerate() {
        let differs = beliefs.iter().find(|believed| {
            let view = Asked {
                situation: &believed.situation,
                judgement: &believed.judgement,
                scope: &believed.scope,
                plain: asked.plain,
                template: asked.template,
                machine: asked.machine,
                unit: asked.unit,
            };
            self::lines(&view, asked.template.answer.ask)
                .iter()
                .any(|seen| seen.text == line.text && seen.right != line.right)
        });
        if line.right {
            key.push(place);
        }
        let believes = differs.map(|believed| believed.wrong.id.to_owned());
        choices.push(Choice { text: line.text, why: line.why, believes });
    }
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

fn lines(asked: &Asked<'_>, ask: Ask) -> Vec<Line> {
    match ask {
        Ask::Lamps => lamps(asked),
        Ask::Hazards => hazards(asked),
        Ask::BlockedBy => conditions(asked),
        _ => actions(asked, ask == Ask::Permitted),
    }
}

fn actions(asked: &Asked<'_>, permitted: bool) -> Vec<Line> {
    let s = asked.situation;
    // Only what somebody could really do: a switch cannot be switched to where it is.
    let possible = Action::ALL.into_iter().filter(|action| match action {
        Action::SwitchInhibitOn => !s.inhibit_on,
        Action::SwitchInhibitOff => s.inhibit_on,
        Action::SwitchEngineOff | Action::RaiseLoad => s.engine_running,
        Action::StartParked => s.regeneration != Regeneration::Parked,
        _ => true,
    });
    possible
        .map(|action| {
            let forbidden = action.forbidden_by(asked.scope.profile, s);
            let why = match &forbidden {
                Some(comparison) => {
                    let because = crate::aftertreatment::explain::sentence(&[comparison.clause(asked.unit)]);
                    format!("This is forbidden now. {because}")
                }
                None => "Nothing in this situation forbids it.".to_owned(),
            };
            let phrase = action.phrase();
            let text = phrase[..1].to_uppercase() + &phrase[1..];
            Line { text, right: forbidden.is_none() == permitted, why }
        })
        .collect()
}

fn lamps(asked: &Asked<'_>) -> Vec<Line> {
    let explained = &asked.machine.profile.lamps;
    Lamp::ALL
        .into_iter()
        .map(|lamp| {
            let right = asked.judgement.lamps.contains(lamp);
            let means =
                explained.iter().find(|meaning| meaning.lamp == lamp).map_or("", |meaning| meaning.means.as_str());
            let name = lamp.name();
            let text = name[..1].to_uppercase() + &name[1..];
            let why = if right { format!("It is lit. {means}") } else { format!("It is out. {means}") };
            Line { text, right, why: why.trim().to_owned() }
        })
        .collect()
}

fn hazards(asked: &Asked<'_>) -> Vec<Line> {
    Hazard::ALL
        .into_iter()
        .map(|hazard| {
            let right = asked.judgement.hazards.contains(hazard);
            let name = hazard.name();
            let why = match (right, asked.machine.profile.caution(hazard)) {
                (true, Some(caution)) => format!("It is present. {}", caution.what),
                (true, None) => "It is present.".to_owned(),
                (false, _) => "Nothing in this situation brings it about.".to_owned(),
            };
            Line { text: name[..1].to_uppercase() + &name[1..], right, why }
        })
        .collect()
}

fn conditions(asked: &Asked<'_>) -> Vec<Line> {
    let profile = asked.scope.profile;
    let open: Vec<_> = open_interlocks(profile, asked.situation).collect();
    profile
        .parked
        .interlocks
        .iter()
        .map(|interlock| {
            let right = open.contains(interlock);
            let name = interlock.name();
            let why = if right { "This condition is missing." } else { "This condition is met." };
            Line { text: name[..1].to_uppercase() + &name[1..], right, why: why.to_owned() }
        })
        .collect()
}

/// The one starting condition that is missing.
pub(super) fn one_open_interlock(asked: &Asked<'_>, draws: &mut Draws) -> Result<Built, Miss> {
    let (right, wrong): (Vec<_>, Vec<_>) = conditions(asked).into_iter().partition(|line| line.right);
    let [right]: [Line; 1] = right.try_into().map_err(|_| Miss::Again("not exactly one condition is missing"))?;
    let mut wrong: Vec<Wrong> =
        wrong.into_iter().map(|line| Wrong { text: line.text, why: line.why, believes: None }).collect();
    draws.shuffle(&mut wrong);
    let right = Choice { text: right.text, why: right.why, believes: None };
    let reasons = vec![format!(
        "Everything else that this machine asks for is met; what is missing: {}.",
        super::lower_first(&right.text)
    )];
    let (right, wrong) = choose(asked.template.answer.options, right, wrong)?;
    Ok(shuffled(right, wrong, draws, reasons))
}
