//! Any text as a machine's log: every line is used, ignored or refused, and nothing panics.
//!
//! Never says what a log means.

#![no_main]

use libfuzzer_sys::fuzz_target;
use sootmark_domain::aftertreatment::machine_log::MachineLog;

fuzz_target!(|text: &str| {
    let _ = MachineLog::read("own", text);
});
