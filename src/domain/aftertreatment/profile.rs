//! A machine profile: one family of machines with everything the model needs to know about its filter.
//!
//! A profile that exists is consistent: bands tile the soot range, the parked range ends at or below the stop level,
//! every lamp it lights is explained. It never changes; a change is a new version. Its numbers are training values:
//! the operator's manual of the real machine decides.

use super::hazard::{Hazard, SignalWord};
use super::lamp::{Lamp, LampSet};
use super::maps::{Curve, Map};
use super::situation::Interlock;
use crate::document::Problem;
use serde::{Deserialize, Serialize};

/// One family of machines.
#[derive(Clone, Debug, PartialEq)]
pub struct Profile {
    /// Stable name in files, addresses and records, such as `tarrel-60`.
    pub id: String,
    /// What people call it, such as "Tarrel 60".
    pub name: String,
    /// What kind of machine it is, such as "telehandler".
    pub kind: String,
    /// The filter itself.
    pub filter: Filter,
    /// Engine-out soot in mg/s over engine load (%) and speed (rpm).
    pub soot_mg_per_s: Map,
    /// Steady filter outlet temperature in deg C over engine load (%) and speed (rpm).
    pub outlet_c: Map,
    /// How the outlet follows the work, the engine and the weather.
    pub thermal: ThermalRule,
    /// When the engine counts as warm.
    pub engine: EngineRule,
    /// NO2 at the filter in ppm over outlet temperature in deg C.
    pub no2_ppm: Curve,
    /// Outlet temperature in deg C at which the exhaust-hot lamp comes on.
    pub exhaust_hot_at_c: f64,
    /// What each lamp of this machine means.
    pub lamps: Vec<LampMeaning>,
    /// The bands, in rising order, without gap or overlap, the last without upper end.
    pub bands: Vec<Band>,
    /// Passive regeneration.
    pub passive: PassiveRule,
    /// Active regeneration.
    pub active: ActiveRule,
    /// Parked regeneration.
    pub parked: ParkedRule,
    /// The operator's switch and what overusing it brings.
    pub inhibit: InhibitRule,
    /// Soot load in percent above which the machine must not be used.
    pub stop_above_percent: f64,
    /// Ash load in percent from which a service cleaning is due.
    pub ash_service_percent: f64,
    /// Engine hours in which a filter without ash reaches that level. Ash comes with hours, whatever the work.
    pub ash_service_after_h: f64,
    /// The parked regeneration's steps, in order.
    pub procedure: Vec<Step>,
    /// The machine's words for each hazard.
    pub cautions: Vec<Caution>,
}

/// The filter's size and coating.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Filter {
    /// Volume in litres, above 0.
    pub volume_l: f64,
    /// Soot per litre that counts as 100 %, in g/L, above 0.
    pub full_load_g_per_l: f64,
    /// Which reactions run.
    pub coating: Coating,
}

impl Filter {
    /// Soot mass in grams that counts as 100 %.
    #[must_use]
    pub fn full_load_g(&self) -> f64 {
        self.volume_l * self.full_load_g_per_l
    }
}

/// How the outlet temperature follows what the machine does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThermalRule {
    /// Ambient temperature in deg C for which the outlet map holds. Elsewhere the steady value is shifted by the difference.
    pub reference_ambient_c: f64,
    /// Time constant in s with which the outlet approaches the steady value of the work, above 0.
    pub time_constant_s: f64,
    /// Time constant in s with which the outlet of a machine that is switched off approaches the ambient temperature.
    pub cooling_s: f64,
}

/// When the engine counts as warm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EngineRule {
    /// Seconds that a cold engine runs until it is at working temperature.
    pub warm_after_s: f64,
    /// Seconds that it stands switched off until it counts as cold.
    pub cold_after_s: f64,
}

/// Whether the filter helps NO2 burn soot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Coating {
    /// Catalysed: soot burns by NO2 from about 250 deg C and by O2 when hotter.
    Catalysed,
    /// Bare: soot burns by O2 alone.
    Bare,
}

/// What a lit lamp tells the operator.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LampMeaning {
    /// The lamp.
    pub lamp: Lamp,
    /// Plain words, such as "The exhaust is hot".
    pub means: String,
}

/// A way of cleaning; the trade's four words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Way {
    /// By the exhaust heat of work.
    Passive,
    /// Started by the machine, with extra heat, while it works.
    Active,
    /// Started by the operator on a machine that stands.
    Parked,
    /// By the service workshop.
    Service,
}

impl Way {
    /// Every way, mildest first.
    pub const ALL: [Self; 4] = [Self::Passive, Self::Active, Self::Parked, Self::Service];

    /// The word in files and templates.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::Passive => "passive",
            Self::Active => "active",
            Self::Parked => "parked",
            Self::Service => "service",
        }
    }

    /// Finds a way by its word in files.
    #[must_use]
    pub fn from_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|way| way.id() == id)
    }
}

/// A named stretch of soot load.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// The word in templates, such as `very_high`.
    pub id: String,
    /// What people call it, such as "very high".
    pub name: String,
    /// Lower end in percent; belongs to the band.
    pub from_percent: f64,
    /// Upper end in percent; belongs to the next band. Infinite for the last.
    pub to_percent: f64,
    /// Lamps this soot load lights by itself.
    pub lamps: LampSet,
    /// Ways of cleaning that are open here.
    pub ways: Vec<Way>,
    /// Engine power left, in percent of full power.
    pub power_percent: f64,
}

