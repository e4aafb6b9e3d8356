//! From memory, not confirmed: NIST SP 811, C = (F - 32) / 1.8.

use super::close;
use sootmark::domain::units::{Quantity, Unit};

#[test]
fn fahrenheit_is_read_as_the_si_guide_says() {
    for (fahrenheit, celsius) in
        [("1112 °F", 600.0), ("500 °F", 260.0), ("1100 °F", 593.333_333), ("400 F", 204.444_444)]
    {
        close(Quantity::parse(fahrenheit).unwrap().in_unit(Unit::Celsius).unwrap(), celsius, 1e-8);
    }
    close(Quantity::parse("600 °C").unwrap().in_unit(Unit::Fahrenheit).unwrap(), 1112.0, 1e-12);
}

#[test]
fn the_scales_meet_at_minus_forty() {
    close(Quantity::parse("-40 °F").unwrap().in_unit(Unit::Celsius).unwrap(), -40.0, 1e-12);
}
