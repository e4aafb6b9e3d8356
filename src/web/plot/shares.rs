//! Shares of groups of different size beside each other, each with the interval in which the true share lies.
//!
//! Never orders the groups by their share, and never marks a share where the group is too small to say one: a ranking of
//! few people ranks chance.

use super::svg::{Anchor, Rect, Svg};
use crate::domain::statistics::{Interval, wilson_95};

/// People below which a group's share is not marked; chosen by us: with 10 people the interval spans about half of all shares.
pub const FEW: usize = 10;

const WIDTH: f64 = 420.0;
const LEFT: f64 = 8.0;
const RIGHT: f64 = 412.0;
const ROW: f64 = 40.0;
const TOP: f64 = 6.0;
const TEXT: f64 = 14.0;

/// One group.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Share {
    /// What people call it.
    pub label: String,
    /// How many of it.
    pub part: usize,
    /// Of how many.
    pub whole: usize,
}

impl Share {
    /// "Coldbrook: 7 of 12, 95 % interval 31 to 81 %"; of few people only what can be said.
    #[must_use]
    pub fn words(&self) -> String {
        let Self { label, part, whole } = self;
        let interval = wilson_95(as_f64(*part), *whole).map(Interval::words);
        match interval {
            None => format!("{label}: nobody is asked for it"),
            Some(interval) if *whole < FEW => format!("{label}: {part} of {whole}, too few to compare ({interval})"),
            Some(interval) => format!("{label}: {part} of {whole}, 95 % interval {interval}"),
        }
    }
}

/// The drawing.
#[must_use]
pub fn drawn(title: &str, shares: &[Share]) -> String {
    let mut svg = Svg::default();
    let at = |share: f64| LEFT + (RIGHT - LEFT) * share;
    let bottom = TOP + ROW * as_f64(shares.len());
    for quarter in 0_u8..=4 {
        let x = at(f64::from(quarter) / 4.0);
        svg.line("grid", (x, TOP), (x, bottom));
        let anchor = match quarter {
            0 => Anchor::Start,
            4 => Anchor::End,
            _ => Anchor::Middle,
        };
        let words = format!("{} %", u32::from(quarter) * 25);
        svg.text("tick-name", (x, bottom + 18.0), anchor, TEXT, &words);
    }
    svg.line("axis", (LEFT, bottom), (RIGHT, bottom));
    for (number, share) in shares.iter().enumerate() {
        let y = TOP + ROW * as_f64(number);
        svg.text("line-name", (LEFT, y + 15.0), Anchor::Start, TEXT, &share.label);
        let few = if (1..FEW).contains(&share.whole) { ", few" } else { "" };
        let counted = format!("{} of {}{few}", share.part, share.whole);
        svg.text("tick-name", (RIGHT, y + 15.0), Anchor::End, TEXT, &counted);
        let Some(interval) = wilson_95(as_f64(share.part), share.whole) else { continue };
        let middle = y + 27.0;
        svg.line("axis", (at(interval.low), middle), (at(interval.high), middle));
        for end in [interval.low, interval.high] {
            svg.line("axis", (at(end), middle - 5.0), (at(end), middle + 5.0));
        }
        if share.whole >= FEW {
            let x = at(as_f64(share.part) / as_f64(share.whole));
            svg.rect("point", Rect { x: x - 4.0, y: middle - 4.0, width: 8.0, height: 8.0 });
        }
    }
    let words: Vec<String> = shares.iter().map(Share::words).collect();
    svg.finish("drawing plot shares", WIDTH, bottom + 26.0, &format!("{title}. {}.", words.join(". ")))
}

#[expect(clippy::cast_precision_loss, reason = "counts of people: far below 2^53")]
const fn as_f64(count: usize) -> f64 {
    count as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_group_has_an_interval_and_no_mark() {
        let share = |part, whole| Share { label: "Coldbrook".to_owned(), part, whole };
        // Source: R. G. Newcombe 1998, Stat. Med. 17:857-872, table I, method 3: 15 of 148 gives 0.0624 to 0.1605.
        assert_eq!(share(15, 148).words(), "Coldbrook: 15 of 148, 95 % interval 6 to 17 %");
        assert!(share(1, 1).words().contains("too few to compare"));
        assert!(share(0, 0).words().contains("nobody"));
        assert!(drawn("x", &[share(15, 148)]).contains("class=\"point\""));
        let few = drawn("x", &[share(9, 9)]);
        assert!(!few.contains("class=\"point\"") && few.contains("few"), "{few}");
        assert!(drawn("<", &[]).contains("&lt;"));
    }
}
