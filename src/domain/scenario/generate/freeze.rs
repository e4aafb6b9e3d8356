//! Puts what was drawn and built into words: questions, and where each stands in its case.
//!
//! Never draws, and never asks the model for an answer.

use super::Drawn;
use crate::aftertreatment::explain::Verdict;
use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::situation::Situation;
use crate::scenario::asks::Built;
use crate::scenario::language::Text;
use crate::scenario::question::{CasePlace, CautionWords, Gauge, Question, Shown, Source};
use crate::scenario::scope::NoValue;
use crate::scenario::template::{Located, Part, Show, Template};

pub(super) fn freeze_all(
    template: &Template,
    moments: &[Drawn<'_>],
    built: Vec<Built>,
    source: &Source,
) -> Result<Vec<Question>, (u32, NoValue)> {
    let mut questions: Vec<Question> = Vec::with_capacity(moments.len());
    let mut so_far = Vec::new();
    // Readings that a later part does not set again are still what its reader works with.
    let mut assigned: Vec<Show> = Vec::new();
    for (place, ((part, drawn), built)) in template.parts.iter().zip(moments).zip(built).enumerate() {
        for located in &part.situation {
            let reading = Show::Reading(located.what.0);
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
    assigned: &[Show],
) -> Result<Question, (u32, NoValue)> {
    let Drawn { scope, situation, judgement, .. } = drawn;
    let profile = scope.profile;
    let unit = source.temperature_unit;
    let told = |paragraph: &Located<Text>| scope.fill(&paragraph.what, unit).map_err(|no| (paragraph.line, no));
    let story = part.story.iter().map(told).collect::<Result<_, _>>()?;
    let hints = part.hints.iter().map(told).collect::<Result<_, _>>()?;
    let prompt = told(&part.question)?;
    let mut shown = Shown {
        kind: part.kind,
        machine_name: profile.name.clone(),
        machine_kind: profile.kind.clone(),
        facts: Vec::new(),
        lamps: None,
        gauge: None,
        story,
        prompt,
        options: built.choices.iter().map(|choice| choice.text.clone()).collect(),
        unit: built.unit.map(|unit| unit.symbol().to_owned()),
        by_part: part.answer.by_part,
        case: None,
    };
    for show in part.show.as_deref().unwrap_or(assigned) {
        match show {
            Show::Lamps => shown.lamps = Some(judgement.lamps),
            Show::Gauge => shown.gauge = Some(gauge(profile, situation)),
            Show::Reading(field) => {
                let (label, value) = field.shown(situation, unit);
                shown.facts.push((label.to_owned(), value));
            }
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
