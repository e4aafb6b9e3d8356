//! What soot and ash cost in back-pressure: the pressure drop over the filter at a flow of exhaust gas.
//!
//! Wall, soot layer and channel friction after Konstandopoulos et al., SAE 2000-01-1016, eq. A15. Never judges: a
//! pressure alone says nothing about what to do. Limits: laminar channels, an even soot layer, no soot inside the wall,
//! no losses where the gas enters and leaves; the ash is our own simplification (see [`ASH_SHARE_AT_FULL`]).

/// Friction of a square channel. Source: SAE 2000-01-1016, eq. A15 (F).
const FRICTION: f64 = 28.454;

/// Share of the inlet channels' open area that ash takes at an ash load of 100 %.
/// Chosen by us, no published source: ash lies evenly on the walls below the soot and lets gas through as if it were not
/// there. It narrows the channel for the same soot and the same flow, so that ash only ever adds pressure.
pub const ASH_SHARE_AT_FULL: f64 = 0.2;

/// A filter of square channels, every other one closed at each end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Channels {
    /// Volume of the filter in m3, above 0.
    pub volume_m3: f64,
    /// Inlet channels, above 0.
    pub inlets: f64,
    /// Open width of a channel in m, above 0.
    pub width_m: f64,
    /// Length of a channel in m, above 0.
    pub length_m: f64,
    /// Thickness of a wall in m, above 0.
    pub wall_m: f64,
    /// Permeability of the wall in m2, above 0.
    pub wall_permeability_m2: f64,
    /// Permeability of the soot layer in m2, above 0.
    pub soot_permeability_m2: f64,
    /// Density of the soot layer in kg/m3, above 0.
    pub soot_kg_per_m3: f64,
}

impl Channels {
    /// The filter of the source. Source: SAE 2000-01-1016, the inputs of its worked case.
    pub const REFERENCE: Self = Self {
        volume_m3: 2.474e-3,
        inlets: 2516.0,
        width_m: 1.44e-3,
        length_m: 0.144,
        wall_m: 0.356e-3,
        wall_permeability_m2: 5.3e-13,
        soot_permeability_m2: 3.2e-14,
        soot_kg_per_m3: 97.0,
    };

    /// A filter of another volume (litres, above 0) with the channels of the source, only more or fewer of them.
    #[must_use]
    pub fn of_volume(litres: f64) -> Self {
        let times = litres / 1000.0 / Self::REFERENCE.volume_m3;
        Self { volume_m3: litres / 1000.0, inlets: Self::REFERENCE.inlets * times, ..Self::REFERENCE }
    }

    /// Soot mass in grams that would close the inlet channels at an ash load in percent (at least 0).
    #[must_use]
    pub fn closed_by_g(&self, ash_percent: f64) -> f64 {
        let open_m2 = self.width_m * self.width_m * open_share(ash_percent);
        open_m2 * self.inlets * self.length_m * self.soot_kg_per_m3 * 1000.0
    }
}

/// Exhaust gas on its way through the filter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gas {
    /// Mass flow in kg/h, at least 0.
    pub flow_kg_per_h: f64,
    /// Density in kg/m3, above 0.
    pub kg_per_m3: f64,
    /// Dynamic viscosity in Pa s, above 0.
    pub viscosity_pa_s: f64,
}

impl Gas {
    /// The gas of the source. Source: SAE 2000-01-1016, the inputs of its worked case.
    pub const REFERENCE: Self = Self { flow_kg_per_h: 70.0, kg_per_m3: 0.64, viscosity_pa_s: 2.87e-5 };

    /// The gas of the source through a filter of another volume (litres, above 0), as much for each litre as there.
    #[must_use]
    pub fn of_volume(litres: f64) -> Self {
        let times = litres / 1000.0 / Channels::REFERENCE.volume_m3;
        Self { flow_kg_per_h: Self::REFERENCE.flow_kg_per_h * times, ..Self::REFERENCE }
    }
}

/// A pressure drop by its parts, in Pa.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PressureDrop {
    /// Through the walls.
    pub wall_pa: f64,
    /// Through the soot layer.
    pub soot_pa: f64,
    /// By friction along the channels.
    pub channels_pa: f64,
}

impl PressureDrop {
    /// All parts together, in Pa.
    #[must_use]
    pub fn total_pa(&self) -> f64 {
        self.wall_pa + self.soot_pa + self.channels_pa
    }

