//! The mass balance while the temperature moves: what a stretch of time does to the soot in the filter.
//!
//! `dm/dt = S - k(t) m` is linear in m, so a stretch does one affine thing to any soot load: it keeps a share of what was
//! there and adds a share of what came. Both follow from `K(t)`, the integral of the rate, which is found by three-point
//! Gauss-Legendre collocation on steps short enough for it; where the temperature has settled the closed form is used.
//!
//! Never decides where a stretch ends: it only says how long a step may be. Never gives a negative mass: what it keeps and
//! what it adds are shares between 0 and 1.

use super::kinetics;
use super::maps::Curve;
use super::profile::{Coating, Profile};
use super::thermal::Approach;

/// Largest error of `K` that one step may make; of the mass it is the relative error. Chosen by us: real steps err far less than
/// they may, and a whole journey stays within 1e-6 of an independent solver (`tests/reference/integrator.rs`).
const STEP_ERROR: f64 = 4.0e-8;
/// The error of three-point Gauss-Legendre over a step h is at most h^7 |f^(6)| / 2 016 000.
/// Source: Abramowitz and Stegun 25.4.30 (from memory, not confirmed).
const GAUSS_ERROR: f64 = 2_016_000.0;
/// Most of the soot that may burn in one step, as `K`, so that the soot that comes meanwhile is followed too. Chosen by us.
const MOST_BURNT: f64 = 0.5;
/// A rate is bounded over at most this many K. Chosen by us.
const PIECE_K: f64 = 50.0;
/// A settled stretch is cut at this many seconds, so that a trajectory has points to draw. Chosen by us.
const SETTLED_STEP_S: f64 = 600.0;
const KELVIN: f64 = 273.15;

/// What a stretch of time does to the soot, whatever the soot load at its beginning.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Passage {
    /// Share that is kept of the soot that was there, 0 to 1.
    pub kept: f64,
    /// Share that burns of it: the rest, free of cancellation.
    pub burnt: f64,
    /// Seconds of soot flow that are still there at the end.
    pub added_s: f64,
    /// Seconds of soot flow that came and have burnt.
    pub lost_s: f64,
}

impl Passage {
    /// No time at all.
    pub const NONE: Self = Self { kept: 1.0, burnt: 0.0, added_s: 0.0, lost_s: 0.0 };

    /// Soot after the passage, from soot at its beginning and soot that comes each second, in any unit of mass.
    #[must_use]
    pub fn after(&self, start: f64, flow_per_s: f64) -> f64 {
        start * self.kept + flow_per_s * self.added_s
    }

    /// Soot that burns during the passage.
    #[must_use]
    pub fn burns(&self, start: f64, flow_per_s: f64) -> f64 {
        start * self.burnt + flow_per_s * self.lost_s
    }
}

/// What the soot lives under while the temperature approaches one value.
#[derive(Clone, Copy, Debug)]
pub struct Burning<'p> {
    coating: Coating,
    no2_ppm: &'p Curve,
    approach: Approach,
    gas_flows: bool,
}

// The nodes of three-point Gauss-Legendre on 0..1, their weights, and the integrals of the interpolating parabola up to each
// node (the collocation of order 6). Source: Kuntzmann and Butcher, in Hairer, Norsett and Wanner, Solving Ordinary
// Differential Equations I, table II.7.4 (from memory; `tests/reference/integrator.rs` confirms them).
const ROOT_15: f64 = 3.872_983_346_207_417;
const NODES: [f64; 3] = [0.5 - ROOT_15 / 10.0, 0.5, 0.5 + ROOT_15 / 10.0];
const WEIGHTS: [f64; 3] = [5.0 / 18.0, 4.0 / 9.0, 5.0 / 18.0];
const UP_TO_NODE: [[f64; 3]; 3] = [
    [5.0 / 36.0, 2.0 / 9.0 - ROOT_15 / 15.0, 5.0 / 36.0 - ROOT_15 / 30.0],
    [5.0 / 36.0 + ROOT_15 / 24.0, 2.0 / 9.0, 5.0 / 36.0 - ROOT_15 / 24.0],
    [5.0 / 36.0 + ROOT_15 / 30.0, 2.0 / 9.0 + ROOT_15 / 15.0, 5.0 / 36.0],
];

impl<'p> Burning<'p> {
    /// Burning in a machine's filter while its outlet is on its way. `gas_flows` is whether the engine runs: a filter that no
    /// gas flows through gets neither oxygen nor NO2, and nothing burns.
    #[must_use]
    pub const fn new(profile: &'p Profile, approach: Approach, gas_flows: bool) -> Self {
        Self { coating: profile.filter.coating, no2_ppm: &profile.no2_ppm, approach, gas_flows }
    }

    /// Share of the soot that burns each second (1/s), some seconds after the beginning.
    #[must_use]
    pub fn rate_per_s(&self, seconds: f64) -> f64 {
        self.rate_at(self.approach.at(seconds))
    }

    fn rate_at(&self, temp_c: f64) -> f64 {
        if !self.gas_flows {
            return 0.0;
        }
        match self.coating {
            Coating::Bare => kinetics::rate_o2_per_s(Coating::Bare, temp_c),
            Coating::Catalysed => kinetics::rate_per_s(Coating::Catalysed, temp_c, self.no2_ppm.at(temp_c).value),
        }
    }