impl Band {
    /// Whether this band leaves a way of cleaning open.
    #[must_use]
    pub fn allows(&self, way: Way) -> bool {
        self.ways.contains(&way)
    }
}

/// When work alone is enough.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PassiveRule {
    /// Soot load in percent from which more load is advised while the soot still rises.
    pub advise_from_percent: f64,
}

/// When and how an active regeneration runs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ActiveRule {
    /// Soot load in percent at which it may begin.
    pub from_percent: f64,
    /// Soot load in percent by which it has begun at the latest.
    pub by_percent: f64,
    /// Temperature it holds, in deg C.
    pub temperature_c: f64,
    /// Hottest gas at the outlet while it runs, in deg C.
    pub gas_up_to_c: f64,
    /// Usual length in minutes.
    pub minutes: f64,
    /// Engine speed in rpm below which it cannot run.
    pub min_speed_rpm: f64,
    /// Seconds at too low a speed after which it breaks off.
    pub slow_for_s: f64,
    /// Outlet temperature in deg C below which it does not begin: the extra fuel would not light.
    pub light_off_c: f64,
    /// Time constant in s with which the outlet approaches the temperature it holds, above 0.
    pub rise_s: f64,
    /// Minutes after one that was held back or broken off before the machine tries again.
    pub retry_after_min: f64,
    /// Engine hours at which the first is expected.
    pub first_after_h: f64,
    /// Usual engine hours between two.
    pub usual_every_h: f64,
    /// Extra fuel it burns, in litres.
    pub fuel_l: f64,
}

/// When and how a parked regeneration may be started.
#[derive(Clone, Debug, PartialEq)]
pub struct ParkedRule {
    /// Soot load in percent from which it is called for.
    pub from_percent: f64,
    /// Soot load in percent up to which it is allowed.
    pub to_percent: f64,
    /// Shortest usual length in minutes.
    pub minutes_min: f64,
    /// Longest usual length in minutes.
    pub minutes_max: f64,
    /// Engine hours that must have passed since the last one...
    pub min_hours_between: f64,
    /// ...unless the soot load in percent is above this.
    pub unless_above_percent: f64,
    /// Temperature it holds, in deg C.
    pub temperature_c: f64,
    /// Time constant in s with which the outlet approaches that temperature, above 0.
    pub rise_s: f64,
    /// Engine speed in rpm that the machine sets by itself while it runs.
    pub speed_rpm: f64,
    /// Soot load in percent at which it ends once its shortest length is over.
    pub ends_at_percent: f64,
    /// Conditions without which it will not start.
    pub interlocks: Vec<Interlock>,
    /// Extra fuel it burns, in litres.
    pub fuel_l: f64,
}

/// What holding back active regeneration leads to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InhibitRule {
    /// Held-back regenerations in a row after which the engine loses power.
    pub derate_after: u32,
    /// Engine power left then, in percent of full power.
    pub power_percent: f64,
    /// Held-back regenerations in a row after which only a parked regeneration helps.
    pub parked_after: u32,
}

/// One step of the parked regeneration's procedure.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// What to do.
    pub action: String,
    /// Why.
    pub reason: String,
    /// Whether missing it fails an observation.
    pub critical: bool,
}

/// The machine's words for a hazard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Caution {
    /// The hazard.
    pub hazard: Hazard,
    /// How bad it can be (ANSI Z535).
    pub signal: SignalWord,
    /// What is dangerous.
    pub what: String,
    /// What can happen.
    pub consequence: String,
    /// What to do.
    pub avoid: String,
}

impl Profile {
    /// Reads a profile from the text of its file.
    ///
    /// # Errors
    /// Every problem in the text, each with its line and field: never only the first.
    pub fn read(file: &str, text: &str) -> Result<Self, Vec<Problem>> {
        super::profile_reader::read(file, text)
    }

    /// The band a soot load (percent, at least 0) falls in. An edge belongs to the band above it.
    #[must_use]
    pub fn band(&self, soot_percent: f64) -> &Band {
        &self.bands[self.band_place(soot_percent)]
    }

    /// The place of that band in the list.
    #[must_use]
    pub fn band_place(&self, soot_percent: f64) -> usize {
        self.bands.partition_point(|band| band.from_percent <= soot_percent).saturating_sub(1)
    }

    /// A band by its word.
    #[must_use]
    pub fn band_by_id(&self, id: &str) -> Option<&Band> {
        self.bands.iter().find(|band| band.id == id)
    }

    /// The machine's words for a hazard; a profile has them for every hazard.
    #[must_use]
    pub fn caution(&self, hazard: Hazard) -> Option<&Caution> {
        self.cautions.iter().find(|caution| caution.hazard == hazard)
    }

    /// Every soot load in percent at which the right thing to do changes.
    #[must_use]
    pub fn soot_edges(&self) -> Vec<f64> {
        let mut edges: Vec<f64> = self.bands.iter().skip(1).map(|band| band.from_percent).collect();
        edges.extend([
            self.passive.advise_from_percent,
            self.active.from_percent,
            self.parked.from_percent,
            self.parked.to_percent,
            self.parked.unless_above_percent,
            self.stop_above_percent,
        ]);
        edges.sort_by(f64::total_cmp);
        edges.dedup();
        edges
    }
}