    /// All parts together in kPa, as machines report it (SPN 3251).
    #[must_use]
    pub fn total_kpa(&self) -> f64 {
        self.total_pa() / 1000.0
    }
}

/// The pressure drop over a filter with soot (g, at least 0) and ash (percent, at least 0); `None` when they close the
/// channels, where the law has no answer.
///
/// Source: SAE 2000-01-1016, eq. A15:
/// `mu Q / (2V) (a + ws)^2 [ws / (k0 a) + ln(a / (a - 2w)) / (2 ks) + (4 F L^2 / 3) (1 / (a - 2w)^4 + 1 / a^4)]` with the
/// thickness of the soot layer `w = (a - sqrt(a^2 - m / (N L rho))) / 2`. With ash, the soot layer and the inlet channel
/// have the narrower width that [`ASH_SHARE_AT_FULL`] leaves; the wall and the outlet channel keep theirs.
#[must_use]
pub fn pressure_drop(channels: &Channels, gas: &Gas, soot_g: f64, ash_percent: f64) -> Option<PressureDrop> {
    let Channels { width_m, length_m, wall_m, .. } = *channels;
    let narrowed_m2 = width_m * width_m * open_share(ash_percent);
    let soot_m2 = soot_g / 1000.0 / (channels.inlets * length_m * channels.soot_kg_per_m3);
    let free_m2 = narrowed_m2 - soot_m2;
    if free_m2.is_nan() || free_m2 <= 0.0 {
        return None;
    }
    let flow_m3_per_s = gas.flow_kg_per_h / 3600.0 / gas.kg_per_m3;
    let cell_m = width_m + wall_m;
    let factor = gas.viscosity_pa_s * flow_m3_per_s / (2.0 * channels.volume_m3) * cell_m * cell_m;
    let outlet_m2 = width_m * width_m;
    let friction = 4.0 * FRICTION * length_m * length_m / 3.0;
    Some(PressureDrop {
        wall_pa: factor * wall_m / (channels.wall_permeability_m2 * width_m),
        // ln(a / (a - 2w)) with both widths as roots of their areas.
        soot_pa: factor * 0.5 * libm::log(narrowed_m2 / free_m2) / (2.0 * channels.soot_permeability_m2),
        channels_pa: factor * friction * (1.0 / (free_m2 * free_m2) + 1.0 / (outlet_m2 * outlet_m2)),
    })
}

fn open_share(ash_percent: f64) -> f64 {
    1.0 - ASH_SHARE_AT_FULL * ash_percent.max(0.0) / 100.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn drop_pa(soot_g: f64, ash_percent: f64) -> Option<f64> {
        pressure_drop(&Channels::REFERENCE, &Gas::REFERENCE, soot_g, ash_percent).map(|drop| drop.total_pa())
    }

    #[test]
    fn a_filter_that_is_closed_has_no_answer() {
        let most = Channels::REFERENCE.closed_by_g(50.0);
        assert!(drop_pa(most * 0.999, 50.0).is_some() && drop_pa(most * 1.001, 50.0).is_none());
        assert_eq!(drop_pa(0.0, 500.0), None, "ash alone can close it");
        assert_eq!(drop_pa(f64::NAN, 0.0), None);
    }

    proptest! {
        #[test]
        fn soot_ash_and_flow_only_add(soot in 0.0..25.0_f64, ash in 0.0..150.0_f64, more in 0.01..5.0_f64, litres in 1.0..30.0_f64) {
            let channels = Channels::of_volume(litres);
            let soot = soot * litres / 2.474;
            let drop = |soot, ash, times| {
                let gas = Gas { flow_kg_per_h: 70.0 * times, ..Gas::REFERENCE };
                pressure_drop(&channels, &gas, soot, ash).map(|drop| drop.total_pa())
            };
            if let Some(here) = drop(soot, ash, 1.0) {
                prop_assert!(here > 0.0);
                prop_assert!(drop(soot + more, ash, 1.0).is_none_or(|pa| pa > here));
                prop_assert!(drop(soot, ash + more, 1.0).is_none_or(|pa| pa > here));
                prop_assert!(drop(soot, ash, 1.0 + more).is_some_and(|pa| pa > here));
                prop_assert!(drop(0.0, 0.0, 1.0).is_some_and(|clean| clean <= here));
            }
        }
    }
}
