//! What the profile tells people: what a lamp means, the parked regeneration step by step, the cautions.

use crate::aftertreatment::hazard::{Hazard, SignalWord};
use crate::aftertreatment::lamp::Lamp;
use crate::aftertreatment::profile::{Caution, LampMeaning, Step};
use crate::document::Section;

const SIGNAL_WORDS: [&str; 4] = ["danger", "warning", "caution", "notice"];

/// What the file tells people.
pub(super) struct Notices {
    pub(super) lamps: Option<Vec<LampMeaning>>,
    pub(super) procedure: Option<Vec<Step>>,
    pub(super) cautions: Option<Vec<Caution>>,
}

impl Notices {
    pub(super) fn read(root: &Section<'_>) -> Self {
        Self {
            lamps: root.section("lamps").map(|section| lamps(&section)),
            procedure: procedure(root),
            cautions: cautions(root),
        }
    }
}

/// Asking for every lamp makes any other word in the section an unknown field.
fn lamps(section: &Section<'_>) -> Vec<LampMeaning> {
    Lamp::ALL
        .into_iter()
        .filter_map(|lamp| Some(LampMeaning { lamp, means: section.optional_text(lamp.id())? }))
        .collect()
}

fn procedure(root: &Section<'_>) -> Option<Vec<Step>> {
    let sections = root.tables("step");
    let steps = sections.iter().map(step).collect::<Option<Vec<_>>>()?;
    if sections.is_empty() {
        root.report("step", "the parked regeneration has no steps; write [[step]] with action, reason and critical");
    } else if !steps.iter().any(|step| step.critical) {
        root.report("step", "no step is critical; write critical = true where leaving it out can hurt someone");
    }
    (!steps.is_empty()).then_some(steps)
}

fn step(section: &Section<'_>) -> Option<Step> {
    let (action, reason) = (section.text("action"), section.text("reason"));
    let critical = section.bool("critical");
    Some(Step { action: action?, reason: reason?, critical: critical? })
}

fn cautions(root: &Section<'_>) -> Option<Vec<Caution>> {
    let sections = root.tables("caution");
    let mut spoken = Vec::new();
    let mut cautions = Vec::new();
    for section in &sections {
        let hazard = section.one_of("hazard", &Hazard::ALL.map(Hazard::id), Hazard::from_id);
        if let Some(hazard) = hazard {
            if spoken.contains(&hazard) {
                section.report("hazard", format!("\"{}\" has a caution already; leave one", hazard.id()));
            }
            spoken.push(hazard);
        }
        cautions.push(caution(section, hazard));
    }
    for hazard in Hazard::ALL.into_iter().filter(|hazard| !spoken.contains(hazard)) {
        let message = format!("the hazard \"{}\" has no caution; write a [[caution]] for it", hazard.id());
        root.report("caution", message);
    }
    cautions.into_iter().collect()
}

fn caution(section: &Section<'_>, hazard: Option<Hazard>) -> Option<Caution> {
    let signal = section.one_of("signal", &SIGNAL_WORDS, SignalWord::from_id);
    let (what, consequence) = (section.text("what"), section.text("consequence"));
    let avoid = section.text("avoid");
    Some(Caution { hazard: hazard?, signal: signal?, what: what?, consequence: consequence?, avoid: avoid? })
}
