//! What a machine's network says, held against public decoders of SAE J1939-71 and -73 (read; the wording is ours).

use sootmark::domain::aftertreatment::machine_log::{Identifier, MachineLog};
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

/// The number that one frame says, by its number in the standard.
#[track_caller]
fn said(spn: u32, frame: &str) -> Option<f64> {
    let log = MachineLog::read("one.log", &format!("(1.000000) can0 {frame}\n"));
    assert_eq!(log.problems, [], "{frame}");
    log.readings.last().and_then(|reading| reading.readout.number(spn))
}

/// Raw values written by hand into the bytes that the decoders name, lowest byte first, and what they mean.
// Source: public decoders of SAE J1939-71. 3719 and 3720: 64891 bytes 1 and 2, 1 %; 3721: bytes 3 to 6, 1 s; 5466: bytes 7
// and 8, 0.0025 %; 3242: 64948 and 3246: 64947, bytes 3 and 4, 0.03125 deg C from -273; 3251: 64946 bytes 5 and 6, 0.1 kPa;
// 190: 61444 bytes 4 and 5, 0.125 rpm; 92: 61443 byte 3, 1 %.
// From memory, not confirmed: 84: 65265 bytes 2 and 3, 1/256 km/h.
#[test]
fn numbers_are_scaled_as_the_decoders_say() {
    let frames = [
        (3719, "18FD7B00#3EFFFFFFFFFFFFFF", 62.0),
        (3719, "18FD7B00#FAFFFFFFFFFFFFFF", 250.0),
        (3720, "18FD7B00#FF05FFFFFFFFFFFF", 5.0),
        // 90 000 s are 0x00015F90.
        (3721, "18FD7B00#FFFF905F0100FFFF", 90_000.0),
        // 25 061 is 0x61E5.
        (5466, "18FD7B00#FFFFFFFFFFFFE561", 62.6525),
        // 27 936 is 0x6D20, 8736 (0 deg C) is 0x2220.
        (3242, "18FDB400#FFFF206DFFFFFFFF", 600.0),
        (3246, "18FDB300#FFFF206DFFFFFFFF", 600.0),
        (3246, "18FDB300#FFFF2022FFFFFFFF", 0.0),
        (3246, "18FDB300#FFFF0000FFFFFFFF", -273.0),
        // 64 255 is 0xFAFF, the largest that is a number: 1734.96875 deg C.
        (3246, "18FDB300#FFFFFFFAFFFFFFFF", 1_734.968_75),
        (3251, "18FDB200#FFFFFFFF7B00FFFF", 12.3),
        (190, "0CF00400#FFFFFF4038FFFFFF", 1_800.0),
        (92, "0CF00300#FFFF2DFFFFFFFFFF", 45.0),
        (84, "18FEF100#FF000AFFFFFFFFFF", 10.0),
    ];
    for (spn, frame, expected) in frames {
        let found = said(spn, frame).expect(frame);
        assert!((found - expected).abs() < 1e-9, "{frame}: {found}, not {expected}");
    }
}

/// The last raw value that is a number, and what follows it.
// Source: SAE J1939-71, ranges of transmitted values (public descriptions): one byte 0xFE error, 0xFF not available; two
// bytes 0xFExx and 0xFFxx; four bytes 0xFExxxxxx and 0xFFxxxxxx.
#[test]
fn errors_and_gaps_are_no_numbers() {
    for (spn, frame) in [
        (3719, "18FD7B00#FEFFFFFFFFFFFFFF"),
        (3719, "18FD7B00#FFFFFFFFFFFFFFFF"),
        (3246, "18FDB300#FFFF00FEFFFFFFFF"),
        (3246, "18FDB300#FFFFFFFEFFFFFFFF"),
        (3246, "18FDB300#FFFF00FFFFFFFFFF"),
        (3721, "18FD7B00#FFFF000000FEFFFF"),
        (3721, "18FD7B00#FFFF000000FFFFFF"),
    ] {
        assert_eq!(said(spn, frame), None, "{frame}");
    }
}

// Source: SAE J1939-21, public descriptions of the 29-bit identifier: priority 3 bits, extended data page, data page, format,
// specific, source address; a format below 240 makes the specific byte the receiver's address.
#[test]
fn identifiers_are_taken_apart_as_the_standard_says() {
    let of = |id| Identifier::of(id).expect("an identifier of J1939");
    // The engine controller's message 61444 (0xF004), priority 3, from address 0.
    assert_eq!(of(0x0CF0_0400), Identifier { priority: 3, pgn: 61_444, destination: None, source: 0 });
    // Torque control, group 0, priority 3, from 11 to 0: the receiver is no part of the group.
    assert_eq!(of(0x0C00_000B), Identifier { priority: 3, pgn: 0, destination: Some(0), source: 11 });
    // A request, group 59904 (0xEA00), to everybody (255) from a service tool (249).
    assert_eq!(of(0x18EA_FFF9), Identifier { priority: 6, pgn: 59_904, destination: Some(255), source: 249 });
    // The data page adds 65 536.
    assert_eq!(of(0x19FD_7B00).pgn, 64_891 + 65_536);
    // Both page bits set is ISO 15765-3; more than 29 bits is none.
    assert_eq!(Identifier::of(0x1BFD_7B00), None);
    assert_eq!(Identifier::of(0x2000_0000), None);
}

proptest::proptest! {
    /// Whatever stands in a message is read or is said to mean nothing, and what was read is written and read again.
    #[test]
    fn any_message_is_read_and_what_was_read_reads_the_same_again(bytes in proptest::array::uniform8(proptest::num::u8::ANY)) {
        let (read, unsaid) = FilterMessage::decode(&bytes);
        let (again, untold) = FilterMessage::decode(&read.encode());
        proptest::prop_assert_eq!(again, read);
        proptest::prop_assert_eq!(untold, []);
        let spns: std::collections::BTreeSet<u32> = FilterMessage::raw_values(&bytes).map(|(spn, _)| spn).collect();
        proptest::prop_assert!(unsaid.iter().all(|silent| spns.contains(&silent.spn)));
    }
}
