//! Programs that tests look with, or that stand in for others: a test goes without one that is not there.

use std::fmt::Display;
use std::process::{Command, Output};

/// What a program made of its arguments; nothing when it is not there and need not be.
#[track_caller]
pub(crate) fn tool(name: &str, arguments: &[&str]) -> Option<Output> {
    let made = Command::new(name).args(arguments).output();
    made.map_err(|error| goes_without(name, &error)).ok()
}

/// The same, where anything but success is a failure of the test; what it said on stdout.
#[track_caller]
pub(crate) fn tool_says(name: &str, arguments: &[&str]) -> Option<String> {
    let output = tool(name, arguments)?;
    let (said, told) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert!(output.status.success(), "{name} {arguments:?}: {said}{told}");
    Some(said.into_owned())
}

/// Says that something is missing, so that what needs it is skipped; with `SOOTMARK_REQUIRE_TOOLS=1`, which tests/run sets, that
/// is a failure.
#[track_caller]
pub(crate) fn goes_without(name: &str, error: &dyn Display) {
    let required = std::env::var("SOOTMARK_REQUIRE_TOOLS").is_ok_and(|value| value == "1");
    assert!(!required, "{name} is needed: {error}");
    eprintln!("skipped: {name}: {error}");
}
