//! A log whose lines are CAN frames: which of them speak about the filter, and who sends them.
//!
//! Takes each parameter group from one sender only: values of two machines are never mixed.

use super::frame::{self, Frame, Identifier, Line};
use super::parameter::{is_read, said_in};
use super::{Draft, Statement, count};
use std::collections::BTreeMap;

/// Bytes of every message that is read. Source: SAE J1939-71, public decoders.
const MESSAGE_BYTES: usize = 8;

/// Who sends a parameter group: interface and source address.
type Sender<'t> = (&'t str, u8);

pub(super) fn read(draft: &mut Draft<'_>, text: &str) {
    let (mut senders, mut strangers) = (BTreeMap::new(), Vec::new());
    for (index, line) in text.lines().enumerate() {
        let number = count(index + 1);
        draft.lines.all += 1;
        match frame::read(line) {
            Ok(Line::Blank) => draft.lines.blank += 1,
            Ok(Line::Other(what)) => ignore(draft, what),
            Ok(Line::Frame(frame)) => take(draft, number, &frame, &mut senders, &mut strangers),
            Err(message) => draft.refuse(number, "line", message),
        }
    }
}

fn take<'t>(
    draft: &mut Draft<'_>,
    line: u32,
    frame: &Frame<'t>,
    senders: &mut BTreeMap<u32, Sender<'t>>,
    strangers: &mut Vec<(u32, Sender<'t>)>,
) {
    let Some(Identifier { pgn, source, .. }) = Identifier::of(frame.id) else {
        return ignore(draft, "frame of another protocol (both page bits are set)");
    };
    if !is_read(pgn) {
        return ignore(draft, &format!("parameter group {pgn}"));
    }
    let sender = (frame.interface, source);
    let first = *senders.entry(pgn).or_insert(sender);
    if sender != first {
        if !strangers.contains(&(pgn, sender)) {
            strangers.push((pgn, sender));
            let message = format!(
                "comes from source address {} on {}, before it from {} on {}; this may be another machine, so these lines \
                 are set aside",
                sender.1, sender.0, first.1, first.0
            );
            draft.problem(line, &format!("parameter group {pgn}"), message);
        }
        return ignore(draft, &format!("parameter group {pgn} from source address {} on {}", sender.1, sender.0));
    }
    let bytes = frame.bytes();
    let said = said_in(pgn, bytes);
    if said.is_empty() {
        return draft.refuse(line, "line", format!("parameter group {pgn} is cut: {} of 8 bytes", bytes.len()));
    }
    if bytes.len() < MESSAGE_BYTES {
        let message = format!("is cut: {} of 8 bytes; what they say is used", bytes.len());
        draft.problem(line, &format!("parameter group {pgn}"), message);
    }
    draft.lines.used += 1;
    draft.statements.push(Statement { line, at_us: frame.at_us, said });
}

fn ignore(draft: &mut Draft<'_>, what: &str) {
    *draft.lines.ignored.entry(what.to_owned()).or_default() += 1;
}
