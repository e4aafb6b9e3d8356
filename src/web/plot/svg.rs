//! The few shapes that the drawings are made of, as SVG text.
//!
//! Escapes every text it is given. Hatching is drawn as plain lines, not as a pattern, so that it needs no id and prints as it is seen.

use std::fmt;
use std::fmt::Write as _;

/// A drawing under construction. All lengths are in its own units (1 unit is about 1 px at full size).
#[derive(Debug, Default)]
pub struct Svg(String);

/// An upright rectangle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rect {
    /// Left edge.
    pub x: f64,
    /// Top edge.
    pub y: f64,
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
}

/// Which end of a text stands at its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Its beginning.
    Start,
    /// Its middle.
    Middle,
    /// Its end.
    End,
}

impl Anchor {
    const fn word(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Middle => "middle",
            Self::End => "end",
        }
    }
}

impl Svg {
    /// A straight line.
    pub fn line(&mut self, class: &str, from: (f64, f64), to: (f64, f64)) {
        let _ = write!(
            self.0,
            r#"<line class="{class}" x1="{}" y1="{}" x2="{}" y2="{}"/>"#,
            Length(from.0),
            Length(from.1),
            Length(to.0),
            Length(to.1)
        );
    }

    /// A rectangle.
    pub fn rect(&mut self, class: &str, area: Rect) {
        let _ = write!(
            self.0,
            r#"<rect class="{class}" x="{}" y="{}" width="{}" height="{}"/>"#,
            Length(area.x),
            Length(area.y),
            Length(area.width),
            Length(area.height)
        );
    }

    /// A run of straight lines through points.
    pub fn path(&mut self, class: &str, points: &[(f64, f64)], closed: bool) {
        if points.is_empty() {
            return;
        }
        let _ = write!(self.0, r#"<path class="{class}" d=""#);
        for (at, (x, y)) in points.iter().enumerate() {
            let _ = write!(self.0, "{}{} {}", if at == 0 { 'M' } else { 'L' }, Length(*x), Length(*y));
        }
        self.0.push_str(if closed { "Z\"/>" } else { "\"/>" });
    }

    /// A text of the given height.
    pub fn text(&mut self, class: &str, at: (f64, f64), anchor: Anchor, size: f64, text: &str) {
        let _ = write!(
            self.0,
            r#"<text class="{class}" x="{}" y="{}" text-anchor="{}" font-size="{size}">{}</text>"#,
            Length(at.0),
            Length(at.1),
            anchor.word(),
            escaped(text)
        );
    }

    /// Slanted lines over an area, `step` apart. Rising to the right, or falling.
    pub fn hatch(&mut self, class: &str, area: Rect, step: f64, rising: bool) {
        let mut d = String::new();
        let count = ((area.width + area.height) / step).ceil() as u32;
        for n in 1..count {
            // The line x + y = s, in the area's own coordinates with y upwards when rising, clipped to the area.
            let s = f64::from(n) * step;
            let (x0, x1) = ((s - area.height).max(0.0), s.min(area.width));
            let turn = |y: f64| area.y + if rising { y } else { area.height - y };
            if x1 > x0 {
                let (from, to) = ((area.x + x0, turn(s - x0)), (area.x + x1, turn(s - x1)));
                let _ = write!(d, "M{} {}L{} {}", Length(from.0), Length(from.1), Length(to.0), Length(to.1));
            }
        }
        let _ = write!(self.0, r#"<path class="{class}" d="{d}"/>"#);
    }

    /// The finished drawing: `class` on the root, and words for those who cannot see it.
    #[must_use]
    pub fn finish(self, class: &str, width: f64, height: f64, words: &str) -> String {
        format!(
            r#"<svg class="{class}" viewBox="0 0 {width:.0} {height:.0}" role="img" aria-label="{}">{}</svg>"#,
            escaped(words),
            self.0
        )
    }
}

/// A length with one decimal. Written from whole tenths: a drawing has hundreds of them, and the exact way of writing a
/// number was a tenth of what a question page cost.
struct Length(f64);

impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "a length on a page; the cast keeps what is larger in range"
        )]
        let tenths = (self.0 * 10.0).round_ties_even() as i64;
        let sign = if tenths < 0 { "-" } else { "" };
        write!(f, "{sign}{}.{}", tenths.unsigned_abs() / 10, tenths.unsigned_abs() % 10)
    }
}

/// Text that is safe between tags and inside a quoted attribute.
#[must_use]
pub fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            _ => safe.push(c),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_length_has_one_decimal() {
        for (length, text) in
            [(0.0, "0.0"), (12.34, "12.3"), (0.96, "1.0"), (-3.27, "-3.3"), (-0.04, "0.0"), (640.0, "640.0")]
        {
            assert_eq!(Length(length).to_string(), text);
        }
    }
}
