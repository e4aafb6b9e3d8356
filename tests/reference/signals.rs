//! What a machine's network says, held against public decoders of SAE J1939-71 and -73 (read; the wording is ours).

use sootmark::domain::aftertreatment::signals::{
    ActiveRegeneration, ExhaustHotLamp, FilterLamp, FilterMessage, InhibitReason, RegenerationStatus, Silent, Triple,
};

/// Byte and bit count from 1, as the standard does; every other bit says "not available".
fn message(byte: usize, bit: u8, length: u8, raw: u8) -> [u8; 8] {
    let mut message = [0xFF; 8];
    let mask = ((1_u8 << length) - 1) << (bit - 1);
    message[byte - 1] = (message[byte - 1] & !mask) | (raw << (bit - 1));
    message
}

/// One parameter alone in a message is read as `expected` and is written back to the same bytes.
#[track_caller]
fn check(at: (usize, u8, u8), raw: u8, expected: FilterMessage) {
    let bytes = message(at.0, at.1, at.2, raw);
    let (read, unsaid) = FilterMessage::decode(&bytes);
    assert_eq!(read, expected);
    assert_eq!(unsaid, []);
    assert_eq!(expected.encode(), bytes);
}

// Source: public decoders of SAE J1939-71, parameter group 64892: 3697 at 1.1 (3 bits), 3698 at 7.3 (3 bits).
#[test]
fn lamps_stand_where_the_decoders_say() {
    for (raw, lamp) in
        [(0, FilterLamp::Off), (1, FilterLamp::On), (4, FilterLamp::Blinking), (7, FilterLamp::NotAvailable)]
    {
        check((1, 1, 3), raw, FilterMessage { lamp, ..FilterMessage::default() });
    }
    for (raw, exhaust_hot) in [(0, ExhaustHotLamp::Off), (1, ExhaustHotLamp::On), (7, ExhaustHotLamp::NotAvailable)] {
        check((7, 3, 3), raw, FilterMessage { exhaust_hot, ..FilterMessage::default() });
    }
}

// Source: as above: 3699 at 2.1 (2), 3700 at 2.3 (2), 3701 at 2.5 (3), 3702 at 3.1 (2).
#[test]
fn the_state_of_the_regeneration_stands_where_the_decoders_say() {
    for (raw, passive) in [(0, Triple::No), (1, Triple::Yes), (3, Triple::NotAvailable)] {
        check((2, 1, 2), raw, FilterMessage { passive, ..FilterMessage::default() });
        check((3, 1, 2), raw, FilterMessage { inhibited: passive, ..FilterMessage::default() });
    }
    for (raw, active) in [
        (0, ActiveRegeneration::NotActive),
        (1, ActiveRegeneration::Active),
        (2, ActiveRegeneration::Needed),
        (3, ActiveRegeneration::NotAvailable),
    ] {
        check((2, 3, 2), raw, FilterMessage { active, ..FilterMessage::default() });
    }
    for (raw, status) in [
        (0, RegenerationStatus::NotNeeded),
        (1, RegenerationStatus::NeededLowest),
        (2, RegenerationStatus::NeededModerate),
        (3, RegenerationStatus::NeededHighest),
        (7, RegenerationStatus::NotAvailable),
    ] {
        check((2, 5, 3), raw, FilterMessage { status, ..FilterMessage::default() });
    }
}

// Source: as above: 3703 at 3.3, 3710 at 5.1, 3711 at 5.3, 3715 at 6.3, 3716 at 6.5, two bits each.
// From memory, not confirmed: 3708 at 4.5; the series 3702 ... 3716 runs on in steps of two bits, and 4.5 lies in it.
#[test]
fn reasons_stand_where_the_decoders_say() {
    let places = [
        (InhibitReason::Switch, 3703, (3, 3)),
        (InhibitReason::NotInNeutral, 3708, (4, 5)),
        (InhibitReason::ParkBrakeOff, 3710, (5, 1)),
        (InhibitReason::LowExhaustTemperature, 3711, (5, 3)),
        (InhibitReason::PermanentLockout, 3715, (6, 3)),
        (InhibitReason::EngineCold, 3716, (6, 5)),
    ];
    for (reason, spn, (byte, bit)) in places {
        assert_eq!(reason.spn(), spn);
        let (read, unsaid) = FilterMessage::decode(&message(byte, bit, 2, 1));
        assert_eq!(read.held_back_by().collect::<Vec<_>>(), [reason]);
        assert_eq!(unsaid, []);
        assert_eq!(read.encode(), message(byte, bit, 2, 1));
    }
}

// Source: SAE J1939-71, two-bit values: 2 is an error. From memory, not confirmed: 6 is the error of three bits.
#[test]
fn an_error_is_no_value() {
    for (at, raw, spn) in [((3, 1, 2), 2, 3702), ((5, 1, 2), 2, 3710), ((1, 1, 3), 6, 3697), ((7, 3, 3), 6, 3698)] {
        let (read, unsaid) = FilterMessage::decode(&message(at.0, at.1, at.2, raw));
        assert_eq!(read, FilterMessage::default(), "nothing is made of it");
        assert_eq!(unsaid.iter().map(|each| (each.spn, each.why)).collect::<Vec<_>>(), [(spn, Silent::Error)]);
    }
    assert_eq!(FilterLamp::from_raw(2), Err(Silent::Unknown(2)));
}
