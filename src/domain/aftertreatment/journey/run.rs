//! A journey in the making: one stretch after another, from change to change.
//!
//! Between two changes the temperature approaches one value and soot follows one linear law. The next change is the first of:
//! the stretch's end, a timer of the controller, the outlet at a temperature that matters, ash at its level, and the soot load
//! at an edge. A reading that meets a limit is set to it exactly, so that whoever compares sees it on the right side.

use super::{Costs, Event, Journey, Point, Stretch};
use crate::aftertreatment::burning::{Burning, Passage};
use crate::aftertreatment::controller::{self, Controller};
use crate::aftertreatment::crossing::Leg;
use crate::aftertreatment::happening::Happening;
use crate::aftertreatment::judgement::lamps;
use crate::aftertreatment::lamp::{Lamp, LampSet};
use crate::aftertreatment::operator::OperatorAction;
use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::situation::{Regeneration, Situation};
use crate::aftertreatment::thermal::{Approach, steady_outlet_c};

const S_PER_MIN: f64 = 60.0;
const S_PER_H: f64 = 3600.0;
const G_PER_MG: f64 = 1.0e-3;

/// A journey in the making.
pub(super) struct Run<'p> {
    profile: &'p Profile,
    s: Situation,
    controller: Controller,
    key_on: bool,
    /// What the work asks for: load in percent, speed in rpm, ambient temperature in deg C.
    wanted: (f64, f64, f64),
    seconds: f64,
    /// Soot loads in percent at which something may change, rising.
    edges: Vec<f64>,
    full_load_g: f64,
    seen: Seen,
    points: Vec<Point>,
    events: Vec<Event>,
    costs: Costs,
}

/// What an observer has already noted.
struct Seen {
    band: usize,
    lamps: LampSet,
    ash_due: bool,
}

/// How far the soot was followed.
struct Followed {
    seconds: f64,
    /// Whether it met an edge there.
    met_edge: bool,
}

impl<'p> Run<'p> {
    pub(super) fn new(profile: &'p Profile, start: &Situation) -> Self {
        let mut edges = profile.soot_edges();
        edges.extend(controller::soot_marks(profile));
        edges.sort_by(f64::total_cmp);
        edges.dedup();
        let full_load_g = profile.filter.full_load_g();
        let seen = Seen {
            band: profile.band_place(start.soot_percent),
            lamps: lamps(profile, start),
            ash_due: start.ash_percent >= profile.ash_service_percent,
        };
        Self {
            profile,
            s: *start,
            controller: Controller::new(profile, start),
            key_on: start.engine_running,
            wanted: (start.load_percent, start.speed_rpm, profile.thermal.reference_ambient_c),
            seconds: 0.0,
            edges,
            full_load_g,
            seen,
            points: Vec::new(),
            events: Vec::new(),
            costs: Costs { soot_start_g: start.soot_percent / 100.0 * full_load_g, ..Costs::default() },
        }
    }

    pub(super) fn stretch(&mut self, stretch: &Stretch) {
        self.wanted = (stretch.load_percent, stretch.speed_rpm, stretch.ambient_c);
        self.drive();
        for action in &stretch.actions {
            self.act(*action);
        }
        let end_s = self.seconds + stretch.minutes.max(0.0) * S_PER_MIN;
        loop {
            self.settle();
            if self.seconds >= end_s {
                break;
            }
            self.advance(end_s);
        }
    }

    pub(super) fn finish(mut self) -> Journey {
        self.settle();
        self.costs.soot_left_g = self.s.soot_percent / 100.0 * self.full_load_g;
        self.costs.fuel(self.profile);
        let end = self.point();
        Journey { points: self.points, events: self.events, costs: self.costs, end }
    }

    const fn point(&self) -> Point {
        Point {
            seconds: self.seconds,
            situation: self.s,
            state: self.controller.state(),
            power_percent: self.controller.power_percent(),
        }
    }

    fn tell(&mut self, happening: Happening) {
        self.events.push(Event { happening, point: self.point() });
    }

