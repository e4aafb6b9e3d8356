//! Which conditions of a template can hold at all: draws moments without asking anything about them.
//!
//! Never asks that a wrong answer of `choose one` can be right somewhere else: that it cannot is what makes it wrong.

use super::SECRET;
use crate::scenario::asks::Miss;
use crate::scenario::draw::Draws;
use crate::scenario::generate::{Machine, drawn};
use crate::scenario::template::Template;

/// A condition that rejects more draws than this makes a question by luck alone; chosen by us.
const REJECTS_AT_MOST: f64 = 0.95;
/// Fewer draws than this do not tell how often a condition holds.
const ENOUGH: usize = 40;

/// Conditions under `[only if]` that hold too rarely on a machine, with their lines. Those of a case are asked at the
/// moments of their own parts.
pub(super) fn rarely_held(template: &Template, machine: &Machine, seeds: u64) -> Vec<(u32, String)> {
    let conditions =
        || template.parts.iter().enumerate().flat_map(|(at, part)| part.conditions.iter().map(move |c| (at, c)));
    let mut held = vec![0_usize; conditions().count()];
    if held.is_empty() {
        return Vec::new();
    }
    let mut drawn_well = 0_usize;
    for stream in 0..seeds {
        let mut draws = Draws::new(SECRET, stream);
        match drawn(template, machine, &mut draws) {
            Ok(moments) => {
                drawn_well += 1;
                for ((at, condition), held) in conditions().zip(&mut held) {
                    *held += usize::from(moments[at].scope.truth(&condition.what).unwrap_or(false));
                }
            }
            // A broken template is reported where its questions are made.
            Err((_, Miss::Broken(..))) => return Vec::new(),
            Err((_, Miss::Again(_))) => {}
        }
    }
    if drawn_well < ENOUGH {
        return Vec::new();
    }
    let name = &machine.profile.id;
    let share = |held: usize| held as f64 / drawn_well as f64;
    let rare = conditions().zip(held).filter(|(_, held)| share(*held) < 1.0 - REJECTS_AT_MOST);
    rare.map(|((_, condition), held)| {
        let message = format!("holds in {held} of {drawn_well} draws: draw closer to what it asks, or leave out machines that it does not fit [{name}]");
        (condition.line, message)
    })
    .collect()
}
