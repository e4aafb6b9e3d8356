//! Puts what was drawn and built into words: questions, and where each stands in its case.
//!
//! Never draws, and never asks the model for an answer.

use super::Drawn;
use crate::aftertreatment::explain::Verdict;
use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::situation::Situation;
use crate::scenario::asks::Built;
use crate::scenario::course::Course;
use crate::scenario::language::Text;
use crate::scenario::question::{CasePlace, CautionWords, Gauge, Question, Shown, Source};
use crate::scenario::scope::NoValue;
use crate::scenario::template::{Figure, Located, Part, Template};
use crate::scenario::vocabulary::Field;

pub(super) fn freeze_all(
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