    fn act(&mut self, action: OperatorAction) {
        let s = &mut self.s;
        match action {
            OperatorAction::KeyOn => self.key_on = true,
            OperatorAction::KeyOff => self.key_on = false,
            OperatorAction::InhibitOn => s.inhibit_on = true,
            OperatorAction::InhibitOff => s.inhibit_on = false,
            OperatorAction::Stand => s.standing = true,
            OperatorAction::Drive => s.standing = false,
            OperatorAction::ParkBrakeOn => s.park_brake = true,
            OperatorAction::ParkBrakeOff => s.park_brake = false,
            OperatorAction::NeutralOn => s.neutral = true,
            OperatorAction::NeutralOff => s.neutral = false,
            OperatorAction::AttachmentDown => s.attachment_down = true,
            OperatorAction::AttachmentUp => s.attachment_down = false,
            OperatorAction::StartParked | OperatorAction::BreakOffParked => {}
        }
        self.drive();
        self.tell(Happening::Did(action));
        match action {
            OperatorAction::InhibitOff => self.controller.release(),
            OperatorAction::StartParked => self.control(Controller::start_parked),
            OperatorAction::BreakOffParked => self.control(Controller::break_off_parked),
            _ => {}
        }
    }

    /// What the engine really does: nothing without the key, what the machine sets while it stands and cleans, and otherwise
    /// what the work asks for, as far as there is power.
    fn drive(&mut self) {
        let (load_percent, speed_rpm, _) = self.wanted;
        self.s.engine_running = self.key_on && speed_rpm > 0.0;
        (self.s.load_percent, self.s.speed_rpm) = if !self.s.engine_running {
            (0.0, 0.0)
        } else if self.s.regeneration == Regeneration::Parked {
            (0.0, self.profile.parked.speed_rpm)
        } else {
            (load_percent.min(self.controller.power_percent()), speed_rpm)
        };
    }

    /// Lets the controller do something and notes what it tells, with the readings once it is done.
    fn control(&mut self, what: impl FnOnce(&mut Controller, &Profile, &mut Situation, &mut Vec<Happening>)) {
        let mut told = Vec::new();
        what(&mut self.controller, self.profile, &mut self.s, &mut told);
        self.drive();
        for happening in told {
            self.tell(happening);
        }
    }

    /// Everything that this moment calls for, in the order in which an observer would see it.
    fn settle(&mut self) {
        let band = self.profile.band_place(self.s.soot_percent);
        if band != self.seen.band {
            let from = std::mem::replace(&mut self.seen.band, band);
            self.tell(Happening::Band { from, to: band });
        }
        self.control(Controller::settle);
        let lit = lamps(self.profile, &self.s);
        let before = std::mem::replace(&mut self.seen.lamps, lit);
        for lamp in Lamp::ALL {
            match (before.contains(lamp), lit.contains(lamp)) {
                (false, true) => self.tell(Happening::LampOn(lamp)),
                (true, false) => self.tell(Happening::LampOff(lamp)),
                _ => {}
            }
        }
        let ash_due = self.s.ash_percent >= self.profile.ash_service_percent;
        if ash_due && !std::mem::replace(&mut self.seen.ash_due, ash_due) {
            self.tell(Happening::AshDue);
        }
        self.points.push(self.point());
    }

    /// Where the outlet temperature is going.
    fn approach(&self) -> Approach {
        let (profile, s) = (self.profile, &self.s);
        let (target_c, time_constant_s) = match s.regeneration {
            _ if !s.engine_running => (self.wanted.2, profile.thermal.cooling_s),
            Regeneration::None => {
                (steady_outlet_c(profile, s.load_percent, s.speed_rpm, self.wanted.2), profile.thermal.time_constant_s)
            }
            Regeneration::Active => (profile.active.temperature_c, profile.active.rise_s),
            Regeneration::Parked => (profile.parked.temperature_c, profile.parked.rise_s),
        };
        Approach { from_c: s.outlet_c, target_c, time_constant_s }
    }

    /// Goes on to the next change, at most to `end_s`.
    fn advance(&mut self, end_s: f64) {
        let approach = self.approach();
        let mut limit_s = (end_s - self.seconds).min(self.controller.next_change_s(self.profile, &self.s));
        let ash_per_s = if self.s.engine_running {
            self.profile.ash_service_percent / self.profile.ash_service_after_h / S_PER_H
        } else {
            0.0
        };
        if ash_per_s > 0.0 && !self.seen.ash_due {
            limit_s = limit_s.min((self.profile.ash_service_percent - self.s.ash_percent) / ash_per_s);
        }
        let heat = self.next_heat(&approach).filter(|(at_s, _)| *at_s <= limit_s);
        limit_s = heat.map_or(limit_s, |(at_s, _)| at_s);
        let (begun_s, ash_percent) = (self.seconds, self.s.ash_percent);
        let followed = self.follow_soot(approach, limit_s, ash_per_s);
        if !followed.met_edge {
            // Met exactly, whatever the sums of steps came to.
            if let Some((_, outlet_c)) = heat {
                self.s.outlet_c = outlet_c;
            }
            if begun_s + limit_s >= end_s - 1.0e-9 {
                self.seconds = end_s;
            }
            let due = self.profile.ash_service_percent;
            if !self.seen.ash_due && (ash_percent + ash_per_s * limit_s - due).abs() < 1.0e-9 {
                self.s.ash_percent = due;
            }
        }
        self.controller.pass(self.profile, &mut self.s, followed.seconds);
    }

