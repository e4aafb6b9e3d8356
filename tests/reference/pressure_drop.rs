//! Source: Konstandopoulos et al., SAE 2000-01-1016, eq. A15 and the inputs of its worked case.
//!
//! The expected values are derived: the same equation evaluated apart from this project, rounded to whole pascals.

use super::close;
use sootmark::domain::aftertreatment::pressure::{Channels, Gas, pressure_drop};

#[test]
fn the_worked_case_with_none_five_and_ten_grams_of_soot() {
    for (soot_g, pa) in [(0.0, 473.0), (5.0, 805.0), (10.0, 1164.0)] {
        let found = pressure_drop(&Channels::REFERENCE, &Gas::REFERENCE, soot_g, 0.0).expect("open channels");
        assert!((found.total_pa() - pa).abs() <= 0.5, "{soot_g} g: {} Pa, not {pa}", found.total_pa());
        close(found.total_kpa() * 1000.0, found.total_pa(), 1e-12);
    }
}

#[test]
fn the_parts_with_ten_grams() {
    let found = pressure_drop(&Channels::REFERENCE, &Gas::REFERENCE, 10.0, 0.0).expect("open channels");
    for (part, pa) in [(found.wall_pa, 265.0), (found.soot_pa, 655.0), (found.channels_pa, 244.0)] {
        assert!((part - pa).abs() <= 0.5, "{part} Pa, not {pa}");
    }
}

#[test]
fn the_flow_is_the_sources() {
    // Derived: 70 kg/h of 0.64 kg/m3 are 0.03038 m3/s.
    close(Gas::REFERENCE.flow_kg_per_h / 3600.0 / Gas::REFERENCE.kg_per_m3, 0.030_38, 2e-4);
}

#[test]
fn ash_alone_raises_it_as_the_narrower_channel_says() {
    // Derived: at 100 % ash a fifth of the inlet channel is taken, so its friction grows by 1 / 0.8^2 - 1 = 56.25 % and the
    // wall's part stays. Clean, both channels share the friction evenly: it grows by half of that.
    let clean = pressure_drop(&Channels::REFERENCE, &Gas::REFERENCE, 0.0, 0.0).expect("open channels");
    let ash = pressure_drop(&Channels::REFERENCE, &Gas::REFERENCE, 0.0, 100.0).expect("open channels");
    close(ash.channels_pa / clean.channels_pa, 1.281_25, 1e-9);
    close(ash.wall_pa, clean.wall_pa, 1e-12);
}

#[test]
fn a_filter_of_twice_the_volume_halves_it_at_the_same_soot_per_litre() {
    // Derived from the equation: twice the channels, half the flow through each.
    let single = pressure_drop(&Channels::of_volume(2.474), &Gas::REFERENCE, 5.0, 0.0).expect("open channels");
    let double = pressure_drop(&Channels::of_volume(4.948), &Gas::REFERENCE, 10.0, 0.0).expect("open channels");
    close(double.total_pa() * 2.0, single.total_pa(), 1e-9);
}
