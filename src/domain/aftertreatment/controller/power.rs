//! How much engine power is left: by soot, step by step, and by regenerations held back.
//!
//! Power is taken at once and given back late: one percentage point below the step, or when a regeneration has completed.
//! Without that a machine that works near a step would hunt, because less power makes less soot.

use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::situation::Situation;

/// How far in percentage points soot must fall below a step before it is undone. Chosen by us.
const GIVEN_BACK_BELOW: f64 = 1.0;

/// The power that is left.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Power {
    /// The band whose power is in force.
    place: usize,
    percent: f64,
}

impl Power {
    pub(super) fn new(profile: &Profile, s: &Situation) -> Self {
        let place = profile.band_place(s.soot_percent);
        Self { place, percent: left(profile, place, s.inhibits) }
    }

    pub(super) const fn percent(self) -> f64 {
        self.percent
    }

    /// The power before and now, when the readings change it.
    pub(super) fn settle(&mut self, profile: &Profile, s: &Situation) -> Option<(f64, f64)> {
        let place = profile.band_place(s.soot_percent);
        self.place = self.place.max(place);
        while self.place > place && s.soot_percent < given_back_below(profile, self.place) {
            self.place -= 1;
        }
        let (before, now) = (self.percent, left(profile, self.place, s.inhibits));
        self.percent = now;
        (before != now).then_some((before, now))
    }

    /// A completed regeneration gives back what the soot no longer costs.
    pub(super) fn restore(&mut self, profile: &Profile, s: &Situation) {
        self.place = profile.band_place(s.soot_percent);
    }
}

fn left(profile: &Profile, place: usize, inhibits: u32) -> f64 {
    let by_soot = profile.bands[place].power_percent;
    if inhibits >= profile.inhibit.derate_after { by_soot.min(profile.inhibit.power_percent) } else { by_soot }
}

fn given_back_below(profile: &Profile, place: usize) -> f64 {
    profile.bands[place].from_percent - GIVEN_BACK_BELOW
}

/// The soot loads in percent at which power is given back.
pub(super) fn marks(profile: &Profile) -> impl Iterator<Item = f64> {
    (1..profile.bands.len())
        .filter(|place| profile.bands[*place].power_percent < profile.bands[place - 1].power_percent)
        .map(|place| given_back_below(profile, place))
        .filter(|mark| *mark > 0.0)
}
