//! A calendar of whole days as text: iCalendar, RFC 5545.
//!
//! Opens no file and knows no clock. Never writes a line longer than 75 octets, and never a bare line break.

use std::fmt::Write as _;

/// A thing that falls on a day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DayEvent {
    /// What stays the same as long as it is the same thing, unique in the world: `something@host`.
    pub uid: String,
    /// When it was last changed, in UTC: `20261124T080000Z`.
    pub stamp: String,
    /// The day: `20261124`.
    pub day: String,
    /// What it is, in a line.
    pub summary: String,
    /// More about it; may have several lines.
    pub description: String,
    /// Where to read on.
    pub url: String,
}

/// The calendar.
#[must_use]
pub fn calendar(name: &str, events: &[DayEvent]) -> String {
    let mut text = String::new();
    let mut line = |content: &str| fold(&mut text, content);
    line("BEGIN:VCALENDAR");
    line("VERSION:2.0");
    line("PRODID:-//Sootmark//Expiries and due dates//EN");
    line("CALSCALE:GREGORIAN");
    // NAME and REFRESH-INTERVAL: RFC 7986.
    line(&format!("NAME:{}", escaped(name)));
    line("REFRESH-INTERVAL;VALUE=DURATION:PT6H");
    for event in events {
        line("BEGIN:VEVENT");
        line(&format!("UID:{}", escaped(&event.uid)));
        line(&format!("DTSTAMP:{}", event.stamp));
        line(&format!("DTSTART;VALUE=DATE:{}", event.day));
        line(&format!("SUMMARY:{}", escaped(&event.summary)));
        line(&format!("DESCRIPTION:{}", escaped(&event.description)));
        line(&format!("URL:{}", event.url));
        line("TRANSP:TRANSPARENT");
        line("END:VEVENT");
    }
    line("END:VCALENDAR");
    text
}

/// A text value (section 3.3.11): backslash, semicolon, comma and line break are escaped; other control characters are dropped.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.replace("\r\n", "\n").chars() {
        match c {
            '\\' | ';' | ',' => {
                let _ = write!(safe, "\\{c}");
            }
            '\n' => safe.push_str("\\n"),
            c if c.is_control() => {}
            c => safe.push(c),
        }
    }
    safe
}

/// A content line, folded (section 3.1): at most 75 octets each, a space in front of what goes on, CRLF at the end. Never
/// cuts a character.
fn fold(text: &mut String, content: &str) {
    let mut octets = 0;
    for c in content.chars() {
        if octets + c.len_utf8() > 75 {
            text.push_str("\r\n ");
            octets = 1;
        }
        text.push(c);
        octets += c.len_utf8();
    }
    text.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_escaped_as_the_standard_says() {
        // Source: RFC 5545, section 3.3.11, and its example "Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
        let example = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared.";
        assert_eq!(escaped(example), "Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared.");
        assert_eq!(escaped("a,b;c\\d\r\ne\u{7}"), "a\\,b\\;c\\\\d\\ne");
    }

    #[test]
    fn lines_are_folded_by_octets_and_read_back_whole() {
        // Source: RFC 5545, section 3.1: at most 75 octets without the break; unfolding takes CRLF and one space away.
        for content in ["SUMMARY:".to_owned() + &"a".repeat(200), "SUMMARY:".to_owned() + &"\u{fc}\u{1f4c5}".repeat(60)]
        {
            let mut text = String::new();
            fold(&mut text, &content);
            assert!(text.split("\r\n").all(|line| line.len() <= 75), "{text}");
            assert_eq!(text.replace("\r\n ", ""), content + "\r\n");
        }
    }
}
