//! The steps of each task before the model has judged them: what is done, and what would be so if it were not.
//!
//! Says of no step drawn from a situation whether it is critical: the model does. Of a parked regeneration's own procedure the
//! profile says it, and every step of lockout is.

use super::Task;
use crate::aftertreatment::hazard::{BURNS_SKIN_FROM_C, Hazard};
use crate::aftertreatment::judgement::{Action, judge};
use crate::aftertreatment::lamp::Lamp;
use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::situation::{Enclosure, Ground, Regeneration, Situation};
use crate::units::{Quantity, TemperatureUnit, Unit, plain_number};

/// An outlet, in deg C, that is as hot as after work; any value above those at which skin burns and plants ignite would do.
const HOT_C: f64 = 300.0;

/// A step that waits for the model.
pub(super) struct Drafted {
    pub(super) id: String,
    pub(super) action: String,
    pub(super) missed: Missed,
}

/// What missing a step means.
pub(super) enum Missed {
    /// The machine stands as in `missed` instead of as in `done`.
    Brings { done: Situation, missed: Situation },
    /// Somebody does what the model may forbid there.
    Does { action: Action, at: Situation },
    /// A step of the machine's own procedure.
    Procedure { critical: bool, reason: String, hazards: Vec<Hazard> },
    /// A rule of the trade that the model knows nothing of.
    Rule { critical: bool, reason: &'static str, hazards: Vec<Hazard> },
}

fn step(id: &str, action: impl Into<String>, missed: Missed) -> Drafted {
    Drafted { id: id.to_owned(), action: action.into(), missed }
}

fn brings(id: &str, action: impl Into<String>, done: Situation, missed: Situation) -> Drafted {
    step(id, action, Missed::Brings { done, missed })
}

fn does(id: &str, action: impl Into<String>, forbidden: Action, at: Situation) -> Drafted {
    step(id, action, Missed::Does { action: forbidden, at })
}

fn rule(id: &str, action: &str, critical: bool, reason: &'static str) -> Drafted {
    step(id, action, Missed::Rule { critical, reason, hazards: Vec::new() })
}

pub(super) fn drafted(task: Task, profile: &Profile) -> Vec<Drafted> {
    match task {
        Task::DailyCheck => daily_check(profile),
        Task::ParkedRegeneration => parked_regeneration(profile),
        Task::StopAndCall => stop_and_call(profile),
        Task::FilterRemoval => filter_removal(),
    }
}

fn percent(value: f64) -> String {
    format!("{} %", plain_number(value))
}

/// "55 °C (131 °F)".
fn skin_limit() -> String {
    let limit = Quantity::new(BURNS_SKIN_FROM_C, Unit::Celsius);
    format!("{limit} ({})", limit.for_reader(TemperatureUnit::Fahrenheit))
}

fn cool_before_touching() -> Drafted {
    let action = format!(
        "Touch nothing at the filter, its pipes or the outlet until it has cooled below {}, and say how you can tell.",
        skin_limit()
    );
    does("cool", action, Action::TouchOutlet, Situation { engine_running: false, outlet_c: HOT_C, ..standing() })
}

/// A machine that stands as it should, on a good place.
fn standing() -> Situation {
    Situation {
        standing: true,
        park_brake: true,
        neutral: true,
        attachment_down: true,
        load_percent: 0.0,
        ..Situation::default()
    }
}

/// The same, where a parked regeneration is called for.
fn waits_for_parked(profile: &Profile) -> Situation {
    let top = profile.parked.to_percent.min(profile.stop_above_percent);
    Situation { soot_percent: f64::midpoint(profile.parked.from_percent, top), ..standing() }
}

/// What is looked at before hot gas is made in a place.
fn place_looked_at(good: Situation) -> [Drafted; 5] {
    [
        brings(
            "open-air",
            "Make sure that the machine stands in the open, not under a roof or in a closed space.",
            good,
            Situation { enclosure: Enclosure::Closed, ..good },
        ),
        brings(
            "ground",
            "Look at the ground under and round the machine: bare, with nothing on it that burns.",
            good,
            Situation { ground: Ground::Straw, ..good },
        ),
        brings(
            "fuel",
            "Look for fuel, chaff and dust near the outlet and take it away.",
            good,
            Situation { fuel_near: true, ..good },
        ),
        brings("overhead", "Look up: nothing hangs over the outlet.", good, Situation { overhead: true, ..good }),
        brings(
            "people",
            "Send people away from the outlet and keep them away.",
            good,
            Situation { people_near: true, ..good },
        ),
    ]
}

fn parked_regeneration(profile: &Profile) -> Vec<Drafted> {
    let good = waits_for_parked(profile);
    let runs = Situation { regeneration: Regeneration::Parked, outlet_c: profile.parked.temperature_c, ..good };
    let told = format!(
        "Read the soot load and the lamps, and say whether a parked regeneration is called for here: from {} to {}.",
        percent(profile.parked.from_percent),
        percent(profile.parked.to_percent)
    );
    let too_full = Situation { soot_percent: profile.stop_above_percent, ..good };
    let mut steps = vec![brings("reading", told, good, too_full)];
    steps.extend(place_looked_at(good));
    // What a parked regeneration brings in a bad place is what its procedure guards against.
    let bad = Situation { ground: Ground::Straw, people_near: true, enclosure: Enclosure::Closed, ..runs };
    let (guards, stays): (Vec<Hazard>, Vec<Hazard>) =
        (judge(profile, &bad).hazards.iter().collect(), judge(profile, &runs).hazards.iter().collect());
    steps.extend((1..).zip(&profile.procedure).map(|(place, of)| {
        let hazards = if of.critical { guards.clone() } else { stays.clone() };
        let missed = Missed::Procedure { critical: of.critical, reason: of.reason.clone(), hazards };
        step(&format!("procedure-{place}"), of.action.clone(), missed)
    }));
    steps.push(brings(
        "break-off",
        "While it runs, say what you do when somebody walks towards the outlet, and show how to break off.",
        runs,
        Situation { people_near: true, ..runs },
    ));
    steps.push(cool_before_touching());
    steps
}

fn daily_check(profile: &Profile) -> Vec<Drafted> {
    let clean = standing();
    // As full as it may be on a day on which nobody has looked: an active regeneration begins by itself.
    let due = Situation { soot_percent: profile.active.from_percent, ..clean };
    let mut steps = vec![
        brings(
            "open-air",
            "Drive or push the machine into the open before the engine runs on.",
            clean,
            Situation { enclosure: Enclosure::Closed, ..clean },
        ),
        brings(
            "chaff",
            "With the engine off and cold, clear chaff, dust and fuel away from the filter and the outlet.",
            due,
            Situation { fuel_near: true, ..due },
        ),
        cool_before_touching(),
    ];
    for meaning in &profile.lamps {
        let action = format!("Point at the {} and say what it means: {}", meaning.lamp.name(), meaning.means);
        steps.push(brings(&format!("lamp-{}", meaning.lamp.id()), action, clean, lit(profile, meaning.lamp, clean)));
    }
    let read = format!(
        "Read the soot load, name its band, and say at what reading you stop: {}.",
        percent(profile.stop_above_percent)
    );
    steps.push(brings("soot", read, clean, Situation { soot_percent: profile.stop_above_percent, ..clean }));
    let ash = format!("Read the ash load and say when service is due: from {}.", percent(profile.ash_service_percent));
    steps.push(brings("ash", ash, clean, Situation { ash_percent: profile.ash_service_percent, ..clean }));
    steps.push(brings(
        "inhibit",
        "Look whether the inhibit switch is on, and switch it off where nothing calls for it.",
        clean,
        Situation { inhibit_on: true, ..clean },
    ));
    steps.push(rule(
        "note",
        "Write down the engine hours, the soot load and what you found.",
        false,
        "The next person has to know how the filter stood.",
    ));
    steps
}

/// A machine on which a lamp is lit because of its soot, as little of it as lights it; otherwise as it was.
fn lit(profile: &Profile, lamp: Lamp, clean: Situation) -> Situation {
    match profile.bands.iter().find(|band| band.lamps.contains(lamp)) {
        Some(band) => Situation { soot_percent: band.from_percent, ..clean },
        None if lamp == Lamp::Inhibit => Situation { inhibit_on: true, ..clean },
        None => Situation { outlet_c: profile.exhaust_hot_at_c, ..clean },
    }
}

fn stop_and_call(profile: &Profile) -> Vec<Drafted> {
    let soot_percent = profile.stop_above_percent;
    let full = Situation { soot_percent, outlet_c: HOT_C, ..standing() };
    let off = Situation { engine_running: false, ..full };
    let names: Vec<&str> = judge(profile, &full).lamps.iter().map(Lamp::name).collect();
    let lamps = format!(
        "Name the lamps that are lit at {} soot ({}) and say that the machine has to stop.",
        percent(soot_percent),
        names.join(", ")
    );
    vec![
        brings("lamps", lamps, Situation { soot_percent: 0.0, ..full }, full),
        brings(
            "open-air",
            "Do not let the engine run on under a roof.",
            full,
            Situation { enclosure: Enclosure::Closed, ..full },
        ),
        does("stop-work", "Stop working and switch the engine off.", Action::KeepWorking, full),
        does("no-regeneration", "Start no regeneration of any kind, and say why not.", Action::StartParked, full),
        does("not-driven", "Leave the machine where it stands: do not drive it on.", Action::MoveMachine, full),
        brings(
            "ground",
            "Look what lies under and near the hot outlet, take away what burns, and keep watch where you cannot.",
            off,
            Situation { ground: Ground::Straw, ..off },
        ),
        brings("people", "Keep people away from the outlet.", off, Situation { people_near: true, ..off }),
        cool_before_touching(),
        rule(
            "call",
            "Call service, and say the machine, the engine hours, the soot load, the lamps and what was done last.",
            false,
            "Whoever comes has to know what to bring and what not to start.",
        ),
        rule(
            "tag",
            "Take the key out and hang a tag on the machine: do not start.",
            true,
            "Somebody who has not seen the lamps must not start it. A tag warns; it does not lock.",
        ),
    ]
}

/// In the order of 29 CFR 1910.147(d)(1) to (6): preparation, shutdown, isolation, lock and tag, stored energy, verification;
/// those affected are told before anything is locked, as (c)(9) asks. The rule leaves construction and agriculture out: an
/// analogy there. Heat is one more energy that is let out before the verification.
fn filter_removal() -> Vec<Drafted> {
    let dust = Missed::Rule {
        critical: true,
        reason: "Ash and soot are fine dust that must not be breathed in.",
        hazards: vec![Hazard::Dust],
    };
    vec![
        rule(
            "prepare",
            "Read the manual's procedure, and name every energy of this machine: battery, fuel pressure, heat, a raised \
             attachment, a slope.",
            true,
            "What nobody has named, nobody makes safe.",
        ),
        rule(
            "tell",
            "Tell everybody who works near the machine that it will be locked off.",
            true,
            "Somebody who does not know tries to start it.",
        ),
        rule(
            "shut-down",
            "Lower the attachment, chock the wheels and switch the engine off in the manual's way.",
            true,
            "A machine that is stopped in order leaves less behind that can move.",
        ),
        rule(
            "isolate",
            "Isolate the battery at its isolator, and every other energy that was named.",
            true,
            "A push button or a selector switch is not isolation.",
        ),
        rule(
            "lock",
            "Put on your own lock and tag, and keep the key on you.",
            true,
            "Only whoever is in danger may take the lock off.",
        ),
        rule(
            "release",
            "Let out what is stored: pressure in lines, whatever can still drop or roll.",
            true,
            "What is stored can move after everything is switched off.",
        ),
        cool_before_touching(),
        rule(
            "verify",
            "Try to start the machine, see that nothing happens, and put the switch back to off.",
            true,
            "Only a failed start shows that the right thing was isolated.",
        ),
        step(
            "dust",
            "Put on a fitting respirator, gloves and goggles, and keep dry sweeping and compressed air away from the ash.",
            dust,
        ),
        rule(
            "note",
            "Write down the engine hours, the ash load and which filter it is before it comes off.",
            false,
            "Afterwards nobody can read it any more.",
        ),
    ]
}
