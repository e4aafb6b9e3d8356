//! The bands: together they must cover every soot load once.

use super::is_word;
use crate::aftertreatment::lamp::{Lamp, LampSet};
use crate::aftertreatment::profile::{Band, Way};
use crate::document::Section;
use crate::units::{Unit, plain_number};

/// The bands of a file: those that could be read, with their place among all, and all of them when all could be.
pub(super) struct Bands {
    pub(super) readable: Vec<(usize, Band)>,
    pub(super) whole: Option<Vec<Band>>,
}

impl Bands {
    pub(super) fn read(root: &Section<'_>) -> Self {
        let sections = root.tables("band");
        if sections.is_empty() {
            root.report("band", "a profile needs bands; write [[band]] for each, the first from 0 %");
        }
        let last = sections.len().saturating_sub(1);
        let bands: Vec<Option<Band>> =
            sections.iter().enumerate().map(|(index, section)| band(section, index == last)).collect();
        tile(&sections, &bands);
        distinct(&sections, &bands);
        let readable: Vec<_> =
            bands.iter().enumerate().filter_map(|(index, band)| Some((index, band.clone()?))).collect();
        Self { whole: bands.into_iter().collect::<Option<Vec<_>>>().filter(|all| !all.is_empty()), readable }
    }
}

fn band(section: &Section<'_>, last: bool) -> Option<Band> {
    let id = section.text("id").filter(|id| {
        if !is_word(id) {
            section.report(
                "id",
                format!("\"{id}\" is not a word for templates; use a-z, digits and _, such as very_high"),
            );
        }
        is_word(id)
    });
    let name = section.text("name");
    let from = section.quantity_within("from", Unit::Percent, 0.0..=250.0);
    let to = upper_end(section, last);
    let lamps = section.list_of("lamps", &Lamp::ALL.map(Lamp::id), Lamp::from_id);
    let ways = section.list_of("ways", &Way::ALL.map(Way::id), Way::from_id);
    let power = section.quantity_within("power", Unit::Percent, 0.0..=100.0);
    let (from_percent, to_percent) = (from?, to?);
    if to_percent <= from_percent {
        let [low, high] = [from_percent, to_percent].map(plain_number);
        section.report("to", format!("the band ends at {high} %, which is not above its start, {low} %"));
        return None;
    }
    Some(Band {
        id: id?,
        name: name?,
        from_percent,
        to_percent,
        lamps: lamps?.into_iter().collect::<LampSet>(),
        ways: ways?,
        power_percent: power?,
    })
}

/// The last band has no upper end; every other has one.
fn upper_end(section: &Section<'_>, last: bool) -> Option<f64> {
    if !last {
        return section.quantity_within("to", Unit::Percent, 0.0..=250.0);
    }
    if section.has("to") {
        section.report("to", "the last band goes on without end; leave \"to\" out, or add the band above it");
        return None;
    }
    Some(f64::INFINITY)
}

fn tile(sections: &[Section<'_>], bands: &[Option<Band>]) {
    if let (Some(section), Some(Some(first))) = (sections.first(), bands.first())
        && first.from_percent != 0.0
    {
        let from = plain_number(first.from_percent);
        section.report("from", format!("the first band starts at {from} %; it must start at 0 %"));
    }
    for (section, pair) in sections.iter().skip(1).zip(bands.windows(2)) {
        let [Some(below), Some(band)] = pair else { continue };
        let (end, start) = (below.to_percent, band.from_percent);
        if end == start {
            continue;
        }
        let what = if start > end { "a gap" } else { "an overlap" };
        let message = format!(
            "there is {what}: \"{}\" ends at {} % and \"{}\" starts at {} %; both must be the same",
            below.id,
            plain_number(end),
            band.id,
            plain_number(start)
        );
        section.report("from", message);
    }
}

fn distinct(sections: &[Section<'_>], bands: &[Option<Band>]) {
    for (index, section) in sections.iter().enumerate() {
        let Some(band) = &bands[index] else { continue };
        if bands[..index].iter().flatten().any(|earlier| earlier.id == band.id) {
            section.report("id", format!("another band is called \"{}\"; give each its own word", band.id));
        }
    }
}