    /// The next temperature at which a lamp or the controller changes: when, and the reading once it has been passed.
    fn next_heat(&self, approach: &Approach) -> Option<(f64, f64)> {
        let rising = approach.target_c > approach.from_c;
        let crossings =
            [self.profile.exhaust_hot_at_c, self.profile.active.light_off_c].into_iter().filter_map(|mark| {
                // A mark belongs to what is above it: rising reaches it, falling leaves it.
                let ahead =
                    if rising { approach.from_c < mark } else { approach.from_c >= mark && approach.target_c < mark };
                let passed = if rising { mark } else { mark.next_down() };
                ahead.then(|| approach.seconds_to(mark)).flatten().map(|at_s| (at_s, passed))
            });
        crossings.min_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// Follows the soot for at most `limit_s`, or until it meets an edge, and notes the trajectory and the costs.
    fn follow_soot(&mut self, approach: Approach, limit_s: f64, ash_per_s: f64) -> Followed {
        let burning = Burning::new(self.profile, approach, self.s.engine_running);
        let flow = self.flow_percent_per_s();
        let mut steps = burning.steps();
        let (begun_s, ash_percent) = (self.seconds, self.s.ash_percent);
        let mut at_s = 0.0;
        loop {
            let from = self.s.soot_percent;
            let to_s = steps.end(at_s, limit_s);
            let mut leg = Leg { burning: &burning, from_s: at_s, to_s, soot_percent: from, flow_per_s: flow };
            let mut step = leg.passage();
            if let Some(turns_s) = leg.turns(&step, self.edges.iter().copied()) {
                leg.to_s = turns_s;
                step = leg.passage();
            }
            let (mut now_s, mut soot_percent) = (leg.to_s, step.after(from, flow));
            let edge = self.edge_met(from, soot_percent);
            if let Some((edge, passed)) = edge {
                now_s = leg.meets(edge, soot_percent);
                step = burning.passage(at_s, now_s);
                soot_percent = passed;
            }
            self.note(&step, from, flow, now_s - at_s);
            self.s.soot_percent = soot_percent;
            self.s.outlet_c = approach.at(now_s);
            self.s.ash_percent = ash_percent + ash_per_s * now_s;
            self.seconds = begun_s + now_s;
            at_s = now_s;
            let met_edge = edge.is_some();
            if met_edge || at_s >= limit_s {
                return Followed { seconds: at_s, met_edge };
            }
            self.points.push(self.point());
        }
    }

    fn note(&mut self, step: &Passage, from_percent: f64, flow: f64, seconds: f64) {
        let grams = |percent: f64| percent / 100.0 * self.full_load_g;
        let soot = (grams(flow * seconds), grams(step.burns(from_percent, flow)));
        self.costs.note(self.s.regeneration, self.s.engine_running, seconds, soot);
    }

    /// Soot that comes, in percent of full load each second.
    fn flow_percent_per_s(&self) -> f64 {
        if !self.s.engine_running {
            return 0.0;
        }
        let flow_mg = self.profile.soot_mg_per_s.at(self.s.load_percent, self.s.speed_rpm).value;
        flow_mg * G_PER_MG / self.full_load_g * 100.0
    }

    /// The edge that soot meets on its way between two loads, and the reading once it has. An edge belongs to what is above it.
    fn edge_met(&self, from: f64, to: f64) -> Option<(f64, f64)> {
        let above = self.edges.partition_point(|edge| *edge <= from);
        if let Some(edge) = self.edges.get(above).filter(|edge| to >= **edge) {
            return Some((*edge, *edge));
        }
        let below = above.checked_sub(1).and_then(|place| self.edges.get(place));
        below.filter(|edge| to < **edge).map(|edge| (*edge, edge.next_down()))
    }
}