    /// What happens to the soot between two moments (seconds from the beginning), in one step. No longer than
    /// [`Steps`] allows, or it is not exact.
    #[must_use]
    pub fn passage(&self, from_s: f64, to_s: f64) -> Passage {
        let length_s = to_s - from_s;
        if self.approach.settled(from_s) || !self.gas_flows {
            return steady(self.rate_at(self.approach.target_c) * length_s, length_s);
        }
        let rates = NODES.map(|node| self.rate_per_s(from_s + node * length_s));
        let integral =
            |weights: &[f64; 3]| length_s * (weights[0] * rates[0] + weights[1] * rates[1] + weights[2] * rates[2]);
        let whole = integral(&WEIGHTS);
        // What comes at a node has from there to the end to burn.
        let mut lost = 0.0;
        for (weight, up_to) in WEIGHTS.iter().zip(&UP_TO_NODE) {
            lost -= weight * libm::expm1(integral(up_to) - whole);
        }
        let lost_s = (lost * length_s).clamp(0.0, length_s);
        let burnt = -libm::expm1(-whole);
        Passage { kept: 1.0 - burnt, burnt, added_s: length_s - lost_s, lost_s }
    }

    /// Divides the time from the beginning on into steps for [`Self::passage`].
    #[must_use]
    pub const fn steps(self) -> Steps<'p> {
        Steps { burning: self, piece: None }
    }
}

/// Constant rate: the closed form, exact to rounding also where the rate vanishes.
fn steady(burnt_k: f64, length_s: f64) -> Passage {
    let burnt = -libm::expm1(-burnt_k);
    let kept_share = if burnt_k > 1.0e-5 { burnt / burnt_k } else { 1.0 - burnt_k / 2.0 + burnt_k * burnt_k / 6.0 };
    let lost_share = if burnt_k > 1.0e-5 { 1.0 - kept_share } else { burnt_k / 2.0 - burnt_k * burnt_k / 6.0 };
    Passage { kept: 1.0 - burnt, burnt, added_s: length_s * kept_share, lost_s: length_s * lost_share }
}

/// The step lengths of one approach. Between two knots of the NO2 curve the rate is smooth; its bounds there give the longest
/// step beforehand, so that no step is ever taken twice.
#[derive(Clone, Copy, Debug)]
pub struct Steps<'p> {
    burning: Burning<'p>,
    piece: Option<Piece>,
}

/// A stretch of temperature over which the rate is smooth.
#[derive(Clone, Copy, Debug)]
struct Piece {
    end_s: f64,
    largest_rate_per_s: f64,
    /// Upper bound of the relative change of the rate per K.
    steepness_per_k: f64,
}

impl Steps<'_> {
    /// End of the step that begins at `from_s`, at most `to_s` (seconds from the beginning of the approach). Asked with
    /// rising `from_s` only.
    pub fn end(&mut self, from_s: f64, to_s: f64) -> f64 {
        let approach = self.burning.approach;
        if self.is_steady(from_s) {
            return to_s.min(from_s + SETTLED_STEP_S);
        }
        let piece = match self.piece {
            Some(piece) if piece.end_s > from_s => piece,
            _ => self.next_piece(from_s),
        };
        self.piece = Some(piece);
        // For a rate that goes with e^(a T), the sixth derivative over the time constant is this polynomial (Touchard's) of
        // a times the distance that is left.
        let u = piece.steepness_per_k * approach.distance_k(from_s).abs();
        let sixth = u * (1.0 + u * (31.0 + u * (90.0 + u * (65.0 + u * (15.0 + u)))));
        let scale = piece.largest_rate_per_s * approach.time_constant_s * sixth;
        let constants = libm::exp(libm::log(STEP_ERROR * GAUSS_ERROR / scale) / 7.0);
        let longest = (constants * approach.time_constant_s).min(MOST_BURNT / piece.largest_rate_per_s);
        to_s.min(piece.end_s).min(from_s + longest.min(SETTLED_STEP_S))
    }

    /// Whether the rate no longer changes from this moment on.
    pub fn is_steady(&self, from_s: f64) -> bool {
        !self.burning.gas_flows || self.burning.approach.settled(from_s)
    }

    fn next_piece(&self, from_s: f64) -> Piece {
        let Burning { coating, no2_ppm, approach, .. } = self.burning;
        let (from_c, target_c) = (approach.at(from_s), approach.target_c);
        let up = target_c > from_c;
        let capped = if up { target_c.min(from_c + PIECE_K) } else { target_c.max(from_c - PIECE_K) };
        // A knot that was just reached lies within rounding of where we are.
        let ahead = |knot: f64| {
            if up { knot > from_c + 1.0e-9 && knot < capped } else { knot < from_c - 1.0e-9 && knot > capped }
        };
        let mut end_c = capped;
        if coating == Coating::Catalysed {
            for knot in no2_ppm.xs().iter().copied().filter(|knot| ahead(*knot)) {
                end_c = if up { end_c.min(knot) } else { end_c.max(knot) };
            }
        }
        let end_s = if end_c == target_c { f64::INFINITY } else { approach.seconds_to(end_c).unwrap_or(f64::INFINITY) };
        let rates = [from_c, end_c].map(|temp_c| self.burning.rate_at(temp_c));
        let largest = rates[0].max(rates[1]).max(f64::MIN_POSITIVE);
        let kelvin = from_c.min(end_c) + KELVIN;
        let mut steepness_per_k = kinetics::steepest_activation_k(coating) / (kelvin * kelvin);
        let width = (end_c - from_c).abs();
        if rates[0].min(rates[1]) > 0.0 && width > 0.0 {
            steepness_per_k = steepness_per_k.max(1.5 * libm::log(rates[1] / rates[0]).abs() / width);
        }
        Piece { end_s: end_s.max(from_s), largest_rate_per_s: largest, steepness_per_k }
    }
}
